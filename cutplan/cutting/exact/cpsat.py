"""CP-SAT as it is run here: one worker and counted work, so that the same input gives the same plan on any machine."""

from __future__ import annotations

from typing import Any

from ortools.sat.python import cp_model

from cutplan.running.budget import Budget, watched


def solved(model: cp_model.CpModel, budget: Budget, work: float, linear: int = 1) -> tuple[cp_model.CpSolver, Any]:
    """The solver after it has run, and the status it ended with (of `cp_model`).

    `work` is in the solver's deterministic seconds; the budget's end and its stop key end it sooner. `linear`: how much
    of the model stands in the solver's LP too (2: conditions as well).
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = linear
    solver.parameters.max_deterministic_time = work
    solver.parameters.max_time_in_seconds = min(budget.left(), 1e6)
    with watched(budget, solver.stop_search):
        return solver, solver.solve(model)
