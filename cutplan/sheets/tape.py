"""A stick as it is marked at the saw. Every sheet reads its marks here, so that there is one zero.

One end is squared: that is 0. The tape hooks on it, the first piece is marked at its own length and cut; the tape hooks
on the new end for the next. Running marks count from 0, kerfs included. Holes are counted along each piece: hole 1 is
the first whose centre is on it.

Where ends are angled, a stick lies with the drawing's upper edge away from the hand: that is its far edge, which
`start` and `end` count along, and the other the near one. If a piece does not begin at the slope that the cut before
it left, the new end is cut again first.

A figure off the tape is read at the nearest mark. On a stick with holes what is cut off before a rail makes up for what
the figures before it gained or lost, so that no rail begins further than half a division from its place.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import repeat

from cutplan.lengths import nearest
from cutplan.plans.records import Cut, ProfilePlan, Stick
from cutplan.shop import Angles, Routing

NOTHING = Fraction(0)


@dataclass(frozen=True)
class Hole:
    """From a piece's own end to its first hole, and the number of the hole its middle is on or comes next after."""

    first: Fraction
    middle: int


@dataclass(frozen=True)
class Recut:
    """What comes off the far and the near edge of a new end, so that a piece begins at its own slope."""

    far: Fraction
    near: Fraction


@dataclass(frozen=True)
class Marked:
    """One piece of a stick. Lengths in the plan's unit.

    off:        what is cut off the new end before the piece is marked, so that its holes fall right; mostly 0
    reading:    the same as it is marked on the tape, after the cuts before were marked on it
    by_blade:   whether that is no wider than the kerf, so that nothing falls
    start, end: where it begins and ends, from the squared end
    behind:     what is still there of the stick after its cut
    holes:      None on a plain stick, and where no hole's centre is on the piece
    zero:       where 0 is on the stick
    recut:      None where the piece begins at the slope that the cut before it left
    """

    cut: Cut
    off: Fraction
    reading: Fraction
    by_blade: bool
    start: Fraction
    end: Fraction
    behind: Fraction
    holes: Hole | None = None
    zero: Fraction = NOTHING
    recut: Recut | None = None

    @property
    def near_start(self) -> Fraction:
        return self.cut.near_start - self.zero

    @property
    def near_end(self) -> Fraction:
        return self.cut.near_end - self.zero

    @property
    def shorter(self) -> Fraction:
        """The length of its shorter edge, by which it is held."""
        return min(self.end - self.start, self.near_end - self.near_start) if self.cut.lies else self.cut.length


def squared_end(profile: ProfilePlan, stick: Stick) -> Fraction:
    """How far 0 is from the stick's own end. A blank for one turned piece loses as much there as at its other end."""
    return stick.cuts[0].start if profile.one_per_stick else stick.head_trim


def marked(profile: ProfilePlan, stick: Stick, tape: Fraction) -> Iterator[Marked]:
    """The pieces in the order in which they are cut, on a tape with such divisions."""
    if profile.angles:
        yield from marked_along_slopes(profile, profile.angles, stick, tape)
        return
    zero = new_end = squared_end(profile, stick)
    rails = as_read(profile, stick, tape) if profile.routing else repeat((NOTHING, NOTHING))
    for cut, (reading, _) in zip(stick.cuts, rails, strict=False):
        end = cut.end + profile.kerf
        behind = max(NOTHING, stick.length - end)
        holes = holes_of(cut, stick, profile.routing) if profile.routing else None
        off = cut.start - new_end if cut.start != new_end else NOTHING  # as on every plain stick
        by_blade = not off or min(off, reading) <= profile.kerf
        yield Marked(cut, off, reading, by_blade, cut.start - zero, cut.end - zero, behind, holes)
        new_end = end


def marked_along_slopes(profile: ProfilePlan, angles: Angles, stick: Stick, tape: Fraction) -> Iterator[Marked]:
    """The pieces of a stick with angled ends; what is behind them is counted by its shorter edge."""
    zero = stick.head_trim
    far = near = zero  # corners of the new end
    for cut in stick.cuts:
        again = Recut(cut.start - far, cut.near_start - near)
        off = max(again.far, again.near)
        kerf = angles.kerf_along(profile.kerf, cut.right_in)
        behind = max(NOTHING, stick.length - cut.furthest - kerf)
        yield Marked(cut, off, nearest(off, tape), off <= profile.kerf, cut.start - zero, cut.end - zero, behind, None,
                     zero, again if off else None)
        far, near = cut.end + kerf, cut.near_end + kerf


def as_read(profile: ProfilePlan, stick: Stick, tape: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """What to cut off before each piece, and where the piece then ends along the stick, if the figures are obeyed."""
    zero = squared_end(profile, stick)
    new_end = zero if profile.routing is None else nearest(zero, tape)
    for cut in stick.cuts:
        off = NOTHING if profile.routing is None else max(NOTHING, nearest(cut.start - new_end, tape))
        end = new_end + off + nearest(cut.length, tape)
        yield off, end
        new_end = end + profile.kerf


def shortage(profile: ProfilePlan, stick: Stick, tape: Fraction) -> Fraction:
    """By how much the last piece comes out short if the figures are obeyed; mostly 0."""
    if profile.one_per_stick:
        return NOTHING
    if profile.angles:
        return max(NOTHING, stick.cuts[-1].furthest + gained(profile, stick, tape) - stick.length + stick.tail_trim)
    if profile.routing is None and all(nearest(cut.length, tape) == cut.length for cut in stick.cuts):
        return NOTHING
    *_, (_, end) = as_read(profile, stick, tape)
    return max(NOTHING, end - stick.length + stick.tail_trim)


def gained(profile: ProfilePlan, stick: Stick, tape: Fraction) -> Fraction:
    """By how much the last of a stick's angled pieces ends further on than planned, at most, if the figures are obeyed:
    of a new end cut again and of a piece those along either edge, whichever the hand goes by, or both. How finely the
    saw is set is not counted."""
    further = NOTHING
    for one in marked(profile, stick, tape):
        recut = (one.recut.far, one.recut.near) if one.recut else (NOTHING,)
        edges = one.end - one.start, one.near_end - one.near_start
        further += sum(max(nearest(said, tape) - said for said in figures) for figures in (recut, edges))
    return further


def holes_of(cut: Cut, stick: Stick, routing: Routing) -> Hole | None:
    """The holes of a piece, counted from the end that is cut first."""
    first = stick.first_from_squared(routing.pitch)
    first += max(0, math.ceil((cut.start - first) / routing.pitch)) * routing.pitch
    if first > cut.end:
        return None
    middle = (cut.start + cut.end) / 2
    return Hole(first - cut.start, math.floor((middle - first) / routing.pitch) + 1)


def middle_words(centred: str, number: int) -> str:
    """What a rail's middle is at: on this hole, or between it and the next."""
    return f"middle on hole {number}" if centred == "hole" else f"middle between holes {number} and {number + 1}"
