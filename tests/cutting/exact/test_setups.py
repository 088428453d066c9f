"""If these fail, a plan has more set-ups than it must at its price, or a bound on set-ups is not true.

Beside the project's own search stands a textbook model here: every way of cutting every stick, listed by plain loops,
and a MIP over them in SCIP, which the project does not use.
"""

from __future__ import annotations

import math
import random
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
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import ProfilePlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock
from tests.plans.parsing import from_json

CASES = 40
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
    """The least cost of a case; and at most so dear, the fewest set-ups and then lifts."""

    def __init__(self, one: Case) -> None:
        self.case, self.ways = one, one.ways()
        self.cost = round(self.solved(None, None)[0])

    def at(self, most: F) -> tuple[int, int]:
        setups = round(self.solved(most, None)[1])
        return setups, round(self.solved(most, setups)[2])

    def solved(self, most: F | None, setups: int | None) -> tuple[float, float, float]:
        """Cost, set-ups and lifts: of the first that is not held, the least."""
        mip = pywraplp.Solver.CreateSolver("SCIP")
        often = [min(n // a for a, n in zip(counts, self.case.demand.values(), strict=True) if a)
                 for _, counts in self.ways]
        x = [mip.IntVar(0, n, "") for n in often]
        for i, n in enumerate(self.case.demand.values()):
            mip.Add(sum(counts[i] * x[k] for k, (_, counts) in enumerate(self.ways)) == n)
        for s, (_, _, qty) in enumerate(self.case.sticks):
            if qty is not None:
                mip.Add(sum(x[k] for k, (kind, _) in enumerate(self.ways) if kind == s) <= qty)
        y = {}
        for k, (s, counts) in enumerate(self.ways):
            y.setdefault((self.case.sticks[s][0], counts), []).append(k)
        set_, lifts = {}, {}
        for key, alike in y.items():
            set_[key], lifts[key] = mip.BoolVar(""), mip.IntVar(0, 1000, "")
            for k in alike:
                mip.Add(x[k] <= often[k] * set_[key])
            mip.Add(self.case.stack * lifts[key] >= sum(x[k] for k in alike))
        cost = sum(self.case.sticks[s][1] * x[k] for k, (s, _) in enumerate(self.ways))
        if most is not None:
            mip.Add(cost <= float(most) + 1e-6)
        if setups is not None:
            mip.Add(sum(set_.values()) <= setups)
        mip.Minimize(cost if most is None else sum((lifts if setups is not None else set_).values()))
        assert mip.Solve() == pywraplp.Solver.OPTIMAL
        return (sum(self.case.sticks[s][1] * x[k].solution_value() for k, (s, _) in enumerate(self.ways)),
                sum(one.solution_value() for one in set_.values()), sum(one.solution_value() for one in lifts.values()))


def setups_of(profile: ProfilePlan) -> int:
    return len({(stick.length, tuple(sorted(cut.length for cut in stick.cuts))) for stick in profile.sticks})


def lifts_of(profile: ProfilePlan, stack: int) -> int:
    alike: Counter[object] = Counter()
    for stick in profile.sticks:
        alike[stick.length, tuple(sorted(cut.length for cut in stick.cuts))] += stick.count
    return sum(math.ceil(n / stack) for n in alike.values())


@pytest.fixture(scope="module")
def solved() -> list[tuple[Case, Exact, Plan]]:
    return [(one, Exact(one), cut_pieces(one.pieces(), one.shop(), Budget(60), trade=SHARES))
            for one in map(case, range(CASES))]


def test_at_each_price_no_plan_has_fewer_set_ups_nor_as_few_and_fewer_lifts(
        solved: list[tuple[Case, Exact, Plan]]) -> None:
    saved = 0
    for one, exact, plan in solved:
        profile = plan.profiles[0]
        assert not profile.faults and profile.totals.cost == exact.cost
        for share, dearer in zip(SHARES, profile.trade, strict=True):
            allowed = (1 + share) * exact.cost
            assert dearer.totals.cost <= allowed
            setups, lifts = exact.at(allowed)
            assert (setups_of(dearer), lifts_of(dearer, one.stack)) == (setups, lifts)
            assert setups <= setups_of(profile)
            tier = dearer.tiers[2]
            assert tier.value == setups and tier.closed and tier.status in ("proven", "search")
            assert prove(dearer).ok and not audit(replace(plan, profiles=(dearer,)))
            saved += setups_of(profile) - setups
    assert saved > CASES  # else the cases are too easy to tell anything


def test_what_may_be_spared_is_the_plan_that_is_given(solved: list[tuple[Case, Exact, Plan]]) -> None:
    for one, _, plan in solved[:5]:
        dearer = cut_pieces(one.pieces(), one.shop(), Budget(60), spare=SHARES[2])
        profile, same = dearer.profiles[0], plan.profiles[0].trade[2]
        assert setups_of(profile) == setups_of(same) and profile.spare == same.spare and not profile.trade
        again = from_json(to_json(dearer), "plan.json")
        assert again == dearer and again.profiles[0].tiers == profile.tiers
        assert profile.spare is not None
        low = replace(profile.spare, at_most=profile.totals.cost - F(1, 100))
        assert any("spare.at_most" in text for text in audit(replace(dearer, profiles=(replace(profile, spare=low),))))


def test_any_multipliers_that_check_accepts_prove_something_true(solved: list[tuple[Case, Exact, Plan]]) -> None:
    """Those of the plans, and others by chance: a bound that is accepted is never more than the exact fewest."""
    chance = random.Random(4)
    accepted = sharper = 0
    for _, _, plan in solved:
        for dearer in plan.profiles[0].trade[1:3]:
            fewest = setups_of(dearer)
            given = dearer.certificate.get("setups")
            if given is None:
                continue
            assert SetupClaim(dearer).holds() and counted_setups(dearer) < certified_setups(dearer) <= fewest
            sharper += 1
            for _ in range(12):
                duals = [entry | {"value": int(entry["value"] * chance.choice([0, 0.6, 0.9, 1, 1, 1.05, 1.3]))}
                         for entry in given["duals"]]
                changed = given | {"duals": duals, "cost": int(given["cost"] * chance.choice([0, 0.5, 1, 1, 1.2]))}
                other = replace(dearer, certificate=dearer.certificate | {"setups": changed})
                if SetupClaim(other).holds():
                    accepted += 1
                    assert certified_setups(other) <= fewest
                elif certified_setups(other) > certified_setups(dearer):
                    assert not prove(other).ok
    assert accepted > 40 and sharper > 10


def test_ten_patterns_are_needed() -> None:
    """Wikipedia, "Cutting stock problem": 73 sticks, and with ten patterns; that ten are needed is from memory."""
    demand = {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
              2140: 16, 2150: 18, 2200: 20}
    one = Case(((5600, 1, None),), demand, 0, 1, None)
    profile = cut_pieces(one.pieces(), one.shop(), Budget(100)).profiles[0]
    assert profile.totals.cost == 73 and setups_of(profile) == 10
    assert profile.tiers[2].bound == 10 and certified_setups(profile) >= 7
