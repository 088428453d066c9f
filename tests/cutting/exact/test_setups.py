"""If these fail, a plan has more set-ups than it must at its price, or a bound on set-ups is not true.

Beside the project's own search stands a textbook model here: every way of cutting every stick, listed by plain loops,
and a MIP over them in SCIP, which the project does not use.
"""

from __future__ import annotations

import math
import random
import threading
import time
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction as F
from itertools import product

import pytest
from ortools.linear_solver import pywraplp

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.checking.setups import SetupClaim
from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.grounds import certified_setups, counted_setups
from cutplan.plans.plan import to_json
from cutplan.plans.records import ProfilePlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock
from tests.plans.parsing import from_json
from tests.sweeps import sweep

SHARES = (F(0), F(1, 100), F(1, 20), F(3, 20))


@dataclass(frozen=True)
class Case:
    """Sticks (length, price, how many or None) without trims, and how many pieces of each length."""

    sticks: tuple[tuple[int, int, int | None], ...]
    demand: dict[int, int]
    kerf: int
    stack: int
    keep: F | None = F(12)

    def shop(self) -> Shop:
        stock = tuple(Stock(F(length), F(price), qty, None if qty is None else f"T{length}-{k}")
                      for k, (length, price, qty) in enumerate(self.sticks))
        profile = Profile("rail", "rail", stock, F(self.kerf), keep_from=self.keep)
        return Shop("", "in", "", F(self.kerf), None, self.stack, F(1, 16), {"rail": profile}, {})

    def pieces(self) -> list[Piece]:
        return [Piece(f"P{length}", "rail", F(length), number, f"P{length}") for length, number in self.demand.items()]

    def ways(self) -> list[tuple[int, tuple[int, ...]]]:
        """Every stick, by its place among the kinds, with every number of pieces of each length that fits it."""
        lengths = list(self.demand)
        found = []
        for s, (length, _, _) in enumerate(self.sticks):
            for counts in product(*(range(n + 1) for n in self.demand.values())):
                taken = sum(a * (piece + self.kerf) for a, piece in zip(counts, lengths, strict=True))
                if any(counts) and taken <= length + self.kerf:
                    found.append((s, counts))
        return found


def case(seed: int) -> Case:
    chance = random.Random(seed)
    lengths = sorted(chance.sample(range(9, 40), chance.randint(3, 4)), reverse=True)
    sticks: list[tuple[int, int, int | None]] = [(chance.randint(48, 70), 10, None)]
    if chance.random() < 0.5:
        sticks.append((sticks[0][0] + chance.randint(8, 20), chance.randint(11, 15), None))
    if chance.random() < 0.3:
        sticks.append((chance.randint(40, 50), 0, 1))
    return Case(tuple(sticks), {length: chance.randint(1, 6) for length in lengths}, chance.randint(0, 1),
                chance.randint(1, 4))


class Exact:
    """What plans of a case come to at least, one aim after the other."""

    def __init__(self, one: Case) -> None:
        self.case, self.ways = one, one.ways()
        self.cost = self.least("cost")

    def at(self, most: F, used: int | None = None) -> tuple[int, int]:
        """At most so dear (and using up no more), the fewest set-ups, then lifts."""
        held = {"cost": most} | ({} if used is None else {"used": F(used)})
        setups = self.least("setups", **held)
        return setups, self.least("lifts", setups=F(setups), **held)

    def used(self, s: int, counts: tuple[int, ...]) -> int:
        """The length of a stick, but for an offcut that is kept."""
        length = self.case.sticks[s][0]
        taken = sum(a * (piece + self.case.kerf) for a, piece in zip(counts, self.case.demand, strict=True))
        return taken if self.case.keep is not None and length - taken >= self.case.keep else length

    def least(self, aim: str, **held: F) -> int:
        """The least of "cost", "used", "setups" or "lifts" of plans in which each of the `held` is at most so much."""
        mip = pywraplp.Solver.CreateSolver("SCIP")
        often = [min(n // a for a, n in zip(counts, self.case.demand.values(), strict=True) if a)
                 for _, counts in self.ways]
        x = [mip.IntVar(0, n, "") for n in often]
        for i, n in enumerate(self.case.demand.values()):
            mip.Add(sum(counts[i] * x[k] for k, (_, counts) in enumerate(self.ways)) == n)
        for s, (_, _, qty) in enumerate(self.case.sticks):
            if qty is not None:
                mip.Add(sum(x[k] for k, (kind, _) in enumerate(self.ways) if kind == s) <= qty)
        alike: dict[tuple[int, tuple[int, ...]], list[int]] = {}
        for k, (s, counts) in enumerate(self.ways):
            alike.setdefault((self.case.sticks[s][0], counts), []).append(k)
        setups = [mip.BoolVar("") for _ in alike]
        lifts = [mip.IntVar(0, 1000, "") for _ in alike]
        for those, set_, lifted in zip(alike.values(), setups, lifts, strict=True):
            for k in those:
                mip.Add(x[k] <= often[k] * set_)
            mip.Add(self.case.stack * lifted >= sum(x[k] for k in those))
        sums = {"cost": sum(self.case.sticks[s][1] * x[k] for k, (s, _) in enumerate(self.ways)),
                "used": sum(self.used(*way) * x[k] for k, way in enumerate(self.ways)),
                "setups": sum(setups), "lifts": sum(lifts)}
        for name, most in held.items():
            mip.Add(sums[name] <= float(most) + 1e-6)
        mip.Minimize(sums[aim])
        assert mip.Solve() == pywraplp.Solver.OPTIMAL
        return round(mip.Objective().Value())


def setups_of(profile: ProfilePlan) -> int:
    return len({(stick.length, tuple(sorted(cut.length for cut in stick.cuts))) for stick in profile.sticks})


def lifts_of(profile: ProfilePlan, stack: int) -> int:
    alike: Counter[object] = Counter()
    for stick in profile.sticks:
        alike[stick.length, tuple(sorted(cut.length for cut in stick.cuts))] += stick.count
    return sum(math.ceil(n / stack) for n in alike.values())


@pytest.mark.parametrize("seed", sweep(6, 40))
def test_at_each_price_no_plan_has_fewer_set_ups_nor_as_few_and_fewer_lifts(seed: int) -> None:
    """Of plans as good in cost and length, and of plans that may cost so much more than the least."""
    one = case(seed)
    exact, plan = Exact(one), cut_pieces(one.pieces(), one.shop(), Budget(60), trade=SHARES)
    profile = plan.profiles[0]
    used = int(profile.totals.drawn - profile.totals.kept)
    assert not profile.faults and profile.totals.cost == exact.cost
    assert used == exact.least("used", cost=F(exact.cost))
    assert (setups_of(profile), lifts_of(profile, one.stack)) == exact.at(F(exact.cost), used)
    assert profile.tiers[2].closed and prove(profile).ok
    for share, dearer in zip(SHARES, profile.trade, strict=True):
        allowed = (1 + share) * exact.cost
        assert dearer.totals.cost <= allowed
        setups, lifts = exact.at(allowed)
        assert (setups_of(dearer), lifts_of(dearer, one.stack)) == (setups, lifts)
        assert dearer.totals.cost == exact.least("cost", setups=F(setups), lifts=F(lifts))
        assert setups <= setups_of(profile)
        assert dearer.tiers[2].value == setups and dearer.tiers[2].closed
        assert prove(dearer).ok and not audit(replace(plan, profiles=(dearer,)))
        refuse_false_multipliers(dearer, random.Random(seed))


def refuse_false_multipliers(plan: ProfilePlan, chance: random.Random) -> None:
    """Whatever multipliers stand in the file: a bound that is accepted is never more than the fewest, which it has."""
    if (given := plan.certificate.get("setups")) is None:
        return
    assert SetupClaim(plan).holds() and counted_setups(plan) < certified_setups(plan) <= setups_of(plan)
    for _ in range(12):
        duals = [entry | {"value": int(entry["value"] * chance.choice([0, 0.6, 0.9, 1, 1, 1.05, 1.3]))}
                 for entry in given["duals"]]
        changed = given | {"duals": duals, "cost": int(given["cost"] * chance.choice([0, 0.5, 1, 1, 1.2]))}
        other = replace(plan, certificate=plan.certificate | {"setups": changed})
        if SetupClaim(other).holds():
            assert certified_setups(other) <= setups_of(plan)
        elif certified_setups(other) > certified_setups(plan):
            assert not prove(other).ok


def test_the_cases_are_hard_enough_to_tell_something() -> None:
    """Money saves set-ups in them, and multipliers prove more than counting, of which some changed ones hold."""
    plans = [cut_pieces(one.pieces(), one.shop(), Budget(60), trade=SHARES).profiles[0] for one in map(case, range(8))]
    assert sum(setups_of(plan) - setups_of(plan.trade[-1]) for plan in plans) > 4
    assert sum("setups" in dearer.certificate for plan in plans for dearer in plan.trade) > 4


def test_what_may_be_spared_is_the_plan_that_is_given() -> None:
    for one in map(case, range(4)):
        dearer = cut_pieces(one.pieces(), one.shop(), Budget(60), spare=SHARES[2])
        same = cut_pieces(one.pieces(), one.shop(), Budget(60), trade=SHARES[2:3]).profiles[0].trade[0]
        profile = dearer.profiles[0]
        assert profile == same and not profile.trade
        again = from_json(to_json(dearer), "plan.json")
        assert again == dearer and again.profiles[0].tiers == profile.tiers
        assert profile.spare is not None
        low = replace(profile.spare, at_most=profile.totals.cost - F(1, 100))
        assert any("spare.at_most" in text for text in audit(replace(dearer, profiles=(replace(profile, spare=low),))))


def test_sticks_of_which_there_are_none_change_nothing() -> None:
    """A length that the rack counts down to 0, or one that no piece fits, beside the same shop without it."""
    for one in map(case, range(3)):
        without = cut_pieces(one.pieces(), one.shop(), Budget(60), trade=SHARES[1:3]).profiles[0]
        for none in (Stock(F(75), F(8), 0), Stock(F(one.sticks[0][0]), F(1), 0), Stock(F(5), F(1))):
            shop = one.shop()
            rail = replace(shop.profiles["rail"], stock=(none, *shop.profiles["rail"].stock))
            plan = cut_pieces(one.pieces(), replace(shop, profiles={"rail": rail}), Budget(60), trade=SHARES[1:3])
            with_none = plan.profiles[0]
            for this, other in zip((with_none, *with_none.trade), (without, *without.trade), strict=True):
                assert not this.faults and [(tier.value, tier.bound) for tier in this.tiers] == [
                    (tier.value, tier.bound) for tier in other.tiers]
                assert prove(this).ok and (none.qty is None or certified_setups(this) == certified_setups(other))


def test_ten_patterns_are_needed() -> None:
    """Wikipedia, "Cutting stock problem": 73 sticks, and with ten patterns; that ten are needed is from memory."""
    demand = {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
              2140: 16, 2150: 18, 2200: 20}
    one = Case(((5600, 1, None),), demand, 0, 1, None)
    profile = cut_pieces(one.pieces(), one.shop(), Budget(100)).profiles[0]
    assert profile.totals.cost == 73 and setups_of(profile) == 10
    assert profile.tiers[2].bound == 10 and certified_setups(profile) >= 7


def test_whatever_the_time_every_point_of_a_trade_is_a_plan_within_its_price() -> None:
    """No time at all, a little, and a stop from outside: what was not searched keeps the best found before."""
    chance = random.Random(8)
    demand = {length: chance.randint(3, 12) for length in chance.sample(range(130, 900), 14)}
    one = Case(((2400, 50, None), (1900, 41, None)), demand, 1, 2)
    stopped = Budget(60)
    for budget in (Budget(0.0), Budget(1.5), stopped):
        if budget is stopped:
            threading.Timer(0.7, stopped.stop).start()
        began = time.monotonic()
        plan = cut_pieces(one.pieces(), one.shop(), budget, trade=SHARES)
        assert time.monotonic() - began < 10  # seconds, on a busy machine
        (profile,) = plan.profiles
        assert audit(plan) == [] and not profile.faults and len(profile.trade) == len(SHARES)
        before = profile.totals.patterns
        for dearer in profile.trade:
            assert dearer.spare is not None and dearer.totals.cost <= dearer.spare.at_most
            assert dearer.totals.patterns <= before and prove(dearer).ok
            before = dearer.totals.patterns
