"""What was cut for each job beside what its bid said, and the corrections, as text, CSV, JSON and a workbook."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from shlex import quote

from cutplan.bidding.drawn import PlanDrawn
from cutplan.bidding.learning import LARGER, WHOLE_JOB, BidSaid, JobFigures, LearntJob, Lesson
from cutplan.bidding.needs import StickNumbers
from cutplan.bidding.remembered import ADDED, AGAIN, NOT_BOOKED, TAKEN_BACK, LearntBefore
from cutplan.exactjson import written
from cutplan.lengths import exact_decimal, places
from cutplan.printable import plain
from cutplan.problems import nearest
from cutplan.sheets.bid import Block, order_words, sticks_of, up
from cutplan.sheets.listing import Entry, Listing, as_csv, estimate, listing, measure, number, yes_or_no
from cutplan.sheets.words import Writer, bulleted, counted, percent

JOBS = ("job", "profile", "finished", "plans", "net", "bid_net", "bid_net_least", "bid_net_most", "size", "drawn",
        "kept", "waste_percent_of_net", "said_in_50", "correction", "enough_in", "said_enough", "waste_held", "sticks",
        "new_sticks", "order", "from_rack", "order_held")
CORRECTIONS = ("profile", "jobs", "correction", "standard_error", "least", "most", "orders_held", "orders_known",
               "waste_held")
TOTAL, TOGETHER = "total", "together"  # the whole job, to people and in files


@dataclass(frozen=True)
class Learnt:
    """What there is to print: the jobs and what follows from them; what was learnt before plans were asked what of them
    was cut; the bids that no plan was held against; what is to be said first."""

    jobs: Sequence[LearntJob]
    lessons: Sequence[Lesson]
    before: Sequence[LearntBefore] = ()
    alone: Sequence[BidSaid] = ()
    notes: Sequence[str] = ()


# ---- for people ----


def learnt_text(learnt: Learnt, write: Writer) -> str:
    parts = [bulleted(learnt.notes)] if learnt.notes else []
    return "\n\n".join([write.legend(), *parts, *(block.text() for block in blocks(learnt, write))])


def blocks(learnt: Learnt, write: Writer) -> Iterator[Block]:
    if learnt.jobs:
        yield sticks_block(learnt.jobs, write)
        yield waste_block(learnt.jobs, write)
    if learnt.lessons:
        yield corrections_block(learnt.lessons)
    if learnt.before:
        yield Block(
            "Learnt before plans were asked what of them was cut", "These are of whole plans, whether they were cut or "
            "not, and are held against no bid. Give such a plan again, with its job and its rack.",
            ("plan", "job", "profile", f"net, {write.unit}", "waste, % of net"),
            [(plain(one.name), plain(one.job) or "-", plain(one.profile), write.length(one.net),
              percent(100 * one.waste / one.net) if one.net else "-") for one in learnt.before], sides="lllrr")
    if learnt.alone:
        yield Block(
            "Bids that no plan was held against", "Of these jobs no plan was learnt yet; a bid without a job's name "
            "will never have one: run it again with --job.", ("job", "bid", "profile", f"mean net, {write.unit}",
                                                               "waste, 50 of 100", "enough", "in"),
            [(plain(bid.job) or "-", plain(bid.name), called(one.profile), write.length(one.net), up(one.half),
              up(one.enough), f"{exact_decimal(one.chance)} of 100") for bid in learnt.alone for one in bid.said],
            sides="lllrrrr")


def fate_notes(drawn: Sequence[PlanDrawn], fates: Sequence[str], rack: str) -> Iterator[str]:
    """What became of the plans that were given: of each in the store, if there is one (no fates: none)."""
    if fates:
        again = fates.count(AGAIN)
        yield f"{counted(fates.count(ADDED), 'plan')} added" + (f", {again} counted anew." if again else ".")
    elif drawn:
        yield "Without --store nothing is remembered, and there are no bids to compare with."
    for one, fate in zip(drawn, fates or [ADDED if one.begun else NOT_BOOKED for one in drawn], strict=True):
        if fate == TAKEN_BACK:
            yield f"{one.name} counts no more: all its bookings on {rack} were taken back."
        elif fate == NOT_BOOKED:
            yield (f"{one.name} does not count: none of it is booked on {rack}. If it was cut without a rack, say "
                   "--without-rack; what was learnt of it so before stays.")


def moved_notes(drawn: Sequence[PlanDrawn], moved: Mapping[str, str]) -> Iterator[str]:
    """Which plans counted for another job before."""
    for one in drawn:
        if before := moved.get(one.plan):
            yield (f"{one.name} counted for the job {before} until now, and counts for {one.job} instead; was that not "
                   f"meant, learn it again with --job {quote(before)}.")


def job_notes(jobs: Sequence[LearntJob], bids: Sequence[BidSaid]) -> Iterator[str]:
    """Why jobs are held against no bid, or are not finished."""
    names = {bid.job for bid in bids if bid.job}
    for job in jobs:
        if not job.name:
            yield f"{', '.join(job.plans)}: for no job, so no bid is held against it; say which with --job."
        elif names and job.bid is None:
            near = nearest(job.name, names)
            yield f"There is no bid of the job {job.name}" + (f"; did you mean {near}?" if near else ".")
        if job.lacking:
            yield (f"{job.name or 'no job'}: part of what was planned together with it was cut by "
                   f"{', '.join(job.lacking)}, which was not learnt for it. Give that too; until then the job does not "
                   "count as finished.")
        elif job.unfinished:
            yield (f"{job.name or 'no job'} is not finished: {', '.join(job.unfinished)}, or what took the place of "
                   "that, is not cut to the end.")


def rows_of(jobs: Sequence[LearntJob]) -> Iterator[tuple[LearntJob, JobFigures]]:
    """The profiles of each job, and all together where there are several."""
    for job in jobs:
        for one in job.figures:
            if one.profile != WHOLE_JOB or len(job.figures) > 2:
                yield job, one


def called(profile: str) -> str:
    return TOTAL if profile == WHOLE_JOB else plain(profile)


def name_of(job: LearntJob) -> str:
    return plain(job.name) if job.name else f"no job: {plain(', '.join(job.plans))}"


def sticks_block(jobs: Sequence[LearntJob], write: Writer) -> Block:
    rows = [(name_of(job), called(one.profile), write.length(one.net), net_said(one, write), drawn_words(one, write),
             order_said(one, write), held_words(job, one, one.order_held)) for job, one in rows_of(jobs)]
    return Block(
        "What each job drew, beside what its bid ordered", "Were the sticks enough that the bid called enough? Held: "
        "each new stick that was drawn for the job could have come out of the bid's order, itself or a longer one for "
        "it (of turned blanks just itself). A no says that sticks were drawn that the order has not; other plans might "
        "have done without them.",
        ("job", "profile", f"net, {write.unit}", "net in the bid", "new sticks drawn", "the bid's order", "held"), rows,
        "Net is the length of the pieces. With offcuts: the job also cut offcuts that the bid did not count on, so the "
        "order alone is not known to be enough. Larger or smaller: the job's net is over a tenth beyond all versions "
        "of the bid, so that it is not the job that was bid. So far: not all of it is cut.", "llrrlll")


def net_said(one: JobFigures, write: Writer) -> str:
    if one.said is None:
        return "-"
    if one.said.least is None or one.said.most is None:
        return write.length(one.said.net)
    least, most = write.length(one.said.least), write.length(one.said.most)
    return least if least == most else f"{least} to {most}"


def drawn_words(one: JobFigures, write: Writer) -> str:
    said = sticks_words(one.profile, one.new, write)
    return said + (f", and {counted(len(one.offcuts), 'offcut')}" if one.offcuts else "")


def sticks_words(profile: str, sticks: Mapping[str, StickNumbers], write: Writer) -> str:
    """5 x 240 + 1 x 96; of the whole job only how many."""
    if profile == WHOLE_JOB:
        return counted(sum(n for own in sticks.values() for n in own.values()), "stick")
    return sticks_of(sticks.get(profile, {}), write)


def order_said(one: JobFigures, write: Writer) -> str:
    if one.said is None or one.said.order is None:
        return "-"
    return f"{sticks_words(one.profile, one.said.order, write)} ({exact_decimal(one.said.chance)} of 100)"


def held_words(job: LearntJob, one: JobFigures, held: str) -> str:
    if not held:
        return "-"
    size = f", {one.size} job" if one.size and (job.finished or one.size == LARGER) else ""
    return f"{'' if job.finished else 'so far '}{held}{size}"


def waste_block(jobs: Sequence[LearntJob], write: Writer) -> Block:
    rows = [(name_of(job), called(one.profile), percent_or_none(one.of_net), write.length(one.kept),
             *(("-", "-", "-") if one.said is None else
               (up(one.said.half), signed(one.correction),
                f"{up(one.said.enough)} ({exact_decimal(one.said.chance)} of 100)")),
             held_words(job, one, one.waste_held)) for job, one in rows_of(jobs)]
    return Block(
        "What each job wasted, in % of its own net length", "Was the waste what the bid said? All figures are in % of "
        "the net length of what they speak of: the job's waste of the job's, the bid's of each of its versions'.",
        ("job", "profile", "wasted, %", f"of it kept, {write.unit}", "said, 50 of 100", "more by", "said enough",
         "held"), rows,
        "Waste is all that was drawn and is no piece, kept offcuts in it; spoiled sticks count with what they gave. "
        "What a job kept and cut up again itself is drawn once.", "llrrrrrl")


def percent_or_none(figure: Fraction | None) -> str:
    return "-" if figure is None else percent(figure)


def signed(figure: Fraction | None) -> str:
    return "-" if figure is None else ("+" if figure > 0 else "") + percent(figure)


def corrections_block(lessons: Sequence[Lesson]) -> Block:
    rows = [(called(one.profile), str(one.jobs), signed(one.correction),
             *(("-", "-", "-") if one.error is None else
               (places(Fraction(one.error), 2), signed(min(one.corrections)), signed(max(one.corrections)))),
             of_all(one.orders_held), of_all(one.waste_held)) for one in lessons]
    return Block(
        "Corrections", "By how much did jobs waste more than their bids called enough in half of the jobs? In points "
        "of the net length, each job counting once. It is shown, and never applied: the next bid says what it would "
        "have said.",
        ("profile", "jobs", "correction", "standard error", "from", "to", "orders held", "waste held"), rows,
        "Only finished jobs that were bid, of the size that was bid. The standard error is how far the mean "
        "is likely to be off by chance; of two or three jobs it says little. From, to: the smallest and the largest of "
        "the jobs. One job has no spread.")


def of_all(held: tuple[int, int]) -> str:
    return f"{held[0]} of {held[1]}" if held[1] else "-"


# ---- for other programs ----


def learnt_csv(learnt: Learnt) -> str:
    return as_csv(jobs_listing(learnt))


def learnt_listings(learnt: Learnt) -> list[Listing]:
    """The jobs, and the corrections where there are any."""
    return [jobs_listing(learnt), *([corrections_listing(learnt)] if learnt.lessons else [])]


def jobs_listing(learnt: Learnt) -> Listing:
    return listing("jobs", JOBS, (job_cells(job, one) for job in learnt.jobs for one in job.figures))


def job_cells(job: LearntJob, one: JobFigures) -> Sequence[Entry]:
    said, whole = one.said, one.profile == WHOLE_JOB
    return (
        job.name, TOGETHER if whole else one.profile, yes_or_no(job.finished), "; ".join(job.plans), measure(one.net),
        *(("", "", "") if said is None else (estimate(said.net), measure(said.least), measure(said.most))), one.size,
        measure(one.drawn), measure(one.kept), estimate(one.of_net), estimate(said.half if said else None),
        estimate(one.correction), number(said.chance if said else None), estimate(said.enough if said else None),
        one.waste_held, sum(n for own in one.new.values() for n in own.values()), order_words(one.new, whole),
        "" if said is None or said.order is None else order_words(said.order, whole), len(one.offcuts), one.order_held)


def corrections_listing(learnt: Learnt) -> Listing:
    return listing("corrections", CORRECTIONS, (correction_cells(one) for one in learnt.lessons))


def correction_cells(one: Lesson) -> Sequence[Entry]:
    spread = one.error is not None
    return (TOGETHER if one.profile == WHOLE_JOB else one.profile, one.jobs, estimate(one.correction),
            estimate(None if one.error is None else Fraction(one.error)),
            estimate(min(one.corrections) if spread else None), estimate(max(one.corrections) if spread else None),
            one.orders_held[0], one.orders_held[1], one.waste_held[0])


def learnt_json(learnt: Learnt, unit: str) -> str:
    """All figures, exact but for the standard error; a number without a finite decimal is a text "p/q"."""
    return written({
        "unit": unit,
        "jobs": [{
            "job": job.name, "plans": list(job.plans), "bid": job.bid.name if job.bid else None,
            "finished": job.finished, "unfinished": list(job.unfinished), "lacking": list(job.lacking),
            "profiles": [figures_fields(one) for one in job.figures],
        } for job in learnt.jobs],
        "corrections": [{
            "profile": TOGETHER if one.profile == WHOLE_JOB else one.profile, "corrections": list(one.corrections),
            "mean": one.correction, "standard_error": None if one.error is None else rounded(one.error),
            "orders_held": one.orders_held[0], "orders_known": one.orders_held[1], "waste_held": one.waste_held[0],
        } for one in learnt.lessons],
    }) + "\n"


def rounded(error: float) -> Fraction:
    return Fraction(places(Fraction(error), 6))


def figures_fields(one: JobFigures) -> dict[str, object]:
    said = None if one.said is None else {
        "net": one.said.net, "least_net": one.said.least, "most_net": one.said.most, "waste_in_50": one.said.half,
        "in": one.said.chance, "waste": one.said.enough,
        "order": None if one.said.order is None else sticks_fields(one.said.order)}
    return {
        "profile": TOGETHER if one.profile == WHOLE_JOB else one.profile, "net": one.net, "drawn": one.drawn,
        "kept": one.kept, "waste_percent_of_net": one.of_net, "new_sticks": sticks_fields(one.new),
        "from_rack": [{"tag": offcut.tag, "length": offcut.length} for offcut in one.offcuts], "said": said,
        "size": one.size, "correction": one.correction, "order_held": one.order_held, "waste_held": one.waste_held}


def sticks_fields(sticks: Mapping[str, StickNumbers]) -> list[dict[str, object]]:
    return [{"profile": name, "length": length, "number": n} for name, own in sticks.items()
            for length, n in sorted(own.items())]
