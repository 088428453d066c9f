"""How the takeoff writes a length in a sentence."""

from __future__ import annotations

import math
from fractions import Fraction

from cutplan.lengths import FINEST_MARK, exact_decimal, nearest, written

IN_DECIMALS = 1_000  # what a person writes in decimals is a whole number of so many parts


def say(length: Fraction, unit: str) -> str:
    """The length exactly, with its unit: in the fraction of a tape, else in decimals, if it has either."""
    on_a_tape = unit == "mm" or FINEST_MARK % length.denominator == 0 or IN_DECIMALS % length.denominator
    return f"{written(length, unit) if on_a_tape else exact_decimal(length)} {unit}"


def say_near(length: Fraction, unit: str, tape: Fraction) -> str:
    """As `say` where a person could have written it so; else, after "~", at the nearest mark of the tape."""
    return said(length, nearest(length, tape), unit)


def say_up(length: Fraction, unit: str, tape: Fraction) -> str:
    """As `say_near`, but rounded up: what would be right must not be rounded to what is still wrong."""
    return said(length, math.ceil(length / tape) * tape, unit)


def say_down(length: Fraction, unit: str, tape: Fraction) -> str:
    """As `say_near`, but rounded down, for the same reason."""
    return said(length, math.floor(length / tape) * tape, unit)


def said(length: Fraction, reading: Fraction, unit: str) -> str:
    readable = FINEST_MARK % length.denominator == 0 or IN_DECIMALS % length.denominator == 0
    return say(length, unit) if readable else f"~{say(reading, unit)}"
