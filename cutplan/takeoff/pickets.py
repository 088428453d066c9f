"""Where the pickets go along a rail. Arithmetic only: lengths in the file's unit, all of them exact.

L is the clear width, w the picket's width, g the widest gap, p the pitch of the holes, n how many pickets.
"""

from __future__ import annotations

import math
from fractions import Fraction

from cutplan.takeoff.cards import PicketLayout


def plain_layout(rail: Fraction, insertion: Fraction, width: Fraction, max_gap: Fraction) -> PicketLayout:
    """The fewest pickets whose equal gap is at most `max_gap`: n = ceil((L - g) / (w + g)), or none.

    The gap, (L - n w) / (n + 1), comes out negative where that many pickets are wider than the clear width.
    """
    clear = rail - 2 * insertion
    count = max(0, math.ceil((clear - max_gap) / (width + max_gap)))
    gap = (clear - count * width) / (count + 1)
    marks = tuple(insertion + (i + 1) * gap + i * width + width / 2 for i in range(count))
    return PicketLayout(clear, count, end_gap=gap, gap=gap, marks=marks, centred="gap")


def routed_layouts(
    rail: Fraction, insertion: Fraction, width: Fraction, pitch: Fraction
) -> tuple[PicketLayout, PicketLayout]:
    """The two ways to centre a rail whose holes are `pitch` apart: on a hole, and on a space.

    Each has all the pickets that fit wholly in the clear width, (n - 1) p + w <= L: an odd number of them
    on a hole, an even number on a space.
    """
    clear = rail - 2 * insertion
    most = max(0, math.floor((clear - width) / pitch) + 1)
    odd = most if most % 2 else max(0, most - 1)
    even = most - most % 2
    return (
        routed_layout(rail, insertion, width, pitch, odd, "hole"),
        routed_layout(rail, insertion, width, pitch, even, "space"),
    )


def routed_layout(
    rail: Fraction, insertion: Fraction, width: Fraction, pitch: Fraction, count: int, centred: str
) -> PicketLayout:
    """`count` pickets at the pitch about the rail's middle."""
    clear = rail - 2 * insertion
    end_gap = (clear - width - (count - 1) * pitch) / 2 if count else clear
    gap = pitch - width if count > 1 else end_gap
    marks = tuple(rail / 2 + (i - Fraction(count - 1, 2)) * pitch for i in range(count))
    return PicketLayout(clear, count, end_gap, gap, marks, centred, pitch)


def centrings(
    layouts: tuple[PicketLayout, PicketLayout], min_end_gap: Fraction, max_gap: Fraction
) -> list[PicketLayout]:
    """The layouts whose end gap is within `min_end_gap` .. `max_gap`, the wider first."""
    within = [layout for layout in layouts if min_end_gap <= layout.end_gap <= max_gap]
    return sorted(within, key=lambda layout: -layout.end_gap)


def best_centring(
    layouts: tuple[PicketLayout, PicketLayout], min_end_gap: Fraction, max_gap: Fraction
) -> PicketLayout | None:
    """The layout with the wider end gap within `min_end_gap` .. `max_gap`; None where neither is within."""
    return next(iter(centrings(layouts, min_end_gap, max_gap)), None)


def nearest_fit(
    clear: Fraction, width: Fraction, pitch: Fraction, min_end_gap: Fraction, max_gap: Fraction
) -> Fraction | None:
    """The smallest change of the clear width that lets a routed rail be centred; negative: narrower.

    With n pickets the end gap is within its limits for L from w + (n - 1) p + 2 min_end_gap to
    w + (n - 1) p + 2 max_gap, so the nearest L that will do is an end of such a stretch (for n = 0, one of
    the limits themselves). Of two as small, the narrower. None where no clear width would do.
    """
    most = max(0, math.floor((clear - width) / pitch) + 1)
    counts = range(max(1, most - 2), most + 3)
    limits = (min_end_gap, max_gap)
    ends = [width + (n - 1) * pitch + 2 * limit for n in counts for limit in limits] + list(limits)

    def will_do(wanted: Fraction) -> bool:
        layouts = routed_layouts(wanted, Fraction(0), width, pitch)
        return wanted > 0 and best_centring(layouts, min_end_gap, max_gap) is not None

    changes = [end - clear for end in ends if will_do(end)]
    return min(changes, key=lambda change: (abs(change), change), default=None)


def picket_trim_ends(excess: Fraction, turned: bool) -> tuple[Fraction, Fraction]:
    """What a picket `excess` too long loses at its two ends: half at each where turned, else all at one."""
    return (excess / 2, excess / 2) if turned else (excess, Fraction(0))
