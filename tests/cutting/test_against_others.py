"""If these fail, a plan breaks the saw's rules, costs more than a plain first-fit would, or is called best where a
separate model finds a better one."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from ortools.sat.python import cp_model

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.plans.plan import Plan
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock
from tests.cutting.shops import cut, patterns, pieces, profile, shop
from tests.sweeps import sweep


def random_case(seed: int) -> tuple[Profile, dict[object, int]]:
    """A small shop with everything in it: kerf, trims, kept offcuts, two or three lengths, finite stock, a rack.

    The least length that is kept may be shorter than the trim at the tail.
    """
    chance = random.Random(seed)
    sixteenths = chance.choice([1, 2, 4, 16])
    lengths = chance.sample(range(40, 96), chance.choice([1, 2, 3]))
    stock = [
        (length, round(length * chance.uniform(0.15, 0.25), 1), chance.choice([None, None, 3])) for length in lengths
    ]
    rail = profile(
        stock,
        chance.choice([0, "1/8", "3/32"]),
        head_trim=Fraction(chance.choice([0, 1, 2]), 4),
        tail_trim=Fraction(chance.choice([0, 1, 12]), 4),
        keep_from=chance.choice([None, Fraction(2), Fraction(12), Fraction(20)]),
    )
    if chance.random() < 0.4:
        offcuts = tuple(rail.offcut(f"A{k}", Fraction(chance.randint(20, 60)), sawn=chance.choice([0, 1, 2]))
                        for k in range(3))
        rail = Profile(**{**rail.__dict__, "stock": rail.stock + offcuts})
    demand = {
        Fraction(chance.randint(9 * sixteenths, 36 * sixteenths), sixteenths): chance.randint(1, 4)
        for _ in range(chance.randint(1, 4))
    }
    return rail, dict(demand)


def ways(rail: Profile, entry: Stock) -> list[tuple[Fraction, Fraction]]:
    """What a stick may lose at its two ends: an offcut with one sawn end may lie either way round."""
    head = rail.head_trim if entry.head_trim is None else entry.head_trim
    tail = rail.tail_trim if entry.tail_trim is None else entry.tail_trim
    if rail.sawn_last(entry):
        return [(Fraction(0), rail.tail_trim), (rail.head_trim, Fraction(0))]
    return [(head, tail)]


def best_by_model(rail: Profile, demand: dict[object, int], tier: str, cap: int | None = None) -> int | None:
    """The best cost (in cents), or the least length used up (in 1/768 in) within a cap: every pattern, one model."""
    lengths = [Fraction(str(x)) for x in demand]
    counts = list(demand.values())
    model = cp_model.CpModel()
    columns = []
    for s, entry in enumerate(rail.stock):
        for head, tail in ways(rail, entry):
            for pattern in patterns(rail, lengths, counts, entry.length - head - tail):
                cut_length = sum(a * length for a, length in zip(pattern, lengths, strict=True))
                left = entry.length - head - cut_length - sum(pattern) * rail.kerf
                kept = left if rail.keep_from is not None and left >= rail.keep_from else Fraction(0)
                columns.append((s, pattern, int(entry.price * 100), int((entry.length - kept) * 768)))
    x = [model.new_int_var(0, max(counts), "") for _ in columns]
    for i, needed in enumerate(counts):
        model.add(sum(p[i] * v for (_, p, _, _), v in zip(columns, x, strict=True)) == needed)
    for s, entry in enumerate(rail.stock):
        if entry.qty is not None:
            model.add(sum(v for (t, *_), v in zip(columns, x, strict=True) if t == s) <= entry.qty)
    cost = sum(c * v for (_, _, c, _), v in zip(columns, x, strict=True))
    if cap is not None:
        model.add(cost <= cap)
    model.minimize(cost if tier == "cost" else sum(u * v for (*_, u), v in zip(columns, x, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else None


@pytest.mark.parametrize("seed", sweep(20, 60))
def test_small_plans_equal_a_separate_model(seed: int) -> None:
    rail, demand = random_case(seed)
    cheapest = best_by_model(rail, demand, "cost")
    if cheapest is None:
        with pytest.raises(NoPlan):
            cut(rail, demand)
        return
    plan = cut(rail, demand)
    assert not audit(Plan("in", (plan,)))
    assert prove(plan).ok
    assert plan.totals.cost * 100 == cheapest
    assert plan.tiers[0].closed
    used = best_by_model(rail, demand, "used up", cheapest)
    assert used is not None
    assert plan.tiers[1].bound * 768 <= used <= plan.tiers[1].value * 768
    if plan.tiers[1].closed:
        assert plan.tiers[1].value * 768 == used


def first_fit_decreasing(rail: Profile, demand: dict[object, int], stock: Stock) -> Fraction | None:
    """Cost of the plainest method there is, from one length."""
    usable = stock.length - rail.head_trim - rail.tail_trim
    sticks: list[Fraction] = []
    for length in sorted((Fraction(str(x)) for x in demand for _ in range(demand[x])), reverse=True):
        if length > usable:
            return None
        for k, room in enumerate(sticks):
            if length <= room:
                sticks[k] = room - length - rail.kerf
                break
        else:
            sticks.append(usable - length - rail.kerf)
    return len(sticks) * stock.price


@pytest.mark.parametrize("seed", sweep(1, 12))
def test_never_dearer_than_first_fit_decreasing(seed: int) -> None:
    chance = random.Random(seed)
    rail = profile([(192, "41.20", None), (240, "50.10", None)], "1/8", head_trim=Fraction(1, 2))
    demand: dict[object, int] = {
        Fraction(chance.randint(16 * 30, 16 * 96), 16): chance.randint(1, 6) for _ in range(8)
    }
    plan = cut(rail, demand)
    assert not audit(Plan("in", (plan,)))
    others = [first_fit_decreasing(rail, demand, stock) for stock in rail.stock]
    assert plan.totals.cost <= min(cost for cost in others if cost is not None)


def test_same_input_same_plan() -> None:
    rail, demand = random_case(7)
    assert cut(rail, demand) == cut(rail, demand)


def test_turned_pickets_come_one_from_each_blank_trimmed_equally() -> None:
    """A picket 2 in too long loses 1 in at each end if turned (common practice, no source)."""
    rail = profile([(36, 4, None), (42, 5, None)], "1/8", one_per_stick=True)
    plan = cut(rail, {34: 3, 38: 2})
    assert not audit(Plan("in", (plan,)))
    assert {(s.length, s.count, s.cuts[0].start, s.cuts[0].end) for s in plan.sticks} == {
        (36, 3, 1, 35), (42, 2, 2, 40)
    }
    assert plan.totals.cost == 22


def test_a_piece_longer_than_any_stick_is_named() -> None:
    with pytest.raises(NoPlan, match="97"):
        cut(profile([(96, 1, None)]), {97: 1, 40: 1})


def test_finite_stock_that_runs_out_says_by_how_much() -> None:
    with pytest.raises(NoPlan, match="2 more of 96"):
        cut(profile([(96, 1, 2)]), {40: 7})


def test_what_is_missing_is_as_long_as_the_longest_piece_needs() -> None:
    """Trims leave 39 1/4 of a stick of 40; a sawn offcut of 39 3/4 is shorter, and gives more."""
    rail = profile([(40, 5, 3)], head_trim=Fraction(1, 2), tail_trim=Fraction(1, 4))
    rail = Profile(**{**rail.__dict__, "stock": (*rail.stock, rail.offcut("A", Fraction("39.75"), sawn=2))})
    assert [stick.tag for stick in cut(rail, {"39.75": 1}).sticks] == ["A"]
    with pytest.raises(NoPlan, match=r"1 more of 39\.75"):
        cut(rail, {"39.75": 2})


def test_without_time_the_plan_still_stands_and_claims_nothing_false() -> None:
    rail = profile([(192, "41.20", None), (240, "50.10", None), (144, "31.5", None)], "1/8")
    chance = random.Random(5)
    demand: dict[object, int] = {Fraction(chance.randint(480, 1536), 16): 3 for _ in range(30)}
    hurried = cut_pieces(pieces(demand), shop(rail), Budget(1e-9))
    assert not audit(hurried)
    assert prove(hurried.profiles[0]).ok
    assert hurried.profiles[0].tiers[0].bound <= cut(rail, demand).totals.cost


def test_a_search_in_floating_point_is_not_believed() -> None:
    """A plan that uses up 26742 1/2 in exists here; HiGHS alone has called 26742 9/16 the best."""
    rail = profile([(192, "9.70", None), (240, "12.05", None)], "1/8", head_trim=Fraction(1, 4), keep_from=Fraction(24))
    short = Fraction(1, 16)
    plan = cut(rail, {
        Fraction(42): 68, 42 - short: 47, Fraction(36): 224, 36 - short: 57, Fraction(30): 315, 30 - short: 56,
    })
    assert not audit(Plan("in", (plan,)))
    assert plan.tiers[1].bound <= Fraction(53485, 2)
