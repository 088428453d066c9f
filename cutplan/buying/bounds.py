"""What no plan from a set of lengths can be below, for all sets at once.

For a demand d and duals pi >= 0, with P_s the most that a pattern on a stick of length s is worth (an exact integer
knapsack) and c_s the stick's price, every plan that draws on the set S costs at least

    sum_i d_i pi_i / max over s in S of (P_s / c_s)

(Farley, Oper. Res. 38 (1990) 922-923; Held, Cook and Sewell, Math. Prog. Comp. 4 (2012) 363-381): pi divided by that
maximum is feasible for the dual of the set's LP. So one vector of duals, good for one set, bounds every other set too,
and one knapsack table prices all lengths. A pool keeps the vectors; the bound of a set is the best of theirs. All of it
is in whole numbers, rounded down.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.exact.sifting import Core, relax
from cutplan.cutting.lp import bounds
from cutplan.cutting.lp import master as lp
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.pricing.knapsack import least_sum, sums_of
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import cheapest
from cutplan.running.budget import Budget

Ints = NDArray[np.int64]

ROOM = 2**61  # bounds, in fine parts of a coin, stay below this
MOST_SUMS = 4_000_000
KNOWN = 4_000  # patterns remembered from one LP to the next


class DualPool:
    """Bounds for one demand. `instance` has every length as a stick type; bounds are in 1 / `fine` coins."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.objective = cheapest(instance)
        self.ceiling = max(1, sum(instance.demands) * max(stick.cost for stick in instance.sticks))
        self.fine = max(1, ROOM // (2 * self.ceiling))
        self.rows: list[Ints] = []
        self._patterns: dict[Pattern, None] = {}
        self.learn(bounds.by_length(self.objective, max(1, lp.FINE // self.ceiling)))

    def learn(self, duals: bounds.Duals) -> None:
        """Keeps the bound that these duals give to each length alone."""
        instance = self.instance
        uses = [Use(s, stick.capacity) for s, stick in enumerate(instance.sticks)]
        found = instance.price(uses, instance.demands, duals.sizes)
        worth = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
        row = []
        for stick, patterns in zip(instance.sticks, found, strict=True):
            most = patterns.best()
            row.append(min(ROOM, worth * stick.cost * self.fine // most) if most else ROOM)
        self.rows.append(np.array(row, dtype=np.int64))

    def solve(self, kinds: Sequence[int], budget: Budget) -> None:
        """The LP of one set; its duals join the pool."""
        core = Core(self.instance, tuple(sorted(kinds)))
        begin = [pattern for pattern in self._patterns if pattern.stick in core.at]
        solved = relax(core, cheapest(core.instance), begin, self.ceiling, budget)
        self.learn(solved.bound.duals)
        if len(self._patterns) < KNOWN:
            self._patterns.update(dict.fromkeys(solved.patterns))


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


def next_sum(costs: Sequence[int], floor: int) -> int:
    """The least sum of these costs, each as often as one likes, that is at least `floor`.

    `floor` itself where nothing costs, or where there are too many sums to look at.
    """
    real = [cost for cost in costs if cost]
    return Sums(real, floor).next(floor) if real and 0 < floor < MOST_SUMS else floor


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
