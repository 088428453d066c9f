"""If these fail, a rack of very many lengths is cut dearer than a short one, not proven, or not within its time."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from fractions import Fraction as F

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import CuttingParams, cut_pieces
from cutplan.cutting.exact.sifting import SiftingParams
from cutplan.plans.records import ProfilePlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Routing, Stock
from tests.cutting.shops import pieces, shop
from tests.sweeps import sweep

NEW = ((144, 19, None), (192, 25, None), (240, 31, None))


def rack(seed: int, many: int, shortest: int, longest: int) -> tuple[Stock, ...]:
    chance = random.Random(seed)
    return tuple(Stock(F(chance.randint(16 * shortest, 16 * longest), 16), F(0), 1, f"R{k}") for k in range(many))


def rail(offcuts: tuple[Stock, ...], most: int | None = None, **rules: object) -> Profile:
    new = tuple(Stock(F(length), F(price), most) for length, price, _ in NEW)
    return Profile("rail", "rail", (*new, *offcuts), F(1, 8), head_trim=F(1, 2), keep_from=F(36), **rules)  # type: ignore[arg-type]


def asked(seed: int, lines: int, longest: int = 90) -> dict[object, int]:
    chance = random.Random(seed)
    return {F(chance.randint(16 * 20, 16 * longest), 16): chance.randint(1, 4) for _ in range(lines)}


def planned(profile: Profile, demand: dict[object, int], limit: float | None = None,
            params: CuttingParams | None = None) -> ProfilePlan:
    """The plan, which is right and whose bound its certificate proves with all of the stock in it."""
    asked = [replace(piece, length=F(piece.length)) for piece in pieces(demand)]
    plan = cut_pieces(asked, shop(profile), Budget(limit), params)
    assert audit(plan) == []
    (cut,) = plan.profiles
    assert prove(cut).ok
    assert len(cut.certificate["stock"]) == len(profile.stock)
    return cut


@pytest.mark.parametrize(("seed", "shortest", "longest"), [
    (1, 24, 60), pytest.param(2, 24, 60, marks=pytest.mark.slow), pytest.param(3, 24, 72, marks=pytest.mark.slow),
    pytest.param(4, 24, 200, marks=pytest.mark.slow),
])
def test_the_longest_offcuts_are_enough_for_the_least_cost(seed: int, shortest: int, longest: int) -> None:
    """No more sticks are drawn than there are pieces, and a longer offcut, as free, holds what a shorter one does."""
    offcuts, demand = rack(seed, 1_000, shortest, longest), asked(seed, 10)
    long_ones = tuple(sorted(offcuts, key=lambda entry: -entry.length)[:sum(demand.values())])
    whole, few = planned(rail(offcuts), demand), planned(rail(long_ones), demand)
    assert whole.tiers[0].closed and few.tiers[0].closed
    assert whole.totals.cost == few.totals.cost
    assert whole.tiers[1].value <= few.tiers[1].value


@pytest.mark.parametrize("seed", sweep(2, 12))
def test_a_core_plans_as_well_as_all_kinds_together(seed: int) -> None:
    """On small racks both ways of planning can be had; neither's bound may be above the other's plan."""
    profile, demand = rail(rack(seed, 40, 24, 90), None if seed % 2 else 6), asked(seed, 8)
    together = planned(profile, demand)
    apart = planned(profile, demand, params=CuttingParams(sifting=SiftingParams(few=5, core=6, join=4)))
    for one, other in zip(together.tiers[:2], apart.tiers[:2], strict=True):
        assert other.bound <= one.value
        if one.name == "cost":
            assert one.bound <= other.value
            assert one.status == "gap" or other.value == one.value


def test_scarce_offcuts_are_all_put_to_use() -> None:
    """More kinds are needed than a core begins with: all are cut before new stock is, where they hold whole pieces."""
    offcuts = tuple(Stock(F(40) + F(k, 16), F(0), 1, f"R{k}") for k in range(200))
    plan = planned(rail(offcuts), {F(39): 210})  # ten more than the offcuts hold: two bars of 240 in or what is cheaper
    assert sum(stick.count for stick in plan.sticks if stick.source == "rack") == 200
    assert plan.tiers[0].closed
    assert plan.totals.cost == 56  # six from 240 in, four from 192 in


def test_routed_offcuts_are_planned_within_the_limit() -> None:
    chance = random.Random(1)
    offcuts = tuple(replace(entry, first=F(chance.randint(0, 72), 16)) for entry in rack(1, 400, 24, 200))
    began = time.monotonic()
    plan = planned(rail(offcuts, routing=Routing(F(9, 2), F(3))), asked(1, 8), 2)
    assert time.monotonic() - began < 10  # twice that on a busy machine; unlimited it is a minute
    assert plan.totals.cost == 0


@pytest.mark.parametrize("limit", [0, 1])
def test_the_limit_holds_with_thousands_of_lengths(limit: float) -> None:
    began = time.monotonic()
    plan = planned(rail(rack(5, 5_000, 24, 200)), asked(5, 30), limit)
    assert time.monotonic() - began < limit + 8  # seconds, with the audit and the proof, on a busy machine
    assert plan.tiers[0].closed
