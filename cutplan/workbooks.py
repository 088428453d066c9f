"""A sheet of a workbook as rows of text, as CSV would have them; each cell is known by its row and column.

What is typed is read as it is meant: a number as the shortest decimal of the 15 digits that a spreadsheet keeps, with
the unit of length that its format shows, a share such as 5 % with its sign, true and false as yes and no, a formula by
the value that was saved with it. Hidden rows and columns are read like the rest, as a spreadsheet saves them too.
`openpyxl` parses the parts of the file.
"""

from __future__ import annotations

import os
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cutplan.numberformats import unit_shown
from cutplan.problems import Findings, InputProblems, Problem

if TYPE_CHECKING:
    from openpyxl.worksheet._read_only import ReadOnlyWorksheet

XLSX = ".xlsx"
WITH_SHEET = re.compile(rf"(.+\{XLSX})#([^#]+)", re.IGNORECASE | re.DOTALL)
MOST_UNPACKED = 40_000_000  # bytes: a week of 20,000 lines has some 10 million; more is no week, and takes minutes
MOST_COLUMNS = 200
MOST_LETTERS = 32_767  # of a cell, in any spreadsheet
MOST_CELLS_TOLD = 50  # problems; a sheet of something else has thousands
MARKUP = re.compile(rb"<!(?!--|\[CDATA\[)")  # declarations, which could define entities without end
KEPT_DIGITS = 15  # that a spreadsheet keeps of a number
OLD = b"\xd0\xcf\x11\xe0"  # how files begin that hold an old or a locked workbook (MS-CFB 2.2)
DATED = ("the spreadsheet made a date of it, as it does of 7/8; set the cell to text and write it again, or write a "
         "decimal")
Record = tuple[int, tuple[str, ...]]  # the number of a row, and its cells


class DateText(str):
    """A day or an hour that stands in a cell, which may have been a fraction when it was typed."""

    __slots__ = ()


@dataclass
class CellFindings(Findings):
    """Problems of a sheet: a column goes with the cell's place, such as `opening (E7)`."""

    letters: dict[str, str] = field(default_factory=dict)  # of the columns, by what their heads say, in small letters

    def add(self, line: int, column: str, message: str) -> None:
        letter = self.letters.get(column.lower())
        super().add(line, f"{column} ({letter}{line})" if letter else column, message)


def is_workbook(source: object) -> bool:
    """Whether a name is that of a workbook, or of a sheet in one."""
    return isinstance(source, str | Path) and file_of(str(source)).lower().endswith(XLSX)


def file_of(name: str) -> str:
    """The file of a name that may say a sheet too, as FILE.xlsx#Sheet."""
    match = WITH_SHEET.fullmatch(name)
    return match[1] if match and not os.path.exists(name) else name


def read_sheet(name: str) -> tuple[CellFindings, list[Record]]:
    """The rows of FILE.xlsx#Sheet, or of FILE.xlsx where only one of its sheets has any; blank ones are left out.

    InputProblems where the file is no workbook that can be read. What is wrong in single cells is in the findings.
    """
    path = file_of(name)
    data = unpacked(path, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return picked(path, name[len(path) + 1:], data)
    except InputProblems:
        raise
    except Exception as fault:  # whatever a parser makes of a file that is damaged, or made to do harm
        raise refusal(name, f"cannot be read as a workbook ({type(fault).__name__}); save it anew as {XLSX}, or as "
                      "CSV UTF-8") from None


def refusal(name: str, message: str) -> InputProblems:
    return InputProblems([Problem(name, 1, "file", message)])


def unpacked(path: str, name: str) -> bytes:
    """The file, known to be a workbook of sensible size that defines no XML entities of its own."""
    try:
        data = Path(path).read_bytes()
    except (OSError, ValueError) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or str(error)
        raise refusal(name, f"cannot be read ({why}); give the path of a file that can") from None
    if data.startswith(OLD):
        raise refusal(name, f"is an old workbook, or locked with a password; save it as {XLSX} without one")
    try:
        with zipfile.ZipFile(BytesIO(data)) as parts:
            if sum(part.file_size for part in parts.infolist()) > MOST_UNPACKED:
                raise refusal(name, "is larger than any week; copy the rows to a workbook of their own")
            for part in parts.infolist():
                if part.filename.lower().endswith((".xml", ".rels")):
                    text = parts.read(part)
                    if MARKUP.search(text.replace(b"\0", b"")):
                        raise refusal(name, f"is no workbook that a spreadsheet writes; save it anew as {XLSX}")
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError, EOFError, ValueError, zlib.error):
        raise refusal(name, f"is not a workbook; save it as {XLSX} (or, of a CSV file, name it .csv)") from None
    return data


def picked(path: str, asked: str, data: bytes) -> tuple[CellFindings, list[Record]]:
    """The sheet that was asked for, or the only one with anything in it."""
    book = workbook_of(data)
    names = [sheet.title for sheet in book.worksheets]
    if asked:
        if asked not in names:
            raise refusal(f"{path}#{asked}", f"there is no such sheet; the workbook has {', '.join(names)}")
        return rows_of(path, book[asked])
    found = [rows_of(path, sheet) for sheet in book.worksheets if sheet.sheet_state == "visible"]
    filled = [(findings, rows) for findings, rows in found if rows or findings.problems]
    if len(filled) > 1:
        several = " or ".join(findings.file for findings, _ in filled)
        raise refusal(path, f"has several sheets with rows; say which: {several}")
    return filled[0] if filled else (CellFindings(path), [])


def workbook_of(data: bytes) -> Any:
    """The workbook; a chart on a sheet of its own has no rows, and is only counted among the sheets."""
    from openpyxl.chartsheet import Chartsheet
    from openpyxl.reader.excel import ExcelReader

    class Reader(ExcelReader):
        def read_chartsheet(self, sheet: Any, rel: Any) -> None:
            book: Any = self.wb
            book._sheets.append(Chartsheet())

    reader = Reader(BytesIO(data), read_only=True, data_only=True, keep_links=False)
    reader.read()
    return reader.wb


def rows_of(path: str, sheet: ReadOnlyWorksheet) -> tuple[CellFindings, list[Record]]:
    """The rows of a sheet; those of no content are passed over without being made."""
    from openpyxl.utils import get_column_letter

    findings = CellFindings(f"{path}#{sheet.title}", MOST_CELLS_TOLD)
    records: list[Record] = []
    parser = cells_of(sheet)
    formats = number_formats(sheet)
    for line, cells in parser.parse():
        texts: dict[int, str] = {}
        for cell in cells:
            text = text_of(cell, findings, formats)
            if text:
                texts[cell["column"]] = text
        if texts and max(texts) > MOST_COLUMNS:
            place = f"{get_column_letter(max(texts))}{line}"
            findings.add(line, "file", f"the cell {place} lies far off, in a column that no table has; empty it")
            texts = {column: text for column, text in texts.items() if column <= MOST_COLUMNS}
        if not texts:
            continue
        records.append((line, tuple(texts.get(k, "") for k in range(1, max(texts) + 1))))
        if len(records) == 1:
            findings.letters |= {" ".join(head.split()).lower(): get_column_letter(k)
                                 for k, head in enumerate(records[0][1], start=1)}
            findings.letters |= {f"column {k}": get_column_letter(k) for k in range(1, MOST_COLUMNS + 1)}
    check_merged(parser.merged_cells.mergeCell if parser.merged_cells else (), records, findings)
    return findings, records


def check_merged(merged: Iterable[Any], records: Sequence[Record], findings: CellFindings) -> None:
    """Reports merged cells among those that are read: what all of them are to say stands in the first alone."""
    lines = [line for line, _ in records]
    widest = max((len(cells) for _, cells in records), default=0)
    for one in merged:
        if lines and lines[0] <= one.max_row and one.min_row <= lines[-1] and one.min_col <= widest:
            findings.add(max(one.min_row, 1), "file", f"the cells {one.coord} are merged; unmerge them, and write in "
                         "each what it is to say (a title above the table belongs into another sheet)")


def cells_of(sheet: ReadOnlyWorksheet) -> Any:
    """The parser of a sheet, which gives only cells that are there, and says which have a formula."""
    from openpyxl.worksheet._reader import FORMULA_TAG, WorkSheetParser

    class Cells(WorkSheetParser):
        def parse_cell(self, element: Any) -> dict[str, Any]:
            return {**super().parse_cell(element), "formula": element.find(FORMULA_TAG) is not None}

    part: Any = sheet  # what it keeps to itself is what a parser needs
    book = part.parent
    return Cells(part._get_source(), part._shared_strings, data_only=True, epoch=book.epoch,
                 date_formats=book._date_formats, timedelta_formats=book._timedelta_formats)


def number_formats(sheet: ReadOnlyWorksheet) -> list[str]:
    """How each style shows numbers."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE

    book: Any = sheet.parent
    own = dict(enumerate(book._number_formats, start=BUILTIN_FORMATS_MAX_SIZE))

    def shown(number: int) -> str:
        return str(own.get(number, BUILTIN_FORMATS.get(number, "")))

    return [shown(style.numFmtId) for style in book._cell_styles]


def text_of(cell: dict[str, Any], findings: CellFindings, formats: Sequence[str]) -> str:
    """What a cell says; what is wrong with it is reported under its column."""
    from openpyxl.utils import get_column_letter

    value, line = cell["value"], cell["row"]
    place = f"{get_column_letter(cell['column'])}{line}"
    if cell["data_type"] == "e":
        findings.add(line, place, f"is an error of the spreadsheet, {value}; mend the formula or write the value")
        return ""
    if value is None:
        if cell["formula"]:
            findings.add(line, place, "is a formula whose value was never saved; open and save the workbook in a "
                         "spreadsheet, or write the value")
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        number = Decimal(f"{value:.{KEPT_DIGITS}g}")
        shown_as = formats[cell["style_id"]]
        try:
            unit = unit_shown(shown_as, (number > 0) - (number < 0))
        except ValueError as otherwise:
            findings.add(line, place, f"is {shortest(number)}, which its number format shows {otherwise}; write it as "
                         "text, with its unit")
            return ""
        return f"{shortest(number)} {unit}" if unit else f"{shortest(number * 100)} %" if "%" in shown_as else shortest(
            number)
    if isinstance(value, date | time | timedelta):
        return DateText(day_text(value))
    text = str(value).strip()
    if len(text) > MOST_LETTERS:
        findings.add(line, place, "is longer than any cell of a spreadsheet; shorten it")
        return ""
    return text


def shortest(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def day_text(value: date | time | timedelta) -> str:
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    return str(value) if isinstance(value, timedelta) else value.isoformat()
