"""What is too short to be held by hand."""

from __future__ import annotations

from fractions import Fraction

from cutplan.cutting.plan import ProfilePlan, Stick


def needs_clamp(length: Fraction, shortest_held: Fraction | None) -> bool:
    """Whether a piece or a remainder is shorter than what is held by hand; nothing is nothing to hold."""
    return shortest_held is not None and 0 < length < shortest_held


def remainders(profile: ProfilePlan, stick: Stick) -> tuple[Fraction, ...]:
    """What falls off a stick besides its pieces: the offcut, or both ends of a blank for one turned piece."""
    if profile.one_per_stick:
        return stick.cuts[0].start, stick.length - stick.cuts[0].end
    return (stick.offcut,)
