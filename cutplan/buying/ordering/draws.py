"""What a plan of one task draws: by that alone plans are chosen, and numbers of sticks for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from ortools.sat.python import cp_model

from cutplan.buying.ordering.diving import ColumnCounts
from cutplan.buying.ordering.task import ProfileTask
from cutplan.buying.terms import whole

Draws = tuple[tuple[int, int, int], ...]  # of a plan: (kind of stick, ready from week, how many), in order


def draws_of(cut: ColumnCounts) -> Draws:
    """The sticks that a plan takes."""
    found: Counter[tuple[int, int]] = Counter()
    for column, n in cut.items():
        found[column.stick, column.ready] += column.sticks * n
    return tuple((s, ready, n) for (s, ready), n in sorted(found.items()))


def write_plans(model: cp_model.CpModel, task: ProfileTask, sticks: Sequence[Any], plans: Sequence[Draws]
                ) -> dict[Draws, Any]:
    """Adds that one of these plans is cut, and that the sticks are enough for it."""
    chosen = {draws: model.new_bool_var("") for draws in plans}
    model.add_exactly_one(chosen.values())
    for s in task.sticks:
        for ready in task.ready[s]:
            needed = sum(yes * taken_by(draws, s, ready) for draws, yes in chosen.items())
            model.add(needed <= task.begin(s) + sum(come_by(task, sticks, s, ready)))
    return chosen


def taken_by(draws: Draws, s: int, ready: int) -> int:
    """How many sticks of a kind a plan takes that must be ready by a week."""
    return sum(n for kind, r, n in draws if kind == s and r <= ready)


def come_by(task: ProfileTask, sticks: Sequence[Any], s: int, ready: int) -> list[Any]:
    """What is ordered of a kind of stick and comes in time for a week."""
    return [n for n, sale in zip(sticks, task.sold, strict=True)
            if task.kind[sale.stock.length] == s and sale.ready <= ready]


def lacks(task: ProfileTask, sticks: Sequence[int], draws: Draws) -> dict[int, int]:
    """How many sticks of each kind a plan takes that are not there, where it does."""
    found = {}
    for s in task.sticks:
        short = max((taken_by(draws, s, ready) - task.begin(s) - sum(come_by(task, sticks, s, ready))
                     for ready in task.ready[s]), default=0)
        if short > 0:
            found[s] = short
    return found


def beside_money(task: ProfileTask, sticks: Sequence[int], prices: Sequence[Fraction], cut: ColumnCounts) -> Fraction:
    """About what a plan needs beside some sticks, in whole bundles."""
    total = Fraction(0)
    for s, n in lacks(task, sticks, draws_of(cut)).items():
        total += min((whole(sale.stock, n) * price for sale, price in zip(task.sold, prices, strict=True)
                      if task.kind[sale.stock.length] == s), default=Fraction(0))
    return total
