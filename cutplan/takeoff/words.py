"""How the takeoff writes a length in a sentence."""

from __future__ import annotations

from fractions import Fraction

from cutplan.lengths import written


def say(length: Fraction, unit: str) -> str:
    """The length exactly, with its unit: what would be right must not be rounded to what is still wrong."""
    return f"{written(length, unit)} {unit}"
