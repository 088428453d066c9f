"""Closing the gap: every pattern that a better plan could use, and a MIP over them.

In a plan worth less than U each pattern's reduced cost is at most U - bound; where all such patterns can be listed,
the MIP over them is exact: if it finds no plan below U, there is none (Lubbecke and Desrosiers, Oper. Res. 53 (2005)
1007-1023, on reduced-cost fixing of columns).
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.cutting import master as lp
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Pattern, by_size
from cutplan.cutting.knapsack import above
from cutplan.cutting.objective import Objective
from cutplan.cutting.rounding import Plan, value

NODES = 2_000  # a count, not a time, so that the same input gives the same plan
SECONDS = 20.0
WORK = 0.5  # CP-SAT's deterministic seconds


@dataclass(frozen=True)
class Outcome:
    """A plan below the ceiling or None; and the bound below which the search proved that there is none."""

    plan: Plan | None
    bound: int | None


def worthwhile(objective: Objective, bound: lp.Bound, ceiling: int, box: lp.Box,
               most: int) -> list[Pattern] | None:
    """Every pattern that a plan in the box worth less than `ceiling` can use; None where they are more than `most`.

    A plan's value lies above the bound by what its sticks fall short of the most their type can be worth; a pattern
    that alone falls short by more than the gap is in no such plan.
    """
    instance = objective.instance
    duals = bound.duals
    gap = duals.scale * (ceiling - 1) - bound.numerator
    found = lp.tables(objective, duals, instance.demands, box, every=True, less=gap)
    patterns: dict[Pattern, None] = {}
    excess = lp.excesses(objective, duals, found)
    for w, way in enumerate(objective.ways):
        most_excess = lp.most_excess(objective, excess, box, way.stick)
        using = lp.most_excess(objective, excess, box, way.stick, using=w)
        if most_excess is None or using is None:
            continue
        least = lp.charge(objective, way, duals) + excess[w] + (most_excess - using) - gap
        listed = above(found[way.slope], way.capacity, least, most - len(patterns))
        if listed is None:
            return None
        patterns.update(dict.fromkeys(Pattern(way.stick, counts) for counts in listed if counts))
    return list(patterns)


def search(objective: Objective, patterns: Sequence[Pattern], box: lp.Box, floor: int, ceiling: int,
           effort: Effort) -> Outcome:
    """The best plan over these patterns and within the box, worth at least `floor` and less than `ceiling`.

    HiGHS looks for it in floating point, so its word that there is none better is not taken: CP-SAT, which reckons in
    integers, must find none either.
    """
    found = look(objective, patterns, box, floor, ceiling, effort)
    while found.bound is not None and found.bound > floor:
        plan, ended = confirm(objective, patterns, box, found.bound - 1, effort)
        if plan is not None:
            found = Outcome(plan, value(objective, plan))
        else:
            return Outcome(found.plan, found.bound if ended else None)
    return found


def confirm(objective: Objective, patterns: Sequence[Pattern], box: lp.Box, most: int,
            effort: Effort) -> tuple[Plan | None, bool]:
    """A plan worth at most `most`, or None; and whether the search came to its end."""
    from ortools.sat.python import cp_model

    if effort.spent():
        return None, False
    instance = objective.instance
    model = cp_model.CpModel()
    # what a better plan cuts too many of can be left out of its patterns, and those are listed too: so equality
    x = [model.new_int_var(0, min(box[p.stick][1], p.often(instance.demands)), "") for p in patterns]
    for cuts, demand in zip(by_size(instance, patterns), instance.demands, strict=True):
        model.add(sum(a * x[k] for k, a in cuts) == demand)
    for s in range(len(instance.sticks)):
        model.add(sum(x[k] for k, p in enumerate(patterns) if p.stick == s) <= box[s][1])
    if objective.budget is not None:
        model.add(sum(instance.sticks[p.stick].cost * x[k] for k, p in enumerate(patterns)) <= objective.budget)
    model.add(sum(objective.cost(p) * x[k] for k, p in enumerate(patterns)) <= most)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = WORK
    solver.parameters.max_time_in_seconds = min(effort.left(), 1e6)
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Counter({p: n for k, p in enumerate(patterns) if (n := solver.value(x[k]))}), True
    return None, status == cp_model.INFEASIBLE


def look(objective: Objective, patterns: Sequence[Pattern], box: lp.Box, floor: int, ceiling: int,
         effort: Effort, nodes: int = NODES) -> Outcome:
    """What HiGHS makes of it: a plan or none, and the bound it believes in."""
    from ortools.math_opt.python import mathopt

    instance = objective.instance
    model = mathopt.Model()
    x = [model.add_integer_variable(lb=0.0) for _ in patterns]
    for cuts, demand in zip(by_size(instance, patterns), instance.demands, strict=True):
        # what is cut too many of can be left out of its patterns, and those are listed too: so equality
        model.add_linear_constraint(mathopt.fast_sum(a * x[k] for k, a in cuts) == demand)
    kept = objective.kept
    ways = [objective.way(p) for p in patterns]
    own = [len(instance.sticks) + kept.index(w) if w in kept else -1 for w in ways]
    rows = [(p.stick, row) for p, row in zip(patterns, own, strict=True)]
    for s, (_, high) in enumerate(box):
        drawn = [x[k] for k, (stick, row) in enumerate(rows) if s in (stick, row)]
        if drawn:
            model.add_linear_constraint(mathopt.fast_sum(drawn) <= high)
    if objective.budget is not None:
        costs = [instance.sticks[p.stick].cost for p in patterns]
        model.add_linear_constraint(
            mathopt.fast_sum(c * x[k] for k, c in enumerate(costs) if c) <= objective.budget
        )
    worth = mathopt.fast_sum(objective.cost(p) * x[k] for k, p in enumerate(patterns))
    model.add_linear_constraint(worth <= ceiling - 1)
    model.add_linear_constraint(worth >= floor)
    if floor < ceiling - 1:  # else any plan will do, and is found sooner without an aim
        model.minimize(worth)
    limit = min(SECONDS, effort.left())
    if limit <= 0.0:
        return Outcome(None, None)
    result = mathopt.solve(
        model, mathopt.SolverType.HIGHS,
        params=mathopt.SolveParameters(
            time_limit=datetime.timedelta(seconds=limit), node_limit=nodes,
            relative_gap_tolerance=0.0, absolute_gap_tolerance=0.5,  # the worth is a whole number
        ),
    )
    reason = result.termination.reason
    if reason in (mathopt.TerminationReason.INFEASIBLE, mathopt.TerminationReason.INFEASIBLE_OR_UNBOUNDED):
        return Outcome(None, ceiling)
    if not result.has_primal_feasible_solution():
        return Outcome(None, None)
    values = result.variable_values()
    plan = Counter({p: n for k, p in enumerate(patterns) if (n := round(values[x[k]]))})
    return Outcome(plan, value(objective, plan) if reason == mathopt.TerminationReason.OPTIMAL else None)
