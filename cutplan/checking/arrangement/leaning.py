"""The best value of a pattern of pieces whose ends are not square, in whole numbers: for the proof.

Written apart from the optimiser's own tables, and by the rule itself: the two edges of a stick are followed, and a
piece begins where both allow it. What a stick's pieces lose beside their lengths halfway up the face depends on how
many there are of each shape alone, so that pairs (fill, value) are kept for each of these numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

import numpy as np

from cutplan.checking.arrangement.knapsack import (
    Item,
    Numbers,
    PairNeeds,
    ProofTableParams,
    best_values,
    rate,
    reckoned_in,
    undominated,
)
from cutplan.checking.arrangement.protocol import Pulse

MOST_COUNTS = 12_000  # numbers of pieces of each shape; beyond so many only the steepest end is counted

ByShape = tuple[int, ...]
Pairs = tuple[Numbers, Numbers]


@dataclass(frozen=True)
class LeaningShape:
    """What the two ends are set in, in each way of lying."""

    number: int
    ways: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Leaning:
    """A piece: its length halfway up the face, what it is worth, how many there are."""

    middle: int
    worth: int
    copies: int
    shape: LeaningShape


class Losses:
    """The least that pieces of these shapes take of a stick beside their middles, from where the first may begin to the
    further corner of the last."""

    def __init__(self, shapes: Sequence[LeaningShape], kerfs: Mapping[int, int]) -> None:
        self.shapes, self.kerfs = shapes, kerfs
        # by numbers of pieces: for each set-in of the last right end, the least top corner of that end
        self._tops: dict[ByShape, dict[int, int]] = {}

    def of(self, counts: ByShape) -> int:
        return min((max(top, top - right) for right, top in self._ending(counts).items()), default=0)

    def _ending(self, counts: ByShape) -> dict[int, int]:
        """Filled from the fewest pieces up, without recursion."""
        waiting = [counts]
        while waiting:
            now = waiting[-1]
            fewer = [less(now, c) for c, n in enumerate(now) if n]
            missing = [one for one in fewer if any(one) and one not in self._tops]
            if missing and now not in self._tops:
                waiting += missing
                continue
            waiting.pop()
            if now not in self._tops:
                self._tops[now] = self._one_more(now)
        return self._tops[counts]

    def _one_more(self, counts: ByShape) -> dict[int, int]:
        found: dict[int, int] = {}
        for c, n in enumerate(counts):
            before = less(counts, c) if n else ()
            for left, right in self.shapes[c].ways if n else ():
                if any(before):
                    start = min(max(top, top - last - left) + self.kerfs[max(abs(last), abs(left))]
                                for last, top in self._tops[before].items())
                else:
                    start = max(0, -left)
                top = start + (left + right) // 2
                found[right] = min(top, found.get(right, top))
        return found


def less(counts: ByShape, c: int) -> ByShape:
    return (*counts[:c], counts[c] - 1, *counts[c + 1:])


def best_leaning(pieces: Sequence[Leaning], shapes: Sequence[LeaningShape], kerfs: Mapping[int, int],
                 floors: Mapping[int, int], step: Pulse) -> dict[int, int]:
    """For each room between the trims the best value of a pattern, or its floor where that is more."""
    kerf, largest = kerfs[0], max(floors, default=0)
    smallest = [min(piece.middle + kerf for piece in pieces if piece.shape is shape) for shape in shapes]
    if too_many(smallest, largest + kerf):
        by_walks = best_by_walks(pieces, kerfs, floors, step)
        return {room: min(value, by_walks.get(room, value))
                for room, value in best_by_steepest(pieces, kerfs, floors, step).items()}
    useful = sorted(((Item(piece.middle + kerf, piece.worth, piece.copies), piece.shape.number) for piece in pieces
                     if piece.worth > 0 and piece.middle <= largest),
                    key=lambda entry: (-entry[0].worth / entry[0].size, entry[0].size))
    best = {room: max(0, floor) for room, floor in floors.items()}
    if not useful:
        return best
    losses = Losses(shapes, kerfs)
    kind, finer = reckoned_in(max((item for item, _ in useful), key=lambda item: item.worth / item.size),
                              largest + kerf, ProofTableParams.limit)
    needs = PairNeeds({room + kerf: max(0, floor) * finer for room, floor in floors.items()}, kind)
    states: dict[ByShape, Pairs] = {(0,) * len(shapes): (np.zeros(1, dtype=kind), np.zeros(1, dtype=kind))}
    rates = rates_from([replace(item, worth=item.worth * finer) for item, _ in useful])
    for k, (item, shape) in enumerate(useful):
        step()
        states = with_item(states, replace(item, worth=item.worth * finer), shape, largest, kerf, losses)
        states = {counts: kept for counts, (fills, worths) in states.items()
                  if len((kept := keep(fills, worths, needs, rates[k + 1]))[0])}
    for room in floors:
        for counts, (fills, worths) in states.items():
            at = int(np.searchsorted(fills, room - losses.of(counts) + sum(counts) * kerf, side="right")) - 1
            if at >= 0:
                best[room] = max(best[room], int(worths[at]) // finer)
    return best


def best_by_steepest(pieces: Sequence[Leaning], kerfs: Mapping[int, int], floors: Mapping[int, int],
                     step: Pulse) -> dict[int, int]:
    """At least the best values, by the steepest end of a pattern alone, and by whether all its pieces have two ends
    that are equally steep. Each piece loses half the kerf along each of its ends; the ends of a stick are square."""
    steep = {piece.shape: sorted(map(abs, piece.shape.ways[0])) for piece in pieces}
    best = {room: max(0, floor) for room, floor in floors.items()}
    for most in {high for _, high in steep.values()}:
        for alike in (True, False):
            there = [piece for piece in pieces if steep[piece.shape][1] <= most
                     and (not alike or steep[piece.shape][0] == steep[piece.shape][1])]
            lost = twice_to(most, [steep[piece.shape] for piece in there], kerfs)
            items = [Item(piece.middle + sum(kerfs[end] for end in steep[piece.shape]) // 2, piece.worth, piece.copies)
                     for piece in there]
            rooms = {room + kerfs[0] - lost: floor for room, floor in floors.items()}
            found = best_values(items, rooms, step) if there else {}
            best = {room: max(value, found.get(room + kerfs[0] - lost, 0)) for room, value in best.items()}
    return best


def best_by_walks(pieces: Sequence[Leaning], kerfs: Mapping[int, int], floors: Mapping[int, int],
                  step: Pulse) -> dict[int, int]:
    """At least the best values, by what it takes to come back to where pieces lead away from.

    The cut lines of a stick, one after the other, are a walk from square to square. A gap from slope s to t costs,
    beside half the kerf along each, (|s - t| + |K(s) - K(t)|) / 2. Where Y(t) - Y(s) is never more than that, all gaps
    together cost at least what Y rises in them, which is what it falls along the pieces, but for the walk's two ends.
    """
    slopes = sorted({end for piece in pieces for left, right in piece.shape.ways for end in (left, -right)} | {0})
    best: dict[int, int] = {}
    done: set[tuple[int, ...]] = set()
    for rise in walks(slopes, kerfs):
        apart = [min(rise[left] - rise[-right] for left, right in piece.shape.ways) for piece in pieces]
        begun = min(abs(s) - kerfs[abs(s)] + kerfs[0] - rise[s] for s in slopes)
        ended = min(abs(s) - kerfs[abs(s)] + kerfs[0] + rise[s] for s in slopes)
        lost = (begun + ended) // 2
        if (*apart, lost) in done or max(apart) <= 0:  # the steepest end says more then
            continue
        done.add((*apart, lost))
        items = [Item(piece.middle + (sum(kerfs[abs(end)] for end in piece.shape.ways[0]) + more) // 2, piece.worth,
                      piece.copies) for piece, more in zip(pieces, apart, strict=True)]
        found = best_values(items, {room + kerfs[0] - lost: floor for room, floor in floors.items()}, step)
        best = {room: min(best.get(room, found[room + kerfs[0] - lost]), found[room + kerfs[0] - lost])
                for room in floors}
    return best


def walks(slopes: Sequence[int], kerfs: Mapping[int, int]) -> Iterator[dict[int, int]]:
    """Twice such Y, which grow or fall away from square on either side, or are flat there."""
    for whole in (True, False):
        for right in (-1, 0, 1):
            for left in (-1, 0, 1):
                found = {}
                for s in slopes:
                    bent = kerfs[abs(s)] - kerfs[0]
                    found[s] = (right if s > 0 else left) * max(0, abs(s) + bent if whole else abs(s) - bent)
                if (left or right) and all(found[t] - found[s] <= abs(s - t) + abs(kerfs[abs(s)] - kerfs[abs(t)])
                                           for s, t in permutations(slopes, 2)):
                    yield found


def twice_to(most: int, ends: Sequence[Sequence[int]], kerfs: Mapping[int, int]) -> int:
    """What is lost at least, in both directions, between a square end of the stick and the steepest slope `most`: from
    the end that lies there, over every slope between that no piece bridges."""
    slopes = sorted({most, *(end for pair in ends for end in pair)})
    found = []
    for begin in slopes:
        way = [(low, high) for low, high in pairwise(slopes) if low >= begin]
        gaps = [(low, high) for low, high in way if not any(pair[0] <= low and high <= pair[1] for pair in ends)]
        found.append(begin - kerfs[begin] + kerfs[0] + sum(high - low + kerfs[high] - kerfs[low] for low, high in gaps))
    return min(found)


def too_many(smallest: Sequence[int], room: int) -> bool:
    """Whether the numbers of pieces that might share a stick are too many to be looked at one by one."""
    rooms = [room]
    for size in smallest:
        rooms = [left - n * size for left in rooms for n in range(max(0, left) // size + 1)]
        if len(rooms) > MOST_COUNTS:
            return True
    return False


def rates_from(items: Sequence[Item]) -> list[int]:
    """At least what a unit of any item from the k-th on is worth; the last is 0."""
    rates = [0]
    for item in reversed(items):
        rates.append(max(rates[-1], rate(item)))
    return rates[::-1]


def keep(fills: Numbers, worths: Numbers, needs: PairNeeds, rest: int) -> Pairs:
    """The pairs that might still come above a floor."""
    within = int(np.searchsorted(fills, needs.rooms[-1], side="right"))
    fills, worths = fills[:within], worths[:within]
    kept = needs.can_meet(fills, worths, rest)
    return fills[kept], worths[kept]


def with_item(states: Mapping[ByShape, Pairs], item: Item, shape: int, largest: int, kerf: int,
              losses: Losses) -> dict[ByShape, Pairs]:
    """The pairs with none, one, two, ... of an item more."""
    found: dict[ByShape, list[Pairs]] = {}
    for counts, (fills, worths) in states.items():
        then = counts
        for a in range(item.copies + 1):
            most = largest if not any(then) else largest - losses.of(then) + sum(then) * kerf
            run = int(np.searchsorted(fills, most - a * item.size, side="right"))
            if a and not run:
                break
            found.setdefault(then, []).append((fills[:run] + a * item.size, worths[:run] + a * item.worth))
            then = (*then[:shape], then[shape] + 1, *then[shape + 1:])
    return {counts: undominated(np.concatenate([fills for fills, _ in pairs]),
                                np.concatenate([worths for _, worths in pairs]))
            for counts, pairs in found.items()}
