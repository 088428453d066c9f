"""A stick drawn to scale. All sticks of a profile have one scale; widths are shares, so that they fit any page.

What is told by tone is told by pattern too: a piece is white, trim is grey, what is kept has dots, what is lost has
slanting lines, and a kerf is the dark line of its own width between two pieces.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from cutplan.lengths import show
from cutplan.plans.records import Cut, ProfilePlan, Stick
from cutplan.sheets.bench.html import percent
from cutplan.sheets.tape import squared_end
from cutplan.sheets.words import Writer

HEIGHT = 46  # pixels
LETTER = 9.5  # pixels that a letter of a label needs
WIDTHS = (340, 700, 1100)  # pixels a page may have: a telephone, paper or a tablet, a screen

PATTERNS = (
    '<svg class="patterns" aria-hidden="true"><defs>'
    '<pattern id="kept" width="9" height="9" patternUnits="userSpaceOnUse"><rect width="9" height="9" fill="#fff"/>'
    '<circle cx="4.5" cy="4.5" r="1.7" fill="#222"/></pattern>'
    '<pattern id="lost" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect width="7" height="7" fill="#ddd"/><rect width="2" height="7" fill="#666"/></pattern>'
    "</defs></svg>"
)


def bar(profile: ProfilePlan, stick: Stick, longest: Fraction, write: Writer) -> str:
    """The stick with its 0, the end squared first; `longest` is the length that fills the page's width."""
    parts = [rect("lost", Fraction(0), stick.length, stick.length)]
    parts += [rect("trim", start, end, stick.length) for start, end in trims(profile, stick) if end > start]
    if stick.keep:
        start = stick.cuts[-1].end + profile.kerf
        parts.append(rect("kept", start, start + stick.offcut, stick.length))
    high = "50%" if profile.routing is None else "36%"  # above the holes
    parts += [piece(cut, stick, longest, high, write) for cut in stick.cuts]
    parts += holes(profile, stick)
    zero = squared_end(profile, stick)
    x = percent(zero, stick.length)
    parts.append(f'<line class="zero" x1="{x}" x2="{x}" y1="0" y2="100%"/>')
    return (f'<div class="rod"><b class="zero" style="left:{percent(zero, longest)}">0</b>'
            f'<svg class="bar" style="width:{percent(stick.length, longest)}" height="{HEIGHT}" role="img" '
            f'aria-label="{len(stick.cuts)} pieces">{"".join(parts)}</svg></div>')


def trims(profile: ProfilePlan, stick: Stick) -> Iterator[tuple[Fraction, Fraction]]:
    """What squaring the two ends takes."""
    if profile.one_per_stick:
        yield Fraction(0), stick.cuts[0].start
        yield stick.cuts[0].end, stick.length
        return
    yield Fraction(0), squared_end(profile, stick)
    if not stick.keep:
        yield stick.length - stick.tail_trim, stick.length


def rect(kind: str, start: Fraction, end: Fraction, whole: Fraction) -> str:
    return f'<rect class="{kind}" x="{percent(start, whole)}" width="{percent(end - start, whole)}" height="100%"/>'


def piece(cut: Cut, stick: Stick, longest: Fraction, high: str, write: Writer) -> str:
    """A piece with its length, where that has room."""
    label = show(cut.length, write.unit, write.tape)
    room = next((width for width in WIDTHS if float(cut.length / longest) * width >= LETTER * len(label) + 8), None)
    shown = "" if room is None else (
        f'<text class="from{room}" x="{percent((cut.start + cut.end) / 2, stick.length)}" y="{high}">{label}</text>')
    return rect("piece", cut.start, cut.end, stick.length) + shown


def holes(profile: ProfilePlan, stick: Stick) -> list[str]:
    """The holes of a stick that has them, and a mark where the middle of each piece is."""
    if profile.routing is None or stick.first is None:
        return []
    at, found = stick.first_from_squared(profile.routing.pitch), []
    while at < stick.length - profile.left_by(stick).plain:
        if at >= 0:
            found.append(f'<circle class="hole" cx="{percent(at, stick.length)}" cy="78%" r="3"/>')
        at += profile.routing.pitch
    middles = [percent((cut.start + cut.end) / 2, stick.length) for cut in stick.cuts]
    return found + [f'<line class="middle" x1="{x}" x2="{x}" y1="66%" y2="100%"/>' for x in middles]
