"""If these fail, a plan begun at random is no plan, or draws more sticks than it was allowed."""

from __future__ import annotations

import pytest

from cutplan.cutting.exact import restarts
from cutplan.cutting.problem.instance import produced
from cutplan.running.budget import Budget
from tests.cutting.tight import cut_up, fewest, instance_of, nearly_full
from tests.sweeps import sweep


@pytest.mark.parametrize("seed", sweep(2, 6))
@pytest.mark.parametrize("spare", [(0,), (0, 0, 1, 2)])
def test_comes_to_a_plan_of_the_sticks_the_pieces_were_cut_from(
        seed: int, spare: tuple[int, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(restarts, "LITTLE", 30)
    pieces = cut_up(seed, 24, 400, spare)
    instance = instance_of(400, pieces)
    plan = restarts.restart(instance, [], 24, 60, Budget(60))
    assert plan is not None
    assert plan.total() <= 24
    assert all(sum(instance.sizes[i] * a for i, a in pattern.counts) <= 400 for pattern in plan)
    assert all(made >= d for made, d in zip(produced(instance, plan), instance.demands, strict=True))


def test_no_plan_where_there_is_too_little_length(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(restarts, "LITTLE", 10)
    instance = instance_of(400, cut_up(1, 12, 400))
    assert restarts.restart(instance, [], 11, 5, Budget(20)) is None


@pytest.mark.parametrize("seed", range(40))
def test_never_fewer_sticks_than_trying_everything_finds(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(restarts, "LITTLE", 3)
    capacity, pieces = nearly_full(seed)
    least = fewest(capacity, pieces)
    for most in (least - 1, least):
        plan = restarts.restart(instance_of(capacity, pieces), [], most, 10, Budget(20))
        assert plan is None or plan.total() >= least
    if sum(pieces) == least * capacity:
        assert plan is not None, "pieces of full sticks"


def test_the_same_pieces_give_the_same_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(restarts, "LITTLE", 30)
    instance = instance_of(400, cut_up(3, 24, 400))
    first, again = (restarts.restart(instance, [], 24, 60, Budget(60)) for _ in range(2))
    assert first == again
