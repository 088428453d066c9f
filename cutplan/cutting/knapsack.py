"""The exact integer knapsack that prices patterns.

V_i(f) = max over 0 <= a <= b_i of V_{i-1}(f - a w_i) + a v_i  is the best value of a pattern that uses the first i
sizes and fills at most f (bounded knapsack; Kellerer, Pferschy and Pisinger, Knapsack Problems, 2004, ch. 7).
Values are 64-bit integers, so that a bound computed from them is exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Table:
    """The layers V_0, V_1, ... for those sizes that have a positive value (`items`: their indices)."""

    items: tuple[int, ...]
    sizes: tuple[int, ...]
    values: tuple[int, ...]
    bounds: tuple[int, ...]
    layers: tuple[NDArray[np.int64], ...]

    def best(self, capacity: int) -> int:
        """The best value of any pattern filling at most `capacity`."""
        return int(self.layers[-1][capacity])

    def pattern(self, capacity: int, length: int) -> tuple[int, ...]:
        """Counts (one for each of `length` sizes) of a pattern of the best value."""
        counts = [0] * length
        target = self.best(capacity)
        for i in range(len(self.items) - 1, -1, -1):
            size, value, below = self.sizes[i], self.values[i], self.layers[i]
            a = 0
            while int(below[capacity - a * size]) + a * value != target:
                a += 1
            counts[self.items[i]] = a
            capacity -= a * size
            target -= a * value
        return tuple(counts)

    def above(self, capacity: int, threshold: int, length: int) -> Iterator[tuple[int, ...]]:
        """Every pattern filling at most `capacity` whose value is at least `threshold`."""
        counts = [0] * length

        def descend(i: int, room: int, need: int) -> Iterator[tuple[int, ...]]:
            if int(self.layers[i][room]) < need:
                return
            if i == 0:
                yield tuple(counts)
                return
            size, value, item = self.sizes[i - 1], self.values[i - 1], self.items[i - 1]
            for a in range(min(self.bounds[i - 1], room // size), -1, -1):
                counts[item] = a
                yield from descend(i - 1, room - a * size, need - a * value)
            counts[item] = 0

        yield from descend(len(self.items), capacity, threshold)


def solve(sizes: Sequence[int], bounds: Sequence[int], values: Sequence[int], capacity: int, *,
          every: bool = False) -> Table:
    """The table of all fills up to `capacity`. Sizes without a positive value are left out unless `every`."""
    items = tuple(i for i, v in enumerate(values) if (v > 0 or every) and bounds[i] > 0 and sizes[i] <= capacity)
    layers = [np.zeros(capacity + 1, dtype=np.int64)]
    for i in items:
        below = layers[-1]
        layer = below.copy()
        for a in range(1, min(bounds[i], capacity // sizes[i]) + 1):
            shift = a * sizes[i]
            np.maximum(layer[shift:], below[:-shift] + a * values[i], out=layer[shift:])
        layers.append(layer)
    return Table(items, tuple(sizes[i] for i in items), tuple(values[i] for i in items),
                 tuple(bounds[i] for i in items), tuple(layers))
