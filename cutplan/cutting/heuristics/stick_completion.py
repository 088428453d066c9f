"""The last sticks of a plan that may waste little more: each begun with the longest piece left, and filled up.

What goes beside that piece is tried in order: what wastes no more than its share of all that may be wasted, long pieces
first, because short ones are of use to the end; then the rest, by waste. When what is left cannot be cut any more, the
last choice is changed first (bin completion: Gent, AAAI 1998, 344-349; Korf, AAAI 2002, 731-736). So many choices are
tried and no more: that none comes to a plan proves nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.pricing.joining import pairs_within
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget
from cutplan.sums import Ints

BESIDE = 3  # pieces at most that are chosen together: two, and one from all


@dataclass(frozen=True)
class StickCompletionParams:
    """Completing stick after stick.

    beyond: choices that are tried at most, beside one for each stick
    width:  at one stick
    looked: at before those are chosen
    share:  of the even share of what may be wasted: a choice that wastes no more is a good one
    """

    beyond: int = 400
    width: int = 12
    looked: int = 48
    share: float = 0.5


def complete_sticks(rest: Instance, below: int, budget: Budget,
                    params: StickCompletionParams = StickCompletionParams()) -> Solution | None:
    """A plan that costs less than `below`, if the tries come to one; for pieces that add up, on one kind of stick."""
    (stick,) = rest.sticks
    sticks = (below - 1) // max(1, stick.cost)
    sticks = sticks if stick.available is None else min(sticks, stick.available)
    search = SticksFilled(rest, sticks, params)
    for _ in range(sticks + params.beyond):
        if search.done or budget.spent():
            break
        budget.count()
        if not search.step():
            return None
    return search.plan() if search.done else None


class SticksFilled:
    """Sticks begun so far, each a list of pieces, and at each the choices that are still to be tried, the best last.

    A piece is the place of its size among those that there are, longest first; `left` are the numbers of them.
    """

    def __init__(self, instance: Instance, most: int, params: StickCompletionParams) -> None:
        self.params, self.most, self.room = params, most, instance.sticks[0].capacity
        self.index = [i for i, d in enumerate(instance.demands) if d]
        self.lengths: Ints = np.array([instance.sizes[i] for i in self.index], dtype=np.int64)
        self.left: Ints = np.array([instance.demands[i] for i in self.index], dtype=np.int64)
        self.made: list[list[int]] = []
        self._open: list[list[list[int]]] = []

    @cached_property
    def _pairs(self) -> tuple[Ints, Ints]:
        """No piece, one or two, by rising fill; the place of none is the number of sizes."""
        sizes, twice = tuple(self.lengths.tolist()), tuple((self.left > 1).tolist())
        members = pairs_within(sizes, twice, self.room).members
        return members, np.append(self.lengths, 0)[members].sum(axis=0)

    @property
    def done(self) -> bool:
        return not self.left.any()

    def plan(self) -> Solution:
        return Counter(Pattern(0, tuple(sorted(Counter(self.index[k] for k in stick).items()))) for stick in self.made)

    def step(self) -> bool:
        """One more stick, or another choice at the last that has one; False where there is none."""
        self._open.append(self._choices() if len(self.made) < self.most else [])
        while not self._open[-1]:
            self._open.pop()
            if not self._open:
                return False
            self._take(self.made.pop(), -1)
        self.made.append(self._open[-1].pop())
        self._take(self.made[-1], 1)
        return True

    def _take(self, pieces: Sequence[int], times: int) -> None:
        np.subtract.at(self.left, pieces, times)

    def _choices(self) -> list[list[int]]:
        """What the next stick may carry."""
        need, sticks = int(self.lengths @ self.left), self.most - len(self.made)
        spare = sticks * self.room - need
        if need <= self.room:
            return [[k for k, d in enumerate(self.left.tolist()) for _ in range(d)]]
        begun, left, room = self._begin()
        wasted: dict[tuple[int, ...], int] = {}
        for waste, others in self._beside(left, room, spare):
            taken = tuple(sorted(k for k in others if k < len(left)))
            if all(taken.count(k) <= left[k] for k in taken):
                wasted[taken] = waste
        good = self.params.share * spare / sticks
        ordered = sorted(wasted, key=lambda taken: (wasted[taken] if wasted[taken] > good else 0, taken))
        return [[*begun, *taken] for taken in ordered[: self.params.width]][::-1]

    def _begin(self) -> tuple[list[int], Ints, int]:
        """The longest piece, and next ones while more fit than are chosen together; what is left, and what room."""
        begun, left, room = list[int](), self.left.copy(), self.room
        while left.any():
            k = int((left > 0).argmax())
            if begun and room <= BESIDE * int(self.lengths[k]):
                break
            begun.append(k)
            left[k] -= 1
            room -= int(self.lengths[k])
        return begun, left, room

    def _beside(self, left: Ints, room: int, spare: int) -> Iterator[tuple[int, tuple[int, ...]]]:
        """What fits the room, wasting no more than may be, nearly the least of all; a piece may be taken too often."""
        (first, second), fills = self._pairs
        there = np.append(left, 2)
        open_ = (there[first] > 0) & (there[second] > 0) & ((first != second) | (there[first] > 1))
        fills, first, second = fills[open_], first[open_], second[open_]
        end = int(np.searchsorted(fills, room, side="right"))
        for k in range(max(int(np.searchsorted(fills, room - spare)), end - self.params.looked), end):
            yield room - int(fills[k]), (int(first[k]), int(second[k]))
        thirds = np.flatnonzero((left > 0) & (self.lengths <= room))
        pair = np.searchsorted(fills, room - self.lengths[thirds], side="right") - 1
        waste = room - self.lengths[thirds] - fills[pair]
        for k in np.argsort(waste, kind="stable")[: self.params.looked]:
            if waste[k] <= spare:
                yield int(waste[k]), (int(thirds[k]), int(first[pair[k]]), int(second[pair[k]]))
