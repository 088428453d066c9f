"""What was truly cut for a job, beside what its bid said: job by job, and the correction with its spread.

The correction is shown and never applied. Sticks are held against the order that the bid said is enough in so many jobs
of a hundred, waste against what it said of waste, both in per cent of the job's own net length. What a job kept and cut
up again itself was drawn once.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.bidding.drawn import CutOffcut, Drawn, PlanDrawn
from cutplan.bidding.needs import StickNumbers, at_least, length_of
from cutplan.plans.records import waste_percent

WHOLE_JOB = ""  # in place of a profile's name
# Of the net length of a bid's versions, by which a job may be beyond them and still is the job that was bid. Versions
# are a sample and openings come out a little beyond their ranges; one gate more or less in ten is another job.
SAME_SIZE = Fraction(1, 10)
YES, NO, WITH_OFFCUTS = "yes", "no", "with offcuts"  # whether what a bid called enough was
SMALLER, LARGER = "smaller", "larger"  # a job that is not the one that was bid


@dataclass(frozen=True)
class ProfileSaid:
    """What a bid said of a profile, or of the whole job. Lengths in the bid's unit, waste in % of net.

    `net` is the mean of its versions, `least` and `most` (None: from before these were noted down) their range. `half`
    is the waste enough in half of the jobs, `enough` in `chance` of a hundred; `order` the sticks enough in so many, by
    profile (empty: not noted down). `turned`: a longer blank does not serve for a shorter one.
    """

    profile: str
    net: Fraction
    half: Fraction
    chance: Fraction
    enough: Fraction
    least: Fraction | None = None
    most: Fraction | None = None
    order: Mapping[str, StickNumbers] | None = None
    turned: bool = False


@dataclass(frozen=True)
class BidSaid:
    """What a bid said; `racked`: it counted on offcuts of a rack. What it said of the whole job comes last."""

    name: str
    job: str
    racked: bool
    said: tuple[ProfileSaid, ...]

    @property
    def turned(self) -> frozenset[str]:
        return frozenset(one.profile for one in self.said if one.turned)


@dataclass(frozen=True)
class JobFigures:
    """What a job drew of a profile, or of all (`profile` is WHOLE_JOB), beside what its bid said (None: nothing).

    `drawn` is all that was taken, `new` the new sticks of it by profile, `offcuts` those that came from elsewhere than
    the job itself; `kept` is on the rack, or was taken from there for other jobs.
    """

    profile: str
    net: Fraction
    drawn: Fraction
    kept: Fraction
    new: Mapping[str, StickNumbers]
    offcuts: tuple[CutOffcut, ...]
    said: ProfileSaid | None
    order_held: str

    @property
    def waste(self) -> Fraction:
        return self.drawn - self.net

    @property
    def of_net(self) -> Fraction | None:
        """The waste in per cent of the net length; None where nothing was made of it."""
        return waste_percent(self.waste, self.net) if self.net > 0 else None

    @property
    def size(self) -> str:
        """"" for the size that was bid; else which way it is another."""
        if self.said is None or self.said.least is None or self.said.most is None:
            return ""
        if self.net > self.said.most * (1 + SAME_SIZE):
            return LARGER
        return SMALLER if self.net < self.said.least * (1 - SAME_SIZE) else ""

    @property
    def correction(self) -> Fraction | None:
        """What was wasted less what the bid called enough in half of the jobs, in points."""
        return None if self.said is None or self.of_net is None else self.of_net - self.said.half

    @property
    def waste_held(self) -> str:
        """Whether the waste was within what the bid called enough; "" where that cannot be said."""
        return "" if self.said is None or self.of_net is None else YES if self.of_net <= self.said.enough else NO


@dataclass(frozen=True)
class LearntJob:
    """A job: its plans and its bid. `lacking` names plans that were made of each other's rests with its own, and of
    which sticks are booked, but that were not learnt for it; `unfinished` are those not cut to their end."""

    name: str
    plans: tuple[str, ...]
    bid: BidSaid | None
    figures: tuple[JobFigures, ...]
    unfinished: tuple[str, ...]
    lacking: tuple[str, ...]

    @property
    def finished(self) -> bool:
        return not self.unfinished and not self.lacking


@dataclass(frozen=True)
class Lesson:
    """The finished jobs of a profile (WHOLE_JOB: of all) that were cut in the size that was bid.

    `correction` is the mean over the jobs of what they wasted less what their bids called enough in half of the jobs,
    in points of the net length; `error` its standard error (None: one job has no spread), `least` and `most` its range.
    """

    profile: str
    corrections: tuple[Fraction, ...]
    orders_held: tuple[int, int]
    waste_held: tuple[int, int]

    @property
    def jobs(self) -> int:
        return len(self.corrections)

    @property
    def correction(self) -> Fraction:
        return sum(self.corrections, Fraction(0)) / self.jobs

    @property
    def error(self) -> float | None:
        if self.jobs < 2:
            return None
        squares = sum((one - self.correction) ** 2 for one in self.corrections)
        return math.sqrt(squares / (self.jobs - 1) / self.jobs)


@dataclass(frozen=True)
class LearntPlan:
    """A plan as it was learnt; `unfinished`, and the `others` of its week by fingerprint and name."""

    drawn: PlanDrawn
    unfinished: bool
    others: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, drawn: PlanDrawn) -> LearntPlan:
        """A plan that is learnt just now."""
        return cls(drawn, any(one.unfinished for one in drawn.week if one.plan == drawn.plan),
                   tuple((one.plan, one.name) for one in drawn.week if one.plan != drawn.plan))


def jobs_of(plans: Sequence[LearntPlan], bids: Sequence[BidSaid]) -> list[LearntJob]:
    """The jobs that plans were learnt of; each plan of no job is one by itself. Of several bids the last one counts."""
    last = {bid.job: bid for bid in bids if bid.job}
    by_job: dict[tuple[str, str], list[LearntPlan]] = {}
    for one in plans:
        by_job.setdefault((one.drawn.job, "" if one.drawn.job else one.drawn.plan), []).append(one)
    return [job_of(name, own, last.get(name) if name else None) for (name, _), own in by_job.items()]


def job_of(name: str, plans: Sequence[LearntPlan], bid: BidSaid | None) -> LearntJob:
    own = {one.drawn.plan for one in plans}
    lacking = dict.fromkeys(called for one in plans for other, called in one.others if other not in own)
    said = {one.profile: one for one in bid.said} if bid else {}
    drawn = [profile for one in plans for profile in one.drawn.profiles]
    names = dict.fromkeys(profile.profile for profile in drawn)
    parts = [figures_of(profile, [one for one in drawn if one.profile == profile], own, said.get(profile), bid)
             for profile in names]
    whole = together(parts, said.get(WHOLE_JOB), bid)
    return LearntJob(name, tuple(one.drawn.name for one in plans), bid, (*parts, whole),
                     tuple(one.drawn.name for one in plans if one.unfinished), tuple(lacking))


def figures_of(name: str, drawn: Sequence[Drawn], own: set[str], said: ProfileSaid | None, bid: BidSaid | None
               ) -> JobFigures:
    """One profile of a job, whose plans are its `own`."""
    new: Counter[Fraction] = Counter()
    for one in drawn:
        new.update(one.new)
    offcuts = [offcut for one in drawn for offcut in one.offcuts]
    strange = tuple(offcut for offcut in offcuts if offcut.kept_by not in own)
    again = added(offcut.length for offcut in offcuts if offcut.kept_by in own)
    return JobFigures(name, added(one.net for one in drawn), length_of(new) + added(one.length for one in strange),
                      added(one.kept for one in drawn) - again, {name: new}, strange, said,
                      held({name: new}, strange, said, bid))


def together(parts: Sequence[JobFigures], said: ProfileSaid | None, bid: BidSaid | None) -> JobFigures:
    new = {name: numbers for one in parts for name, numbers in one.new.items()}
    offcuts = tuple(offcut for one in parts for offcut in one.offcuts)
    return JobFigures(WHOLE_JOB, added(one.net for one in parts), added(one.drawn for one in parts),
                      added(one.kept for one in parts), new, offcuts, said, held(new, offcuts, said, bid))


def added(lengths: Iterable[Fraction]) -> Fraction:
    return sum(lengths, Fraction(0))


def held(new: Mapping[str, StickNumbers], offcuts: Sequence[CutOffcut], said: ProfileSaid | None, bid: BidSaid | None
         ) -> str:
    """Whether the new sticks that were drawn could have come out of the bid's order; "" where no order is known."""
    if said is None or bid is None or said.order is None:
        return ""
    if not all(at_least(said.order.get(name, {}), numbers, name not in bid.turned) for name, numbers in new.items()):
        return NO
    return WITH_OFFCUTS if offcuts and not bid.racked else YES


def lessons(jobs: Sequence[LearntJob]) -> tuple[Lesson, ...]:
    """One for each profile that a finished job with a bid has, and one of whole jobs, which comes last."""
    counted = [one for job in jobs if job.finished for one in job.figures if one.correction is not None
               and not one.size]
    names = sorted(dict.fromkeys(one.profile for one in counted), key=lambda name: name == WHOLE_JOB)
    return tuple(lesson(name, [one for one in counted if one.profile == name]) for name in names)


def lesson(name: str, counted: Sequence[JobFigures]) -> Lesson:
    known = [one for one in counted if one.order_held in (YES, NO)]
    return Lesson(name, tuple(one.correction for one in counted if one.correction is not None),
                  (sum(one.order_held == YES for one in known), len(known)),
                  (sum(one.waste_held == YES for one in counted), len(counted)))
