"""Pieces one after the other, a kerf between: what each takes is its own, and the order does not matter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate

import numpy as np

from cutplan.cutting.arrangement.protocol import Arrangement, Asked, Lying, Placed, Priced, Use
from cutplan.cutting.patterns import Counts, StickType
from cutplan.cutting.pricing import knapsack
from cutplan.cutting.pricing.joining import joined, quick_for
from cutplan.lengths import exact_decimal
from cutplan.orders import Piece
from cutplan.problems import Problem
from cutplan.shop import Profile, Stock

PAIRS = 2  # exchanges of each size for two smaller ones


@dataclass(frozen=True)
class Plain:
    """Sizes w_1 > w_2 > ..., each a length and a kerf: they fit where they add up to no more than the capacity."""

    sizes: tuple[int, ...]
    kerf: int

    @property
    def additive(self) -> bool:
        return True

    def fill(self, stick: StickType, counts: Counts) -> int:
        sizes = self.sizes
        return sum(a * sizes[i] for i, a in counts)

    def fits(self, stick: StickType, counts: Counts) -> bool:
        return self.fill(stick, counts) <= stick.capacity

    def place(self, stick: StickType, counts: Counts) -> Placed:
        order = [i for i, a in counts for _ in range(a)]
        starts = list(accumulate((self.sizes[i] for i in order), initial=stick.head))
        return Placed(tuple(Lying(i, start, then - self.kerf)
                            for i, start, then in zip(order, starts, starts[1:], strict=False)), starts[-1])

    def price(self, sticks: Sequence[StickType], uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool, large: set[int], params: knapsack.TableParams) -> list[Priced]:
        tables = {}
        for slope in {use.slope for use in uses}:
            alike = [use for use in uses if use.slope == slope]
            worth = self._worth(values, slope)
            floors = [(use.capacity, use.floor) for use in alike if use.floor is not None]
            tables[slope] = knapsack.solve(self.sizes, bounds, worth, max(use.capacity for use in alike),
                                           floors=floors if len(floors) == len(alike) else [], every=every,
                                           large=large, params=params)
        return [Filled(tables[use.slope], use.capacity) for use in uses]

    def _worth(self, values: Sequence[int], slope: int) -> list[int]:
        """What a piece of each size is worth, less what it costs to fill so much of a stick."""
        return [value - slope * size for value, size in zip(values, self.sizes, strict=True)]

    def quickly(self) -> Plain:
        return self

    def smaller(self, i: int) -> int | None:
        return i + 1 if i + 1 < len(self.sizes) else None

    def exchanges(self) -> Iterator[tuple[int, tuple[int, ...]]]:
        """The next smaller piece, and pairs that leave the least of it over."""
        for i in range(len(self.sizes) - 1):
            yield i, (i + 1,)
        for i, j, k in pairs(self.sizes):
            yield i, (j, k)


@dataclass(frozen=True)
class PlainOnLong(Plain):
    """The same on sticks long for their unit, where exact pricing takes its time; `rough` prices quickly."""

    rough: bool = False

    def price(self, sticks: Sequence[StickType], uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool, large: set[int], params: knapsack.TableParams) -> list[Priced]:
        if not self.rough:
            return super().price(sticks, uses, bounds, values, every, large, params)
        return [joined(self.sizes, bounds, self._worth(values, use.slope), use.capacity) for use in uses]

    def quickly(self) -> Plain:
        return self if self.rough else replace(self, rough=True)


def plain(sizes: tuple[int, ...], kerf: int, sticks: Sequence[StickType]) -> Plain:
    """The arrangement of these sizes on these sticks."""
    long = quick_for(sizes, [stick.capacity for stick in sticks])
    return PlainOnLong(sizes, kerf) if long else Plain(sizes, kerf)


@dataclass(frozen=True)
class Filled:
    """A capacity of a knapsack table that several sticks share."""

    table: knapsack.PatternTable
    capacity: int

    def best(self) -> int:
        return self.table.best(self.capacity)

    def may_beat(self, value: float) -> bool:
        return self.best() > value

    def patterns(self, above: float, many: int) -> list[Counts]:
        return self.table.patterns(self.capacity, above, many)

    def above(self, least: int, most: int) -> list[Counts] | None:
        return knapsack.above(self.table, self.capacity, least, most)


@lru_cache(maxsize=16)
def pairs(sizes: tuple[int, ...]) -> tuple[tuple[int, int, int], ...]:
    """(i, j, k): pieces j and k fit in the place of i, and few pairs leave less of it over. `sizes` fall."""
    falling = np.array(sizes, dtype=np.int64)
    found = []
    for i, size in enumerate(sizes):
        j = np.arange(i + 1, len(sizes))
        k = np.maximum(j, np.searchsorted(-falling, falling[j] - size))  # the largest that fits beside j
        j, k = j[k < len(sizes)], k[k < len(sizes)]
        nearest = np.argsort(size - falling[j] - falling[k], kind="stable")[:PAIRS]
        found += [(i, int(j[n]), int(k[n])) for n in nearest]
    return tuple(found)


@dataclass(frozen=True)
class PlainProfile:
    """A profile of which a piece may be cut anywhere between the trims."""

    profile: Profile

    def refuses(self, piece: Piece) -> Iterator[Problem]:
        if piece.centred:
            yield Problem(piece.file, piece.line, "centred", f"{self.profile.name} has no holes to centre on; "
                          "leave it empty, or give the profile its routing")
        what = "blanks that give one piece each" if self.profile.one_per_stick else "profiles without a face"
        yield from refuse_angled(piece, self.profile, what)

    def asks(self, piece: Piece) -> str:
        return ""

    def told(self, entry: Stock) -> dict[str, Fraction]:
        return {}

    def takes(self, asked: Asked) -> Fraction:
        return asked[0]

    def reaches(self, asked: Asked) -> Fraction:
        return asked[0]

    def called(self, asked: Asked) -> str:
        return exact_decimal(asked[0])

    def steps(self, asked: Sequence[Asked], stock: Sequence[Stock]) -> list[Fraction]:
        return []

    def ends(self, entry: Stock, unit: Fraction) -> tuple[()]:
        return ()

    def arrange(self, asked: Sequence[Asked], sizes: tuple[int, ...], kerf: int, unit: Fraction,
                sticks: Sequence[StickType]) -> Arrangement:
        return plain(sizes, kerf, sticks)

    def no_room(self, asked: Sequence[Asked]) -> str:
        return ", ".join(exact_decimal(length) for length, *_ in asked) + ": no stick here has room for it"


def refuse_angled(piece: Piece, profile: Profile, what: str) -> Iterator[Problem]:
    """What is wrong with a piece whose ends are not square, of a profile that is `what`."""
    if piece.left_in or piece.right_in:
        column = "left_in" if piece.left_in else "right_in"
        yield Problem(piece.file, piece.line, column, f"pieces with angled ends are not cut from {what}, as "
                      f"{profile.name} is; make both ends square")
