"""The best values of patterns on plain sticks of several lengths, exactly: for the proof, which trusts no solver.

Written apart from the optimiser's own tables. One size after the other joins the undominated pairs (fill, value), for
all the sticks at once, and a pair is dropped where even a full stick could not bring it above what its stick must be
worth (Kellerer, Pferschy and Pisinger, Knapsack Problems, 2004, sec. 3.4 and 5.1). Where the pairs come to lie close
together, a table of every position is quicker. The numbers are numpy's 64-bit integers where plain ones show first
that none can pass 2^62; else they are Python's own, of any size.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.checking.arrangement.protocol import Pulse

Numbers = NDArray[Any]  # int64, or whole numbers of any size as objects


@dataclass(frozen=True)
class ProofTableParams:
    """How the values are reckoned.

    limit:     what no 64-bit number may come to; where one could, numbers of any size are used
    dense:     a pair takes about as long to place as so many positions of a table
    positions: the most of a table
    pairs:     more are not kept: the sizes are rounded down until a table holds them
    block:     positions that are worked on at once, so that they stay in the processor's own memory
    """

    limit: int = 1 << 62
    dense: float = 16
    positions: int = 1 << 24
    pairs: int = 1 << 21
    block: int = 1 << 15


@dataclass(frozen=True)
class Item:
    """A size, what a piece of it is worth, and how many pieces of it there are."""

    size: int
    worth: int
    copies: int


def best_values(items: Iterable[Item], floors: Mapping[int, int], step: Pulse = lambda: None,
                params: ProofTableParams = ProofTableParams()) -> dict[int, int]:
    """For each capacity the best value of a pattern that fills at most this; where its floor is more, that.

    `floors` is by capacity. Where there are too many pairs to keep, the values may be larger than that, never
    smaller. `step` is called again and again meanwhile.
    """
    items, largest = list(items), max(floors, default=0)
    useful = [item for item in items if item.worth > 0 and item.copies > 0 and item.size <= largest]
    found = within(useful, floors, math.gcd(*(item.size for item in useful)) or 1, step, params)
    if found is None:
        # the common step of all sizes, doubled: what holds of sizes rounded to a coarser such step holds of finer ones
        unit = math.gcd(*(item.size for item in items))
        while largest // unit >= params.positions:
            unit *= 2
        found = within(useful, floors, unit, step, params)
        assert found is not None  # a table holds it
    return found


def within(items: Sequence[Item], floors: Mapping[int, int], unit: int, step: Pulse,
           params: ProofTableParams) -> dict[int, int] | None:
    """As `best_values`, with the sizes and capacities rounded down to whole units. None: too many pairs."""
    free, sized = 0, []
    for item in items:
        size = item.size // unit
        if size:
            sized.append(Item(size, item.worth, item.copies))
        else:  # takes less than a unit: all of it on every stick
            free += item.worth * item.copies
    sized.sort(key=lambda item: Fraction(item.worth, item.size), reverse=True)
    rooms: dict[int, int] = {}
    for capacity, floor in floors.items():
        if capacity >= 0:
            room = capacity // unit
            rooms[room] = min(rooms.get(room, floor), floor)
    best = fill(sized, {room: max(0, floor - free) for room, floor in rooms.items()}, step, params)
    if best is None:
        return None
    return {capacity: max(0, floor, free + best[capacity // unit]) if capacity >= 0 else max(0, floor)
            for capacity, floor in floors.items()}


def fill(items: Sequence[Item], floors: Mapping[int, int], step: Pulse,
         params: ProofTableParams) -> dict[int, int] | None:
    """The best value up to each room, at least where it is above the room's floor; items by falling worth of a unit.

    None where there are too many pairs.
    """
    best = dict.fromkeys(floors, 0)
    hopeful = {room: floor for room, floor in floors.items() if items and items[0].worth * room > floor * items[0].size}
    if not hopeful:
        return best
    largest = max(hopeful)
    kind, finer = reckoned_in(items[0], largest, params.limit)
    items = [replace(item, worth=item.worth * finer) for item in items]
    needs = PairNeeds({room: floor * finer for room, floor in hopeful.items()}, kind)
    fills = worths = np.zeros(1, dtype=kind)
    for k, item in enumerate(items):
        step()
        runs = [int(np.searchsorted(fills, largest - a * item.size, side="right"))
                for a in range(min(item.copies, largest // item.size) + 1)]
        if largest < params.positions and sum(runs) > min(largest // params.dense, params.pairs):
            values = table(fills, worths, items[k:], largest, step, params.block)
            return best | {room: int(values[room]) // finer for room in hopeful}
        if sum(runs) > params.pairs:
            return None
        fills, worths = undominated(
            np.concatenate([fills[:run] + a * item.size for a, run in enumerate(runs)]),
            np.concatenate([worths[:run] + a * item.worth for a, run in enumerate(runs)]),
        )
        kept = needs.can_meet(fills, worths, rate(items[k + 1]) if k + 1 < len(items) else 0)
        fills, worths = fills[kept], worths[kept]
    last = {room: int(np.searchsorted(fills, room, side="right")) - 1 for room in hopeful}
    return best | {room: int(worths[k]) // finer if k >= 0 else 0 for room, k in last.items()}


def reckoned_in(dearest: Item, largest: int, limit: int) -> tuple[np.dtype[Any], int]:
    """The kind of numbers in which nothing can overflow, and by how much worths can be multiplied in it.

    No pattern is worth more than `largest` units at the rate of the dearest item, and no floor that is kept. So twice
    that is the most in any sum of a worth, a rate times a length, and a floor. The larger the worths, the less is lost
    where a unit's worth is rounded up.
    """
    finer = (limit // (4 * largest) - 1) * dearest.size // dearest.worth  # 4 x largest x rate(dearest x finer) < limit
    return (np.dtype(np.int64), finer) if finer >= 1 else (np.dtype(object), 1)


def rate(item: Item) -> int:
    """At least what a unit of the item's size is worth."""
    return -(-item.worth // item.size)


def undominated(fills: Numbers, worths: Numbers) -> tuple[Numbers, Numbers]:
    """The pairs that no pair of smaller or equal fill matches, by rising fill."""
    order = np.argsort(fills, kind="stable")
    fills, worths = fills[order], worths[order]
    kept = np.ones(len(fills), dtype=bool)
    kept[1:] = worths[1:] > np.maximum.accumulate(worths)[:-1]
    fills, worths = fills[kept], worths[kept]
    last = np.ones(len(fills), dtype=bool)  # of those with one fill
    last[:-1] = np.asarray(fills[1:] > fills[:-1], dtype=bool)
    return fills[last], worths[last]


class PairNeeds:
    """What a pair must be able to come to, in at least one of several rooms."""

    def __init__(self, floors: Mapping[int, int], kind: np.dtype[Any]) -> None:
        self.kind = kind
        self.rooms = np.array(sorted(floors), dtype=kind)
        self.floors = np.array([floors[room] for room in sorted(floors)], dtype=kind)

    def can_meet(self, fills: Numbers, worths: Numbers, rest: int) -> NDArray[np.bool_]:
        """Which pairs could come above some floor if every further unit of length were worth `rest`."""
        # worth + rest x (room - fill) > floor, for some room >= fill
        lacking = np.minimum.accumulate((self.floors - rest * self.rooms)[::-1])[::-1]
        return np.asarray(worths - rest * fills > lacking[np.searchsorted(self.rooms, fills)], dtype=bool)


def table(fills: Numbers, worths: Numbers, items: Iterable[Item], largest: int, step: Pulse,
          block: int) -> Numbers:
    """The best value up to every position, from what the pairs hold and the items that are left."""
    values = np.zeros(largest + 1, dtype=fills.dtype)
    values[fills.astype(np.intp)] = worths
    values = np.maximum.accumulate(values)
    for item in items:
        for copies in halves(min(item.copies, largest // item.size)):
            step()
            add(values, copies * item.size, copies * item.worth, block)
    return values


def add(values: Numbers, size: int, worth: int, block: int) -> None:
    """One thing more, which may be taken once. From the top down, a block at once, so that it is."""
    for end in range(len(values), size, -block):
        begin = max(size, end - block)
        np.maximum(values[begin:end], values[begin - size : end - size] + worth, out=values[begin:end])


def halves(most: int) -> Iterator[int]:
    """1, 2, 4, ... and the rest: together they make every number up to `most`."""
    part = 1
    while most > 0:
        yield min(part, most)
        most -= part
        part *= 2
