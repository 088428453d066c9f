"""What is too short to be held by hand, and what to do with it.

At each cut the longer part is held and the shorter falls free. A piece that a clamp can still take is clamped; what is
shorter, and any short remainder, is left to fall while the other part is held or clamped.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.plans.plan import Plan
from cutplan.sheets.tape import Marked

CLAMP, FALL, HAND_SAW = "clamp", "let it fall", "hand saw"
# Of what a hand must have to hold, so much a clamp must have where the shop says no more; common practice, no source.
CLAMPED = Fraction(1, 3)


@dataclass(frozen=True)
class Care:
    """What is said of a piece, of what is behind it and of what is cut off before it; "" where nothing need be."""

    piece: str = ""
    behind: str = ""
    off: str = ""


def care(one: Marked, plan: Plan) -> Care:
    """What to do at the cut of a piece of a plan."""
    held, clamped = plan.shortest_held, plan.shortest_clamped
    if held is None:
        return Care()
    off = FALL if not one.by_blade and one.off < held else ""
    return Care(*at_cut(one.shorter, one.behind, held, CLAMPED * held if clamped is None else clamped), off)


def at_cut(piece: Fraction, behind: Fraction, held: Fraction, clamped: Fraction) -> tuple[str, str]:
    """What is said of the two parts of a stick that a cut makes, where a hand and a clamp take no less than these."""
    if piece >= clamped:
        return CLAMP if piece < held else "", FALL if 0 < behind < held else ""
    if behind >= clamped:
        return FALL, CLAMP if behind < held else ""
    return HAND_SAW, HAND_SAW if behind else ""
