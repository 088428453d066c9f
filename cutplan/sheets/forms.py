"""The files of a new shop, with an example in each, for people to write their own over."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from cutplan.problems import Findings
from cutplan.sheets.workbook import file_bytes
from cutplan.tables import split

TABLES = ("week", "pieces", "bid", "stock")
WIDTH, TYPED_AS_TEXT = 16, "@"  # letters; the format in which a spreadsheet makes no date of 7/8
NOTES = {  # what the heading of a column says when pointed at
    "mark": "Your name for this line; each has its own.",
    "kind": "gate, bay or run",
    "system": "The name of a [systems.NAME] table in shop.toml.",
    "profile": "The name of a [profiles.NAME] table in shop.toml.",
    "qty": "How many are alike.",
    "opening": "The clear width as measured: 38 1/2 or 38.5 or 978 mm. In a bid also 36 in..40 in or 38 in +/- 1 in.",
    "height": "From the finished ground to the top: 42 or 42 1/2.",
    "length": "Of one piece, or of one stick: 70 5/8 or 70.625 or 16 ft.",
    "for": "The gate or bay of the week that the pieces belong to, or any words.",
    "price": "What one stick costs.",
    "supplier": "Where it is bought; may be left empty, like all columns behind it.",
    "code": "What it is called there.",
    "bundle": "It is sold by so many.",
    "price_breaks": "Cheaper from a number on: 50 at 39.00; 100 at 37.50.",
    "where": "For people; it is carried to the sheets. Add columns of your own beside it.",
}


def new_shop() -> dict[str, str | bytes]:
    """The files by name: a shop file; a week, a list of pieces, a bid and a list of stock lengths, each as CSV and as
    a workbook."""
    found: dict[str, str | bytes] = {"shop.toml": template("shop.toml")}
    for name in TABLES:
        text = template(f"{name}.csv")
        found |= {f"{name}.csv": text, f"{name}.xlsx": form(name, text)}
    return found


def template(name: str) -> str:
    return files("cutplan.sheets").joinpath("templates", f"new-{name}").read_text(encoding="utf-8")


def form(title: str, text: str) -> bytes:
    """The same table as a workbook, whose cells keep what is typed in them."""
    from openpyxl import Workbook
    from openpyxl.comments import Comment
    from openpyxl.styles import Font

    book = Workbook()
    sheet: Any = book.worksheets[0]
    sheet.title = title
    for row in split(text, ",", Findings(title)):
        sheet.append(row.cells)
    for head, *cells in sheet.columns:
        head.font, head.comment = Font(bold=True), Comment(NOTES[head.value], "cutplan")
        for place in (sheet.column_dimensions[head.column_letter], *cells):
            place.number_format = TYPED_AS_TEXT
        sheet.column_dimensions[head.column_letter].width = WIDTH
    sheet.freeze_panes = "A2"
    return file_bytes(book)
