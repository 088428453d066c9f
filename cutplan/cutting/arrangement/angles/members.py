"""Pieces with angled ends on a stick, as the searches meet them."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, partial

from cutplan.cutting.arrangement.angles.levels import Levels, levels
from cutplan.cutting.arrangement.angles.nesting import Nesting, ShapeCounts
from cutplan.cutting.arrangement.angles.pricing import Knapsacks, Likely, Nested
from cutplan.cutting.arrangement.protocol import Lying, Placed, Priced, Use
from cutplan.cutting.patterns import Counts, StickType
from cutplan.cutting.pricing.knapsack import TableParams

ROUGH = 8_000  # steps to the longest stick, where patterns are priced quickly


@dataclass(frozen=True)
class Angled:
    """Sizes w_1 > w_2 > ..., each a middle length and a kerf, and the shape of each.

    `longest` is the capacity of the stick that holds most; `unit` turns units into lengths; with a `step` patterns are
    priced in such steps, roughly.
    """

    sizes: tuple[int, ...]
    kerf: int
    shapes: tuple[int, ...]
    nesting: Nesting
    longest: int
    unit: Fraction
    step: int = 0

    @property
    def additive(self) -> bool:
        return False

    @cached_property
    def nets(self) -> tuple[int, ...]:
        return tuple(size - self.kerf for size in self.sizes)

    @cached_property
    def lost(self) -> Levels:
        smallest = [min(size for size, shape in zip(self.sizes, self.shapes, strict=True) if shape == c)
                    for c in range(len(self.nesting.shapes))]
        return levels(self.nesting, self.kerf, smallest, self.longest)

    def shape_counts(self, counts: Counts) -> ShapeCounts:
        found = [0] * len(self.nesting.shapes)
        for i, a in counts:
            found[self.shapes[i]] += a
        return tuple(found)

    def fill(self, stick: StickType, counts: Counts) -> int:
        """With the kerf along the last end's slope, as long as that has room; the piece's own end decides what fits."""
        middles = sum(a * self.nets[i] for i, a in counts)
        if middles + self.kerf > stick.capacity or not counts:
            return middles + self.kerf * sum(a for _, a in counts)
        lost = self.nesting.lost(self.shape_counts(counts))
        if middles + lost.cut <= stick.capacity:
            return middles + lost.cut
        return max(middles + lost.end + self.kerf, stick.capacity)

    def fits(self, stick: StickType, counts: Counts) -> bool:
        if sum(a * self.sizes[i] for i, a in counts) > stick.capacity:  # however they lie
            return False
        return self.fill(stick, counts) <= stick.capacity

    def place(self, stick: StickType, counts: Counts) -> Placed:
        waiting: list[deque[int]] = [deque() for _ in self.nesting.shapes]
        for i, a in counts:
            waiting[self.shapes[i]].extend([i] * a)
        shapes = self.shape_counts(counts)
        middles = sum(a * self.nets[i] for i, a in counts)
        order = self.nesting.order(shapes, middles + self.nesting.lost(shapes).cut <= stick.capacity)
        pieces, at, before = [], stick.head, None
        for shape, way in order:
            i = waiting[shape].popleft()
            at += abs(way.left) // 2 if before is None else self.nesting.between(before, way.left)
            said = {"left_in": way.left * self.unit, "right_in": -way.right * self.unit, "lies": way.lies}
            then = at + self.nets[i]
            pieces.append(Lying(i, at - way.left // 2, then - way.right // 2, said if way.lies else {}))
            at, before = then, way.right
        assert before is not None
        return Placed(tuple(pieces), at + abs(before) // 2 + self.nesting.kerfs[abs(before)])

    def price(self, sticks: Sequence[StickType], uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool, large: set[int], params: TableParams) -> list[Priced]:
        knapsacks = Knapsacks(self.nets, self.shapes, self.lost, params)
        if self.step:
            return [Likely(found, partial(self._worth, sticks[use.stick], use, values))
                    for found, use in zip(knapsacks.roughly(uses, bounds, values, self.step), uses, strict=True)]
        tables = knapsacks.of(uses, bounds, values, every, large)
        return [Nested(found, use.floor, self.lost.counted, partial(self._worth, sticks[use.stick], use, values))
                for found, use in zip(tables, uses, strict=True)]

    def quickly(self) -> Angled:
        if self.step:
            return self
        quick = replace(self, step=-(-self.longest // ROUGH))
        quick.__dict__["lost"] = self.lost  # which takes long to find
        return quick

    def _worth(self, stick: StickType, use: Use, values: Sequence[int], counts: Counts) -> int | None:
        fill = self.fill(stick, counts)
        if fill > use.capacity:
            return None
        return sum(a * values[i] for i, a in counts) - use.slope * fill

    def smaller(self, i: int) -> int | None:
        return next((j for j in range(i + 1, len(self.sizes)) if self.shapes[j] == self.shapes[i]), None)

    def exchanges(self) -> Iterator[tuple[int, tuple[int, ...]]]:
        for i in range(len(self.sizes)):
            if (other := self.smaller(i)) is not None:
                yield i, (other,)
