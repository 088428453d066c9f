"""How a stick is cut, step by step: what the text and the page both read, so that neither says it otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.plans.records import ProfilePlan, Stick
from cutplan.plans.sawtime import lifts_of
from cutplan.sheets.lifts import Group
from cutplan.sheets.slopes import slope_left
from cutplan.sheets.tape import Marked, middle_words, squared_end
from cutplan.sheets.words import Writer, counted


def rule_text(profile: ProfilePlan, write: Writer) -> str:
    """By what rule the profile is cut; a kerf is finer than a tape, so these stand as the shop file gives them."""
    length = write.exact
    trims = f"kerf {length(profile.kerf)}, trim {length(profile.head_trim)} at the head"
    trims += f" and {length(profile.tail_trim)} at the tail"
    if profile.angles is not None:
        trims += f"; angles are over a face of {length(profile.angles.face)}"
    if profile.routing is not None:
        trims += f"; holes {length(profile.routing.pitch)} apart, hole 1 the first whose centre is on the piece"
        trims += "; what decides is a rail's first hole, measured from the hole itself"
    if profile.one_per_stick:
        return f"One piece from each stick, trimmed equally at both ends; {trims} at the least."
    if profile.keep_from is None:
        return f"{trims}; no offcuts are kept.".capitalize()
    return f"{trims}; offcuts of {length(profile.keep_from)} or more go to the rack.".capitalize()


def sticks_text(groups: Sequence[Group], stack: int, write: Writer) -> str:
    """How many sticks of which length, and in how many lifts where the saw takes several at once."""
    sticks = [one.stick for group in groups for one in group]
    number = sum(one.count for one in sticks)
    lifts = f" in {counted(lifts_of(sticks, stack), 'lift')} of at most {stack}" if min(stack, number) > 1 else ""
    return f"{counted(number, 'stick')} of {write.length(sticks[0].length)}{lifts}"


def off_text(one: Marked, write: Writer) -> str:
    """What comes off the new end before a rail is marked, where anything does; no more than a kerf falls as dust."""
    if not one.reading:
        return ""
    said = write.reading(one.reading, one.off)
    return f"take off {said} with the blade" if one.by_blade else f"cut off {said}"


def hole_text(one: Marked, write: Writer) -> str:
    """Where the first hole of a rail is, and what its middle is at."""
    if one.holes is None:
        return "no hole's centre on it"
    first = f"first hole {write.length(one.holes.first)} from the new end"
    return f"{first}, {middle_words(one.cut.centred, one.holes.middle)}, at {write.length(one.cut.length / 2)}"


def running_marks(profile: ProfilePlan, pieces: Sequence[Marked], write: Writer) -> list[str]:
    """Where the pieces end on a tape held at 0; where one begins too, if something is cut off before it."""
    if profile.one_per_stick:
        return []
    return [f"{write.length(one.start)} to {write.length(one.end)}" if one.off else write.length(one.end)
            for one in pieces]


@dataclass(frozen=True)
class LeftOver:
    """What is behind the last piece. Lengths in the plan's unit.

    each_end:   what a blank for one turned piece loses at each end; None on any other stick
    length:     what is in hand
    keep, tags: whether it goes to the rack, and what to write on it (on each of so many sticks cut alike)
    first_hole: from its new end, where it is kept and has holes
    care:       what to mind when it falls
    slope:      of its new end, where that is not square
    """

    each_end: Fraction | None
    length: Fraction
    keep: bool
    tags: tuple[str, ...]
    first_hole: Fraction | None
    care: str
    slope: str = ""


def left(profile: ProfilePlan, stick: Stick, care: str, write: Writer) -> LeftOver:
    each_end = squared_end(profile, stick) if profile.one_per_stick else None
    routing = profile.routing if stick.keep else None
    first = None if routing is None else stick.first_of_offcut(routing.pitch, profile.kerf)
    return LeftOver(each_end, stick.offcut, stick.keep, stick.offcut_tags, first, care,
                    slope_left(stick, profile.angles, write))
