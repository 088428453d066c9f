"""What no plan from a set of lengths can be below, for all sets at once, from the duals in a pool."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutplan.cutting import DualPool
from cutplan.sums import Ints, least_sum, sums_of


class Bounds:
    """The bounds of many sets by one pool, in coins and rounded up to whole ones. `sets` has a row for each."""

    def __init__(self, pool: DualPool, sets: Ints) -> None:
        self.pool, self.sets = pool, sets
        self._fine = np.zeros(len(sets), dtype=np.int64)
        self._seen = 0

    def coins(self) -> Ints:
        """The bound of every set."""
        self._catch_up()
        found: Ints = -(-self._fine // self.pool.fine)
        return found

    def at(self, i: int) -> int:
        """The bound of one set."""
        self._catch_up()
        return -(-int(self._fine[i]) // self.pool.fine)

    def _catch_up(self) -> None:
        for row in self.pool.rows[self._seen:]:
            np.maximum(self._fine, row[self.sets].min(axis=1), out=self._fine)
        self._seen = len(self.pool.rows)


def next_sum(costs: Sequence[int], floor: int, most: int) -> int:
    """The least sum of these costs, each as often as one likes, that is at least `floor`.

    `floor` itself where nothing costs, or where it is not below `most`.
    """
    real = [cost for cost in costs if cost]
    return Sums(real, floor).next(floor) if real and 0 < floor < most else floor


class Sums:
    """All sums of some costs, up to the first beyond `most`."""

    def __init__(self, costs: Sequence[int], most: int) -> None:
        room = most + min(costs)
        self.bits = sums_of(((cost, room) for cost in costs), room)

    def next(self, floor: int) -> int:
        """The least of them that is at least `floor`, which is at most `most`."""
        found = least_sum(self.bits, max(0, floor))
        assert found is not None, "there is room for one stick more than `most`"
        return found
