"""If these fail, plans built stick by stick, or the rests they begin with, cut something else than was asked."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest

from cutplan.cutting.heuristics.diving import serving
from cutplan.cutting.heuristics.first_fit import spent
from cutplan.cutting.heuristics.sequential import Passes
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance, build_instance, produced
from cutplan.cutting.tiers import first_plan
from cutplan.running.budget import Budget
from tests.cutting.test_against_others import random_case


def instance_of(seed: int) -> Instance:
    rail, demand = random_case(seed)
    return build_instance(rail, {(Fraction(str(length)), "", 1): 3 * n for length, n in demand.items()})


@pytest.mark.parametrize("seed", range(30))
def test_every_pass_cuts_exactly_what_is_asked_from_what_is_there(seed: int) -> None:
    instance = instance_of(seed)
    passes = Passes(instance)
    for _ in range(3):
        plan = passes.next(10**12, Budget())
        if plan is None:  # finite stock used up badly: no plan is better than a wrong one
            continue
        assert produced(instance, plan) == list(instance.demands)
        drawn = Counter[int]()
        for pattern, n in plan.items():
            drawn[pattern.stick] += n
            assert instance.fill(pattern) <= instance.sticks[pattern.stick].capacity
        assert all(n <= instance.most(s) for s, n in drawn.items())


def test_a_pass_that_is_not_cheaper_gives_none() -> None:
    instance = instance_of(1)
    plan = first_plan(instance)
    assert Passes(instance).next(1, Budget()) is None
    cheaper = Passes(instance).next(spent(instance, plan), Budget())
    assert cheaper is None or spent(instance, cheaper) < spent(instance, plan)


def test_a_piece_too_many_becomes_the_next_smaller_one() -> None:
    instance = instance_of(1)  # sizes 0 to 3 at the least
    assert len(instance.sizes) >= 4
    assert serving(instance, Pattern(0, ((0, 2), (2, 1))), [1, 0, 1, 3]) == Pattern(0, ((0, 1), (2, 1), (3, 1)))
    assert serving(instance, Pattern(0, ((1, 2),)), [5] + [0] * (len(instance.sizes) - 1)) is None
