"""Text that is safe inside a page, and lengths as a tape reads them."""

from __future__ import annotations

import re
from fractions import Fraction
from html import escape

from cutplan.sheets.words import Writer
from cutplan.texts import plain

FRACTION = re.compile(r"((?<=\d) )?\b(\d+)/(\d+)\b")


def text(said: str) -> str:
    """What somebody typed, as it was typed."""
    return escape(plain(said), quote=True)


def length(value: Fraction, write: Writer) -> str:
    """A length with its fraction set small, one number over the other."""
    return set_fractions(escape(write.length(value)))


def set_fractions(said: str) -> str:
    """Every fraction with one number over the other, close to the whole number before it."""
    def small(match: re.Match[str]) -> str:
        between = "&#8201;" if match[1] else ""
        return f'{between}<span class="fr"><sup>{match[2]}</sup>&#8260;<sub>{match[3]}</sub></span>'

    return FRACTION.sub(small, said)


def percent(part: Fraction, whole: Fraction) -> str:
    """A share in percent with six decimals: a thousandth of a pixel on any screen."""
    return f"{float(100 * part / whole):.6f}%"
