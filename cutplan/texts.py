"""Text from files and searches, made fit to be printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    pass


def printable(text: str) -> str:
    """The text without characters that would steer a terminal."""
    return "".join(letter if letter.isprintable() or letter == "\n" else "?" for letter in text)


def plain(text: str) -> str:
    """A name from a file, on one line and without characters that would steer a terminal."""
    return "".join(letter if letter.isprintable() else "?" for letter in " ".join(text.split()))
