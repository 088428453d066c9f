"""What is too short to be held by hand, and what to do with it.

At each cut the longer part is held and the shorter falls free. A piece that a clamp can still take is clamped; what is
shorter, and any short remainder, is left to fall while the other part is held or clamped.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.sheets.tape import Marked

CLAMP, FALL, HAND_SAW = "clamp", "let it fall", "hand saw"
# Of what a hand must have to hold, so much a clamp must have; common practice, no source.
CLAMPED = Fraction(1, 3)


@dataclass(frozen=True)
class Care:
    """What is said of a piece, of what is behind it and of what is cut off before it; "" where nothing need be."""

    piece: str = ""
    behind: str = ""
    off: str = ""


def care(one: Marked, shortest_held: Fraction | None) -> Care:
    """What to do at the cut of a piece."""
    if shortest_held is None:
        return Care()
    off = FALL if not one.by_blade and one.off < shortest_held else ""
    return Care(*at_cut(one.cut.length, one.behind, shortest_held), off)


def at_cut(piece: Fraction, behind: Fraction, shortest_held: Fraction) -> tuple[str, str]:
    """What is said of the two parts of a stick that a cut makes."""
    least = CLAMPED * shortest_held
    if piece >= least:
        return CLAMP if piece < shortest_held else "", FALL if 0 < behind < shortest_held else ""
    if behind >= least:
        return FALL, CLAMP if behind < shortest_held else ""
    return HAND_SAW, HAND_SAW if behind else ""
