"""A stick as a bar of characters, drawn to scale."""

from __future__ import annotations

from fractions import Fraction

from cutplan.plans.records import Cut, ProfilePlan, Stick
from cutplan.sheets.slopes import leaning
from cutplan.sheets.tape import squared_end
from cutplan.sheets.words import Writer

BAR_WIDTH = 60  # characters for a stick, whatever its length
BRACKETS = "[", "]"  # the ends of a piece
KEPT, LOST, SQUARED = "_", "x", "0"
BAR_WORDS = (f"In the bars {SQUARED} is the squared end, [===] a piece, {KEPT} an offcut kept for the rack, "
             f"{LOST} what is lost.")


def bar(profile: ProfilePlan, stick: Stick, write: Writer) -> str:
    """The stick with its 0. A piece too short to draw is one |; kerfs are not shown."""
    tail = column(halfway(stick.cuts[-1])[1], stick.length)
    drawn = LOST * tail + (KEPT if stick.keep else LOST) * (BAR_WIDTH - tail)
    for cut in stick.cuts:
        begins, ends = halfway(cut) if cut.lies else (cut.start, cut.end)
        start, end = column(begins, stick.length), column(ends, stick.length)
        piece = block(end - start, write.length(cut.length), drawn_ends(cut) if cut.lies else BRACKETS)
        drawn = drawn[:start] + piece + drawn[max(end, start + 1):]
    zero = column(squared_end(profile, stick), stick.length)
    return drawn[:zero] + SQUARED + drawn[zero:BAR_WIDTH]


def column(at: Fraction, whole: Fraction) -> int:
    """How many characters from the bar's beginning, to the nearest; a half to the even one."""
    (top, bottom), (most, parts) = at.as_integer_ratio(), whole.as_integer_ratio()
    many, rest = divmod(BAR_WIDTH * top * parts, bottom * most)
    return min(BAR_WIDTH, many + (2 * rest + many % 2 > bottom * most))


def halfway(cut: Cut) -> tuple[Fraction, Fraction]:
    """Where a piece begins and ends halfway across its face."""
    return (cut.start + cut.near_start) / 2, (cut.end + cut.near_end) / 2


def drawn_ends(cut: Cut) -> tuple[str, str]:
    return leaning(cut.left_in) if cut.left_in else BRACKETS[0], leaning(-cut.right_in) if cut.right_in else BRACKETS[1]


def block(width: int, label: str, ends: tuple[str, str]) -> str:
    if width < 2:
        return "|"
    label = f" {label} " if len(label) + 4 <= width else label if len(label) + 2 <= width else ""
    return f"{ends[0]}{label.center(width - 2, '=')}{ends[1]}"
