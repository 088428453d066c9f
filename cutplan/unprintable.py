"""Characters that no sheet can print, such as one that steers a terminal: a name with one is taken for another."""

from __future__ import annotations

import unicodedata

from cutplan.lengths import quoted


def printable(text: str) -> bool:
    """Whether every character of it shows as something, be it as a space."""
    return text.isprintable() or unprintable_at(text) is None


def unprintable_at(text: str) -> int | None:
    """Where the first character is that cannot be printed, counted from 0; None where there is none."""
    return next((place for place, letter in enumerate(text)
                 if not letter.isprintable() and unicodedata.category(letter) != "Zs"), None)


def where(text: str) -> str:
    """Which character of a text cannot be printed, and where it hides."""
    place = unprintable_at(text)
    assert place is not None, "asked only of a text that has one"
    return f"U+{ord(text[place]):04X}, " + (f"after {quoted(text[:place][-20:])}" if place else "at its beginning")
