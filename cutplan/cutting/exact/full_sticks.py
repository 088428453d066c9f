"""Plans of full sticks, where so little may be wasted that all patterns for it can be listed.

    sum_p a_ip x_p = d_i,   sum_p x_p = m,   x_p whole

over the patterns p that leave no more than R = m W - sum_i d_i w_i of their stick, with as many pieces as a stick has
on average, N / m rounded down or up. R is less than the smallest piece, so that no plan of m sticks cuts a piece too
many. Full sticks with fewer pieces are rare where pieces are long, and each with more needs one with fewer beside it:
left out are very many patterns, and few plans.

Some sticks that are whole at a corner of the LP drawn at random are settled, and CP-SAT decides about the rest in a
moment; then others. Left to itself it finds a plan at once or not for very long (Gomes, Selman and Kautz, AAAI 1998,
431-437, on restarts).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from cutplan.cutting.exact.completion import left_over
from cutplan.cutting.heuristics.diving import take_whole
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance, by_size
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class FullSticksParams:
    """Putting full sticks together.

    patterns: with however many pieces, up to which it is tried
    tries:    each with other sticks settled first; and once all else has come to nothing
    settled:  the part of the pieces that these carry
    whole:    the part of a stick from which a pattern's weight counts as a whole one
    work:     deterministic seconds of CP-SAT for one try, about so many of a quick machine
    """

    patterns: int = 6_000
    tries: tuple[int, int] = (600, 5_000)
    settled: float = 0.2
    whole: float = 0.9
    work: float = 2.0


class FullSticksLP:
    """The LP over the patterns; a piece left uncut costs more than any plan."""

    def __init__(self, instance: Instance, patterns: Sequence[Pattern]) -> None:
        self.patterns = patterns
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetNumThreads(1)
        self._lp.SetSolverSpecificParametersAsString("use_preprocessing:false")
        self._lp.Objective().SetMinimization()
        self._x = [self._lp.NumVar(0.0, self._lp.infinity(), "") for _ in patterns]
        self._demand = [self._lp.Constraint(float(d), float(d)) for d in instance.demands]
        for row, cuts in zip(self._demand, by_size(instance, patterns), strict=True):
            for k, a in cuts:
                row.SetCoefficient(self._x[k], float(a))
            uncut = self._lp.NumVar(0.0, self._lp.infinity(), "")
            row.SetCoefficient(uncut, 1.0)
            self._lp.Objective().SetCoefficient(uncut, float(len(patterns)))

    def corner(self, left: Sequence[int], chance: random.Random) -> list[float]:
        """The weights at a corner drawn at random, for what is left to be cut; none where that cannot be."""
        for row, demand in zip(self._demand, left, strict=True):
            row.SetBounds(float(demand), float(demand))
        for pattern, x in zip(self.patterns, self._x, strict=True):
            x.SetUb(float(pattern.often(left)))
            self._lp.Objective().SetCoefficient(x, chance.random())
        if self._lp.Solve() != pywraplp.Solver.OPTIMAL or self._lp.Objective().Value() >= len(self.patterns):
            return []
        return [x.solution_value() for x in self._x]


def put_together(instance: Instance, patterns: Sequence[Pattern], sticks: int, chance: random.Random, budget: Budget,
                 params: FullSticksParams = FullSticksParams(), insist: bool = False) -> Solution | None:
    """A plan of so many sticks, each cut by one of these patterns; None if not found."""
    low, over = divmod(sum(instance.demands), sticks)
    usual = [pattern for pattern in patterns if low <= sum(a for _, a in pattern.counts) <= low + (over > 0)]
    lp = FullSticksLP(instance, usual)
    for _ in range(params.tries[insist]):
        if budget.spent():
            return None
        budget.count()
        fixed = settled(lp, list(instance.demands), chance, params)
        if not fixed:  # the LP of all has no plan, or none of whole sticks
            return None
        if (rest := filled(left_over(instance, fixed), usual, sticks - fixed.total(), budget, params.work)) is not None:
            return fixed + rest
    return None


def settled(lp: FullSticksLP, left: list[int], chance: random.Random, params: FullSticksParams) -> Solution:
    """Sticks that carry such a part of the pieces, whole in the LP, or where none is nearest to it."""
    fixed: Solution = Counter()
    enough = (1 - params.settled) * sum(left)
    while sum(left) > enough and (weights := lp.corner(left, chance)):
        take_whole(weights, params.whole, lp.patterns.__getitem__, left, enough, fixed, chance)
    return fixed


def filled(rest: Instance, patterns: Sequence[Pattern], sticks: int, budget: Budget, work: float) -> Solution | None:
    """So many sticks for exactly what is left, if CP-SAT finds them in that time."""
    from ortools.sat.python import cp_model

    from cutplan.cutting.exact.cpsat import solved

    some = [pattern for pattern in patterns if pattern.often(rest.demands)]
    model = cp_model.CpModel()
    x = [model.new_int_var(0, pattern.often(rest.demands), "") for pattern in some]
    for cuts, demand in zip(by_size(rest, some), rest.demands, strict=True):
        model.add(sum(a * x[k] for k, a in cuts) == demand)
    model.add(sum(x) == sticks)
    solver, status = solved(model, budget, work, linear=0)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return Counter({pattern: n for pattern, column in zip(some, x, strict=True) if (n := solver.value(column))})
