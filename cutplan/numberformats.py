"""Which unit of length the number format of a spreadsheet's cell shows beside the number.

A format has up to four sections, for numbers above, below and of 0 and for text, or each under a condition of its own;
in a section stand places for digits, and texts in quotes, after a backslash or, as a currency, in [$...] (ECMA-376-1,
18.8.31).
"""

from __future__ import annotations

import re
from functools import lru_cache

from cutplan.lengths import PINT_NAMES, QUOTES, TEXTS_KEPT

FORMAT_TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|\[\$(?P<currency>[^\]-]*)(?:-[^\]]*)?\]|(?P<condition>\[[<>=][^\]]*\])'
    r"|\[[^\]]*\]|_.|\*.|(?P<end>;)|(?P<digits>General|[0-9#?]+(?:[,.][0-9#?]+)*)|(?P<scale>,)|(?P<plain>.)",
    re.IGNORECASE | re.DOTALL)
NOT_READ = {  # units of length that no length is written in; a cell that shows one is read with it, and so reported
    "yd", "yard", "yards", "mtr", "metre", "metres", "meter", "meters", "millimetre", "millimetres", "millimeter",
    "millimeters", "thou", "mil", "dm", "km", "µm"}


@lru_cache(TEXTS_KEPT)
def unit_shown(number_format: str, sign: int) -> str:
    """The unit beside a number of this sign; "" where none is. ValueError where what is shown is not the number with
    its unit."""
    sections = sectioned(number_format)
    if any(section.conditional for section in sections):
        units = {section.unit() for section in sections}
        if len(units) > 1:
            raise ValueError("in another unit for small numbers than for large ones")
        return units.pop()
    at = 1 if sign < 0 else 2 if sign == 0 else 0
    return sections[at if at < len(sections) else 0].unit()


class FormatSection:
    """What a format shows of some numbers: texts, each before, within or after the digits."""

    def __init__(self) -> None:
        self.texts = ["", ""]  # before the digits, and after each stretch of them
        self.conditional = self.scaled = self.percent = False

    def unit(self) -> str:
        first, *within, last = self.texts
        units = [text for text in map(bare, (first, last)) if is_unit(text)]
        if len(units) > 1 or any(is_unit(bare(text)) for text in within) or (units and self.percent) or self.scaled:
            raise ValueError("with a unit, and the number itself otherwise than it is" if units else
                             "in thousands, and so otherwise than it is")
        if not units and any(is_unit(word) for text in (first, last) for word in bare(text).split()):
            raise ValueError("with a unit among other words")
        return units[0] if units else ""


def sectioned(number_format: str) -> list[FormatSection]:
    sections, begun = [FormatSection()], False
    for match in FORMAT_TOKEN.finditer(number_format):
        section = sections[-1]
        if match["end"]:
            sections.append(FormatSection())
            begun = False
        elif match["digits"]:
            if begun:
                section.texts.append("")
            begun = True
        elif match["condition"]:
            section.conditional = True
        elif match["scale"]:
            section.scaled = True
        elif match["plain"] == "%":
            section.percent = True
        else:
            text = match["quoted"] or match["escaped"] or match["currency"] or match["plain"] or ""
            section.texts[-1 if begun else 0] += text
    return sections


def bare(text: str) -> str:
    return " ".join(text.translate(QUOTES).split())


def is_unit(text: str) -> bool:
    name = text.lower().removesuffix(".")
    return name in PINT_NAMES or name in NOT_READ
