"""Column generation: the LP over patterns, its duals, and a bound that is exact (Gilmore and Gomory 1961, 1963).

    min sum_p g_p x_p   s.t.   sum_p a_ip x_p >= d_i (pi_i),   l_s <= sum_{p of s} x_p <= u_s,   sum_p c_p x_p <= C (mu)

The LP runs in floating point and proves nothing. Its duals, scaled by K and rounded down to integers, do: for any
pi, mu >= 0, with P_s the most by which a pattern on stick s is worth more than it costs (an exact integer knapsack),

    (sum_i d_i pi_i - mu C - sum_s max(l_s P_s, u_s P_s)) / K

is a lower bound (Held, Cook and Sewell, Math. Prog. Comp. 4 (2012) 363-381; Farley, Oper. Res. 38 (1990) 922-923).
The box l, u is the stock at first; the search narrows it. Sticks that keep an offcut have limits of their own within
their type's, so that the search can branch on their number too.
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

Box = tuple[tuple[int, int], ...]  # the least and the most sticks of each type, then of each way that keeps an offcut

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
        instance = objective.instance
        positions = knapsack.grid(instance.sizes, instance.demands, capacity)
        found[slope] = knapsack.solve(positions, demands, value(ways[0], instance.sizes, duals), every=every)
    return found


def excesses(objective: Objective, duals: Duals, found: dict[int, knapsack.Table]) -> list[int]:
    """P for each way: the most by which a pattern had that way is worth more than it costs."""
    return [found[way.slope].best(way.capacity) - charge(objective, way, duals) for way in objective.ways]


def most_excess(objective: Objective, excess: Sequence[int], box: Box, s: int, using: int | None = None) -> int | None:
    """The most that sticks of type s within the box can be worth more than they cost; None where there is no number.

    With `using`, at least one of them is had that way.
    """
    ways = [w for w, way in enumerate(objective.ways) if way.stick == s]
    if not ways:
        return 0
    low, high = box[s]
    flat = ways[0]
    least_flat = int(using == flat)
    if len(ways) == 1:
        low = max(low, least_flat)
        return max(low * excess[flat], high * excess[flat]) if low <= high else None
    keeping = ways[1]
    first, last = box[len(objective.instance.sticks) + objective.kept.index(keeping)]
    first, last = max(first, int(using == keeping)), min(last, high - least_flat)
    if first > last or low > high:
        return None
    totals = []
    for kept in {first, last, min(max(low - least_flat, first), last)}:  # linear between these
        flats = high - kept if excess[flat] > 0 else max(least_flat, low - kept)
        totals.append(flats * excess[flat] + kept * excess[keeping])
    return max(totals)


def safe_bound(objective: Objective, duals: Duals, found: dict[int, knapsack.Table], box: Box) -> Bound:
    """The exact bound of these duals, for plans within the box (which is not empty)."""
    instance = objective.instance
    excess = excesses(objective, duals, found)
    numerator = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
    numerator -= duals.budget * (objective.budget or 0)
    numerator -= sum(most_excess(objective, excess, box, s) or 0 for s in range(len(instance.sticks)))
    return Bound(duals, numerator)


class Master:
    """The LP over the patterns found so far, for what is still to be cut (at first the whole demand)."""

    def __init__(self, objective: Objective, box: Box, ceiling: int) -> None:
        self.objective = objective
        self.box = box
        self.scale = max(1, FINE // max(1, ceiling))
        self.demands = objective.instance.demands
        self.patterns: list[Pattern] = []
        self.ways: list[int] = []
        self._known: set[tuple[int, tuple[int, ...]]] = set()
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
        drawn = [0] * len(self.box)
        for pattern, n in fixed.items():
            for row in self._rows(self.objective.way(pattern)):
                drawn[row] += n
        for (low, high), used, limits in zip(self.box, drawn, self._stock, strict=True):
            limits.SetBounds(float(max(0, low - used)), float(max(0, high - used)))
        if self._budget is not None and self.objective.budget is not None:
            spent = sum(n * instance.sticks[pattern.stick].cost for pattern, n in fixed.items())
            self._budget.SetUb(float(self.objective.budget - spent))

    def _rows(self, w: int) -> list[int]:
        """The limits that a stick had this way counts towards: its type's, and its own where it keeps an offcut."""
        kept = self.objective.kept
        own = [len(self.objective.instance.sticks) + kept.index(w)] if w in kept else []
        return [self.objective.ways[w].stick, *own]

    def add(self, pattern: Pattern, w: int | None = None) -> bool:
        """Adds a column, had the way w (None: the cheapest); False where it is there already."""
        w = self.objective.way(pattern) if w is None else w
        if (w, pattern.counts) in self._known:
            return False
        self._known.add((w, pattern.counts))
        self.patterns.append(pattern)
        self.ways.append(w)
        way, instance = self.objective.ways[w], self.objective.instance
        column = self._lp.NumVar(0.0, self._lp.infinity(), "")
        self._columns.append(column)
        cost = way.base + way.slope * pattern.fill(instance.sizes)
        self._lp.Objective().SetCoefficient(column, float(cost))
        for i, a in enumerate(pattern.counts):
            if a:
                self._demand[i].SetCoefficient(column, float(a))
        for row in self._rows(w):
            self._stock[row].SetCoefficient(column, 1.0)
        if self._budget is not None:
            self._budget.SetCoefficient(column, float(instance.sticks[pattern.stick].cost))
        return True

    def solve(self) -> tuple[Duals, list[float]] | None:
        """The LP's duals in integers, and each way's for its limits (scaled); None where the solver gives up."""
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        sizes = tuple(max(0, int(row.dual_value() * self.scale)) for row in self._demand)
        budget = 0 if self._budget is None else max(0, int(-self._budget.dual_value() * self.scale))
        limits = [-row.dual_value() * self.scale for row in self._stock]
        return Duals(sizes, budget, self.scale), [
            sum(limits[row] for row in self._rows(w)) for w in range(len(self.objective.ways))
        ]

    def serves(self) -> bool:
        """Whether the LP's solution leaves nothing uncut."""
        return all(column.solution_value() < 1e-7 for column in self._uncut)

    def sticks(self) -> list[float]:
        """How many sticks the LP draws, counted as the box counts them."""
        drawn = [0.0] * len(self.box)
        for w, weight in zip(self.ways, self.weights(), strict=True):
            if weight:
                for row in self._rows(w):
                    drawn[row] += weight
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
        duals, limits = solved
        found = tables(master.objective, duals, master.demands)
        bound = safe_bound(master.objective, duals, found, master.box)
        if best is None or bound.numerator > best.numerator:
            best = bound
        if best.ceiling >= enough or not price(master, duals, limits, found):
            return Relaxed(best, True)
        if effort.spent():
            return Relaxed(best, False)
    return None


def price(master: Master, duals: Duals, limits: Sequence[float], found: dict[int, knapsack.Table]) -> int:
    """Adds the best pattern of every way that pays; returns how many were new."""
    objective = master.objective
    added = 0
    for w, way in enumerate(objective.ways):
        charged = charge(objective, way, duals) + limits[w]
        if found[way.slope].best(way.capacity) > charged + duals.scale * 1e-7 * max(1, way.base):
            counts = found[way.slope].pattern(way.capacity, len(objective.instance.sizes))
            added += master.add(Pattern(way.stick, counts), w)
    return added
