"""How much room a text takes at most, whichever of the usual sans-serif fonts a browser has for it.

Widths are shares of the type size, and none is narrower than the letter is in DejaVu Sans Bold or in Verdana Bold, the
widest of the fonts the sheets ask for; so what fits by them fits on paper.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from fractions import Fraction

POINT = Fraction(254, 720)  # mm
LINE = Fraction(6, 5)  # of the type size, from line to line
NARROW, SMALL, LARGE, BROAD, UNKNOWN = (Fraction(n, 20) for n in (11, 15, 18, 26, 30))


def width(letter: str) -> Fraction:
    """Of one character, as a share of the type size."""
    if letter in " iIjlt|.,:;'!()[]":
        return NARROW
    if letter in "mwMW%@":
        return BROAD
    if letter.isascii():
        return SMALL if letter.islower() or letter.isdigit() else LARGE
    return UNKNOWN if unicodedata.east_asian_width(letter) in "WF" or not letter.isalpha() else BROAD


def lines(text: str, room: Fraction) -> int:
    """On how many lines a text stands at most, `room` type sizes wide; a word that is longer is broken anywhere."""
    count, used = 1, Fraction(0)
    for word in text.split():
        wide = sum(map(width, word), Fraction(0))
        gap = width(" ") if used else Fraction(0)
        if used + gap + wide <= room:
            used += gap + wide
            continue
        if used:
            count, used = count + 1, Fraction(0)
        for letter in word:
            if used and used + width(letter) > room:
                count, used = count + 1, Fraction(0)
            used += width(letter)
    return count


def height(texts: Iterable[tuple[str, Fraction]], size: Fraction, wide: Fraction) -> Fraction:
    """How high paragraphs stand in mm, each of them so many times `size` points large, on lines `wide` mm long."""
    return sum((lines(text, wide / (scale * size * POINT)) * scale * size * POINT * LINE for text, scale in texts),
               Fraction(0))
