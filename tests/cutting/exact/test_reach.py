"""If these fail, a length used up is called the least while a plan uses up less, or stays open in a small week."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

import pytest

from cutplan.cutting.exact.reach import Reach
from cutplan.cutting.lp.bounds import Box
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance, build_instance
from cutplan.cutting.problem.objective import Objective, least_used
from cutplan.shop import Profile
from tests.cutting.shops import cut, profile
from tests.cutting.test_against_others import best_by_model
from tests.sweeps import sweep


def few_pieces(chance: random.Random) -> Instance:
    """Two to six pieces of two or three lengths, two lengths of stick, an offcut or two on the rack."""
    stock = [(length, length + chance.randint(-3, 3), chance.choice([None, 2]))
             for length in chance.sample(range(20, 40), 2)]
    rail = profile(stock, chance.choice([0, 1]), head_trim=Fraction(chance.randint(0, 2)),
                   keep_from=Fraction(chance.randint(3, 12)))
    offcuts = tuple(rail.offcut(f"R{k}", Fraction(chance.randint(8, 24))) for k in range(chance.randint(0, 2)))
    rail = Profile(**{**rail.__dict__, "stock": rail.stock + offcuts})
    lengths = chance.sample(range(5, 16), chance.randint(2, 3))
    demand = {(Fraction(length), "", 1): chance.randint(1, 2) for length in lengths}
    return build_instance(rail, demand)


def every_plan(instance: Instance) -> Iterator[Solution]:
    """Each by the sticks of the longest piece that is left: by the rule of fit alone."""
    sizes = instance.sizes

    def fillings(room: int, left: list[int], i: int) -> Iterator[list[int]]:
        if i == len(sizes):
            yield []
            return
        for a in range(min(left[i], room // sizes[i]) + 1):
            for rest in fillings(room - a * sizes[i], left, i + 1):
                yield [a, *rest]

    def rest(left: list[int], drawn: Counter[int]) -> Iterator[list[Pattern]]:
        if not any(left):
            yield []
            return
        first = next(i for i, n in enumerate(left) if n)
        for s, stick in enumerate(instance.sticks):
            if stick.emergency or drawn[s] == (99 if stick.available is None else stick.available):
                continue
            for counts in fillings(stick.capacity, left, 0):
                if counts[first]:
                    pattern = Pattern(s, tuple((i, a) for i, a in enumerate(counts) if a))
                    after = [n - a for n, a in zip(left, counts, strict=True)]
                    yield from ([pattern, *more] for more in rest(after, drawn + Counter([s])))

    seen = set()
    for plan in rest(list(instance.demands), Counter()):
        if (key := tuple(sorted(plan))) not in seen:
            seen.add(key)
            yield Counter(plan)


def used_up(instance: Instance, plan: Solution) -> int:
    return sum(n * instance.sticks[p.stick].used(sum(a * instance.sizes[i] for i, a in p.counts))
               for p, n in plan.items())


def numbers(objective: Objective, plan: Solution) -> list[int]:
    """How many sticks of each kind, then how many of each kind keep an offcut: as a box counts them."""
    drawn = [0] * (len(objective.instance.sticks) + len(objective.kept))
    for pattern, n in plan.items():
        for row in objective.rows[objective.way(pattern)]:
            drawn[row] += n
    return drawn


def boxes(chance: random.Random, whole: Box) -> Iterator[Box]:
    """The whole, and some of which random ends are cut off."""
    yield whole
    for _ in range(12):
        limits = []
        for low, high in whole:
            ends = sorted((chance.randint(low, high), chance.randint(low, high)))
            limits.append(chance.choice([(low, high), (ends[0], ends[1]), (min(low, 1), min(high, 2))]))
        yield tuple(limits)


@pytest.mark.parametrize("seed", sweep(25, 200))
def test_no_plan_is_ruled_out(seed: int) -> None:
    """Against every plan of a small instance, within random boxes and below random lengths, whether or not it is known
    what plans cost at least."""
    chance = random.Random(seed)
    instance = few_pieces(chance)
    plans = list(every_plan(instance))
    if not plans:
        pytest.skip("no plan at all")
    costs = [sum(n * instance.sticks[p.stick].cost for p, n in plan.items()) for plan in plans]
    cap = chance.choice([min(costs), max(costs), min(costs) + (max(costs) - min(costs)) // 3])
    objective = least_used(instance, cap, chance.choice([0, min(costs)]))
    there = [(used_up(instance, plan), numbers(objective, plan), plan)
             for plan, cost in zip(plans, costs, strict=True) if cost <= cap]
    reach = Reach(objective)
    most = max(value for value, *_ in there) + 1
    for box in boxes(chance, objective.box(most)):
        worth = chance.choice([most, min(value for value, *_ in there) + chance.randint(1, 6)])
        inside = [(value, drawn, plan) for value, drawn, plan in there if value < worth
                  and all(low <= n <= high for n, (low, high) in zip(drawn, box, strict=True))]
        narrow = reach.narrowed(box, worth)
        for value, drawn, plan in inside:
            assert narrow is not None
            assert all(low <= n <= high for n, (low, high) in zip(drawn, narrow, strict=True))
            for bound in (0, value - chance.randint(0, 9), value):
                assert bound <= reach.next(bound, narrow, worth) <= value
                assert reach.within(list(plan), narrow, bound, worth) == list(plan)


def narrowed(objective: Objective, worth: int) -> Box:
    found = Reach(objective).narrowed(objective.box(worth), worth)
    assert found is not None
    return found


def test_as_many_sticks_are_drawn_as_the_least_cost_asks_for() -> None:
    """Five of one kind for 35 at 7 each. Three at 7 there are, ten at 4 may be bought for 40: together 61, so that 35
    leave out six of the latter at most."""
    alone = build_instance(profile([(30, 7, None)], keep_from=Fraction(6)), {(Fraction(11), "", 1): 9})
    floor = int(35 / alone.coin)
    assert narrowed(least_used(alone, floor, floor), 151)[0] == (5, 5)
    two = build_instance(profile([(30, 7, 3), (20, 4, None)]), {(Fraction(11), "", 1): 10})
    kinds = {stick.length * two.unit: k for k, stick in enumerate(two.sticks)}
    box = narrowed(least_used(two, 40, 35), 10**6)
    assert two.coin == 1 and (box[kinds[30]], box[kinds[20]]) == ((0, 3), (4, 10))


def week(seed: int) -> tuple[Profile, dict[object, int]]:
    """A small week: three lengths of stick, three offcuts, a dozen and a half pieces of a few lengths."""
    chance = random.Random(seed)
    stock = [(length, round(length * chance.uniform(0.15, 0.25), 1), None)
             for length in chance.sample(range(120, 300, 12), 3)]
    rail = profile(stock, "1/8", head_trim=Fraction(1, 2), keep_from=Fraction(36))
    offcuts = tuple(rail.offcut(f"R{k}", Fraction(chance.randint(24 * 8, 110 * 8), 8)) for k in range(3))
    rail = Profile(**{**rail.__dict__, "stock": rail.stock + offcuts})
    demand = {Fraction(chance.randint(34 * 16, 96 * 16), 16): chance.randint(1, 4) for _ in range(chance.randint(5, 7))}
    return rail, dict(demand)


@pytest.mark.parametrize("seed", [37, 39, 56, *(pytest.param(seed, marks=pytest.mark.slow)
                                                for seed in (9, 23, 24, 33, 34, 45, 48, 54))])
def test_a_small_week_is_proven_to_use_up_the_least(seed: int) -> None:
    """Where the LP over numbers of sticks leaves a gap; the separate model has every pattern."""
    rail, demand = week(seed)
    plan = cut(rail, demand)
    cost, used, _ = plan.tiers
    assert used.closed
    assert used.value * 768 == best_by_model(rail, demand, "used up", int(cost.value * 100))
