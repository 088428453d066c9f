"""If these fail, sticks that were put together are no plan, or one that is there is not found."""

from __future__ import annotations

import random
from itertools import combinations_with_replacement

import pytest

from cutplan.cutting.exact.branch_and_bound import BranchAndBoundParams, optimise
from cutplan.cutting.exact.completion import CompletionParams
from cutplan.cutting.exact.full_sticks import FullSticksParams, put_together
from cutplan.cutting.heuristics.first_fit import first_fit_decreasing
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance, produced
from cutplan.cutting.problem.objective import cheapest
from cutplan.running.budget import Budget
from tests.cutting.tight import fewest, instance_of, nearly_full
from tests.sweeps import sweep

QUICK = FullSticksParams(tries=(40, 40), work=0.5)


def thirds(seed: int, sticks: int, capacity: int, spare: int = 0) -> list[int]:
    """The pieces of so many sticks cut in three, each piece a fifth to two fifths of a stick."""
    chance, pieces = random.Random(seed), []
    while len(pieces) < 3 * sticks:
        full = capacity - chance.randint(0, spare)
        first, second = (chance.randint(capacity // 5, 2 * capacity // 5) for _ in range(2))
        if capacity // 5 <= full - first - second <= 2 * capacity // 5:
            pieces += [first, second, full - first - second]
    return pieces


def every(instance: Instance, waste: int) -> list[Pattern]:
    """All patterns of two to five pieces that waste no more than that, by trying each."""
    capacity, sizes = instance.sticks[0].capacity, instance.sizes
    found = []
    for n in range(2, 6):
        for taken in combinations_with_replacement(range(len(sizes)), n):
            if capacity - waste <= sum(sizes[i] for i in taken) <= capacity:
                pattern = Pattern(0, tuple((i, taken.count(i)) for i in sorted(set(taken))))
                if pattern.often(instance.demands):
                    found.append(pattern)
    return found


@pytest.mark.parametrize("seed", sweep(3, 12))
@pytest.mark.parametrize("spare", [0, 3])
def test_puts_together_what_was_cut_up(seed: int, spare: int) -> None:
    pieces = thirds(seed, 12, 600, spare)
    instance = instance_of(600, pieces)
    plan = put_together(instance, every(instance, 12 * 600 - sum(pieces)), 12, random.Random(0), Budget(60), QUICK)
    assert plan is not None
    assert plan.total() == 12
    assert tuple(produced(instance, plan)) == instance.demands
    assert all(instance.fits(pattern) for pattern in plan)


@pytest.mark.parametrize("seed", range(40))
def test_never_fewer_sticks_than_trying_everything_finds(seed: int) -> None:
    capacity, pieces = nearly_full(seed)
    least, instance = fewest(capacity, pieces), instance_of(capacity, pieces)
    for most in (least - 1, least):
        waste = most * capacity - sum(pieces)
        if waste < 0:
            continue
        plan = put_together(instance, every(instance, waste), most, random.Random(0), Budget(20), QUICK)
        assert plan is None or (plan.total() >= least and tuple(produced(instance, plan)) == instance.demands)


def test_the_same_pieces_give_the_same_plan() -> None:
    instance = instance_of(600, thirds(5, 16, 600))
    full = every(instance, 0)
    first, again = (put_together(instance, full, 16, random.Random(0), Budget(60), QUICK) for _ in range(2))
    assert first == again


@pytest.mark.parametrize(("patterns", "fewest_found"), [(6_000, True), (0, False)])
def test_the_search_finds_full_sticks_before_dives_and_pairs(patterns: int, fewest_found: bool) -> None:
    """Sticks of three pieces each, with nothing to spare, looked at briefly: the dive by chance does not find them."""
    instance = instance_of(10_000, thirds(1, 54, 10_000))
    start = first_fit_decreasing(instance, [0])
    assert start is not None
    params = BranchAndBoundParams(shares=(), lucky=(0, 0), pair_work=(0, 0), full=FullSticksParams(patterns=patterns),
                                  completion=CompletionParams(passes=0, little=()))
    found = optimise(cheapest(instance), start, Budget(120), lambda *_: "", brief=True, params=params)
    assert (found.plan.total() == 54) == fewest_found
