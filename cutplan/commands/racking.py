"""The rack group: add, count, show, scrap, history and report."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.words import (
    Csv,
    Files,
    Json,
    asked_for,
    plainly,
    show,
    tell,
)

if TYPE_CHECKING:
    from cutplan.problems import Findings
    from cutplan.rack.store import Rack
    from cutplan.rack.supply import Supply
    from cutplan.shop import Profile, Shop

RACK = "rack.db"
SAWN = {"one": 1, "both": 2}
RackFile = Annotated[str, typer.Option("--rack", metavar="FILE", help="The rack's file.")]
MaybeShop = Annotated[str | None, typer.Option("--shop", metavar="SHOP", help="Check the profile by this shop file.")]
ProfileName = Annotated[str, typer.Argument(metavar="PROFILE", help="The profile's name in the shop file.")]
LengthText = Annotated[str, typer.Argument(metavar="LENGTH", help="Such as 40-3/8, \"40 3/8\" or \"1029 mm\".")]
Note = Annotated[str, typer.Option(metavar="TEXT", help="Anything worth remembering of it.")]
Unit = Annotated[
    str | None, typer.Option(metavar="UNIT", help="What a bare number means on a rack that is new: in or mm.")
]


def add(
    profile: ProfileName,
    length: LengthText,
    qty: Annotated[int, typer.Option(metavar="N", min=1, help="So many of this length.")] = 1,
    first_hole: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Of a routed rail: from one end to its first hole.")
    ] = None,
    sawn: Annotated[
        str | None, typer.Option(metavar="ENDS", help="Ends that are sawn square: one (which --first-hole is measured "
                                                      "from) or both; else both are taken for raw.")
    ] = None,
    note: Note = "",
    rack: RackFile = RACK,
    shop: MaybeShop = None,
    unit: Unit = None,
) -> None:
    """Put offcuts on the rack; prints the tags to write on them."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.sheets.rack import added_text

        with changed(rack, shop, unit) as (open_rack, loaded):
            said = Said(open_rack, loaded, profile)
            whole, first = said.length("LENGTH", length), said.first_hole(first_hole, length)
            ends = said.sawn(sawn)
            said.found.raise_any()
            added = shelf.add(open_rack, profile, whole, qty, first, note, ends)
            text = added_text(added, open_rack.unit)
        show(text + "\n")


def count(
    profile: ProfileName,
    length: LengthText,
    qty: Annotated[int, typer.Argument(metavar="N", min=0, help="So many uncut sticks.")],
    more: Annotated[bool, typer.Option("--more", help="N have come besides those that were there.")] = False,
    rack: RackFile = RACK,
    shop: MaybeShop = None,
    unit: Unit = None,
) -> None:
    """Say how many new sticks of a length are there; these need not be bought."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.sheets.rack import shelf_text

        with changed(rack, shop, unit) as (open_rack, loaded):
            said = Said(open_rack, loaded, profile)
            whole = said.length("LENGTH", length)
            said.found.raise_any()
            now = shelf.count(open_rack, profile, whole, qty, more)
            text = shelf_text([], [now], open_rack.unit)
        show(text + "\n")


def show_rack(
    profile: Annotated[str | None, typer.Argument(metavar="[PROFILE]", help="Only this profile.")] = None,
    rack: RackFile = RACK,
    json: Json = None,
    csv: Csv = None,
    damaged: Annotated[
        bool, typer.Option("--readable", help="Of a damaged rack: what of it can still be read.")
    ] = False,
) -> None:
    """Show what lies on the rack."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.rack.store import readable, reading
        from cutplan.sheets.rack import shelf_csv, shelf_json, shelf_text

        files = asked_of(rack, json, csv)
        with readable(rack) if damaged else reading(rack) as open_rack:
            if damaged:
                tell(f"only what can be read of {rack} is shown")
                if not open_rack.all("SELECT unit FROM rack"):
                    tell("its unit is lost; the lengths are taken for inches")
            unit, offcuts, counts = open_rack.unit, shelf.offcuts(open_rack, profile), shelf.counts(open_rack, profile)
            if profile and profile not in shelf.profiles(open_rack):
                tell(f"nothing of {profile!r} was ever on this rack")
                note_strange(open_rack, profile)
        answer(files, json, lambda: shelf_json(offcuts, counts, unit), csv, lambda: shelf_csv(offcuts, counts),
               lambda: shelf_text(offcuts, counts, unit))


def scrap(
    tags: Annotated[list[str], typer.Argument(metavar="TAG...", help="The tags written on them.")],
    note: Note = "",
    rack: RackFile = RACK,
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
    rack: RackFile = RACK,
    json: Json = None,
    csv: Csv = None,
) -> None:
    """Show everything that happened on the rack, or to one offcut."""
    with plainly():
        from cutplan.rack import shelf
        from cutplan.rack.store import reading
        from cutplan.sheets.rack import history_csv, history_json, history_text

        files = asked_of(rack, json, csv)
        with reading(rack) as open_rack:
            unit, events = open_rack.unit, shelf.history(open_rack, tag)
        answer(files, json, lambda: history_json(events, unit), csv, lambda: history_csv(events),
               lambda: history_text(events, unit))


def report(
    rack: RackFile = RACK,
    shop: Annotated[
        str | None, typer.Option("--shop", metavar="SHOP", help="For what offcuts are worth and which can be used.")
    ] = None,
    json: Json = None,
    csv: Csv = None,
) -> None:
    """Show what came and went, what it is worth, what has lain over a year, and what to scrap."""
    with plainly():
        from cutplan.rack import report as reports
        from cutplan.rack.store import reading
        from cutplan.sheets.rack import report_csv, report_json, report_text

        files = asked_of(rack, json, csv, shop)
        loaded = load(shop)
        with reading(rack) as open_rack:
            unit, made = open_rack.unit, reports.report(open_rack, loaded)
        if loaded is None:
            tell("without --shop nothing can be said of worth, nor of what cannot be used")
        answer(files, json, lambda: report_json(made, unit), csv, lambda: report_csv(made),
               lambda: report_text(made, unit, loaded.currency if loaded else ""))


# ---- words in ----


def load(shop: str | None) -> Shop | None:
    from cutplan.shop import load_shop

    return load_shop(shop) if shop else None


@contextmanager
def changed(rack: str, shop: str | None, unit: str | None) -> Iterator[tuple[Rack, Shop | None]]:
    """The rack, made where there is none, and the shop where one is given. InputProblems for what is wrong in it."""
    from cutplan.rack.store import changing
    from cutplan.shop import UNITS

    if unit is not None and unit not in UNITS:
        raise typer.BadParameter(f"--unit {unit} is not one; write in or mm")
    Files([shop], [rack]).refuse()
    loaded = load(shop)
    fresh = is_new(rack)
    with changing(rack, loaded.unit if loaded else unit) as open_rack:
        yield open_rack, loaded
    if fresh:
        tell_new(open_rack)
    elif unit not in (None, open_rack.unit):
        tell(f"{rack} has its lengths in {open_rack.unit}; --unit is for new racks")


def supplied(rack: str, shop: Shop) -> Supply:
    """The shop with what is free on a rack in its stock; says what of the rack is not used."""
    from cutplan.rack.store import reading
    from cutplan.rack.supply import supply

    with reading(rack) as open_rack:
        found = supply(shop, open_rack)
    for note in found.notes:
        tell(note)
    return found


def is_new(rack: str) -> bool:
    from cutplan.database import holds_something

    return not holds_something(rack)


def tell_new(rack: Rack) -> None:
    from cutplan.sheets.words import NAMES

    tell(f"{rack.path} is a new rack; its lengths are in {NAMES[rack.unit]}")


def refuse_missing(rack: str) -> None:
    """InputProblems where there is no rack to change."""
    from cutplan.rack.store import reading

    with reading(rack):
        pass


class Said:
    """Lengths from the command line, for a profile that the shop or the rack knows. `found` collects what is wrong."""

    def __init__(self, rack: Rack, shop: Shop | None, profile: str) -> None:
        from cutplan.problems import Findings, suggest
        from cutplan.rack import rules

        self.found: Findings = Findings("command line")
        self.rack = rack
        self.known: Profile | None = shop.profiles.get(profile) if shop else rules.rule(rack, profile)
        if shop is not None and self.known is None:
            self.found.add(1, "PROFILE", f"'{profile}' is not in the shop file; {suggest(profile, shop.profiles)}")
        elif not profile.strip():
            self.found.add(1, "PROFILE", "is empty; write the profile's name")
        elif self.known is None:
            note_strange(rack, profile)

    def length(self, column: str, text: str, *, zero_ok: bool = False) -> Fraction:
        """A length in the rack's unit; 0 where it is wrong."""
        from cutplan.lengths import read_length

        try:
            return read_length(text, self.rack.unit, zero_ok=zero_ok)
        except ValueError as error:
            self.found.add(1, column, str(error))
            return Fraction(0)

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
            self.found.add(1, "--sawn", f"{text!r} is not one; write one or both")
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


def asked_of(rack: str, json: str | None, csv: str | None, shop: str | None = None) -> Files:
    """The files of a question to the rack. InputProblems for what is wrong with them."""
    files = Files([shop], [rack], {"--json": json, "--csv": csv})
    files.refuse()
    return files


def answer(files: Files, json: str | None, as_json: Callable[[], str], csv: str | None, as_csv: Callable[[], str],
           as_text: Callable[[], str]) -> None:
    texts = asked_for((json, as_json), (csv, as_csv))
    files.deliver(texts, as_text() if "-" not in texts else "")
