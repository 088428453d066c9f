"""A stick drawn to scale. All sticks of a profile have one scale; widths are shares, so that they fit any page.

What is told by tone is told by pattern too: a piece is white, trim is grey, what is kept has dots, what is lost has
slanting lines, and a kerf is the dark line of its own width between two pieces.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.plans.records import AS_IS, BOTH, END_FOR_END, Cut, ProfilePlan, Stick
from cutplan.sheets.pages import share
from cutplan.sheets.tape import squared_end
from cutplan.sheets.words import Writer

LETTER = 9.5  # pixels that a letter of a label needs
WIDTHS = (340, 700, 1100)  # pixels a page may have: a telephone, paper or a tablet, a screen
LEGEND = (
    ("piece", "piece"), ("trim", "trim, squared off"), ("kept", "kept for the rack"), ("lost", "lost: scrap and kerf"),
)  # fmt: skip

CORNER_WORDS = ("In the drawings a small triangle lies in each angled piece's own top left corner: filled where its "
                "front lies up, hollow where its back does.")


@dataclass(frozen=True)
class BarPart:
    """What a stretch of the stick becomes, by its pattern; `cut_to` are the corners of one with a slope, within it."""

    kind: str  # of LEGEND
    x: str
    width: str
    cut_to: str = ""


@dataclass(frozen=True)
class OwnCorner:
    """The mark of the top left corner of a piece with angled ends, as it is built in: where it lies on the stick, which
    way it points, and which face lies up there."""

    x: str
    y: str
    across: int
    up: int
    face: str


@dataclass(frozen=True)
class BarLabel:
    """A length in the middle of its piece, shown where the page is at least `room` pixels wide."""

    room: int
    x: str
    said: str


@dataclass(frozen=True)
class Bar:
    """A stick with its 0, the end squared first. All places are in percent: `zero_of_page` and `width` of the longest
    stick, which fills the page, the others of this one."""

    pieces: int
    width: str
    zero_of_page: str
    zero: str
    parts: list[BarPart]
    slanted: list[str]
    owns: list[OwnCorner]
    labels: list[BarLabel]
    holed: bool
    holes: list[str]
    middles: list[str]


def bar(profile: ProfilePlan, stick: Stick, longest: Fraction, write: Writer) -> Bar:
    """`longest` is the length that fills the page's width."""
    whole, zero = stick.length, squared_end(profile, stick)
    parts = [part("lost", Fraction(0), whole, whole)]
    parts += [part("trim", start, end, whole) for start, end in trims(profile, stick) if end > start]
    if stick.keep:
        parts.append(kept(stick, profile.kerf))
    angled = any(cut.lies for cut in stick.cuts)
    slanted = [corners(cut, whole) for cut in stick.cuts] if angled else []
    parts += [] if angled else [part("piece", cut.start, cut.end, whole) for cut in stick.cuts]
    labels = [label(cut, stick, room, write) for cut in stick.cuts if (room := room_for(cut, longest, write))]
    holes = [share(at, whole) for at in hole_places(profile, stick)]
    holed = profile.routing is not None
    middles = [middle(cut, stick) for cut in stick.cuts] if holed and stick.first is not None else []
    return Bar(len(stick.cuts), share(whole, longest), share(zero, longest), share(zero, whole), parts, slanted,
               [own_corner(cut, whole) for cut in stick.cuts if cut.lies], labels, holed, holes, middles)


def part(kind: str, start: Fraction, end: Fraction, whole: Fraction) -> BarPart:
    return BarPart(kind, share(start, whole), share(end - start, whole))


def kept(stick: Stick, kerf: Fraction) -> BarPart:
    """The offcut that is kept, from the end that the last cut made."""
    last = stick.cuts[-1]
    if not last.right_in:
        return part("kept", last.end + kerf, last.end + kerf + stick.offcut, stick.length)
    slope, start = -last.right_in, stick.length - stick.offcut - abs(last.right_in)
    far, near = (share(max(Fraction(0), inside), stick.length - start) for inside in (-slope, slope))
    at = part("kept", start, stick.length, stick.length)
    return replace(at, cut_to=f"{far} 0,100% 0,100% 100%,{near} 100%")


def corners(cut: Cut, whole: Fraction) -> str:
    """Of a piece, its far edge on top, in hundredths of the stick."""
    far, near = (cut.start, cut.end), (cut.near_end, cut.near_start)
    places = [(at, 0) for at in far] + [(at, 100) for at in near]
    return " ".join(f"{float(100 * at / whole):.6f},{y}" for at, y in places)


def own_corner(cut: Cut, whole: Fraction) -> OwnCorner:
    """Within the piece, whichever way its ends lean."""
    turned = cut.lies in (END_FOR_END, BOTH)
    at = min(cut.end, cut.near_end) if turned else max(cut.start, cut.near_start)
    y, up = ("100%", -1) if cut.upside_down else ("0", 1)
    return OwnCorner(share(at, whole), y, -1 if turned else 1, up, "front" if cut.lies in (AS_IS, BOTH) else "back")


def trims(profile: ProfilePlan, stick: Stick) -> Iterator[tuple[Fraction, Fraction]]:
    """What squaring the two ends takes."""
    if profile.one_per_stick:
        yield Fraction(0), stick.cuts[0].start
        yield stick.cuts[0].end, stick.length
        return
    yield Fraction(0), squared_end(profile, stick)
    if not stick.keep:
        yield stick.length - stick.tail_trim, stick.length


def room_for(cut: Cut, longest: Fraction, write: Writer) -> int:
    """How wide a page must be for the piece to hold its length; 0 where none is."""
    needed = LETTER * len(write.length(cut.length)) + 8
    shorter = min(cut.end - cut.start, cut.near_end - cut.near_start) if cut.lies else cut.length
    return next((width for width in WIDTHS if float(shorter / longest) * width >= needed), 0)


def label(cut: Cut, stick: Stick, room: int, write: Writer) -> BarLabel:
    return BarLabel(room, middle(cut, stick), write.length(cut.length))


def middle(cut: Cut, stick: Stick) -> str:
    return share((cut.start + cut.end + cut.near_start + cut.near_end) / 4 if cut.lies else (cut.start + cut.end) / 2,
                 stick.length)


def hole_places(profile: ProfilePlan, stick: Stick) -> Iterator[Fraction]:
    """The holes of a stick that has them, from its own end."""
    if profile.routing is None or stick.first is None:
        return
    at = stick.first_from_squared(profile.routing.pitch)
    while at < stick.length - profile.left_by(stick).plain:
        if at >= 0:
            yield at
        at += profile.routing.pitch
