"""The exact integer knapsack that prices patterns.

V_i(f) = max over 0 <= a <= b_i of V_{i-1}(f - a w_i) + a v_i  is the best value of a pattern that uses the first i
sizes and fills at most f (bounded knapsack; Kellerer, Pferschy and Pisinger, Knapsack Problems, 2004, ch. 7).
Ints are 64-bit integers, so that a bound computed from them is exact. A short stick has a table over every
position; on a long one in fine units only undominated pairs (fill, value) are kept, and of those only the ones that
can still become worth what is asked for. Where either would grow too large, sizes are rounded to a coarser step: down
for what a pattern can be worth, which is then too much at most, and up for the patterns, which then fit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.patterns import Counts
from cutplan.cutting.pricing.last_row import LastRow, last_row
from cutplan.sums import Ints, halves


@dataclass(frozen=True)
class TableParams:
    """How large the tables may grow.

    dense:   the longest stick, in units, of which a table holds every position
    entries: the most entries of tables that patterns are read from; beyond so many, sizes are rounded
    row:     the most positions of a table that only says what the best is worth, where sizes are rounded
    work:    entries, one over the other, of such a table in which none is rounded
    pair:    entries of it that take as long as a pair of a table of undominated pairs
    """

    dense: int = 20_000
    entries: int = 2 * 10**7
    row: int = 2**17
    work: int = 25 * 10**8
    pair: int = 128


@dataclass(frozen=True)
class Items:
    """What takes part: `pieces` of the size `index` together, their size and value, and how many such at most."""

    index: tuple[int, ...]
    pieces: tuple[int, ...]
    sizes: tuple[int, ...]
    values: tuple[int, ...]
    bounds: tuple[int, ...]

    def pattern(self, taken: Sequence[tuple[int, int]]) -> Counts:
        """Counts of the sizes from (position among the items, how many)."""
        counts: dict[int, int] = {}
        for k, a in taken:
            counts[self.index[k]] = counts.get(self.index[k], 0) + a * self.pieces[k]
        return tuple(sorted(counts.items()))


@dataclass(frozen=True)
class Raster:
    """V_i(f) for every position f: row i of `layers`."""

    items: Items
    layers: Ints

    def best(self, capacity: int) -> int:
        """The best value of any pattern filling at most `capacity`."""
        return int(self.layers[-1, capacity])

    def patterns(self, capacity: int, above: float, many: int) -> list[Counts]:
        """Up to `many` patterns worth more than `above`, the best first, each the best for its fill."""
        last = self.layers[-1, : capacity + 1]
        first = int(np.searchsorted(last, above, side="right"))
        steps = np.flatnonzero(last[first:] > np.concatenate([[above], last[first:-1]])) + first
        return [self._trace(int(fill)) for fill in steps[-many:][::-1]]

    def _trace(self, fill: int) -> Counts:
        """A best pattern filling at most `fill`. The last size in it is the first whose layer reaches the value."""
        taken = []
        target = int(self.layers[-1, fill])
        while target > 0:
            k = int(np.searchsorted(self.layers[:, fill], target)) - 1
            size, value, below = self.items.sizes[k], self.items.values[k], self.layers[k]
            a = 1
            while int(below[fill - a * size]) + a * value != target:
                a += 1
            taken.append((k, a))
            fill -= a * size
            target -= a * value
        return self.items.pattern(taken)

    def choices(self, last: int, room: int, need: int) -> Iterator[tuple[int, int]]:
        """(k, a) for k < last: a of item k, then items before it, can come to `need` within `room`."""
        sizes = np.array(self.items.sizes[:last], dtype=np.int64)
        values = np.array(self.items.values[:last], dtype=np.int64)
        rows = np.flatnonzero(sizes <= room)
        a = 1
        while len(rows):
            worth = self.layers[rows, room - a * sizes[rows]] + a * values[rows]
            yield from ((int(k), a) for k in rows[worth >= need])
            a += 1
            rows = rows[[self.items.bounds[k] >= a and a * self.items.sizes[k] <= room for k in rows]]


@dataclass(frozen=True)
class Front:
    """V_i as its steps: for each i the undominated fills and their values, both rising.

    `floors` are pairs (capacity, value): a pattern that fills at most this and is worth less does not interest.
    """

    items: Items
    fills: tuple[Ints, ...]
    values: tuple[Ints, ...]
    floors: tuple[tuple[int, int], ...]

    def best(self, capacity: int) -> int:
        """The best value of any pattern filling at most `capacity`, or what would interest if that is more."""
        return max([self._value(-1, capacity), *(value for room, value in self.floors if room == capacity)])

    def _value(self, i: int, room: int) -> int:
        k = int(self.fills[i].searchsorted(room, "right")) - 1  # the method, as this is asked very often
        return int(self.values[i][k]) if k >= 0 else -1

    def patterns(self, capacity: int, above: float, many: int) -> list[Counts]:
        """As `Raster.patterns`."""
        k = int(np.searchsorted(self.fills[-1], capacity, side="right"))
        first = int(np.searchsorted(self.values[-1][:k], above, side="right"))
        return [self._trace(int(fill)) for fill in self.fills[-1][max(first, k - many) : k][::-1]]

    def _trace(self, fill: int) -> Counts:
        taken = []
        target = self._value(-1, fill)
        for k in range(len(self.items.sizes) - 1, -1, -1):
            size, value = self.items.sizes[k], self.items.values[k]
            a = 0
            while self._value(k, fill - a * size) + a * value != target or self._value(k, fill - a * size) < 0:
                a += 1
            if a:
                taken.append((k, a))
                fill -= a * size
                target -= a * value
        return self.items.pattern(taken)

    def choices(self, last: int, room: int, need: int) -> Iterator[tuple[int, int]]:
        """As `Raster.choices`."""
        for k in range(last):
            size, value = self.items.sizes[k], self.items.values[k]
            for a in range(1, min(self.items.bounds[k], room // size) + 1):
                left = self._value(k, room - a * size)
                if left >= 0 and left + a * value >= need:
                    yield k, a


@dataclass(frozen=True)
class Unlayered:
    """The last row alone of a table, over every position of `step` each, of which all sizes are whole multiples."""

    last: LastRow
    step: int

    def best(self, capacity: int) -> int:
        """No less than the value of any pattern filling at most `capacity`, and hardly more than the best."""
        return self.last.best(capacity // self.step)

    def patterns(self, capacity: int, above: float, many: int) -> list[Counts]:
        """Patterns worth more than `above`: other than `Raster.patterns` the best with each size, however many."""
        return self.last.patterns(capacity // self.step, above)


@dataclass(frozen=True)
class Rounded:
    """Tables of sizes that are rounded to whole steps, for capacities that are rounded down to them.

    most:    V(f) for every position f of `step` each, sizes rounded down: at least what any pattern is worth
    fitting: patterns of sizes rounded up to whole `coarse` steps: these fit
    sizes:   as they are; of `index`, `bounds` and `values` all that takes part
    """

    most: Ints
    step: int
    fitting: Raster
    coarse: int
    sizes: tuple[int, ...]
    index: tuple[int, ...]
    bounds: tuple[int, ...]
    values: tuple[int, ...]

    def best(self, capacity: int) -> int:
        """No less than the value of any pattern filling at most `capacity`."""
        return int(self.most[capacity // self.step])

    def patterns(self, capacity: int, above: float, many: int) -> list[Counts]:
        """As `Raster.patterns`, of the patterns that fit when rounded up."""
        return self.fitting.patterns(capacity // self.coarse, above, many)

    def above(self, capacity: int, least: int, most: int) -> list[Counts] | None:
        """As the function `above`: all that might fit, and of these what does."""
        down = [size // self.coarse for size in self.sizes]
        room = capacity // self.coarse
        if not all(down[i] for i in self.index):  # there is always room for more of what takes none
            return None
        loose = raster(items([(i, 1) for i in self.index], self.bounds, down, self.values), room)
        found = above(loose, room, least, most)
        return found and [counts for counts in found if sum(a * self.sizes[i] for i, a in counts) <= capacity]


PatternTable = Raster | Front | Unlayered | Rounded


def solve(sizes: Sequence[int], bounds: Sequence[int], values: Sequence[int], capacity: int, *,
          floors: Sequence[tuple[int, int]] = (), every: bool = False, large: set[int] | None = None,
          params: TableParams = TableParams()) -> PatternTable:
    """The table of these sizes, each taken at most as often as its bound.

    Sizes without a positive value are left out unless `every`. With `floors` a table of a long stick may leave out
    what stays below them. `large` remembers the capacities of which a table of undominated pairs was too large.
    """
    index = [i for i, v in enumerate(values) if (v > 0 or every) and bounds[i] > 0 and sizes[i] <= capacity]
    parts = parts_of(index, bounds, sizes, capacity)
    if capacity <= params.dense and (len(parts) + 1) * (capacity + 1) <= params.entries:
        if every:  # each pattern must be had in one way only
            return raster(items([(i, 1) for i in index], bounds, sizes, values), capacity)
        return raster(items(parts, [1] * len(bounds), sizes, values), capacity)
    step = math.gcd(*(sizes[i] for i in index)) or 1
    work = len(parts) * (capacity // step)
    alone = not every and work <= params.work
    if capacity > params.dense and (large is None or capacity not in large):
        steep = sorted(index, key=lambda i: -values[i] / sizes[i])
        every_one = items([(i, 1) for i in steep], bounds, sizes, values)
        most = min(params.entries, work // params.pair) if alone else params.entries
        if found := front(every_one, capacity, tuple(floors), most):
            return found
        if large is not None and most == params.entries:
            large.add(capacity)
    if alone:
        return Unlayered(last_row(index, [size // step for size in sizes], bounds, values, capacity // step), step)
    return rounded(index, sizes, bounds, values, capacity, params)


def parts_of(index: Sequence[int], bounds: Sequence[int], sizes: Sequence[int], capacity: int) -> list[tuple[int, int]]:
    """Sizes and how many of them together, so that with each part once any number is had that may be taken."""
    return [(i, part) for i in index for part in halves(min(bounds[i], capacity // sizes[i]))]


def rounded(index: Sequence[int], sizes: Sequence[int], bounds: Sequence[int], values: Sequence[int],
            capacity: int, params: TableParams = TableParams()) -> Rounded:
    """The tables of rounded sizes, in steps that are the sizes' own, doubled until there are few enough of them."""
    parts, once = parts_of(index, bounds, sizes, capacity), [1] * len(bounds)
    step = math.gcd(*sizes) or 1
    while capacity // step >= params.row:
        step *= 2
    coarse = step
    while (len(parts) + 1) * (capacity // coarse + 1) > params.entries and capacity // coarse > 1:
        coarse *= 2
    most = row(items(parts, once, [size // step for size in sizes], values), capacity // step)
    up = [-(-size // coarse) for size in sizes]
    fitting = raster(items(parts, once, up, values), capacity // coarse)
    own = tuple(min(bound, capacity // size) for bound, size in zip(bounds, sizes, strict=True))
    return Rounded(most, step, fitting, coarse, tuple(sizes), tuple(index), own, tuple(values))


def items(parts: Sequence[tuple[int, int]], bounds: Sequence[int], sizes: Sequence[int],
          values: Sequence[int]) -> Items:
    """An item for each (size, how many of it together)."""
    return Items(
        tuple(i for i, _ in parts),
        tuple(n for _, n in parts),
        tuple(n * sizes[i] for i, n in parts),
        tuple(n * values[i] for i, n in parts),
        tuple(bounds[i] for i, _ in parts),
    )


def row(items: Items, capacity: int) -> Ints:
    """The last layer of `raster` alone."""
    last = np.zeros(capacity + 1, dtype=np.int64)
    for size, value, bound in zip(items.sizes, items.values, items.bounds, strict=True):
        for _ in range(bound if size <= capacity else 0):
            last[size:] = np.maximum(last[size:], last[: capacity + 1 - size] + value)
    return last


def raster(items: Items, capacity: int) -> Raster:
    layers = np.empty((len(items.sizes) + 1, capacity + 1), dtype=np.int64)
    layers[0] = 0
    for k, (size, value, bound) in enumerate(zip(items.sizes, items.values, items.bounds, strict=True)):
        below, layer = layers[k], layers[k + 1]
        layer[:size] = below[:size]  # all of it where rounding has made a size longer than the stick
        if size > capacity:
            continue
        rest = layer[size:]
        np.add(below[: capacity + 1 - size], value, out=rest)
        np.maximum(rest, below[size:], out=rest)
        for a in range(2, min(bound, capacity // max(1, size)) + 1):
            np.maximum(layer[a * size :], below[: capacity + 1 - a * size] + a * value, out=layer[a * size :])
    return Raster(items, layers)


def front(items: Items, capacity: int, floors: tuple[tuple[int, int], ...], most: int) -> Front | None:
    """Items in order of falling value for their size, so that what a pair can still become is easily bounded.

    None where there are more than `most` pairs.
    """
    pairs = 0
    fills, values = [np.zeros(1, dtype=np.int64)], [np.zeros(1, dtype=np.int64)]
    needs = Needs(floors)
    for k, (size, value, bound) in enumerate(zip(items.sizes, items.values, items.bounds, strict=True)):
        before, worth = fills[-1], values[-1]
        runs = [int(np.searchsorted(before, capacity - a * size, side="right"))
                for a in range(min(bound, capacity // size) + 1)]
        if pairs + sum(runs) > most:
            return None
        fill = np.concatenate([before[:run] + a * size for a, run in enumerate(runs)])
        total = np.concatenate([worth[:run] + a * value for a, run in enumerate(runs)])
        order = np.argsort(fill, kind="stable")
        fill, total = fill[order], total[order]
        keep = np.ones(len(fill), dtype=bool)
        keep[1:] = total[1:] > np.maximum.accumulate(total)[:-1]
        if floors:
            rest = items.values[k + 1] // items.sizes[k + 1] + 1 if k + 1 < len(items.sizes) else 0
            keep &= needs.can_still(fill, total, max(0, rest))
        fills.append(fill[keep])
        values.append(total[keep])
        pairs += len(fills[-1])
    return Front(items, tuple(fills), tuple(values), floors)


class Needs:
    """What a pair must come to on at least one of several capacities."""

    def __init__(self, floors: Sequence[tuple[int, int]]) -> None:
        ordered = sorted(floors)
        self.capacities = np.array([capacity for capacity, _ in ordered], dtype=np.int64)
        self.least = np.array([value for _, value in ordered], dtype=np.int64)

    def can_still(self, fill: Ints, total: Ints, rest: int) -> NDArray[np.bool_]:
        """Which pairs come to some floor if every further unit of length were worth `rest`."""
        # total + rest * (capacity - fill) >= least, for some capacity >= fill
        if len(self.capacities) == 1:  # which nothing fills more than
            alone: NDArray[np.bool_] = total - rest * fill >= self.least[0] - rest * self.capacities[0]
            return alone
        lacking = np.minimum.accumulate((self.least - rest * self.capacities)[::-1])[::-1]
        k = np.searchsorted(self.capacities, fill)
        there = k < len(lacking)
        found = np.zeros(len(fill), dtype=bool)
        found[there] = total[there] - rest * fill[there] >= lacking[k[there]]
        return found


def above(table: PatternTable, capacity: int, least: int, most: int) -> list[Counts] | None:
    """Every pattern filling at most `capacity` that is worth at least `least`; None where they are more than `most`, or
    cannot be listed by such a table."""
    if isinstance(table, Unlayered):
        return None
    if isinstance(table, Rounded):
        return table.above(capacity, least, most)
    found: list[Counts] = []
    taken: list[tuple[int, int]] = []

    def descend(last: int, room: int, need: int) -> bool:
        if need <= 0:
            found.append(table.items.pattern(taken))
            if len(found) > most:
                return False
        for k, a in table.choices(last, room, need):
            taken.append((k, a))
            if not descend(k, room - a * table.items.sizes[k], need - a * table.items.values[k]):
                return False
            taken.pop()
        return True

    return found if descend(len(table.items.sizes), capacity, least) else None
