"""Tables for other programs: columns and rows of typed cells, and how they are written as CSV.

A number stands in decimals, so that a spreadsheet can add it. One that has no finite decimal is rounded to six places,
and then its column has another behind all the rest, named after it with `_exact`, where such numbers stand as p/q.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from cutplan.lengths import TEXTS_KEPT, exact_decimal, places
from cutplan.printable import plain
from cutplan.tables import EXACT, ROUNDED_TO, guarded

QUOTED = re.compile('[,;"]')


@dataclass(frozen=True, slots=True)
class Numeral:
    """A cell that is no name.

    text:       in decimals
    exact:      p/q where those are rounded
    value:      what a workbook holds; None where it is text there too
    is_length:  whether a tape can be read for it
    """

    text: str
    exact: str = ""
    value: Fraction | None = None
    is_length: bool = False


Entry = str | int | Numeral  # a name or words; a count; any other number


@dataclass(frozen=True)
class Listing:
    """What one table holds; its title names the sheet of a workbook."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Entry, ...], ...]


def listing(title: str, headings: Sequence[str], rows: Iterable[Sequence[Entry]]) -> Listing:
    """The table, with a column of exact forms for each that needs one."""
    whole = [tuple(row) for row in rows]
    rounded = sorted({k for row in whole for k, cell in enumerate(row) if type(cell) is Numeral and cell.exact})
    if rounded:
        whole = [(*row, *(exact_form(row[k]) for k in rounded)) for row in whole]
    return Listing(title, (*headings, *(headings[k] + EXACT for k in rounded)), tuple(whole))


def exact_form(cell: Entry) -> Entry:
    return Numeral(cell.exact) if isinstance(cell, Numeral) and cell.exact else ""


# ---- cells ----


def number(value: Fraction | None) -> Numeral | str:
    """A number that is known exactly, such as money; nothing where there is none."""
    return "" if value is None else of_ratio(value.as_integer_ratio(), False)


def measure(length: Fraction | None) -> Numeral | str:
    """A length that is known exactly; nothing where there is none."""
    return "" if length is None else of_ratio(length.as_integer_ratio(), True)


@lru_cache(TEXTS_KEPT)
def of_ratio(ratio: tuple[int, int], is_length: bool) -> Numeral:
    value = Fraction(*ratio)
    text = exact_decimal(value)
    if "/" in text:
        return Numeral(places(value, ROUNDED_TO), text, value, is_length)
    return Numeral(text, "", value, is_length)


def estimate(value: Fraction | None) -> Numeral | str:
    """A mean, a share or an estimate, in six decimals; nothing where it is not known."""
    return "" if value is None else of_text(places(value, ROUNDED_TO))


def of_text(decimals: str) -> Numeral:
    return Numeral(decimals, value=Fraction(decimals))


def several(values: Iterable[Fraction]) -> Numeral:
    """Numbers in one cell, with a space between two."""
    parts = [of_ratio(value.as_integer_ratio(), True) for value in values]
    if len(parts) == 1:
        return parts[0]
    exact = " ".join(part.exact or part.text for part in parts) if any(part.exact for part in parts) else ""
    return Numeral(" ".join(part.text for part in parts), exact)


def yes_or_no(flag: bool) -> str:
    return "yes" if flag else "no"


# ---- CSV ----


def as_csv(table: Listing) -> str:
    """The text of the file. Most cells of a long cut list are numbers, which need no call of a function each."""
    return "".join([",".join([cell.text if type(cell) is Numeral else csv_text(cell) if type(cell) is str else str(cell)
                              for cell in row]) + "\n" for row in (table.headings, *table.rows)])


@lru_cache(TEXTS_KEPT)  # of cells, most stand in many rows
def csv_text(text: str) -> str:
    """A text that a spreadsheet takes for no formula and a terminal for nothing else, on one line; in quotes wherever a
    reader could take a character for a separator."""
    text = guarded(plain(text))
    return '"' + text.replace('"', '""') + '"' if QUOTED.search(text) else text
