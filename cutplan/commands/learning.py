"""learn: what was truly cut for jobs, beside what their bids had said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.racking import RackFile, read_known
from cutplan.commands.shared import Csv, Files, JobName, Json, Store, Xlsx, asked_for, job_called, plainly, tell
from cutplan.rack import USUAL_RACK

if TYPE_CHECKING:
    from cutplan.bidding.drawn import PlanDrawn
    from cutplan.bidding.learning import BidSaid, LearntJob
    from cutplan.rack.claims import Known


def learn(
    plans: Annotated[
        list[str] | None, typer.Argument(metavar="[PLAN...]", help="Plans that sticks are booked of; none: only what "
                                                                   "is in the store.")
    ] = None,
    store: Store = None,
    job: JobName = None,
    rack: RackFile = USUAL_RACK,
    without_rack: Annotated[
        bool, typer.Option("--without-rack", help="These plans were cut without a rack, to the last stick: they count "
                                                  "whole.")
    ] = False,
    json: Json = None,
    csv: Csv = None,
    xlsx: Xlsx = None,
) -> None:
    """What was truly cut for each job, beside what its bid had said."""
    with plainly():
        given = plans or []
        named = job_called(job)
        if not given and not store:
            raise typer.BadParameter("give plans to learn from, a --store to look at, or both")
        if not given and (job or without_rack):
            raise typer.BadParameter("--job and --without-rack speak of plans; give these too")
        files = Files(given, [store, None if without_rack or not given else rack],
                      {"--json": json, "--csv": csv, "--xlsx": xlsx})

        from cutplan.bidding.learning import LearntPlan, jobs_of, lessons
        from cutplan.bidding.remembered import all_before, all_bids, all_plans, other_jobs, remember_plan
        from cutplan.bidding.store import changing, store_refused, unit_of
        from cutplan.problems import InputProblems
        from cutplan.sheets import learning as sheet
        from cutplan.sheets.words import Writer
        from cutplan.sheets.workbook import workbook
        from cutplan.shop import TAPES

        if problems := [*files.problems(), *(store_refused(store) if store else [])]:
            raise InputProblems(problems)
        read = each_once(given)
        drawn = drawn_of(read, named, rack, without_rack)
        fates = []
        if store:
            with changing(store, read[0].plan.unit if read else None) as db:
                unit, moved = unit_of(db), other_jobs(db, drawn)
                fates = [remember_plan(db, one) for one in drawn]
                learnt, bids, before = all_plans(db), all_bids(db), all_before(db)
        else:
            unit, moved, bids, before = read[0].plan.unit, {}, [], []
            learnt = [LearntPlan.of(one) for one in drawn if one.begun]
        jobs = jobs_of(learnt, bids)
        found = sheet.Learnt(jobs, lessons(jobs), before, unheard(bids, jobs), [
            *sheet.fate_notes(drawn, fates, rack), *sheet.moved_notes(drawn, moved),
            *sheet.job_notes(jobs, bids), *strange_jobs(read, named)])
        write = Writer(unit, read[0].plan.tape if read else TAPES[unit])
        texts = asked_for((json, lambda: sheet.learnt_json(found, unit)), (csv, lambda: sheet.learnt_csv(found)),
                          (xlsx, lambda: workbook(sheet.learnt_listings(found), write.length)))
        files.deliver(texts, sheet.learnt_text(found, write))


# ---- what it does ----


def each_once(plans: Sequence[str]) -> list[Known]:
    """The plans, each of them once. InputProblems for those that are not sound, or not of one unit."""
    from cutplan.problems import InputProblems, Problem

    read = [read_known(plan) for plan in plans]
    if odd := [one for one in read if one.plan.unit != read[0].plan.unit]:
        raise InputProblems([Problem(one.file, 1, "unit", f"is not {read[0].plan.unit} as in {read[0].file}; give "
                                     "plans of one unit") for one in odd])
    first: dict[str, Known] = {}
    for one in read:
        if first.setdefault(one.id, one) is not one:
            tell(f"{one.file} is the same plan as {first[one.id].file}, and counts once")
    return list(first.values())


def drawn_of(plans: Sequence[Known], job: str, rack: str, without_rack: bool) -> list[PlanDrawn]:
    """What was cut of each plan. InputProblems where the rack is not there."""
    from cutplan.bidding.drawn import booked, cut_whole
    from cutplan.database import is_there
    from cutplan.problems import InputProblems, Problem
    from cutplan.rack.store import reading

    if without_rack:
        return [cut_whole(plan, job or plan.plan.job) for plan in plans]
    if plans and not is_there(rack):
        said = ("there is no rack here, so nobody knows what was cut; name the one that the plans are booked on with "
                "--rack, or give --without-rack if they were cut without one")
        raise InputProblems([Problem(rack, 1, "file", said)])
    if not plans:
        return []
    with reading(rack) as open_rack:
        return [booked(open_rack, plan, job or plan.plan.job) for plan in plans]


def unheard(bids: Sequence[BidSaid], jobs: Sequence[LearntJob]) -> list[BidSaid]:
    """The bids that no plan is held against: of jobs of which none was learnt the last, and all of no job."""
    there = {job.name for job in jobs}
    last = {bid.job: bid for bid in bids}
    return [bid for bid in bids if not bid.job or (bid.job not in there and last[bid.job] is bid)]


def strange_jobs(plans: Sequence[Known], job: str) -> list[str]:
    """What is to be said where plans name another job than the one that was given."""
    return [f"{one.file} was planned for the job {one.plan.job}, and is learnt for {job}, as you say." for one in plans
            if job and one.plan.job not in ("", job)]
