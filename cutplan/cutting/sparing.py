"""What a dearer plan would save: set-ups, then lifts, where each plan may cost a share more than the least."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.cutting import certificate
from cutplan.cutting.exact import setups
from cutplan.cutting.lp.setup_bound import SetupBound
from cutplan.cutting.problem.objective import cheapest
from cutplan.cutting.tiers import Finished, Job, Tried, held, sound
from cutplan.plans.grounds import certified_setups, grounded, raised
from cutplan.plans.records import ProfilePlan, Spare
from cutplan.running.budget import Budget


def with_spare(done: Finished, budget: Budget) -> ProfilePlan:
    """The plan that may cost more where that is wanted, else the one there is; with it those of the trade.

    A fault in the search withholds none that is there already.
    """
    tried, aims = Tried(done.job.profile.name), done.job.aims
    plans = tried("set-ups to spare", lambda: laid_out(done, dearer(done, budget)))
    if plans is None:
        return replace(done.plan, faults=(*done.plan.faults, *tried.faults))
    return replace(plans[aims.spare], trade=tuple(plans[share] for share in aims.trade), faults=done.plan.faults)


@dataclass(frozen=True)
class Dearer:
    """The fewest set-ups, then lifts, of plans that cost at most so many coins."""

    at_most: int
    found: setups.Setups


def dearer(done: Finished, budget: Budget) -> dict[Fraction, Dearer]:
    """For each share of the least cost that may be spared what there is at that price, whatever the time: never more
    set-ups than where less may be spared, nor than where nothing is."""
    job = done.job
    before, known = done.third, [*job.first.patterns, *done.second.patterns]
    plans = {}
    for k, share in enumerate(job.aims.shares):
        budget.tell(f"{job.profile.name}: set-ups for {float(100 * share):g} % more")
        enough = setups.GoodEnough(cheapest(job.instance), within(job, share), job.first.root.dual)
        before = setups.spared(enough, before, known, budget.share(len(job.aims.shares) - k), job.share,
                               job.aims.stack, job.params.setups)
        known += before.plan
        plans[share] = Dearer(enough.ceiling, before)
    return plans


def within(job: Job, share: Fraction) -> int:
    """What a plan may cost, in coins, that costs at most such a share more than the least."""
    proven = certificate.proven_cost(job.instance, job.first, job.first.value)
    return math.floor(Spare.of(share, Fraction(job.first.value), Fraction(proven)).at_most)


def laid_out(done: Finished, plans: Mapping[Fraction, Dearer]) -> dict[Fraction | None, ProfilePlan]:
    """Them in the shop's own terms, and for None the plan of the least cost.

    What is proven of plans that may cost more holds of those that may cost less.
    """
    job = done.job
    said: dict[Fraction | None, ProfilePlan] = {}
    least, proofs = 0, list[tuple[int, SetupBound]]()
    for share, one in sorted(plans.items(), reverse=True):
        least = max(least, one.found.bound)
        if (proof := one.found.proof) is not None and proof.checkable:
            proofs.append((one.at_most, proof))
        said[share] = sharpened(sound(job, done.second, one.found, share), job, least, at(proofs, one.at_most))
    said[None] = sharpened(done.plan, job, least, at(proofs, job.first.value))
    return said


def at(proofs: Sequence[tuple[int, SetupBound]], cost: int) -> list[SetupBound]:
    """What proofs for plans that cost at most so much, in coins, come to for plans that cost at most `cost`."""
    return [proof.saving(most - cost) for most, proof in proofs]


def sharpened(plan: ProfilePlan, job: Job, least: int, proofs: Sequence[SetupBound]) -> ProfilePlan:
    """The plan with what else is known of its set-ups: that every plan has at least so many; of the proofs it keeps the
    one that proves most of that."""
    best = max(proofs, key=lambda proof: proof.ceiling, default=None)
    if best is not None and best.ceiling > certified_setups(plan):
        proof = certificate.multipliers(job.profile, job.instance, best)
        other = held(replace(plan, certificate=plan.certificate | {"setups": proof}))
        plan = other if "setups" in other.certificate else plan
    cost, used, patterns = plan.tiers
    bound = min(patterns.value, max(patterns.bound, Fraction(least)))
    return grounded(raised(replace(plan, tiers=(cost, used, replace(patterns, bound=bound)))))
