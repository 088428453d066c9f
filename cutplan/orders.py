"""What is to be made: the week file (gates and bays) and the pieces file."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from cutplan.ends import ANY_FACE, read_angle, read_end, read_ratio
from cutplan.lengths import exact_decimal, quoted, read_length, read_number, read_whole, signed_text
from cutplan.plausible import MOST_LEAN, MOST_PIECES, STEEPEST
from cutplan.printable import plain
from cutplan.problems import InputProblems, Problem, Source, nearest, suggest
from cutplan.shop import Shop, load_shop
from cutplan.tables import FrameLike, Reader, Table, read_table
from cutplan.workbooks import file_of

OPENING_KINDS = ("gate", "bay", "run")
WEEK = ("mark", "kind", "system", "qty", "opening", "height")
WEEK_OPTIONAL = ("leaves", "hinges", "opening_bottom", "rake", "ends")
HINGES = ("left", "right")
ENDS = ("walls", "posts")
FOR_GATES = ("leaves", "hinges")
FOR_BIDS = ("chance", "or")  # whether a line comes at all
PIECES = ("mark", "profile", "length", "qty")
PIECES_OPTIONAL = ("for", "each", "centred", "from_plan", "left_in", "right_in")
PIECES_EXACT = ("length", "left_in", "right_in")  # may stand exactly in another column, where they are rounded
SLOPE_STEP = Fraction(1, 10_000)  # to which the slope of an angle is rounded: over 10 ft a hundredth of an inch
EITHER = "either"
CENTRINGS = ("hole", "space", EITHER)
AND = " and "
CUT_STICKS = re.compile(r"[0-9]{1,9}(?:[-:][0-9]{1,9})?(?:,[0-9]{1,9}(?:[-:][0-9]{1,9})?)*")
ORIGIN = re.compile(rf"([0-9a-f]{{16}}) (?:after ([0-9]{{1,9}})|with ({CUT_STICKS.pattern}))(?: of ([0-9]{{1,9}}))?")


@dataclass(frozen=True)
class Order:
    """One line of the week: `qty` gates or bays (`kind`) of a system, with the file and line it came from.

    `opening` is measured at the top, `opening_bottom` at the bottom (None: alike). A gate has one or two `leaves`, hung
    on the `hinges` side where it has one. `rake` is how much the ground rises to the right for each unit of its run;
    the rails of a bay or run go with it. A run lies between two walls or has end posts of its own, its `ends`. `extra`
    are the columns that only people read.
    """

    mark: str
    kind: str
    system: str
    qty: int
    opening: Fraction
    height: Fraction
    extra: Mapping[str, str] = field(default_factory=dict)
    file: str = ""
    line: int = 0
    leaves: int = 1
    hinges: str = "left"
    opening_bottom: Fraction | None = None
    rake: Fraction = Fraction(0)
    ends: str = "walls"

    @property
    def slope(self) -> Fraction:
        """How much its rails rise to the right for each unit of their run: the leaves of a gate stay level."""
        return Fraction(0) if self.kind == "gate" else self.rake

    @property
    def size(self) -> tuple[object, ...]:
        """What two lines have in common that come to the same pieces."""
        return (self.kind, self.system, self.opening, self.height, self.leaves, self.hinges, self.opening_bottom,
                self.rake, self.ends)


@dataclass(frozen=True)
class Origin:
    """The rest of a plan, known by its fingerprint, that pieces come from: of its sticks `after` this number.

    Where other sticks than the first so many are cut, `cut` says which: "20-25,31:2", where of stick 31 two pieces are
    good and the rest was spoiled. `last` is the number of the plan's last stick; 0: not said.
    """

    plan: str
    after: int
    cut: str = ""
    last: int = 0

    def __str__(self) -> str:
        done = f"with {self.cut}" if self.cut else f"after {self.after}"
        return f"{self.plan} {done}" + (f" of {self.last}" if self.last else "")


@dataclass(frozen=True)
class Piece:
    """`qty` pieces of one length of a profile, under one mark; `for_` names the gate or bay they are for.

    `centred` is what a rail's middle must fall on where there are holes, one of CENTRINGS; "": not said. `origins`:
    the rest it was listed in, and those that one stood for itself. `each`: how many of them belong to one gate or bay,
    which matters where they are turned from blanks; 0: not said. `left_in`, `right_in`: what its ends are set in (see
    cutplan.ends); `notes`: what is to be said of how they were read. `rounded`: its length stands for one that is on no
    tape.
    """

    mark: str
    profile: str
    length: Fraction
    qty: int
    for_: str = ""
    file: str = ""
    line: int = 0
    centred: str = ""
    origins: tuple[Origin, ...] = ()
    each: int = 0
    left_in: Fraction = Fraction(0)
    right_in: Fraction = Fraction(0)
    notes: tuple[str, ...] = field(default=(), compare=False)
    rounded: bool = field(default=False, compare=False)

    @property
    def bottom(self) -> Fraction:
        """The length of its bottom edge."""
        return self.length - self.left_in - self.right_in

    @property
    def together(self) -> int:
        """How many belong together: to one gate or bay; all that are for one where no more is said, else each alone."""
        return self.each or (self.qty if self.for_ else 1)


def load_inputs(shop_path: str | Path, *paths: str | Path) -> tuple[Shop, tuple[Order | Piece, ...]]:
    """Shop and work, from week files and pieces files that are cut together.

    InputProblems holds everything wrong in all of them together; its `sound` are the shop, if it can be read, and the
    work that can.
    """
    shop, weeks, problems = read_files(shop_path, paths)
    work = tuple(entry for week in weeks for entry in week)
    problems += clashing(work)
    if shop is None or problems:
        raise InputProblems(problems, sound=(shop, work))
    return shop, work


def clashing(work: Sequence[Order | Piece]) -> list[Problem]:
    """What cannot be cut together, though each file of it is sound."""
    pieces = [entry for entry in work if isinstance(entry, Piece)]
    return [*marks_taken(work), *rests_taken(work), *marks_apart(pieces)]


def load_weeks(shop_path: str | Path, *paths: str | Path) -> tuple[Shop, tuple[tuple[Order | Piece, ...], ...]]:
    """Shop and weeks, each from a file of its own, a week file or a pieces file. InputProblems as in `load_inputs`."""
    shop, weeks, problems = read_files(shop_path, paths)
    if shop is None or problems:
        raise InputProblems(problems)
    return shop, tuple(weeks)


def read_files(shop_path: str | Path, paths: Sequence[str | Path]
               ) -> tuple[Shop | None, list[tuple[Order | Piece, ...]], list[Problem]]:
    """What could be read of a shop and of files of work, and everything wrong in them."""
    problems: list[Problem] = []
    shop = None
    weeks: list[tuple[Order | Piece, ...]] = []
    try:
        shop = load_shop(shop_path)
    except InputProblems as error:
        problems += error.problems
    files = [os.path.realpath(path) for path in paths]
    for k, path in enumerate(paths):
        if files[k] in files[:k]:
            problems.append(Problem(str(path), 1, "file", "is given twice; once is right"))
            continue
        try:
            weeks.append(load_orders(path, shop))
        except InputProblems as error:
            problems += error.problems
            weeks.append(tuple(error.sound))
    return shop, weeks, problems


def marks_taken(work: Sequence[Order | Piece]) -> Iterator[Problem]:
    """Gates and bays that stand in two files, or whose pieces come from the rest of a plan as well: they would be cut
    twice. Pieces that somebody listed `for` a gate or bay of the week are more of its own."""
    seen: dict[str, Order | Piece] = {}
    for entry in work:
        if isinstance(entry, Piece) and not entry.origins:
            continue
        mark = entry.mark if isinstance(entry, Order) else entry.for_
        other = seen.setdefault(mark, entry)
        if mark and other.file != entry.file and (isinstance(entry, Order) or isinstance(other, Order)):
            yield Problem(entry.file, entry.line, "mark" if isinstance(entry, Order) else "for",
                          f"{quoted(mark)} is on line {other.line} of {other.file} too; give it another mark")


def marks_apart(pieces: Iterable[Piece]) -> Iterator[Problem]:
    """Marks that stand for two things: labels, shares and the rack's books would take one for the other.

    Pieces of one mark are one thing where their length, what they are centred on and what they are for agree.
    """
    seen: dict[str, Piece] = {}
    for piece in pieces:
        first = seen.setdefault(piece.mark, piece)
        told = {"profile": (first.profile, piece.profile), "length": (first.length, piece.length),
                "for": (first.for_, piece.for_),
                "centred": (first.centred or EITHER, piece.centred or EITHER),
                "left_in": (first.left_in, piece.left_in), "right_in": (first.right_in, piece.right_in)}
        apart = [column for column, (one, other) in told.items() if one != other]
        if apart:
            there = f"on line {first.line}" + (f" of {first.file}" if first.file != piece.file else "")
            yield Problem(piece.file, piece.line, "mark", f"{quoted(piece.mark)} stands {there} too, with another "
                          f"'{apart[0]}'; give what is not the same a mark of its own")


def rests_taken(work: Sequence[Order | Piece]) -> Iterator[Problem]:
    """Rests of one plan in two files, or as they were at two times: their pieces would be cut twice."""
    seen: dict[str, tuple[Order | Piece, Origin]] = {}
    for entry in work:
        for origin in entry.origins if isinstance(entry, Piece) else ():
            first, listed = seen.setdefault(origin.plan, (entry, origin))
            if (first.file, listed) != (entry.file, origin):
                yield Problem(entry.file, entry.line, "from_plan", f"the rest of this plan is on line {first.line} of "
                              f"{first.file} too, from another listing; give the last one alone")


def origins(work: Iterable[Order | Piece]) -> tuple[Origin, ...]:
    """The rests that some of the work comes from, each once."""
    return tuple(dict.fromkeys(one for entry in work if isinstance(entry, Piece) for one in entry.origins))


def week_names(files: Iterable[object]) -> tuple[str, ...]:
    """What weeks and lists of pieces are called on papers, each once: by their files' names, without folder and ending;
    a sheet of a workbook beside it. What is no path has no name."""
    return tuple(dict.fromkeys(week_name(str(file)) for file in files if isinstance(file, str | Path)))


def week_name(file: str) -> str:
    path = file_of(file)
    name, sheet = Path(path).stem, file[len(path) + 1:]
    return plain(f"{name} ({sheet})" if sheet else name)


def notes_of(work: Iterable[Order | Piece]) -> Iterator[str]:
    """What is to be said of how pieces were read, each with its file and line."""
    for entry in work:
        for note in entry.notes if isinstance(entry, Piece) else ():
            yield f"{entry.file}:{entry.line}: {note}"


def load_orders(source: Source | FrameLike, shop: Shop | None) -> tuple[Order, ...] | tuple[Piece, ...]:
    """The week or the pieces of a file, whichever its header says. InputProblems as in `load_week`."""
    table = read_table(source)
    return read_week(table, shop) if file_kind(table) == "week" else read_pieces(table, shop)


def joined(work: Iterable[Order | Piece]) -> dict[str, tuple[Piece, ...]]:
    """The listed pieces that belong to a gate or bay of the work, by its mark."""
    work = tuple(work)
    marks = {entry.mark for entry in work if isinstance(entry, Order)}
    found: dict[str, tuple[Piece, ...]] = {}
    for entry in work:
        if isinstance(entry, Piece) and entry.for_ in marks:
            found[entry.for_] = (*found.get(entry.for_, ()), entry)
    return found


def load_week(source: Source | FrameLike, shop: Shop | None) -> tuple[Order, ...]:
    """The gates and bays of a week file. InputProblems holds everything that is wrong in it.

    Without a shop, systems go unchecked and bare numbers are inches.
    """
    return read_week(read_table(source), shop)


def load_pieces(source: Source | FrameLike, shop: Shop | None) -> tuple[Piece, ...]:
    """The pieces of a pieces file. InputProblems, and what is left out without a shop, as in `load_week`."""
    return read_pieces(read_table(source), shop)


def file_kind(table: Table) -> str:
    """The word "week" or "pieces", for what the header looks like. InputProblems where it is neither."""
    names = [name for name in table.names if name]
    week, pieces = (
        sum(nearest(name, columns) is not None for name in names)
        for columns in (set(WEEK) - set(PIECES), {*PIECES, *PIECES_OPTIONAL} - set(WEEK))
    )
    if week == pieces:
        right = f"a week file has {','.join(WEEK)}; a pieces file has {','.join(PIECES)}"
        table.findings.add(table.line, "file", f"the header is neither of a week nor of pieces; {right}")
        table.findings.raise_any()
    return "week" if week > pieces else "pieces"


def read_week(table: Table, shop: Shop | None) -> tuple[Order, ...]:
    table = table.expect(WEEK, (*WEEK_OPTIONAL, *FOR_BIDS), closed=False)
    lines: dict[str, int] = {}  # the line each mark was first seen on
    orders = [order for row in table.rows if (order := read_order(table.reader(row), shop, lines))]
    if table.findings.problems:
        raise InputProblems(table.findings.problems, table.findings.most, orders)
    return tuple(orders)


def read_order(row: Reader, shop: Shop | None, lines: dict[str, int]) -> Order | None:
    """One row of the week, or None where something was reported."""
    mark = row.read("mark", lambda text: new_mark(text, row.row.line, lines))
    kind = row.read("kind", read_kind)
    system = row.read("system", lambda text: known(text, "system", shop.systems if shop else None))
    qty = row.read("qty", lambda text: read_whole(text, 1, most=MOST_PIECES, decimal_comma=row.table.comma))
    opening = read_cell(row, "opening", shop)
    height = read_cell(row, "height", shop)
    form = read_form(row, shop, kind)
    for name in filter(row.text, FOR_BIDS):
        row.report(name, "is for bids, and all lines of a week are made; empty the cell or take out the line, or give "
                   "the file to cutplan bid")
    bottom = form.opening_bottom if form else None
    if bottom and opening and height and abs(opening - bottom) > 2 * MOST_LEAN * height:
        row.report("opening_bottom", f"{quoted(row.text('opening_bottom'))} would have each post lean by more than a "
                   "tenth of its height; check it, the opening and the height")
    if shop and kind and system and getattr(shop.systems[system], kind) is None:
        lack = f"system '{system}' has no [systems.{system}.{kind}] table"
        row.report("system", f"{lack}; write one in the shop file, or choose another system")
        return None  # or the takeoff would say it again
    if mark is None or kind is None or system is None or qty is None or opening is None or height is None:
        return None
    if form is None:
        return None
    understood = {*WEEK, *WEEK_OPTIONAL, *FOR_BIDS}
    extra = {name: cell for name, cell in row.cells.items() if name and name not in understood}
    return Order(mark, kind, system, qty, opening, height, extra, row.table.findings.file, row.row.line,
                 form.leaves, form.hinges, form.opening_bottom, form.rake, form.ends)


@dataclass(frozen=True)
class OpeningForm:
    """What the optional columns of a week say of an opening; the fields are those of `Order`."""

    leaves: int
    hinges: str
    opening_bottom: Fraction | None
    rake: Fraction
    ends: str


def read_form(row: Reader, shop: Shop | None, kind: str | None) -> OpeningForm | None:
    """What the optional columns say; None where something was reported."""
    said = {name: bool(row.text(name)) for name in WEEK_OPTIONAL}
    before = len(row.table.findings.problems)
    leaves = row.read("leaves", read_leaves) if said["leaves"] else 1
    hinges = row.read("hinges", read_hinges) if said["hinges"] else "left"
    bottom = read_cell(row, "opening_bottom", shop) if said["opening_bottom"] else None
    rake = row.read("rake", lambda text: read_slope(text, row.table.comma)) if said["rake"] else Fraction(0)
    ends = row.read("ends", read_ends) if said["ends"] else "walls"
    for name in FOR_GATES if kind in ("bay", "run") else ():
        if said[name]:
            row.report(name, "is for gates only; leave it empty")
    if said["ends"] and kind in ("gate", "bay"):
        row.report("ends", "is for runs only; leave it empty")
    if said["opening_bottom"] and kind == "run":
        row.report("opening_bottom", "is for gates and bays; a run has its own posts, so set them plumb")
    if said["opening_bottom"] and kind == "bay" and rake:
        row.report("opening_bottom", "a raked bay is made between plumb posts; make them plumb and leave it empty")
    if leaves == 2 and said["hinges"]:
        row.report("hinges", "two leaves hang one on each side; leave it empty")
    if leaves is None or hinges is None or rake is None or ends is None or len(row.table.findings.problems) > before:
        return None
    return OpeningForm(leaves, hinges, bottom, rake, ends)


def read_pieces(table: Table, shop: Shop | None) -> tuple[Piece, ...]:
    table = table.expect(PIECES, PIECES_OPTIONAL, closed=True, exact=PIECES_EXACT)
    pieces = [read_piece(table.reader(row), shop) for row in table.rows]
    table.findings.problems += marks_apart(piece for piece in pieces if piece)
    table.findings.raise_any()
    return tuple(piece for piece in pieces if piece)


def read_piece(row: Reader, shop: Shop | None) -> Piece | None:
    """One row of the pieces, or None where something was reported."""
    mark = row.read("mark", filled)
    profile = row.read("profile", lambda text: known(text, "profile", shop.profiles if shop else None))
    length = row.exactly("length", read_cell(row, "length", shop))
    qty = row.read("qty", lambda text: read_whole(text, 1, most=MOST_PIECES, decimal_comma=row.table.comma))
    centred = row.read("centred", read_centring) if row.cells.get("centred") else ""
    come = row.read("from_plan", read_origins) if row.cells.get("from_plan") else ()
    each = row.read("each", lambda text: read_each(text, qty, row.table.comma)) if row.cells.get("each") else 0
    ends = [read_set_in(row, column, shop, profile) for column in ("left_in", "right_in")]
    if (mark is None or profile is None or length is None or qty is None or centred is None or come is None
            or each is None or ends[0] is None or ends[1] is None):
        return None
    source = row.table.findings.file, row.row.line
    (left_in, left_note), (right_in, right_note) = ends[0], ends[1]
    notes = tuple(note for note in (left_note, right_note) if note)
    piece = Piece(mark, profile, length, qty, row.text("for"), *source, centred, come, each, left_in, right_in, notes)
    if piece.bottom <= 0:
        row.report("left_in", f"its ends take {exact_decimal(left_in + right_in)} of its length, "
                   f"{exact_decimal(length)}, and leave no bottom edge; check the length and both ends")
        return None
    return piece


def read_set_in(row: Reader, column: str, shop: Shop | None, profile: str | None) -> tuple[Fraction, str] | None:
    """What an end is set in, and what is to be said of it; square where the cell is empty."""
    if not row.cells.get(column):
        return Fraction(0), ""
    if shop is None:
        return read_set_in_over(row, column, "in", ANY_FACE)
    if profile is None:
        return None
    known = shop.profiles[profile]
    if known.angles is None and known.face is not None:
        what = "blanks that give one piece each" if known.routing is None else "routed rails"
        row.report(column, f"pieces with angled ends are not cut from {what}, as {profile} is; leave it empty")
        return None
    return read_set_in_over(row, column, shop.unit, known.face)


def read_set_in_over(row: Reader, column: str, unit: str, face: Fraction | None) -> tuple[Fraction, str] | None:
    """The same over a face; None where something was reported."""
    found = row.read(column, lambda text: read_end(text, unit, face, row.table.comma))
    set_in = row.exactly(column, found[0] if found else None)
    return None if found is None or set_in is None else (set_in, found[1])


def read_cell(row: Reader, column: str, shop: Shop | None) -> Fraction | None:
    """A length in the shop's unit."""
    unit = shop.unit if shop else "in"
    return row.read(column, lambda text: read_length(text, unit, decimal_comma=row.table.comma))


def filled(text: str) -> str:
    if not text:
        raise ValueError("is empty; write what it is to be called")
    return text


def new_mark(text: str, line: int, lines: dict[str, int]) -> str:
    first = lines.setdefault(filled(text), line)
    if first != line:
        raise ValueError(f"{quoted(text)} is on line {first} already; give each row a mark of its own")
    return text


def read_kind(text: str) -> str:
    if text.lower() not in OPENING_KINDS:
        raise ValueError(f"{f'{quoted(text)} is not a kind' if text else 'is empty'}; write gate, bay or run")
    return text.lower()


def read_leaves(text: str) -> int:
    if text.strip() not in ("1", "2"):
        raise ValueError(f"{quoted(text)} is no number of leaves; write 1 or 2")
    return int(text)


def read_hinges(text: str) -> str:
    if text.lower() not in HINGES:
        raise ValueError(f"{quoted(text)} is no side; write left or right, as seen from where the opening is measured")
    return text.lower()


def read_ends(text: str) -> str:
    if text.lower() not in ENDS:
        raise ValueError(f"{quoted(text)} is no end of a run; write walls, or posts where it has end posts of its own")
    return text.lower()


def read_slope(text: str, decimal_comma: bool = False) -> Fraction:
    """How much a slope rises for each unit of its run: "7 5/8:10", "5 %" or "37 deg" (45 alone is exact), falling to
    the right with a minus."""
    sign, plain = signed_text(text)
    try:
        if ":" in plain:
            slope = read_ratio(text, plain, decimal_comma)
        elif plain.endswith("%"):
            slope = read_number(plain[:-1], decimal_comma=decimal_comma) / 100
        elif plain.endswith("deg"):
            slope = of_degrees(read_angle(text, plain, decimal_comma))
        else:
            raise ValueError
    except ValueError:
        raise ValueError(f"{quoted(text)} is no slope; write rise:run, such as 7 5/8:10, or 5 % or 37 deg") from None
    if slope > STEEPEST:
        raise ValueError(f"{quoted(text)} is steeper than {STEEPEST}:1; check the rise and the run")
    return sign * slope


def of_degrees(angle: Fraction) -> Fraction:
    """The rise for each unit of run, to the nearest SLOPE_STEP."""
    return Fraction(angle == 45) or round(math.tan(math.radians(angle)) / float(SLOPE_STEP)) * SLOPE_STEP


def read_centring(text: str) -> str:
    if text.lower() not in CENTRINGS:
        raise ValueError(f"{quoted(text)} is nothing to centre on; write hole, space or either")
    return text.lower()


def read_each(text: str, qty: int | None, decimal_comma: bool) -> int:
    """How many of the row's pieces belong to one gate or bay."""
    each = read_whole(text, 1, decimal_comma=decimal_comma)
    if qty is not None and qty % each:
        raise ValueError(f"{qty} pieces are no whole number of times {each}; write how many one gate or bay has")
    return each


def read_origins(text: str) -> tuple[Origin, ...]:
    """The rests named in a cell, as `origins_text` writes them."""
    matches = [ORIGIN.fullmatch(part) for part in text.split(AND)]
    if None in matches:
        raise ValueError(f"{quoted(text)} is not what cutplan rest writes; leave it as it was written, or empty it")
    return tuple(Origin(match[1], int(match[2] or 0), match[3] or "", int(match[4] or 0)) for match in matches if match)


def origins_text(found: Iterable[Origin]) -> str:
    return AND.join(map(str, found))


def known(text: str, what: str, names: Collection[str] | None) -> str:
    """A name that the shop file has; any name where the shop is not known."""
    if names is None:
        return filled(text)
    if text not in names:
        fault = f"{quoted(text)} is not a {what} of the shop file" if text else "is empty"
        raise ValueError(f"{fault}; {suggest(text, names)}")
    return text
