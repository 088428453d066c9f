"""If this fails, a shop file and a week that can be read make the takeoff break down, or show what its audit refuses.

Shops at the edge of what can be read: allowances of nothing, faces that are not said, one routed rail, uprights of no
width, rails and hinges anywhere, tiny and huge openings. Whatever comes of them is cards, or a list of what is wrong.
"""

from __future__ import annotations

import io
import random

import pytest

from cutplan.orders import load_orders
from cutplan.problems import InputProblems
from cutplan.sheets.bench.cards import cards_section
from cutplan.sheets.takeoff import takeoff_text
from cutplan.sheets.takeoffjson import takeoff_json
from cutplan.sheets.words import Writer
from cutplan.shop import Shop, load_shop
from cutplan.takeoff import take_off_all
from tests.sweeps import sweep

SHOPS, ROWS = 5, 10
LENGTHS = ("0", "0", "1/64", "0.3333", "2 1/16", "60")
PROFILES = {"top": "rail", "low": "rail", "mid": "rail", "pick": "picket", "bar": "insert", "stile": "upright",
            "flat": "brace", "pole": "post"}
HEAD = "mark,kind,system,qty,opening,height,leaves,hinges,opening_bottom,rake,ends\n"


def length(chance: random.Random, high: float, zero: bool = True) -> str:
    """In quotes, up to so much; now and then one of the odd ones."""
    if chance.random() < 0.15:
        return f'"{chance.choice(LENGTHS[0 if zero else 2:])}"'
    return f'"{chance.randint(0 if zero else 1, int(16 * high))}/16"'


def some(chance: random.Random, share: float, *lines: str) -> list[str]:
    return list(lines) if chance.random() < share else []


def profiles(chance: random.Random) -> list[str]:
    lines, pitch = [], f'"{chance.randint(32, 96)}/16"'
    for name, kind in PROFILES.items():
        lines += [f"[profiles.{name}]", f'kind = "{kind}"', "stock = [ { length = 240 } ]"]
        lines += some(chance, 0.85, f"face = {length(chance, 3, zero=False)}")
        lines += some(chance, 0.5, f'expansion = "{chance.choice(("3.38e-5", "1e-3"))} per {chance.choice("FC")}"')
        lines += some(chance, 0.5, f'weight_per_length = "{chance.randint(1, 30)} kg/m"')
        if name in ("top", "low", "mid"):
            hole = f", hole = {length(chance, 1, zero=False)}" if chance.random() < 0.3 else ""
            lines += some(chance, 0.25, f"routing = {{ pitch = {pitch}, first = {length(chance, 8)}{hole} }}")
    return lines


def system(chance: random.Random) -> list[str]:
    mids = sorted(chance.sample(range(4, 50), chance.choice((1, 1, 2, 5))))
    lines = ["[systems.s]", 'top_rail = "top"', f'bottom_rail = "{chance.choice(("low", "low", "top"))}"',
             'picket = "pick"', f"picket_width = {length(chance, 2, zero=False)}",
             f"max_gap = {length(chance, 6, zero=False)}"]
    lines += some(chance, 0.5, f"min_end_gap = {length(chance, 1)}") + some(chance, 0.3, "plugged = true")
    lines += some(chance, 0.6, 'insert = "bar"', f"insert_short = {length(chance, 1)}",
                  f"inserts_in = {{ top = {chance.randint(0, 30)} }}")
    lines += some(chance, 0.7, 'upright = "stile"')
    lines += some(chance, 0.5, 'mid_rail = "mid"', f"mid_rails_at = {mids}",
                  f'pickets_at_mid_rail = "{chance.choice(("through", "between"))}"')
    lines += some(chance, 0.5, 'brace = "flat"', f'brace_from = "{chance.choice(("top", "bottom"))} hinge"')
    for key, high in (("picket_allowance", 10), ("above_top_rail", 3), ("below_bottom_rail", 5)):
        lines += some(chance, 0.7, f"{key} = {length(chance, high)}")
    lines += ["[systems.s.gate]"]
    for key, high in (("latch_gap", 1), ("hinge_gap", 1), ("meeting_gap", 1), ("upright_wall", 1), ("picket_trim", 1),
                      ("rail_insertion", 3), ("ground_clearance", 4)):
        lines += some(chance, 0.6, f"{key} = {length(chance, high)}")
    for key in ("latch_height", "thickness", "widest_leaf"):
        lines += some(chance, 0.3, f"{key} = {length(chance, 50, zero=False)}")
    lines += some(chance, 0.2, f"hinges_at = [{chance.randint(1, 20)}, {chance.randint(21, 60)}]")
    lines += some(chance, 0.3, 'heaviest_leaf = "30 lb"')
    deep = chance.randint(0, 32)
    lines += ["[systems.s.bay]", f'rail_insertion = "{deep}/16"', f'end_clearance = "{chance.randint(0, deep)}/16"']
    lines += ["[systems.s.run]", 'post = "pole"', f"post_width = {length(chance, 5, zero=False)}",
              f"post_above = {chance.choice((40, 80))}", f"max_bay = {length(chance, 96, zero=False)}"]
    for per in ("gate", "leaf", "bay", "rail end", "picket", "post", "run"):
        lines += some(chance, 0.3, "[[systems.s.hardware]]", f'name = "{per}"', f'per = "{per}"', "qty = 1000000",
                      "price = 0.01")
    return lines


def row(chance: random.Random, mark: str) -> str:
    kind = chance.choice(("gate", "gate", "bay", "run"))
    opening = chance.randint(16, 16 * 110) if chance.random() < 0.9 else chance.randint(1, 40)
    height = chance.randint(16 * 20, 16 * 80) if chance.random() < 0.9 else chance.randint(1, 40)
    lean = f"{max(1, opening + chance.randint(-20, 20))}/16" if kind != "run" and chance.random() < 0.4 else ""
    leaves = chance.choice(("", "1", "2")) if kind == "gate" else ""
    hinges = chance.choice(("", "left", "right")) if kind == "gate" and leaves != "2" else ""
    rake = chance.choice(("", "5 %", "-4:1", "0:1", "7 5/8:10", "0.3 %")) if not lean or kind == "gate" else ""
    ends = chance.choice(("", "walls", "posts")) if kind == "run" else ""
    qty = chance.choice((1, 100_000))
    return f"{mark},{kind},s,{qty},{opening}/16,{height}/16,{leaves},{hinges},{lean},{rake},{ends}\n"


def readable(chance: random.Random) -> Shop:
    """One that a file says without a fault; faulty ones are passed over."""
    while True:
        top = [f'unit = "{chance.choice(("in", "in", "mm"))}"', "saw.kerf = 0", 'temperature.in_use = "-9.5..120 F"',
               f'temperature.cutting = "{chance.choice(("-40 F", "30 C"))}"']
        lines = [*top, *profiles(chance), *system(chance)]
        try:
            return load_shop(io.StringIO("\n".join(lines) + "\n"))
        except InputProblems:
            continue


@pytest.mark.parametrize("seed", sweep(20, 400))
def test_nothing_that_can_be_read_breaks_the_takeoff(seed: int) -> None:
    chance, shops, openings = random.Random(f"hostile {seed}"), 0, 0
    while shops < SHOPS or not openings:
        made, shops = readable(chance), shops + 1
        for k in range(ROWS):
            try:
                taken = take_off_all(load_orders(io.StringIO(HEAD + row(chance, f"M{k}")), made), made)
            except InputProblems as found:
                assert found.problems
                continue
            openings += 1
            assert takeoff_text(taken, made) and takeoff_json(taken, made)
            assert cards_section(taken.cards, Writer(made.unit, made.tape))
