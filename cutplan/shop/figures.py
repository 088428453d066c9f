"""Figures of a shop file that are neither lengths nor money: expansion, temperatures, weights."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal, quoted, read_length, read_number

KG = {"kg": Fraction(1), "lb": Fraction(45359237, 10**8)}  # 1 lb = 0.453 592 37 kg exactly (NIST SP 811)
WEIGHT_UNITS = {"in": "lb", "mm": "kg"}  # what weights are told in, by the shop's unit of length
HOTTEST, COLDEST = 300, -150  # degrees either way that no gate is cut or used at: a slip of the keyboard
HEAVIEST, HEAVIEST_METRE = Fraction(10_000), Fraction(1_000)  # kg of a leaf, and of a metre of a profile: no gate's
MOST_EXPANSION = Fraction(1, 1000)  # a degree; plastics come to a tenth of it

# of few digits each: a power of ten that is out of all reason would take for ever
SIGNED = r"(-?[0-9]{1,6}(?:\.[0-9]{1,6})?)"
EXPANSION = re.compile(r"([0-9.]{1,20}(?:[eE][-+]?[0-9]{1,2})?)\s*(?:per|/)\s*(?:deg\s*|°\s*)?([FC])")
RANGE = re.compile(rf"{SIGNED}(?:\s*\.\.\s*{SIGNED})?\s*(?:deg\s*|°\s*)?([FC])")
WEIGHT = re.compile(r"(.+?)\s*(lb|kg)")
RATE = re.compile(r"(.+?)\s*(lb|kg)\s*/\s*(ft|in|m|mm)")


@dataclass(frozen=True)
class Expansion:
    """How much a length grows, as a share of it, for each degree of "F" or "C"."""

    share: Fraction
    degree: str

    def per(self, degree: str) -> Fraction:
        """The same for a degree of the other scale: 9 degrees F are 5 degrees C."""
        factors = {("F", "C"): Fraction(9, 5), ("C", "F"): Fraction(5, 9)}
        return self.share * factors.get((self.degree, degree), Fraction(1))


@dataclass(frozen=True)
class Degrees:
    """The lowest and highest of a range of temperatures, in degrees of "F" or "C"."""

    low: Fraction
    high: Fraction
    degree: str

    def to(self, degree: str) -> Degrees:
        if degree == self.degree:
            return self
        if degree == "C":
            return Degrees((self.low - 32) * Fraction(5, 9), (self.high - 32) * Fraction(5, 9), "C")
        return Degrees(self.low * Fraction(9, 5) + 32, self.high * Fraction(9, 5) + 32, "F")


def read_expansion(text: str) -> Expansion:
    match = EXPANSION.fullmatch(text.strip())
    try:
        share = Fraction(match[1]) if match else None
    except (ValueError, ZeroDivisionError):
        share = None
    if match is None or share is None:
        raise ValueError(f'{quoted(text)} is no expansion; write it for one degree, such as "3.38e-5 per F"')
    if not 0 < share <= MOST_EXPANSION:
        raise ValueError(f"{quoted(text)} is not what a profile does; check the number, its maker says it")
    return Expansion(share, match[2])


def read_degrees(text: str) -> Degrees:
    match = RANGE.fullmatch(text.strip())
    if match is None:
        raise ValueError(f'{quoted(text)} is no range of temperatures; write it with its scale, such as "40..90 F"')
    low, high = Fraction(match[1]), Fraction(match[2] or match[1])
    if low > high:
        raise ValueError(f"{quoted(text)} goes from high to low; write the lower one first")
    if low < COLDEST or high > HOTTEST:
        raise ValueError(f"{quoted(text)} is no weather; check the numbers and the scale")
    return Degrees(low, high, match[3])


def read_weight(text: str) -> Fraction:
    """A weight in kilograms."""
    match = WEIGHT.fullmatch(text.strip())
    if match is None:
        raise ValueError(f'{quoted(text)} is no weight; write it with its unit, such as "120 lb" or "55 kg"')
    return weighed(read_number(match[1]) * KG[match[2]], HEAVIEST, text)


def read_weight_per_length(text: str, unit: str) -> Fraction:
    """Kilograms for one unit of length of the file."""
    match = RATE.fullmatch(text.strip())
    if match is None:
        raise ValueError(f'{quoted(text)} is no weight of a length; write it with units, such as "0.85 lb/ft"')
    metre = read_length("1 m", unit)
    each = read_number(match[1]) * KG[match[2]] / read_length(f"1 {match[3]}", unit)
    return weighed(each, HEAVIEST_METRE / metre, text)


def weighed(value: Fraction, most: Fraction, text: str) -> Fraction:
    if value <= 0:
        raise ValueError(f"{quoted(text)} is not more than zero; write what the scales say, or leave it out")
    if value > most:
        raise ValueError(f"{quoted(text)} is more than anything here weighs; check the number and its unit")
    return value


def weight_text(kg: Fraction, unit: str, whole: bool = True) -> str:
    """A weight to the nearest tenth of a pound or kilogram, by the shop's unit of length, after "~" where that rounds
    it; where it is not the `whole` of it, rounded down, so that "at least" stays true."""
    scale = WEIGHT_UNITS[unit]
    exact = 10 * kg / KG[scale]
    tenths = math.floor(exact + Fraction(1, 2)) if whole else math.floor(exact)
    return f"{'~' if whole and tenths != exact else ''}{exact_decimal(Fraction(tenths, 10))} {scale}"
