"""Kinds of stick, and patterns: how one stick is cut. All lengths in an instance's units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Counts = tuple[tuple[int, int], ...]  # (i, a_i) for each size i of which a_i > 0 pieces come, i rising


@dataclass(frozen=True)
class StickType:
    """One kind of stick. Lengths in units, cost in coins.

    capacity:  W, what the sizes on one stick may add up to
    head:      the trim at the end squared first; length - head - sum(sizes) is the offcut, never below zero
    keep_fill: sum of sizes up to which the offcut is long enough to be kept (None: never)
    available: how many there are (None: any number)
    emergency: not real stock, but what would be missing
    ends:      the ends that may be squared first, in the words of the instance's arrangement (which alone reads them)
    """

    length: int
    capacity: int
    head: int
    cost: int
    available: int | None = None
    keep_fill: int | None = None
    emergency: bool = False
    ends: tuple[Any, ...] = ()

    def used(self, fill: int) -> int:
        """Length used up that does not come back, of a stick whose sizes add up to `fill`."""
        if self.keep_fill is not None and fill <= self.keep_fill:
            return self.head + fill
        return self.length


@dataclass(frozen=True, order=True)
class Pattern:
    """How one stick is cut: the stick type, and how many pieces of which sizes."""

    stick: int
    counts: Counts

    def often(self, demands: Sequence[int]) -> int:
        """How often it can be cut before there is too much of something."""
        return min((demands[i] // a for i, a in self.counts), default=0)


Solution = Counter[Pattern]  # how often each pattern is cut; of a whole plan or of a part


def drawn_of(plan: Solution) -> Counter[int]:
    """How many sticks of each kind are cut."""
    drawn = Counter[int]()
    for pattern, n in plan.items():
        drawn[pattern.stick] += n
    return drawn
