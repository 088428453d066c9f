"""The exact integer knapsack that prices patterns.

V_i(f) = max over 0 <= a <= b_i of V_{i-1}(f - a w_i) + a v_i  is the best value of a pattern that uses the first i
sizes and fills at most f (bounded knapsack; Kellerer, Pferschy and Pisinger, Knapsack Problems, 2004, ch. 7).
Values are 64-bit integers, so that a bound computed from them is exact. On a long stick in fine units only the sums
of sizes that can occur are kept as positions.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

FINE = 30_000  # positions up to which every one is kept

Values = NDArray[np.int64]


@dataclass(frozen=True)
class Grid:
    """The positions of a stick at which a pattern can end: every one, or (`sums`) those that can occur."""

    sizes: tuple[int, ...]
    bounds: tuple[int, ...]
    capacity: int

    @cached_property
    def sums(self) -> Values | None:
        if self.capacity <= FINE:
            return None
        found = np.zeros(1, dtype=np.int64)
        for size, bound in zip(self.sizes, self.bounds, strict=True):
            copies = np.arange(min(bound, self.capacity // size) + 1, dtype=np.int64) * size
            found = np.unique((found[:, None] + copies).ravel())
            found = found[found <= self.capacity]
            if len(found) > self.capacity // 4:  # nearly every position occurs: a plain table is quicker
                return None
        return found

    @cached_property
    def _listed(self) -> list[int]:
        return [] if self.sums is None else self.sums.tolist()

    def zeros(self) -> Values:
        return np.zeros(self.capacity + 1 if self.sums is None else len(self.sums), dtype=np.int64)

    def index(self, fill: int) -> int:
        """Where the value of "at most this fill" stands in a layer."""
        return fill if self.sums is None else bisect_right(self._listed, fill) - 1

    def raise_by(self, layer: Values, below: Values, shift: int, value: int) -> None:
        """layer(f) = max(layer(f), below(f - shift) + value) at every position f >= shift."""
        if self.sums is None:
            np.maximum(layer[shift:], below[: len(below) - shift] + value, out=layer[shift:])
        else:
            first, origins = self._origins(shift)
            np.maximum(layer[first:], below[origins] + value, out=layer[first:])

    def _origins(self, shift: int) -> tuple[int, NDArray[np.int32]]:
        """The first position at or after `shift`, and for it and each later one the position `shift` before."""
        if shift not in self._shifts:
            sums = self.sums
            assert sums is not None
            first = int(np.searchsorted(sums, shift))
            origins = np.searchsorted(sums, sums[first:] - shift, side="right") - 1
            self._shifts[shift] = first, origins.astype(np.int32)
        return self._shifts[shift]

    @cached_property
    def _shifts(self) -> dict[int, tuple[int, NDArray[np.int32]]]:
        return {}


@lru_cache(maxsize=8)
def grid(sizes: tuple[int, ...], bounds: tuple[int, ...], capacity: int) -> Grid:
    """The grid of these sizes, each taken up to its bound; the same one for the same arguments."""
    return Grid(sizes, bounds, capacity)


@dataclass(frozen=True)
class Table:
    """The layers V_0, V_1, ... for those sizes that have a positive value (`items`: their indices)."""

    grid: Grid
    items: tuple[int, ...]
    sizes: tuple[int, ...]
    values: tuple[int, ...]
    bounds: tuple[int, ...]
    layers: tuple[Values, ...]

    def best(self, capacity: int) -> int:
        """The best value of any pattern filling at most `capacity`."""
        return int(self.layers[-1][self.grid.index(capacity)])

    def pattern(self, capacity: int, length: int) -> tuple[int, ...]:
        """Counts (one for each of `length` sizes) of a pattern of the best value."""
        counts = [0] * length
        target = self.best(capacity)
        for i in range(len(self.items) - 1, -1, -1):
            size, value, below = self.sizes[i], self.values[i], self.layers[i]
            a = 0
            while int(below[self.grid.index(capacity - a * size)]) + a * value != target:
                a += 1
            counts[self.items[i]] = a
            capacity -= a * size
            target -= a * value
        return tuple(counts)

    def above(self, capacity: int, threshold: int, length: int) -> Iterator[tuple[int, ...]]:
        """Every pattern filling at most `capacity` whose value is at least `threshold`."""
        counts = [0] * length

        def descend(i: int, room: int, need: int) -> Iterator[tuple[int, ...]]:
            if int(self.layers[i][self.grid.index(room)]) < need:
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


def solve(positions: Grid, bounds: Sequence[int], values: Sequence[int], *, every: bool = False) -> Table:
    """The table over these positions, each size taken at most as often as its bound (and the grid's).

    Sizes without a positive value are left out unless `every`.
    """
    sizes, capacity = positions.sizes, positions.capacity
    items = tuple(i for i, v in enumerate(values) if (v > 0 or every) and bounds[i] > 0 and sizes[i] <= capacity)
    layers = [positions.zeros()]
    for i in items:
        below = layers[-1]
        layer = below.copy()
        for a in range(1, min(bounds[i], capacity // sizes[i]) + 1):
            positions.raise_by(layer, below, a * sizes[i], a * values[i])
        layers.append(layer)
    return Table(
        positions,
        items,
        tuple(sizes[i] for i in items),
        tuple(values[i] for i in items),
        tuple(bounds[i] for i in items),
        tuple(layers),
    )
