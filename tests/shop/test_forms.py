"""If these fail, a slip in what a shop file says of mid rails, braces, hardware, weather or codes goes unsaid.

Each slip is answered on its line and under its key with what would be right, and all of them at once.
"""

from __future__ import annotations

import contextlib
import io
import re
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.orders import Order
from cutplan.problems import InputProblems
from cutplan.sheets.takeoff import takeoff_text
from cutplan.shop import Shop, load_shop
from cutplan.takeoff import take_off
from tests.commands import run

SHOP = """\
unit = "in"
saw.kerf = "1/8"
[temperature]
cutting = "50..90 F"
in_use = "-10..120 F"
[codes]
apply = ["IRC 2018 guards"]
[[codes.own]]
of = "gap"
on = "gate"
at_most = "3 in"
source = "Tarn bylaw 1"
[profiles.cap]
kind = "rail"
face = 2
expansion = "3.38e-5 per F"
weight_per_length = "0.9 lb/ft"
stock = [ { length = 192 } ]
[profiles.mid]
kind = "rail"
face = 1.5
stock = [ { length = 192 } ]
[profiles.pick]
kind = "picket"
stock = [ { length = 192 } ]
[profiles.bar]
kind = "insert"
expansion = "13e-6 per F"
stock = [ { length = 192 } ]
[profiles.flat]
kind = "brace"
face = 1
stock = [ { length = 192 } ]
[systems.box]
top_rail = "cap"
mid_rail = "mid"
mid_rails_at = ["20 in", "30 in"]
pickets_at_mid_rail = "between"
bottom_rail = "cap"
picket = "pick"
insert = "bar"
upright = "pick-upright"
brace = "flat"
brace_from = "top hinge"
assembly = ["Weld it."]
picket_width = 1
max_gap = 4
insert_short = "1/2"
picket_allowance = 8
above_top_rail = 1
below_bottom_rail = 4
[systems.box.inserts_in]
top = 2
mid = 0
[systems.box.gate]
latch_gap = "1/2"
hinge_gap = "3/8"
meeting_gap = "1/2"
upright_wall = "1/8"
rail_insertion = 1
ground_clearance = 2
latch_height = 40
hinges_at = [9, 33]
thickness = 2
widest_leaf = 30
heaviest_leaf = "5 lb"
[systems.box.bay]
rail_insertion = 1
[[systems.box.hardware]]
name = "hinge"
per = "leaf"
qty = 2
price = 1.25
pilot = "5/32 in"
note = "four screws each"
[profiles.pick-upright]
kind = "upright"
stock = [ { length = 192 } ]
"""
WEEK = (Order("G1", "gate", "box", 1, F(42), F(48), hinges="right", rake=F(1, 20)),
        Order("G2", "gate", "box", 1, F(96), F(48), leaves=2), Order("B1", "bay", "box", 1, F(72), F(42)))
NEW = ("expansion", "weight_per_length", "cutting", "in_use", "apply", "of", "on", "at_most", "source", "mid_rail",
       "mid_rails_at", "pickets_at_mid_rail", "brace", "brace_from", "assembly", "top", "mid", "meeting_gap",
       "ground_clearance", "latch_height", "hinges_at", "thickness", "widest_leaf", "heaviest_leaf", "name", "per",
       "qty", "price", "pilot", "note")


def load(text: str) -> Shop:
    return load_shop(io.StringIO(text))


def problems(text: str) -> list[tuple[int, str, str]]:
    with pytest.raises(InputProblems) as caught:
        load(text)
    return [(problem.line, problem.column, problem.message) for problem in caught.value.problems]


def printed(text: str) -> str:
    made = load(text)
    return takeoff_text(take_off(WEEK, made), made)


LINES = [line for line in SHOP.splitlines() if line.partition(" = ")[0] in NEW]


@pytest.mark.parametrize("line", LINES)
def test_no_key_is_read_and_does_nothing(line: str) -> None:
    """Without any one of the new keys the takeoff says something else, or the shop file is refused."""
    without = re.sub(f"(?m)^{re.escape(line)}$", "", SHOP, count=1)
    with contextlib.suppress(InputProblems):
        assert printed(without) != printed(SHOP)


def test_every_new_key_is_tried() -> None:
    assert {line.partition(" = ")[0] for line in LINES} == set(NEW)


BOX, GATE, OWN, HINGE = "systems.box.", "systems.box.gate.", "codes.own[1].", "systems.box.hardware[1]."
ONE_FAULT = [  # what stands there, what is written instead, where it is reported, what is said
    ('"3.38e-5 per F"', "3.38e-5", "profiles.cap.expansion", "is no expansion"),
    ('"3.38e-5 per F"', "3", "profiles.cap.expansion", 'write it for one degree, such as "3.38e-5 per F"'),
    ('"3.38e-5 per F"', '"3.38e-5 per K"', "profiles.cap.expansion", "is no expansion"),
    ('"3.38e-5 per F"', '"3.38 per F"', "profiles.cap.expansion", "is not what a profile does"),
    ('"3.38e-5 per F"', '"0 per F"', "profiles.cap.expansion", "is not what a profile does"),
    ('"3.38e-5 per F"', '"-3e-5 per F"', "profiles.cap.expansion", "is no expansion"),
    ('"3.38e-5 per F"', '"1e-999999999 per F"', "profiles.cap.expansion", "is no expansion"),
    ('"3.38e-5 per F"', '"1e999999999 per F"', "profiles.cap.expansion", "is no expansion"),
    ('"0.9 lb/ft"', "0.9", "profiles.cap.weight_per_length", "is no weight of a length; write it with units"),
    ('"0.9 lb/ft"', '"0.9 lb"', "profiles.cap.weight_per_length", "is no weight of a length"),
    ('"0.9 lb/ft"', '"0 lb/ft"', "profiles.cap.weight_per_length", "is not more than zero"),
    ('"0.9 lb/ft"', '"-1 lb/ft"', "profiles.cap.weight_per_length", "is negative"),
    ('"0.9 lb/ft"', '"1000 kg/in"', "profiles.cap.weight_per_length", "is more than anything here weighs"),
    ('"50..90 F"', "70", "temperature.cutting", 'write it with its scale, such as "40..90 F"'),
    ('"50..90 F"', '"90..50 F"', "temperature.cutting", "goes from high to low"),
    ('"50..90 F"', '"50..900 F"', "temperature.cutting", "is no weather"),
    ('"50..90 F"', '"warm"', "temperature.cutting", "is no range of temperatures"),
    ('cutting = "50..90 F"\n', "", "temperature.cutting", "is missing; write cutting ="),
    ('in_use = "-10..120 F"\n', "", "temperature.in_use", "is missing; write in_use ="),
    ('apply = ["IRC 2018 guards"]', 'apply = "IRC 2018 guards"', "codes.apply", "is not a list of texts"),
    ('apply = ["IRC 2018 guards"]\n', "", "codes.apply", "is missing"),
    ('"IRC 2018 guards"', '"IRC 2018 gards"', "codes.apply", "did you mean 'IRC 2018 guards'?"),
    ('of = "gap"', 'of = "gaps"', OWN + "of", "did you mean 'gap'?"),
    ('on = "gate"', 'on = "leaf"', OWN + "on", "known: gate, bay"),
    ('on = "gate"', 'on = "run"', OWN + "on", 'a run is reminded of what its bays are; write "bay"'),
    ('at_most = "3 in"', 'at_least = "3 in"', OWN + "at_least", "write at_most or less_than"),
    ('at_most = "3 in"', 'at_most = "3 in"\nless_than = 3', OWN + "less_than", "write one of at_most, less_than"),
    ('at_most = "3 in"\n', "", OWN + "at_most", "write one of at_most, less_than and at_least"),
    ('at_most = "3 in"', "at_most = 0", OWN + "at_most", "is zero"),
    ('source = "Tarn bylaw 1"\n', "", OWN + "source", "is missing"),
    ("on =", "onn =", OWN + "onn", "is not a key of this table"),
    ('mid_rail = "mid"', 'mid_rail = "mad"', BOX + "mid_rail", "is not a profile; known: cap, mid"),
    ('mid_rail = "mid"', 'mid_rail = "pick"', BOX + "mid_rail", 'is of kind "picket"'),
    ("face = 1.5\n", "", BOX + "mid_rail", "says no face, and the pickets between them depend on it"),
    ('mid_rails_at = ["20 in", "30 in"]\n', "", BOX + "mid_rails_at", "is missing"),
    ('["20 in", "30 in"]', '"20 in"', BOX + "mid_rails_at", "is not a list of lengths"),
    ('["20 in", "30 in"]', "[]", BOX + "mid_rails_at", "is not a list of lengths"),
    ('["20 in", "30 in"]', "[30, 20]", BOX + "mid_rails_at", "must rise from the lowest to the highest"),
    ('["20 in", "30 in"]', "[20, 20]", BOX + "mid_rails_at", "write each height once"),
    ('["20 in", "30 in"]', "[20, 0]", BOX + "mid_rails_at.1", "is zero"),
    ('["20 in", "30 in"]', "[20, true]", BOX + "mid_rails_at.1", "is true or false"),
    ('["20 in", "30 in"]', "[1e9]", BOX + "mid_rails_at.0", "without an exponent"),
    ('["20 in", "30 in"]', "[1000000000]", BOX + "mid_rails_at.0", "is more than 1,000 ft"),
    ('"between"', '"betwen"', BOX + "pickets_at_mid_rail", "did you mean 'between'?"),
    ('"between"', "true", BOX + "pickets_at_mid_rail", "write a text in quotes"),
    ('brace = "flat"', 'brace = "bar"', BOX + "brace", 'is of kind "insert"; one of kind "brace", "rail"'),
    ('brace = "flat"\n', "", BOX + "brace_from", "says nothing without brace"),
    ('kind = "brace"\nface = 1\n', 'kind = "brace"\n', BOX + "brace", "says no face, and the brace goes from corner"),
    ('"top hinge"', '"latch"', BOX + "brace_from", "known: bottom hinge, top hinge"),
    ('["Weld it."]', '"Weld it."', BOX + "assembly", 'write assembly = ["Weld the frame.", '),
    ('["Weld it."]', '["Weld it.", " "]', BOX + "assembly", "has an empty step"),
    ("top = 2", "top = -1", BOX + "inserts_in.top", "is negative"),
    ("top = 2", "top = 1.5", BOX + "inserts_in.top", "whole number of at least 0"),
    ("top = 2", "top = 21", BOX + "inserts_in.top", "is more than 20"),
    ('["20 in", "30 in"]', '["20 in", "21 1/2 in"]', BOX + "mid_rails_at", "at 21.5 that meets the one below it"),
    ("top = 2", "tip = 2", BOX + "inserts_in.tip", "known: top, mid, bottom"),
    ('insert = "bar"\n', "", BOX + "inserts_in", "says nothing without insert"),
    ("ground_clearance = 2", "ground_clearance = -2", GATE + "ground_clearance", "is negative"),
    ("meeting_gap = \"1/2\"", "meeting_gap = \"1/2 kg\"", GATE + "meeting_gap", "is a mass, not a length"),
    ("latch_height = 40", "latch_height = 0", GATE + "latch_height", "is zero"),
    ("hinges_at = [9, 33]", "hinges_at = 9", GATE + "hinges_at", "is not a list of lengths"),
    ("hinges_at = [9, 33]", "hinges_at = [33, 9]", GATE + "hinges_at", "must rise"),
    ("thickness = 2", "thickness = 0", GATE + "thickness", "is zero"),
    ("widest_leaf = 30", "widest_leaf = false", GATE + "widest_leaf", "is true or false"),
    ('"5 lb"', "5", GATE + "heaviest_leaf", 'write it with its unit, such as "120 lb" or "55 kg"'),
    ('"5 lb"', '"0 kg"', GATE + "heaviest_leaf", "is not more than zero"),
    ('"5 lb"', '"1000000 lb"', GATE + "heaviest_leaf", "is more than anything here weighs"),
    ('weight_per_length = "0.9 lb/ft"\n', "", GATE + "heaviest_leaf", "while no profile of the system has a weight"),
    ('name = "hinge"\n', "", HINGE + "name", "is missing"),
    ('name = "hinge"', 'name = ""', HINGE + "name", "is empty"),
    ('name = "hinge"', 'name = " "', HINGE + "name", 'is empty; write what it is called, such as "hinge"'),
    ('name = "hinge"', 'name = "\\u00a0"', HINGE + "name", "is empty"),
    ('per = "leaf"', 'per = "leef"', HINGE + "per", "did you mean 'leaf'?"),
    ('per = "leaf"\n', "", HINGE + "per", "is missing"),
    ('per = "leaf"', 'per = "post"', HINGE + "per", "makes none; write [systems.box.run], or leave the entry out"),
    ("qty = 2", "qty = 0", HINGE + "qty", "whole number of at least 1"),
    ("qty = 2\n", "", HINGE + "qty", "is missing; write qty = 2"),
    ("price = 1.25", "price = -1", HINGE + "price", "is negative"),
    ('pilot = "5/32 in"', "pilot = 5", HINGE + "pilot", "write a text in quotes"),
    ("note =", "notes =", HINGE + "notes", "did you mean 'note'?"),
    ("[[systems.box.hardware]]", "[systems.box.hardware]", BOX + "hardware", "is not a list of tables"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "column", "said"), ONE_FAULT)
def test_each_fault_on_its_line(old: str, new: str, column: str, said: str) -> None:
    """The line is that of the key, or of its table where it is missing."""
    assert old in SHOP
    text = SHOP.replace(old, new, 1)
    [(line, found, message)] = problems(text)
    assert found == column and said in message
    *tables, key = column.split(".")
    key = tables[-1] if key.isdigit() else key
    at = text.splitlines()[line - 1]
    assert at.startswith((f"{key} ", f"[{column}]")) or (at.startswith("[") and not new)


@pytest.mark.parametrize(("cut", "column", "said"), [
    (r"(?s)\[temperature\].*?(?=\[codes)", "profiles.cap.expansion", "says nothing without [temperature]"),
    ("(?m)^expansion = .*\n", "temperature", "says nothing while no profile has an expansion"),
    ("(?m)^mid_rail = .*\n", BOX + "mid_rails_at", "says nothing without mid_rail"),
    ("(?m)^mid_rail = .*\n", BOX + "pickets_at_mid_rail", "says nothing without mid_rail"),
    ("(?m)^mid_rail = .*\n", BOX + "inserts_in.mid", "says nothing without mid_rail"),
    (r"(?s)\[systems.box.gate\].*?(?=\[systems.box.bay)", BOX + "brace", "only gates have one"),
    ("(?m)^face = 2\n", BOX + "top_rail", "says no face"),
    ("(?m)^face = 2\n", BOX + "bottom_rail", "says no face"),
])  # fmt: skip
def test_what_says_nothing_without_its_partner(cut: str, column: str, said: str) -> None:
    found = {key: message for _, key, message in problems(re.sub(cut, "", SHOP))}
    assert said in found[column]


VALUES = ("0", "-1", "nan", "inf", "1e400", "true", '""', '" "', '"-"', '"1/0"', '"%"', '"F"', '"..F"', '"9..9..9 F"',
          "1979-05-27", "[]", "[[]]", "[{}]", "{}", "[1, 'x']", '["", ""]',
          '"' + "9" * 400 + '"', '"\\u0007"', '"\u0663"')


@pytest.mark.parametrize("turn", range(len(LINES)))
def test_whatever_stands_there_is_read_or_asked_about(turn: int) -> None:
    """Values of every type TOML has, and texts of every odd form; each key gets a third of them."""
    line = LINES[turn]
    key = line.partition(" = ")[0]
    for value in VALUES[turn % 3:: 3]:
        text = SHOP.replace(f"\n{line}\n", f"\n{key} = {value}\n", 1)
        try:
            printed(text)
        except InputProblems as found:
            assert all(problem.line > 0 and problem.message for problem in found.problems)


def test_hardware_that_is_listed_twice() -> None:
    twice = SHOP + '[[systems.box.hardware]]\nname = "hinge"\nper = "leaf"\nqty = 1\n'
    [(line, column, message)] = problems(twice)
    assert (line, column) == (twice.count("\n") - 2, "systems.box.hardware[2].name")
    assert "is number 1 already; add the two up" in message


SEVERAL = [fault for fault in ONE_FAULT if fault[0] in (
    '"3.38e-5 per F"', '"50..90 F"', '"between"', '"top hinge"', 'per = "leaf"', "thickness = 2")]


def test_all_faults_are_one_list_and_nothing_is_written(tmp_path: Path) -> None:
    """Through the command: exit status 2, each fault as file, line and column, and no traceback."""
    text, columns = SHOP, {}
    for old, new, column, _ in SEVERAL:
        if old in text and "\n" not in old:
            text, columns[column] = text.replace(old, new, 1), new
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    (tmp_path / "week.csv").write_text("mark,kind,system,qty,opening,height,leaves,rake\nG1,gate,box,1,42,48,3,1:0\n",
                                       encoding="utf-8")
    out = tmp_path / "out.json"
    result = run("takeoff", tmp_path / "week.csv", "--shop", tmp_path / "shop.toml", "--json", out)
    assert result.exit_code == 2 and not out.exists() and not result.stdout
    told = re.findall(r"(?m)^.*?(shop\.toml|week\.csv):(\d+): (\S+):", result.stderr)
    assert len(columns) == 6
    assert {(file, column) for file, _, column in told} == {
        *(("shop.toml", column) for column in columns), ("week.csv", "leaves"), ("week.csv", "rake")}
