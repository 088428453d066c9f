"""If these fail, the last sticks of a plan cut something else than was asked, or a plan that is there is not found."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from cutplan.cutting.heuristics.stick_completion import complete_sticks
from cutplan.cutting.problem.instance import produced
from cutplan.running.budget import Budget
from tests.cutting.tight import cut_up, instance_of

LONG = 500_000


@pytest.mark.parametrize("seed", range(20))
def test_pieces_of_sticks_that_were_cut_up_go_on_as_many_again(seed: int) -> None:
    """Half a per cent was lost of each, so that fewer cannot hold them; first fit takes more."""
    sticks = random.Random(seed).randint(20, 60)
    instance = instance_of(LONG, cut_up(seed, sticks, LONG, range(LONG // 100)))
    plan = complete_sticks(instance, sticks + 1, Budget())
    assert plan is not None and plan.total() == sticks
    assert produced(instance, plan) == list(instance.demands)
    assert all(instance.fits(pattern) for pattern in plan)


@pytest.mark.parametrize("seed", range(20))
def test_what_few_tries_come_to_is_a_plan_or_nothing(seed: int) -> None:
    """Nothing is lost here, so that most tries fail; and there may be fewer sticks than a plan may cost."""
    chance = random.Random(seed)
    capacity, sticks = chance.choice([200, LONG]), chance.randint(1, 8)
    instance = instance_of(capacity, cut_up(seed, sticks, capacity))
    there = sticks - chance.randint(0, 1)
    short = replace(instance, sticks=(replace(instance.sticks[0], available=there),))
    plan = complete_sticks(short, sticks + 1, Budget())
    if there < sticks:
        assert plan is None
    elif plan is not None:
        assert plan.total() == sticks
        assert produced(instance, plan) == list(instance.demands)
        assert all(instance.fits(pattern) for pattern in plan)
