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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from cutplan.cutting.lp.bounds import Box, Duals
from cutplan.cutting.patterns import Counts, Pattern
from cutplan.cutting.problem.instance import remaining
from cutplan.cutting.problem.objective import Objective


@dataclass(frozen=True)
class GenerationParams:
    """Column generation.

    fine:     what the duals are scaled up to: so fine they lose nothing that counts, and values stay below 2^63
    uncut:    a piece left uncut costs so many whole plans: a box with no plan is bounded away
    longest:  milliseconds for one LP: degenerate ones have been seen to cycle
    smooth:   quarters of the best duals so far mixed into the LP's (Wentges 1997), tried in turn until a pattern pays
    columns:  that are added in a round, over all ways
    disjoint: more rounds of pricing for one LP, each without the sizes of the best pattern before
    short:    positions a size of sticks so short that these take less time than the LPs that they save
    shrink:   by which share of itself a demand is at most made smaller for other duals as good
    rounds:   of pricing for these
    """

    fine: int = 10**13
    uncut: int = 1_000
    longest: int = 5_000
    smooth: tuple[int, ...] = (2, 1, 0)
    columns: int = 5
    disjoint: int = 30
    short: int = 50
    shrink: tuple[float, ...] = (0.5, 0.2, 0.1, 0.05)
    rounds: int = 30


class Master:
    """The LP over the patterns found so far, for what is still to be cut (at first the whole demand).

    Exchange columns let a piece stand in for the next smaller one, or for two that fit in it. They keep the duals in
    order and leave the LP's value as it is (dual-optimal inequalities: Valerio de Carvalho, INFORMS J. Comput. 17
    (2005) 175-182). `settle` takes them out, so that the LP's solution is one of real patterns.
    """

    def __init__(self, objective: Objective, box: Box, ceiling: int,
                 params: GenerationParams = GenerationParams()) -> None:
        self.params = params
        self.objective = objective
        self.box = box
        self.scale = max(1, params.fine // max(1, ceiling))
        self.demands = objective.instance.demands
        self.patterns: list[Pattern] = []
        self.ways: list[int] = []
        self._known: set[tuple[int, Counts]] = set()
        self._columns: list[pywraplp.Variable] = []
        self._per = float(max(1, *(way.base for way in objective.ways)))  # the LP reckons in dearest sticks
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetNumThreads(1)
        self._lp.SetTimeLimit(params.longest)
        self._lp.SetSolverSpecificParametersAsString("use_preprocessing:false use_scaling:false")
        infinity = self._lp.infinity()
        self._demand = [self._lp.Constraint(float(d), infinity) for d in self.demands]
        self._stock = [self._lp.Constraint(float(low), float(high)) for low, high in box]
        cap = objective.cap
        self._cap = None if cap is None else self._lp.Constraint(-infinity, cap / self._per)
        self._lp.Objective().SetMinimization()
        self._uncut = [self._column(params.uncut * max(1, ceiling), [(row, 1.0)]) for row in self._demand]
        self.exchanges = [
            self._column(0, [(self._demand[i], -1.0),
                             *((self._demand[j], float(n)) for j, n in Counter(others).items())])
            for i, others in objective.instance.arrangement.exchanges()
        ]

    def _column(self, cost: int, entries: Iterable[tuple[pywraplp.Constraint, float]]) -> pywraplp.Variable:
        column = self._lp.NumVar(0.0, self._lp.infinity(), "")
        self._lp.Objective().SetCoefficient(column, cost / self._per)
        for row, a in entries:
            row.SetCoefficient(column, a)
        return column

    def enter(self, box: Box) -> None:
        """Holds the numbers of sticks within another box."""
        self.box = box
        for (low, high), limits in zip(box, self._stock, strict=True):
            limits.SetBounds(float(low), float(high))

    def settle(self) -> bool:
        """Takes the exchange columns out; False where there are none."""
        for column in self.exchanges:
            column.SetUb(0.0)
        had, self.exchanges = bool(self.exchanges), []
        return had

    def narrow(self, fixed: Counter[Pattern]) -> None:
        """Leaves in the LP what these sticks have not yet cut, drawn or spent."""
        instance = self.objective.instance
        self.demands = remaining(instance, fixed)
        for row, demand in zip(self._demand, self.demands, strict=True):
            row.SetLb(float(demand))
        drawn = [0] * len(self.box)
        for pattern, n in fixed.items():
            for row in self.objective.rows[self.objective.way(pattern)]:
                drawn[row] += n
        for (low, high), used, limits in zip(self.box, drawn, self._stock, strict=True):
            limits.SetBounds(float(max(0, low - used)), float(max(0, high - used)))
        if self._cap is not None and self.objective.cap is not None:
            spent = sum(n * instance.sticks[pattern.stick].cost for pattern, n in fixed.items())
            self._cap.SetUb((self.objective.cap - spent) / self._per)

    def disturb(self, demands: Sequence[float]) -> None:
        """Asks for other numbers of pieces, while `demands` stays what it was."""
        for row, demand in zip(self._demand, demands, strict=True):
            row.SetLb(float(demand))

    def add(self, pattern: Pattern, w: int | None = None) -> bool:
        """Adds a column, had the way w (None: the cheapest); False where it is there already."""
        w = self.objective.way(pattern) if w is None else w
        if (w, pattern.counts) in self._known:
            return False
        self._known.add((w, pattern.counts))
        self.patterns.append(pattern)
        self.ways.append(w)
        way, instance = self.objective.ways[w], self.objective.instance
        entries = [(self._demand[i], float(a)) for i, a in pattern.counts]
        entries += [(self._stock[row], 1.0) for row in self.objective.rows[w]]
        if self._cap is not None:
            entries.append((self._cap, instance.sticks[pattern.stick].cost / self._per))
        self._columns.append(self._column(way.base + way.slope * instance.fill(pattern), entries))
        return True

    def solve(self) -> tuple[Duals, list[float]] | None:
        """The LP's duals in integers, and each way's for its limits (scaled); None where the solver gives up."""
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        fine = self.scale * self._per
        sizes = tuple(max(0, int(row.dual_value() * fine)) for row in self._demand)
        cap = 0 if self._cap is None else max(0, int(-self._cap.dual_value() * self.scale))
        limits = [-row.dual_value() * fine for row in self._stock]
        return Duals(sizes, cap, self.scale), [
            sum(limits[row] for row in self.objective.rows[w]) for w in range(len(self.objective.ways))
        ]

    @property
    def worth(self) -> float:
        """The LP's value."""
        return float(self._lp.Objective().Value() * self._per)

    def serves(self) -> bool:
        """Whether the LP's solution leaves nothing uncut."""
        return all(column.solution_value() < 1e-7 for column in self._uncut)

    def sticks(self) -> list[float]:
        """How many sticks the LP draws, counted as the box counts them."""
        drawn = [0.0] * len(self.box)
        for w, weight in zip(self.ways, self.weights(), strict=True):
            if weight:
                for row in self.objective.rows[w]:
                    drawn[row] += weight
        return drawn

    def weights(self) -> list[float]:
        return [column.solution_value() for column in self._columns]


