"""book, rest, spoil, unbook, hold, release and recut: what a working week does to the rack."""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.checking import tied_to
from cutplan.commands.racking import (
    LengthText,
    NamedLengths,
    Note,
    ProfileName,
    RackFile,
    SawnEnds,
    asked_ends,
    load,
    read_known,
    refuse_missing,
)
from cutplan.commands.shared import Files, Xlsx, asked_for, plainly, show, tell, with_stock
from cutplan.rack import USUAL_RACK

if TYPE_CHECKING:
    from cutplan.rack.claims import Known

PlanFile = Annotated[str, typer.Argument(metavar="PLAN", help="A plan written by cut --json.")]


def book(
    plan: PlanFile,
    through: Annotated[
        int | None, typer.Option(metavar="N", help="Only the sticks up to number N are cut yet.")
    ] = None,
    sticks: Annotated[
        str | None, typer.Option(metavar="NUMBERS", help="Only these sticks are cut, such as 3,7-12.")
    ] = None,
    profile: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Only the sticks of this profile are cut; may be given "
                                                            "again, and with --through, for one saw of several.")
    ] = None,
    ticked: Annotated[
        str | None, typer.Option(metavar="TICKS", help="Only the sticks that were ticked on the page of sheets.")
    ] = None,
    rack: RackFile = USUAL_RACK,
    shop: Annotated[
        str | None, typer.Option("--shop", metavar="SHOP", help="Book it only if it keeps to this shop's rules.")
    ] = None,
    week: Annotated[
        list[str] | None, typer.Option("--week", metavar="WEEK", help="With --shop: and cuts what this week asks for; "
                                                                      "may be given again.")
    ] = None,
) -> None:
    """The plan is cut: what it used leaves the rack, what it kept comes to it, new sticks are counted down."""
    with plainly():
        from cutplan.problems import InputProblems
        from cutplan.rack import booking, choosing
        from cutplan.rack.register import noticing
        from cutplan.rack.store import changing
        from cutplan.sheets.rack import booked_text

        named = profile or []
        if sum(option is not None for option in (through if not named else None, sticks, profile, ticked)) > 1:
            raise typer.BadParameter("--through, --sticks, --profile and --ticked each say what is cut; give one, or "
                                     "--through with --profile")
        if week and not shop:
            raise typer.BadParameter("a week is read with its shop file; give --shop too")
        what = known(plan, rack, ticked, *with_stock(shop), *(week or []))
        tied = tied_to(what, shop, week or [], rack) if shop else None
        if tied and tied.problems:
            raise InputProblems(tied.problems)
        meant = (choosing.through(what, through, named) if through is not None
                 else choosing.listed(numbers_of(sticks)) if sticks is not None
                 else choosing.of_profiles(what, named) if named else choosing.EVERYTHING)
        ticks = choosing.read_ticks(ticked) if ticked is not None else None
        with changing(rack, what.plan.unit) as open_rack:
            if ticks:
                meant = choosing.ticked(open_rack, what, ticks)
            with noticing(open_rack, what) as notes:
                booked = booking.book(open_rack, what, meant)
            text = booked_text(booked, open_rack.unit)
        for note in (*notes, *booked.notes, *(str(one) for one in (tied.prices if tied else ()))):
            tell(note)
        show(text + "\n")


def rest(
    plan: PlanFile,
    rack: RackFile = USUAL_RACK,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write them to FILE, for cut to read; - prints.")
    ] = None,
    xlsx: Xlsx = None,
) -> None:
    """The pieces of a plan that are not booked yet, to be planned again."""
    with plainly():
        from cutplan.rack import booking
        from cutplan.rack.store import reading
        from cutplan.sheets.csvout import pieces_csv, pieces_listing
        from cutplan.sheets.rack import halves_notes, nothing_left, rest_text, writer
        from cutplan.sheets.workbook import workbook

        files = Files([plan], [rack], {"--csv": csv, "--xlsx": xlsx})
        files.refuse()
        what = known(plan, rack)
        with reading(rack) as open_rack:
            pieces = booking.rest(open_rack, what)
            halves = booking.halves(open_rack, what)
        for note in halves_notes(halves, what.plan.unit):
            tell(note)
        if not pieces and csv == "-":  # else the table says so
            tell(nothing_left(what.plan))
        texts = asked_for((csv, lambda: pieces_csv(pieces)),
                          (xlsx, lambda: workbook([pieces_listing(pieces)], writer(what.plan.unit).length)))
        files.deliver(texts, rest_text(pieces, what.plan.unit) if pieces else
                      f"{what.file}: {nothing_left(what.plan)}.")


def spoil(
    plan: PlanFile,
    stick: Annotated[
        str, typer.Argument(metavar="STICK", help="The stick's number, or the tag of the offcut it is cut from.")
    ],
    good: Annotated[int, typer.Option(metavar="N", help="The first N of its pieces are cut, and good.")] = 0,
    left: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="What is left of it goes to the rack, as long as this.")
    ] = None,
    sawn: SawnEnds = None,
    first_hole: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Of a routed rail: from one end of what is left, a sawn one if "
                                                        "there is any, to its first hole.")
    ] = None,
    note: Note = "",
    rack: RackFile = USUAL_RACK,
) -> None:
    """A stick of a plan is not there, cracked, short or cut wrong: its pieces are to be cut again, the others stand."""
    with plainly():
        from cutplan.rack import rules, spoiling
        from cutplan.rack.register import noticing
        from cutplan.rack.store import changing
        from cutplan.sheets.rack import spoiled_text

        if left is None and (sawn or first_hole):
            raise typer.BadParameter("--sawn and --first-hole are of what is left; give --left too")
        sawn = asked_ends(sawn) if left is not None else None
        what = known(plan, rack)
        with changing(rack, what.plan.unit) as open_rack:
            rules.learn(open_rack, what.plan)
            number = spoiling.number_of_stick(what, stick)
            name = what.plan.profiles[spoiling.stick_of(what, number).profile].profile
            said = NamedLengths(open_rack, None, name, what.plan.unit)
            remains = None
            if left is not None:
                remains = spoiling.Remains(said.length("--left", left), said.first_hole(first_hole, left),
                                           said.sawn(sawn))
            said.found.raise_any()
            with noticing(open_rack, what) as notes:
                booked, again = spoiling.spoil(open_rack, what, number, good, remains, note)
            text = spoiled_text(booked, again, open_rack.command("replan", plan), what.plan.unit, open_rack.unit)
        for one in (*notes, *booked.notes):
            tell(one)
        show(text + "\n")


def unbook(
    plan: Annotated[str, typer.Argument(metavar="PLAN", help="The plan, or the name of a booking such as recut-3.")],
    rack: RackFile = USUAL_RACK,
) -> None:
    """Take the last booking of a plan back, where nothing since depends on it."""
    with plainly():
        from cutplan.rack import booking
        from cutplan.rack.store import changing
        from cutplan.sheets.rack import unbooked_text

        refuse_missing(rack)
        id_ = plan if is_name(plan) else known(plan, rack).id
        with changing(rack) as open_rack:
            text = unbooked_text(*booking.unbook(open_rack, id_, plan))
        show(text + "\n")


def hold(plan: PlanFile, rack: RackFile = USUAL_RACK) -> None:
    """Keep for a plan what it needs of the rack, until it is booked or released."""
    with plainly():
        from cutplan.rack import holding
        from cutplan.rack.register import noticing
        from cutplan.rack.store import changing
        from cutplan.sheets.rack import held_text

        what = known(plan, rack)
        refuse_missing(rack)
        with changing(rack) as open_rack, noticing(open_rack, what) as notes:
            held = holding.hold(open_rack, what)
        gone = [f"{name} holds nothing any more: {plan} is for the same pieces" for name in held.before]
        for note in (*notes, *gone):
            tell(note)
        show(held_text(held, "on hold") + "\n")


def release(plan: PlanFile, rack: RackFile = USUAL_RACK) -> None:
    """Let go of what a plan has on hold."""
    with plainly():
        from cutplan.rack import holding
        from cutplan.rack.store import changing
        from cutplan.sheets.rack import held_text

        what = known(plan, rack)
        refuse_missing(rack)
        with changing(rack) as open_rack:
            held = holding.release(open_rack, what.id, plan)
        show(held_text(held, "free again") + "\n")


def recut(
    profile: ProfileName,
    length: LengthText,
    qty: Annotated[int, typer.Option(metavar="N", min=1, help="So many of this length.")] = 1,
    centred: Annotated[
        str, typer.Option(metavar="WHERE", help="Of a routed rail: its middle on a hole, a space or either.")
    ] = "",
    left_in: Annotated[
        str, typer.Option("--left-in", metavar="END", help="How far its left end is set in: a length, slope or angle.")
    ] = "",
    right_in: Annotated[str, typer.Option("--right-in", metavar="END", help="The same of its right end.")] = "",
    rack: RackFile = USUAL_RACK,
    shop: Annotated[
        str | None, typer.Option("--shop", metavar="SHOP", help="How the profile is cut, where the rack never saw it.")
    ] = None,
    look: Annotated[bool, typer.Option("--look", help="Only show it; nothing leaves the rack.")] = False,
) -> None:
    """Cut a spoiled piece again: takes the best offcut for it now, and none that a plan on hold needs."""
    with plainly():
        from cutplan.lengths import factor
        from cutplan.orders import CENTRINGS, Piece
        from cutplan.planning import recutting
        from cutplan.rack.store import changing, reading
        from cutplan.rack.supply import supply
        from cutplan.sheets.plan import saw_text
        from cutplan.sheets.rack import booked_text

        if centred not in ("", *CENTRINGS):
            raise typer.BadParameter(f"--centred {centred} is nothing to centre on; write {', '.join(CENTRINGS)}")
        Files(with_stock(shop), [rack]).refuse()
        loaded = load(shop)
        with reading(rack) as open_rack:
            said = NamedLengths(open_rack, loaded, profile, loaded.unit if loaded else open_rack.unit)
            said.check_profile(new=True)
            whole = said.length("LENGTH", length)
            said.found.raise_any()
            found = (supply(loaded, open_rack) if loaded
                     else supply(recutting.shop_of(open_rack, profile), open_rack, remembered=True))
            whole *= factor(open_rack.unit, found.shop.unit)
            ends = said.ends({"--left-in": left_in, "--right-in": right_in}, found.shop)
            said.found.raise_any()
        for note in found.notes:
            tell(note)
        plan = recutting.recut(found, Piece("recut", profile, whole, qty, centred=centred, left_in=ends[0],
                                                right_in=ends[1]))
        if look:
            show(saw_text(plan) + "\n")
            return
        with changing(rack) as open_rack:
            plan, booked = recutting.book_piece(open_rack, plan)
            text = booked_text(booked, open_rack.unit)
        show(f"{saw_text(plan)}\n\n{text}\n")
        tell(f"to take this back: {open_rack.command('unbook', booked.name)}")


def numbers_of(text: str) -> frozenset[int]:
    """Stick numbers from the command line."""
    from cutplan.plans.numbers import read_numbers
    from cutplan.problems import InputProblems, Problem

    try:
        return read_numbers(text)
    except ValueError as error:
        raise InputProblems([Problem("command line", 1, "--sticks", str(error))]) from None


def known(plan: str, rack: str, *more: str | None) -> Known:
    """A sound plan, as a rack knows it. InputProblems also where the two, or one of `more`, are one file."""
    Files([plan, *more], [rack]).refuse()
    return read_known(plan)


def is_name(text: str) -> bool:
    """Whether this is the name of a booking rather than a file."""
    return re.fullmatch(r"recut-[0-9]+", text) is not None and not os.path.exists(text)
