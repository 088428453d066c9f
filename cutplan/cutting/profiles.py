"""The whole plan: its profiles side by side, each through the three tiers, and what could be spared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutplan.cutting.exact import setups
from cutplan.cutting.exact.branch_and_bound import Optimum
from cutplan.cutting.problem.demand import demand_of, instance_of, refuse_misplaced
from cutplan.cutting.sparing import with_spare
from cutplan.cutting.tiers import (
    CuttingParams,
    Finished,
    Job,
    SawAims,
    cheapest_plan,
    laid_out,
    refuse_missing,
    through_tiers,
)
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import Demand
from cutplan.plans.sawtime import timed
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.running.workers import GRACE, Workers
from cutplan.shop import Profile, Shop

FOR_COST = 0.85  # of the time, for one first tier: a cost that stays open is worse than set-ups that do


def cut_profiles(pieces: Sequence[Piece], shop: Shop, budget: Budget, params: CuttingParams, aims: SawAims) -> Plan:
    """Every profile through its tiers, side by side; see cutplan.cutting.cut_pieces."""
    refuse_misplaced(pieces, shop)
    tasks = [Task(profile, tuple(demand), params, aims) for profile in shop.profiles.values()
             if (demand := demand_of(pieces, profile))]
    with Workers(budget, len(tasks)) as workers:
        def for_cost(k: int) -> float:
            """The largest and those that none waits behind may take most of what is left, the others half of it."""
            largest = k == 0 and workers.number > 1
            return 1 / FOR_COST if largest or k >= len(tasks) - workers.number else 2

        # the first tier of every profile, before any time goes to the others
        jobs = all_there(workers.each(cheapest_or_none, tasks, Task.load, for_cost, found_so_far, grace))

        def parts(k: int) -> float:
            return -(-(len(jobs) - k) // workers.number)

        done = workers.each(through_tiers, jobs, Job.load, parts, ended, grace)
        plans = [one.plan for one in done]
        if aims.shares:  # from the very plans that there are without: whatever the time, none has more set-ups
            plans = workers.each(with_spare, done, lambda one: one.job.load(), parts, grace=lambda one: grace(one.job))
    return timed(Plan(shop.unit, tuple(plans), shop.currency, shop.tape, shop.shortest_held, stack=shop.stack,
                      shortest_clamped=shop.shortest_clamped, saw=shop.saw, shop=shop.name, bench=shop.bench))


@dataclass(frozen=True)
class Task:
    """One profile and what is asked of it."""

    profile: Profile
    demand: tuple[Demand, ...]
    params: CuttingParams
    aims: SawAims

    def load(self) -> int:
        return len(self.demand) * len(self.profile.stock)


def grace(work: Task | Job) -> float:
    """Seconds that a profile's work may take once its time is over."""
    return GRACE + work.params.line * len(work.demand)


def cheapest_or_none(task: Task, budget: Budget) -> Job | NoPlan:
    """One profile's first tier, or why it has no plan."""
    try:
        return replace(cheapest_plan(task.profile, task.demand, budget, params=task.params), aims=task.aims)
    except NoPlan as nothing:
        return nothing


def found_so_far(task: Task, first: Optimum) -> Job | NoPlan:
    """As `cheapest_or_none`, with the best plan of a search that had to be ended."""
    instance = replace(instance_of(task.profile, task.demand), tables=task.params.tables)
    try:
        refuse_missing(task.profile, instance, first, task.demand)
    except NoPlan as nothing:
        return nothing
    return Job(task.profile, task.demand, instance, first, params=task.params, aims=task.aims)


def all_there(found: Sequence[Job | NoPlan]) -> list[Job]:
    """The jobs. Raises NoPlan, which names every profile that has none."""
    if lacking := [str(nothing) for nothing in found if isinstance(nothing, NoPlan)]:
        raise NoPlan("\n".join(lacking))
    return [replace(job, share=1 / len(found)) for job in found if isinstance(job, Job)]


def ended(job: Job, second: Optimum) -> Finished:
    """As `through_tiers`, with the best plan of a search that had to be ended."""
    return Finished(job, second, setups.as_they_are(job.instance, second.plan), laid_out(job, second))
