"""takeoff and cut: from a week to a plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutplan.commands.racking import is_new, read_known, tell_new
from cutplan.commands.shared import (
    Files,
    FromRack,
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

if TYPE_CHECKING:
    from fractions import Fraction

    from cutplan.orders import Order, Origin, Piece
    from cutplan.planning.centring import Chosen
    from cutplan.planning.result import Result
    from cutplan.plans.plan import Plan
    from cutplan.rack.store import Rack
    from cutplan.running.budget import Budget
    from cutplan.shop import Shop
    from cutplan.takeoff import Takeoff


def takeoff(
    work: Annotated[
        list[str], typer.Argument(metavar="WEEK...", help="Week files, and lists of pieces for some of their gates.")
    ],
    shop: ShopFile,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the pieces to FILE, for cut to read; - prints.")
    ] = None,
    xlsx: Xlsx = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write every part as it is placed to FILE; - prints.")
    ] = None,
) -> None:
    """Work out every piece of the week, and a layout card for each gate and bay."""
    with plainly():
        files = Files([*with_stock(shop), *work], outputs={"--csv": csv, "--xlsx": xlsx, "--json": json})
        loaded, entries = load(shop, work, files)
        for note in loaded.notes:
            tell(note)

        from cutplan.sheets.csvout import pieces_csv, pieces_listing
        from cutplan.sheets.takeoff import takeoff_text
        from cutplan.sheets.takeoffjson import takeoff_json
        from cutplan.sheets.words import Writer
        from cutplan.sheets.workbook import workbook
        from cutplan.takeoff import take_off_all

        check_orders(entries, work[0])
        taken = take_off_all(entries, loaded)
        tape = Writer(loaded.unit, loaded.tape).length
        texts = asked_for((csv, lambda: pieces_csv(taken.pieces)), (json, lambda: takeoff_json(taken, loaded)),
                          (xlsx, lambda: workbook([pieces_listing(taken.pieces)], tape)))
        files.deliver(texts, takeoff_text(taken, loaded))


def cut(
    work: Annotated[
        list[str], typer.Argument(metavar="WEEK_OR_PIECES...", help="Week files, lists of pieces, or some of both.")
    ],
    shop: ShopFile,
    rack: FromRack = None,
    json: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the plan to FILE, for check and book to read; - prints.")
    ] = None,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the cut list to FILE; - prints.")
    ] = None,
    xlsx: Xlsx = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a better plan than this.")
    ] = 60.0,
    spare: Annotated[
        str | None, typer.Option(metavar="SHARE", help="Each profile may cost so much more, such as 1%, and has the "
                                 "fewest set-ups, then lifts, at that price.")
    ] = None,
    trade: Annotated[
        bool, typer.Option("--trade", help="Also how many set-ups 0, 0.25, 0.5, 1 and 2 % more would save.")
    ] = False,
    html: Annotated[
        str | None, typer.Option(metavar="FILE", help="With --trade: write it to FILE as a page with a picture.")
    ] = None,
    use_on_hand: Annotated[
        bool, typer.Option("--use-on-hand", help="Cut the counted sticks of the rack before any is bought.")
    ] = False,
    plans: Annotated[
        str | None, typer.Option(metavar="DIR", help="The plans of an order, from buy --plans: cut by this week's, "
                                 "and leave what the others need.")
    ] = None,
    job: JobName = None,
) -> None:
    """Plan how to cut the pieces: least cost of stock, then least length used up, then fewest set-ups."""
    with plainly():
        check_limit(limit)
        if plans and (spare or trade):
            raise typer.BadParameter("--plans cuts by what was ordered for; leave --spare and --trade out")
        named = job_called(job)
        if plans and job:
            raise typer.BadParameter("--plans cuts plans that were made before; name the job with cutplan learn --job")
        if plans and rack is None:
            raise typer.BadParameter("--plans needs the rack that what was ordered is counted on; give --rack FILE")
        order = order_files(plans) if plans else []
        files = Files([*with_stock(shop), *work, *order], [rack],
                      {"--json": json, "--csv": csv, "--xlsx": xlsx, "--html": html})
        share = spared(spare)
        if html and not trade:
            raise typer.BadParameter("--html is the page of --trade; give that too; sheets makes pages to cut from")
        if use_on_hand and rack is None:
            raise typer.BadParameter("--use-on-hand needs the rack that the sticks are counted on; give --rack FILE")
        loaded, wanted = load(shop, work, files)
        from cutplan.orders import notes_of, week_names
        from cutplan.plans.plan import to_json
        from cutplan.running.workers import side_by_side
        from cutplan.sheets.csvout import cuts_csv, cuts_workbook
        from cutplan.sheets.plan import plan_text
        from cutplan.sheets.trade import TRADED, trade_page

        points = TRADED if trade else ()
        for note in (*loaded.notes, *notes_of(wanted)):
            tell(note)
        with going(limit) as budget:
            aims: dict[str, Any] = {"spare": share, "trade": points, "weeks": week_names(work), "job": named}
            plan = (planned(wanted, loaded, budget, **aims) if rack is None else
                    planned_by_order(rack, order, wanted, loaded, budget, json, aims["weeks"]) if order else
                    planned_from(rack, wanted, loaded, budget, json, use_on_hand, **aims))
            budget.tell("the plan is written")
            outputs: Sequence[tuple[str | None, Callable[[], str | bytes]]] = (
                (json, partial(to_json, plan)), (csv, partial(cuts_csv, plan)), (xlsx, partial(cuts_workbook, plan)),
                (html, partial(trade_page, plan)))
            makers = {target: make for target, make in outputs if target}
            made: list[str | bytes] = side_by_side([*makers.values(), partial(plan_text, plan)])
            files.deliver(dict(zip(makers, made, strict=False)), str(made[-1]))


# ---- what they do ----


def load(shop: str, work: Sequence[str], files: Files) -> tuple[Shop, Sequence[Order | Piece]]:
    """What the files say. InputProblems also where an output could not be written, before any long work."""
    from cutplan.orders import load_inputs
    from cutplan.problems import InputProblems
    from cutplan.takeoff import misfits

    problems = files.problems()
    try:
        loaded = load_inputs(shop, *work)
    except InputProblems as wrong:
        read, entries = wrong.sound
        raise InputProblems([*problems, *wrong.problems, *(misfits(entries, read) if read else ())]) from None
    if problems:
        raise InputProblems(problems)
    return loaded


def check_orders(work: Sequence[Order | Piece], file: str) -> None:
    """Refuses work that is listed pieces and nothing else."""
    from cutplan.orders import Order
    from cutplan.problems import InputProblems, Problem

    if not any(isinstance(entry, Order) for entry in work):
        right = "a week file with mark,kind,system,qty,opening,height is needed; cut takes pieces as they are"
        raise InputProblems([Problem(file, 1, "file", f"is a list of pieces; {right}")])


def spared(said: str | None) -> Fraction | None:
    """The share that may be spared for fewer set-ups; None where nothing is said."""
    from cutplan.running.budget import read_share

    if said is None:
        return None
    share, wrong = read_share(said)
    if wrong:
        raise typer.BadParameter(
            f"--spare {said} is no share from 0 % to less than 100 %; write one such as 1% or 0.01")
    return share


def planned(work: Sequence[Order | Piece], shop: Shop, budget: Budget, **said: Any) -> Plan:
    """The plan, which has passed its own audit, of what is `said` to `solve` besides; says what there is to say of it.
    """
    from cutplan.planning.solve import solve

    result = solve(work, shop, budget, **said)
    tell_of(result)
    return result.plan


def planned_from(rack: str, work: Sequence[Order | Piece], shop: Shop, budget: Budget, file: str | None,
                 on_hand: bool = False, foreseen: Callable[[Rack], object] = lambda rack: None,
                 instead: Sequence[Origin] = (), **said: Any) -> Plan:
    """The plan with what is on a rack, which is made if it is not there, once what is `foreseen` is done; for a `file`
    its offcuts get their tags, with `on_hand` its counted sticks are cut before any is bought. It takes the place of
    the rests `instead`, whose holds are its own."""
    from cutplan.planning.racked import on_rack, solve_on_rack
    from cutplan.rack.store import reading

    fresh = is_new(rack)
    found = on_rack(rack, work, shop, bool(file), on_hand, foreseen, [one.plan for one in instead])
    if fresh:
        with reading(rack) as open_rack:
            tell_new(open_rack)
    for note in found.notes:
        tell(note)
    name = "" if file in (None, "-") else str(file)
    result, notes = solve_on_rack(rack, work, found, budget, bool(file), name=name, instead=instead, **said)
    tell_of(result)
    for note in notes:
        tell(note)
    return result.plan


def order_files(folder: str) -> list[str]:
    from cutplan.buying.plans import files_in

    return files_in(folder)


def planned_by_order(rack: str, order: Sequence[str], work: Sequence[Order | Piece], shop: Shop, budget: Budget,
                     file: str | None, weeks: Sequence[str]) -> Plan:
    """The plan that was ordered for, among these files; where that cannot be, one from what the others leave, and from
    what is counted before any is bought."""
    from cutplan.planning.ordered import ordered
    from cutplan.rack.claims import Done, origin
    from cutplan.rack.register import register
    from cutplan.rack.store import changing

    found = ordered(rack, [read_known(plan) for plan in order], work, shop)
    for note in found.notes:
        tell(note)
    if found.plan is None:
        instead = [origin(found.instead, Done())] if found.instead else []
        plan = planned_from(rack, work, shop, budget, file, True, found.set_aside, instead, weeks=weeks)
    if file:
        with changing(rack) as open_rack:
            if found.plan:
                register(open_rack, found.plan, "" if file == "-" else file)
            found.set_aside(open_rack)
        if found.others:
            names = ", ".join(one.file for one in found.others)
            tell(f"what is there of what {names} need is on hold for them, so that no other plan draws it")
    if found.plan is None:
        return plan
    tell(f"{found.plan.file}: the plan that was ordered for; nothing is to be bought")
    return found.plan.plan


def tell_of(result: Result) -> None:
    """Says how free rails were centred, and which searches failed."""
    tell_centring(result.centring, result.takeoff, result.shop)
    for profile in result.plan.profiles:
        for fault in profile.faults:
            tell(fault)


def tell_centring(chosen: Chosen | None, taken: Takeoff, shop: Shop) -> None:
    """Says how free rails were centred; or that there was no time to compare, where any could be."""
    from cutplan.planning.centring import is_free
    from cutplan.sheets.takeoff import centring_text

    if chosen:
        tell(centring_text(chosen, taken, shop))
    elif any(is_free(card, shop) for card in taken.cards):
        tell("no time was left to compare centrings; rails keep the wider end gap")


def all_taken(work: Sequence[Order | Piece], shop: Shop, budget: Budget) -> Takeoff:
    """The pieces listed, and what gates and bays come to; says how free rails were centred."""
    from cutplan.planning.solve import taken_off

    taken, chosen = taken_off(work, shop, budget)
    tell_centring(chosen, taken, shop)
    return taken
