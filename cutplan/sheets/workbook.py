"""Tables as a workbook: a sheet for each, with real numbers, and each length also as a tape reads it."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Sequence
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from cutplan.printable import plain
from cutplan.problems import InputProblems, Problem
from cutplan.sheets.listing import Entry, Listing, Numeral
from cutplan.tables import ON_TAPE

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell import Cell, MergedCell
    from openpyxl.worksheet.worksheet import Worksheet

ALWAYS = datetime(1980, 1, 1)  # the one day that every workbook is from, for the same tables are to be the same file
WIDEST = 60  # letters; a longer cell runs over its column
MOST_ROWS = 1_048_575  # of a sheet, below its heading (ECMA-376 part 1, 18.3.1.73: rows count to 1,048,576)
FORMULAS = tuple("=+-@")


def workbook(tables: Sequence[Listing], tape: Callable[[Fraction], str]) -> bytes:
    """The file. Behind the columns that the table has as CSV are those of what `tape` makes of its lengths."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for table in tables:
        fill(book.create_sheet(table.title), table, tape)
    return file_bytes(book)


def file_bytes(book: Workbook) -> bytes:
    """The file of a workbook, the same whenever it is written."""
    book.properties.creator = "cutplan"
    book.properties.created = ALWAYS
    file = io.BytesIO()
    book.save(file)
    return undated(file.getvalue())


def fill(sheet: Worksheet, table: Listing, tape: Callable[[Fraction], str]) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    if len(table.rows) > MOST_ROWS:
        said = f"the table {table.title} has {len(table.rows)} rows, more than a sheet holds; use --csv"
        raise InputProblems([Problem("command line", 1, "--xlsx", said)])
    lengths = sorted({k for row in table.rows for k, cell in enumerate(row) if is_length(cell)})
    headings = [*table.headings, *(table.headings[k] + ON_TAPE for k in lengths)]
    for k, name in enumerate(headings, start=1):
        head = sheet.cell(1, k, name)
        head.font = Font(bold=True)
        head.alignment = Alignment(vertical="top")
    widest = [len(name) for name in headings]
    for line, row in enumerate(table.rows, start=2):
        read = (tape(cell.value) if isinstance(cell, Numeral) and cell.value is not None else ""
                for cell in (row[k] for k in lengths))
        for k, entry in enumerate((*row, *read)):
            if entry != "":
                widest[k] = max(widest[k], put(sheet.cell(line, k + 1), entry))
    for k, letters in enumerate(widest, start=1):
        sheet.column_dimensions[get_column_letter(k)].width = min(letters, WIDEST) + 2
    sheet.freeze_panes = "A2"


def is_length(entry: Entry) -> bool:
    return isinstance(entry, Numeral) and entry.is_length


def put(cell: Cell | MergedCell, entry: Entry) -> int:
    """Writes a cell; how many letters wide it is."""
    if isinstance(entry, int):
        cell.value = entry
        return len(str(entry))
    if isinstance(entry, Numeral) and entry.value is not None:
        cell.value = int(entry.text) if entry.text.lstrip("-").isdigit() else float(entry.text)
        return len(entry.text)
    text = plain(entry.text if isinstance(entry, Numeral) else entry)
    cell.value = text
    cell.data_type = "s"  # whatever it looks like
    if text.startswith(FORMULAS):
        cell.quotePrefix = True  # so that it stays text when somebody edits it
    return len(text)


def undated(file: bytes) -> bytes:
    """The same workbook, without the time when it was written."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(file)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist()):
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>1980-01-01T00:00:00Z", part)
            new.writestr(zipfile.ZipInfo(name, ALWAYS.timetuple()[:6]), part, zipfile.ZIP_DEFLATED)
    return made.getvalue()
