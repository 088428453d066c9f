"""The knapsack in coarse steps, for searches that prove nothing: quick, on however long a stick in however fine units.

Sizes are rounded to the nearest step, so that a pattern may turn out not to fit, and the best may be overlooked: what
is found is to be looked at, and no bound may rest on it. One row of worths is kept, and for each part whether it was
taken at each fill, to trace patterns by.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.patterns import Counts
from cutplan.cutting.pricing.knapsack import Items, items, parts_of
from cutplan.sums import Ints


@dataclass(frozen=True)
class Rough:
    """V(f) for every fill f in steps, rising, and where each of the items was taken last."""

    items: Items
    step: int
    worth: Ints
    taken: NDArray[np.bool_]

    def falling(self, capacity: int, above: float) -> Iterator[tuple[int, Counts]]:
        """The patterns that seem to be worth more than `above` and to fill at most `capacity`, each the best for its
        fill, with their worths: the best first."""
        last = self.worth[: min(capacity // self.step, len(self.worth) - 1) + 1]
        first = int(np.searchsorted(last, above, side="right"))
        steps = np.flatnonzero(last[first:] > np.concatenate([[above], last[first:-1]])) + first
        return ((int(last[fill]), self._trace(int(fill))) for fill in steps[::-1])

    def _trace(self, fill: int) -> Counts:
        found: list[tuple[int, int]] = []
        k = len(self.items.sizes)
        while len(before := np.flatnonzero(self.taken[:k, fill])):
            k = int(before[-1])
            found.append((k, 1))
            fill -= self.items.sizes[k]
        return self.items.pattern(found)


def rough(sizes: Sequence[int], bounds: Sequence[int], values: Sequence[int], capacity: int, step: int) -> Rough:
    """The table of these sizes in whole steps, each at most as often as its bound, of those that have a value."""
    near = [max(1, (size + step // 2) // step) for size in sizes]
    room = capacity // step
    index = [i for i, value in enumerate(values) if value > 0 and bounds[i] > 0 and near[i] <= room]
    parts = items(parts_of(index, bounds, near, room), [1] * len(bounds), near, values)
    worth = np.zeros(room + 1, dtype=np.int64)
    taken = np.zeros((len(parts.sizes), room + 1), dtype=np.bool_)
    for k, (size, value) in enumerate(zip(parts.sizes, parts.values, strict=True)):
        with_it = worth[:-size] + value
        np.greater(with_it, worth[size:], out=taken[k, size:])
        np.maximum(with_it, worth[size:], out=worth[size:])
    return Rough(parts, step, worth, taken)
