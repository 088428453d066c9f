"""A profile with holes, read in the shop's own lengths."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.cutting.arrangement.holes.members import HOLE, SPACE, Aligned, OnHoles
from cutplan.cutting.arrangement.holes.placing import End, Holes, rail
from cutplan.cutting.arrangement.plain import refuse_angled
from cutplan.cutting.arrangement.protocol import Arrangement, Asked
from cutplan.cutting.patterns import StickType
from cutplan.lengths import exact_decimal
from cutplan.orders import EITHER, Piece
from cutplan.problems import Problem
from cutplan.shop import Profile, Routing, Stock

ON = {HOLE: "a hole", SPACE: "a space", EITHER: "a hole or a space"}


@dataclass(frozen=True)
class RoutedProfile:
    """A profile whose pieces have their middle on a hole, or midway between two."""

    profile: Profile
    routing: Routing

    def refuses(self, piece: Piece) -> Iterator[Problem]:
        """Rails too short to have a hole of their own."""
        least = self.routing.pitch - self.profile.kerf
        if piece.length <= least:
            yield Problem(piece.file, piece.line, "length", f"{exact_decimal(piece.length)} is shorter than the holes "
                          f"of {self.profile.name} are apart; more than {exact_decimal(least)} is needed")
        yield from refuse_angled(piece, self.profile, "routed rails")

    def asks(self, piece: Piece) -> str:
        """What its middle must fall on."""
        return piece.centred or EITHER

    def told(self, entry: Stock) -> dict[str, Fraction]:
        """How far the first hole is from the stick's end."""
        return {"first": self._first(entry)}

    def _first(self, entry: Stock) -> Fraction:
        return self.routing.first if entry.first is None else entry.first

    def takes(self, asked: Asked) -> Fraction:
        return asked[0]

    def reaches(self, asked: Asked) -> Fraction:
        return asked[0]

    def called(self, asked: Asked) -> str:
        return exact_decimal(asked[0])

    def steps(self, asked: Sequence[Asked], stock: Sequence[Stock]) -> list[Fraction]:
        """Half of all that a rail's middle is reckoned from."""
        lengths = [length for length, *_ in asked]
        return [value / 2 for value in (*lengths, self.profile.kerf, self.routing.pitch, *map(self._first, stock))]

    def ends(self, entry: Stock, unit: Fraction) -> tuple[End, ...]:
        """The ends that a stick can be squared at first; one where it reads the same both ways.

        No rail reaches into a plain end further than where the next hole would be.
        """
        length, pitch, first = entry.length, self.routing.pitch, self._first(entry)
        head, tail = self.profile.trims(entry)
        if first > length:
            return ()
        last = length - (length - first) % pitch
        room = length - head - tail + self.profile.kerf
        plain = max(Fraction(0), first - pitch)
        found = (
            (first, max(plain, head), room),
            (length - last, head, min(room, length - plain - head + self.profile.kerf)),
        )
        made = [End(int((hole - head) / unit), int((least - head) / unit), int(most / unit), turned)
                for (hole, least, most), turned in zip(found, (False, True), strict=True)]
        one = not self.profile.either_end_first(entry) or made[0] == replace(made[1], turned=False)
        return tuple(made[:1] if one else made)

    def arrange(self, asked: Sequence[Asked], sizes: tuple[int, ...], kerf: int, unit: Fraction,
                sticks: Sequence[StickType]) -> Arrangement:
        pitch = int(self.routing.pitch / unit)
        holes = Holes(pitch, kerf, tuple(
            tuple(rail(i, size // 2, pitch, on_space)
                  for on_space, word in ((False, HOLE), (True, SPACE)) if centred in (word, EITHER))
            for i, (size, (_, centred, _)) in enumerate(zip(sizes, asked, strict=True))))
        if holes.idle(sticks):
            return Aligned(sizes, kerf, holes)
        return OnHoles(sizes, tuple(centred for _, centred, _ in asked), holes)

    def no_room(self, asked: Sequence[Asked]) -> str:
        return ", ".join(f"{exact_decimal(length)} centred on {ON[centred]}" for length, centred, _ in asked) \
            + ": no stick here has room for it where its holes fall right"
