"""The exact knapsack where pieces on one stick cost extra together, or may not share one: labels, layer by layer.

    max sum_i pi_i a_i - sum_c sigma_c floor(sum_i m_ci a_i / 2),   W - R <= sum_i w_i a_i <= W,   0 <= a_i <= b_i

with sigma >= 0 the duals of subset-row cuts (Jepsen, Petersen, Spoorendonk and Pisinger, Oper. Res. 56 (2008)
497-511), and without both pieces of a pair kept apart (Ryan and Foster 1981). A label is a pattern's beginning, from
the largest sizes on: the room left, the value so far, and a bit for each cut that is half used and each pair of which
one piece is there. A bit is dropped after the last size of its row. A label replaces another of the same room when it
has no pair's bit and, with all its cuts' bits paid for, is worth as much. What a label can still become is bounded by
the knapsack without cuts and pairs, which only make patterns dearer. All numbers are 64-bit integers: the best value
is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.patterns import Counts
from cutplan.sums import Ints

IMPOSSIBLE = -(2**60)  # the value of what cannot be; no sum of values comes near it
BITS = 62


@dataclass(frozen=True)
class LabelParams:
    """How many labels and patterns there may be.

    width:       labels that are kept after each size, the most hopeful: at first, and once more where these find none
    undominated: labels up to which none is sought that another dominates
    columns:     patterns that are returned at most
    """

    width: tuple[int, int] = (4_000, 50_000)
    undominated: int = 64
    columns: int = 2_000


@dataclass(frozen=True)
class Penalty:
    """sigma = `dual` for each whole half of sum m_i a_i; `weights` are the pairs (i, m_i), i rising."""

    weights: Counts
    dual: int


@dataclass(frozen=True)
class Found:
    """Patterns worth more than was asked, with their values, the best first; `exact`: none better was overlooked."""

    patterns: list[tuple[int, Counts]]
    exact: bool


@dataclass(frozen=True)
class Step:
    """What taking from one size does to one bit: of a cut, or of a pair kept apart (`dual` None).

    `last`: no later size is in the row.
    """

    bit: int
    weight: int
    dual: int | None
    last: bool


class Labels:
    """Sizes falling, each at most `bounds` times on a stick of capacity W that may waste at most R = `waste`."""

    def __init__(self, sizes: Sequence[int], bounds: Sequence[int], capacity: int, waste: int,
                 params: LabelParams = LabelParams()) -> None:
        self.params = params
        self.sizes, self.capacity, self.waste = sizes, capacity, waste
        self.bounds = [min(bound, capacity // size) for size, bound in zip(sizes, bounds, strict=True)]

    def completions(self, values: Sequence[int]) -> Ints:
        """V_k(f): the most that sizes k, k + 1, ... are worth in a room of f, without cuts and pairs."""
        table = np.full((len(self.sizes) + 1, self.capacity + 1), IMPOSSIBLE, dtype=np.int64)
        table[-1, : self.waste + 1] = 0
        for k in range(len(self.sizes) - 1, -1, -1):
            row, after, size = table[k], table[k + 1], self.sizes[k]
            row[:] = after
            for a in range(1, self.bounds[k] + 1):
                np.maximum(row[a * size :], after[: self.capacity + 1 - a * size] + a * values[k], out=row[a * size :])
        return table

    def best(self, values: Sequence[int], rest: Ints, cuts: Sequence[Penalty], apart: Sequence[tuple[int, int]],
             above: int, width: int | None = None) -> Found | None:
        """Patterns worth more than `above`; None where more rows reach over one size than there are bits.

        `rest` are the completions of these values. Only `width` labels (None: the most) are kept after each size.
        """
        width = self.params.width[-1] if width is None else width
        steps = plan_bits(len(self.sizes), cuts, apart)
        if steps is None:
            return None
        room = np.array([self.capacity], dtype=np.int64)
        worth, bits = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
        taken: list[tuple[Ints, NDArray[np.int32]]] = []
        exact, pending = True, 0
        owed: dict[int, int | None] = {}
        for k, size in enumerate(self.sizes):
            after, groups = rest[k + 1], []
            for a in range(self.bounds[k] + 1):
                left, total = room - a * size, worth + a * values[k]
                kept = np.flatnonzero((left >= 0) & (total + after[np.maximum(left, 0)] > above))
                left, total, mark = left[kept], total[kept], bits[kept]
                if a and steps[k] and len(kept):
                    total, mark, allowed = take(a, steps[k], total, mark)
                    allowed &= total + after[left] > above
                    kept, left, total, mark = kept[allowed], left[allowed], total[allowed], mark[allowed]
                groups.append((kept, left, total, mark, np.full(len(kept), a, dtype=np.int32)))
            source, room, worth, bits, amount = (np.concatenate(column) for column in zip(*groups, strict=True))
            for step in steps[k]:
                if step.last:
                    pending &= ~(1 << step.bit)
                    owed.pop(step.bit, None)
                else:
                    pending |= 1 << step.bit
                    owed[step.bit] = step.dual
            bits = bits & np.int64(pending)
            if len(room) > max(self.params.undominated, len(groups[0][0])):
                chosen = self._undominated(room, worth, bits, owed)
                source, room, worth, bits, amount = (x[chosen] for x in (source, room, worth, bits, amount))
            if len(room) > width:
                exact = False
                chosen = np.sort(np.argsort(-(worth + after[room]), kind="stable")[:width])
                source, room, worth, bits, amount = (x[chosen] for x in (source, room, worth, bits, amount))
            taken.append((source, amount))
            if not len(room):
                return Found([], exact)
        return Found(trace(worth, taken, self.params.columns), exact)

    def _undominated(self, room: Ints, worth: Ints, bits: Ints, owed: dict[int, int | None]) -> Ints:
        """The labels that no other replaces."""
        order = np.lexsort((-worth, bits, room))
        fresh = np.ones(len(order), dtype=bool)
        fresh[1:] = (np.diff(room[order]) != 0) | (np.diff(bits[order]) != 0)
        order = order[fresh]
        if not owed:
            return order
        paid = worth[order]
        for bit, dual in owed.items():
            if dual is not None:
                paid -= ((bits[order] >> bit) & 1) * dual
        # what has a piece of a pair cannot take all that another can
        paid[bits[order] & sum(1 << bit for bit, dual in owed.items() if dual is None) != 0] = IMPOSSIBLE
        best = np.full(self.capacity + 1, IMPOSSIBLE, dtype=np.int64)
        np.maximum.at(best, room[order], paid)
        unmatched: Ints = order[(worth[order] > best[room[order]]) | (paid == best[room[order]])]
        return unmatched


def plan_bits(sizes: int, cuts: Sequence[Penalty], apart: Sequence[tuple[int, int]]) -> list[list[Step]] | None:
    """For each size what it does to which bit; None where they do not suffice. A bit serves one row after another."""
    rows: list[tuple[Counts, int | None]] = [(cut.weights, cut.dual) for cut in cuts]
    rows += [(((min(pair), 1), (max(pair), 1)), None) for pair in apart]
    begins: list[list[int]] = [[] for _ in range(sizes)]
    for r, (weights, _) in enumerate(rows):
        begins[weights[0][0]].append(r)
    steps: list[list[Step]] = [[] for _ in range(sizes)]
    idle = list(range(BITS - 1, -1, -1))
    for k in range(sizes):
        for r in begins[k]:
            if not idle:
                return None
            bit = idle.pop()
            weights, dual = rows[r]
            for i, weight in weights:
                steps[i].append(Step(bit, weight, dual, i == weights[-1][0]))
        idle += [step.bit for step in steps[k] if step.last]
    return steps


def take(a: int, steps: Sequence[Step], worth: Ints, bits: Ints) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Values and bits after taking a of one size, and which labels may."""
    allowed = np.ones(len(worth), dtype=bool)
    for step in steps:
        bit = (bits >> step.bit) & 1
        if step.dual is not None:
            half = bit + a * step.weight
            worth = worth - step.dual * (half // 2)
            bits = bits ^ ((bit ^ (half & 1)) << step.bit)
        elif step.last:
            allowed &= bit == 0
        else:
            bits = bits | np.int64(1 << step.bit)
    return worth, bits, allowed


def trace(worth: Ints, taken: Sequence[tuple[Ints, NDArray[np.int32]]], most: int) -> list[tuple[int, Counts]]:
    """At most so many of the best of the labels that came to the end, as patterns."""
    last = np.argsort(-worth, kind="stable")[:most]
    patterns: list[list[tuple[int, int]]] = [[] for _ in last]
    at = last
    for k in range(len(taken) - 1, -1, -1):
        source, amount = taken[k]
        for t in np.flatnonzero(amount[at]):
            patterns[t].append((k, int(amount[at[t]])))
        at = source[at]
    return [(int(worth[t]), tuple(counts[::-1])) for t, counts in zip(last, patterns, strict=True)]
