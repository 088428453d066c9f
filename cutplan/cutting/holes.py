"""Rails with holes already in them: where each can be cut, and the best patterns of them.

A rail's middle must fall on a hole, or midway between two. Let v number the holes from the end of the stick that is
squared first, and let a rail on a space be numbered by the hole before its middle. A rail whose reach to the right
of that hole is r (half its length, half the kerf, and on a space half the pitch p) has r = A p + b with 0 < b <= p,
and reaches l = (A - s) p + b to the left, s = 1 on a space and 0 on a hole. So after rail i at hole v the next rail,
j, can be at

    v + A_i + (A_j - s_j) + 1  where b_i + b_j <= p,  else one hole further:

what a rail costs depends on its neighbours only through b, and whole pitches are all that the search counts. A bound
on what can follow comes from forgetting how often each rail was cut already:

    D_i(x) = max(stop, max of v_j + D_j over what can follow i),  x = v + A_i

and patterns that respect the demand are drawn in falling order of value, best first (the state-space relaxation of
Christofides, Mingozzi and Toth, Networks 11 (1981) 145-164, and Righini and Salani, Networks 51 (2008) 155-170).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Counts = tuple[tuple[int, int], ...]
NEVER = -(2**62)  # the value of what does not fit
TOO_LONG = 2**40  # the fill of what does not fit


@dataclass(frozen=True)
class End:
    """An end that a stick can be squared at first. Lengths from where that trim ends, in units.

    first: the first hole (negative where the trim takes it);  least: where the first rail may begin
    most:  where the last must end, kerf included;  turned: it is the stick's other end
    """

    first: int
    least: int
    most: int
    turned: bool = False


@dataclass(frozen=True)
class Rail:
    """One way of cutting size `size`: on a space or a hole, A = `whole` and b = `part` as above."""

    size: int
    on_space: bool
    whole: int
    part: int

    @property
    def before(self) -> int:
        """Whole pitches to the left: A - s."""
        return self.whole - self.on_space


@dataclass(frozen=True)
class Placed:
    """The shortest order of some rails from one end: the fill, and each rail with the number of its hole."""

    fill: int
    end: End
    rails: tuple[tuple[Rail, int], ...]


@dataclass(frozen=True)
class Holes:
    """The holes of one profile: pitch and kerf in units (both even), and for each size the ways it may be cut."""

    pitch: int
    kerf: int
    rails: tuple[tuple[Rail, ...], ...]
    _placed: dict[tuple[tuple[End, ...], Counts], Placed | None] = field(
        default_factory=dict, compare=False, repr=False)

    def first_hole(self, end: End, rail: Rail) -> int:
        """The first hole that a rail can be at."""
        reach = rail.before * self.pitch + rail.part
        return -((end.first - end.least - reach + self.kerf // 2) // self.pitch)

    def fill(self, end: End, rail: Rail, hole: int) -> int:
        """How far the stick is used once this rail is cut off, its kerf included."""
        return end.first + (hole + rail.whole) * self.pitch + rail.part + self.kerf // 2

    def step(self, one: Rail, other: Rail) -> int:
        """How many holes further than `one` the rail after it can be."""
        return one.whole + other.before + (1 if one.part + other.part <= self.pitch else 2)

    def place(self, ends: tuple[End, ...], counts: Counts) -> Placed | None:
        """The order and end by which these pieces take the least of a stick; None where they do not fit."""
        key = ends, counts
        if key not in self._placed:
            found = [placed for end in ends if (placed := self._shortest(end, counts)) is not None]
            self._placed[key] = min(found, key=lambda placed: placed.fill, default=None)
        return self._placed[key]

    def _shortest(self, end: End, counts: Counts) -> Placed | None:
        """By dynamic programming over what is left and what was cut last (Held and Karp, 1962)."""
        sizes, all_left = [i for i, _ in counts], tuple(a for _, a in counts)
        reached: dict[tuple[tuple[int, ...], Rail | None], tuple[int, tuple[tuple[Rail, int], ...]]]
        reached = {(all_left, None): (0, ())}
        for _ in range(sum(all_left)):
            further: dict[tuple[tuple[int, ...], Rail | None], tuple[int, tuple[tuple[Rail, int], ...]]] = {}
            for (left, last), (hole, order) in reached.items():
                for k, n in enumerate(left):
                    rest = (*left[:k], n - 1, *left[k + 1:])
                    for rail in self.rails[sizes[k]] if n else ():
                        at = self.first_hole(end, rail) if last is None else hole + self.step(last, rail)
                        if self.fill(end, rail, at) <= end.most:
                            known = further.get((rest, rail))
                            if known is None or at < known[0]:
                                further[rest, rail] = at, (*order, (rail, at))
            reached = further
        orders = [order for _, order in reached.values()]
        best = min(orders, key=lambda order: self.fill(end, *order[-1]), default=None)
        return None if best is None else Placed(self.fill(end, *best[-1]), end, best)


def rail(size: int, reach: int, pitch: int, on_space: bool) -> Rail:
    """Size `size` cut one way; `reach` is half its length and half a kerf."""
    right = reach + pitch // 2 * on_space
    whole = -(-right // pitch) - 1
    return Rail(size, on_space, whole, right - whole * pitch)


@dataclass
class Chains:
    """The patterns of one way of using a stick, in falling order of their value.

    A pattern is worth what its pieces are worth, less `slope` for each unit of its fill. `bounds` limits how often
    each size is cut.
    """

    holes: Holes
    ends: tuple[End, ...]
    capacity: int
    bounds: Sequence[int]
    values: Sequence[int]
    slope: int = 0
    every: bool = False
    _drawn: list[tuple[int, Counts]] = field(default_factory=list)

    @cached_property
    def _source(self) -> Iterator[tuple[int, Counts]]:
        return self._falling()

    def best(self) -> int:
        """The best value of any pattern; 0 where cutting nothing is best."""
        return max(0, next((value for value, _ in self._draw()), 0))

    def patterns(self, above: float, many: int) -> list[Counts]:
        """Up to `many` patterns worth more than `above`, the best first."""
        found = []
        for value, counts in self._draw():
            if value <= above or len(found) == many:
                break
            found.append(counts)
        return found

    def above(self, least: int, most: int) -> list[Counts] | None:
        """Every pattern worth at least `least`; None where they are more than `most`."""
        found: list[Counts] = [()] if least <= 0 else []
        for value, counts in self._draw():
            if value < least:
                break
            found.append(counts)
            if len(found) > most:
                return None
        return found

    def _draw(self) -> Iterator[tuple[int, Counts]]:
        k = 0
        while True:
            if k == len(self._drawn):
                following = next(self._source, None)
                if following is None:
                    return
                self._drawn.append(following)
            yield self._drawn[k]
            k += 1

    def _falling(self) -> Iterator[tuple[int, Counts]]:
        """Best first: a chain counts for the most that it can still become, a finished one for its own value."""
        runs = [Run(self, end) for end in self.ends]
        heap: list[tuple[int, int, int, tuple[int, ...] | None, int, int, Counts]] = []
        made = 0
        for r, run in enumerate(runs):
            for k, bound in run.first():
                made += 1
                heap.append((-bound, made, r, (k,), run.exit(None, 0, k), int(run.values[k]), ((run.size[k], 1),)))
        heapq.heapify(heap)
        given: set[Counts] = set()
        shortest: dict[tuple[int, int, Counts], int] = {}
        while heap:
            bound, _, r, chain, at, worth, counts = heapq.heappop(heap)
            if chain is None:
                if counts not in given:
                    given.add(counts)
                    yield -bound, counts
                continue
            run, last = runs[r], chain[-1]
            if shortest.get((r, last, counts), at + 1) <= at:
                continue  # the same pieces with the same one last, and not shorter
            shortest[r, last, counts] = at
            made += 1
            heapq.heappush(heap, (-(worth + run.stop(last, at)), made, r, None, at, worth, counts))
            cut = dict(counts)
            for k, more in run.next(last, at):
                i = run.size[k]
                if cut.get(i, 0) < self.bounds[i]:
                    made += 1
                    longer = tuple(sorted({**cut, i: cut.get(i, 0) + 1}.items()))
                    heapq.heappush(heap, (-(worth + more), made, r, (*chain, k), run.exit(last, at, k),
                                          worth + int(run.values[k]), longer))


class Run:
    """The bound D from one end: rails in order of their b, x = v + A the last hole that a rail covers wholly."""

    def __init__(self, chains: Chains, end: End) -> None:
        holes, self.end, self.slope = chains.holes, end, chains.slope
        self.pitch, self.half_kerf = holes.pitch, holes.kerf // 2
        rails = [rail for ways in holes.rails for rail in ways if chains.bounds[rail.size]
                 and (chains.values[rail.size] > 0 or chains.every)]
        rails = sorted((rail for rail in rails), key=lambda rail: rail.part)
        self.size = [rail.size for rail in rails]
        self.values = np.array([chains.values[rail.size] for rail in rails], dtype=np.int64)
        self.part = np.array([rail.part for rail in rails], dtype=np.int64)
        self.span = np.array([rail.before + rail.whole for rail in rails], dtype=np.int64)
        self.good = np.searchsorted(self.part, self.pitch - self.part, side="right")
        self.begin = np.array([holes.first_hole(end, rail) + rail.whole for rail in rails], dtype=np.int64)
        self.most = min(end.most, chains.capacity)
        self.low = min([0, *self.begin.tolist()])
        self._bound = self._bounds() if rails else np.zeros((0, 0), dtype=np.int64)

    def stop(self, k: int, at: int) -> int:
        """What ending after rail k, exit `at`, adds."""
        return -self.slope * (self.end.first + at * self.pitch + int(self.part[k]) + self.half_kerf)

    def exit(self, last: int | None, at: int, k: int) -> int:
        if last is None:
            return int(self.begin[k])
        return at + int(self.span[k]) + (1 if k < self.good[last] else 2)

    def first(self) -> Iterator[tuple[int, int]]:
        """Each rail that can come first, and the most that a chain with it can be worth."""
        return self._listed(self.values + self._at(self.begin))

    def next(self, last: int, at: int) -> Iterator[tuple[int, int]]:
        """Each rail that can follow, and the most that it and what follows it can be worth."""
        step = np.where(np.arange(len(self.size)) < self.good[last], 1, 2)
        return self._listed(self.values + self._at(at + step + self.span))

    def _listed(self, bounds: Ints) -> Iterator[tuple[int, int]]:
        there = np.flatnonzero(bounds > NEVER // 2)
        return zip(there.tolist(), bounds[there].tolist(), strict=True)

    def _at(self, exits: Ints) -> Ints:
        """D of each rail at its exit."""
        rows = exits - self.low
        inside = rows < len(self._bound)
        found = np.full(len(exits), NEVER, dtype=np.int64)
        found[inside] = self._bound[rows[inside], np.flatnonzero(inside)]
        return found

    def _bounds(self) -> Ints:
        """D for every exit from the first to the last there is, backwards."""
        n, p = len(self.size), self.pitch
        high = (self.most - self.end.first - self.half_kerf) // p
        rows = max(0, high - self.low + 1)
        bound = np.full((rows + int(self.span.max()) + 3, n), NEVER, dtype=np.int64)
        best = np.full((len(bound), n), NEVER, dtype=np.int64)  # of the rails up to each b, entering at this hole
        each = np.arange(n)
        for row in range(rows - 1, -1, -1):
            fill = self.end.first + (row + self.low) * p + self.part + self.half_kerf
            follow = np.where(self.good > 0, best[row + 1, np.maximum(self.good - 1, 0)], NEVER)
            worth = np.maximum(np.maximum(-self.slope * fill, follow), best[row + 2, n - 1])
            bound[row] = np.where(fill <= self.most, worth, NEVER)
            entering = bound[row + self.span, each]
            best[row] = np.maximum.accumulate(np.where(entering > NEVER // 2, entering + self.values, NEVER))
        return bound[:rows]
