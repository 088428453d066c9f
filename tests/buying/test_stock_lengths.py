"""If these fail, the shop is told to carry the wrong lengths, or that a choice is proven when it is not.

Chosen sets are held against every subset, each cut to proven optimality by an enumeration of patterns and a search of
its own; and against published examples.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import combinations, product

import pytest

from cutplan.buying.mill import Mill, mill
from cutplan.buying.offers import market
from cutplan.buying.question import BestSet, LengthsAnswer, Question
from cutplan.buying.set_plan import Trial
from cutplan.buying.set_plan import plan as plan_weeks
from cutplan.buying.stock_lengths import choose
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock
from tests.sweeps import sweep

Pieces = dict[int, int]


def profile(prices: dict[int, int] | None = None, kerf: int = 0, trim: int = 0, keep: int | None = None,
            carrying: int = 0) -> Profile:
    stock = tuple(Stock(Fraction(length), Fraction(price)) for length, price in (prices or {}).items())
    return Profile("rail", "rail", stock, Fraction(kerf), Fraction(trim), keep_from=None if keep is None
                   else Fraction(keep), carrying=Fraction(carrying))


def question(cut: Profile, *weeks: Pieces, lengths: Sequence[int] | None = None, by_length: bool = False) -> Question:
    candidates = None if lengths is None else [Fraction(length) for length in lengths]
    demand = tuple(tuple(Demand(f"M{length}", Fraction(length), n) for length, n in week.items()) for week in weeks)
    return Question(market(cut, candidates, by_length), demand, len(weeks))


def asked(cut: Profile, most: int, *weeks: Pieces) -> LengthsAnswer:
    return choose(question(cut, *weeks), most, Budget(60))


def lengths(best: BestSet) -> list[int]:
    return [int(offer.length) for offer in best.choice.offers]


# ---- a model of its own ----


def least_cost(prices: dict[int, int], pieces: Pieces, kerf: int, trim: int) -> int | None:
    """The least cost of any plan, by trying every stick for the longest piece left; None where one does not fit."""
    sizes = sorted(pieces, reverse=True)

    def fillings(room: int, left: tuple[int, ...]) -> list[tuple[int, ...]]:
        """All ways to fill a stick that take a longest piece."""
        first = next(i for i, n in enumerate(left) if n)
        ranges = [range(1 if i == first else 0, n + 1) for i, n in enumerate(left)]
        return [take for take in product(*ranges)
                if sum(a * (sizes[i] + kerf) for i, a in enumerate(take)) <= room + kerf]

    @cache
    def least(left: tuple[int, ...]) -> int | None:
        if not any(left):
            return 0
        costs = []
        for length, price in prices.items():
            for take in fillings(length - trim, left):
                rest = least(tuple(n - a for n, a in zip(left, take, strict=True)))
                if rest is not None:
                    costs.append(price + rest)
        return min(costs, default=None)

    return least(tuple(pieces[size] for size in sizes))


def enumerated(prices: dict[int, int], many: int, weeks: Sequence[Pieces], kerf: int, trim: int) -> int | None:
    """The least over all sets of so many lengths, weeks cut each for itself."""
    found = []
    for chosen in combinations(prices, many):
        costs = [least_cost({length: prices[length] for length in chosen}, week, kerf, trim) for week in weeks]
        if None not in costs:
            found.append(sum(cost for cost in costs if cost is not None))
    return min(found, default=None)


@pytest.mark.parametrize("seed", range(12))
def test_the_chosen_set_is_the_best_of_all_subsets(seed: int) -> None:
    chance = random.Random(seed)
    prices = {length: max(1, length + chance.randint(-2, 2)) for length in chance.sample(range(10, 31), 5)}
    weeks = [{length: chance.randint(1, 3) for length in chance.sample(range(4, 16), 3)}
             for _ in range(chance.randint(1, 2))]
    kerf, trim, carrying = chance.randint(0, 1), chance.randint(0, 1), chance.randint(0, 3)
    cut = profile(prices, kerf, trim, carrying=carrying)
    least = [enumerated(prices, many, weeks, kerf, trim) for many in (1, 2, 3)]
    if all(one is None for one in least):
        with pytest.raises(NoPlan):
            asked(cut, 3, *weeks)
        return
    answer = asked(cut, 3, *weeks)
    got = {len(best.choice.offers): best for best in answer.best}
    for many, cost in enumerate(least, start=1):
        if cost is not None:
            assert got[many].choice.money == cost
            assert got[many].choice.cost == got[many].bound == cost + carrying * many * len(weeks)
    for single in answer.singles:
        alone = int(single.offer.length)
        costs = [least_cost({alone: prices[alone]}, week, kerf, trim) for week in weeks]
        assert single.eligible == (None not in costs)
        if single.choice:
            assert single.choice.money == sum(cost or 0 for cost in costs)
    today = [least_cost(prices, week, kerf, trim) for week in weeks]
    assert answer.today is not None and answer.today.money == sum(cost or 0 for cost in today)


@pytest.mark.parametrize("seed", range(6))
def test_what_is_proven_of_carried_weeks_holds_for_the_weeks_as_one(seed: int) -> None:
    """A plan week by week, offcuts kept, can cost no less than the best plan of all weeks together."""
    chance = random.Random(100 + seed)
    prices = {length: length for length in chance.sample(range(10, 31), 4)}
    weeks = [{length: chance.randint(1, 2) for length in chance.sample(range(4, 11), 2)} for _ in range(2)]
    whole: Pieces = {}
    for week in weeks:
        for length, n in week.items():
            whole[length] = whole.get(length, 0) + n
    answer = asked(profile(prices, keep=4), 2, *weeks)
    for best in answer.best:
        together = enumerated(prices, len(best.choice.offers), [whole], 0, 0)
        apart = enumerated(prices, len(best.choice.offers), weeks, 0, 0)
        assert together is not None and apart is not None
        assert best.bound <= together <= best.choice.cost <= apart


@pytest.mark.parametrize("seed", sweep(6, 12))
def test_weeks_that_are_not_left_off_are_planned_as_they_would_be(seed: int) -> None:
    """And left off they are at once where even the first week costs too much, never where there is money enough."""
    chance = random.Random(200 + seed)
    prices = {length: length for length in chance.sample(range(14, 31), 2)}
    weeks = [{length: chance.randint(1, 4) for length in chance.sample(range(4, 13), 4)} for _ in range(5)]
    needs = tuple(Fraction(sum(length * n for length, n in week.items())) for week in weeks)
    whole = Trial(profile(prices, keep=4), question(profile(prices, keep=4), *weeks).demand, carried=True, needs=needs)
    planned = plan_weeks(whole, Budget(60))
    assert planned is not None
    cost = sum(Fraction(prices[int(length)] * n) for length, n in planned.drawn.items())
    assert plan_weeks(replace(whole, below=cost * 2), Budget(60)) == planned
    for share in (Fraction(99, 100), Fraction(1), Fraction(101, 100)):
        assert plan_weeks(replace(whole, below=cost * share), Budget(60)) in (None, planned)
    assert plan_weeks(replace(whole, below=sum(needs, Fraction(0))), Budget(60)) is None, "the pieces alone are more"


@pytest.mark.parametrize("seed", sweep(2, 12))
def test_with_few_sets_carried_weeks_are_planned_for_every_set(seed: int) -> None:
    chance = random.Random(200 + seed)
    prices = {length: length for length in chance.sample(range(14, 31), 5)}
    weeks = [{length: chance.randint(1, 4) for length in chance.sample(range(4, 13), 4)} for _ in range(3)]
    cut = profile(prices, keep=4)
    demand, costs = question(cut, *weeks).demand, []
    for some in [*combinations(sorted(prices), 1), *combinations(sorted(prices), 2)]:
        planned = plan_weeks(Trial(profile({k: prices[k] for k in some}, keep=4), demand, carried=True), Budget(60))
        assert planned is not None
        costs.append(sum(prices[int(length)] * n for length, n in planned.drawn.items()))
    assert asked(cut, 2, *weeks).best[1].choice.cost == min(costs)


# ---- published examples ----


def test_ten_foot_stock_beats_eight_for_three_foot_pieces() -> None:
    """Army Engineer course EN0069A, lesson 4: nine 3 ft pieces, from 10 ft or 8 ft stock."""
    answer = asked(profile({96: 96, 120: 120}), 1, {36: 9})
    assert lengths(answer.best[0]) == [120]
    left = {int(one.offer.length): (one.choice.sticks, one.choice.length - one.choice.pieces)
            for one in answer.singles if one.choice}
    assert left == {120: (3, 36), 96: (5, 13 * 12)}


@pytest.mark.parametrize(("prices", "pieces", "cost", "drawn"), [
    ({20: 20, 25: 25, 40: 40}, {16: 2, 12: 3, 5: 5}, 100, (1, 0, 2)),
    ({100: 100, 80: 80, 55: 55}, {45: 150, 30: 200, 18: 175}, 16575, None),
    ({5: 6, 6: 7, 9: 10}, {2: 20, 3: 10, 4: 20}, 170, None),  # Gilmore and Gomory 1961
])
def test_worked_examples_as_choices_of_three_lengths(
    prices: dict[int, int], pieces: Pieces, cost: int, drawn: tuple[int, ...] | None
) -> None:
    answer = asked(profile(prices), 3, pieces)
    assert [best.proven for best in answer.best] == [True, True, True]
    assert answer.best[2].choice.cost == cost
    if drawn:
        assert answer.best[2].choice.drawn == drawn
    costs = [best.choice.cost for best in answer.best]
    assert costs == sorted(costs, reverse=True)


@pytest.mark.parametrize(("prices", "pieces"), [
    ({20: 20, 25: 25, 40: 40}, {16: 2, 12: 3, 5: 5}),
    ({5: 6, 6: 7, 9: 10}, {2: 4, 3: 3, 4: 5}),
])
def test_one_and_two_of_a_worked_example_equal_enumeration(prices: dict[int, int], pieces: Pieces) -> None:
    answer = asked(profile(prices), 2, pieces)
    assert [best.choice.cost for best in answer.best] == [enumerated(prices, many, [pieces], 0, 0) for many in (1, 2)]


def test_nothing_long_enough_is_no_plan_and_names_the_piece() -> None:
    with pytest.raises(NoPlan, match=r"rail: 50: longer than 40"):
        asked(profile({20: 20, 40: 40}), 1, {50: 1, 10: 1})


def test_a_set_too_short_is_not_eligible_and_today_may_be() -> None:
    short = question(profile({20: 20}), {30: 2, 10: 1}, lengths=[20, 40, 70])
    answer = choose(short, 2, Budget(60))
    assert answer.today is None and "30" in answer.today_lacks
    assert [single.eligible for single in answer.singles] == [False, True, True]
    assert all(max(lengths(best)) >= 40 for best in answer.best)


def test_turned_pickets_take_a_blank_each() -> None:
    turned = Profile("picket", "picket", (), Fraction(0), Fraction(1), Fraction(1), one_per_stick=True)
    answer = choose(question(turned, {30: 4, 40: 3}, lengths=[32, 36, 42, 48]), 2, Budget(60))
    assert [lengths(best) for best in answer.best] == [[42], [32, 42]]
    assert [best.choice.cost for best in answer.best] == [7 * 42, 4 * 32 + 3 * 42]


def test_carrying_counts_for_every_length_and_week() -> None:
    answer = asked(profile({20: 20, 25: 25, 40: 40}, carrying=3), 3, {16: 2}, {12: 3})
    assert [best.choice.carrying for best in answer.best] == [6, 12, 18]
    assert answer.today is not None and answer.today.carrying == 18


# ---- from the mill ----


def made(cut: Profile, pieces: Pieces, asked_for: range) -> Mill:
    return mill(question(cut, pieces, lengths=asked_for, by_length=True), Budget(60))


@pytest.mark.parametrize("seed", range(6))
def test_the_mill_length_is_the_best_of_all(seed: int) -> None:
    chance = random.Random(seed)
    pieces = {length: chance.randint(1, 3) for length in chance.sample(range(5, 14), 3)}
    kerf, trim = chance.randint(0, 1), chance.randint(0, 1)
    found = made(profile({20: 20}, kerf, trim), pieces, range(1, 41))
    drawn = {length: cost for length in range(1, 41)
             if (cost := least_cost({length: length}, pieces, kerf, trim)) is not None}
    assert found.proven and found.best.length == min(drawn.values())
    assert [int(point.length) for point in found.points] == sorted(drawn)
    assert found.too_short == 40 - len(drawn)
    for point in found.points:
        assert point.least <= drawn[int(point.length)]
        assert point.choice is None or point.choice.length == drawn[int(point.length)]
