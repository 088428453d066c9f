"""A profile with a face, of which pieces may have angled ends, read in the shop's own lengths."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.cutting.arrangement.angles.members import Angled
from cutplan.cutting.arrangement.angles.nesting import Nesting, Pose
from cutplan.cutting.arrangement.plain import PlainProfile, plain
from cutplan.cutting.arrangement.protocol import Arrangement, Asked
from cutplan.cutting.patterns import StickType
from cutplan.ends import SQUARE, ends_in, lies_of
from cutplan.lengths import exact_decimal
from cutplan.orders import Piece
from cutplan.plans.records import AS_IS, BOTH, END_FOR_END, OVER
from cutplan.problems import Problem
from cutplan.shop import Angles, Stock

MAY = {"none": (AS_IS,), "ends": (AS_IS, END_FOR_END), "over": (AS_IS, OVER), "both": (AS_IS, END_FOR_END, OVER, BOTH)}


@dataclass(frozen=True)
class AngledProfile(PlainProfile):
    """As a plain profile, but that the ends of its pieces may be angled. Where none is, it is cut as a plain one."""

    angles: Angles

    def refuses(self, piece: Piece) -> Iterator[Problem]:
        if not piece.left_in and not piece.right_in:
            yield from super().refuses(piece)
        elif piece.bottom <= 0:
            yield Problem(piece.file, piece.line, "left_in", f"the ends take all of {exact_decimal(piece.length)} and "
                          "leave no bottom edge; check the length and both ends")

    def asks(self, piece: Piece) -> str:
        return lies_of("", piece.left_in, piece.right_in)

    def takes(self, asked: Asked) -> Fraction:
        """The length halfway up the face."""
        left_in, right_in = ends_in(asked[1])
        return asked[0] - (left_in + right_in) / 2

    def reaches(self, asked: Asked) -> Fraction:
        """From corner to corner, however it lies."""
        left_in, right_in = ends_in(asked[1])
        return asked[0] + max(-left_in, SQUARE[0]) + max(-right_in, SQUARE[1])

    def called(self, asked: Asked) -> str:
        """With the edge that is longer than the top one, or how far its corners lie apart."""
        length, reach, (left_in, right_in) = asked[0], self.reaches(asked), ends_in(asked[1])
        if reach == length:
            return super().called(asked)
        return f"{exact_decimal(length)} ({exact_decimal(reach)} " \
               f"{'along its bottom edge' if reach == length - left_in - right_in else 'from corner to corner'})"

    def steps(self, asked: Sequence[Asked], stock: Sequence[Stock]) -> list[Fraction]:
        """Half of each set-in, and of the kerfs along them."""
        set_in = sizes_of([lies for _, lies, _ in asked])
        return [part / 2 for size in set_in if size for part in (size, self.kerf_along(size))]

    def kerf_along(self, set_in: Fraction) -> Fraction:
        return self.angles.kerf_along(self.profile.kerf, set_in)

    def arrange(self, asked: Sequence[Asked], sizes: tuple[int, ...], kerf: int, unit: Fraction,
                sticks: Sequence[StickType]) -> Arrangement:
        alike = list(dict.fromkeys(ends_in(lies) for _, lies, _ in asked))
        if alike == [SQUARE]:
            return plain(sizes, kerf, sticks)
        set_in = sizes_of([lies for _, lies, _ in asked])
        kerfs = {int(size / unit): int(self.kerf_along(size) / unit) for size in set_in}
        shapes = tuple(self._ways(*(int(set_in / unit) for set_in in ends)) for ends in alike)
        return Angled(sizes, kerf, tuple(alike.index(ends_in(lies)) for _, lies, _ in asked),
                      Nesting(shapes, kerfs), max(stick.capacity for stick in sticks), unit)

    def _ways(self, left_in: int, right_in: int) -> tuple[Pose, ...]:
        """How such a piece may lie; of ways that look the same, the first."""
        if not left_in and not right_in:
            return (Pose("", 0, 0),)
        found: dict[tuple[int, int], Pose] = {}
        for lies in MAY[self.angles.may_turn]:
            left, right = (right_in, left_in) if lies in (END_FOR_END, BOTH) else (left_in, right_in)
            left, right = (-left, -right) if lies in (OVER, BOTH) else (left, right)
            found.setdefault((left, right), Pose(lies, left, -right))
        return tuple(found.values())


def sizes_of(lies: Sequence[str]) -> list[Fraction]:
    """How far any end is set in or reaches beyond, and a square one."""
    return sorted({Fraction(0), *(abs(set_in) for one in lies for set_in in ends_in(one))})
