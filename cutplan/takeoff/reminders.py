"""Reminders of published code limits, printed where an opening comes near one. They decide nothing.

The edition is part of each limit because editions differ, and local amendments differ from all of them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.takeoff.cards import PicketLayout
from cutplan.takeoff.words import say

MM_PER_INCH = Fraction(127, 5)
ENDING = "Local codes and licensed practice decide."

Span = tuple[Fraction, Fraction | None]


@dataclass(frozen=True)
class CodeLimit:
    """A published limit, in inches.

    bounds:  what it limits: "gap" (at most), "height" (at least), or "other" (nothing the takeoff knows)
    strict:  the limit itself is already out ("shall not pass"); else it is still in ("shall not exceed")
    near:    for "gate" and "bay", the span of `measure` in which the reminder is printed, both ends included
    source:  the edition and section
    known:   how the figures are known, where not from its text: "at second hand" or "from memory"; what is printed
             says only that they were not checked
    words:   what is printed; a number of inches stands in braces
    """

    value: Fraction
    bounds: str
    strict: bool
    measure: str  # "gap" | "height"
    near: Mapping[str, Span]
    source: str
    known: str
    words: str


def both(low: Fraction, high: Fraction | None) -> Mapping[str, Span]:
    return {"gate": (low, high), "bay": (low, high)}


def within_two(height: int) -> Mapping[str, Span]:
    return both(Fraction(height - 2), Fraction(height + 2))


LIMITS = (
    CodeLimit(
        Fraction(4), "gap", True, "gap", both(Fraction(7, 2), None),
        "2018 IRC R312.1.3", "",
        "in a guard a {4} sphere shall not pass, so a gap of exactly {4} is already too wide",
    ),
    CodeLimit(
        Fraction(35, 8), "gap", True, "gap", both(Fraction(31, 8), None),
        "IRC R312.1.3, exceptions", "at second hand",
        "beside a stair a {35/8} sphere shall not pass, nor a {6} sphere through the triangle of tread, "
        "riser and bottom rail",
    ),
    CodeLimit(
        Fraction(36), "height", False, "height",
        {"gate": (Fraction(34), Fraction(38)), "bay": (Fraction(0), Fraction(38))},
        "2018 IRC R312.1.1 and R312.1.2", "",
        "where the drop is more than {30} a guard is called for, at least {36} high",
    ),
    CodeLimit(
        Fraction(34), "height", False, "height", {"bay": (Fraction(0), Fraction(36))},
        "IRC R312.1.2, exceptions", "at second hand",
        "beside a stair a guard is at least {34} high, and {34} to {38} where its top is also the handrail",
    ),
    CodeLimit(
        Fraction(42), "height", False, "height", within_two(42),
        "IBC 1015.3 and 1015.4", "from memory",
        "a guard under this code is at least {42} high; a {4} sphere shall not pass up to {36} high, nor a "
        "{35/8} sphere from {36} to {42}",
    ),
    CodeLimit(
        Fraction(48), "height", False, "height", within_two(48),
        "IRC Appendix G AG105.2(1); ISPSC 305", "",
        "the top of a pool barrier is at least {48} up; local amendments often ask for {60}",
    ),
    CodeLimit(
        Fraction(7, 4), "other", False, "height", within_two(48),
        "IRC Appendix G AG105.2(3) and (4)", "",
        "a pool barrier with rail tops less than {45} apart has its rails on the pool side and no gap over "
        "{7/4}; with rail tops {45} apart or more, no gap over {4}",
    ),
    CodeLimit(
        Fraction(2), "other", False, "height", within_two(48),
        "ISPSC 305.2.1", "from memory",
        "the clearance below a pool barrier is not over {2}, or {4} above a solid surface",
    ),
    CodeLimit(
        Fraction(54), "other", False, "height", {"gate": (Fraction(46), Fraction(50))},
        "IRC Appendix G AG105.2(8)", "",
        "a walk-through gate of a pool barrier opens outward, closes and latches by itself; a release lower "
        "than {54} is on the pool side, at least {3} below the gate's top, with no opening over {1/2} within "
        "{18} of it",
    ),
)  # fmt: skip


def reminders(
    kind: str, height: Fraction, layout: PicketLayout, max_gap: Fraction, unit: str
) -> tuple[str, ...]:
    """The reminders for one gate or bay (`kind`). Lengths in `unit`, "in" or "mm" (1 in = 25.4 mm exactly).

    A routed rail's gap between pickets is the maker's, whatever the system's `max_gap`: it is spoken of too.
    """
    inch = MM_PER_INCH if unit == "mm" else Fraction(1)
    figures = {"gap": max(layout.gap, layout.end_gap) / inch, "height": height / inch}
    lines = [in_words(limit, figures, inch, unit) for limit in LIMITS if is_near(limit, kind, figures)]
    if layout.centred != "gap" and layout.count > 1 and layout.gap > max_gap:
        lines.append(
            f"The holes of the rail leave {say(layout.gap, unit)} between pickets, more than the system's "
            f"widest gap of {say(max_gap, unit)}. {ENDING}"
        )
    return tuple(lines)


def in_words(limit: CodeLimit, figures: Mapping[str, Fraction], inch: Fraction, unit: str) -> str:
    """The reminder as printed, its inches in the shop's unit."""
    words = re.sub(r"{(.+?)}", lambda number: say(Fraction(number[1]) * inch, unit), limit.words)
    known = ", figures not checked against its text" if limit.known else ""
    return f"Reminder ({limit.source}{known}): {words}{standing(limit, figures)}. {ENDING}"


def is_near(limit: CodeLimit, kind: str, figures: Mapping[str, Fraction]) -> bool:
    if kind not in limit.near:
        return False
    low, high = limit.near[kind]
    return low <= figures[limit.measure] and (high is None or figures[limit.measure] <= high)


def standing(limit: CodeLimit, figures: Mapping[str, Fraction]) -> str:
    """Where this opening is beyond the limit, the words that say so."""
    if limit.bounds == "gap" and is_out(limit, figures["gap"] - limit.value):
        return "; the widest gap here is not within that"
    if limit.bounds == "height" and is_out(limit, limit.value - figures["height"]):
        return "; the height here is less"
    return ""


def is_out(limit: CodeLimit, beyond: Fraction) -> bool:
    return beyond > 0 or (limit.strict and beyond == 0)
