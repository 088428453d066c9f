"""An opening as an assembly of placed parts. Whatever a card, a piece or a drawing says is read off their outlines.

x runs to the right from the left post's face, at the top of the opening; y up from the finished ground, at its highest
under a gate, at the left post's face where it rises with a rake. Lengths in the file's unit, all of them exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import nearest_root

Corner = tuple[Fraction, Fraction]
Outline = tuple[Corner, ...]

ONCE = (Fraction(0),)
GRAIN = 1024  # parts of the unit to which an edge is drawn that is irrational


@dataclass(frozen=True)
class Part:
    """Like parts of one leaf or bay, each as the first but for its shift to the right, and up by so much of its `rake`.

    `part` is what it is: "top rail", "mid rail", "bottom rail", "picket", "upright", "insert" or "brace". `length` is
    the piece that is cut for each. `leaf` is counted from the left, 0 in a bay. `place` tells parts of one name apart:
    the rail an insert lies in, the row a picket stands in where there are more, or which post. `sized`: whether the
    shop file says how high it is as seen; else its outline is drawn by guess. `rake` is that of the ground under it.
    `left_in`, `right_in`: what its ends are set in (see cutplan.ends). `rounded`: its length stands for one that is on
    no tape.
    """

    part: str
    profile: str
    length: Fraction
    outline: Outline
    leaf: int = 0
    place: str = ""
    shifts: tuple[Fraction, ...] = ONCE
    sized: bool = True
    rake: Fraction = Fraction(0)
    left_in: Fraction = Fraction(0)
    right_in: Fraction = Fraction(0)
    rounded: bool = False

    @property
    def called(self) -> str:
        """Its name, with its place where that tells it apart: "lower picket", "top rail insert"."""
        return f"{self.place} {self.part}".strip()

    @property
    def count(self) -> int:
        return len(self.shifts)

    @property
    def left(self) -> Fraction:
        return min(x for x, _ in self.outline)

    @property
    def right(self) -> Fraction:
        """Of the first of them."""
        return max(x for x, _ in self.outline)

    @property
    def low(self) -> Fraction:
        """Its lower edge, from the ground straight below, which is level but for a rake."""
        return min(y for _, y in raked(self.outline, -self.rake))

    @property
    def high(self) -> Fraction:
        return max(y for _, y in raked(self.outline, -self.rake))

    def outlines(self) -> Iterator[Outline]:
        """Each of them as it is placed."""
        for shift in self.shifts:
            up = self.rake * shift if self.rake else 0
            yield tuple((x + shift, y + up) for x, y in self.outline)


def box(left: Fraction, low: Fraction, right: Fraction, high: Fraction) -> Outline:
    """A rectangle, from its lower left corner against the clock."""
    return (left, low), (right, low), (right, high), (left, high)


def raked(outline: Outline, rake: Fraction) -> Outline:
    """The same over ground that rises with a rake: what is plumb stays so."""
    return tuple((x, y + rake * x) for x, y in outline) if rake else outline


def along(level: Fraction, rake: Fraction, tape: Fraction) -> Fraction:
    """A level length along a rake, level x sqrt(1 + rake^2), to the nearest mark of the tape; without one as it is."""
    return nearest_root(level**2 * (1 + rake**2), tape) if rake else level


def of_kind(parts: Sequence[Part], *names: str, leaf: int | None = None) -> list[Part]:
    """The parts of these names, of one leaf or of all (None), in the order in which they are placed."""
    return [one for one in parts if one.part in names and leaf in (None, one.leaf)]


def diagonals_squared(outline: Outline) -> tuple[Fraction, Fraction]:
    """The squares of a four-cornered outline's two diagonals; equal where it is square or an even trapezium."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = outline
    return (cx - ax) ** 2 + (cy - ay) ** 2, (dx - bx) ** 2 + (dy - by) ** 2
