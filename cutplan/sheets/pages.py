"""Pages from the templates beside this file. What a template prints is plain and escaped, unless it was made here.

Each page is one file that stands alone: nothing is fetched, no script is needed, paper and glass serve alike.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from cutplan.printable import plain

if TYPE_CHECKING:
    from jinja2 import Environment

FRACTION = re.compile(r"((?<=\d) )?\b(\d+)/(\d+)\b")


def page(template: str, **values: object) -> str:
    """A whole page, its template filled in."""
    return environment().get_template(template).render(values)


def part(template: str, **values: object) -> Markup:
    """A part of a page, which another template prints as it is."""
    return Markup(page(template, **values))


@cache
def environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # slow to load, so only when a page is made

    made = Environment(loader=PackageLoader("cutplan.sheets"), autoescape=True, trim_blocks=True, lstrip_blocks=True,
                       undefined=StrictUndefined, finalize=legible)
    made.filters |= {"fractions": fractions, "css": css}
    return made


def legible(value: object) -> object:
    """What somebody typed, on one line and with nothing in it that cannot be seen."""
    return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def fractions(said: str) -> Markup:
    """Every fraction with one number over the other, close to the whole number before it."""
    def small(match: re.Match[str]) -> str:
        between = "&#8239;" if match[1] else ""
        return f'{between}<span class="fr"><sup>{match[2]}</sup>&#8260;<sub>{match[3]}</sub></span>'

    return Markup(FRACTION.sub(small, escape(plain(said))))  # an escaped character is no fraction


def css(said: str) -> Markup:
    """A text inside a style sheet, in quotes: whatever is no plain letter is written as its number."""
    letters = (c if c.isascii() and (c.isalnum() or c in " .,-") else f"\\{ord(c):x} " for c in plain(said))
    return Markup(f'"{"".join(letters)}"')


def share(part: Fraction, whole: Fraction) -> str:
    """In percent with six decimals: a thousandth of a pixel on any screen."""
    return f"{float(100 * part / whole):.6f}%"
