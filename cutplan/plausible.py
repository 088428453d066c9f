"""What no shop can mean: a figure beyond these is a slip of the keyboard, so it is asked about and not reckoned with.

The limits are wide on purpose: what is only unusual is nobody's business. All are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

LONGEST = {"in": Fraction(12_000), "mm": Fraction(300_000)}  # 1,000 ft, 300 m: longer than any building's side
LONGEST_SAID = {"in": "1,000 ft", "mm": "300 m"}
DECIMALS = 8  # of a length, a price or a number: 1/256 in has so many
MOST_MONEY = 10**7  # for one stick, or one unit of length
MOST_WHOLE = 10**9  # of anything that is counted
MOST_PIECES = 100_000  # gates, bays or pieces on one line
MOST_TOGETHER = 10**6  # pieces that are cut together
NARROWEST = {"in": Fraction(1, 8), "mm": Fraction(3)}  # a picket, or the pitch of holes
MOST_LEAN = Fraction(1, 10)  # of its height: what a post may stand out of plumb before it is a slip of the tape
STEEPEST = 4  # rise of a stair or a slope, or of an end over the face, for each unit of its run: 76 degrees
MOST_LIFTED = 200  # sticks under the saw at once
LONGEST_DONE = {"minutes": Fraction(24 * 60), "seconds": Fraction(24 * 3600)}  # a day, for one thing at the saw
MOST_STEPS = 10**15  # of the finest step that a profile's lengths have in common, in all its pieces together


def length(value: Fraction, unit: str, text: str) -> Fraction:
    """A length that can be meant. ValueError for another; `text` is what was written, in quotes."""
    if value > LONGEST[unit]:
        raise ValueError(f"{text} is more than {LONGEST_SAID[unit]}; check the number and its unit")
    return value


def decimals(digits: str, text: str) -> None:
    """ValueError for a decimal that is finer than anything measured or paid."""
    places = len(digits.partition(".")[2].rstrip("0"))
    if places > DECIMALS:
        raise ValueError(f"{text} has {places} decimals; round it to at most {DECIMALS}")


def money(value: Fraction, text: str) -> Fraction:
    """A price that can be meant. ValueError for another."""
    if value > MOST_MONEY:
        raise ValueError(f"{text} is more than {MOST_MONEY:,}; check the number and the place of its point")
    return value


def lifted(value: int, text: str) -> int:
    """A number of sticks that are cut together. ValueError for another."""
    if value > MOST_LIFTED:
        raise ValueError(f"{text} sticks are more than a saw takes at once; check the number")
    return value


def duration(value: Fraction, unit: str, text: str) -> Fraction:
    """A time in minutes or seconds that one thing at the saw can take. ValueError for another."""
    if value > LONGEST_DONE[unit]:
        raise ValueError(f"{text} {unit} is more than a day; check the number and its unit")
    return value


def whole(value: int, most: int, text: str) -> int:
    """A number of things that can be meant. ValueError for another."""
    if value > most:
        raise ValueError(f"{text} is more than {most:,}; check the number, or share it out over several lines")
    return value


def width(value: Fraction, unit: str) -> str | None:
    """What is wrong with a picket's width or with a pitch; None where it can be meant."""
    least = NARROWEST[unit]
    return None if value >= least else f"is less than {least} {unit}; check the number and its unit"
