"""replan: what is left of plans is planned again, and they are retired."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutplan.commands.booking import known
from cutplan.commands.planning import order_files, tell_of
from cutplan.commands.racking import RackFile
from cutplan.commands.shared import (
    STDOUT,
    Files,
    JobName,
    ShopFile,
    Xlsx,
    asked_for,
    check_limit,
    going,
    job_called,
    plainly,
    tell,
    with_stock,
)
from cutplan.rack import USUAL_RACK

if TYPE_CHECKING:
    from cutplan.orders import Order, Piece
    from cutplan.rack.claims import Known
    from cutplan.shop import Shop


def replan(
    plans: Annotated[list[str], typer.Argument(metavar="PLAN...", help="Plans that are not cut to their end.")],
    shop: ShopFile,
    more: Annotated[
        list[str] | None, typer.Option("--with", metavar="WEEK", help="A week or pieces that have come since; may be "
                                                                      "given again.")
    ] = None,
    week: Annotated[
        list[str] | None, typer.Option("--week", metavar="WEEK", help="All that is wanted now, where openings changed "
                                                                      "or were cancelled; may be given again.")
    ] = None,
    rack: RackFile = USUAL_RACK,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the new plan to FILE, and retire the old ones; without it "
                                                      "nothing is changed.")
    ] = None,
    csv: Annotated[str | None, typer.Option(metavar="FILE", help="Write the cut list to FILE; - prints.")] = None,
    xlsx: Xlsx = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a better plan than this.")
    ] = 60.0,
    use_on_hand: Annotated[
        bool, typer.Option("--use-on-hand", help="Cut the counted sticks of the rack before any is bought, as is done "
                                                 "where the old plans were made so.")
    ] = False,
    order: Annotated[
        str | None, typer.Option("--plans", metavar="DIR", help="The plans of an order, from buy --plans: leave what "
                                                                "the others need.")
    ] = None,
    job: JobName = None,
) -> None:
    """Plan again what is left of plans, with what has come since or as it is wanted now: the new plan replaces them."""
    with plainly():
        if more and week:
            raise typer.BadParameter("--with adds to what was asked for, --week says all of it anew; give one of them")
        if json == "-":
            raise typer.BadParameter("--json - cannot be booked; give it a file")
        came = [*(more or []), *(week or [])]
        of_order = order_files(order) if order else []
        files = Files([*with_stock(shop), *plans, *came, *of_order], [rack],
                      {"--json": json, "--csv": csv, "--xlsx": xlsx})
        check_limit(limit)
        named = job_called(job)
        olds = known_plans(plans, rack, files)
        named = named or job_of(olds)
        loaded, added = load_inputs(shop, came)
        for note in loaded.notes:
            tell(note)

        from cutplan.orders import week_names
        from cutplan.planning import beside, replanning
        from cutplan.planning.ordered import cuts_what_is_there
        from cutplan.plans.plan import to_json
        from cutplan.rack.store import changing
        from cutplan.sheets.changed import laid_text, pinned_text, served_text
        from cutplan.sheets.csvout import cuts_csv, cuts_workbook
        from cutplan.sheets.plan import plan_text

        others = others_of_order(of_order, olds, rack)
        first = [what.file for what in olds if cuts_what_is_there(what.plan)]
        if first and not use_on_hand:
            tell(f"sticks on hand are cut before any is bought, as in {', '.join(first)}")
        from_rack: Any = {"on_hand": use_on_hand or bool(first), "others": others}
        with going(limit) as budget:
            weeks = week_names(came)
            if week:
                serving = replanning.serving(rack, olds, added, loaded)
                beside.refuse_in_week(rack, olds, added, came, loaded)
                change = replanning.change_of(serving.served, loaded)
                free = replanning.free_without(rack, olds, loaded, bool(json), change.laid, **from_rack)
                new = replanning.replan_week(olds, serving, change, free, budget, weeks, named)
                parts = [served_text(serving.served, loaded)]
                if pinned := pinned_text(serving.taken):
                    tell(pinned)
            else:
                left = replanning.left_of(rack, olds, loaded)
                beside.refuse_in_more(rack, olds, added, came, loaded)
                work = replanning.with_more(olds, left, added)
                free = replanning.free_without(rack, olds, loaded, bool(json), **from_rack)
                new = replanning.replan(olds, work, free, budget, weeks, named)
                parts = []
        for note in free.supply.notes:
            tell(note)
        tell_of(new.result)
        plan = new.plan

        def tables() -> dict[str, str | bytes]:
            return asked_for((csv, lambda: cuts_csv(plan)), (xlsx, lambda: cuts_workbook(plan)))

        if json is None:
            tell("this is only a look; --json FILE writes the plan, and retires what it takes the place of")
        else:
            with changing(rack) as open_rack:  # whoever is stopped before its end has a file, and the old plans still
                retired = replanning.retire(open_rack, new, json, others)
                plan = retired.plan
                written = {target: one for target, one in tables().items() if target != STDOUT}
                files.write({json: to_json(plan), **written})
                parts += [laid_text(retired.laid, open_rack.unit)] if retired.laid else []
        if json is None:
            files.deliver(tables(), "\n\n".join([*parts, plan_text(plan)]))
        else:
            files.print(tables(), "\n\n".join([*parts, plan_text(plan)]))
        for note in retired.notes if json else ():
            tell(note)


# ---- what it does ----


def known_plans(plans: Sequence[str], rack: str, files: Files) -> list[Known]:
    """The plans that are given, all sound and each of them once. InputProblems for everything else."""
    from cutplan.commands.racking import refuse_missing
    from cutplan.problems import InputProblems, Problem

    files.refuse()
    refuse_missing(rack)
    problems: list[Problem] = []
    found: dict[str, Known] = {}
    for plan in plans:
        try:
            what = known(plan, rack)
        except InputProblems as wrong:
            problems += wrong.problems
            continue
        if what.id in found:
            problems.append(Problem(plan, 1, "file", f"is the same plan as {found[what.id].file}; give it once"))
        found.setdefault(what.id, what)
    if problems:
        raise InputProblems(problems)
    return list(found.values())


def others_of_order(files: Sequence[str], olds: Sequence[Known], rack: str) -> list[Known]:
    """The plans of an order that are still to be cut, beside those that are planned again; of the folder that these are
    in, where no files are given."""
    from cutplan.buying.plans import files_beside
    from cutplan.commands.racking import read_known
    from cutplan.planning.ordered import is_of_order, waiting
    from cutplan.rack.store import reading

    files = files or [file for what in olds if is_of_order(what.plan) for file in files_beside(what.file)]
    plans = {one.id: one for one in map(read_known, dict.fromkeys(files))}
    own = {id_ for what in olds for id_ in (what.id, *(one.plan for one in what.plan.replaces))}
    with reading(rack) as open_rack:
        return waiting(open_rack, list(plans.values()), own)


def job_of(olds: Sequence[Known]) -> str:
    """The job that plans are all for; "" where they are for several, or of one it is not known."""
    jobs = {what.plan.job for what in olds}
    if len(jobs) > 1:
        tell("the plans are not all for one job, so the new one is for none; if it is for one, say which with --job")
    return jobs.pop() if len(jobs) == 1 else ""


def load_inputs(shop: str, came: Sequence[str]) -> tuple[Shop, Sequence[Order | Piece]]:
    from cutplan import orders

    return orders.load_inputs(shop, *came)
