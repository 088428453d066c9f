"""If these fail, tables of rounded sizes prove what is not so, or give patterns that do not fit their stick."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from itertools import product

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import CuttingParams, cut_pieces
from cutplan.cutting.pricing.knapsack import TableParams, above, rounded
from cutplan.running.budget import Budget
from tests.cutting.shops import pieces, profile, shop
from tests.sweeps import sweep

SMALL = TableParams(entries=60, row=16)  # next to nothing, so that sizes are always rounded, and by much


def every_pattern(sizes: list[int], bounds: list[int], capacity: int) -> Iterator[tuple[int, ...]]:
    """All that fit, by trying all numbers of all sizes."""
    for counts in product(*(range(bound + 1) for bound in bounds)):
        if sum(a * size for a, size in zip(counts, sizes, strict=True)) <= capacity:
            yield counts


@pytest.mark.parametrize("seed", range(60))
def test_against_every_pattern(seed: int) -> None:
    chance = random.Random(seed)
    capacity = chance.choice([97, 1_000, 30_000, 10**9])
    sizes = [chance.randint(max(1, capacity // 9), capacity) for _ in range(chance.randint(1, 5))]
    bounds = [chance.randint(1, 4) for _ in sizes]
    values = [chance.randint(0, 50) for _ in sizes]
    worths = {counts: sum(a * v for a, v in zip(counts, values, strict=True))
              for counts in every_pattern(sizes, bounds, capacity)}
    table = rounded([i for i, value in enumerate(values) if value], sizes, bounds, values, capacity, SMALL)
    assert table.best(capacity) >= max(worths.values())
    for found in table.patterns(capacity, 0.0, 5):
        assert worths[tuple(dict(found).get(i, 0) for i in range(len(sizes)))] > 0
    least = chance.randint(1, max(1, max(worths.values())))
    listed = above(rounded(range(len(sizes)), sizes, bounds, values, capacity, SMALL), capacity, least, 10_000)
    if listed is not None:
        assert {tuple(dict(found).get(i, 0) for i in range(len(sizes))) for found in listed} == {
            counts for counts, worth in worths.items() if worth >= least}


@pytest.mark.parametrize("seed", sweep(2, 12))
def test_a_bound_from_rounded_sizes_is_below_the_least_cost_and_is_proven(seed: int) -> None:
    """The least cost is what the exact tables come to, which other tests hold against other methods."""
    chance = random.Random(seed)
    rail = profile([(n, n + chance.randint(0, 9), None) for n in chance.sample(range(150, 300), 2)],
                   kerf="1/8", keep_from=Fraction(30))
    asked = pieces({f"{chance.randint(20 * 10**4, 120 * 10**4) / 10**4}": chance.randint(1, 4) for _ in range(8)})
    (exact,) = cut_pieces(asked, shop(rail)).profiles
    rough = cut_pieces(asked, shop(rail), Budget(20), CuttingParams(tables=TableParams(entries=4_000, row=512)))
    (plan,) = rough.profiles
    assert audit(rough) == []
    assert prove(plan).ok
    assert exact.tiers[0].bound == exact.tiers[0].value
    assert plan.tiers[0].bound <= exact.tiers[0].value <= plan.tiers[0].value


def test_lengths_from_a_spreadsheet_are_no_burden() -> None:
    """300 lengths with six decimals: the sums of a few of them are all different."""
    chance = random.Random(5)
    asked = pieces({f"{chance.randint(20 * 10**6, 95 * 10**6) / 10**6:.6f}": 1 for _ in range(300)})
    plan = cut_pieces(asked, shop(profile([(240, 1, None)], kerf="1/8")), Budget(5))
    assert audit(plan) == []
    (one,) = plan.profiles
    assert one.tiers[0].bound >= one.tiers[0].value - 1
