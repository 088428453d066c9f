"""If these fail, the pricer misses the best pattern, and every bound built on it is wrong."""

from __future__ import annotations

import itertools
import random

import pytest

from cutplan.cutting.pricing import knapsack


@pytest.mark.parametrize("fine", [0, 10**6])
@pytest.mark.parametrize("seed", range(40))
def test_values_and_listed_patterns_equal_full_enumeration(seed: int, fine: int) -> None:
    """On every position, and on only those that can occur."""
    params = knapsack.TableParams(dense=fine, work=0)
    chance = random.Random(seed)
    capacity = chance.choice([40, 400, 4000])
    sizes = tuple(sorted(chance.sample(range(capacity // 8, capacity), 4), reverse=True))
    bounds = tuple(chance.randint(1, 4) for _ in sizes)
    values = [chance.randint(-3, 40) for _ in sizes]
    table = knapsack.solve(sizes, bounds, values, capacity, every=True, params=params)
    quick = knapsack.solve(sizes, bounds, values, capacity, params=params)
    for room in [capacity, *(chance.randint(0, capacity) for _ in range(10))]:
        fitting = {
            tuple((i, a) for i, a in enumerate(counts) if a): sum(a * v for a, v in zip(counts, values, strict=True))
            for counts in itertools.product(*(range(b + 1) for b in bounds))
            if sum(a * w for a, w in zip(counts, sizes, strict=True)) <= room
        }
        best = max(fitting.values())
        assert table.best(room) == quick.best(room) == best
        listed = quick.patterns(room, 0.0, 3)
        assert all(fitting[counts] > 0 for counts in listed)
        assert [fitting[counts] for counts in listed[:1]] == ([best] if best > 0 else [])
        found = knapsack.above(table, room, best - 5, 10**6)
        assert found is not None and len(found) == len(set(found))
        assert set(found) == {counts for counts, worth in fitting.items() if worth >= best - 5}
        assert knapsack.above(table, room, best - 5, len(found) - 1) is None


@pytest.mark.parametrize("seed", range(40))
def test_what_a_long_stick_leaves_out_is_below_the_floor(seed: int) -> None:
    """With floors every pattern that interests is still there, and no best value comes out too small."""
    params = knapsack.TableParams(dense=0)
    chance = random.Random(seed)
    sizes = tuple(sorted(chance.sample(range(500, 4000), 6), reverse=True))
    bounds = tuple(chance.randint(1, 4) for _ in sizes)
    values = [chance.randint(1, 40) for _ in sizes]
    rooms = sorted(chance.sample(range(2000, 9000), 3))
    plain = knapsack.solve(sizes, bounds, values, rooms[-1], every=True, params=params)
    floors = [(room, plain.best(room) - chance.randint(-3, 5)) for room in rooms]
    pruned = knapsack.solve(sizes, bounds, values, rooms[-1], floors=floors, every=True, params=params)
    for room, floor in floors:
        assert pruned.best(room) == max(floor, plain.best(room))
        listed, whole = (knapsack.above(table, room, floor, 10**6) for table in (pruned, plain))
        assert listed is not None and whole is not None and set(listed) == set(whole)
