"""Tier 3: the fewest saw set-ups among the plans that are best in cost and in length used up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.cutting.exact import blanks
from cutplan.cutting.exact import listing as search
from cutplan.cutting.exact.branch_and_bound import Optimum
from cutplan.cutting.heuristics.first_fit import spent, value
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance, by_size
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class SetupParams:
    """The search for few set-ups.

    work:     CP-SAT's deterministic seconds for a whole plan, so that the same input gives the same plan anywhere
    ways:     of using sticks: with more, patterns are listed only where that can prove something
    patterns: that are listed at most
    """

    work: float = 1.2
    ways: int = 500
    patterns: int = 4_000


@dataclass(frozen=True)
class Setups:
    """The plan with the fewest set-ups found, and the proven least number."""

    plan: Solution
    bound: int


SetupKey = tuple[int, tuple[tuple[int, int], ...]]  # a stick's length; to what the saw is set for it, and how often


def setup(pattern: Pattern, instance: Instance) -> SetupKey:
    """What the saw is set to; where a rail's middle falls is all one to it."""
    cuts: Counter[int] = Counter()
    for i, a in pattern.counts:
        cuts[instance.settings[i]] += a
    return instance.sticks[pattern.stick].length, tuple(sorted(cuts.items()))


def set_ups(plan: Solution, instance: Instance) -> int:
    """Set-ups of a plan: different lengths of stick, or different lengths cut from it."""
    return len({setup(p, instance) for p in plan})


def at_least(instance: Instance) -> int:
    """Each set-up cuts only so many different lengths, and every length is cut somewhere."""
    room = max(stick.capacity for stick in instance.sticks)
    sizes, different = sorted(dict(zip(instance.settings, instance.sizes, strict=True)).values()), 0
    for size in sizes:  # the most lengths that share a stick are the smallest ones
        room -= size
        if room < 0:
            break
        different += 1
    return -(-len(sizes) // max(1, different))


def as_they_are(instance: Instance, plan: Solution) -> Setups:
    """A plan nobody looked for fewer set-ups in; only the counting bound stands."""
    return Setups(plan, min(at_least(instance), set_ups(plan, instance)))


def fewest(used: Objective, first: Optimum, second: Optimum, budget: Budget, share: float = 1.0,
           params: SetupParams = SetupParams()) -> Setups:
    """The fewest set-ups over the patterns that a plan as good in both tiers can use.

    Where all of those can be listed and the search ends, the number is proven; else the counting bound stands.
    `share` of the work for a whole plan is spent.
    """
    instance = used.instance
    least = at_least(instance)
    best = second.plan
    if instance.blanks is not None:
        found, bound = blanks.fewest_setups(used, second, budget, share * params.work)
        least = bound if first.proven and second.proven else least
        return Setups(found, min(least, set_ups(found, instance)))
    if budget.spent() or set_ups(best, instance) <= least:
        return as_they_are(instance, best)
    patterns = None
    if second.root.dual is not None and (second.proven or len(used.ways) <= params.ways):
        patterns = search.worthwhile(used, second.root.dual, second.value + 1, used.box(second.value), params.patterns)
    complete = patterns is not None
    affordable = (p for p in (*first.patterns, *second.patterns) if used.by_stick[p.stick])
    pool = dict.fromkeys([*best, *(patterns or affordable)])
    found, bound = search_setups(used, list(pool), best, second.value, budget, share * params.work)
    if complete and first.proven and second.proven:
        least = max(least, bound)
    return Setups(found, min(least, set_ups(found, instance)))


def search_setups(used: Objective, patterns: Sequence[Pattern], start: Solution, ceiling: int,
                  budget: Budget, work: float) -> tuple[Solution, int]:
    """The plan with the fewest set-ups over these patterns, no worse than `start`, and its proven bound."""
    from ortools.sat.python import cp_model

    from cutplan.cutting.exact.cpsat import solved

    instance = used.instance
    model = cp_model.CpModel()
    most = [min(p.often(instance.demands), instance.most(p.stick)) for p in patterns]
    x = [model.new_int_var(0, m, "") for m in most]
    opened: dict[SetupKey, cp_model.IntVar] = {}
    for k, p in enumerate(patterns):
        y = opened.setdefault(setup(p, instance), model.new_bool_var(""))
        model.add(x[k] <= most[k] * y)
        model.add_hint(x[k], start[p])
    for cuts, demand in zip(by_size(instance, patterns), instance.demands, strict=True):
        model.add(sum(a * x[k] for k, a in cuts) == demand)
    drawn: dict[int, list[cp_model.IntVar]] = {}
    for k, p in enumerate(patterns):
        drawn.setdefault(p.stick, []).append(x[k])
    for s in sorted(drawn):
        if (available := instance.sticks[s].available) is not None:
            model.add(sum(drawn[s]) <= available)
    costs = [instance.sticks[p.stick].cost for p in patterns]
    model.add(sum(c * x[k] for k, c in enumerate(costs)) <= spent(instance, start))
    model.add(sum(used.cost(p) * x[k] for k, p in enumerate(patterns)) <= ceiling)
    least = at_least(instance)
    model.add(sum(opened.values()) >= least)
    model.minimize(sum(opened.values()))
    solver, status = solved(model, budget, work)
    bound = max(least, round(solver.best_objective_bound + 0.4999999))
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        plan = Counter({p: n for k, p in enumerate(patterns) if (n := solver.value(x[k]))})
        if set_ups(plan, instance) < set_ups(start, instance):
            assert value(used, plan) <= ceiling
            return plan, bound
    return start, bound
