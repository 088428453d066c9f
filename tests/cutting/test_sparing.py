"""If these fail, allowing a plan to cost more gives it more set-ups, or one page tells two bounds of one number.

Time is taken from the searches by counted work, so that each case runs out at the same point on any machine.
"""

from __future__ import annotations

import random
from fractions import Fraction as F

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import CuttingParams, cut_pieces
from cutplan.cutting.exact.setups import SetupParams
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan
from cutplan.running import workers
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock
from tests.sweeps import sweep

SHARES = (F(0), F(1, 100), F(1, 20))
WORK = (0, 6, 25, 100, 400)  # patterns priced, nodes, looks by MIP: from none to all that is wanted


@pytest.fixture(autouse=True)
def in_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything in this process, as work is counted in one alone."""
    monkeypatch.setattr(workers, "can_start", lambda: False)


def a_week(seed: int) -> tuple[Shop, list[Piece]]:
    """Three profiles of one or two lengths, and some lengths to cut from each."""
    chance = random.Random(seed)
    profiles, pieces = {}, []
    for name in ("rail", "picket", "post"):
        lengths = chance.sample([96, 120, 144, 168, 192], chance.randint(1, 2))
        stock = tuple(Stock(F(length), F(round(length * chance.uniform(18, 25)), 100)) for length in lengths)
        profiles[name] = Profile(name, "rail", stock, F(1, 8), F(chance.choice([0, 2, 4]), 8),
                                 keep_from=chance.choice([None, F(30)]))
        pieces += [Piece(f"{name} {length}", name, F(length, 8), chance.randint(1, 9), "G01")
                   for length in chance.sample(range(22 * 8, 80 * 8), chance.randint(3, 6))]
    return Shop("", "in", "", F(1, 8), None, chance.randint(1, 4), F(1, 16), profiles, {}), pieces


def planned(seed: int, work: int, **aims: object) -> Plan:
    shop, pieces = a_week(seed)
    plan = cut_pieces(pieces, shop, Budget().within(work), CuttingParams(setups=SetupParams(work=0.15)),
                      **aims)  # type: ignore[arg-type]
    assert audit(plan) == [] and not any(profile.faults for profile in plan.profiles)
    return plan


def setups_of(profile: ProfilePlan) -> int:
    return len({(stick.length, tuple(sorted(cut.length for cut in stick.cuts))) for stick in profile.sticks})


@pytest.mark.parametrize("work", WORK)
@pytest.mark.parametrize("seed", sweep(2, 40))
def test_whoever_may_spend_more_never_has_more_set_ups(seed: int, work: int) -> None:
    """However little is done: with something to spare than without, and with more of it than with less."""
    plain = planned(seed, work)
    traded = planned(seed, work, trade=SHARES)
    for profile, with_points in zip(plain.profiles, traded.profiles, strict=True):
        numbers = [setups_of(profile), *map(setups_of, with_points.trade)]
        assert numbers == sorted(numbers, reverse=True)
        assert with_points.sticks == profile.sticks
        bounds = [with_points.tiers[2].bound, *(one.tiers[2].bound for one in with_points.trade)]
        assert bounds == sorted(bounds, reverse=True)
        for one in (with_points, *with_points.trade):
            assert one.tiers[2].bound <= setups_of(one) and prove(one).ok
    spared = planned(seed, work, spare=SHARES[1])
    assert all(setups_of(one) <= setups_of(profile)
               for one, profile in zip(spared.profiles, plain.profiles, strict=True))
