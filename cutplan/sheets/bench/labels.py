"""Labels, one for each bundle of like pieces and each offcut that is kept: as sheets to print, and as CSV for a label
printer."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.lengths import exact_decimal
from cutplan.plans.numbers import stretches
from cutplan.plans.plan import Plan, numbered
from cutplan.printable import plain
from cutplan.sheets.bench.measure import LINE, height
from cutplan.sheets.bench.paper import PAPERS, page_size
from cutplan.sheets.listing import as_csv, listing, measure
from cutplan.sheets.pages import page
from cutplan.sheets.slopes import ends_text, setting
from cutplan.sheets.words import Writer, of_weeks
from cutplan.shop import Angles

COLUMNS = ("mark", "length", "gate", "stick", "profile", "tag", "sawn_ends", "qty", "exact")
ANGLED_COLUMNS = ("left_in", "right_in")
HOLED_COLUMNS = ("first_hole", "plain_end")
Said = tuple[str, str, str]  # the paragraphs of a label
SCALES = (Fraction(1), Fraction(7, 5), Fraction(1))  # how much larger than the rest each is written
SIZES = [Fraction(n, 2) for n in range(20, 13, -1)]  # points, 10 to 7: smaller is not read at arm's length
SIDE, TOP = Fraction(3), Fraction(3, 2)  # mm, a cell's own margins
MOST_STRETCHES = 3  # of numbers of sticks on a label
MOST = 99  # rows or columns of a grid
GRID = re.compile(r"(\d{1,2}) ?[x×] ?(\d{1,2})")  # noqa: RUF001


@dataclass(frozen=True)
class Label:
    """What is written on one label, of `many` like pieces from the `sticks` of these numbers; an offcut's has a tag and
    no mark, and says how many of its ends are sawn.

    `left_in` and `right_in` are what its ends are set in over the face of `angles`; of an offcut the left one is the
    end that the last cut made. From that end on `first_hole` is its first hole (None: it has none), and the other end
    has no holes for `plain_end`.
    """

    mark: str
    length: Fraction
    gate: str
    sticks: tuple[int, ...]
    profile: str
    many: int = 1
    tag: str = ""
    sawn: int = 0
    left_in: Fraction = Fraction(0)
    right_in: Fraction = Fraction(0)
    angles: Angles | None = None
    first_hole: Fraction | None = None
    plain_end: Fraction = Fraction(0)


@dataclass(frozen=True)
class Grid:
    """A sheet of labels: so many rows and columns within margins in mm (top and bottom, left and right)."""

    rows: int
    columns: int
    top: Fraction
    side: Fraction


# How sheets of labels are divided unless somebody says: rows, columns, margins at the top and the side in mm; from
# memory, as sheets of 30 and of 24 are sold.
USUAL_GRID = {"letter": Grid(10, 3, Fraction(127, 10), Fraction(5)), "a4": Grid(8, 3, Fraction(9, 2), Fraction(0))}


def labels(plan: Plan, each: bool = False, only: Sequence[str] = ()) -> list[Label]:
    """In the order in which they are cut: each stick's pieces, then its offcut. Like pieces share one label, that comes
    with the first of them, unless `each` piece is to have its own. Of some profiles alone where there are `only` those.
    """
    if each:
        return list(each_label(plan, only))
    bundles: dict[Label, list[int]] = {}
    for one in each_label(plan, only):
        bundles.setdefault(replace(one, sticks=()), []).extend(one.sticks)
    return [replace(one, many=len(sticks), sticks=tuple(sorted(set(sticks)))) for one, sticks in bundles.items()]


def each_label(plan: Plan, only: Sequence[str]) -> Iterator[Label]:
    for one in numbered(plan):
        profile = plan.profiles[one.profile]
        if only and profile.profile not in only:
            continue
        gates = {entry.mark: entry.for_ for entry in profile.demand}
        for k in range(one.stick.count):
            for cut in one.stick.cuts:
                left_in, right_in = cut.asked_ends
                yield Label(cut.mark, cut.length, gates[cut.mark], (one.first + k,), profile.profile,
                            left_in=left_in, right_in=right_in, angles=profile.angles)
            if one.stick.keep and one.stick.offcut_tags:
                left = profile.left_by(one.stick)
                yield Label("", left.length, "", (one.first + k,), profile.profile, tag=one.stick.offcut_tags[k],
                            sawn=left.sawn, left_in=-one.stick.cuts[-1].right_in, angles=profile.angles,
                            first_hole=left.first, plain_end=left.plain)


def grid(said: str, top: Fraction, side: Fraction) -> Grid:
    """Rows and columns from a text such as 10x3. ValueError says what would be right."""
    match = GRID.fullmatch(said.strip())
    if not match or not int(match[1]) or not int(match[2]):
        raise ValueError(f"{said!r} is no grid; write rows x columns, such as 10x3")
    return Grid(int(match[1]), int(match[2]), top, side)


def labels_page(plan: Plan, sheet: Grid, paper: str, each: bool = False, only: Sequence[str] = ()) -> str:
    """Sheets of labels, filled row by row. ValueError where one would not be whole, with the largest grids that do."""
    write = Writer(plan.unit, plan.tape)
    every, fit = [said(one, write) for one in labels(plan, each, only)], sheet.rows * sheet.columns
    size = type_size(set(every), sheet, paper)
    wide, high = page_size(paper).split()
    return page(
        "labels.html", title=of_weeks("Labels", plan.weeks), wide=wide, high=high, size=decimal(size),
        line=decimal(LINE), large=decimal(SCALES[1] * size),
        sheet_top=decimal(sheet.top), sheet_side=decimal(sheet.side),
        rows=sheet.rows, columns=sheet.columns, top=decimal(TOP), side=decimal(SIDE),
        sheets=[every[k: k + fit] for k in range(0, len(every), fit)])


def decimal(number: Fraction) -> str:
    """As a style sheet has it."""
    return f"{float(number):g}"


def said(one: Label, write: Writer) -> tuple[str, str, str]:
    """The three paragraphs of a label: what it is, its length, and what it comes from and is for."""
    ends = "" if one.tag or one.angles is None else ends_text(one.left_in, one.right_in, one.angles, write)
    along = " along its top edge" if ends else " along its shorter edge" if one.left_in else ""
    many = f"{one.many} x " if one.many > 1 else ""
    return (f"{one.tag} offcut, {sawn_ends(one, write)}" if one.tag else f"{many}{one.mark}",
            f"{write.length(one.length)} {write.unit}{along}",
            " \u00b7 ".join(filter(None, (one.profile, one.gate, from_sticks(one.sticks), ends, holes(one, write)))))


def holes(one: Label, write: Writer) -> str:
    """Where an offcut's holes are; "" where it has none."""
    if one.first_hole is None:
        return ""
    plain_end = f", and none in {write.length(one.plain_end)} {write.unit} at the other end" if one.plain_end else ""
    whence = "its sawn end" if one.sawn == 1 else "the end cut last"
    return f"first hole {write.length(one.first_hole)} {write.unit} from {whence}{plain_end}"


def from_sticks(sticks: Sequence[int]) -> str:
    """Their numbers; of very scattered ones only the first and the last."""
    if len(sticks) == 1:
        return f"stick {sticks[0]}"
    parts = stretches(sticks)
    return (f"sticks {', '.join(parts)}" if len(parts) <= MOST_STRETCHES
            else f"among sticks {sticks[0]} to {sticks[-1]}")


def sawn_ends(one: Label, write: Writer) -> str:
    """Which ends of an offcut are sawn, and at which angle."""
    if one.angles is None or not one.left_in:
        return "both ends sawn" if one.sawn == 2 else "one end sawn"
    other = "; the other end sawn square" if one.sawn else ""
    return f"one end sawn {setting(one.left_in, one.angles, write)}{other}"


# ---- what fits ----


def type_size(every: Collection[Said], sheet: Grid, paper: str) -> Fraction:
    """The largest type, in points, in which every label is whole in its cell. ValueError where none of them does."""
    wide, high = cell_size(sheet, paper)
    for size in SIZES:
        if wide > 0 and highest(every, size, wide) <= high:
            return size
    sizes = f"{float(wide + 2 * SIDE):.1f} x {float(high + 2 * TOP):.1f} mm"
    raise ValueError(f"{sheet.rows}x{sheet.columns} leaves cells of {sizes}, too small for these labels at "
                     f"{float(SIZES[-1]):g} points; {most_that_fit(every, sheet, paper)}")


def most_that_fit(every: Collection[Said], sheet: Grid, paper: str) -> str:
    """The largest grids that do on this paper, with as many columns, and of all."""
    fitting = [grid for columns in range(1, MOST + 1) if (grid := rows_that_fit(every, columns, sheet, paper)).rows]
    as_wide = [f"{one.rows}x{one.columns}" for one in fitting if one.columns == sheet.columns]
    if not fitting:
        return "a label is longer than a sheet: shorten the marks"
    most = max(fitting, key=lambda one: (one.rows * one.columns, one.rows))
    largest = f"{most.rows}x{most.columns}"
    if not as_wide or as_wide == [largest]:
        return f"the largest grid that fits on {paper} paper is {largest}"
    return f"with as many columns {as_wide[0]} fits on {paper} paper, and the largest grid of all is {largest}"


def rows_that_fit(every: Collection[Said], columns: int, sheet: Grid, paper: str) -> Grid:
    """The grid of so many columns with the most rows; none where not even one row is whole."""
    one_row = replace(sheet, rows=1, columns=columns)
    wide, high = cell_size(one_row, paper)
    rows = 0
    if wide > 0:
        rows = min(MOST, int((high + 2 * TOP) / (highest(every, SIZES[-1], wide) + 2 * TOP)))
    return replace(one_row, rows=rows)


def cell_size(sheet: Grid, paper: str) -> tuple[Fraction, Fraction]:
    """The width and height within a cell's own margins, in mm."""
    wide, high = PAPERS[paper]
    return (wide - 2 * sheet.side) / sheet.columns - 2 * SIDE, (high - 2 * sheet.top) / sheet.rows - 2 * TOP


def highest(every: Collection[Said], size: Fraction, wide: Fraction) -> Fraction:
    """How high the highest label is, in mm."""
    return max((height(zip(map(plain, one), SCALES, strict=True), size, wide) for one in every), default=Fraction(0))


def labels_csv(plan: Plan, each: bool = False, only: Sequence[str] = ()) -> str:
    """One row for each label, for a label printer: the length as the tape reads, and as it is."""
    write = Writer(plan.unit, plan.tape)
    angled = any(profile.angles for profile in plan.profiles)
    holed = any(profile.routing for profile in plan.profiles)
    columns = (*COLUMNS, *(ANGLED_COLUMNS if angled else ()), *(HOLED_COLUMNS if holed else ()))
    return as_csv(listing("labels", columns, (
        (one.mark, write.length(one.length), one.gate, ", ".join(stretches(one.sticks)),
         one.profile, one.tag, one.sawn if one.tag else "", one.many, exact_decimal(one.length),
         *(map(measure, (one.left_in, one.right_in)) if angled else ()),
         *(("" if one.first_hole is None else measure(one.first_hole), measure(one.plain_end)) if holed else ()))
        for one in labels(plan, each, only))))
