"""One tier: the best plan for an objective, with its proven bound."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutplan.cutting import master as lp
from cutplan.cutting import rounding, search
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Instance
from cutplan.cutting.objective import Objective
from cutplan.cutting.rounding import Plan

SHARES = (0.9, 0.7, 0.5, 0.99, 0.8, 0.6)  # what fraction a dive rounds up, one dive each
SEARCH_SECONDS = 30.0


@dataclass(frozen=True)
class Optimum:
    """The best plan found, its value, the proven bound, and what proves it.

    `dual` is the LP bound (None where the LP was not solved); where `bound` lies above what `dual` alone proves,
    a search proved the rest. `patterns` are those of the LP, for the tiers to come.
    """

    plan: Plan
    value: int
    bound: int
    dual: lp.Bound | None
    searched: bool
    patterns: tuple[lp.Pattern, ...]

    @property
    def proven(self) -> bool:
        return self.bound >= self.value


def attainable(instance: Instance, floor: int, ceiling: int) -> int:
    """The least sum of stick costs, each type drawn as often as it may be, that is at least `floor`.

    `ceiling` is known to be attainable. Sums are bits of one integer.
    """
    costs = [(stick.cost, instance.most(s)) for s, stick in enumerate(instance.sticks) if 0 < stick.cost <= ceiling]
    coin = math.gcd(*(cost for cost, _ in costs), ceiling)
    if not coin:
        return ceiling
    mask = (1 << (ceiling // coin + 1)) - 1
    sums = 1
    for cost, most in costs:
        step, run = cost // coin, 1
        most = min(most, ceiling // cost)
        while most > 0:  # 1, 2, 4, ... and the rest make every number up to most
            part = min(run, most)
            sums |= (sums << (part * step)) & mask
            most -= part
            run *= 2
    above = sums >> -(-max(0, floor) // coin)
    return (-(-max(0, floor) // coin) + (above & -above).bit_length() - 1) * coin if above else ceiling


def optimise(objective: Objective, start: Plan, effort: Effort, name: str) -> Optimum:
    """The best plan for this objective: LP, dives, and a search where they leave a gap. `start` is any plan."""
    instance = objective.instance
    best, worth = start, rounding.value(objective, start)
    is_cost = objective.budget is None

    def proven(bound: lp.Bound) -> int:
        return attainable(instance, bound.ceiling, worth) if is_cost else max(0, bound.ceiling)

    master = lp.Master(objective)
    for pattern in [*start, *lp.starters(objective)]:
        master.add(pattern)
    relaxed = lp.relax(master, worth, effort, worth)
    if relaxed is None:
        return Optimum(best, worth, 0, None, False, tuple(master.patterns))
    bound = proven(relaxed.bound)
    for share in SHARES:
        if bound >= worth or effort.spent():
            break
        found = rounding.dive(master, effort, share)
        if found is not None:
            found = rounding.downgrade(instance, found) if is_cost else found
            if rounding.value(objective, found) < worth:
                best, worth = found, rounding.value(objective, found)
        effort.tell(f"{name}: best {worth}, proven {bound}")
    searched = False
    if bound < worth and not effort.spent():
        patterns = search.worthwhile(objective, relaxed.bound, worth)
        outcome = search.search(
            objective, patterns or master.patterns, bound, worth, effort, SEARCH_SECONDS
        )
        if outcome.plan is not None:
            best = rounding.trim(instance, outcome.plan)
            worth = rounding.value(objective, best)
        if patterns is not None and outcome.bound is not None and outcome.bound > bound:
            bound, searched = min(outcome.bound, worth), True
    return Optimum(best, worth, min(bound, worth), relaxed.bound, searched, tuple(master.patterns))
