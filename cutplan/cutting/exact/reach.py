"""What numbers of sticks, and what length used up, a plan of a later tier can have: whole numbers and their sums.

The LP mixes what no plan can: half of a long offcut kept, and half of a short one. Once hardly any choice of sticks is
left, only few lengths of the one offcut that is kept come to a better plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from cutplan.cutting.lp.bounds import Box
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.objective import Objective
from cutplan.sums import least_sum, sums_of

MOST_BITS = 2 * 10**6  # of the sums of one box; beyond so many any length is taken for possible
BOXES = 64  # whose sums are remembered


@dataclass(frozen=True)
class Had:
    """How many sticks of a kind may be had in a way (`row`: of the box, where that keeps an offcut): what each uses up
    at least, and what it holds at most."""

    stick: int
    low: int
    high: int
    least: int
    holds: int
    row: int | None = None


@dataclass(frozen=True)
class OtherSticks:
    """What all sticks come to but for the one that keeps an offcut in the way `keeping` (None: none does).

    From `base` on, the bits of one integer.
    """

    keeping: int | None
    base: int
    sums: int

    def least(self, floor: int) -> int | None:
        """The least of them that is at least `floor`."""
        found = least_sum(self.sums, max(0, floor - self.base))
        return None if found is None else self.base + found


class Reach:
    """What plans of an objective with a cap on cost come to, within boxes."""

    def __init__(self, objective: Objective) -> None:
        self.objective = objective
        self._sizes = tuple(zip(objective.instance.sizes, objective.instance.demands, strict=True))
        self._shortest = min(objective.instance.sizes)
        self._filled = sum(size * demand for size, demand in self._sizes)  # what all pieces take, at least
        self._parts = lru_cache(BOXES)(self._sums)
        self._fills = lru_cache(None)(self._filling)

    def narrowed(self, box: Box, worth: int) -> Box | None:
        """The box with only the numbers that a plan worth less than `worth` can have; None where it can have none.

        Each number is held against what plans cost at least and at most, the length used up and that of all pieces,
        while the others are at their best (bound propagation).
        """
        while (after := self._narrowed(box, worth)) is not None and after != box:
            box = after
        return after

    def _narrowed(self, box: Box, worth: int) -> Box | None:
        sticks, cap = self.objective.instance.sticks, self.objective.cap or 0
        ways = list(self._had(box))
        spare = cap - sum(low * stick.cost for (low, _), stick in zip(box, sticks, strict=False))
        dearest = sum(high * stick.cost for (_, high), stick in zip(box, sticks, strict=False))
        above = dearest - self.objective.cost_floor
        gap = worth - 1 - sum(way.low * way.least for way in ways)
        room = sum(way.high * way.holds for way in ways) - self._filled
        if min(spare, above, gap, room) < 0:
            return None
        limits = list(box)
        own = [(0, 0)] * len(sticks)
        for way in ways:
            low, high = max(way.low, way.high - room // way.holds), min(way.high, way.low + gap // way.least)
            own[way.stick] = own[way.stick][0] + low, own[way.stick][1] + high
            if way.row is not None:
                limits[way.row] = low, high
        for s, stick in enumerate(sticks):
            (low, high), (least, most) = box[s], own[s]
            low, high = max(low, least), min(high, most)
            if stick.cost:
                low, high = max(low, box[s][1] - above // stick.cost), min(high, box[s][0] + spare // stick.cost)
            limits[s] = low, high
        return tuple(limits) if all(low <= high for low, high in limits) else None

    def _had(self, box: Box) -> Iterator[Had]:
        """For each way how many sticks may be had so; those that no piece fits are left out."""
        objective = self.objective
        for s, ways in enumerate(objective.by_stick):
            if not ways or objective.ways[ways[0]].capacity < self._shortest:
                continue
            (low, high), first, last = box[s], 0, 0
            for w in ways[1:]:
                way, row = objective.ways[w], objective.rows[w][-1]
                first, last = box[row][0], min(box[row][1], high)
                yield Had(s, first, last, way.base + self._shortest, way.capacity, row)
            way = objective.ways[ways[0]]
            yield Had(s, max(0, low - last), high - first, way.base, way.capacity)

    def next(self, bound: int, box: Box, worth: int) -> int:
        """The least length used up, at least `bound`, that a plan within the box may come to; `worth` if none less."""
        parts = self._parts(box, worth)
        return min(bound, worth) if parts is None else min([worth, *(self._next(bound, part, worth) for part in parts)])

    def _next(self, bound: int, part: OtherSticks, worth: int) -> int:
        if part.keeping is None:
            found = part.least(bound)
            return worth if found is None else found
        way, fills = self.objective.ways[part.keeping], self._fills(part.keeping)
        best, at = worth, part.least(bound - way.base - way.capacity)
        while at is not None and at < best:
            fill = least_sum(fills, max(0, bound - at - way.base))
            best = best if fill is None else min(best, at + way.base + fill)
            at = part.least(at + 1)
        return best

    def _filling(self, w: int) -> int:
        """What the pieces of a stick that keeps an offcut this way may fill: the bits of one integer."""
        most = self.objective.ways[w].capacity
        if not self.objective.instance.arrangement.additive:
            return (1 << most + 1) - (1 << self._shortest)
        return sums_of(self._sizes, most) & ~1

    def within(self, patterns: Sequence[Pattern], box: Box, known: int, worth: int) -> list[Pattern]:
        """Those of the patterns that a plan in the box, worth `known` or more and less than `worth`, may have."""
        parts = self._parts(box, worth)
        if parts is None:
            return list(patterns)
        kept = {part.keeping: part for part in parts}
        found = []
        for pattern in patterns:
            w = self.objective.way(pattern)
            if self.objective.ways[w].slope:
                cost = self.objective.cost(pattern)
                least = kept[w].least(known - cost) if w in kept else None
                if least is None or least + cost >= worth:
                    continue
            found.append(pattern)
        return found

    def _sums(self, box: Box, worth: int) -> list[OtherSticks] | None:
        """For each way that may keep the one offcut, and for none, what the other sticks come to, less than `worth`.

        None where more than one offcut may be kept, or the numbers are too large.
        """
        had = list(self._had(box))
        flats = {way.stick: way for way in had if way.row is None}
        may = [way for way in had if way.row is not None and way.high]
        losses = sorted(flats[way.stick].holds - way.holds for way in may for _ in range(min(2, way.high)))
        room = sum(box[s][1] * flat.holds for s, flat in flats.items()) - self._filled
        if len(losses) > 1 and losses[0] + losses[1] <= room:
            return None
        must = [way for way in may if way.low]
        if len(must) > 1:
            return []
        found = []
        ways = {self.objective.rows[w][-1]: w for w in self.objective.kept}
        choices: list[Had | None] = [None, *may]
        for keeping in must or choices:
            ranges = []
            for s, flat in flats.items():
                kept = int(keeping is not None and keeping.stick == s)
                ranges.append((flat.least, max(0, box[s][0] - kept), box[s][1] - kept))
            base = sum(length * low for length, low, _ in ranges)
            if worth - base > MOST_BITS:
                return None
            if base < worth and all(low <= high for _, low, high in ranges):
                sums = sums_of(((length, high - low) for length, low, high in ranges), worth - base)
                way = None if keeping is None or keeping.row is None else ways[keeping.row]
                found.append(OtherSticks(way, base, sums))
        return found
