"""What the allowances make of an opening, for gates and bays alike."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Dimensions:
    """The lengths that follow from an opening and the allowances, in the file's unit; some may be negative.

    Each end of a rail has `rail_insertion` of room in its upright or post, and hides by `hidden` in it. `width` x
    `panel_height` is the rectangle squared by its diagonals. Uprights and hinges are None where there are none; a hinge
    also where the face of its rail is not known.
    """

    rail: Fraction
    rail_insertion: Fraction
    hidden: Fraction
    width: Fraction
    panel_height: Fraction
    picket: Fraction
    upright: Fraction | None = None
    top_hinge: Fraction | None = None
    bottom_hinge: Fraction | None = None

    @property
    def clear(self) -> Fraction:
        """The clear width, where pickets show."""
        return self.rail - 2 * self.hidden
