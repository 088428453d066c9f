"""Column generation: the LP solved by pricing, until its bound can rise no more."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from cutplan.cutting.arrangement.protocol import Priced
from cutplan.cutting.lp.bounds import Bound, Duals, by_length, charge, mean, mix, safe_bound, tables, value
from cutplan.cutting.lp.master import Master
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class Relaxed:
    """What column generation ends with: the best exact bound; that of the LP's own duals if it came to its end."""

    bound: Bound
    own: Bound | None = None


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


def relax(master: Master, budget: Budget, enough: Callable[[Bound, float], bool],
          start: Bound | None = None) -> Relaxed | None:
    """Generates columns until the LP is solved, the budget is spent, or the bound and the LP's value are `enough`.

    `start` is any bound for the same box. None where the LP solver gives up.
    """
    best = start or bound_by_length(master)
    enrich(master, budget)
    while (solved := master.solve()) is not None:
        if enough(best, master.worth):
            return Relaxed(best)
        for quarters in master.params.smooth:
            duals = mix(best.duals, solved[0], quarters)
            found = tables(master.objective, duals, master.demands, master.box)
            budget.count()
            bound = safe_bound(master.objective, duals, found, master.box)
            if bound.numerator > best.numerator:
                best = bound
            if added := price(master, solved, duals, found):
                price_disjoint(master, solved, duals, added, budget)
            if added or budget.spent():
                break
        else:
            if not master.settle():
                return Relaxed(best, bound)
        if budget.spent():
            return Relaxed(best)
    return None


def price_disjoint(master: Master, solved: tuple[Duals, Sequence[float]], near: Duals, added: int,
                   budget: Budget) -> None:
    """After a round that `added` so many columns, more that pay, each without the sizes of those before.

    A plan is made of patterns that have few sizes in common, where there are many: columns for all of it come sooner so
    than by five that are nearly alike.
    """
    if max(way.capacity for way in master.objective.ways) > master.params.short * len(master.demands):
        return
    left = list(master.demands)
    for _ in range(master.params.disjoint):
        for i, _ in master.patterns[-added].counts:
            left[i] = 0
        found = tables(master.objective, near, left, master.box)
        budget.count()
        if budget.spent() or not (added := price(master, solved, near, found)):
            return


def enrich(master: Master, budget: Budget) -> None:
    """Columns by quick pricing, where there is such, until it finds none: the exact pricing then has few to find."""
    instance = master.objective.instance
    while instance.quick is not instance and not budget.spent() and (solved := master.solve()) is not None:
        found = tables(master.objective, solved[0], master.demands, master.box, quick=True)
        budget.count()
        if not price(master, solved, solved[0], found):
            return


def elsewhere(master: Master, tries: int, budget: Budget) -> Iterator[Bound]:
    """Bounds of other duals, nearly as good: the LP's for smaller demands, and the mean of all so far.

    Where many duals are as good as each other, their mean leaves the fewest patterns worth a look: each pattern that
    any of them rules out.
    """
    chance = random.Random(0)
    found: list[Duals] = []
    try:
        for _ in range(tries):
            share = chance.choice(master.params.shrink)
            master.disturb([d * (1 - share * chance.random()) for d in master.demands])
            if (duals := settled(master, budget)) is None:
                return
            yield bound_of(master, duals)
            found.append(duals)
            if len(found) > 1:
                yield bound_of(master, mean(found))
    finally:
        master.disturb(master.demands)


def settled(master: Master, budget: Budget) -> Duals | None:
    """The LP's duals after some more rounds of pricing; None where it gives up or the budget is spent."""
    for _ in range(master.params.rounds):
        solved = master.solve()
        if solved is None or budget.spent():
            return None
        found = tables(master.objective, solved[0], master.demands, master.box)
        budget.count()
        if not price(master, solved, solved[0], found):
            return solved[0]
    solved = master.solve()
    return solved and solved[0]


def bound_of(master: Master, duals: Duals) -> Bound:
    """The exact bound of any duals."""
    found = tables(master.objective, duals, master.demands, master.box)
    return safe_bound(master.objective, duals, found, master.box)


def bound_by_length(master: Master) -> Bound:
    """The exact bound where each piece is worth its length."""
    return bound_of(master, by_length(master.objective, master.scale))


def price(master: Master, solved: tuple[Duals, Sequence[float]], near: Duals,
          found: Sequence[Priced]) -> int:
    """Adds the best patterns of every way, by the tables of duals `near` the LP's, that pay by the LP's own.

    Returns how many were new.
    """
    objective = master.objective
    duals, limits = solved
    many = max(1, master.params.columns // len(objective.ways))
    added = 0
    for w, way in enumerate(objective.ways):
        hopeful = max(0.0, charge(objective, way, near) + limits[w] - duals.scale * way.base / 50)
        if not found[w].may_beat(hopeful):
            continue
        least = charge(objective, way, duals) + limits[w] + duals.scale * 1e-7 * max(1, way.base)
        for counts in found[w].patterns(hopeful, many):
            if value(objective, way, counts, duals) > least:
                added += master.add(Pattern(way.stick, counts), w)
    return added
