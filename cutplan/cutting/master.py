"""Column generation: the LP over patterns, its duals, and a bound that is exact (Gilmore and Gomory 1961, 1963).

    min sum_p g_p x_p   s.t.   sum_p a_ip x_p >= d_i (pi_i),   l_s <= sum_{p of s} x_p <= u_s,   sum_p c_p x_p <= C (mu)

The LP runs in floating point and proves nothing. Its duals, scaled by K and rounded down to integers, do: for any
pi, mu >= 0, with P_s the most by which a pattern on stick s is worth more than it costs (an exact integer knapsack),

    (sum_i d_i pi_i - mu C - sum_s max(l_s P_s, u_s P_s)) / K

is a lower bound (Held, Cook and Sewell, Math. Prog. Comp. 4 (2012) 363-381; Farley, Oper. Res. 38 (1990) 922-923).
The box l, u is the stock at first; the search narrows it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from cutplan.cutting import knapsack
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Pattern, produced
from cutplan.cutting.objective import Objective, Way

Box = tuple[tuple[int, int], ...]  # the least and the most sticks of each type

FINE = 10**13  # the scaled ceiling: duals this fine lose nothing that counts, and pattern values stay below 2^63
PENALTY = 1000  # a piece left uncut costs this many whole plans, so that a box with no plan is bounded away


@dataclass(frozen=True)
class Duals:
    """Integer duals, scaled by K = `scale`: one for each size, and one for the budget."""

    sizes: tuple[int, ...]
    budget: int
    scale: int


@dataclass(frozen=True)
class Bound:
    """The lower bound numerator / duals.scale."""

    duals: Duals
    numerator: int

    @property
    def ceiling(self) -> int:
        return -(-self.numerator // self.duals.scale)


@dataclass(frozen=True)
class Relaxed:
    """What column generation ends with: the best exact bound, and whether the LP was solved to its end."""

    bound: Bound
    finished: bool


def value(way: Way, sizes: Sequence[int], duals: Duals) -> list[int]:
    """Each size's worth in a pattern cut this way: pi_i - K slope w_i."""
    return [pi - duals.scale * way.slope * w for pi, w in zip(duals.sizes, sizes, strict=True)]


def charge(objective: Objective, way: Way, duals: Duals) -> int:
    """What a pattern cut this way must be worth to pay for its stick: K base + mu c_s."""
    return duals.scale * way.base + duals.budget * objective.instance.sticks[way.stick].cost


def tables(objective: Objective, duals: Duals, demands: Sequence[int], *,
           every: bool = False) -> dict[int, knapsack.Table]:
    """One exact knapsack table for each slope among the ways."""
    found = {}
    for slope in sorted({way.slope for way in objective.ways}):
        ways = [way for way in objective.ways if way.slope == slope]
        capacity = max(way.capacity for way in ways)
        sizes = objective.instance.sizes
        found[slope] = knapsack.solve(sizes, demands, value(ways[0], sizes, duals), capacity, every=every)
    return found


def safe_bound(objective: Objective, duals: Duals, found: dict[int, knapsack.Table], box: Box) -> Bound:
    """The exact bound of these duals, for plans within the box."""
    instance = objective.instance
    excess: list[int | None] = [None] * len(instance.sticks)
    for way in objective.ways:
        worth = found[way.slope].best(way.capacity) - charge(objective, way, duals)
        known = excess[way.stick]
        excess[way.stick] = worth if known is None else max(known, worth)
    numerator = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
    numerator -= duals.budget * (objective.budget or 0)
    numerator -= sum(max(low * p, high * p) for (low, high), p in zip(box, excess, strict=True) if p is not None)
    return Bound(duals, numerator)


class Master:
    """The LP over the patterns found so far, for what is still to be cut (at first the whole demand)."""

    def __init__(self, objective: Objective, box: Box, ceiling: int) -> None:
        self.objective = objective
        self.box = box
        self.scale = max(1, FINE // max(1, ceiling))
        self.demands = objective.instance.demands
        self.patterns: list[Pattern] = []
        self._known: set[Pattern] = set()
        self._columns: list[pywraplp.Variable] = []
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetNumThreads(1)
        infinity = self._lp.infinity()
        self._demand = [self._lp.Constraint(float(d), infinity) for d in self.demands]
        self._stock = [self._lp.Constraint(float(low), float(high)) for low, high in box]
        budget = objective.budget
        self._budget = None if budget is None else self._lp.Constraint(-infinity, float(budget))
        self._lp.Objective().SetMinimization()
        self._uncut = []
        for row in self._demand:
            column = self._lp.NumVar(0.0, infinity, "")
            row.SetCoefficient(column, 1.0)
            self._lp.Objective().SetCoefficient(column, float(PENALTY * max(1, ceiling)))
            self._uncut.append(column)

    def narrow(self, fixed: Counter[Pattern]) -> None:
        """Leaves in the LP what these sticks have not yet cut, drawn or spent."""
        instance = self.objective.instance
        self.demands = tuple(map(lambda d, made: max(0, d - made), instance.demands, produced(instance, fixed)))
        for row, demand in zip(self._demand, self.demands, strict=True):
            row.SetLb(float(demand))
        for s, ((low, high), row) in enumerate(zip(self.box, self._stock, strict=True)):
            drawn = sum(n for pattern, n in fixed.items() if pattern.stick == s)
            row.SetBounds(float(max(0, low - drawn)), float(max(0, high - drawn)))
        if self._budget is not None and self.objective.budget is not None:
            spent = sum(n * instance.sticks[pattern.stick].cost for pattern, n in fixed.items())
            self._budget.SetUb(float(self.objective.budget - spent))

    def add(self, pattern: Pattern) -> bool:
        """Adds a column; False where it is there already."""
        if pattern in self._known:
            return False
        self._known.add(pattern)
        self.patterns.append(pattern)
        column = self._lp.NumVar(0.0, self._lp.infinity(), "")
        self._columns.append(column)
        self._lp.Objective().SetCoefficient(column, float(self.objective.cost(pattern)))
        for i, a in enumerate(pattern.counts):
            if a:
                self._demand[i].SetCoefficient(column, float(a))
        self._stock[pattern.stick].SetCoefficient(column, 1.0)
        if self._budget is not None:
            self._budget.SetCoefficient(column, float(self.objective.instance.sticks[pattern.stick].cost))
        return True

    def solve(self) -> tuple[Duals, list[float]] | None:
        """The LP's duals in integers, and each stick type's (scaled); None where the solver gives up."""
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        sizes = tuple(max(0, int(row.dual_value() * self.scale)) for row in self._demand)
        budget = 0 if self._budget is None else max(0, int(-self._budget.dual_value() * self.scale))
        return Duals(sizes, budget, self.scale), [-row.dual_value() * self.scale for row in self._stock]

    def serves(self) -> bool:
        """Whether the LP's solution leaves nothing uncut."""
        return all(column.solution_value() < 1e-7 for column in self._uncut)

    def sticks(self) -> list[float]:
        """How many sticks of each type the LP draws."""
        drawn = [0.0] * len(self.box)
        for pattern, weight in zip(self.patterns, self.weights(), strict=True):
            drawn[pattern.stick] += weight
        return drawn

    def weights(self) -> list[float]:
        return [column.solution_value() for column in self._columns]


def starters(objective: Objective) -> list[Pattern]:
    """One pattern for each size and stick: as many of that size as fit."""
    instance = objective.instance
    found = []
    for way in objective.ways:
        for i, size in enumerate(instance.sizes):
            if a := min(way.capacity // size, instance.demands[i]):
                counts = tuple(a if j == i else 0 for j in range(len(instance.sizes)))
                found.append(Pattern(way.stick, counts))
    return found


def relax(master: Master, effort: Effort, enough: int) -> Relaxed | None:
    """Generates columns until the LP is solved, the effort is spent, or the bound reaches `enough`.

    None where the LP solver gives up.
    """
    best: Bound | None = None
    while (solved := master.solve()) is not None:
        duals, stock = solved
        found = tables(master.objective, duals, master.demands)
        bound = safe_bound(master.objective, duals, found, master.box)
        if best is None or bound.numerator > best.numerator:
            best = bound
        if best.ceiling >= enough or not price(master, duals, stock, found):
            return Relaxed(best, True)
        if effort.spent():
            return Relaxed(best, False)
    return None


def price(master: Master, duals: Duals, stock: Sequence[float], found: dict[int, knapsack.Table]) -> int:
    """Adds the best pattern of every way that pays; returns how many were new."""
    objective = master.objective
    added = 0
    for way in objective.ways:
        charged = charge(objective, way, duals) + stock[way.stick]
        if found[way.slope].best(way.capacity) > charged + duals.scale * 1e-7 * max(1, way.base):
            counts = found[way.slope].pattern(way.capacity, len(objective.instance.sizes))
            added += master.add(Pattern(way.stick, counts))
    return added
