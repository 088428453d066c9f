"""The parts of one leaf or bay, each placed. Lengths in the file's unit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutplan.shop import RunRule, Shop, System
from cutplan.takeoff.assembly import Corner, Outline, Part, box
from cutplan.takeoff.heights import Heights, RailLevel, rows
from cutplan.takeoff.panels import Panel, Span
from cutplan.takeoff.pickets import PicketLayout

BAND_GRAIN = 1024  # parts of the unit to which the irrational edge of a brace is drawn


def place(panel: Panel, levels: Heights, layout: PicketLayout, system: System, shop: Shop, hinges: str
          ) -> Iterator[Part]:
    """Rails from the top down, inserts, pickets, uprights, brace. `hinges` is the side a leaf hangs on."""
    rails = [(rail, *panel.rail(levels.share(rail))) for rail in reversed(levels.rails)]
    for rail, left, right in rails:
        yield Part(rail.name, rail.profile, right - left, box(left, rail.low, right, rail.high), panel.leaf,
                   rail.place, sized=rail.sized)
    for rail, left, right in rails:
        yield from inserts(rail, left, right, system, panel.leaf)
    yield from pickets(panel, levels, layout, system)
    if panel.wall is not None and system.upright:
        left, right = panel.outer
        across = panel.hidden + panel.wall
        yield Part("upright", system.upright, levels.top - levels.foot,
                   box(left, levels.foot, left + across, levels.top), panel.leaf,
                   shifts=(Fraction(0), right - left - across))
    if panel.wall is not None and system.brace:
        yield brace(panel, levels, system, shop, hinges)


def posts(spans: Sequence[Span], rule: RunRule) -> Iterator[Part]:
    """The posts of a run, all alike."""
    if spans:
        (left, right), low, high = spans[0], -rule.post_below, rule.post_above
        yield Part("post", rule.post, high - low, box(left, low, right, high), shifts=tuple(x - left for x, _ in spans))


def inserts(rail: RailLevel, left: Fraction, right: Fraction, system: System, leaf: int) -> Iterator[Part]:
    """The inserts of a rail, in its middle, one above the other; how high they are is a guess."""
    several = system.inserts_in[rail.name] if system.insert else 0
    each = (rail.high - rail.low) / (2 * several) if several else Fraction(0)
    back, low = system.insert_short / 2, (3 * rail.low + rail.high) / 4
    for k in range(several):
        yield Part("insert", system.insert or "", right - left - 2 * back,
                   box(left + back, low + k * each, right - back, low + (k + 1) * each), leaf, rail.called, sized=False)


def pickets(panel: Panel, levels: Heights, layout: PicketLayout, system: System) -> Iterator[Part]:
    """The pickets of a panel, in one row or in one between each two rails."""
    if not layout.count:
        return
    narrow = min(panel.top, panel.bottom, key=lambda span: span[1] - span[0])
    start = narrow[0] - panel.hidden
    first = start + layout.marks[0] - system.picket_width / 2
    shifts = tuple(mark - layout.marks[0] for mark in layout.marks)
    for name, low, high in rows(levels, system.pickets_at_mid_rail == "between"):
        yield Part("picket", system.picket, high - low, box(first, low, first + system.picket_width, high), panel.leaf,
                   name, shifts)


def brace(panel: Panel, levels: Heights, system: System, shop: Shop, hinges: str) -> Part:
    """From the frame's inner corner at one end of the hinge side to the opposite one: in compression from the bottom
    hinge up, in tension from the top hinge down. Its piece goes from corner to corner, rounded up to the tape; its ends
    are scribed to the frame in place."""
    (left, right), low, high = panel.top, levels.rails[0].high, levels.rails[-1].low
    width, height = right - left, high - low
    rises = (system.brace_from == "bottom hinge") == (hinges == "left")
    face = shop.profiles[system.brace or ""].face or Fraction(0)
    return Part("brace", system.brace or "", rounded_up(width**2 + height**2, shop.tape),
                band((left, low), width, height, face, rises), panel.leaf)


def band(corner: Corner, width: Fraction, height: Fraction, face: Fraction, rises: bool) -> Outline:
    """What is left in a box of a bar so wide, laid from corner to corner: along the sides it takes x = (face / 2) x
    diagonal / height and x x height / width, so that its edges run along the diagonal."""
    along = Fraction(math.isqrt(int(BAND_GRAIN**2 * (width**2 + height**2))), BAND_GRAIN) * face / (2 * height)
    along = Fraction(round(along * BAND_GRAIN), BAND_GRAIN)
    up = along * height / width
    points = ((0, 0), (along, 0), (width, height - up), (width, height), (width - along, height), (0, up))
    x, y = corner
    if rises:
        return tuple((x + across, y + rise) for across, rise in points)
    return tuple((x + width - across, y + rise) for across, rise in reversed(points))


def rounded_up(square: Fraction, tape: Fraction) -> Fraction:
    """The root of a square, up to the next mark of the tape: by whole numbers alone."""
    marks = square / tape**2
    whole = math.isqrt(math.floor(marks))
    return (whole + (whole**2 < marks)) * tape
