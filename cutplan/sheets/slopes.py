"""How angled ends are said: the saw's setting, which way a cut leans, how a piece lies, where its long points are.

A stick lies with its squared end to the left and the drawing's upper edge away from the hand, its far edge. A cut line
has a slope: how far its near corner lies after its far corner. So \\ has a slope above 0, and / one below.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import nearest
from cutplan.orders import Piece
from cutplan.plans.records import AS_IS, BOTH, END_FOR_END, OVER, Cut, ProfilePlan, Stick, slope_kerf, wedges
from cutplan.sheets.tape import Marked, Recut
from cutplan.sheets.words import Writer
from cutplan.shop import Angles
from cutplan.takeoff.cards import Extra

TENTH = 0.1  # of a degree, as fine as a saw is set
RUNS = {"in": (12, 10, 6), "mm": (100, 200, 300)}  # over which a rise is said
HIGHEST = {"in": 24, "mm": 600}  # as far as one arm of a framing square reaches (common practice, no source)
LONGEST_RUN = {"in": 60, "mm": 1_500}  # of a straightedge, the same
LIES = {
    AS_IS: "lies as is, its front up",
    END_FOR_END: "lies end for end, its back up and its right end first",
    OVER: "lies upside down, its back up and its top edge near",
    BOTH: "lies end for end and upside down, its front up, its right end first and its top edge near",
}  # fmt: skip
SLOPE_WORDS = (
    "Some ends are angled. Lay each stick with 0 to your left and the upper edge of its drawing away from you: that is "
    "its far edge, the other its near one; running marks count along both. The saw's angle is from square, in degrees "
    "and as rise:run, and \\ and / are cuts as you then see them. A long point is a corner where a piece is longest. "
    "How a piece lies is said of it as it will be built in, seen from its front."
)

ANGLED_NOTE = (
    "A piece with angled ends counts by its length halfway up its face. Wedges are the part of the scrap that lies "
    "between unlike ends; slope kerf is what kerfs along slopes take more than square ones, a part of the kerf."
)


def leaning(slope: Fraction) -> str:
    return "\\" if slope > 0 else "/"


def setting(slope: Fraction, angles: Angles, write: Writer) -> str:
    """The saw's angle from square, in degrees and as rise:run, and which way it leans."""
    if not slope:
        return "square"
    return f"{leaning(slope)} {slope_text(abs(slope) / angles.face, write)}"


def slope_text(ratio: Fraction, write: Writer) -> str:
    """A rise over a run in degrees and as rise:run."""
    return f"{degrees(ratio)} deg ({rise_in_run(ratio, write)})"


def rise_in_run(ratio: Fraction, write: Writer) -> str:
    """A slope (not 0) as a hand lays it out with a square and a straightedge: a rise on the tape over a whole run.

    Over the first run for which the rise is on the tape exactly, else over the longest; none is higher than the square.
    One so flat that it does not come to a mark there rises by one mark over as long a run as there is.
    """
    runs = [run for run in RUNS[write.unit] if run * ratio <= HIGHEST[write.unit]] or [min(RUNS[write.unit])]
    exact = [run for run in runs if nearest(run * ratio, write.tape) == run * ratio]
    run = exact[0] if exact else max(runs)
    if rise := nearest(run * ratio, write.tape):
        return f"{write.reading(rise, run * ratio)}:{run}"
    run, longest = math.floor(write.tape / ratio), LONGEST_RUN[write.unit]
    if run > longest:
        return f"less than {write.length(write.tape)}:{longest}"
    return f"{write.reading(write.tape, run * ratio)}:{run}"


def leaning_degrees(slope: Fraction, angles: Angles | None) -> str:
    """As / ~37.3; "0" of a square cut."""
    return f"{leaning(slope)} {degrees(abs(slope) / angles.face)}" if angles is not None and slope else "0"


def degrees(ratio: Fraction) -> str:
    """The angle of a rise over a run, to the nearest tenth: none but 45 is a whole tenth (Niven's theorem). One that
    would be 0.0 is said to be under a tenth."""
    if ratio == 1:
        return "45"
    angle = math.degrees(math.atan(ratio))
    return f"~{angle:.1f}" if angle >= TENTH / 2 else f"under {TENTH}"


def ends_text(left_in: Fraction, right_in: Fraction, angles: Angles, write: Writer) -> str:
    """Both ends of a piece as it is built in, seen from its front; "" where both are square."""
    if not left_in and not right_in:
        return ""
    return f"left end {setting(left_in, angles, write)}, right end {setting(-right_in, angles, write)}"


def end_columns(pieces: Sequence[Piece], write: Writer) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The headings and cells of what the ends of listed pieces are set in; none where all are square."""
    if not any(piece.left_in or piece.right_in for piece in pieces):
        return (), [() for _ in pieces]
    return ("left in", "right in"), [
        tuple(write.length(end) if end else "" for end in (piece.left_in, piece.right_in)) for piece in pieces]


def set_in_text(piece: Extra, write: Writer) -> str:
    """What the ends of a listed piece are set in, after its length; "" where both are square."""
    if not piece.left_in and not piece.right_in:
        return ""
    return f" (left end set in {write.length(piece.left_in)}, right end {write.length(piece.right_in)})"


def sloped(slope: Fraction, write: Writer) -> str:
    """The slope of an offcut's end, as rise over run; "" of a square one."""
    return setting(slope, Angles(Fraction(1), "none", Fraction(1)), write) if slope else ""


def slope_left(stick: Stick, angles: Angles | None, write: Writer) -> str:
    """The slope of the end of an offcut that the last cut made; "" of a square one."""
    slope = -stick.cuts[-1].right_in
    if angles is None or not slope:
        return ""
    return f"its new end {setting(slope, angles, write)}, counted by its shorter edge"


def lost_to_angles(stick: Stick, profile: ProfilePlan, write: Writer) -> str:
    """What a stick loses because ends are angled; "" where nothing."""
    if profile.angles is None or not any(lost := (wedges(stick), slope_kerf(stick, profile.kerf))):
        return ""
    wedged, sloped = map(write.length, lost)
    return f"lost to angles: wedges between unlike ends {wedged}, kerf along slopes {sloped} more than square"


# ---- at the saw ----


@dataclass(frozen=True)
class Sawn:
    """How one piece is sawn: how the new end is cut again first, to what the saw is set for the piece's last end, along
    which edge its length is marked, and how it then lies. "" where there is nothing to say."""

    recut: str = ""
    saw: str = ""
    how: str = ""

    @property
    def anew(self) -> bool:
        """Whether something is to be done before it is marked."""
        return bool(self.recut or self.saw)


def sawn(profile: ProfilePlan, pieces: Sequence[Marked], write: Writer) -> Iterator[Sawn]:
    """Of each piece of a stick; the saw is named where its angle changes, and it squared the stick's first end."""
    if profile.angles is None:
        yield from (Sawn() for _ in pieces)
        return
    saw = Fraction(0)
    for one in pieces:
        recut, cut = "", one.cut
        if one.recut:
            setting_up = change(saw, cut.left_in, profile.angles, write)
            recut = ", ".join(filter(None, (setting_up, again(one, one.recut, write))))
            saw = cut.left_in
        yield Sawn(recut, change(saw, -cut.right_in, profile.angles, write), how(one, write))
        saw = -cut.right_in


def change(before: Fraction, slope: Fraction, angles: Angles, write: Writer) -> str:
    """To what the saw is set, where it is not yet."""
    return "" if slope == before else f"set the saw to {setting(slope, angles, write)}"


def again(one: Marked, recut: Recut, write: Writer) -> str:
    """What comes off both edges of the new end."""
    far, near = (write.length(off) if nearest(off, write.tape) else "nothing" for off in (recut.far, recut.near))
    blade = ", with the blade" if one.by_blade else ""
    return f"cut the new end again, {far} off its far edge and {near} off its near edge{blade}"


def how(one: Marked, write: Writer) -> str:
    """Along which edge a piece is marked, how long the other is, where its long points are, and how it lies."""
    cut = one.cut
    if not cut.lies:
        return "both ends square"
    far, near = write.length(one.end - one.start), write.length(one.near_end - one.near_start)
    edge, other, there = ("near", "far", far) if cut.upside_down else ("far", "near", near)
    measured = f"along the {edge} edge, the {other} one {there}"
    return "; ".join([measured, long_points(cut), LIES[cut.lies]])


def long_points(cut: Cut) -> str:
    """On which edge the longer corner of each end is, the first end first."""
    first, last = point(cut.left_in), point(cut.right_in)
    if first == last:
        return f"both long points {first}"
    ends = [f"{'first' if k == 0 else 'last'} end square" if not where else
            f"{'first' if k == 0 else 'last'} long point {where}" for k, where in enumerate((first, last))]
    return ", ".join(ends)


def point(set_in: Fraction) -> str:
    return "far" if set_in > 0 else "near" if set_in else ""


def near_marks(profile: ProfilePlan, pieces: Iterable[Marked], write: Writer) -> list[str]:
    """Where the pieces end along the near edge, and where one begins if the end before it was cut again."""
    if profile.angles is None:
        return []
    return [f"{write.length(one.near_start)} to {write.length(one.near_end)}" if one.recut
            else write.length(one.near_end) for one in pieces]
