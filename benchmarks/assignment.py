"""The textbook model of one profile, a variable for each piece length on each stick, in CP-SAT and in HiGHS.

Kantorovich (Management Science 6 (1960) 366-422): y_j = 1 where stick j is used, x_ij pieces of
length i on it;

    min sum_j c_j y_j
    with  sum_j x_ij = d_i,  sum_i w_i x_ij <= W_j y_j,  y_j >= y_j+1 among sticks of one kind.

Of each kind there are as many sticks as first-fit decreasing needs to cut all that fits on it: a best plan
needs no more, for what it cuts from the kind could be packed again as well as all that fits can. Nor does a
plan no dearer than first-fit's draw more of a kind than its cost would buy.
"""

from __future__ import annotations

import datetime
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ortools.math_opt.python import mathopt
from ortools.sat.python import cp_model

from benchmarks.firstfit import Kind, Stick, Sticks, Task, cost, fault, fill, first_fit_decreasing

WORKERS = 2  # of CP-SAT; HiGHS keeps its own number, which cannot be changed once it has run


@dataclass(frozen=True)
class Answer:
    """What a model made of one profile: its sticks (None: none found), its bound in coins, proven or not."""

    sticks: Sticks | None
    bound: int
    proven: bool


@dataclass(frozen=True)
class Slot:
    """Stick j of the model: its kind, and what first-fit cuts from it (None: nothing)."""

    kind: Kind
    first_fit: Stick | None


Solve = Callable[[Task, float], Answer]


def slots(task: Task) -> list[Slot]:
    """The sticks of the model, those of one kind together, first-fit's own in front."""
    plain = first_fit_decreasing(task)
    found = []
    for kind in task.kinds:
        own: list[Stick | None] = [*plain.get(kind, ())]
        most = len(fill(task, kind))
        if kind.price:
            most = min(most, cost(plain) // kind.price)
        if kind.there is not None:
            most = min(most, kind.there)
        found += [Slot(kind, cut) for cut in own + [None] * (most - len(own))]
    return found


def most_of(task: Task, slot: Slot) -> dict[int, int]:
    """How many of each size can come from a stick, where any can."""
    return {
        i: most for i, (size, demand) in enumerate(zip(task.sizes, task.demands, strict=True))
        if (most := min(demand, slot.kind.room // size))
    }


def answer(task: Task, cuts: list[tuple[Kind, Stick]], bound: float, ended: bool) -> Answer:
    """Goes through the sticks once more in whole numbers; a solver's rounding could have overfilled one."""
    sticks: Sticks = {}
    for kind, cut in cuts:
        if any(cut):
            sticks.setdefault(kind, []).append(cut)
    least = max(0, math.ceil(bound - 1e-6)) if math.isfinite(bound) else 0
    if fault(task, sticks):
        return Answer(None, least, False)
    return Answer(sticks, least, ended and least >= cost(sticks))


def cp_sat(task: Task, seconds: float) -> Answer:
    """The model in CP-SAT, from first-fit's plan."""
    model = cp_model.CpModel()
    sticks = slots(task)
    y = [model.new_bool_var("") for _ in sticks]
    x: list[dict[int, Any]] = []
    for slot, used in zip(sticks, y, strict=True):
        row = {i: model.new_int_var(0, most, "") for i, most in most_of(task, slot).items()}
        x.append(row)
        model.add(sum(task.sizes[i] * number for i, number in row.items()) <= slot.kind.room * used)
        model.add_hint(used, int(slot.first_fit is not None))
        for i, number in row.items():
            model.add_hint(number, slot.first_fit[i] if slot.first_fit else 0)
    for i, demand in enumerate(task.demands):
        model.add(sum(row[i] for row in x if i in row) == demand)
    for j in range(1, len(sticks)):
        if sticks[j].kind == sticks[j - 1].kind:
            model.add_implication(y[j], y[j - 1])
    model.minimize(sum(slot.kind.price * used for slot, used in zip(sticks, y, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return answer(task, [], solver.best_objective_bound, False)
    cuts = [(slot.kind, tuple(solver.value(row[i]) if i in row else 0 for i in range(len(task.sizes))))
            for slot, row in zip(sticks, x, strict=True)]
    return answer(task, cuts, solver.best_objective_bound, status == cp_model.OPTIMAL)


def highs(task: Task, seconds: float) -> Answer:
    """The model in HiGHS, from first-fit's plan where it takes the hint."""
    model = mathopt.Model()
    sticks = slots(task)
    y = [model.add_binary_variable() for _ in sticks]
    x: list[dict[int, mathopt.Variable]] = []
    hint: dict[mathopt.Variable, float] = {}
    for slot, used in zip(sticks, y, strict=True):
        row = {i: model.add_integer_variable(lb=0, ub=most) for i, most in most_of(task, slot).items()}
        x.append(row)
        filled = mathopt.fast_sum(task.sizes[i] * number for i, number in row.items())
        model.add_linear_constraint(filled - slot.kind.room * used <= 0)
        hint[used] = float(slot.first_fit is not None)
        hint |= {number: float(slot.first_fit[i] if slot.first_fit else 0) for i, number in row.items()}
    for i, demand in enumerate(task.demands):
        model.add_linear_constraint(mathopt.fast_sum(row[i] for row in x if i in row) == demand)
    for j in range(1, len(sticks)):
        if sticks[j].kind == sticks[j - 1].kind:
            model.add_linear_constraint(y[j - 1] - y[j] >= 0)
    prices = (slot.kind.price * used for slot, used in zip(sticks, y, strict=True))
    model.minimize(mathopt.fast_sum(prices))
    options = mathopt.SolveParameters(
        time_limit=datetime.timedelta(seconds=seconds), relative_gap_tolerance=0.0,
        absolute_gap_tolerance=0.5,  # costs are whole coins
    )
    start = mathopt.ModelSolveParameters(solution_hints=[mathopt.SolutionHint(variable_values=hint)])
    result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=options, model_params=start)
    bound = result.termination.objective_bounds.dual_bound
    if not result.has_primal_feasible_solution():
        return answer(task, [], bound, False)
    values = result.variable_values()
    cuts = [(slot.kind, tuple(round(values[row[i]]) if i in row else 0 for i in range(len(task.sizes))))
            for slot, row in zip(sticks, x, strict=True)]
    return answer(task, cuts, bound, result.termination.reason == mathopt.TerminationReason.OPTIMAL)


MODELS: dict[str, Solve] = {"cp_sat": cp_sat, "highs": highs}


def solve_all(solve: Solve, asked: list[Task], seconds: float) -> dict[str, Answer]:
    """Every profile of a week; each gets its part of what time is left, by its number of pieces.

    Turned pickets need no model: the cheapest blank for each is the best plan.
    """
    answers = {}
    end = time.perf_counter() + seconds
    waiting = sum(task.pieces for task in asked if not task.one_per_stick)
    for task in asked:
        if task.one_per_stick:
            blanks = first_fit_decreasing(task)
            answers[task.profile] = Answer(blanks, cost(blanks), True)
            continue
        left = max(0.01, end - time.perf_counter())
        answers[task.profile] = solve(task, left * task.pieces / waiting)
        waiting -= task.pieces
    return answers
