"""How many set-ups plans that are good enough have at least: an LP in which a pattern counts by how often it is cut.

A set-up S is used for at most m_S sticks: no more than the demand of each length allows by how many S cuts of it, nor
than there are. So a plan that cuts pattern p of set-up S x_p times has at least sum_p x_p / m_S set-ups, and

    min sum_p x_p / m_S   s.t.   sum_p a_ip x_p >= d_i (pi_i),   sum_p g_p x_p <= U (nu),   sum_p c_p x_p <= C (mu),
                                 sum_{p of s} x_p <= u_s (delta_s)

bounds them, of all plans worth at most U at a cost of at most C (Vanderbeck, Oper. Res. 48 (2000) 915-926, has this
relaxation). Any integers pi, nu, mu, delta >= 0 prove

    (sum_i d_i pi_i - nu U - mu C - sum_s u_s delta_s) / K,

where K is at least m times what a pattern is worth beyond its share of U, C and u_s, for each pattern that can be cut m
times. For each m that is one knapsack in which size i is cut d_i // m times at most.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ortools.linear_solver import pywraplp

from cutplan.cutting.arrangement.protocol import Priced, Use
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.objective import Objective, Way
from cutplan.cutting.setup import by_setting, setup, there, uses
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class SetupLpParams:
    """Column generation for the bound on set-ups.

    scale:   of the duals: what a set-up counts
    rounds:  of pricing
    columns: that one knapsack adds
    work:    knapsacks times sizes, in all rounds
    kinds:   of stick; with more no LP is solved
    marks:   different m; with more no LP is solved
    proof:   positions of the longest stick times sizes times m that a certificate may make `check` go through
    longest: milliseconds for one LP
    """

    scale: int = 10**12
    rounds: int = 60
    columns: int = 3
    work: int = 60_000
    kinds: int = 60
    marks: int = 400
    proof: int = 4 * 10**8
    longest: int = 5_000


@dataclass(frozen=True)
class SetupDuals:
    """Integer duals; K = `scale` is what a set-up counts. `used` is for a unit of U, `cost` for a coin of C, and
    `limits` for a stick of each kind."""

    sizes: tuple[int, ...]
    used: int
    cost: int
    limits: tuple[int, ...]
    scale: int


@dataclass(frozen=True)
class SetupBound:
    """What the duals prove: numerator / duals.scale. `patterns` are those of the LP.

    `checkable`: `check` proves it again soon enough.
    """

    duals: SetupDuals
    numerator: int
    patterns: tuple[Pattern, ...] = ()
    checkable: bool = False

    @property
    def ceiling(self) -> int:
        return max(0, -(-self.numerator // self.duals.scale))

    def saving(self, coins: int) -> SetupBound:
        """What the same duals prove of plans that may cost so many coins less."""
        return replace(self, numerator=self.numerator + self.duals.cost * coins)


def setup_bound(objective: Objective, ceiling: int, known: Iterable[Pattern], enough: int, budget: Budget,
                params: SetupLpParams = SetupLpParams()) -> SetupBound | None:
    """The bound for plans worth at most `ceiling` and within the cap, from `known` patterns, which hold such a plan.

    By the second tier's objective a plan is worth the length it uses up, by the first tier's what it costs. The search
    goes no further once `enough` is reached. None where there was no time, or kinds of stick or m are too many.
    """
    if len(objective.instance.sticks) > params.kinds or objective.instance.blanks is not None:
        return None
    lp = SetupLp(objective, ceiling, params)
    if len(lp.multiples) > params.marks:
        return None
    for pattern in known:
        if objective.by_stick[pattern.stick]:
            lp.add(pattern)
    best: SetupBound | None = None
    left = params.work // max(1, len(objective.instance.sizes))
    for _ in range(params.rounds):
        duals = None if budget.spent() or left < 0 else lp.solve()
        if duals is None:
            break
        found, new = lp.priced(duals)
        left -= len(lp.multiples)
        budget.count()
        if best is None or found.numerator * best.duals.scale > best.numerator * found.duals.scale:
            best = found
        if not new or best.ceiling >= min(enough, math.ceil(lp.value - 1e-6)):
            break
    return None if best is None else replace(best, patterns=tuple(lp.patterns), checkable=lp.checkable())


class SetupLp:
    """The LP over the patterns found so far; it runs in floating point and proves nothing."""

    def __init__(self, objective: Objective, ceiling: int, params: SetupLpParams) -> None:
        self.objective, self.params = objective, params
        self.most_cost = ceiling if objective.cap is None else objective.cap
        self.most_used = 0 if objective.cap is None else ceiling  # 0: any length
        self.instance = objective.instance
        self.demand, self.there = by_setting(self.instance), there(self.instance)
        counts = {total // k for total in self.demand.values() for k in range(1, total + 1)}
        self.multiples = sorted(counts | {most for most in self.there.values() if most <= max(counts)})
        self.patterns: list[Pattern] = []
        self.value = 0.0  # of the last solution
        self._known: set[Pattern] = set()
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetTimeLimit(params.longest)
        infinity = self._lp.infinity()
        self._demand = [self._lp.Constraint(float(d), infinity) for d in self.instance.demands]
        self._used = self._lp.Constraint(-infinity, 1.0)
        self._cost = self._lp.Constraint(-infinity, 1.0)
        self._limits = {s: self._lp.Constraint(-infinity, float(stick.available))
                        for s, stick in enumerate(self.instance.sticks) if stick.available is not None}
        self._lp.Objective().SetMinimization()

    def add(self, pattern: Pattern) -> bool:
        """Adds a column; False where it is there already, or the saw is never set so."""
        if pattern in self._known:
            return False
        most = uses(setup(pattern, self.instance), self.demand, self.there)
        if not most:
            return False
        self._known.add(pattern)
        self.patterns.append(pattern)
        column = self._lp.NumVar(0.0, self._lp.infinity(), "")
        self._lp.Objective().SetCoefficient(column, 1.0 / most)
        for i, a in pattern.counts:
            self._demand[i].SetCoefficient(column, float(a))
        if self.most_used:
            self._used.SetCoefficient(column, self.objective.cost(pattern) / self.most_used)
        self._cost.SetCoefficient(column, self.instance.sticks[pattern.stick].cost / max(1, self.most_cost))
        if pattern.stick in self._limits:
            self._limits[pattern.stick].SetCoefficient(column, 1.0)
        return True

    def checkable(self) -> bool:
        """Whether knapsacks of plain sums, not too large, prove the bound."""
        longest = max(stick.capacity for stick in self.instance.sticks)
        work = longest * len(self.instance.sizes) * len(self.multiples)
        return self.instance.arrangement.additive and work <= self.params.proof

    def solve(self) -> SetupDuals | None:
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        self.value = float(self._lp.Objective().Value())
        scale = self.params.scale

        def whole(row: pywraplp.Constraint, sign: int, per: int) -> int:
            return max(0, int(sign * row.dual_value() * scale / max(1, per)))

        return SetupDuals(
            tuple(whole(row, 1, 1) for row in self._demand), whole(self._used, -1, self.most_used),
            whole(self._cost, -1, self.most_cost),
            tuple(whole(self._limits[s], -1, 1) if s in self._limits else 0
                  for s in range(len(self.instance.sticks))), scale)

    def priced(self, duals: SetupDuals) -> tuple[SetupBound, int]:
        """The exact bound of the duals, and how many patterns that pay were new."""
        scale, new = duals.scale, 0
        for m, way, patterns in self._tables(duals):
            charge = self._charge(way, duals)
            scale = max(scale, m * (patterns.best() - charge))
            if m * (patterns.best() - charge) > duals.scale * (1 + 1e-7):
                for counts in patterns.patterns(charge + duals.scale / m, self.params.columns):
                    new += self.add(Pattern(way.stick, counts))
        numerator = sum(d * pi for d, pi in zip(self.instance.demands, duals.sizes, strict=True))
        numerator -= duals.used * self.most_used + duals.cost * self.most_cost
        numerator -= sum(delta * (self.instance.sticks[s].available or 0) for s, delta in enumerate(duals.limits))
        return SetupBound(replace(duals, scale=scale), numerator), new

    def _charge(self, way: Way, duals: SetupDuals) -> int:
        """What a pattern's share of U, C and u_s comes to, but for what rises with its fill."""
        return duals.used * way.base + duals.cost * self.instance.sticks[way.stick].cost + duals.limits[way.stick]

    def _tables(self, duals: SetupDuals) -> Iterator[tuple[int, Way, Priced]]:
        """For each way of using a stick, and each m that it can be used for, the patterns that can be cut m times."""
        instance = self.instance
        for m in self.multiples:
            ways = [way for way in self.objective.ways if m <= self.there[instance.sticks[way.stick].length]]
            wanted = [Use(way.stick, way.capacity, duals.used * way.slope,
                          max(0, self._charge(way, duals) + duals.scale // m)) for way in ways]
            bounds = [min(d, self.demand[setting] // m)
                      for d, setting in zip(instance.demands, instance.settings, strict=True)]
            yield from ((m, way, patterns) for way, patterns in zip(
                ways, instance.price(wanted, bounds, duals.sizes), strict=True))
