"""The bid file: a week whose openings are not measured yet. A cell may be a value, a range, a tolerance or a run."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from cutplan.bidding.choices import CERTAIN, LineChoice, chances_of, read_choice
from cutplan.lengths import quoted, read_length, read_whole
from cutplan.orders import FOR_BIDS, WEEK, WEEK_OPTIONAL, Order, known, new_mark, read_form, read_kind
from cutplan.problems import InputProblems, Problem
from cutplan.shop import Shop
from cutplan.tables import Reader, read_table
from cutplan.takeoff import take_off

BETWEEN = re.compile(r"\.\.|…")
AROUND = re.compile(r"\+/-|\+-|±")
RUN = re.compile(r"run\s*=\s*(?P<run>[^=]*?)\s*[,;]\s*max[_ ]bay\s*=\s*(?P<bay>[^=]*)", re.IGNORECASE)
UNIT_LAST = re.compile(r"[\s]*(?:[A-Za-z]+\.?|[\"'″′]+)$")  # noqa: RUF001
MOST_MARKS = 20_000  # of a tape within one range; more than that is a slip
MOST_QTY = 2_000  # gates or bays of a line that are drawn one by one
FORMS = "write a value (72 in), a range (36 in..48 in) or a tolerance (72 in +/- 2 in)"
RUN_FORM = "write it as: run = 300 ft, max_bay = 8 ft"


@dataclass(frozen=True)
class BidLine:
    """One line of a bid: everything that its `qty`, `opening` and `height` may turn out to be, each equally likely.

    Its gates have so many `leaves`; `opening_bottom` is the other end of an opening that is measured already, `rake`
    and `ends` are as of an `Order`.
    `opening` holds openings, or, where `max_bay` is given, runs to be divided into bays no wider than that. Lengths in
    the shop's unit, rising. `alike`: all of a line have one opening; else each has its own.

    The line comes with this `chance`, a share of 1; of the lines of a `group` no two come at once. Lines that may not
    come have no `qty` of 0.
    """

    mark: str
    kind: str
    system: str
    qty: tuple[int, ...]
    opening: tuple[Fraction, ...]
    height: tuple[Fraction, ...]
    max_bay: Fraction | None = None
    alike: bool = False
    file: str = ""
    line: int = 0
    leaves: int = 1
    opening_bottom: Fraction | None = None
    ends: str = "walls"
    rake: Fraction = Fraction(0)
    chance: Fraction = CERTAIN
    group: str = ""

    @property
    def certain(self) -> bool:
        """Whether it comes, as far as its chance goes."""
        return self.chance == CERTAIN

    @property
    def coming(self) -> Fraction:
        """How likely it is that any of it comes, of 1."""
        return self.chance * Fraction(sum(n > 0 for n in self.qty), len(self.qty))

    def order(self, mark: str, qty: int, opening: Fraction, height: Fraction, tape: Fraction) -> Order:
        """`qty` openings as an order, or `qty` runs as the bays that they come to."""
        if self.max_bay is not None:
            bays, opening = divided(opening, self.max_bay, tape)
            qty *= bays
        return Order(mark, self.kind, self.system, qty, opening, height, {}, self.file, self.line, self.leaves,
                     opening_bottom=self.opening_bottom, rake=self.rake, ends=self.ends)


def divided(run: Fraction, max_bay: Fraction, tape: Fraction) -> tuple[int, Fraction]:
    """As few equal bays as are not wider than `max_bay`: how many, and the opening of each, down to the tape's mark.

    An opening finer than the tape cannot be set out; rounded up it might be too wide. One less than a mark stays exact.
    """
    bays = math.ceil(run / max_bay)
    opening = run / bays
    return bays, math.floor(opening / tape) * tape or opening


@dataclass(frozen=True)
class Bid:
    """The lines of a bid, with what is to be said of openings that were left out because nothing fits them."""

    lines: tuple[BidLine, ...]
    notes: tuple[str, ...] = ()


def load_bid(path: str | Path, shop: Shop) -> Bid:
    """The bid file, whole and sound. InputProblems holds everything that is wrong in it."""
    table = read_table(path).expect(WEEK, ("alike", *FOR_BIDS, *WEEK_OPTIONAL), closed=False)
    seen: dict[str, int] = {}
    groups: dict[str, str] = {}
    readers = [table.reader(row) for row in table.rows]
    choices = [read_choice(row, groups) for row in readers]
    lines = [read_line(row, shop, seen, choice) for row, choice in zip(readers, choices, strict=True)]
    chances = chances_of(choices)
    table.findings.raise_any()
    return buildable([replace(line, chance=chance, group=choice.group)
                      for line, chance, choice in zip(lines, chances, choices, strict=True) if line], shop)


def read_line(row: Reader, shop: Shop, seen: dict[str, int], choice: LineChoice) -> BidLine | None:
    """One row, or None where something was reported."""
    comma = row.table.comma
    mark = row.read("mark", lambda text: new_mark(text, row.row.line, seen))
    kind = row.read("kind", read_kind)
    system = row.read("system", lambda text: known(text, "system", shop.systems))
    qty = row.read("qty", lambda text: read_quantities(text, comma))
    runs = "=" in row.cells.get("opening", "")
    found = row.read("opening", lambda text: read_run(text, shop, comma) if runs else
                     (read_values(text, shop, comma), None))
    height = row.read("height", lambda text: read_values(text, shop, comma))
    alike = row.read("alike", read_alike) if row.cells.get("alike") else False
    form = read_form(row, shop, kind)
    if choice.open and qty and not qty[0]:
        row.report("qty", f"begins at 0, but {' and '.join(filter(row.text, FOR_BIDS))} already says that the line may "
                   "not come; write how many come if it does, from 1")
    if runs and kind in ("gate", "run"):
        said = ("a gate is not divided into bays; write its opening, or kind bay" if kind == "gate" else
                "a run is divided by the system's max_bay, with its posts; write its length alone")
        row.report("opening", said)
        return None
    if kind and system and getattr(shop.systems[system], kind) is None:
        lack = f"system '{system}' has no [systems.{system}.{kind}] table"
        row.report("system", f"{lack}; write one in the shop file, or choose another system")
    if form and form.opening_bottom is not None and found and (runs or len(found[0]) > 1):
        row.report("opening_bottom", "is measured, so the opening must be; write one opening, or leave this empty")
        return None
    if None in (mark, kind, system, qty, found, height, alike, form):
        return None
    assert mark and kind and system and qty and found and height and alike is not None and form
    return BidLine(mark, kind, system, qty, found[0], height, found[1], alike, row.table.findings.file, row.row.line,
                   form.leaves, form.opening_bottom, form.ends, form.rake)


def read_quantities(text: str, comma: bool = False) -> tuple[int, ...]:
    """Every number that 3, 2..4 or 0..2 means. ValueError says what is wrong."""
    parts = BETWEEN.split(text)
    if len(parts) > 2:
        raise ValueError(f"{quoted(text)} has more than two ends; write a range like 2..4")
    low, high = read_whole(parts[0], 2 - len(parts), decimal_comma=comma), read_whole(parts[-1], 1, decimal_comma=comma)
    if high < low:
        raise ValueError(f"{quoted(text)} runs backwards; write the smaller number first, {high}..{low}")
    if high > MOST_QTY:
        raise ValueError(f"{high} are too many for one line of a bid; at most {MOST_QTY}, so share it out over lines")
    return tuple(range(low, high + 1))


def read_run(text: str, shop: Shop, comma: bool = False) -> tuple[tuple[Fraction, ...], Fraction]:
    """The runs that `run = 300 ft, max_bay = 8 ft` may mean, and the widest bay. ValueError says what is wrong."""
    match = RUN.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"{quoted(text)} is no run; {RUN_FORM} (in quotes, where commas part the cells)")
    try:
        max_bay = read_length(match["bay"], shop.unit, decimal_comma=comma)
    except ValueError as error:
        raise ValueError(f"max_bay {error}") from None
    try:
        runs = read_values(match["run"], shop, comma)
    except ValueError as error:
        raise ValueError(f"run {error}") from None
    if max_bay < shop.tape:
        raise ValueError("max_bay is less than a mark of the tape; write the widest bay you would build, such as 8 ft")
    if runs[-1] > MOST_QTY * max_bay:
        raise ValueError(f"{quoted(text)} comes to more than {MOST_QTY} bays; write a wider max_bay or a shorter run")
    return runs, max_bay


def read_values(text: str, shop: Shop, comma: bool = False) -> tuple[Fraction, ...]:
    """Every length that a value, a range or a tolerance may mean: the tape's marks from the lowest up, in order.

    ValueError says what is wrong, and what would be right.
    """
    if len(parts := AROUND.split(text)) > 1:
        return around(parts, text, shop, comma)
    parts = BETWEEN.split(text)
    if len(parts) > 2:
        raise ValueError(f"{quoted(text)} has more than two ends; {FORMS}")
    if len(parts) == 1:
        return (read_length(text, shop.unit, decimal_comma=comma),)
    same_unit(parts[0], parts[1], shop.unit, comma)
    low, high = (read_length(part, shop.unit, decimal_comma=comma) for part in parts)
    if high < low:
        raise ValueError(f"{quoted(text)} runs backwards; write the shorter length first")
    return marks(low, high, shop.tape, text)


def around(parts: list[str], text: str, shop: Shop, comma: bool) -> tuple[Fraction, ...]:
    """The marks of a middle and its tolerance."""
    if len(parts) > 2 or any(map(BETWEEN.search, parts)):
        raise ValueError(f"{quoted(text)} is more than one tolerance; {FORMS}")
    same_unit(parts[0], parts[1], shop.unit, comma)
    middle = read_length(parts[0], shop.unit, decimal_comma=comma)
    by = read_length(parts[1], shop.unit, zero_ok=True, decimal_comma=comma)
    if by >= middle:
        raise ValueError(f"{quoted(text)} goes down to nothing; a tolerance smaller than the length is needed")
    return marks(middle - by, middle + by, shop.tape, text)


def same_unit(first: str, last: str, unit: str, comma: bool) -> None:
    """Refuses 3..4 ft: are the 3 feet too? 36..48 in is clear in a shop that counts in inches."""
    bare_first, bare_last = (UNIT_LAST.sub("", part.strip()) for part in (first, last))
    if (bare_first == first.strip()) == (bare_last == last.strip()):
        return
    bare, named = (first, last) if bare_first == first.strip() else (last, first)
    stripped = bare_last if named is last else bare_first
    if read_length(stripped, unit, zero_ok=True, decimal_comma=comma) != read_length(
            named, unit, zero_ok=True, decimal_comma=comma):
        raise ValueError(f"{quoted(bare.strip())} has no unit and {quoted(named.strip())} has one; write it at both")


def marks(low: Fraction, high: Fraction, tape: Fraction, text: str) -> tuple[Fraction, ...]:
    """From `low` in steps of the tape, as far as `high`."""
    count = math.floor((high - low) / tape) + 1
    if count > MOST_MARKS:
        raise ValueError(f"{quoted(text)} spans {count} marks of the tape; a range of at most {MOST_MARKS} is needed")
    return tuple(low + k * tape for k in range(count))


def read_alike(text: str) -> bool:
    if text.lower() not in ("yes", "no"):
        raise ValueError(f"{quoted(text)} is neither; write yes where all of a line have one opening, else no")
    return text.lower() == "yes"


# ---- what cannot be made ----


def buildable(lines: list[BidLine], shop: Shop) -> Bid:
    """The bid without the openings and heights that nothing fits; InputProblems where a line has no other.

    With holes in the rails, or pickets wide for their gaps, some openings cannot be filled: on site the gap at the
    latch or the post would be changed. What is left is equally likely.
    """
    kept, notes = [], []
    problems: list[Problem] = []
    for line in lines:
        try:
            opening = fitting(line, [(value, line.height[-1]) for value in line.opening], 0, shop)
            height = fitting(line, [(opening[0], value) for value in line.height], 1, shop)
        except InputProblems as wrong:
            problems += wrong.problems
            continue
        for name, values, left in (("openings", line.opening, opening), ("heights", line.height, height)):
            if len(left) < len(values):
                notes.append(f"{line.mark}: {len(values) - len(left)} of {len(values)} {name} in its range cannot be "
                             f"made as {line.system} and are left out")
        kept.append(replace(line, opening=opening, height=height))
    if problems:
        raise InputProblems(problems)
    return Bid(tuple(kept), tuple(notes))


def fitting(line: BidLine, sizes: list[tuple[Fraction, Fraction]], of: int, shop: Shop) -> tuple[Fraction, ...]:
    """The openings (`of` 0) or heights (1) of the sizes that can be made.

    Raises what is wrong with the middle one where none can.
    """
    fit, faults = [], []
    for size in sizes:
        try:
            take_off([line.order(line.mark, 1, *size, shop.tape)], shop)
            fit.append(size[of])
        except InputProblems as wrong:
            faults.append(wrong)
    if not fit:
        raise faults[len(faults) // 2]
    return tuple(fit)
