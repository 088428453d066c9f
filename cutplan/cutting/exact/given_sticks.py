"""Plans from given numbers of sticks: the cheapest that can carry the demand, filled one after the other.

Where pieces are small for their sticks nearly all the LP says is how many sticks are needed, and many plans waste next
to nothing. So the sticks are chosen first (see `cover`), all but the last few pieces are cut stick by stick, and CP-SAT
divides those among the last few sticks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from cutplan.cutting.exact.completion import left_over
from cutplan.cutting.heuristics.sequential import Passes, SequentialParams
from cutplan.cutting.lp.cover import StickCover
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class GivenSticksParams:
    """Plans from given numbers of sticks. Of pairs the first is for a first look, the second for a patient one.

    numbers: of sticks that are tried, the cheapest first
    passes:  for each
    pieces:  of all sizes; with more, to fill stick after stick takes too long
    little:  pieces that are left to CP-SAT, and `work` for them
    """

    numbers: tuple[int, int] = (1, 4)
    passes: tuple[int, int] = (2, 4)
    pieces: int = 400
    little: int = 28
    work: tuple[float, float] = (0.1, 0.5)
    sequential: SequentialParams = field(default_factory=SequentialParams)


def look(instance: Instance, cover: StickCover, budget: Budget, patiently: bool,
         params: GivenSticksParams = GivenSticksParams()) -> Solution | None:
    """A plan from the cheapest numbers of sticks from which one is found; None if from none."""
    if sum(instance.demands) > params.pieces or not instance.arrangement.additive:
        return None
    for _, numbers in islice(cover.cheapest(), params.numbers[patiently]):
        if (plan := packed(instance, numbers, budget, patiently, params)) is not None:
            return plan
    return None


def packed(instance: Instance, numbers: Sequence[int], budget: Budget, patiently: bool,
           params: GivenSticksParams = GivenSticksParams()) -> Solution | None:
    """A plan with no more than these numbers of sticks; None if not found."""
    given = replace(instance, sticks=tuple(
        replace(stick, available=n) for stick, n in zip(instance.sticks, numbers, strict=True)))
    passes = Passes(given, params.sequential)
    for _ in range(params.passes[patiently]):
        begun = passes.until(params.little, budget)
        if budget.spent():
            return None
        rest = left_over(given, begun)
        if not any(rest.demands):
            return begun
        if (last := divided(rest, budget, params.work[patiently])) is not None:
            return begun + last
    return None


def divided(instance: Instance, budget: Budget, work: float) -> Solution | None:
    """All pieces on the sticks there are, of which each has its own; None where that cannot be, or is not found."""
    from ortools.sat.python import cp_model

    from cutplan.cutting.exact.cpsat import solved

    sizes, demands = instance.sizes, instance.demands
    sticks = [s for s, stick in enumerate(instance.sticks) for _ in range(stick.available or 0)]
    short = sum(d * size for d, size in zip(demands, sizes, strict=True))
    if short > sum(instance.sticks[s].capacity for s in sticks):
        return None
    model = cp_model.CpModel()
    cut = [[model.new_int_var(0, min(d, instance.sticks[s].capacity // size), "") for s in sticks]
           for d, size in zip(demands, sizes, strict=True)]
    for of_size, d in zip(cut, demands, strict=True):
        model.add(sum(of_size) == d)
    for k, s in enumerate(sticks):
        model.add(sum(size * of_size[k] for size, of_size in zip(sizes, cut, strict=True))
                  <= instance.sticks[s].capacity)
    solver, status = solved(model, budget, work)
    budget.count()
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    plan: Solution = Counter()
    for k, s in enumerate(sticks):
        if counts := tuple((i, a) for i, of_size in enumerate(cut) if (a := solver.value(of_size[k]))):
            plan[Pattern(s, counts)] += 1
    return plan
