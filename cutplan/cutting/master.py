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

import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from ortools.linear_solver import pywraplp

from cutplan.cutting import pricing
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Counts, Instance, Pattern, remaining
from cutplan.cutting.objective import Objective, Way
from cutplan.cutting.pricing import Priced, Use

Box = tuple[tuple[int, int], ...]  # the least and the most sticks of each type, then of each way that keeps an offcut

FINE = 10**13  # the scaled ceiling: duals this fine lose nothing that counts, and pattern values stay below 2^63
PENALTY = 1000  # a piece left uncut costs this many whole plans, so that a box with no plan is bounded away
MIXES = (2, 1, 0)  # quarters of the best duals so far mixed into the LP's, tried in turn until a pattern pays
MANY = 5  # patterns a round, over all ways
PAIRS = 2  # exchanges of each size for two smaller ones
SHRINK = (0.5, 0.2, 0.1, 0.05)  # by which share of itself a demand is at most made smaller for other duals
ROUNDS = 30  # of pricing for them
LONGEST = 5_000


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
    """What column generation ends with: the best exact bound; that of the LP's own duals if it came to its end."""

    bound: Bound
    own: Bound | None = None


def value(objective: Objective, way: Way, counts: Counts, duals: Duals) -> int:
    """A pattern's worth when cut this way: sum_i pi_i a_i - K slope f."""
    worth = sum(a * duals.sizes[i] for i, a in counts)
    if way.slope:
        worth -= duals.scale * way.slope * objective.instance.fill(Pattern(way.stick, counts))
    return worth


def charge(objective: Objective, way: Way, duals: Duals) -> int:
    """What a pattern cut this way must be worth to pay for its stick: K base + mu c_s."""
    return duals.scale * way.base + duals.budget * objective.instance.sticks[way.stick].cost


def mix(best: Duals, latest: Duals, quarters: int) -> Duals:
    """So many quarters of the best duals, the rest the latest: steadier than the LP's own (Wentges, 1997)."""
    def mean(a: int, b: int) -> int:
        return (quarters * a + (4 - quarters) * b) // 4

    return Duals(tuple(map(mean, best.sizes, latest.sizes)), mean(best.budget, latest.budget), latest.scale)


def by_length(objective: Objective, scale: int) -> Duals:
    """Duals to begin with: each size is worth its share of the stick that is cheapest by length."""
    ways = [way for way in objective.ways if objective.instance.sticks[way.stick].available is None] or objective.ways
    best = min(ways, key=lambda way: Fraction(way.base, way.capacity) + way.slope)
    worth = Fraction(best.base, best.capacity) + best.slope
    return Duals(tuple(int(scale * worth * w) for w in objective.instance.sizes), 0, scale)


def tables(objective: Objective, duals: Duals, demands: Sequence[int], box: Box, *, every: bool = False,
           less: int = 0) -> list[Priced]:
    """For each way the exact worth of its patterns.

    Patterns that fall short of what their stick must be worth by more than `less` may be left out, unless the box
    asks for a least number of sticks.
    """
    all_count = any(low for low, _ in box)
    uses = [Use(way.stick, way.capacity, duals.scale * way.slope,
                None if all_count else charge(objective, way, duals) - less) for way in objective.ways]
    return pricing.price(objective.instance, uses, demands, duals.sizes, every)


def excesses(objective: Objective, duals: Duals, found: Sequence[Priced]) -> list[int]:
    """P for each way: the most by which a pattern had that way is worth more than it costs."""
    return [patterns.best() - charge(objective, way, duals)
            for way, patterns in zip(objective.ways, found, strict=True)]


def most_excess(objective: Objective, excess: Sequence[int], box: Box, s: int, using: int | None = None) -> int | None:
    """The most that sticks of type s within the box can be worth more than they cost; None where there is no number.

    With `using`, at least one of them is had that way.
    """
    ways = objective.by_stick[s]
    if not ways:
        return 0
    low, high = box[s]
    flat = ways[0]
    least_flat = int(using == flat)
    if len(ways) == 1:
        low = max(low, least_flat)
        return max(low * excess[flat], high * excess[flat]) if low <= high else None
    keeping = ways[1]
    first, last = box[objective.rows[keeping][-1]]
    first, last = max(first, int(using == keeping)), min(last, high - least_flat)
    if first > last or low > high:
        return None
    totals = []
    for kept in {first, last, min(max(low - least_flat, first), last)}:  # linear between these
        flats = high - kept if excess[flat] > 0 else max(least_flat, low - kept)
        totals.append(flats * excess[flat] + kept * excess[keeping])
    return max(totals)


def safe_bound(objective: Objective, duals: Duals, found: Sequence[Priced], box: Box) -> Bound:
    """The exact bound of these duals, for plans within the box (which is not empty)."""
    instance = objective.instance
    excess = excesses(objective, duals, found)
    numerator = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
    numerator -= duals.budget * (objective.budget or 0)
    numerator -= sum(most_excess(objective, excess, box, s) or 0 for s in range(len(instance.sticks)))
    return Bound(duals, numerator)


def exchanges(instance: Instance) -> Iterator[tuple[int, Counter[int]]]:
    """What can be cut in the place of a piece: the next smaller one, and pairs that leave the least of it over."""
    for i in range(len(instance.sizes)):
        if (other := instance.smaller(i)) is not None:
            yield i, Counter([other])
    if not instance.spaced:
        for i, j, k in pairs(instance.sizes):
            yield i, Counter([j, k])


@lru_cache(maxsize=16)
def pairs(sizes: tuple[int, ...]) -> tuple[tuple[int, int, int], ...]:
    """(i, j, k): pieces j and k fit in the place of i, and few pairs leave less of it over. `sizes` fall."""
    falling = np.array(sizes, dtype=np.int64)
    found = []
    for i, size in enumerate(sizes):
        j = np.arange(i + 1, len(sizes))
        k = np.maximum(j, np.searchsorted(-falling, falling[j] - size))  # the largest that fits beside j
        j, k = j[k < len(sizes)], k[k < len(sizes)]
        nearest = np.argsort(size - falling[j] - falling[k], kind="stable")[:PAIRS]
        found += [(i, int(j[n]), int(k[n])) for n in nearest]
    return tuple(found)


class Master:
    """The LP over the patterns found so far, for what is still to be cut (at first the whole demand).

    Exchange columns let a piece stand in for the next smaller one, or for two that fit in it. They keep the duals in
    order and leave the LP's value as it is (dual-optimal inequalities: Valerio de Carvalho, INFORMS J. Comput. 17
    (2005) 175-182). `settle` takes them out, so that the LP's solution is one of real patterns.
    """

    def __init__(self, objective: Objective, box: Box, ceiling: int) -> None:
        self.objective = objective
        self.box = box
        self.scale = max(1, FINE // max(1, ceiling))
        self.demands = objective.instance.demands
        self.patterns: list[Pattern] = []
        self.ways: list[int] = []
        self._known: set[tuple[int, Counts]] = set()
        self._columns: list[pywraplp.Variable] = []
        self._per = float(max(1, *(way.base for way in objective.ways)))  # the LP reckons in dearest sticks
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetNumThreads(1)
        self._lp.SetTimeLimit(LONGEST)  # of one LP, in ms: degenerate ones have been seen to cycle
        self._lp.SetSolverSpecificParametersAsString("use_preprocessing:false use_scaling:false")
        infinity = self._lp.infinity()
        self._demand = [self._lp.Constraint(float(d), infinity) for d in self.demands]
        self._stock = [self._lp.Constraint(float(low), float(high)) for low, high in box]
        budget = objective.budget
        self._budget = None if budget is None else self._lp.Constraint(-infinity, budget / self._per)
        self._lp.Objective().SetMinimization()
        self._uncut = [self._column(PENALTY * max(1, ceiling), [(row, 1.0)]) for row in self._demand]
        self.exchanges = [
            self._column(0, [(self._demand[i], -1.0), *((self._demand[j], float(n)) for j, n in others.items())])
            for i, others in exchanges(objective.instance)
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
        if self._budget is not None and self.objective.budget is not None:
            spent = sum(n * instance.sticks[pattern.stick].cost for pattern, n in fixed.items())
            self._budget.SetUb((self.objective.budget - spent) / self._per)

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
        if self._budget is not None:
            entries.append((self._budget, instance.sticks[pattern.stick].cost / self._per))
        self._columns.append(self._column(way.base + way.slope * instance.fill(pattern), entries))
        return True

    def solve(self) -> tuple[Duals, list[float]] | None:
        """The LP's duals in integers, and each way's for its limits (scaled); None where the solver gives up."""
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        fine = self.scale * self._per
        sizes = tuple(max(0, int(row.dual_value() * fine)) for row in self._demand)
        budget = 0 if self._budget is None else max(0, int(-self._budget.dual_value() * self.scale))
        limits = [-row.dual_value() * fine for row in self._stock]
        return Duals(sizes, budget, self.scale), [
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


def starters(objective: Objective) -> list[Pattern]:
    """One pattern for each size and stick: as many of that size as fit."""
    instance = objective.instance
    found = []
    for way in objective.ways:
        for i, size in enumerate(instance.sizes):
            for a in range(min(way.capacity // size, instance.demands[i]), 0, -1):
                if instance.fill(pattern := Pattern(way.stick, ((i, a),))) <= way.capacity:
                    found.append(pattern)
                    break
    return found


def relax(master: Master, effort: Effort, enough: Callable[[Bound, float], bool],
          start: Bound | None = None) -> Relaxed | None:
    """Generates columns until the LP is solved, the effort is spent, or the bound and the LP's value are `enough`.

    `start` is any bound for the same box. None where the LP solver gives up.
    """
    best = start or bound_of(master, by_length(master.objective, master.scale))
    while (solved := master.solve()) is not None:
        if enough(best, master.worth):
            return Relaxed(best)
        for quarters in MIXES:
            duals = mix(best.duals, solved[0], quarters)
            found = tables(master.objective, duals, master.demands, master.box)
            bound = safe_bound(master.objective, duals, found, master.box)
            if bound.numerator > best.numerator:
                best = bound
            if price(master, solved, duals, found) or effort.spent():
                break
        else:
            if not master.settle():
                return Relaxed(best, bound)
        if effort.spent():
            return Relaxed(best)
    return None


def elsewhere(master: Master, tries: int, effort: Effort) -> Iterator[Bound]:
    """Bounds of other duals, nearly as good: the LP's for smaller demands, and the mean of all so far.

    Where many duals are as good as each other, their mean leaves the fewest patterns worth a look: each pattern that
    any of them rules out.
    """
    chance = random.Random(0)
    found: list[Duals] = []
    try:
        for _ in range(tries):
            share = chance.choice(SHRINK)
            master.disturb([d * (1 - share * chance.random()) for d in master.demands])
            if (duals := settled(master, effort)) is None:
                return
            yield bound_of(master, duals)
            found.append(duals)
            if len(found) > 1:
                yield bound_of(master, mean(found))
    finally:
        master.disturb(master.demands)


def settled(master: Master, effort: Effort) -> Duals | None:
    """The LP's duals after some more rounds of pricing; None where it gives up or the effort is spent."""
    for _ in range(ROUNDS):
        solved = master.solve()
        if solved is None or effort.spent():
            return None
        found = tables(master.objective, solved[0], master.demands, master.box)
        if not price(master, solved, solved[0], found):
            return solved[0]
    solved = master.solve()
    return solved and solved[0]


def mean(found: Sequence[Duals]) -> Duals:
    def average(values: Iterable[int]) -> int:
        return sum(values) // len(found)

    return Duals(tuple(map(average, zip(*(duals.sizes for duals in found), strict=True))),
                 average(duals.budget for duals in found), found[0].scale)


def bound_of(master: Master, duals: Duals) -> Bound:
    """The exact bound of any duals."""
    found = tables(master.objective, duals, master.demands, master.box)
    return safe_bound(master.objective, duals, found, master.box)


def price(master: Master, solved: tuple[Duals, Sequence[float]], near: Duals,
          found: Sequence[Priced]) -> int:
    """Adds the best patterns of every way, by the tables of duals `near` the LP's, that pay by the LP's own.

    Returns how many were new.
    """
    objective = master.objective
    duals, limits = solved
    many = max(1, MANY // len(objective.ways))
    added = 0
    for w, way in enumerate(objective.ways):
        hopeful = max(0.0, charge(objective, way, near) + limits[w] - duals.scale * way.base / 50)
        if found[w].best() <= hopeful:
            continue
        least = charge(objective, way, duals) + limits[w] + duals.scale * 1e-7 * max(1, way.base)
        for counts in found[w].patterns(hopeful, many):
            if value(objective, way, counts, duals) > least:
                added += master.add(Pattern(way.stick, counts), w)
    return added
