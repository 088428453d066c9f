"""If these fail, a search that was stopped early writes a plan that its own check refuses, or a fault in a later tier
keeps back a plan that was already found."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction as F

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import tiers as cutter
from cutplan.cutting.exact import setups
from cutplan.cutting.exact.branch_and_bound import Optimum
from cutplan.cutting.tiers import cheapest_plan, finish
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import Demand, ProfilePlan
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Routing, Stock
from tests.plans.parsing import from_json
from tests.sweeps import sweep

LOOKS = (0, 1, 2, 3, 5, 8, 13, 21, 34, 55, 90, 140, 220, 300)


class Looks(Budget):
    """An budget that is spent after so many looks at it, whoever looks."""

    def __init__(self, most: int) -> None:
        super().__init__()
        self.most, self.looked = most, 0

    def left(self) -> float:
        self.looked += 1
        return float("inf") if self.looked <= self.most else 0.0

    def share(self, parts: float) -> Budget:
        return self

    def quietly(self) -> Budget:
        return self


def a_case(seed: int) -> tuple[Profile, list[Demand]]:
    """A shop of one profile: one to four lengths, some of them few, a rack, kept offcuts, holes."""
    chance = random.Random(seed)
    routed = chance.random() < 0.3
    lengths = chance.sample(range(90, 260, 6), chance.choice([1, 3, 4, 5]))
    few = chance.choice([None, None, chance.randint(1, 4)])
    prices = [F(round(length * chance.uniform(0.9, 1.1)), 20) for length in lengths]
    new = [Stock(F(length), price, few if k and k + 1 == len(lengths) else None)
           for k, (length, price) in enumerate(zip(lengths, prices, strict=True))]
    rack = [Stock(F(chance.randint(200, 600), 4), F(0), 1, f"T{k}") for k in range(chance.choice([0, 0, 3, 6]))]
    rail = Profile("rail", "rail", (*new, *rack), F(chance.choice([0, 1]), 8), F(1, 2), F(chance.choice([0, 1]), 4),
                   chance.choice([None, F(30)]), routing=Routing(F(19, 4), F(19, 8)) if routed else None)
    longest = int(4 * min(lengths) * 0.8)
    demand = [Demand(f"M{k}", F(chance.randint(60, longest), 4), chance.randint(1, 12), "",
                     chance.choice(["hole", "space", "either"]) if routed else "")
              for k in range(chance.choice([5, 10, 15]))]
    return rail, demand


def stopped(rail: Profile, demand: list[Demand], after: Iterable[int] = LOOKS) -> Iterator[tuple[int, ProfilePlan]]:
    """The plans of a search stopped after more and more looks, until one comes to its end."""
    for most in after:
        looks = Looks(most)
        try:
            yield most, finish(cheapest_plan(rail, demand, looks), looks)
        except NoPlan:
            continue
        if looks.looked <= most:
            return


@pytest.mark.parametrize(("seed", "after"), [*((seed, LOOKS) for seed in (3, 4, 6, 7, 11)), (20, range(292, 410, 6))])
def test_whenever_it_is_stopped_the_plan_is_sound_and_proven(seed: int, after: Sequence[int]) -> None:
    """The last case has a tree of many boxes, and is stopped in the midst of it."""
    for most, plan in stopped(*a_case(seed), after):
        read = from_json(to_json(Plan("in", (plan,))), "plan.json")
        assert not audit(read), most
        proved = prove(read.profiles[0])
        assert proved.ok, f"after {most} looks: {proved.line}"


def test_a_fault_in_a_later_tier_leaves_the_plan_of_an_earlier_one(monkeypatch: pytest.MonkeyPatch) -> None:
    rail, demand = a_case(3)
    sound = finish(cheapest_plan(rail, demand, Budget()), Budget())

    def broken(*_: object, **__: object) -> object:
        raise ZeroDivisionError("a fault")

    def robbed(used: object, first: object, second: Optimum, *_: object) -> setups.Setups:
        plan = second.plan.copy()
        plan[next(iter(plan))] -= 1
        return setups.Setups(plan, 1)

    for name, fault, told in (("best_plan", broken, "a fault"), ("fewest", broken, "a fault"),
                              ("fewest", robbed, "asked for")):
        with monkeypatch.context() as patch:
            job = cheapest_plan(rail, demand, Budget())
            patch.setattr(cutter if name == "best_plan" else setups, name, fault)
            plan = finish(job, Budget())
        assert not audit(Plan("in", (plan,)))
        assert prove(plan).ok
        assert plan.totals.cost == sound.totals.cost
        assert plan.tiers[2].status == "gap" or plan.tiers[2].value == plan.tiers[2].bound
        assert told in plan.faults[0] and plan.faults[0].startswith("rail: ")


@pytest.mark.parametrize("seed", sweep(2, 12))
def test_rails_of_one_length_on_holes_and_on_spaces_are_one_set_up(seed: int) -> None:
    """Counted from the sticks alone, the set-ups are those that the tier was searched for."""
    chance = random.Random(seed)
    rail = Profile("rail", "rail", (Stock(F(192), F(20), None), Stock(F(144), F(16), None)), F(1, 8), F(1, 2),
                   routing=Routing(F(19, 4), F(19, 8)))
    lengths = [F(chance.randint(120, 300), 4) for _ in range(2)]
    demand = [Demand(f"M{k}", length, chance.randint(1, 6), "", centred) for k, (length, centred) in enumerate(
        (length, centred) for length in lengths for centred in ("hole", "space", "either"))]
    looks = Looks(400)
    job = cheapest_plan(rail, demand, looks)
    plan = finish(job, looks)
    counted = {(s.length, tuple(sorted(cut.length for cut in s.cuts))) for s in plan.sticks}
    assert plan.tiers[2].value == len(counted)
    assert plan.tiers[2].bound <= len(counted)
    assert setups.at_least(job.instance) <= len(counted)
