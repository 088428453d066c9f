"""Rails with holes already in them: where each can be cut, and what rails take together.

A rail's middle must fall on a hole, or midway between two. Let v number the holes from the end of the stick that is
squared first, and let a rail on a space be numbered by the hole before its middle. A rail whose reach to the right
of that hole is r (half its length, half the kerf, and on a space half the pitch p) has r = A p + b with 0 < b <= p,
and reaches l = (A - s) p + b to the left, s = 1 on a space and 0 on a hole. So after rail i at hole v the next rail,
j, can be at

    v + A_i + (A_j - s_j) + 1  where b_i + b_j <= p,  else one hole further.

What a rail costs depends on its neighbours only through b. The two ends of the stick are neighbours of this kind too.
"b_i + b_j <= p" is a threshold graph: put in order of |b - p/2|, each rail is beside all before it (b small) or none
(b large), so that the fewest paths that cover them all, c, follow one by one: c - 1 after a small one (but never less
than 1), c + 1 after a large one (Corneil, Lerchs and Stewart Burlingham, Discrete Appl. Math. 3 (1981) 163-174, on
cographs; here with both ends of the path given). Any rails thus take sum (2 A - s + 1) + c - 1 whole pitches in their
best order, and the best pattern is a knapsack over (pitches, c) in which each rail is cut as often as it is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cutplan.cutting.patterns import Counts, StickType


@dataclass(frozen=True)
class End:
    """An end that a stick can be squared at first. Lengths from where that trim ends, in units.

    first: the first hole (negative where the trim takes it);  least: where the first rail may begin
    most:  where the last must end, kerf included;  turned: it is the stick's other end
    """

    first: int
    least: int
    most: int
    turned: bool = False


@dataclass(frozen=True)
class Rail:
    """One way of cutting size `size`: on a space or a hole, A = `whole` and b = `part` as above."""

    size: int
    on_space: bool
    whole: int
    part: int

    @property
    def before(self) -> int:
        """Whole pitches to the left: A - s."""
        return self.whole - self.on_space


@dataclass(frozen=True)
class Shortest:
    """The shortest order of some rails from one end: the fill, and each rail with the number of its hole."""

    fill: int
    end: End
    rails: tuple[tuple[Rail, int], ...]


@dataclass(frozen=True)
class Holes:
    """The holes of one profile: pitch and kerf in units (both even), and for each size the ways it may be cut."""

    pitch: int
    kerf: int
    rails: tuple[tuple[Rail, ...], ...]
    _placed: dict[tuple[tuple[End, ...], Counts], Shortest | None] = field(
        default_factory=dict, compare=False, repr=False)

    def idle(self, sticks: Sequence[StickType]) -> bool:
        """Whether the holes never cost anything: every rail can follow every other with no more than a kerf between,
        and from one end at least they can lie wherever the trims allow it."""
        return all(any(rail.part == self.pitch for rail in ways) for ways in self.rails) and all(
            any(end.least == 0 and end.most == stick.capacity for end in stick.ends)
            and all((end.least - end.first - self.kerf // 2) % self.pitch == 0 for end in stick.ends)
            for stick in sticks)

    def first_hole(self, end: End, rail: Rail) -> int:
        """The first hole that a rail can be at."""
        reach = rail.before * self.pitch + rail.part
        return -((end.first - end.least - reach + self.kerf // 2) // self.pitch)

    def fill(self, end: End, rail: Rail, hole: int) -> int:
        """How far the stick is used once this rail is cut off, its kerf included."""
        return end.first + (hole + rail.whole) * self.pitch + rail.part + self.kerf // 2

    def step(self, one: Rail, other: Rail) -> int:
        """How many holes further than `one` the rail after it can be."""
        return one.whole + other.before + (1 if one.part + other.part <= self.pitch else 2)

    def place(self, ends: tuple[End, ...], counts: Counts) -> Shortest | None:
        """The order and end by which these pieces take the least of a stick; None where they do not fit."""
        key = ends, counts
        if key not in self._placed:
            found = [placed for end in ends if (placed := self._shortest(end, counts)) is not None]
            self._placed[key] = min(found, key=lambda placed: placed.fill, default=None)
        return self._placed[key]

    def _shortest(self, end: End, counts: Counts) -> Shortest | None:
        """By dynamic programming over what is left and what was cut last (Held and Karp, 1962)."""
        sizes, all_left = [i for i, _ in counts], tuple(a for _, a in counts)
        reached: dict[tuple[tuple[int, ...], Rail | None], tuple[int, tuple[tuple[Rail, int], ...]]]
        reached = {(all_left, None): (0, ())}
        for _ in range(sum(all_left)):
            further: dict[tuple[tuple[int, ...], Rail | None], tuple[int, tuple[tuple[Rail, int], ...]]] = {}
            for (left, last), (hole, order) in reached.items():
                for k, n in enumerate(left):
                    rest = (*left[:k], n - 1, *left[k + 1:])
                    for rail in self.rails[sizes[k]] if n else ():
                        at = self.first_hole(end, rail) if last is None else hole + self.step(last, rail)
                        if self.fill(end, rail, at) <= end.most:
                            known = further.get((rest, rail))
                            if known is None or at < known[0]:
                                further[rest, rail] = at, (*order, (rail, at))
            reached = further
        orders = [order for _, order in reached.values()]
        best = min(orders, key=lambda order: self.fill(end, *order[-1]), default=None)
        return None if best is None else Shortest(self.fill(end, *best[-1]), end, best)


def rail(size: int, reach: int, pitch: int, on_space: bool) -> Rail:
    """Size `size` cut one way; `reach` is half its length and half a kerf."""
    right = reach + pitch // 2 * on_space
    whole = -(-right // pitch) - 1
    return Rail(size, on_space, whole, right - whole * pitch)
