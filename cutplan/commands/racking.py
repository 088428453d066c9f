"""The rack group: add, count, show, scrap, plans, history and report."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.shared import (
    Csv,
    Files,
    Json,
    Xlsx,
    asked_for,
    plainly,
    show,
    tell,
    with_stock,
)
from cutplan.rack import USUAL_RACK

if TYPE_CHECKING:
    from cutplan.orders import Order, Piece
    from cutplan.problems import Findings, Problem
    from cutplan.rack.claims import Known
    from cutplan.rack.store import Rack
    from cutplan.rack.supply import Supply
    from cutplan.shop import Profile, Shop

SAWN = {"none": 0, "one": 1, "both": 2}
RackFile = Annotated[str, typer.Option("--rack", metavar="FILE", help="The rack's file.")]
MaybeShop = Annotated[str | None, typer.Option("--shop", metavar="SHOP", help="Check the profile by this shop file.")]
ProfileName = Annotated[str, typer.Argument(metavar="PROFILE", help="The profile's name in the shop file.")]
LengthText = Annotated[str, typer.Argument(metavar="LENGTH", help="Such as 40-3/8, \"40 3/8\" or \"1029 mm\".")]
Note = Annotated[str, typer.Option(metavar="TEXT", help="Anything worth remembering of it.")]
Unit = Annotated[
    str | None, typer.Option(metavar="UNIT", help="What a bare number means, in or mm, where no shop file says.")
]
Unseen = Annotated[
    bool, typer.Option("--new", help="The rack never saw this profile, and it is meant so all the same.")
]
SawnEnds = Annotated[
    str | None, typer.Option(metavar="ENDS", help="Ends that are sawn square: none, one (which --first-hole is "
                                                  "measured from) or both; on a terminal you are asked.")
]
Longer = Annotated[bool, typer.Option("--longer", help="It is longer than any that is sold, and is meant so.")]


def add(
    profile: ProfileName,
    length: LengthText,
    qty: Annotated[int, typer.Option(metavar="N", min=1, max=1_000, help="So many of this length.")] = 1,
    first_hole: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Of a routed rail: from one end to its first hole.")
    ] = None,
    sawn: SawnEnds = None,
    note: Note = "",
    rack: RackFile = USUAL_RACK,
    shop: MaybeShop = None,
    unit: Unit = None,
    new: Unseen = False,
    longer: Longer = False,
) -> None:
    """Put offcuts on the rack; prints the tags to write on them."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.sheets.rack import added_text

        with said_of(rack, shop, unit, profile) as said:
            said.check_profile(new)
            whole, first = said.length("LENGTH", length), said.first_hole(first_hole, length)
            said.check_longest(whole, longer)
            ends = said.sawn(asked_ends(sawn))
        with changed(said) as open_rack:
            added = shelf.add(open_rack, profile, whole, qty, first, note, ends)
            text = added_text(added, open_rack.unit)
        show(text + "\n")


def count(
    profile: ProfileName,
    length: LengthText,
    qty: Annotated[int, typer.Argument(metavar="N", min=0, help="So many uncut sticks.")],
    more: Annotated[bool, typer.Option("--more", help="N have come besides those on hand.")] = False,
    rack: RackFile = USUAL_RACK,
    shop: MaybeShop = None,
    unit: Unit = None,
    new: Unseen = False,
    longer: Longer = False,
) -> None:
    """Say how many new sticks of a length are on hand; these need not be bought."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.sheets.rack import counted_text

        with said_of(rack, shop, unit, profile) as said:
            said.check_profile(new)
            whole = said.length("LENGTH", length)
            said.check_sold(whole, longer)
        with changed(said) as open_rack:
            now = shelf.count(open_rack, profile, whole, qty, more)
            text = counted_text([now], open_rack.unit)
        show(text + "\n")


def show_rack(
    profile: Annotated[str | None, typer.Argument(metavar="[PROFILE]", help="Only this profile.")] = None,
    rack: RackFile = USUAL_RACK,
    json: Json = None,
    csv: Csv = None,
    xlsx: Xlsx = None,
    damaged: Annotated[
        bool, typer.Option("--readable", help="Of a damaged rack: what of it can still be read.")
    ] = False,
) -> None:
    """Show what lies on the rack."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.rack.store import readable, reading
        from cutplan.sheets.rack import shelf_csv, shelf_json, shelf_listing, shelf_text, writer
        from cutplan.sheets.workbook import workbook

        files = asked_of(rack, json, csv, xlsx)
        with readable(rack) if damaged else reading(rack) as open_rack:
            if damaged:
                tell(f"only what can be read of {rack} is shown")
                if not open_rack.all("SELECT unit FROM rack"):
                    tell("its unit is lost; the lengths are taken for inches")
            unit, offcuts, counts = open_rack.unit, shelf.offcuts(open_rack, profile), shelf.counts(open_rack, profile)
            if profile and profile not in shelf.profiles(open_rack):
                tell(f"nothing of {profile!r} was ever on this rack")
                note_strange(open_rack, profile)
        answer(files, lambda: shelf_text(offcuts, counts, unit),
               (json, lambda: shelf_json(offcuts, counts, unit)), (csv, lambda: shelf_csv(offcuts, counts)),
               (xlsx, lambda: workbook([shelf_listing(offcuts, counts)], writer(unit).length)))


def scrap(
    tags: Annotated[list[str], typer.Argument(metavar="TAG...", help="The tags written on them.")],
    note: Note = "",
    rack: RackFile = USUAL_RACK,
) -> None:
    """Take offcuts off the rack for scrap: all of those named, or none."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.rack.store import changing
        from cutplan.sheets.rack import offcut_table, writer

        Files([], [rack]).refuse()
        refuse_missing(rack)
        with changing(rack) as open_rack:
            gone = shelf.scrap(open_rack, tags, note)
            text = offcut_table(gone, writer(open_rack.unit))
        show(f"Scrapped:\n{text}\n")


def history(
    tag: Annotated[str | None, typer.Argument(metavar="[TAG]", help="Only this offcut.")] = None,
    rack: RackFile = USUAL_RACK,
    json: Json = None,
    csv: Csv = None,
    xlsx: Xlsx = None,
) -> None:
    """Show everything that happened on the rack, or to one offcut."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.rack.store import reading
        from cutplan.sheets.rack import history_csv, history_json, history_listing, history_text, writer
        from cutplan.sheets.workbook import workbook

        files = asked_of(rack, json, csv, xlsx)
        with reading(rack) as open_rack:
            unit, events = open_rack.unit, shelf.history(open_rack, tag)
        answer(files, lambda: history_text(events, unit),
               (json, lambda: history_json(events, unit)), (csv, lambda: history_csv(events)),
               (xlsx, lambda: workbook([history_listing(events)], writer(unit).length)))


def report(
    rack: RackFile = USUAL_RACK,
    shop: Annotated[
        str | None, typer.Option("--shop", metavar="SHOP", help="For what offcuts are worth and which can be used.")
    ] = None,
    json: Json = None,
    csv: Csv = None,
    xlsx: Xlsx = None,
) -> None:
    """Show what came and went, what it is worth, what has lain over a year, and what to scrap."""
    with plainly():
        from cutplan.rack import report as reports
        from cutplan.rack.store import reading
        from cutplan.sheets.rack import report_csv, report_json, report_listing, report_text, writer
        from cutplan.sheets.workbook import workbook

        files = asked_of(rack, json, csv, xlsx, shop)
        loaded = load(shop)
        with reading(rack) as open_rack:
            unit, made = open_rack.unit, reports.report(open_rack, loaded)
        if loaded is None:
            tell("without --shop nothing can be said of worth, nor of what cannot be used")
        answer(files, lambda: report_text(made, unit, loaded.currency if loaded else ""),
               (json, lambda: report_json(made, unit)), (csv, lambda: report_csv(made)),
               (xlsx, lambda: workbook([report_listing(made)], writer(unit).length)))


def plans(rack: RackFile = USUAL_RACK, json: Json = None, csv: Csv = None, xlsx: Xlsx = None) -> None:
    """Show the plans, what was cut of them, and what replaced what."""
    with plainly():
        from cutplan.rack import register
        from cutplan.rack.store import reading
        from cutplan.sheets.rack import plans_csv, plans_json, plans_listing, plans_text, writer
        from cutplan.sheets.workbook import workbook

        files = asked_of(rack, json, csv, xlsx)
        with reading(rack) as open_rack:
            unit, found = open_rack.unit, register.plans(open_rack)
        answer(files, lambda: plans_text(found), (json, lambda: plans_json(found)), (csv, lambda: plans_csv(found)),
               (xlsx, lambda: workbook([plans_listing(found)], writer(unit).length)))


def check_rack(
    plans: Annotated[list[str] | None, typer.Argument(metavar="[PLAN...]", help="Whether these can go on too.")] = None,
    rack: RackFile = USUAL_RACK,
) -> None:
    """Say what of the rack is damaged, or out of step with plans, and how to mend it."""
    with plainly():
        from cutplan.rack import checking
        from cutplan.sheets.rack import sound_text

        Files(plans or [], [rack]).refuse()
        sound = checking.check(rack, *each_known(plans or []))
        for note in sound.notes:
            tell(note)
        show(sound_text(rack, sound, plans or []) + "\n")


def restore(
    copy: Annotated[str, typer.Argument(metavar="COPY", help="An earlier copy of the rack's file.")],
    rack: RackFile = USUAL_RACK,
) -> None:
    """Put an earlier copy of the rack back; the file that was there is kept beside it."""
    with plainly():
        from cutplan.rack import checking
        from cutplan.sheets.rack import restored_text

        Files([copy], [rack]).refuse()
        show(restored_text(rack, copy, checking.restore(rack, copy)) + "\n")


# ---- words in ----


def load(shop: str | None) -> Shop | None:
    from cutplan.shop import load_shop

    return load_shop(shop) if shop else None


def asked_ends(sawn: str | None) -> str | None:
    """Which ends of an offcut are sawn square; asked of whoever sits at a terminal and did not say."""
    if sawn is None and sys.stdin is not None and sys.stdin.isatty():
        sawn = str(typer.prompt("Ends that are sawn square (none, one, both)", default="none", err=True))
    return sawn


@contextmanager
def said_of(rack: str, shop: str | None, unit: str | None, profile: str) -> Iterator[NamedLengths]:
    """What is said of a profile on a rack, to be checked before anything is made or changed.

    Bare numbers are in the shop's unit, else in the one that was said, else in that of a rack that is there.
    InputProblems for what was found wrong.
    """
    from cutplan.rack.store import foreseen
    from cutplan.shop import UNITS

    if unit is not None and unit not in UNITS:
        raise typer.BadParameter(f"--unit {unit} is not one; write in or mm")
    Files(with_stock(shop), [rack]).refuse()
    loaded = load(shop)
    if loaded and unit not in (None, loaded.unit):
        raise typer.BadParameter(f"--unit {unit} is not what {shop} says, {loaded.unit}; leave one of them out")
    meant = loaded.unit if loaded else unit
    with foreseen(rack, meant) as seen:
        said = NamedLengths(seen, loaded, profile, meant or (None if is_new(rack) else seen.unit))
        yield said
        said.found.raise_any()


@contextmanager
def changed(said: NamedLengths) -> Iterator[Rack]:
    """The rack that something was said of, made where there is none. InputProblems where it changed its unit since."""
    from cutplan.rack.store import changing

    path, fresh = said.rack.path, is_new(said.rack.path)
    with changing(path, said.rack.unit) as open_rack:
        if open_rack.unit != said.rack.unit:
            open_rack.refuse("unit", f"another cutplan has just made this rack in {open_rack.unit}; try again")
        yield open_rack
    if fresh:
        tell_new(open_rack)
    elif said.unit not in (None, open_rack.unit):
        tell(f"bare numbers are in {said.unit}; the lengths of {path} are in {open_rack.unit}, and are converted to it")


def supplied(rack: str, shop: Shop, work: Sequence[Order | Piece] = ()) -> Supply:
    """The shop with what is free on a rack in its stock, for some work; says what of the rack is not used. What is on
    hold for plans whose rest is in the work is free. InputProblems for a rest that was booked since."""
    from cutplan.orders import origins
    from cutplan.rack.claims import same_rest
    from cutplan.rack.replacing import refuse_stale
    from cutplan.rack.store import reading
    from cutplan.rack.supply import supply

    with reading(rack) as open_rack:
        refuse_stale(open_rack, work)
        found = supply(shop, open_rack, own=same_rest(open_rack, [one.plan for one in origins(work)]))
    for note in found.notes:
        tell(note)
    return found


def read_known(plan: str) -> Known:
    """A sound plan, as a rack knows it."""
    from cutplan.checking.sound import read_plan
    from cutplan.rack import claims

    return claims.known(read_plan(plan), plan)


def each_known(plans: Sequence[str]) -> tuple[list[Known], list[Problem]]:
    """The sound ones of some plans, and what is wrong with the others."""
    from cutplan.problems import InputProblems

    found: list[Known] = []
    problems: list[Problem] = []
    for plan in plans:
        try:
            found.append(read_known(plan))
        except InputProblems as wrong:
            problems += wrong.problems
    return found, problems


def is_new(rack: str) -> bool:
    from cutplan.database import is_there

    return not is_there(rack)


def tell_new(rack: Rack) -> None:
    from cutplan.sheets.words import NAMES

    tell(f"{rack.path} is a new rack; its lengths are in {NAMES[rack.unit]}")


def refuse_missing(rack: str) -> None:
    """InputProblems where there is no rack to change."""
    from cutplan.rack.store import reading

    with reading(rack):
        pass


class NamedLengths:
    """A profile and lengths from the command line, as the shop or else the rack knows them.

    `unit` is what bare numbers are in; None: nobody said. `found` collects what is wrong.
    """

    def __init__(self, rack: Rack, shop: Shop | None, profile: str, unit: str | None) -> None:
        from cutplan.problems import Findings
        from cutplan.rack import rules

        self.found: Findings = Findings("command line")
        self.rack, self.shop, self.profile, self.unit = rack, shop, profile, unit
        self.known: Profile | None = shop.profiles.get(profile) if shop else rules.rule(rack, profile)

    def check_profile(self, new: bool) -> None:
        """Reports a name that neither the shop nor the rack knows, unless it is meant to be `new`."""
        from cutplan.problems import nearest, suggest
        from cutplan.rack import shelf

        names = self.shop.profiles if self.shop else shelf.profiles(self.rack)
        if not self.profile.strip():
            self.found.add(1, "PROFILE", "is empty; write the profile's name")
        elif self.shop and self.known is None:
            self.found.add(1, "PROFILE", f"'{self.profile}' is not in the shop file; {suggest(self.profile, names)}")
        elif self.profile not in names and not new:
            near = nearest(self.profile, names)
            asked = f"did you mean '{near}'? Else give" if near else "give"
            self.found.add(1, "PROFILE", f"'{self.profile}' never was on this rack; {asked} the shop file with --shop, "
                                         "or --new if it is meant so")

    def check_longest(self, length: Fraction, longer: bool) -> None:
        """Reports a length beyond all that the profile is sold in, unless it is meant to be `longer`."""
        from cutplan.lengths import exact_decimal

        unit = self.rack.unit
        longest = max(self.sold(), default=length)
        if length > longest and not longer:
            self.found.add(1, "LENGTH", f"{exact_decimal(length)} {unit} is longer than any that is sold, of which the "
                                        f"longest is {exact_decimal(longest)} {unit}; measure again, write the unit, "
                                        "or give --longer if it is meant so")

    def check_sold(self, length: Fraction, longer: bool) -> None:
        """Reports a length that the profile is not sold in, unless it was counted before or is meant to be `longer`."""
        from cutplan.lengths import exact_decimal, factor
        from cutplan.rack import shelf

        sold, unit = self.sold(), self.shop.unit if self.shop else self.rack.unit
        outward = factor(self.rack.unit, unit)
        counted = {one.length for one in shelf.counts(self.rack, self.profile)}
        if not length or not sold or length in sold or length in counted:
            return
        if length > max(sold):
            self.check_longest(length, longer)
            return
        by = "by the shop file" if self.shop else "when this rack last saw it planned"
        those = " and ".join(exact_decimal(one * outward) for one in sold)
        right = "write one of these" + ("" if self.shop else ", give the shop file with --shop")
        self.found.add(1, "LENGTH", f"{self.profile} is not sold in {exact_decimal(length * outward)} {unit}; {by} its "
                                    f"lengths are {those} {unit}: {right}, or put what you have on the rack as an "
                                    "offcut with cutplan rack add")

    def sold(self) -> list[Fraction]:
        """The lengths that the profile is sold in, in the rack's unit, rising; none where that is not known."""
        from cutplan.lengths import factor

        inward = factor(self.shop.unit if self.shop else self.rack.unit, self.rack.unit)
        return sorted({entry.length * inward for entry in self.known.stock if entry.tag is None} if self.known else ())

    def length(self, column: str, text: str, *, zero_ok: bool = False) -> Fraction:
        """A length in the rack's unit; 0 where it is wrong."""
        from cutplan.lengths import factor, names_unit, read_length

        unit = self.unit or self.rack.unit
        try:
            length = read_length(text, unit, zero_ok=zero_ok) * factor(unit, self.rack.unit)
        except ValueError as error:
            self.found.add(1, column, str(error))
            return Fraction(0)
        if self.unit is None and not names_unit(text):
            self.found.add(1, column, f"{text} of what? Write inches or millimetres, or give --shop or --unit")
        return length

    def ends(self, said: dict[str, str], shop: Shop) -> list[Fraction]:
        """What the ends of a piece are set in, in the shop's unit; a text that is empty is a square end."""
        from cutplan.ends import read_end

        found = []
        for option, text in said.items():
            try:
                set_in, note = read_end(text, shop.unit, shop.profiles[self.profile].face) if text else (0, "")
                found.append(Fraction(set_in))
                if note:
                    tell(note)
            except ValueError as error:
                self.found.add(1, option, str(error))
        return found

    def first_hole(self, text: str | None, length: str) -> Fraction | None:
        """Where the first hole is; it must be said of a profile that is known to have holes, and of no other."""
        routed = self.known is not None and self.known.routing is not None
        if text is None:
            if routed:
                self.found.add(1, "--first-hole", "this profile has holes; measure from one end to the first")
            return None
        if self.known is not None and not routed:
            self.found.add(1, "--first-hole", "this profile has no holes; leave it out")
        first = self.length("--first-hole", text, zero_ok=True)
        if not self.found.problems and first >= self.length("LENGTH", length):
            self.found.add(1, "--first-hole", "lies beyond the offcut's other end; measure it again")
        return first

    def sawn(self, text: str | None) -> int:
        """How many ends are sawn square; 0 where it is wrong."""
        if text is None:
            return 0
        if text not in SAWN:
            self.found.add(1, "--sawn", f"{text!r} is not one; write none, one or both")
        elif self.known is not None and self.known.one_per_stick:
            self.found.add(1, "--sawn", "a blank is turned down at both ends, sawn or not; leave it out")
        return SAWN.get(text, 0)


def note_strange(rack: Rack, profile: str) -> None:
    """Says so where a name looks like a slip of one that the rack knows."""
    from cutplan.problems import nearest
    from cutplan.rack import shelf

    names = shelf.profiles(rack)
    if profile not in names and (near := nearest(profile, names)):
        tell(f"{profile!r} is new to this rack; was it to be {near!r}?")


# ---- words out ----


def asked_of(rack: str, json: str | None, csv: str | None, xlsx: str | None, shop: str | None = None) -> Files:
    """The files of a question to the rack. InputProblems for what is wrong with them."""
    files = Files(with_stock(shop), [rack], {"--json": json, "--csv": csv, "--xlsx": xlsx})
    files.refuse()
    return files


def answer(files: Files, as_text: Callable[[], str], *outputs: tuple[str | None, Callable[[], str | bytes]]) -> None:
    texts = asked_for(*outputs)
    files.deliver(texts, as_text() if "-" not in texts else "")
