"""What the allowances make of an opening, for gates and bays alike."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Frame:
    """The lengths that follow from an opening and the allowances, in the file's unit; some may be negative.

    `width` is that of the rectangle squared by its diagonals. Uprights and hinges are None where there are
    none; a hinge also where the face of its rail is not known.
    """

    rail: Fraction
    rail_insertion: Fraction
    width: Fraction
    picket: Fraction
    upright: Fraction | None = None
    top_hinge: Fraction | None = None
    bottom_hinge: Fraction | None = None

    @property
    def clear(self) -> Fraction:
        """The clear width, where pickets show."""
        return self.rail - 2 * self.rail_insertion
