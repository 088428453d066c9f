"""If these fail, the pricer misses the best pattern, and every bound built on it is wrong."""

from __future__ import annotations

import itertools
import random

import pytest

from cutplan.cutting import knapsack


@pytest.mark.parametrize("fine", [0, 10**6])
@pytest.mark.parametrize("seed", range(40))
def test_values_and_listed_patterns_equal_full_enumeration(
    seed: int, fine: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On every position, and on only those that can occur."""
    monkeypatch.setattr(knapsack, "FINE", fine)
    chance = random.Random(seed)
    capacity = chance.choice([40, 400, 4000])
    sizes = tuple(sorted(chance.sample(range(capacity // 8, capacity), 4), reverse=True))
    bounds = tuple(chance.randint(1, 4) for _ in sizes)
    values = [chance.randint(-3, 40) for _ in sizes]
    table = knapsack.solve(knapsack.Grid(sizes, bounds, capacity), bounds, values, every=True)
    for room in [capacity, *(chance.randint(0, capacity) for _ in range(10))]:
        fitting = [
            (sum(a * v for a, v in zip(counts, values, strict=True)), counts)
            for counts in itertools.product(*(range(b + 1) for b in bounds))
            if sum(a * w for a, w in zip(counts, sizes, strict=True)) <= room
        ]
        best = max(fitting)[0]
        assert table.best(room) == best
        counts = table.pattern(room, len(sizes))
        assert (best, counts) in fitting
        assert set(table.above(room, best - 5, len(sizes))) == {c for worth, c in fitting if worth >= best - 5}
