"""Where the pickets go along a rail. Arithmetic only: lengths in the file's unit, all of them exact.

L is the clear width, w the picket's width, g the widest gap, p the pitch of the holes, h how wide a hole is, n how
many pickets.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, repeat

NONE = Fraction(0)


@dataclass(frozen=True)
class PicketLayout:
    """Pickets along one rail. Lengths in the file's unit.

    clear:   width where pickets show, where it is narrower
    count:   pickets in a row
    end_gap: from the upright or post to the first picket's near edge, at the narrower end
    gap:     between two neighbouring pickets (the end gap where there are none)
    marks:   centre of each picket, each measured from the end of the narrower rail
    centred: what the middle of a routed rail falls on, "hole" or "space"; "gap" for plain rails (equal gaps)
    pitch:   from hole to hole of a routed rail; None for plain rails
    splay:   by how much an end gap is wider at the wide end
    """

    clear: Fraction
    count: int
    end_gap: Fraction
    gap: Fraction
    marks: tuple[Fraction, ...]
    centred: str
    pitch: Fraction | None = None
    splay: Fraction = Fraction(0)

    @property
    def wide_end_gap(self) -> Fraction:
        """The end gap where the opening is wider; without pickets the whole width there."""
        return self.end_gap + (self.splay if self.count else 2 * self.splay)


@dataclass(frozen=True)
class RailHoles:
    """The holes of a rail: from centre to centre, and how wide each is along the rail.

    At the wide end of an opening an empty hole comes into sight as one does beside the narrow clear width that is wider
    by two splays; so `size` counts those in.
    """

    pitch: Fraction
    size: Fraction


@dataclass(frozen=True)
class EndGaps:
    """The end gaps that will do: `least` .. `most`, both included. `plugged`: empty holes may show, they get plugs."""

    least: Fraction
    most: Fraction
    plugged: bool = False


def plain_layout(rail: Fraction, hidden: Fraction, width: Fraction, max_gap: Fraction, splay: Fraction = NONE
                 ) -> PicketLayout:
    """The fewest pickets whose equal gap is at most `max_gap`, the wide end's too: n = ceil((L - g) / (w + g)), or
    none, with g less the splay.

    The gap, (L - n w) / (n + 1), comes out negative where that many pickets are wider than the clear width.
    """
    clear, widest = rail - 2 * hidden, max_gap - splay
    count = max(0, math.ceil((clear - widest) / (width + widest)))
    if splay and not count and clear + 2 * splay > max_gap:
        count = 1
    gap = (clear - count * width) / (count + 1)
    marks = evenly(hidden + gap + width / 2, gap + width, count)
    return PicketLayout(clear, count, end_gap=gap, gap=gap, marks=marks, centred="gap", splay=splay)


def evenly(first: Fraction, step: Fraction, count: int) -> tuple[Fraction, ...]:
    """So many marks, a step apart."""
    return tuple(accumulate(repeat(step, count - 1), initial=first)) if count else ()


def routed_layouts(
    rail: Fraction, hidden: Fraction, width: Fraction, pitch: Fraction, splay: Fraction = NONE
) -> tuple[PicketLayout, PicketLayout]:
    """The two ways to centre a rail whose holes are `pitch` apart: on a hole, and on a space.

    Each has all the pickets that fit wholly in the clear width, (n - 1) p + w <= L: an odd number of them
    on a hole, an even number on a space.
    """
    clear = rail - 2 * hidden
    most = max(0, math.floor((clear - width) / pitch) + 1)
    odd = most if most % 2 else max(0, most - 1)
    even = most - most % 2
    return (
        routed_layout(rail, hidden, width, pitch, odd, "hole", splay),
        routed_layout(rail, hidden, width, pitch, even, "space", splay),
    )


def routed_layout(
    rail: Fraction, hidden: Fraction, width: Fraction, pitch: Fraction, count: int, centred: str, splay: Fraction
) -> PicketLayout:
    """`count` pickets at the pitch about the rail's middle."""
    clear = rail - 2 * hidden
    end_gap = (clear - width - (count - 1) * pitch) / 2 if count else clear
    gap = pitch - width if count > 1 else end_gap
    marks = evenly((rail - (count - 1) * pitch) / 2, pitch, count)
    return PicketLayout(clear, count, end_gap, gap, marks, centred, pitch, splay)


def empty_in_sight(layout: PicketLayout, holes: RailHoles) -> int:
    """How many holes without a picket show along the rail, in part or whole.

    With n pickets the next holes stand (n + 1) p / 2 from the rail's middle, and p further each; less than
    (L + h) / 2 from it a hole shows. Without a picket a rail centred on a hole has one more, in its middle.
    """
    middle = layout.centred == "hole" and layout.count == 0
    used = layout.count + middle
    beyond = layout.clear + holes.size - (used + 1) * holes.pitch
    return middle + 2 * max(0, math.ceil(beyond / (2 * holes.pitch)))


def routed_fits(rail: Fraction, hidden: Fraction, width: Fraction, holes: RailHoles, ends: EndGaps,
                splay: Fraction = NONE) -> list[PicketLayout]:
    """The layouts on a routed rail that will do, the wider end gap first, with a picket in every hole that has room.

    Where none of these does and holes may be plugged, those with the fewest end holes left to plugs.
    """
    layouts: tuple[PicketLayout, ...] = routed_layouts(rail, hidden, width, holes.pitch, splay)
    found = centrings(layouts, holes, ends)
    while ends.plugged and not found and any(layout.count > 1 for layout in layouts):
        layouts = tuple(routed_layout(rail, hidden, width, holes.pitch, max(0, layout.count - 2), layout.centred, splay)
                        for layout in layouts)
        found = centrings(layouts, holes, ends)
    return found


def centrings(layouts: Sequence[PicketLayout], holes: RailHoles, ends: EndGaps) -> list[PicketLayout]:
    """The layouts that will do, the wider end gap first."""
    will_do = [layout for layout in layouts if ends.least <= layout.end_gap and layout.wide_end_gap <= ends.most
               and (ends.plugged or not empty_in_sight(layout, holes))]
    return sorted(will_do, key=lambda layout: -layout.end_gap)


def nearest_fit(clear: Fraction, width: Fraction, holes: RailHoles, ends: EndGaps, splay: Fraction = NONE
                ) -> Fraction | None:
    """The smallest change of the clear width that lets a routed rail be centred; negative: narrower.

    With n pickets the end gap is from `ends.least` up to a limit, `ends.most` or where an empty hole begins to show,
    for L from w + (n - 1) p + 2 ends.least to w + (n - 1) p + 2 limit, so the nearest L that will do is an end of such
    a stretch (for n = 0, where the end gap is L, one of the limits themselves or p - h). Of two as small, the narrower.
    None where no clear width would do. Where holes may be plugged and `ends.most` is a pitch or more, a stretch ends
    short of the width at which two more pickets fit, and has no last L: what is found is then the nearest beginning.
    """
    most = max(0, math.floor((clear - width) / holes.pitch) + 1)
    counts = range(1 if ends.plugged else max(1, most - 2), most + 3)
    limits = (ends.least, ends.most - splay, hiding(width, holes))
    stretches = [width + (n - 1) * holes.pitch + 2 * limit for n in counts for limit in limits]

    def will_do(wanted: Fraction) -> bool:
        return wanted > 0 and bool(routed_fits(wanted, NONE, width, holes, ends, splay))

    changes = [end - clear for end in (*stretches, *limits, holes.pitch - holes.size) if will_do(end)]
    return min(changes, key=lambda change: (abs(change), change), default=None)


def hiding(width: Fraction, holes: RailHoles) -> Fraction:
    """The widest end gap beside a picket at which no part of the next, empty hole shows: p - w/2 - h/2."""
    return holes.pitch - width / 2 - holes.size / 2
