"""The step that exact numbers have in common, and the sums that some whole numbers make."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]  # whole numbers side by side: what they are summed up to stays below 2^63


def granule(values: Iterable[Fraction]) -> Fraction:
    """The largest rational of which every value is a whole multiple; 1 where all are zero."""
    values = list(values)
    denominator = math.lcm(*(value.denominator for value in values))
    numerator = math.gcd(*(int(value * denominator) for value in values))
    return Fraction(numerator, denominator) if numerator else Fraction(1)


def halves(most: int) -> Iterator[int]:
    """1, 2, 4, ... and the rest: together they make every number up to `most`."""
    part = 1
    while most > 0:
        yield min(part, most)
        most -= part
        part *= 2


def sums_of(ranges: Iterable[tuple[int, int]], room: int) -> int:
    """The sums up to `room` of some costs, each taken at most so often (cost, most): the bits of one integer."""
    sums, within = 1, (1 << (room + 1)) - 1
    for cost, most in ranges:
        for part in halves(min(most, room // cost)):
            sums |= (sums << (part * cost)) & within
    return sums


def least_sum(sums: int, floor: int) -> int | None:
    """The least of these sums that is at least `floor`; None where there is none."""
    above = sums >> floor
    return floor + (above & -above).bit_length() - 1 if above else None
