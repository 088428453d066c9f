"""Text from files, made fit to be printed; and characters that no sheet can print, as those that steer a terminal."""

from __future__ import annotations

import unicodedata

from cutplan.lengths import quoted


def printable(text: str) -> str:
    """The text without characters that would steer a terminal."""
    return "".join(letter if letter.isprintable() or letter == "\n" else "?" for letter in text)


def plain(text: str) -> str:
    """A name from a file, on one line and without characters that would steer a terminal."""
    line = " ".join(text.split())
    return line if line.isprintable() else "".join(letter if letter.isprintable() else "?" for letter in line)


def can_be_printed(text: str) -> bool:
    """Whether every character of it shows as something, be it as a space."""
    return text.isprintable() or unprintable_at(text) is None


def unprintable_at(text: str) -> int | None:
    """Where the first character is that cannot be printed, counted from 0; None where there is none."""
    return next((place for place, letter in enumerate(text)
                 if not letter.isprintable() and unicodedata.category(letter) != "Zs"), None)


def where_unprintable(text: str) -> str:
    """Which character of a text cannot be printed, and where it hides."""
    place = unprintable_at(text)
    assert place is not None, "asked only of a text that has one"
    return f"U+{ord(text[place]):04X}, " + (f"after {quoted(text[:place][-20:])}" if place else "at its beginning")
