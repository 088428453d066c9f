"""A table as people keep it, in CSV or in a workbook: rows that know their line, cells by column name."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Protocol, TypeVar, runtime_checkable

from cutplan.lengths import exact_decimal, quoted
from cutplan.printable import can_be_printed, where_unprintable
from cutplan.problems import Findings, Source, name_of, nearest, read_text, suggest
from cutplan.workbooks import DATED, DateText, is_workbook, read_sheet

T = TypeVar("T")
SEPARATORS = ",;\t"
ROUNDED_TO = 6  # decimals, to which a number is rounded that has no finite decimal
EXACT = "_exact"  # the ending of the column that then has it as p/q
ON_TAPE = "_tape"  # the ending of a column of a workbook that says what a tape reads; for people, and not read again
P_OVER_Q = re.compile(r"-?[0-9]{1,40}/[0-9]{1,40}")
FORMULA = r"[=+\-@\uff1d\uff0b\uff0d\uff20]"  # what a formula begins with, the wide forms of it too
# A text that begins with apostrophes and a formula gets one more, so that taking one off gives it back as it was.
GUARDED = re.compile(rf"(^|; ?)'(?='*{FORMULA})")
UNGUARDED_CELL = re.compile(rf"(^|; ?)(?='*{FORMULA})")
SLIP = 0.85  # how much alike, of 1, a name must be to one that is understood before it is taken for a slip of it
BREAKS = str.maketrans("\t\r\n", "   ")  # in a cell they part words, as spaces do
BLANKS = "\t\r\n \u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"


@runtime_checkable
class FrameLike(Protocol):
    """What is asked of a pandas DataFrame, which need not be loaded for it."""

    @property
    def columns(self) -> Iterable[Any]: ...

    def itertuples(self, index: bool, name: str | None) -> Iterable[tuple[Any, ...]]: ...


@dataclass(frozen=True)
class Table:
    """Header and rows of one file. What is wrong goes to `findings`.

    names:   the columns as their heads say, tidied; "" where a column has no head
    comma:   whether numbers may have a decimal comma, as in files separated by semicolons
    """

    findings: Findings
    line: int
    names: tuple[str, ...]
    rows: tuple[Row, ...]
    comma: bool

    def expect(self, required: Sequence[str], optional: Sequence[str] = (), *, closed: bool,
               exact: Sequence[str] = ()) -> Table:
        """The table with its columns under the names expected; reports those missing or written twice.

        A column that is not expected is carried on, unless its name is a slip of an optional one's; where the table is
        `closed` it is reported. Columns of `exact` may have another beside them, see `Reader.exactly`.
        """
        expected = (*required, *optional, *(name + end for name in exact for end in (EXACT, ON_TAPE)))
        names = tuple(name.lower() if name.lower() in expected else name for name in self.names)
        spare = [name for name in names if name and name not in expected]
        for name in required:
            if name not in names:
                slip = next((word for word in spare if nearest(word, [name])), None)
                spare = [word for word in spare if word != slip]
                right = f"'{slip}' looks like it, name it {name}" if slip else f"write {','.join(required)}"
                self.findings.add(self.line, name, f"there is no such column in the header; {right}")
        for name in spare if closed else ():
            self.findings.add(self.line, name, f"is not a column of this file; {suggest(name, expected)}")
        for name in () if closed else spare:
            if (meant := nearest(name, optional, SLIP)) and meant not in names:
                self.findings.add(self.line, name, f"looks like '{meant}', which is understood; name it that, or else "
                                  "something that looks less like it")
        for name in dict.fromkeys(name for name in names if name and names.count(name) > 1):
            self.findings.add(self.line, name, "there are two columns of this name; keep one")
        return Table(self.findings, self.line, names, self.rows, self.comma)

    def reader(self, row: Row) -> Reader:
        return Reader(self, row, dict(zip(self.names, row.cells, strict=False)))


@dataclass(frozen=True)
class Row:
    """The cells of one row, and the line it starts on."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Reader:
    """One row read cell by cell."""

    table: Table
    row: Row
    cells: dict[str, str]

    def report(self, column: str, message: str) -> None:
        self.table.findings.add(self.row.line, column, message)

    def text(self, column: str) -> str:
        """A cell on one line, with one space wherever there are any; "" where the column is missing."""
        return " ".join(self.cells.get(column, "").split())

    def exactly(self, column: str, value: Fraction | None) -> Fraction | None:
        """The column's `value` as it is, where another column has it exactly; None where something was reported."""
        exact = self.text(column + EXACT)
        return self.read(column + EXACT, lambda text: as_rounded(text, value)) if exact and value is not None else value

    def read(self, column: str, convert: Callable[[str], T]) -> T | None:
        """What `convert` makes of a cell; None where something of it was reported or the column is missing."""
        if column not in self.table.names or not fit_to_print(self.cells.get(column, "")):
            return None
        try:
            return convert(self.text(column))
        except ValueError as error:
            cell = self.cells.get(column, "")
            self.report(column, f"is {quoted(cell)}; {DATED}" if isinstance(cell, DateText) else str(error))
            return None


def as_rounded(exact: str, value: Fraction) -> Fraction:
    """The number that a cell has exactly as p/q, beside its column's `value`. ValueError where that is not it, rounded.
    """
    top, _, bottom = exact.partition("/")
    if not P_OVER_Q.fullmatch(exact) or not int(bottom):
        raise ValueError(f"{quoted(exact)} is not what cutplan writes; leave it as it was written, or empty it")
    number = Fraction(int(top), int(bottom))
    if abs(number - value) * 2 * 10**ROUNDED_TO > 1:
        raise ValueError(f"{quoted(exact)} is another number than the one beside it; empty it where that was changed")
    return number


def read_table(source: Source | FrameLike) -> Table:
    """A whole CSV file, a sheet of a workbook or a DataFrame. InputProblems where it cannot be read.

    CSV is separated by commas, semicolons or tabs, whichever the header has most of. Blank rows are skipped, cells
    under no column name reported, and so are those with a character that cannot be printed.
    """
    if isinstance(source, FrameLike):
        return checked(*of_frame(source), comma=False)
    if is_workbook(source):
        found, records = read_sheet(str(source))
        return checked(found, [Row(*record) for record in records], comma=False)
    text = read_text(source, "save it as UTF-8 (from a spreadsheet: save as CSV UTF-8)")
    findings = Findings(name_of(source))
    head = text.lstrip().partition("\n")[0]
    separator = max(SEPARATORS, key=head.count)
    return checked(findings, split(text, separator, findings), separator == ";")


def of_frame(frame: FrameLike) -> tuple[Findings, list[Row]]:
    """The header and the rows of a DataFrame, whose lines count as they would in a CSV file of it."""
    findings = Findings("DataFrame")
    names = [str(name) for name in frame.columns]
    rows = [Row(1, tuple(names))]
    for line, values in enumerate(frame.itertuples(index=False, name=None), start=2):
        cells = []
        for name, value in zip(names, values, strict=True):
            if isinstance(value, float) and value == value and not value.is_integer():
                findings.add(line, name, f"is the float {value!r}, which is not exact; give a text such as '34 7/8', a "
                             "whole number or a Fraction (read_csv with dtype=str keeps what the file says)")
            cells.append(as_text(value))
        if any(cells):
            rows.append(Row(line, tuple(cells)))
    return findings, rows


def as_text(value: Any) -> str:
    """A cell of a DataFrame as it would stand in a file; "" where nothing is there."""
    if not has_content(value):
        return ""
    if isinstance(value, Fraction) or (isinstance(value, Decimal) and value.is_finite()):
        return exact_decimal(Fraction(value))
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def has_content(value: Any) -> bool:
    """Whether a cell holds anything: NaN and NaT are not themselves, and of pandas' NA that cannot be said."""
    try:
        return value is not None and bool(value == value)
    except (TypeError, ArithmeticError):
        return False
    except ValueError:  # an array, which the column's own reader will not like
        return True


def checked(findings: Findings, records: list[Row], comma: bool) -> Table:
    """The table of these records, the first of which is the header."""
    separator = ";" if comma else ","
    if not records:
        findings.add(1, "file", "is empty; write a header and at least one row")
        findings.raise_any()
    header, *rows = records
    names = tuple(" ".join(name.split()) for name in header.cells)
    if not rows and not findings.problems:
        findings.add(header.line, "file", "has a header but no rows; write at least one row")
    for place, name in enumerate(header.cells, start=1):
        if not fit_to_print(name):
            findings.add(header.line, f"column {place}", f"its name {hides(name)}")
    for row in rows:
        for place, cell in enumerate(row.cells):
            if cell and (place >= len(names) or not names[place]):
                fault = f"{quoted(cell)} stands under no column name; {more_cells(separator)}"
                findings.add(row.line, f"column {place + 1}", fault)
            elif not fit_to_print(cell):
                findings.add(row.line, names[place], hides(cell))
    return Table(findings, header.line, names, tuple(rows), comma)


def fit_to_print(cell: str) -> bool:
    return can_be_printed(cell.translate(BREAKS))


def hides(cell: str) -> str:
    return f"has a character that cannot be printed; leave it out ({where_unprintable(cell.translate(BREAKS))})"


def more_cells(separator: str) -> str:
    commas = ", and put quotes round a cell that has a comma in it" if separator == "," else ""
    return f"name the column or empty the cell{commas}"


def split(text: str, separator: str, findings: Findings) -> list[Row]:
    """The rows that are not blank, up to a quote that does not close."""
    records = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    try:
        for cells in reader:
            row = Row(line, tuple(as_typed(cell.strip(BLANKS)) for cell in cells))
            line = reader.line_num + 1
            if any(row.cells):
                records.append(row)
                check_quotes(row, separator, len(records[0].cells), findings)
    except csv.Error:
        findings.add(line, "file", UNCLOSED)
    return records


def as_typed(cell: str) -> str:
    """The text that `guarded` made this cell of, exactly; a cell that needs no guard stays as it is."""
    return GUARDED.sub(r"\1", cell)


def guarded(text: str) -> str:
    """The text so that no spreadsheet takes it for a formula, nor what one that splits at semicolons makes of it."""
    return UNGUARDED_CELL.sub(r"\1'", text)


def check_quotes(row: Row, separator: str, columns: int, findings: Findings) -> None:
    """Reports a cell that holds a whole row: its quote closed only at some later quote."""
    lines = [line for cell in row.cells for line in cell.splitlines()[1:]]
    if columns > 1 and any(line.count(separator) >= columns - 1 for line in lines):
        findings.add(row.line, "file", UNCLOSED)


UNCLOSED = (
    'a cell of this row opens with a quote (") that does not close before the row ends; '
    'take the quote away or close it, and write inches without quotes'
)
