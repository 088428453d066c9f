"""If these fail, a search over listed patterns overlooks those of a plan that is there, and a bound is proven that is
not true."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from cutplan.cutting.exact.listing import worthwhile
from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import cheapest
from tests.cutting.tight import instance_of

LONG = 100_000


def listed(instance: Instance, bound: bounds.Bound, sticks: int) -> set[tuple[tuple[int, int], ...]] | None:
    objective = cheapest(instance)
    found = worthwhile(objective, bound, sticks + 1, objective.box(sticks + 1), 10**6)
    return None if found is None else {pattern.counts for pattern in found}


@pytest.mark.parametrize("sticks", range(3, 9))
def test_every_pattern_of_a_plan_is_listed_whatever_tables_the_bound_is_from(sticks: int) -> None:
    """Each stick is cut in three without a rest; the bound's tables are exact, the list's are of rounded sizes."""
    made = [(20_001 + 37 * k, 30_011 + 59 * k, LONG - 50_012 - 96 * k) for k in range(sticks)]
    exact = instance_of(LONG, [piece for stick in made for piece in stick])
    coarse = replace(exact, tables=TableParams(entries=2_000, row=512, work=0))
    objective, ceiling = cheapest(exact), sum(exact.demands)
    master = lp.Master(objective, objective.box(ceiling), ceiling)
    bound = generation.bound_of(master, bounds.by_length(objective, master.scale))
    assert bound.ceiling == sticks
    patterns = listed(coarse, bound, sticks)
    plan = {tuple(sorted(Counter(exact.sizes.index(piece) for piece in stick).items())) for stick in made}
    assert patterns is None or plan <= patterns
