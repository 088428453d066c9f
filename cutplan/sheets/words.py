"""How the sheets write money, shares and names."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tabulate import tabulate

from cutplan.lengths import exact_decimal, listed, places, rounded_decimal, show, show_reading, show_sqrt, written
from cutplan.printable import plain

LINE_WIDTH = 100  # characters
SIDES = {"l": "left", "r": "right"}
NAMES = {"in": "inches", "mm": "millimetres"}
FEET_FROM, METRES_FROM = 72, 1000  # from which length on nobody counts in inches, or in millimetres where need not be
Cell = str | int  # of a printed table: a record would be printed as Python writes it
MOST_WEEKS = 3  # that are named on every page
INSIDE_A_LENGTH = re.compile(r"(?<=\d) (?=\d+/\d|x ~?\d)|(?<= x) (?=~?\d)")  # the spaces of 2 x 34 7/8


@dataclass(frozen=True)
class Writer:
    """How lengths and money are written on one sheet: the unit, the tape's division and the currency."""

    unit: str
    tape: Fraction
    currency: str = ""

    def length(self, length: Fraction) -> str:
        """What a tape reads, after "~" where it is rounded."""
        return show(length, self.unit, self.tape)

    def reading(self, reading: Fraction, length: Fraction) -> str:
        """A mark to make on the tape for a length, after "~" where it is not that length."""
        return show_reading(reading, length, self.unit)

    def cut(self, length: Fraction, rounded: bool) -> str:
        """What a piece is cut to, after "~" also where that stands for a length that is on no tape."""
        return f"~{self.length(length).removeprefix('~')}" if rounded else self.length(length)

    def along(self, level: Fraction, rake: Fraction) -> str:
        """A level length along a rake, as a tape reads it."""
        return show_sqrt(level**2 * (1 + rake**2), self.unit, self.tape)

    def exact(self, length: Fraction) -> str:
        """The length as it is, however fine."""
        return written(length, self.unit)

    def spoken(self, length: Fraction) -> str:
        """A stock length as people say it: 12 ft, 12 ft 6 in, 42 in, 6 m, 3660 mm."""
        if self.unit == "mm" and length >= METRES_FROM and length % 100 == 0:
            return f"{exact_decimal(length / 1000)} m"
        if self.unit != "in" or length < FEET_FROM:
            return f"{self.length(length)} {self.unit}"
        whole, rest = divmod(length, 12)
        return f"{whole} ft" + (f" {self.length(rest)} in" if rest else "")

    def stock(self, length: Fraction) -> str:
        """A stock length in lists to pull and to buy: by the tape, and as people say it where that is something else.
        """
        spoken, read = self.spoken(length), self.length(length)
        return read if spoken == f"{read} {self.unit}" else f"{read} ({spoken})"

    def at_most(self, length: Fraction) -> str:
        """A length rounded up to the tape, so that "at most" stays true."""
        return self.length(math.ceil(length / self.tape) * self.tape)

    def money(self, amount: Fraction) -> str:
        """In hundredths, after "~" where that is rounded."""
        return rounded_decimal(amount)

    def money_named(self, amount: Fraction) -> str:
        return f"{self.money(amount)} {plain(self.currency)}".rstrip()

    def money_at_most(self, amount: Fraction) -> str:
        """Money rounded up to a hundredth, so that "at most" stays true."""
        return self.money_named(Fraction(math.ceil(100 * amount), 100))

    def priced(self, heading: str) -> str:
        return f"{heading}, {plain(self.currency)}" if self.currency else heading

    def legend(self) -> str:
        return wrapped(
            f"Lengths in {NAMES[self.unit]}. A ~ marks a figure rounded to the tape's division, "
            f"{self.length(self.tape)} {self.unit}, or an amount rounded to hundredths; what is planned is exact."
        )


def weeks_words(weeks: Sequence[str]) -> str:
    """What some weeks are called together; "" where they have no names."""
    more = [f"{len(weeks) - MOST_WEEKS} more"] if len(weeks) > MOST_WEEKS else []
    return listed([*weeks[:MOST_WEEKS], *more]) if weeks else ""


def of_weeks(what: str, weeks: Sequence[str]) -> str:
    """A heading that says of which weeks it is."""
    return ": ".join(filter(None, (what, weeks_words(weeks))))


def percent(share: Fraction) -> str:
    return places(share, 2)


def counted(number: int, thing: str) -> str:
    return f"{number} {thing}" + ("" if number == 1 else "s")


def titled(title: str) -> str:
    return f"{title}\n{'=' * len(title)}"


def wrapped(text: str, indent: str = "", hanging: str | None = None) -> str:
    """The text on as many lines as it needs, those after the first behind `hanging`; no length is broken."""
    if len(indent) + len(text) <= LINE_WIDTH and text.isprintable():
        return indent + text
    filled = textwrap.fill(
        INSIDE_A_LENGTH.sub("\u00a0", text), LINE_WIDTH,
        initial_indent=indent, subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return filled.replace("\u00a0", " ")


def bulleted(lines: Iterable[str]) -> str:
    return "\n".join(wrapped(line, "- ", "  ") for line in lines)


def aligned(headings: Sequence[str], rows: Iterable[Sequence[Cell]], sides: str = "") -> str:
    """A table; `sides` has "l" or "r" for each column, and where it is not given a name stands before figures."""
    sides, cells = sides or "l" + "r" * (len(headings) - 1), list(rows)
    names = [SIDES[side] for side in sides] if cells else None
    return tabulate(cells, headings, colalign=names, disable_numparse=True)
