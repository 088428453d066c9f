"""A small shop with a rack, and plans to book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.rack.store import changing, reading
from cutplan.rack.supply import supply, tagged, with_on_hand
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Routing, Shop, Stock

RAIL = Profile("rail", "rail", (Stock(Fraction(96), Fraction(20)), Stock(Fraction(144), Fraction(28))), Fraction(1, 8),
               Fraction(1, 2), keep_from=Fraction(20))
BAR = Profile("bar", "picket", (Stock(Fraction(120), Fraction(9), 6),), Fraction(1, 8), keep_from=Fraction(24))
HOLED = Profile("holed", "rail", (Stock(Fraction(193), Fraction(33)),), Fraction(1, 8), Fraction(1, 2),
                keep_from=Fraction(30), routing=Routing(Fraction(19, 4), Fraction(19, 8)))
SHOP = Shop("", "in", "USD", Fraction(1, 8), None, 1, Fraction(1, 16),
            {one.name: one for one in (RAIL, BAR, HOLED)}, {})


def pieces(demand: Mapping[tuple[str, object], int]) -> list[Piece]:
    return [Piece(f"{profile} {length}", profile, Fraction(str(length)), qty, "G1")
            for (profile, length), qty in demand.items()]


def plan_with(rack: Path, demand: Mapping[tuple[str, object], int], shop: Shop = SHOP) -> Plan:
    return plan_of(rack, pieces(demand), shop)


def plan_of(rack: Path, wanted: Sequence[Piece], shop: Shop) -> Plan:
    """A plan made with what is free on a rack, as `cut --rack` makes it."""
    with reading(rack) as now:
        found = supply(shop, now)
    plan = with_on_hand(cut_pieces(wanted, found.shop, Budget(20)), found)
    with changing(rack) as now:
        return tagged(plan, now)


def priced_out(plan: Plan) -> Plan:
    """The same plan under another fingerprint, as if it had been made a second time."""
    return replace(plan, currency=plan.currency + "'")
