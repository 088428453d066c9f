"""The best patterns of rails with holes, for given worths: knapsacks over pitches and paths (see `placing`)."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.arrangement.holes.placing import End, Holes
from cutplan.cutting.patterns import Counts

NO_ROOM = -(2**62)  # the value of what does not fit
LOOKED_AT = 4  # ways to cut a pattern (ends, centrings), for each pattern that may be listed


@dataclass(frozen=True)
class HoleItem:
    """One way of cutting a size, or an end of the stick (size None): what it takes and how it changes c."""

    size: int | None
    part: int
    pitches: int = 0
    most: int = 0
    value: int = 0

    def paths(self, pitch: int, paths: NDArray[np.int64], closed: bool) -> NDArray[np.int64]:
        """c after this one. `closed`: both ends are there, so that what is beside neither breaks a whole path."""
        small = 2 * self.part <= pitch
        if self.size is None:
            return np.maximum(paths, 1) if small else paths + 1
        if small:
            return np.maximum(paths - 1, 1)
        return np.where(closed & (paths == 1), 3, paths + 1)


@dataclass(frozen=True)
class Side:
    """An end of a stick to be squared first, filled up to some capacity: the pitches there are room for between the two
    ends, the ends as neighbours, and the fill before the first of those pitches."""

    room: int
    ends: tuple[HoleItem, HoleItem]
    begins: int


def side(holes: Holes, end: End, capacity: int) -> Side:
    p, half_kerf = holes.pitch, holes.kerf // 2
    before = end.least - end.first - half_kerf
    skipped = -(-before // p) - 1
    last = min(end.most, capacity) - end.first - half_kerf
    ends = HoleItem(None, before - skipped * p), HoleItem(None, p - last % p)
    return Side(max(0, last // p - skipped), ends, end.first + half_kerf + 1 + p * skipped)


class HoleTable:
    """The best patterns on sides whose ends stand alike among the rails: what the items from the k-th on can still add,
    by pitches used and c. A side with less room than the table's begins with some of its pitches used.

    Each unit of fill costs `slope`; a pattern's value is then bounded from above, else exact, but for sizes that may be
    cut in two ways: each way alone respects their demand.
    """

    def __init__(self, pitch: int, items: Sequence[HoleItem], room: int, slope: int) -> None:
        self.room = room
        self.items = [replace(item, most=min(item.most, room // item.pitches)) if item.size is not None else item
                      for item in items if item.pitches <= room]
        rails = [item for item in self.items if item.size is not None]
        self.states = room // min([item.pitches for item in rails], default=1) + 4  # the last: too many paths
        ends = [k for k, item in enumerate(self.items) if item.size is None]
        paths = np.arange(self.states)
        self.after = np.array([np.minimum(item.paths(pitch, paths, k > ends[1]), self.states - 1)
                               for k, item in enumerate(self.items)])
        self.after[:, -1] = self.states - 1
        self.pitches = np.array([item.pitches for item in self.items])
        self.values = np.array([item.value for item in self.items], dtype=np.int64)
        self.most = np.array([item.most for item in self.items])
        used = np.arange(room + 1)[:, None]
        fits = used + paths[None, :] - 1 <= room
        fits[:, -1] = False
        self.rest = np.empty((len(self.items) + 1, room + 1, self.states), dtype=np.int64)
        self.rest[-1] = np.where(fits, -slope * pitch * (used + np.maximum(0, paths - 2)[None, :]), NO_ROOM)
        for k in range(len(self.items) - 1, -1, -1):
            self._fill(k)

    def _fill(self, k: int) -> None:
        item, after, layer = self.items[k], self.after[k], self.rest[k]
        if item.size is None:
            layer[:] = self.rest[k + 1][:, after]
            return
        layer[:] = cut = self.rest[k + 1]
        for _ in range(item.most):
            more = np.full_like(layer, NO_ROOM)
            there = cut[item.pitches:, after]
            more[: len(there)] = np.where(there > NO_ROOM // 2, there + item.value, NO_ROOM)
            np.maximum(layer, more, out=layer)
            cut = more

    def choices(self, k: int, used: int, paths: int, need: int) -> Iterator[tuple[int, int, int, int, int]]:
        """(what it and all after it add, item, how many, pitches and c then) for items from the k-th on.

        Only those that add at least `need`.
        """
        rows = np.arange(k, len(self.items))
        now = np.empty(len(rows), dtype=np.int64)
        for n, row in enumerate(rows.tolist()):  # on the way to an item only the ends of the stick count
            now[n] = paths
            if self.items[row].size is None:
                paths = int(self.after[row, paths])
        keep = self.most[rows] > 0
        rows, now, many = rows[keep], now[keep], 0
        used_then = np.full(len(rows), used)
        while len(rows):
            many += 1
            used_then, now = used_then + self.pitches[rows], self.after[rows, now]
            keep = (used_then <= self.room) & (self.most[rows] >= many)
            rows, now, used_then = rows[keep], now[keep], used_then[keep]
            add = self.rest[rows + 1, used_then, now]
            add = np.where(add > NO_ROOM // 2, add + many * self.values[rows], NO_ROOM)
            for k in np.flatnonzero(add >= need).tolist():
                yield int(add[k]), int(rows[k]), many, int(used_then[k]), int(now[k])

    def stop(self, k: int, used: int, paths: int) -> int:
        """What cutting nothing from the k-th item on adds; NO_ROOM where it does not fit."""
        for item, after in zip(self.items[k:], self.after[k:], strict=True):
            if item.size is None:
                paths = int(after[paths])
        return int(self.rest[-1, used, paths])


@dataclass(frozen=True)
class Begun:
    """A pattern with items before the k-th decided."""

    table: HoleTable
    k: int = 0
    used: int = 0
    paths: int = 0
    worth: int = 0
    counts: Counts = ()


class Chains:
    """The patterns of one way of using a stick, over both ends that it may be squared at first."""

    def __init__(self, bounds: Sequence[int], begun: Sequence[Begun]) -> None:
        self.bounds, self.begun = bounds, begun

    def best(self) -> int:
        """The best value of any pattern, or a little more; 0 where cutting nothing is best."""
        return max([0, *(int(begun.table.rest[0, begun.used, 0]) + begun.worth for begun in self.begun)])

    def may_beat(self, value: float) -> bool:
        return self.best() > value

    def patterns(self, above: float, many: int) -> list[Counts]:
        """Up to `many` patterns worth more than `above`, each the best with its first item; the best of all first."""
        need = int(above) + 1
        begun = [further for start in self.begun for further in self._further(start, need)]
        begun.sort(key=lambda entry: -entry[0])
        found: dict[Counts, None] = {}
        for worth, pattern in begun[: 2 * many]:
            ended: Begun | None = pattern
            while ended is not None and ended.k >= 0:
                best = max(self._further(ended, worth), key=lambda entry: entry[0], default=None)
                ended = None if best is None else best[1]
            if ended is not None and len(found) < many:
                found[ended.counts] = None
        return list(found)

    def above(self, least: int, most: int) -> list[Counts] | None:
        """Every pattern worth at least `least`; None where they, or the ways to have them, are too many for `most`."""
        found: dict[Counts, None] = {}
        open_ = list(self.begun)
        left = LOOKED_AT * most
        while open_:
            begun = open_.pop()
            left -= 1
            if left < 0:
                return None
            if begun.k < 0:
                found[begun.counts] = None
                if len(found) > most:
                    return None
                continue
            open_ += [further for _, further in self._further(begun, least)]
        return list(found)

    def _further(self, begun: Begun, least: int) -> Iterator[tuple[int, Begun]]:
        """The pattern as it is (k < 0: finished), and with each choice of a next item, where worth at least `least`."""
        table = begun.table
        if begun.counts and (worth := begun.worth + table.stop(begun.k, begun.used, begun.paths)) >= least:
            yield worth, Begun(table, -1, counts=begun.counts)
        for add, k, many, used, paths in table.choices(begun.k, begun.used, begun.paths, least - begun.worth):
            size = table.items[k].size
            assert size is not None
            cut = dict(begun.counts)
            cut[size] = cut.get(size, 0) + many
            if cut[size] <= self.bounds[size]:
                counts = tuple(sorted(cut.items()))
                yield begun.worth + add, Begun(table, k + 1, used, paths, begun.worth + many * table.items[k].value,
                                               counts)


Shape = tuple[tuple[int, bool], ...]  # of each end: how many rails are before it in order, whether it is small


def chains(holes: Holes, uses: Sequence[tuple[tuple[End, ...], int, int]], bounds: Sequence[int],
           values: Sequence[int], every: bool = False) -> list[Chains]:
    """The patterns of each use (ends, capacity, slope); those whose ends stand alike among the rails share a table.

    The order is all that a rail's or an end's part decides, so that the number of tables grows with the lengths that
    are cut, not with those they are cut from.
    """
    def key(item: HoleItem) -> tuple[int, bool]:
        return abs(2 * item.part - holes.pitch), 2 * item.part <= holes.pitch

    rails = sorted((HoleItem(one.size, one.part, one.before + one.whole + 1, bounds[one.size], values[one.size])
                    for ways in holes.rails for one in ways
                    if bounds[one.size] > 0 and (values[one.size] > 0 or every)), key=key)
    keys = [key(rail) for rail in rails]
    alike: dict[tuple[int, Shape], list[tuple[int, int, Side]]] = {}
    for u, (ends, capacity, slope) in enumerate(uses):
        for e, end in enumerate(ends):
            found = side(holes, end, capacity)
            shape = tuple((bisect_left(keys, at), at[1]) for at in sorted(map(key, found.ends)))
            alike.setdefault((slope, shape), []).append((u, e, found))
    begun: dict[tuple[int, int], Begun] = {}
    for (slope, _), sides in alike.items():
        room = max(found.room for *_, found in sides)
        table = HoleTable(holes.pitch, sorted([*sides[0][-1].ends, *rails], key=key), room, slope)
        for u, e, found in sides:
            used = room - found.room
            begun[u, e] = Begun(table, used=used, worth=slope * (holes.pitch * used - found.begins))
    return [Chains(bounds, [begun[u, e] for e in range(len(ends))]) for u, (ends, *_) in enumerate(uses)]
