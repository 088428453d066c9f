"""If these fail, quick pricing on long sticks gives patterns that do not fit or misses the best of four pieces, or a
week of many lengths in fine units takes so many rounds of exact pricing again that its time is over first."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations_with_replacement

import pytest

from cutplan.cutting.lp import generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.pricing.joining import joined
from cutplan.cutting.problem.demand import demand_of, instance_of
from cutplan.cutting.problem.objective import cheapest
from cutplan.cutting.tiers import first_plan
from cutplan.running.budget import Budget
from tests.cutting.shops import pieces, profile


def of_four(sizes: list[int], bounds: list[int], capacity: int) -> Iterator[tuple[int, ...]]:
    """All patterns of one to four pieces that fit, by trying all."""
    for n in range(1, 5):
        for taken in combinations_with_replacement(range(len(sizes)), n):
            if sum(sizes[i] for i in taken) <= capacity and all(taken.count(i) <= bounds[i] for i in taken):
                yield taken


@pytest.mark.parametrize("seed", range(40))
def test_against_every_pattern_of_four(seed: int) -> None:
    chance = random.Random(seed)
    capacity = chance.choice([97, 30_000, 10**9])
    sizes = [chance.randint(max(1, capacity // 6), capacity) for _ in range(chance.randint(1, 7))]
    bounds = [chance.choice([0, 4, 4, 5]) for _ in sizes]
    values = [chance.randint(-5, 50) for _ in sizes]
    worths = {taken: sum(values[i] for i in taken) for taken in of_four(sizes, bounds, capacity)}
    above = chance.randint(0, 30)
    table = joined(sizes, bounds, values, capacity)
    found = [tuple(i for i, a in counts for _ in range(a)) for counts in table.patterns(above, 5)]
    assert table.best() == max([0, *worths.values()])
    assert len(set(found)) == len(found)
    assert all(worths[taken] > above for taken in found)
    assert [worths[taken] for taken in found] == sorted((worths[taken] for taken in found), reverse=True)
    for i in range(len(sizes)):
        best = max((worth for taken, worth in worths.items() if i in taken and values[i] > 0), default=0)
        if best > above:  # the best of each size is there
            assert any(i in taken and worths[taken] == best for taken in found)


@pytest.mark.parametrize("seed", range(40))
def test_no_size_is_taken_oftener_than_it_may(seed: int) -> None:
    chance = random.Random(seed)
    sizes = [chance.randint(100, 600) for _ in range(5)]
    bounds = [chance.randint(1, 3) for _ in sizes]
    allowed = set(of_four(sizes, bounds, 1_000))
    for counts in joined(sizes, bounds, sizes, 1_000).patterns(0.0, 5):
        assert tuple(i for i, a in counts for _ in range(a)) in allowed


def test_few_rounds_are_enough_for_many_lengths_in_fine_units() -> None:
    """150 lengths in thousandths: the LP comes near its exact bound within 25 pricings; by exact ones it took 53."""
    chance = random.Random(3)
    rail = profile([(500, 1, None)])
    asked = pieces({f"{chance.randint(70_000, 330_000) / 1000:.3f}": chance.randint(1, 20) for _ in range(150)})
    instance = instance_of(rail, demand_of(asked, rail))
    objective, ceiling = cheapest(instance), sum(instance.demands)
    master = lp.Master(objective, objective.box(ceiling), ceiling)
    for pattern in [*first_plan(instance), *generation.starters(objective)]:
        master.add(pattern)
    budget = Budget().within(25)
    relaxed = generation.relax(master, budget, lambda bound, worth: bound.numerator >= (worth - 0.05) * master.scale)
    assert relaxed is not None and not budget.spent()
    assert relaxed.bound.ceiling <= master.worth + 1
