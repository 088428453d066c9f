"""Whether any plan over listed patterns is good enough: branch and cut, each leaf of which is proven in integers.

    min sum_p g_p x_p   s.t.   lo_r <= sum_p m_rp x_p <= hi_r,   0 <= x_p <= u_p, whole

The rows are the demand (lo = hi = d_i), the box, the cap, then subset-row cuts (Jepsen, Petersen, Spoorendonk and
Pisinger, Oper. Res. 56 (2008) 497-511: sum_p floor((a_ip + a_jp + a_kp) / 2) x_p <= floor((d_i + d_j + d_k) / 2)),
then branches on how many sticks carry both of two sizes (Ryan and Foster 1981). For any whole y and K > 0,

    (sum_r min(y_r lo_r, y_r hi_r as y_r asks) + sum_p u_p min(0, K g_p - sum_r y_r m_rp)) / K

is a lower bound: y comes from a floating-point LP, the bound does not.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import pywraplp

from cutplan.cutting.exact.verdict import Verdict
from cutplan.cutting.lp.bounds import Box
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget
from cutplan.sums import Ints


@dataclass(frozen=True)
class BranchAndCutParams:
    """Branch and cut over listed patterns.

    fine:      what the value that must be exceeded is scaled up to
    missed:    times the dearest pattern, for one unit by which a row is missed
    longest:   milliseconds for one LP
    nodes:     in a box of a later tier, at first; and with patience
    rounds:    of cuts, at the root and below
    cuts:      that are added in a round
    violation: by how much a cut must be violated to be worth a row
    """

    fine: int = 10**11
    missed: int = 10
    longest: int = 5_000
    nodes: tuple[int, int] = (60, 1_500)
    rounds: tuple[int, int] = (12, 2)
    cuts: int = 40
    violation: float = 0.05


@dataclass(order=True)
class RowNode:
    """The limits of the branching rows so far; `known` is the LP's value above."""

    known: float
    number: int
    limits: dict[int, tuple[int, int]] = field(compare=False)


class Listed:
    """The rows over the listed patterns, their LP, and the exact bound."""

    def __init__(self, objective: Objective, patterns: Sequence[Pattern], box: Box, most: int,
                 params: BranchAndCutParams) -> None:
        instance, self.params = objective.instance, params
        self.patterns, self.most, self.demands = patterns, most, np.array(instance.demands, dtype=np.int64)
        self.costs = np.array([objective.cost(p) for p in patterns], dtype=np.int64)
        self.upper = np.array([min(p.often(instance.demands), box[p.stick][1]) for p in patterns], dtype=np.int64)
        self.scale = max(1, params.fine // max(1, most))
        counts = np.zeros((len(instance.sizes), len(patterns)), dtype=np.int64)
        for k, pattern in enumerate(patterns):
            for i, a in pattern.counts:
                counts[i, k] = a
        self.counts = counts
        self.rows: list[Ints] = []
        self.low: list[int] = []
        self.high: list[int] = []
        self._penalty = float(params.missed * max(1, int(self.costs.max(initial=1))))
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetSolverSpecificParametersAsString("use_preprocessing:false use_dual_simplex:true")
        self._lp.SetTimeLimit(params.longest)
        self._lp.Objective().SetMinimization()
        self._x = [self._lp.NumVar(0.0, float(u), "") for u in self.upper]
        for x, cost in zip(self._x, self.costs, strict=True):
            self._lp.Objective().SetCoefficient(x, float(cost))
        self._limits: list[pywraplp.Constraint] = []
        for i, demand in enumerate(instance.demands):
            self.add(counts[i], demand, demand)
        ways = np.array([objective.way(p) for p in patterns], dtype=np.int64)
        sticks = np.array([p.stick for p in patterns], dtype=np.int64)
        if len(instance.sticks) > 1 or box[0][0] or most >= box[0][1]:
            kinds = [sticks == s for s in range(len(instance.sticks))] + [ways == w for w in objective.kept]
            for kind, (low, high) in zip(kinds, box, strict=True):
                self.add(kind.astype(np.int64), low, high)
        if objective.cap is not None:
            prices = np.array([instance.sticks[p.stick].cost for p in patterns], dtype=np.int64)
            self.add(prices, 0, objective.cap)

    def add(self, row: Ints, low: int, high: int) -> int:
        """A new row; its number."""
        self.rows.append(row)
        self.low.append(low)
        self.high.append(high)
        limits = self._lp.Constraint(float(low), float(high))
        for k in np.flatnonzero(row):
            limits.SetCoefficient(self._x[k], float(row[k]))
        for sign in (1.0, -1.0):
            missed = self._lp.NumVar(0.0, self._lp.infinity(), "")
            limits.SetCoefficient(missed, sign)
            self._lp.Objective().SetCoefficient(missed, self._penalty)
        self._limits.append(limits)
        return len(self.rows) - 1

    def enter(self, limits: dict[int, tuple[int, int]]) -> None:
        """Other limits for some rows, their own for the rest."""
        for r, row in enumerate(self._limits):
            low, high = limits.get(r, (self.low[r], self.high[r]))
            row.SetBounds(float(low), float(high))

    def solve(self, limits: dict[int, tuple[int, int]]) -> tuple[NDArray[np.float64], float] | None:
        """The LP's solution and value within these limits."""
        self.enter(limits)
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        return np.array([x.solution_value() for x in self._x]), self._lp.Objective().Value()

    def refuted(self, limits: dict[int, tuple[int, int]]) -> bool:
        """Whether the LP's duals prove, in integers, that nothing within these limits is good enough."""
        duals = [round(row.dual_value() * self.scale) for row in self._limits]
        total = 0
        reduced = self.costs * self.scale
        for r, (y, row) in enumerate(zip(duals, self.rows, strict=True)):
            if y:
                low, high = limits.get(r, (self.low[r], self.high[r]))
                total += y * low if y > 0 else y * high
                reduced = reduced - y * row
        below = reduced < 0
        total += int((reduced[below] * self.upper[below]).sum())
        return total > self.scale * self.most

    def plan(self, x: NDArray[np.float64]) -> Solution | None:
        """The plan these numbers are, if they are whole and good enough."""
        whole = np.rint(x).astype(np.int64)
        if np.abs(x - whole).max(initial=0.0) > 1e-6 or int(self.costs @ whole) > self.most:
            return None
        for row, low, high in zip(self.rows, self.low, self.high, strict=True):
            if not low <= int(row @ whole) <= high:
                return None
        return Counter({p: int(n) for p, n in zip(self.patterns, whole, strict=True) if n})


def refute(objective: Objective, patterns: Sequence[Pattern], box: Box, most: int, budget: Budget,
           params: BranchAndCutParams = BranchAndCutParams(), patient: bool = True) -> Verdict:
    """A plan over these patterns, within the box and worth at most `most`, or the proof that there is none."""
    listed = Listed(objective, patterns, box, most, params)
    pairs: dict[tuple[int, ...], int] = {}
    open_, made = [RowNode(0.0, 0, {})], 0
    while open_:
        if budget.spent() or made >= params.nodes[patient]:
            return Verdict(None, False)
        budget.count()
        node = heapq.heappop(open_)
        solved = listed.solve(node.limits)
        for _ in range(params.rounds[bool(node.limits)]):
            if solved is None or listed.refuted(node.limits) or not cut(listed, solved[0]):
                break
            solved = listed.solve(node.limits)
        if solved is None:
            return Verdict(None, False)
        if listed.refuted(node.limits):
            continue
        x, worth = solved
        if (plan := listed.plan(x)) is not None:
            return Verdict(plan, True)
        branch = fraction(listed, x)
        if branch is None:
            return Verdict(None, False)
        which, total = branch
        if which not in pairs:
            row = np.all(listed.counts[list(which)] > 0, axis=0) if len(which) > 1 else np.arange(len(x)) == which[0]
            pairs[which] = listed.add(row.astype(np.int64), 0, int(listed.upper[row].sum()))
        r = pairs[which]
        low, high = node.limits.get(r, (0, listed.high[r]))
        for limits in ((low, int(total)), (int(total) + 1, high)):
            made += 1
            heapq.heappush(open_, RowNode(worth, made, {**node.limits, r: limits}))
    return Verdict(None, True)


def fraction(listed: Listed, x: NDArray[np.float64]) -> tuple[tuple[int, ...], float] | None:
    """The pair of sizes that the most nearly half number of sticks carry both of; else such a pattern (its index)."""
    loose = np.flatnonzero((x > 1e-6) & (np.abs(x - np.rint(x)) > 1e-6))
    together: dict[tuple[int, ...], float] = {}
    for k in np.flatnonzero(x > 1e-6):
        for pair in combinations(np.flatnonzero(listed.counts[:, k]).tolist(), 2):
            together[pair] = together.get(pair, 0.0) + float(x[k])
    best = max(together, key=lambda pair: (min(together[pair] % 1, 1 - together[pair] % 1), pair), default=None)
    if best is not None and 1e-5 < together[best] % 1 < 1 - 1e-5:
        return best, together[best]
    return ((int(loose[0]),), float(x[loose[0]])) if len(loose) else None


def cut(listed: Listed, x: NDArray[np.float64]) -> int:
    """Adds the most violated subset-row cuts; how many."""
    used = np.flatnonzero(x > 1e-6)
    weights, counts = x[used], listed.counts[:, used]
    violated = []
    for triple in triples(counts, weights, listed.demands, listed.params.violation):
        row = counts[list(triple)].sum(axis=0) // 2
        by = float(row @ weights) - int(listed.demands[list(triple)].sum()) // 2
        if by > listed.params.violation:
            violated.append((by, triple))
    violated.sort(reverse=True)
    for _, triple in violated[:listed.params.cuts]:
        listed.add(listed.counts[list(triple)].sum(axis=0) // 2, 0, int(listed.demands[list(triple)].sum()) // 2)
    return min(len(violated), listed.params.cuts)


def triples(counts: Ints, weights: NDArray[np.float64], demands: Ints, violation: float
            ) -> Iterator[tuple[int, int, int]]:
    """Sizes i < j < k of which enough patterns in use carry two, for a cut that is violated by more than so much.

    No cut allows less than one, so that two of its three sizes share a third of a stick and more. Those in which i does
    not share a stick with both others are left out: hardly any is violated.
    """
    shared = np.minimum(counts, 1) * weights
    both = shared @ np.minimum(counts, 1).T
    first, second = np.nonzero(np.triu(both > (1 + violation) / 3, 1))
    total = both[first, second][:, None] + both[first] + both[second]
    room = ((demands[first] + demands[second])[:, None] + demands) // 2
    pair, third = np.nonzero(total > room + violation)
    found = np.stack([first[pair], second[pair], third])
    found = np.sort(found[:, (third != found[0]) & (third != found[1])], axis=0)
    found = found[:, (both[found[0], found[1:]] > 1e-6).all(axis=0)]
    once = np.unique(np.ravel_multi_index(tuple(found), (len(both),) * 3))
    yield from zip(*(sizes.tolist() for sizes in np.unravel_index(once, (len(both),) * 3)), strict=True)
