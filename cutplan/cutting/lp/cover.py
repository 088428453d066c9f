"""The cheapest numbers of sticks that can carry the demand: a knapsack over numbers of sticks, in whole numbers.

With pieces' worths pi >= 0 and P_s the most that a pattern on a stick of kind s is worth, every plan's numbers n of
sticks obey sum_s P_s n_s >= sum_i d_i pi_i (see `worths`). The least cost of whole numbers within a box that do is a
bound. It is never below the one of the same pi in `bounds`, which relaxes this row (Lagrange), nor below the next sum
of prices from there on; where prices are uneven and few sticks are drawn it is far above.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.lp.bounds import Bound, Box
from cutplan.cutting.problem.objective import Objective
from cutplan.sums import Ints, halves

MOST_KINDS = 40  # of stick; more are searched in a core of them, and what is bounded over all of them is not this
MOST_COVERED = 3 * 10**7  # sums times parts; beyond so many they are not gone through
LARGEST_SUM = 2**62  # of all sticks together


@dataclass(frozen=True)
class Batch:
    """So many sticks of a kind together: their cost, in steps that all costs have in common, and their worth."""

    kind: int
    sticks: int
    steps: int
    worth: int


@dataclass(frozen=True)
class StickCover:
    """Numbers of sticks that cost less than so much and are within a box: at least `low`, and any of `parts` besides.

    They have to be worth `need` beyond `low`. A sum of k steps costs base + k step; there is `room` for so many.
    """

    low: tuple[int, ...]
    parts: tuple[Batch, ...]
    base: int
    step: int
    room: int
    need: int

    def least(self) -> int | None:
        """The least cost of numbers that are worth enough; None where there are none."""
        if self.need <= 0:
            return self.base
        most: Ints = np.zeros(self.room + 1, dtype=np.int64)  # for at most so many steps
        for part in self.parts:
            k = part.steps
            np.maximum(most[k:], most[: len(most) - k] + part.worth, out=most[k:])
        first = int(np.searchsorted(most, self.need))
        return None if first > self.room else self.base + first * self.step

    def cheapest(self) -> Iterator[tuple[int, list[int]]]:
        """Costs of numbers that are worth enough, rising, and of each the numbers that are worth most."""
        most: Ints = np.full(self.room + 1, -1, dtype=np.int64)  # for just so many steps; -1: no sum
        most[0] = 0
        taken: list[NDArray[np.bool_]] = []
        for part in self.parts:
            k = part.steps
            before = most[: len(most) - k]
            with_it = np.where(before < 0, -1, before + part.worth)
            takes = np.zeros(len(most), dtype=bool)
            takes[k:] = with_it > most[k:]
            most = most.copy()
            np.maximum(most[k:], with_it, out=most[k:])
            taken.append(takes)
        for at in np.flatnonzero(most >= max(0, self.need)):
            numbers, left = list(self.low), int(at)
            for part, takes in zip(reversed(self.parts), reversed(taken), strict=True):
                if takes[left]:
                    numbers[part.kind] += part.sticks
                    left -= part.steps
            yield self.base + int(at) * self.step, numbers


def has_covers(objective: Objective) -> bool:
    """Whether there is such a question: in the first tier, where pieces just add up, on several kinds of stick, but not
    on very many."""
    instance = objective.instance
    return objective.cap is None and instance.arrangement.additive and 2 <= len(instance.sticks) <= MOST_KINDS


def cover_of(objective: Objective, bound: Bound, box: Box, below: int) -> StickCover | None:
    """What these duals ask of numbers of sticks in a box that cost less than `below`.

    None where there is no such question, or where it would be too large.
    """
    kinds = objective.instance.sticks
    if not has_covers(objective) or len(bound.most) != len(kinds):
        return None
    low = tuple(least for least, _ in box)
    base = sum(n * stick.cost for n, stick in zip(low, kinds, strict=True))
    step = math.gcd(*(stick.cost for stick in kinds)) or 1
    room = (below - 1 - base) // step
    if room < 0:
        return None
    need = sum(d * pi for d, pi in zip(objective.instance.demands, bound.duals.sizes, strict=True))
    need -= sum(n * worth for n, worth in zip(low, bound.most, strict=True))
    parts = []
    for s, (stick, worth, (least, high)) in enumerate(zip(kinds, bound.most, box, strict=True)):
        steps = stick.cost // step
        if worth > 0:
            parts += [Batch(s, n, n * steps, n * worth)
                      for n in halves(min(high - least, room // steps) if steps else high - least)]
    if (room + 1) * len(parts) > MOST_COVERED or sum(part.worth for part in parts) >= LARGEST_SUM:
        return None
    return StickCover(low, tuple(parts), base, step, room, need)


def covered(objective: Objective, bound: Bound, box: Box, below: int) -> int:
    """What no plan in the box costs less than by these duals, at most `below`; 0 where nothing is said."""
    cover = cover_of(objective, bound, box, below)
    if cover is None:
        return 0
    least = cover.least()
    return below if least is None else least
