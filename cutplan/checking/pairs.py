"""Proves again that so many sticks of one kind are not enough, from the tree of a branch and price, in plain integers.

A plan of m sticks may as well cut exactly the d_i pieces of size w_i that are asked for; then its sticks together waste
R = m W - sum_i d_i w_i, and none of them more than that. Of two pieces i and j either some stick carries both, and they
can be glued into one piece, or none does, and they are kept apart (Ryan and Foster 1981). So every plan is in one half
of a node or the other, and is a plan of pieces that are as they were, glued, or kept apart. There, for whole pi,
sigma >= 0 and any whole weights m_ci >= 0,

    sum_p floor(sum_i m_ci a_ip / 2) x_p <= floor(sum_i m_ci d_i / 2)       (Chvatal's rounding of the pieces' rows)

(the subset rows of Jepsen, Petersen, Spoorendonk and Pisinger, Oper. Res. 56 (2008) 497-511), and so

    sum_p (sum_i pi_i a_ip - sum_c sigma_c floor(...)) x_p >= total = sum_i pi_i d_i - sum_c sigma_c floor(...).

If no pattern is worth more than a whole number v, and m v < total, no plan of m sticks is in the node.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.checking.arrangement import arrangement_of
from cutplan.checking.arrangement.protocol import PieceKind, Pulse, StickKind
from cutplan.plans.records import ProfilePlan

Whole = NDArray[np.int64]

MOST_ENTRIES = 1 << 25  # of the table of what can still be cut
MOST_WORTH = 1 << 61  # what no sum of worths may come to
NEVER = -MOST_WORTH
MARKS = 62  # in a 64-bit integer


@dataclass(frozen=True)
class NodePieces:
    """Pieces of a node: their sizes, how many there are, and which two no stick carries (k, k: not two of k)."""

    sizes: tuple[int, ...]
    left: tuple[int, ...]
    apart: frozenset[tuple[int, int]] = frozenset()

    def may_split(self, i: int, j: int) -> bool:
        return 0 <= i <= j < len(self.sizes) and (i, j) not in self.apart and (i < j or self.left[i] > 1)

    def kept_apart(self, i: int, j: int) -> NodePieces:
        return NodePieces(self.sizes, self.left, self.apart | {(i, j)})

    def glued(self, i: int, j: int) -> NodePieces:
        """One of each is a single piece, the last; what either is kept apart from, it is as well."""
        left = [n - (k == i) - (k == j) for k, n in enumerate(self.left)]
        stays = [k for k, n in enumerate(left) if n]
        place = {k: at for at, k in enumerate(stays)}
        apart = {(place[a], place[b]) for a, b in self.apart if a in place and b in place}
        for one, other in [*self.apart, *((b, a) for a, b in self.apart)]:
            if one in (i, j) and other in place:
                apart.add((place[other], len(stays)))
        return NodePieces((*(self.sizes[k] for k in stays), self.sizes[i] + self.sizes[j]),
                      (*(left[k] for k in stays), 1), frozenset(apart))


@dataclass(frozen=True)
class PieceRow:
    """A subset row: whole weights of pieces, and what each whole half of their sum costs a pattern."""

    weights: tuple[tuple[int, int], ...]
    dual: int


@dataclass(frozen=True)
class FewSticks:
    """Whether `sticks` sticks of a capacity are enough for these pieces, the largest first."""

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    capacity: int
    sticks: int

    @property
    def waste(self) -> int:
        return self.sticks * self.capacity - sum(size * n for size, n in zip(self.sizes, self.demand, strict=True))


def only_kind(profile: ProfilePlan, demand: Mapping[PieceKind, int], kinds: Sequence[StickKind]) -> StickKind | None:
    """The one of these kinds from which any piece can be cut; None where there are several, or pieces that do not just
    add up."""
    if profile.one_per_stick or arrangement_of(profile).beside() or not demand:
        return None
    shortest = min(length for (length, _), n in demand.items() if n)
    of_use = [kind for kind in kinds if kind[0] - sum(kind[4]) >= shortest]
    return of_use[0] if len(of_use) == 1 else None


def few_on(profile: ProfilePlan, kind: StickKind, demand: Mapping[PieceKind, int], sticks: int) -> FewSticks:
    """The question in the coarsest units in which a piece with its kerf is whole."""
    asked = sorted(((length + profile.kerf, n) for (length, _), n in demand.items() if n), reverse=True)
    shared = math.lcm(*(size.denominator for size, _ in asked))
    unit = Fraction(math.gcd(*(int(size * shared) for size, _ in asked)), shared)
    return FewSticks(tuple(int(size / unit) for size, _ in asked), tuple(n for _, n in asked),
                     (kind[0] - sum(kind[4]) + profile.kerf) // unit, sticks)


def too_few(few: FewSticks, nodes: Sequence[Mapping[str, Any]], step: Pulse) -> bool:
    """Whether the nodes, each before its halves, prove that the sticks are not enough."""
    if few.waste < 0:
        return True
    open_ = [NodePieces(few.sizes, few.demand)]
    for node in nodes:
        if not open_:
            return False
        pieces = open_.pop()
        if "pair" not in node:
            if not refuted(few, pieces, node, step):
                return False
        elif pieces.may_split(*node["pair"]):
            open_ += [pieces.kept_apart(*node["pair"]), pieces.glued(*node["pair"])]
        else:
            return False
    return not open_


def refuted(few: FewSticks, pieces: NodePieces, leaf: Mapping[str, Any], step: Pulse) -> bool:
    """Whether a leaf's multipliers prove that no plan is in it."""
    worths = tuple(leaf["duals"])
    rows = [PieceRow(tuple((k, m) for k, m in entry["weights"]), entry["dual"]) for entry in leaf["rows"]]
    if not sound(pieces, worths, rows, few.capacity):
        return False
    total: int = sum(n * worth for n, worth in zip(pieces.left, worths, strict=True))
    total -= sum(row.dual * (sum(m * pieces.left[k] for k, m in row.weights) // 2) for row in rows)
    if total <= 0 or not few.sticks:
        return total > 0
    return not worth_more(few, pieces, worths, rows, (total - 1) // few.sticks, step)


def sound(pieces: NodePieces, worths: Sequence[int], rows: Sequence[PieceRow], capacity: int) -> bool:
    """Whether the numbers are such as the formulas ask for, and no sum of them can pass 64 bits."""
    if len(worths) != len(pieces.sizes) or min(worths, default=0) < 0:
        return False
    for row in rows:
        places = [k for k, _ in row.weights]
        if row.dual < 0 or any(m < 0 for _, m in row.weights) or len({*places}) < len(places) or any(
                not 0 <= k < len(worths) for k in places):
            return False
    copies = [min(n, capacity // size) for n, size in zip(pieces.left, pieces.sizes, strict=True)]
    most = sum(worth * n for worth, n in zip(worths, copies, strict=True))
    costs = sum(row.dual * (1 + sum(m * copies[k] for k, m in row.weights)) for row in rows)
    return most + costs < MOST_WORTH and len(worths) * (capacity + 1) <= MOST_ENTRIES


def worth_more(few: FewSticks, pieces: NodePieces, worths: Sequence[int], rows: Sequence[PieceRow], most: int,
               step: Pulse) -> bool:
    """Whether some pattern that wastes no more than it may could be worth more than `most`.

    Patterns' beginnings, largest pieces first, as long as the pieces to come could bring them above `most`: how much of
    the stick is left, the worth, and a mark for each row whose sum is odd and each pair of which one is there.
    """
    order = sorted(range(len(worths)), key=lambda k: -pieces.sizes[k])
    copies = [1 if (k, k) in pieces.apart else pieces.left[k] for k in order]
    sizes, gains = [pieces.sizes[k] for k in order], [worths[k] for k in order]
    to_come = coming(sizes, gains, copies, few.capacity, few.waste, step)
    if to_come[0][few.capacity] <= most:
        return False
    marks = Marks(order, rows, pieces.apart)
    rooms, found, marked = (np.array([start], dtype=np.int64) for start in (few.capacity, 0, 0))
    for k, size in enumerate(sizes):
        step()
        after, grown = to_come[k + 1], []
        for a in range(min(copies[k], few.capacity // size) + 1):
            fits = rooms >= a * size
            room, worth, mark = rooms[fits] - a * size, found[fits] + a * gains[k], marked[fits]
            if a:
                may, worth, mark = marks.taken(k, a, worth, mark)
                room, worth, mark = room[may], worth[may], mark[may]
            hopeful = worth + after[room] > most
            grown.append((room[hopeful], worth[hopeful], mark[hopeful]))
        rooms, found, marked = (np.concatenate(column) for column in zip(*grown, strict=True))
        rooms, found, marked = marks.best(k, rooms, found, marked)
        if not len(rooms):
            return False
    return True


def coming(sizes: Sequence[int], gains: Sequence[int], copies: Sequence[int], capacity: int, waste: int,
           step: Pulse) -> list[Whole]:
    """For each place in the order and each room the most that the pieces from there on are worth in it, without rows
    and pairs, if no more than `waste` of it is left."""
    last = np.full(capacity + 1, NEVER, dtype=np.int64)
    last[: waste + 1] = 0
    tables = [last]
    for size, gain, most in zip(reversed(sizes), reversed(gains), reversed(copies), strict=True):
        step()
        before, table = tables[-1], tables[-1].copy()
        for a in range(1, min(most, capacity // size) + 1):
            np.maximum(table[a * size:], before[: capacity + 1 - a * size] + a * gain, out=table[a * size:])
        tables.append(table)
    return tables[::-1]


@dataclass(frozen=True)
class Watched:
    """What taking a piece does to a mark: of a row by its weight, of a pair (`dual` None) by being there."""

    mark: int
    weight: int
    dual: int | None


class Marks:
    """The marks of rows and pairs, each from its first piece to its last in the order of the sizes.

    Where there are not enough, rows and pairs are left out: patterns are then worth more, and may be more.
    """

    def __init__(self, order: Sequence[int], rows: Sequence[PieceRow], apart: frozenset[tuple[int, int]]) -> None:
        place = {k: at for at, k in enumerate(order)}
        spans: list[tuple[list[tuple[int, int]], int | None]] = [
            (sorted((place[k], m) for k, m in row.weights if m), row.dual) for row in rows if row.dual]
        spans += [(sorted(((place[i], 1), (place[j], 1))), None) for i, j in sorted(apart) if i != j]
        self._watched: list[list[Watched]] = [[] for _ in order]
        self._alive: list[dict[int, int | None]] = [{} for _ in order]  # after each piece, the marks still to be used
        busy: dict[int, int] = {}  # until where a mark is used
        for weights, dual in sorted((span for span in spans if span[0]), key=lambda span: span[0][0][0]):
            first, last = weights[0][0], weights[-1][0]
            mark = next((m for m in range(MARKS) if busy.get(m, -1) < first), None)
            if mark is None:
                continue
            busy[mark] = last
            for at, weight in weights:
                self._watched[at].append(Watched(mark, weight, dual))
            for at in range(first, last):
                self._alive[at][mark] = dual

    def taken(self, k: int, a: int, worth: Whole, marked: Whole) -> tuple[NDArray[np.bool_], Whole, Whole]:
        """Which beginnings may take a of the k-th piece, and their worths and marks after that."""
        may = np.ones(len(worth), dtype=bool)
        for watched in self._watched[k]:
            odd = marked >> watched.mark & 1
            if watched.dual is None:
                may &= odd == 0  # before its last piece nothing is there that could be in the way
                marked = marked | 1 << watched.mark
            else:
                half = odd + a * watched.weight
                worth = worth - watched.dual * (half // 2)
                marked = marked ^ (odd ^ half & 1) << watched.mark
        return may, worth, marked

    def best(self, k: int, rooms: Whole, worths: Whole, marked: Whole) -> tuple[Whole, Whole, Whole]:
        """The beginnings that no other makes needless: one of the same room that is worth as much with every mark paid
        for, and has no piece of a pair."""
        alive = self._alive[k]
        marked = marked & sum(1 << mark for mark in alive)
        order = np.lexsort((-worths, marked, rooms))
        rooms, worths, marked = rooms[order], worths[order], marked[order]
        new = np.ones(len(rooms), dtype=bool)
        new[1:] = (rooms[1:] != rooms[:-1]) | (marked[1:] != marked[:-1])
        rooms, worths, marked = rooms[new], worths[new], marked[new]
        paid = worths.copy()
        for mark, dual in alive.items():
            odd = marked >> mark & 1
            paid = np.where(odd == 1, NEVER, paid) if dual is None else paid - odd * dual
        if len(rooms):
            starts = np.flatnonzero(np.concatenate([[True], rooms[1:] != rooms[:-1]]))
            surest = np.repeat(np.maximum.reduceat(paid, starts), np.diff([*starts, len(rooms)]))
            kept = (worths > surest) | (paid == surest)
            rooms, worths, marked = rooms[kept], worths[kept], marked[kept]
        return rooms, worths, marked
