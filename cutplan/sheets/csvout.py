"""The takeoff and the plan as tables for other programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from cutplan.orders import Piece, origins_text
from cutplan.plans.plan import Numbered, Plan, numbered
from cutplan.plans.records import ProfilePlan, Stick
from cutplan.plans.sawtime import amount, minutes_of_sticks
from cutplan.sheets.clamps import CLAMP, FALL, HAND_SAW, care
from cutplan.sheets.listing import Entry, Listing, as_csv, estimate, listing, measure, number, yes_or_no
from cutplan.sheets.slopes import leaning_degrees
from cutplan.sheets.tape import Marked, marked, squared_end
from cutplan.sheets.words import Writer
from cutplan.sheets.workbook import workbook

PIECES_CSV = ("mark", "profile", "length", "qty", "for")
CUTS_CSV = (
    "profile", "stick", "count", "stock_length", "source", "tag", "price",
    "cut", "mark", "length", "start", "end", "offcut", "keep", "clamp", "centred", "turned", "number", "offcut_tags",
    "squared_off", "cut_off", "first_hole", "middle_hole", "let_fall", "hand_saw",
)  # fmt: skip
# where any piece of the plan has angled ends
ANGLED_CSV = ("left_in", "right_in", "lies", "near_start", "near_end", "saw_first_end", "saw_last_end")
SAW_CSV = ("saw_minutes", "saw_amount")  # where the shop says what work at the saw takes, and what an hour costs


def pieces_csv(pieces: Iterable[Piece]) -> str:
    return as_csv(pieces_listing(pieces))


def pieces_listing(pieces: Iterable[Piece]) -> Listing:
    """The pieces in the form of a pieces file, so that they can be read again."""
    pieces = list(pieces)
    on_holes, of_rest = any(p.centred for p in pieces), any(p.origins for p in pieces)
    by_sets, angled = any(p.each for p in pieces), any(p.left_in or p.right_in for p in pieces)
    return listing(
        "pieces", (*PIECES_CSV, *(("each",) if by_sets else ()), *(("centred",) if on_holes else ()),
         *(("left_in", "right_in") if angled else ()), *(("from_plan",) if of_rest else ())),
        (
            (p.mark, p.profile, measure(p.length), p.qty, p.for_,
             *((p.each or "",) if by_sets else ()), *((p.centred,) if on_holes else ()),
             *(tuple(measure(end) if end else "" for end in (p.left_in, p.right_in)) if angled else ()),
             *((origins_text(p.origins),) if of_rest else ()))
            for p in pieces
        ),
    )


def cuts_csv(plan: Plan) -> str:
    return as_csv(cuts_listing(plan))


def cuts_workbook(plan: Plan) -> bytes:
    return workbook([cuts_listing(plan)], Writer(plan.unit, plan.tape).length)


def cuts_listing(plan: Plan) -> Listing:
    """One row for each cut of each entry of sticks cut alike, in the plan's unit."""
    angled = any(profile.angles for profile in plan.profiles)
    headings = *CUTS_CSV, *(ANGLED_CSV if angled else ())
    if plan.saw is None:
        return listing("cuts", headings, cut_rows(plan, angled))
    hourly = plan.saw.hourly is not None
    times = (cells for profile in plan.profiles for cells in time_cells(plan, profile, hourly))
    rows = ((*row, *more) for row, more in zip(cut_rows(plan, angled), times, strict=True))
    return listing("cuts", (*headings, *SAW_CSV[:1 + hourly]), rows)


def time_cells(plan: Plan, profile: ProfilePlan, hourly: bool) -> Iterator[Sequence[Entry]]:
    """What falls on each cut's row of the time at the saw, all its sticks together; and the money for it."""
    for stick, minutes in zip(profile.sticks, minutes_of_sticks(plan, profile), strict=True):
        pieces = sum((cut.middle for cut in stick.cuts), Fraction(0))
        for cut in stick.cuts:
            mine = stick.count * minutes * cut.middle / pieces
            money = amount(plan.saw, mine) if plan.saw is not None and hourly else None
            yield (estimate(mine), *(() if money is None else (estimate(money),)))


def cut_rows(plan: Plan, angled: bool) -> Iterator[Sequence[Entry]]:
    """Entry by entry. Those cut at the same places follow one another, and what these say is found once for all."""
    for (k, _), alike in groupby(numbered(plan), lambda one: (one.profile, one.stick.places)):
        entries = list(alike)
        cells = list(cells_by_place(plan, plan.profiles[k], entries[0].stick, angled))
        for one in entries:
            yield from entry_rows(plan.profiles[k], one, cells)


@dataclass(frozen=True)
class PieceCells:
    """What its place on the stick says in the row of a piece: the columns from `length`, `clamp` and `squared_off`."""

    measures: tuple[Entry, ...]
    clamp: str
    saw: tuple[Entry, ...]


def cells_by_place(plan: Plan, profile: ProfilePlan, stick: Stick, angled: bool) -> Iterator[PieceCells]:
    """Of each piece. `start` and `end` are from the squared end, which is `squared_off` behind the stick's own;
    `cut_off` comes off the new end before the piece is marked, and `first_hole` is then from there.
    """
    squared_off = measure(squared_end(profile, stick))
    for j, piece in enumerate(marked(profile, stick, plan.tape), start=1):
        careful, holes = care(piece, plan), piece.holes
        parts = {"piece": careful.piece, "remainder": careful.behind if j == len(stick.cuts) else "",
                 "cut off": careful.off}
        yield PieceCells(
            tuple(map(measure, (piece.cut.length, piece.start, piece.end))),
            parts_with(CLAMP, parts),
            (squared_off, measure(piece.off), measure(holes.first) if holes else "",
             holes.middle if holes else "", parts_with(FALL, parts), parts_with(HAND_SAW, parts),
             *(ends_cells(piece, profile) if angled else ())),
        )


def ends_cells(piece: Marked, profile: ProfilePlan) -> Iterator[Entry]:
    """What its ends are set in as it lies, which way that is, its near edge, and the saw's settings in degrees."""
    cut = piece.cut
    yield from (measure(cut.left_in), measure(cut.right_in), cut.lies)
    yield from (measure(piece.near_start), measure(piece.near_end))
    yield from (leaning_degrees(slope, profile.angles) for slope in (cut.left_in, -cut.right_in))


def entry_rows(profile: ProfilePlan, one: Numbered, cells: Iterable[PieceCells]) -> Iterator[Sequence[Entry]]:
    """The cuts of sticks that are cut alike; `number` is the first one's, counted through the plan."""
    stick = one.stick
    of_all = profile.profile, one.entry + 1, stick.count, measure(stick.length)
    source = stick.source, stick.tag or "", number(stick.price)
    left = measure(stick.offcut), yes_or_no(stick.keep)
    turned = yes_or_no(stick.turned) if profile.routing else ""
    tags = " ".join(stick.offcut_tags)
    for j, (cut, said) in enumerate(zip(stick.cuts, cells, strict=True), start=1):
        yield (*of_all, *source, j, cut.mark, *said.measures, *left, said.clamp, cut.centred, turned, one.first, tags,
               *said.saw)


def parts_with(word: str, parts: Mapping[str, str]) -> str:
    """The parts of a stick of which this is said at a cut."""
    return " and ".join(part for part, said in parts.items() if said == word)


