"""One profile through the three tiers, and the plan that comes of it in the shop's own terms."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar

from cutplan.checking.audit import audit
from cutplan.checking.setups import SetupClaim
from cutplan.cutting import certificate, layout
from cutplan.cutting.exact import blanks, setups
from cutplan.cutting.exact.branch_and_bound import Optimum, Wording, unsearched
from cutplan.cutting.exact.sifting import SiftingParams, best_plan
from cutplan.cutting.heuristics import first_fit
from cutplan.cutting.patterns import Solution
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.cutting.problem.demand import instance_of, named
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective, cheapest, least_used
from cutplan.ends import SQUARE, ends_in
from cutplan.lengths import exact_decimal, listed
from cutplan.plans.grounds import certified_setups, counted_setups, grounded, raised
from cutplan.plans.plan import Plan
from cutplan.plans.records import Demand, ProfilePlan, Spare, Tier, sum_up
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile

Found = TypeVar("Found")


@dataclass(frozen=True)
class CuttingParams:
    """How a profile is cut: what the methods of all tiers are set to.

    line: seconds that a line of the demand takes to be laid out and audited
    """

    tables: TableParams = field(default_factory=TableParams)
    sifting: SiftingParams = field(default_factory=SiftingParams)
    assignment: blanks.AssignmentParams = field(default_factory=blanks.AssignmentParams)
    setups: setups.SetupParams = field(default_factory=setups.SetupParams)
    line: float = 3e-4


@dataclass(frozen=True)
class SawAims:
    """What counts at the saw besides stock: how many sticks lie in one lift, and what share of the least cost may be
    spared for fewer set-ups (None: nothing). `trade`: the shares of other plans to compare with, rising."""

    stack: int = 1
    spare: Fraction | None = None
    trade: tuple[Fraction, ...] = ()

    @property
    def shares(self) -> list[Fraction]:
        """All that are looked at, rising: each plan is where the next begins, the first that which costs the least."""
        asked = {*self.trade, *([] if self.spare is None else [self.spare])}
        return sorted(asked | {Fraction(0)}) if asked else []


@dataclass(frozen=True)
class Job:
    """One profile after its first tier; `share` is its part of the work that the plan's set-ups are worth."""

    profile: Profile
    demand: tuple[Demand, ...]
    instance: Instance
    first: Optimum
    share: float = 1.0
    params: CuttingParams = field(default_factory=CuttingParams)
    aims: SawAims = SawAims()

    def load(self) -> int:
        return len(self.instance.sizes) * len(self.instance.sticks)

    def aim(self, instance: Instance) -> Objective:
        """The second tier's: the least length used up by plans that cost no more."""
        return least_used(instance, first_fit.spent(self.instance, self.first.plan), self.first.bound)


@dataclass(frozen=True)
class Finished:
    """One profile after its three tiers: what the second and the third found, and its plan."""

    job: Job
    second: Optimum
    third: setups.Setups
    plan: ProfilePlan


def cheapest_plan(profile: Profile, demand: Sequence[Demand], budget: Budget,
                  begin: Callable[[Instance], Solution] | None = None, params: CuttingParams = CuttingParams()) -> Job:
    """One profile through the first tier; `begin` gives a plan to begin with. Raises NoPlan."""
    instance = replace(instance_of(profile, demand), tables=params.tables)
    budget.tell(f"{profile.name}: {sum(instance.demands)} pieces of {len(instance.sizes)} lengths")
    first = least_cost(instance, budget, profile.name, "cost", begin, params)
    refuse_missing(profile, instance, first, demand)
    return Job(profile, tuple(demand), instance, first, params=params)


def least_cost(instance: Instance, budget: Budget, profile: str, aim: str,
               begin: Callable[[Instance], Solution] | None = None, params: CuttingParams = CuttingParams()) -> Optimum:
    """The cheapest plan of an instance, and what no plan of it costs less than; progress speaks of the profile's `aim`.

    Emergency sticks in it are such as are not there.
    """
    start = first_plan(instance, params.sifting.few) if begin is None else begin(instance)
    report = in_words(profile, aim, instance.coin)
    return best_plan(cheapest, instance, start, budget, report, params.sifting, params.assignment)


def draft(profile: Profile, demand: Sequence[Demand], budget: Budget) -> ProfilePlan:
    """One profile's plan for comparisons: the cheapest as ever, hardly a look at length used up, set-ups as they come.

    Raises NoPlan.
    """
    job = cheapest_plan(profile, demand, budget)
    second = uses_least(job, budget, brief=True)
    return laid_out(job, second)


BEFORE_SETUPS = 0.9  # of the time that is left for the second tier: however hard that is, the third has some


def finish(job: Job, budget: Budget) -> ProfilePlan:
    """One profile through the second and third tier, and its plan in the shop's own terms."""
    return through_tiers(job, budget).plan


def through_tiers(job: Job, budget: Budget) -> Finished:
    """As `finish`, with what was found on the way.

    A fault in a later tier never withholds what an earlier one found: that plan is given then, with the fault's name.
    """
    tried = Tried(job.profile.name)
    second = tried("less length used up", lambda: uses_least(job, budget.upto(BEFORE_SETUPS))) or as_cheap(job)
    as_found = setups.as_they_are(job.instance, second.plan)
    plan, third = tried("fewer set-ups", lambda: with_fewest_setups(job, second, budget)) or (
        tried("less length used up", lambda: sound(job, second, as_found)) or laid_out(job, as_cheap(job)), as_found)
    return Finished(job, second, third, replace(plan, faults=tuple(tried.faults)))


class Tried:
    """Runs searches that may fail, as there is a plan already, and keeps what is to be said of those that did."""

    def __init__(self, profile: str) -> None:
        self.profile = profile
        self.faults: list[str] = []

    def __call__(self, aim: str, find: Callable[[], Found]) -> Found | None:
        try:
            return find()
        except Exception as fault:  # whatever it is
            self.faults.append(f"{self.profile}: the search for {aim} failed, and the plan found before it is given "
                               f"({type(fault).__name__}: {fault})")
            return None


def with_fewest_setups(job: Job, second: Optimum, budget: Budget) -> tuple[ProfilePlan, setups.Setups]:
    """The third tier, laid out. Raises Unsound where the plan fails its audit."""
    third = fewest_setups(job, second, budget)
    return sound(job, second, third), third


class Unsound(Exception):
    """A plan failed its audit."""


def uses_least(job: Job, budget: Budget, brief: bool = False) -> Optimum:
    """The second tier."""
    report = in_words(job.profile.name, "length used up", job.instance.unit)
    return best_plan(job.aim, job.instance, job.first.plan, budget, report, job.params.sifting,
                     job.params.assignment, brief)


def as_given(profile: Profile, demand: Sequence[Demand], given: Callable[[Instance], Solution]) -> ProfilePlan:
    """A plan that was made elsewhere, as it is: no better one is looked for, and nothing is proven of it."""
    instance = instance_of(profile, demand)
    plan = given(instance)
    job = Job(profile, tuple(demand), instance, unsearched(cheapest(instance), plan))
    return laid_out(job, as_cheap(job))


def laid_out(job: Job, second: Optimum) -> ProfilePlan:
    """The plan with its set-ups as they come."""
    return in_shop_terms(job, second, setups.as_they_are(job.instance, second.plan))


def as_cheap(job: Job) -> Optimum:
    """The first tier's plan in the place of the second's, of which nothing is known then."""
    return unsearched(job.aim(job.instance), job.first.plan, job.first.patterns)


def fewest_setups(job: Job, second: Optimum, budget: Budget) -> setups.Setups:
    """The third tier."""
    return setups.fewest(job.aim(job.instance), job.first, second, budget, job.share, job.aims.stack,
                         job.params.setups)


def sound(job: Job, second: Optimum, third: setups.Setups, share: Fraction | None = None) -> ProfilePlan:
    """The plan laid out, for which such a share may be spared. Raises Unsound where it fails its audit."""
    plan = in_shop_terms(job, second, third, share)
    if findings := audit(Plan("in", (plan,))):
        raise Unsound(findings[0])
    return plan


def in_shop_terms(job: Job, second: Optimum, third: setups.Setups, share: Fraction | None = None) -> ProfilePlan:
    """One profile's plan with its sticks, and what is proven of each tier."""
    profile, instance, first = job.profile, job.instance, job.first
    sticks = layout.lay_out(profile, instance, third.plan, job.demand)
    totals = sum_up(sticks, profile.kerf, profile.one_per_stick)
    cost = first.value if share is not None else int(totals.cost / instance.coin)
    bound = certificate.proven_cost(instance, first, cost)
    spare = None if share is None else Spare.of(share, first.value * instance.coin, bound * instance.coin)
    multipliers = third.proof if third.proof and third.proof.checkable else None
    used = second.bound * instance.unit if share is None else Fraction(0)  # that speaks of cheaper plans only
    plan = ProfilePlan(
        profile=profile.name,
        kerf=profile.kerf,
        head_trim=profile.head_trim,
        tail_trim=profile.tail_trim,
        keep_from=profile.keep_from,
        one_per_stick=profile.one_per_stick,
        demand=job.demand,
        sticks=tuple(sticks),
        totals=totals,
        tiers=(
            Tier("cost", totals.cost, bound * instance.coin),
            # a plan below the proven least cost is impossible; above it, a cheaper one might use up less
            Tier("used up", totals.drawn - totals.kept, used),
            Tier("patterns", Fraction(totals.patterns), Fraction(third.bound)),
        ),
        certificate=certificate.write(profile, instance, first, cost, bound, multipliers),
        routing=profile.routing,
        most_trim=profile.most_trim,
        angles=profile.angles if any(ends_in(entry.lies) != SQUARE for entry in job.demand) else None,
        spare=spare,
    )
    return grounded(raised(held(plan)))


def held(plan: ProfilePlan) -> ProfilePlan:
    """The plan without multipliers for its set-ups that prove nothing, or that `check` would not accept."""
    if "setups" not in plan.certificate:
        return plan
    if certified_setups(plan) > counted_setups(plan) and SetupClaim(plan).holds():
        return plan
    return replace(plan, certificate={key: part for key, part in plan.certificate.items() if key != "setups"})


def in_words(profile: str, aim: str, step: Fraction) -> Wording:
    """Progress as people read it; `step` turns the search's whole numbers into money or length."""

    def report(best: int, bound: int) -> str:
        gap = 100 * (best - bound) / best if best else 0.0
        return (f"{profile}: {aim} {float(best * step):g}, proven so far: no less than {float(bound * step):g} "
                f"(gap {gap:.2g} %)")

    return report


def first_plan(instance: Instance, few: int = SiftingParams.few) -> Solution:
    """The cheapest of the first-fit-decreasing plans, one for each length that new sticks may be taken from.

    Where there are not `few` lengths, for each that costs something, and for the longest.
    """
    if instance.blanks is not None:
        return blanks.first_plan(instance)
    kinds = range(len(instance.sticks))
    plans = []
    for s in kinds if len(kinds) <= few else [0, *(s for s in kinds if instance.sticks[s].cost)]:
        others = sorted((t for t in kinds if t != s), key=lambda t: (instance.sticks[t].emergency, t))
        for preference in dict.fromkeys([(s, *others), (*free(instance), s, *others)]):
            plan = first_fit.first_fit_decreasing(instance, preference)
            if plan is not None:
                plans.append(plan)
                if not first_fit.spent(instance, plan):
                    return plan
    return min(plans, key=lambda plan: first_fit.spent(instance, plan))


def free(instance: Instance) -> list[int]:
    """Stick types that cost nothing, shortest first."""
    return sorted((s for s, stick in enumerate(instance.sticks) if not stick.cost),
                  key=lambda s: instance.sticks[s].length)


def refuse_missing(profile: Profile, instance: Instance, first: Optimum, demand: Sequence[Demand]) -> None:
    """Raises NoPlan where the best plan needs sticks that are not there.

    The plan needs the fewest of them that was found; the bound tells how many every plan needs.
    """
    lacking: Counter[int] = Counter()
    for pattern, n in first.plan.items():
        if instance.sticks[pattern.stick].emergency:
            lacking[instance.sticks[pattern.stick].length] += n
    if not lacking:
        return
    missing = lacking.total()
    more = listed([f"{n} more of {exact_decimal(k * instance.unit)}" for k, n in sorted(lacking.items())])
    least = first.bound // instance.sticks[-1].cost  # all there is costs less than one of them
    why = (blanks_said if instance.blanks is not None else pieces_said)(instance, first, demand)
    if not least:
        raise NoPlan(f"{profile.name}: no plan was found with the stock there is (with {more} there is one); "
                     f"it is not proven that none exists{why}")
    if least < missing:
        more = f"{least} to {more}" if len(lacking) == 1 else f"{least} to {missing} more, such as {more},"
    raise NoPlan(f"{profile.name}: the stock runs out: {more} would be needed{why}")


def pieces_said(instance: Instance, first: Optimum, demand: Sequence[Demand]) -> str:
    """Which pieces this plan cuts from sticks that are not there."""
    lost = {(instance.lengths[i], instance.lies[i]) for pattern in first.plan
            if instance.sticks[pattern.stick].emergency for i, _ in pattern.counts}
    return f"; for {named([entry for entry in demand if (entry.length, entry.lies) in lost])}"


def blanks_said(instance: Instance, first: Optimum, demand: Sequence[Demand]) -> str:
    """Which openings go without blanks, and that theirs must be of one length."""
    said = "".join(f"; {short}" for short in blanks.shortfalls(instance, first.plan, demand))
    bound = any(each > 1 for each in blanks.together(instance))
    return said + ("; all of one opening come from blanks of one length" if bound else "")
