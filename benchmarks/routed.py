"""Weeks of rails with holes: how many end proven, and what planning them as plain stock would have cost instead.

    python -m benchmarks.routed [--weeks 100] [--first-seed 0] [--limit 60] [--out FILE.csv]

Each week has 60 gates and 60 bays of different openings: 120 rail lengths, two of each, from 16 ft and 20 ft sticks
with holes 5 in apart. The other way is to plan without the holes, and then to slide each rail to its holes: the rails
that this pushes off a stick's end go on further sticks, first fit. Cost is the length drawn.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

import pandas as pd

from benchmarks.seeded import known, of_rail, run_weeks
from cutplan.checking.audit import audit
from cutplan.cutting import cut_pieces
from cutplan.orders import Order, Piece
from cutplan.plans.plan import Plan
from cutplan.running.budget import Budget
from cutplan.shop import BayRule, GateRule, Profile, Routing, Shop, Stock, System
from cutplan.takeoff import take_off

F = Fraction
PITCH, FIRST = F(5), F(5, 2)
KERF, TRIM = F(1, 8), F(1, 2)
LENGTHS = (F(192), F(240))
GATES, BAYS = 60, 60
GATE_WIDTHS, BAY_WIDTHS = (30, 60), (36, 96)  # openings, inches


def shop() -> Shop:
    """One system of two equal rails; any end gap from 1 in to 5 in will do, so that every opening can be made."""
    rail = Profile("rail", "rail", tuple(Stock(length, length) for length in LENGTHS), KERF, head_trim=TRIM,
                   routing=Routing(PITCH, FIRST))
    picket = Profile("picket", "picket", (Stock(F(240), F(240)),), KERF)
    system = System(
        "routed", "rail", "rail", "picket", picket_width=F(1), max_gap=F(5), min_end_gap=F(1),
        gate=GateRule(F(1), F(1, 2), F(1, 2), F(0), F(0)), bay=BayRule(F(1, 4), F(0)),
    )
    return Shop("Routed weeks", "in", "", KERF, None, 1, F(1, 16), {"rail": rail, "picket": picket},
                {"routed": system})


def week(seed: int) -> list[Piece]:
    """The rails of one week: 120 different lengths, in sixteenths."""
    chance = random.Random(seed)
    orders, seen = [], set()
    for kind, count, (low, high) in (("gate", GATES, GATE_WIDTHS), ("bay", BAYS, BAY_WIDTHS)):
        while sum(order.kind == kind for order in orders) < count:
            order = Order(f"{kind}{len(orders)}", kind, "routed", 1, F(chance.randint(16 * low, 16 * high), 16), F(42))
            rail = take_off([order], shop()).pieces[0].length
            if rail not in seen:
                seen.add(rail)
                orders.append(order)
    return [piece for piece in take_off(orders, shop()).pieces if piece.profile == "rail"]


def slid(plain: Plan, centred: dict[str, str]) -> Fraction:
    """What a plan made without the holes draws once each rail is slid to them."""
    drawn, pushed = F(0), []
    for stick in plain.profiles[0].sticks:
        rails = [(cut.length, centred[cut.mark]) for cut in stick.cuts]
        left = list(off_the_end(stick.length, rails))
        pushed += left * stick.count
        drawn += stick.length * stick.count if len(left) < len(rails) else 0
    opened: list[list[tuple[Fraction, str]]] = []
    longest = max(LENGTHS)
    for rail in sorted(pushed, reverse=True):
        for stick_rails in opened:
            if not list(off_the_end(longest, [*stick_rails, rail])):
                stick_rails.append(rail)
                break
        else:
            opened.append([rail])
    return drawn + sum(
        (min(length for length in LENGTHS if not list(off_the_end(length, rails))) for rails in opened), F(0))


def off_the_end(stick: Fraction, rails: Sequence[tuple[Fraction, str]]) -> Iterator[tuple[Fraction, str]]:
    """The rails that have no room when each is cut in turn at the first place where its holes fall right."""
    at = TRIM
    for length, centred in rails:
        start = FIRST + (PITCH / 2 if centred == "space" else 0) - length / 2
        start += -((start - at) // PITCH) * PITCH
        if start + length > stick:
            yield length, centred
        else:
            at = start + length + KERF


def run(seed: int, limit: float) -> dict[str, object]:
    """One week: cutplan with the holes, and without them and slid."""
    pieces = week(seed)
    began = time.perf_counter()
    plan = cut_pieces(pieces, shop(), Budget(limit))
    seconds = time.perf_counter() - began
    if wrong := audit(plan):
        raise AssertionError(f"week {seed}: {wrong}")
    rail = plan.profiles[0]
    whole = shop()
    plain = replace(whole, profiles={"rail": replace(whole.profiles["rail"], routing=None)})
    without = cut_pieces([replace(piece, centred="") for piece in pieces], plain, Budget(limit))
    return {
        "seed": seed,
        **of_rail(rail, seconds),
        "plain": float(without.profiles[0].tiers[0].value),
        "slid": float(slid(without, {piece.mark: piece.centred for piece in pieces})),
    }


def summary(weeks: pd.DataFrame) -> str:
    longest = float(max(LENGTHS))
    more = (weeks.slid - weeks.drawn) / longest
    return "\n".join([
        *known(weeks, longest),
        f"planned as plain stock and slid to the holes: {more.mean():.2f} sticks of 20 ft more "
        f"({100 * (weeks.slid / weeks.drawn - 1).mean():.1f} %)",
    ])


if __name__ == "__main__":
    run_weeks(__doc__, run, summary, 100)
