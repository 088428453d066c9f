"""If these fail, bounds on long sticks in fine units are not true or fall short of what can be proven, or pricing there
gives patterns that do not fit or overlooks those that pay."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction
from itertools import product

import pytest

from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.pricing import knapsack
from cutplan.cutting.pricing.last_row import MOST_COINS_WORTH, last_row
from cutplan.cutting.problem.instance import build_instance
from cutplan.cutting.problem.objective import cheapest
from tests.cutting.shops import profile


@pytest.mark.parametrize("seed", range(40))
def test_against_every_pattern(seed: int) -> None:
    chance = random.Random(seed)
    capacity = chance.choice([97, 1_000, 300_000])
    sizes = [chance.randint(max(1, capacity // 6), capacity) for _ in range(chance.randint(1, 6))]
    often = [chance.randint(1, 7) for _ in sizes]
    values = [chance.randint(1, chance.choice([50, 10**13])) for _ in sizes]
    worths = {counts: sum(a * v for a, v in zip(counts, values, strict=True))
              for counts in product(*(range(min(n, capacity // w) + 1) for n, w in zip(often, sizes, strict=True)))
              if sum(a * w for a, w in zip(counts, sizes, strict=True)) <= capacity}
    table = last_row(range(len(sizes)), sizes, often, values, capacity)
    best = max(worths.values())
    assert best <= table.best(capacity) <= best + 7 * (max(v // w for v, w in zip(values, sizes, strict=True)) + 1
                                                       ) * capacity // MOST_COINS_WORTH + 7
    found = [tuple(dict(counts).get(i, 0) for i in range(len(sizes))) for counts in table.patterns(capacity, 0.0)]
    assert len(set(found)) == len(found)
    assert all(counts in worths for counts in found)
    if all(n >= capacity // w for n, w in zip(often, sizes, strict=True)):  # then none is too many
        assert max(worths[counts] for counts in found) >= best - (table.best(capacity) - best) - 7 * table.coin
        assert all(any(counts[i] for counts in found) for i in range(len(sizes)))


@pytest.mark.parametrize("seed", range(3))
def test_in_fine_units_as_many_sticks_are_needed_as_the_pieces_are_long(seed: int) -> None:
    """Of worth as their lengths no pattern is worth more than its stick; the pieces are a hair longer than sticks."""
    chance, capacity = random.Random(seed), 500_000
    sizes = chance.sample(range(4_000, 300_000), 120)
    many = Counter({size: chance.randint(1, 20) for size in sizes})
    last = 300 - sum(size * n for size, n in many.items()) % capacity
    many[last % capacity or capacity] += 1
    sticks = (sum(size * n for size, n in many.items()) - 300) // capacity
    instance = build_instance(profile([(capacity, 1, None)]), {(Fraction(w), "", 1): n for w, n in many.items()})
    objective, ceiling = cheapest(instance), sum(instance.demands)
    master = lp.Master(objective, objective.box(ceiling), ceiling)
    bound = generation.bound_of(master, bounds.by_length(objective, master.scale))
    assert bound.ceiling == sticks + 1


def test_a_table_without_layers_lists_nothing() -> None:
    """What it cannot list might be more than was asked for."""
    table = knapsack.solve([40_001, 30_001], [9, 9], [4, 3], 100_000, params=knapsack.TableParams(entries=2))
    assert isinstance(table, knapsack.Unlayered)
    assert table.best(100_000) == 9
    assert knapsack.above(table, 100_000, 1, 10) is None
