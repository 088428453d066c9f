"""If these fail, a plan begun at random is no plan, or draws more sticks than it was allowed."""

from __future__ import annotations

import pytest

from cutplan.cutting.exact.restarts import RestartParams, restart
from cutplan.cutting.problem.instance import produced
from cutplan.running.budget import Budget
from tests.cutting.tight import cut_up, fewest, instance_of, nearly_full
from tests.sweeps import sweep


@pytest.mark.parametrize("seed", sweep(2, 6))
@pytest.mark.parametrize("spare", [(0,), (0, 0, 1, 2)])
def test_comes_to_a_plan_of_the_sticks_the_pieces_were_cut_from(
        seed: int, spare: tuple[int, ...]) -> None:
    pieces = cut_up(seed, 24, 400, spare)
    instance = instance_of(400, pieces)
    plan = restart(instance, [], 24, Budget(60), RestartParams(tries=60, little=30))
    assert plan is not None
    assert plan.total() <= 24
    assert all(sum(instance.sizes[i] * a for i, a in pattern.counts) <= 400 for pattern in plan)
    assert all(made >= d for made, d in zip(produced(instance, plan), instance.demands, strict=True))


def test_no_plan_where_there_is_too_little_length() -> None:
    instance = instance_of(400, cut_up(1, 12, 400))
    assert restart(instance, [], 11, Budget(20), RestartParams(tries=5, little=10)) is None


@pytest.mark.parametrize("seed", range(40))
def test_never_fewer_sticks_than_trying_everything_finds(seed: int) -> None:
    capacity, pieces = nearly_full(seed)
    least = fewest(capacity, pieces)
    for most in (least - 1, least):
        plan = restart(instance_of(capacity, pieces), [], most, Budget(20), RestartParams(tries=10, little=3))
        assert plan is None or plan.total() >= least
    if sum(pieces) == least * capacity:
        assert plan is not None, "pieces of full sticks"


def test_the_same_pieces_give_the_same_plan() -> None:
    instance = instance_of(400, cut_up(3, 24, 400))
    first, again = (restart(instance, [], 24, Budget(60), RestartParams(tries=60, little=30)) for _ in range(2))
    assert first == again
