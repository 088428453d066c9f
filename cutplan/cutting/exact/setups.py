"""The fewest saw set-ups, then lifts, among plans that are good enough: the third tier, and what a dearer plan spares.

Good enough is worth at most so much by one objective: by the second tier's, which holds the cost, too; or by the first
tier's alone where money may be spared.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from cutplan.cutting.exact import blanks
from cutplan.cutting.exact import listing as search
from cutplan.cutting.exact.branch_and_bound import Optimum
from cutplan.cutting.exact.sifting import bound_over
from cutplan.cutting.heuristics.few_setups import FewSetupsParams, few_setups
from cutplan.cutting.heuristics.first_fit import value
from cutplan.cutting.lp import bounds
from cutplan.cutting.lp.setup_bound import SetupBound, SetupLpParams, setup_bound
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance, by_size
from cutplan.cutting.problem.objective import Objective
from cutplan.cutting.setup import SetupKey, at_least, set_ups, setup
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class SetupParams:
    """The search for few set-ups.

    work:     CP-SAT's deterministic seconds for a whole plan, so that the same input gives the same plan anywhere
    ways:     of using sticks: with more, patterns are listed only where that can prove something
    patterns: that are listed at most
    near:     of least reduced cost, beside the known ones where more would have to be listed
    bound:    the LP that bounds the number
    first:    the share of the work that goes to known patterns before all that could be listed
    lifts:    the share of the work that goes to lifts besides, and as much to the cost where money may be spared
    spared:   how many times the work is done where money may be spared
    few:      the heuristic that makes plans of few set-ups
    """

    work: float = 1.2
    ways: int = 500
    patterns: int = 4_000
    near: int = 100
    bound: SetupLpParams = field(default_factory=SetupLpParams)
    first: float = 0.25
    lifts: float = 0.25
    spared: float = 2.0
    few: FewSetupsParams = field(default_factory=FewSetupsParams)


@dataclass(frozen=True)
class GoodEnough:
    """Which plans count: those worth at most `ceiling`. `dual` bounds what any is worth (None: not known)."""

    objective: Objective
    ceiling: int
    dual: bounds.Bound | None

    @property
    def instance(self) -> Instance:
        return self.objective.instance


@dataclass(frozen=True)
class Setups:
    """The plan with the fewest set-ups found, and the proven least number; `proof` are multipliers that prove some of
    it (None: there are none)."""

    plan: Solution
    bound: int
    proof: SetupBound | None = None


def lift_count(plan: Solution, instance: Instance, stack: int) -> int:
    """How many lifts a plan's sticks are, `stack` of those that are cut at the same places at a time."""
    alike: Counter[Hashable] = Counter()
    for pattern, n in plan.items():
        alike[places(pattern, instance)] += n
    return sum(-(-n // stack) for n in alike.values())


def places(pattern: Pattern, instance: Instance) -> Hashable:
    """What sticks share that are cut at the same places."""
    stick = instance.sticks[pattern.stick]
    return stick.length, stick.head, stick.ends, pattern.counts


def as_they_are(instance: Instance, plan: Solution) -> Setups:
    """A plan nobody looked for fewer set-ups in; only the counting bound stands."""
    return Setups(plan, min(at_least(instance), set_ups(plan, instance)))


def fewest(used: Objective, first: Optimum, second: Optimum, budget: Budget, share: float = 1.0, stack: int = 1,
           params: SetupParams = SetupParams()) -> Setups:
    """The third tier: the fewest set-ups of plans as good in both tiers; `share` of a whole plan's work is spent."""
    instance = used.instance
    if instance.blanks is not None:
        found, bound = blanks.fewest_setups(used, second.plan, second.value, budget, share * params.work)
        return Setups(found, min(bound, set_ups(found, instance)))
    if budget.spent():
        return as_they_are(instance, second.plan)
    enough = GoodEnough(used, second.value, second.root.dual)
    listable = second.proven or len(used.ways) <= params.ways
    return search_setups(enough, second.plan, (*first.patterns, *second.patterns), budget, share * params.work, stack,
                         listable, params)


def spared(enough: GoodEnough, start: Setups, known: Iterable[Pattern], budget: Budget, share: float = 1.0,
           stack: int = 1, params: SetupParams = SetupParams()) -> Setups:
    """The fewest set-ups of plans that cost at most so much; never more than `start`, which is one of them, has."""
    instance = enough.instance
    work = share * params.work * params.spared
    if instance.blanks is not None:
        plan, bound = blanks.fewest_setups(enough.objective, start.plan, enough.ceiling, budget, work)
        plan = min(start.plan, plan, key=lambda one: set_ups(one, instance))
        return Setups(plan, min(bound, set_ups(plan, instance)))
    if budget.spent():
        return as_they_are(instance, start.plan)
    return search_setups(enough, start.plan, known, budget, work, stack, True, params, frugal=True)


def search_setups(enough: GoodEnough, start: Solution, known: Iterable[Pattern], budget: Budget, work: float,
                  stack: int, listable: bool, params: SetupParams, frugal: bool = False) -> Setups:
    """The fewest set-ups, then lifts, over the patterns that a plan that is good enough can use, if these can be
    listed; else over those known. `frugal`: of plans alike in these the one worth least. Nothing worse than `start`."""
    instance, objective = enough.instance, enough.objective
    known = [p for p in known if objective.by_stick[p.stick] and not instance.sticks[p.stick].emergency]
    listed: list[Pattern] | None = None
    if enough.dual is not None and listable and (
            set_ups(start, instance) > at_least(instance) or varied(instance, stack)):
        box = objective.box(enough.ceiling)  # which may be wider than that in which the bound was found
        bound = bound_over(objective, enough.dual.duals, box)
        listed = search.worthwhile(objective, bound, enough.ceiling + 1, box, params.patterns)
        if listed is None:
            known += search.nearest(objective, bound, enough.ceiling + 1, bound.ceiling, box, params.near, budget)
    proof = setup_bound(objective, enough.ceiling, [*start, *known], set_ups(start, instance), budget, params.bound)
    least = max(at_least(instance), proof.ceiling if proof else 0)
    known += proof.patterns if proof else ()
    best = start
    if set_ups(best, instance) > least and enough.dual is not None:
        for plan in few_setups(objective, enough.dual, enough.ceiling, budget, params.few):
            known += plan
            best = min(best, plan, key=lambda one: set_ups(one, instance))
    model = SetupModel(enough, [*best, *known], stack)
    if set_ups(best, instance) > least:
        best = model.fewest(best, least, budget, work if listed is None else work * params.first)
    if listed is not None and (set_ups(best, instance) > least or varied(instance, stack)):
        model = SetupModel(enough, [*best, *listed], stack)
        if set_ups(best, instance) > least:
            best = model.fewest(best, least, budget, work)
            least = max(least, model.bound)
    if varied(instance, stack):
        best = model.fewest_lifts(best, budget, work * params.lifts)
    if frugal and best != start:
        best = model.cheapest(best, budget, work * params.lifts)
    return Setups(best, min(least, set_ups(best, instance)), proof)


def varied(instance: Instance, stack: int) -> bool:
    """Whether plans with as few set-ups may differ in lifts worth a search: sticks of one length that are lifted singly
    are as many as the plan costs."""
    return stack > 1 or len({stick.length for stick in instance.sticks}) > 1


class SetupModel:
    """The plans over some patterns that are good enough, in CP-SAT: x_p sticks of pattern p, y_S whether the saw is
    set to S, and z_l lifts of sticks that are cut at the same places."""

    def __init__(self, enough: GoodEnough, patterns: Iterable[Pattern], stack: int) -> None:
        from ortools.sat.python import cp_model

        patterns = list(dict.fromkeys(patterns))
        self.enough, self.patterns, self.stack = enough, patterns, stack
        self.bound = 0  # set-ups of any plan over these patterns
        instance, objective = enough.instance, enough.objective
        self.model = model = cp_model.CpModel()
        most = [min(p.often(instance.demands), instance.most(p.stick)) for p in patterns]
        self.x = [model.new_int_var(0, m, "") for m in most]
        self.opened: dict[SetupKey, Any] = {}
        for k, p in enumerate(patterns):
            y = self.opened.setdefault(setup(p, instance), model.new_bool_var(""))
            model.add(self.x[k] <= most[k] * y)
        for cuts, demand in zip(by_size(instance, patterns), instance.demands, strict=True):
            model.add(sum(a * self.x[k] for k, a in cuts) == demand)
        drawn: dict[int, list[Any]] = {}
        for k, p in enumerate(patterns):
            drawn.setdefault(p.stick, []).append(self.x[k])
        for s in sorted(drawn):
            if (available := instance.sticks[s].available) is not None:
                model.add(sum(drawn[s]) <= available)
        if objective.cap is not None:
            model.add(sum(instance.sticks[p.stick].cost * self.x[k] for k, p in enumerate(patterns)) <= objective.cap)
        self.worth = sum(objective.cost(p) * self.x[k] for k, p in enumerate(patterns))
        model.add(self.worth <= enough.ceiling)

    def fewest(self, start: Solution, least: int, budget: Budget, work: float) -> Solution:
        """The plan with the fewest set-ups, which are at least `least`; `start` where none has fewer."""
        number = sum(self.opened.values())
        self.model.add(number >= least)
        self.model.minimize(number)
        found, solver = self._solved(start, budget, work)
        self.bound = max(least, round(solver.best_objective_bound + 0.4999999))
        return found if found is not None and set_ups(found, self.enough.instance) < set_ups(
            start, self.enough.instance) else start

    def fewest_lifts(self, start: Solution, budget: Budget, work: float) -> Solution:
        """The plan with the fewest lifts that has as few set-ups as `start`; that one where none has fewer."""
        found = self._no_more_than(start, self.lifts, budget, work)
        return min(start, found, key=lambda plan: lift_count(plan, self.enough.instance, self.stack))

    def cheapest(self, start: Solution, budget: Budget, work: float) -> Solution:
        """The plan worth least by the objective that has as few set-ups and lifts as `start`."""
        self.model.add(self.lifts <= lift_count(start, self.enough.instance, self.stack))
        found = self._no_more_than(start, self.worth, budget, work)
        return min(start, found, key=lambda plan: value(self.enough.objective, plan))

    @cached_property
    def lifts(self) -> Any:
        """How many lifts the sticks are."""
        alike: dict[Hashable, list[Any]] = {}
        for k, p in enumerate(self.patterns):
            alike.setdefault(places(p, self.enough.instance), []).append(self.x[k])
        if self.stack == 1:
            return sum(self.x)
        lifts = []
        for together in alike.values():
            lifts.append(self.model.new_int_var(0, sum(self.enough.instance.demands), ""))
            self.model.add(self.stack * lifts[-1] >= sum(together))
        return sum(lifts)

    def _no_more_than(self, start: Solution, least: Any, budget: Budget, work: float) -> Solution:
        """The plan with the least of something that has no more set-ups than `start`; that one where none is found."""
        instance = self.enough.instance
        if budget.spent():
            return start
        self.model.clear_objective()  # type: ignore[no-untyped-call]
        self.model.add(sum(self.opened.values()) <= set_ups(start, instance))
        self.model.minimize(least)
        found, _ = self._solved(start, budget, work)
        return start if found is None or set_ups(found, instance) > set_ups(start, instance) else found

    def _solved(self, start: Solution, budget: Budget, work: float) -> tuple[Solution | None, Any]:
        from ortools.sat.python import cp_model

        from cutplan.cutting.exact.cpsat import solved

        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for k, p in enumerate(self.patterns):
            self.model.add_hint(self.x[k], start[p])
        solver, status = solved(self.model, budget, work)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, solver
        plan = Counter({p: n for k, p in enumerate(self.patterns) if (n := solver.value(self.x[k]))})
        assert value(self.enough.objective, plan) <= self.enough.ceiling
        return plan, solver
