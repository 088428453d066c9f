"""What pieces with angled ends take of one stick beside their own length: exact, over every order and way of lying.

A cut line has a slope: how far its bottom corner lies after its top corner. A piece joins the slope of its left end to
that of its right one, and it is counted by its length halfway up the face, which no turning changes. Between a right
end of slope s and the left end of slope t after it, halfway up,

    kerf(max(|s|, |t|)) + |s - t| / 2

are lost: the narrower edge has just the kerf along the steeper of the two. A stick begins and ends square, and the
first and last end lose half their slope. So what is lost depends on the pieces only through their shapes (what their
ends are set in), and on how many there are of each: a program over these numbers and the last slope is exact (Held and
Karp, 1962). README.md says why, and why no shorter formula is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product

ShapeCounts = tuple[int, ...]  # how many pieces of each shape


@dataclass(frozen=True)
class Pose:
    """One way of lying, and the slopes of the two cut lines then, in units."""

    lies: str
    left: int
    right: int


@dataclass(frozen=True)
class Lost:
    """What pieces take of a stick beyond its squared end and beside their middle lengths, in units.

    end: up to the further corner of the last piece;  cut: with the kerf of its cut
    """

    end: int
    cut: int


@dataclass(frozen=True)
class Nesting:
    """The shapes of an instance, each with its ways of lying; and the kerf along each slope, by its size."""

    shapes: tuple[tuple[Pose, ...], ...]
    kerfs: dict[int, int]
    _reached: dict[ShapeCounts, dict[int, int]] = field(default_factory=dict, compare=False, repr=False)

    def between(self, right: int, left: int) -> int:
        """What is lost between a right end and the left end after it."""
        return self.kerfs[max(abs(right), abs(left))] + abs(right - left) // 2

    def lost(self, counts: ShapeCounts) -> Lost:
        """The least of each, by orders of their own."""
        reached = self._ends(counts).items()
        return Lost(min(lost + abs(s) // 2 for s, lost in reached),
                    min(lost + abs(s) // 2 + self.kerfs[abs(s)] for s, lost in reached))

    def order(self, counts: ShapeCounts, with_cut: bool) -> list[tuple[int, Pose]]:
        """The shapes in an order that loses the least, and how each lies; of the last cut, if wanted, the kerf too."""
        reached = self._ends(counts)
        slope = min(reached, key=lambda s: (reached[s] + abs(s) // 2 + with_cut * self.kerfs[abs(s)], abs(s), s))
        found: list[tuple[int, Pose]] = []
        while any(counts):
            shape, way, before, slope = self._last(counts, slope)
            found.append((shape, way))
            counts = before
        return found[::-1]

    def _last(self, counts: ShapeCounts, slope: int) -> tuple[int, Pose, ShapeCounts, int]:
        """A last piece that leaves this slope with the least lost: its shape and way, what is before it, and the slope
        there."""
        target = self._ends(counts)[slope]
        for shape, way, before in self._each(counts):
            if way.right != slope:
                continue
            if not any(before) and abs(way.left) // 2 == target:
                return shape, way, before, 0
            for s, lost in self._ends(before).items() if any(before) else ():
                if lost + self.between(s, way.left) == target:
                    return shape, way, before, s
        raise AssertionError("the least that is lost was reached in some way")

    def _each(self, counts: ShapeCounts) -> Iterator[tuple[int, Pose, ShapeCounts]]:
        for shape, n in enumerate(counts):
            if n:
                before = (*counts[:shape], n - 1, *counts[shape + 1:])
                for way in self.shapes[shape]:
                    yield shape, way, before

    def _ends(self, counts: ShapeCounts) -> dict[int, int]:
        """For each slope that the last piece may leave, the least that is lost before its end, halfway up."""
        if counts not in self._reached:
            for fewer in product(*(range(n + 1) for n in counts)):
                if any(fewer) and fewer not in self._reached:
                    self._reached[fewer] = self._extended(fewer)
        return self._reached[counts]

    def _extended(self, counts: ShapeCounts) -> dict[int, int]:
        found: dict[int, int] = {}
        for _, way, before in self._each(counts):
            least = (min(lost + self.between(s, way.left) for s, lost in self._reached[before].items())
                     if any(before) else abs(way.left) // 2)
            found[way.right] = min(least, found.get(way.right, least))
        return found
