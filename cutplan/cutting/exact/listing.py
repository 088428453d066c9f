"""Closing the gap: every pattern that a better plan could use, and a MIP over them.

In a plan worth less than U each pattern's reduced cost is at most U - bound; where all such patterns can be listed,
the MIP over them is exact: if it finds no plan below U, there is none (Lubbecke and Desrosiers, Oper. Res. 53 (2005)
1007-1023, on reduced-cost fixing of columns).
"""

from __future__ import annotations

import datetime
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from cutplan.cutting.exact.branch_and_cut import BranchAndCutParams, refute
from cutplan.cutting.heuristics.first_fit import value
from cutplan.cutting.lp import bounds
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import by_size
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class ListingParams:
    """Searches over listed patterns.

    nodes:   of the MIP, at first and where the proof came to no end: counts, so that the same input gives the same plan
    seconds: for one MIP, should its nodes take that long
    refute:  the branch and cut that proves that there is none better
    """

    nodes: tuple[int, int] = (50, 1_000)
    seconds: float = 10.0
    refute: BranchAndCutParams = field(default_factory=BranchAndCutParams)


@dataclass(frozen=True)
class ListingVerdict:
    """A plan below the ceiling or None; and the bound below which the search proved that there is none."""

    plan: Solution | None
    bound: int | None


def worthwhile(objective: Objective, bound: bounds.Bound, ceiling: int, box: bounds.Box,
               most: int) -> list[Pattern] | None:
    """Every pattern that a plan in the box worth less than `ceiling` can use; None where they are more than `most`.

    A plan's value lies above the bound by what its sticks fall short of the most their type can be worth; a pattern
    that alone falls short by more than the gap is in no such plan.
    """
    instance = objective.instance
    duals = bound.duals
    gap = duals.scale * (ceiling - 1) - bound.numerator
    found = bounds.tables(objective, duals, instance.demands, box, every=True, less=gap)
    # by these tables patterns may seem worth more than by those of the bound, and then it is lower
    gap = max(gap, duals.scale * (ceiling - 1) - bounds.safe_bound(objective, duals, found, box).numerator)
    patterns: dict[Pattern, None] = {}
    excess = bounds.excesses(objective, duals, found)
    for w, way in enumerate(objective.ways):
        most_excess = bounds.most_excess(objective, excess, box, way.stick)
        using = bounds.most_excess(objective, excess, box, way.stick, using=w)
        if most_excess is None or using is None:
            continue
        least = bounds.charge(objective, way, duals) + excess[w] + (most_excess - using) - gap
        listed = found[w].above(least, most - len(patterns))
        if listed is None:
            return None
        patterns.update(dict.fromkeys(Pattern(way.stick, counts) for counts in listed if counts))
    return list(patterns)


def nearest(objective: Objective, bound: bounds.Bound, ceiling: int, floor: int, box: bounds.Box, most: int,
            budget: Budget) -> list[Pattern]:
    """The patterns of least reduced cost, at most so many: those that a plan can use that is worth less than `ceiling`,
    or else that comes half way or more from there to `floor`, which no plan is worth less than."""
    while (patterns := worthwhile(objective, bound, ceiling, box, most)) is None:
        budget.count()
        if ceiling <= floor + 1:
            return []
        ceiling = (ceiling + floor) // 2
    return patterns


def search(objective: Objective, patterns: Sequence[Pattern], box: bounds.Box, floor: int, ceiling: int,
           budget: Budget, params: ListingParams = ListingParams(), patient: bool = True) -> ListingVerdict:
    """The best plan over these patterns and within the box, worth at least `floor` and less than `ceiling`.

    HiGHS only looks for plans, in floating point; that there is none better is proven in integers.
    """
    found: Solution | None = None
    worth = ceiling

    def better(plan: Solution | None) -> bool:
        nonlocal found, worth
        if plan is None or value(objective, plan) >= worth:
            return False
        found, worth = plan, value(objective, plan)
        return True

    def looked(nodes: int) -> bool:
        return better(look(objective, patterns, box, floor, worth, budget, nodes, params=params))

    looked(params.nodes[0])
    while worth > floor:
        answer = refute(objective, patterns, box, worth - 1, budget, params.refute, patient)
        if answer.proven and answer.plan is None:
            return ListingVerdict(found, worth)
        if not better(answer.plan) and (objective.cap is not None or not looked(params.nodes[1])):
            return ListingVerdict(found, None)
    return ListingVerdict(found, worth)


def look(objective: Objective, patterns: Sequence[Pattern], box: bounds.Box, floor: int, ceiling: int,
         budget: Budget, nodes: int, complete: bool = True, params: ListingParams = ListingParams()) -> Solution | None:
    """The best plan that HiGHS finds in so many nodes, if any. `complete`: all patterns it could use are there."""
    from ortools.math_opt.python import mathopt

    instance = objective.instance
    model = mathopt.Model()
    x = [model.add_integer_variable(lb=0.0) for _ in patterns]
    for cuts, demand in zip(by_size(instance, patterns), instance.demands, strict=True):
        # what is cut too many of can be left out of its patterns, and where those are listed too equality is sharper
        model.add_linear_constraint(lb=demand, ub=demand if complete else math.inf,
                                    expr=mathopt.fast_sum(a * x[k] for k, a in cuts))
    kept = objective.kept
    ways = [objective.way(p) for p in patterns]
    own = [len(instance.sticks) + kept.index(w) if w in kept else -1 for w in ways]
    rows = [(p.stick, row) for p, row in zip(patterns, own, strict=True)]
    for s, (_, high) in enumerate(box):
        drawn = [x[k] for k, (stick, row) in enumerate(rows) if s in (stick, row)]
        if drawn:
            model.add_linear_constraint(mathopt.fast_sum(drawn) <= high)
    if objective.cap is not None:
        costs = [instance.sticks[p.stick].cost for p in patterns]
        model.add_linear_constraint(
            mathopt.fast_sum(c * x[k] for k, c in enumerate(costs) if c) <= objective.cap
        )
    worth = mathopt.fast_sum(objective.cost(p) * x[k] for k, p in enumerate(patterns))
    model.add_linear_constraint(worth <= ceiling - 1)
    model.add_linear_constraint(worth >= floor)
    if floor < ceiling - 1:  # else any plan will do, and is found sooner without an aim
        model.minimize(worth)
    limit = min(params.seconds, budget.left())
    if limit <= 0.0:
        return None
    budget.count()
    result = mathopt.solve(
        model, mathopt.SolverType.HIGHS,
        params=mathopt.SolveParameters(
            time_limit=datetime.timedelta(seconds=limit), node_limit=nodes,
            relative_gap_tolerance=0.0, absolute_gap_tolerance=0.5,  # the worth is a whole number
        ),
    )
    if not result.has_primal_feasible_solution():
        return None
    values = result.variable_values()
    return Counter({p: n for k, p in enumerate(patterns) if (n := round(values[x[k]]))})
