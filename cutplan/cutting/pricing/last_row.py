"""The exact knapsack's last row alone, over every position of however long a stick, and patterns by it.

V(f), the best value of a pattern that fills at most f, is filled for one part after the other in place. Without the
rows before it no pattern can be traced step by step. But what goes best beside a piece of size w on a stick of W is
worth V(W - w): so for each size the best pattern with it is built piece by piece. Only where that takes more of a size
than there are may it be worth less than V says.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.patterns import Counts
from cutplan.sums import halves

MOST_COINS_WORTH = 1 << 30  # of any pattern in coins of the row: 32 bits hold it, and take a third of the time of 64
BLOCK = 1 << 17  # positions that are worked on at once, so that they stay in the processor's own memory

Small = NDArray[np.int32]


@dataclass(frozen=True)
class LastRow:
    """Of sizes `index`, `sizes` long and falling, each at most as often as its bound.

    row:    V(f) for every position, in coins
    coin:   what one is worth; `worths` are in coins and rounded up, so that no pattern is worth more than V says
    """

    index: tuple[int, ...]
    sizes: NDArray[np.int64]
    bounds: NDArray[np.int64]
    worths: Small
    row: Small
    coin: int

    def best(self, capacity: int) -> int:
        """No less than the value of any pattern filling at most `capacity`, and hardly more than the best."""
        return self.coin * int(self.row[capacity])

    def patterns(self, capacity: int, above: float) -> list[Counts]:
        """For each size the pattern worth most that has it, where that seems worth more than `above`; best first.

        One pattern is enough for all its sizes.
        """
        worth = self.worths + self.row[capacity - self.sizes]
        hopeful = np.flatnonzero(worth > above / self.coin)
        found, seen = [], set[int]()
        for k in hopeful[np.argsort(-worth[hopeful], kind="stable")].tolist():
            if k not in seen:
                taken = self._beside(k, capacity)
                seen.update(taken)
                found.append(tuple(sorted((self.index[j], a) for j, a in taken.items())))
        return list(dict.fromkeys(found))

    def _beside(self, k: int, capacity: int) -> Counter[int]:
        """A piece of size k, and each next one so that what then goes beside it is worth most."""
        taken = Counter([k])
        room = capacity - int(self.sizes[k])
        while room >= self._least and self.row[room]:
            first = len(self.sizes) - int(np.searchsorted(self._rising, room, side="right"))
            worth = self.worths[first:] + self.row[room - self.sizes[first:]]
            for j, a in taken.items():
                if a >= self.bounds[j] and j >= first:
                    worth[j - first] = 0
            best = int(worth.argmax())
            if not worth[best]:
                break
            taken[first + best] += 1
            room -= int(self.sizes[first + best])
        return taken

    @cached_property
    def _rising(self) -> NDArray[np.int64]:
        return self.sizes[::-1].copy()

    @cached_property
    def _least(self) -> int:
        return int(self.sizes[-1])


def last_row(index: Sequence[int], sizes: Sequence[int], bounds: Sequence[int], values: Sequence[int],
             capacity: int) -> LastRow:
    """The row of these sizes, none longer than the capacity, none without a value."""
    falling = sorted(index, key=lambda i: -sizes[i])
    length = np.array([sizes[i] for i in falling], dtype=np.int64)
    often = np.array([min(bounds[i], capacity // sizes[i]) for i in falling], dtype=np.int64)
    # no pattern is worth more than the stick full of the size that is worth most for its length
    most = max((-(-values[i] * capacity // sizes[i]) for i in falling), default=0)
    coin = max(1, -(-most // MOST_COINS_WORTH))
    worths = np.array([-(-values[i] // coin) for i in falling], dtype=np.int32)
    row = np.zeros(capacity + 1, dtype=np.int32)
    beside = np.empty(BLOCK, dtype=np.int32)
    for size, worth, most in zip(length.tolist(), worths.tolist(), often.tolist(), strict=True):
        for part in halves(most):
            add(row, part * size, part * worth, beside)
    return LastRow(tuple(falling), length, often, worths, row, coin)


def add(row: Small, size: int, worth: int, beside: Small) -> None:
    """One part more, taken once or not at all: from the top down, so that it is not met again."""
    for end in range(len(row), size, -len(beside)):
        begin = max(size, end - len(beside))
        with_it = beside[: end - begin]
        np.add(row[begin - size : end - size], worth, out=with_it)
        np.maximum(row[begin:end], with_it, out=row[begin:end])
