"""If these fail, the pricer with cuts overlooks a pattern or misreckons one, and what is proven by it is wrong."""

from __future__ import annotations

import itertools
import random

import pytest

from cutplan.cutting.pricing import labels
from cutplan.cutting.pricing.labels import LabelParams, Labels, Penalty


@pytest.mark.parametrize("few", [0, 64])
@pytest.mark.parametrize("rows", [False, True])
@pytest.mark.parametrize("seed", range(60))
def test_patterns_and_their_values_equal_full_enumeration(seed: int, rows: bool, few: int) -> None:
    """With cuts and pairs kept apart and without; with labels replaced from the start and only where they are many."""
    chance = random.Random(seed)
    capacity = chance.choice([30, 90])
    n = 7
    sizes = sorted((chance.randint(capacity // 12, capacity // 2) for _ in range(n)), reverse=True)
    bounds = [chance.randint(1, 3) for _ in sizes]
    values = [chance.randint(0, 60) for _ in sizes]
    waste = chance.choice([0, 0, 1, capacity // 10, capacity])
    cuts, apart = [], []
    if rows:
        for _ in range(chance.randint(1, 4)):
            members = sorted(chance.sample(range(n), chance.randint(1, 4)))
            cuts.append(Penalty(tuple((i, chance.randint(1, 3)) for i in members), chance.randint(1, 30)))
        apart = [(min(pair), max(pair)) for pair in (chance.sample(range(n), 2) for _ in range(chance.randint(0, 3)))]
    worth = {}
    for counts in itertools.product(*(range(b + 1) for b in bounds)):
        if not capacity - waste <= sum(a * w for a, w in zip(counts, sizes, strict=True)) <= capacity:
            continue
        if any(counts[i] and counts[j] for i, j in apart):
            continue
        paid = sum(cut.dual * (sum(m * counts[i] for i, m in cut.weights) // 2) for cut in cuts)
        worth[tuple((i, a) for i, a in enumerate(counts) if a)] = (
            sum(a * v for a, v in zip(counts, values, strict=True)) - paid
        )
    priced = Labels(sizes, bounds, capacity, waste, LabelParams(undominated=few))
    rest = priced.completions(values)
    best = max(worth.values(), default=0)
    for above in (best - 1, best - 20, best):
        found = priced.best(values, rest, cuts, apart, above)
        assert found is not None and found.exact
        assert all(worth[counts] == value > above for value, counts in found.patterns)
        assert [value for value, _ in found.patterns[:1]] == ([best] if worth and best > above else [])
    narrow = priced.best(values, rest, cuts, apart, best - 20, 2)
    assert narrow is not None and all(worth[counts] == value for value, counts in narrow.patterns)


def test_more_rows_at_once_than_bits_are_refused() -> None:
    priced = Labels([10, 9], [1, 1], 20, 20)
    cuts = [Penalty(((0, 1), (1, 1)), 1)] * (labels.BITS + 1)
    rest = priced.completions([5, 5])
    assert priced.best([5, 5], rest, cuts, [], 0) is None
    assert priced.best([5, 5], rest, cuts[:-1], [], 0) is not None
