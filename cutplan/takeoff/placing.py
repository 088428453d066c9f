"""The parts of one leaf or bay, each placed. Lengths in the file's unit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutplan.lengths import nearest_root
from cutplan.orders import Order
from cutplan.shop import RunRule, Shop, System
from cutplan.takeoff.assembly import GRAIN, Corner, Outline, Part, along, box, raked
from cutplan.takeoff.heights import Heights, RailLevel, rows
from cutplan.takeoff.panels import Panel, Span
from cutplan.takeoff.pickets import PicketLayout

UPPER = "upper end"  # the last post up a rake


def place(panel: Panel, levels: Heights, layout: PicketLayout, order: Order, shop: Shop) -> Iterator[Part]:
    """Rails from the top down, inserts, pickets, uprights, brace."""
    system = shop.systems[order.system]
    rails = [rail_part(rail, *panel.rail(levels.share(rail)), panel.leaf, order.slope, shop)
             for rail in reversed(levels.rails)]
    yield from rails
    for rail in rails:
        yield from inserts(rail, system, shop)
    yield from pickets(panel, levels, layout, order.slope, system, shop.tape)
    if panel.wall is not None and system.upright:
        left, right = panel.outer
        across = panel.hidden + panel.wall
        yield Part("upright", system.upright, levels.top - levels.foot,
                   box(left, levels.foot, left + across, levels.top), panel.leaf,
                   shifts=(Fraction(0), right - left - across))
    if panel.wall is not None and system.brace:
        yield brace(panel, levels, system, shop, "right" if panel.leaf == 2 else order.hinges)


def rail_part(rail: RailLevel, left: Fraction, right: Fraction, leaf: int, rake: Fraction, shop: Shop) -> Part:
    """A rail from x to x. Along a rake its ends are plumb, so that the bottom corner of the lower end reaches out by
    face x rake, and that of the higher end lies as far in; its length is rounded to the tape."""
    length, set_in = along(right - left, rake, shop.tape), rake * (shop.profiles[rail.profile].face or 0)
    return Part(rail.name, rail.profile, length, raked(box(left, rail.low, right, rail.high), rake), leaf, rail.place,
                sized=rail.sized, rake=rake, left_in=-set_in, right_in=set_in,
                rounded=bool(rake) and length**2 != (right - left) ** 2 * (1 + rake**2))


def posts(spans: Sequence[Span], order: Order, rule: RunRule, hidden: Fraction) -> Iterator[Part]:
    """The posts of a run, from the left. On level ground all are alike.

    On a rake each is plumb, and reaches from post_below under the ground where that is lowest to post_above over the
    ground where a rail meets it highest: on its higher face, or in the last post up, which has a bay below it alone,
    where the rail ends in it, `hidden` behind its lower face.
    """
    rises, rake = order.rake > 0, order.rake
    groups = [("", spans)]
    if rake and order.ends == "posts":
        groups = [("", spans[:-1]), (UPPER, spans[-1:])] if rises else [(UPPER, spans[:1]), ("", spans[1:])]
    for place, group in groups if spans else ():
        left, right = group[0]
        lower, met = (left, right) if rises else (right, left)
        if place == UPPER:
            met = lower + hidden if rises else lower - hidden
        low, high = rake * lower - rule.post_below, rake * met + rule.post_above
        yield Part("post", rule.post, high - low, box(left, low, right, high), place=place,
                   shifts=tuple(x - left for x, _ in group), rake=rake)


def inserts(rail: Part, system: System, shop: Shop) -> Iterator[Part]:
    """The inserts of a rail, in its middle, one above the other; how high they are is a guess. Along a rake their ends
    are plumb too, where the shop file gives their face and they are not cut from blanks."""
    several = system.inserts_in[rail.part] if system.insert else 0
    each = (rail.high - rail.low) / (2 * several) if several else Fraction(0)
    back, low, rake = system.insert_short / 2, (3 * rail.low + rail.high) / 4, rail.rake
    level = nearest_root(back**2 / (1 + rake**2), Fraction(1, GRAIN)) if rake else back
    angles = shop.profiles[system.insert].angles if system.insert else None
    set_in = rake * angles.face if angles else Fraction(0)
    for k in range(several):
        placed = box(rail.left + level, low + k * each, rail.right - level, low + (k + 1) * each)
        yield Part("insert", system.insert or "", rail.length - 2 * back, raked(placed, rake), rail.leaf, rail.called,
                   sized=False, rake=rake, left_in=-set_in, right_in=set_in, rounded=rail.rounded)


def pickets(panel: Panel, levels: Heights, layout: PicketLayout, rake: Fraction, system: System, tape: Fraction
            ) -> Iterator[Part]:
    """The pickets of a panel, in one row or in one between each two rails.

    Along a rake they stand plumb with square ends, each at its heights in its middle; between rails, whose faces are
    irrational there, each is as long as its room down to a mark of the tape, so that no two meet in a mid rail.
    """
    if not layout.count:
        return
    narrow = min(panel.top, panel.bottom, key=lambda span: span[1] - span[0])
    start = narrow[0] - panel.hidden
    first = start + layout.marks[0] - system.picket_width / 2
    shifts = tuple(mark - layout.marks[0] for mark in layout.marks)
    lift = rake * (first + system.picket_width / 2)
    for name, low, high in rows(levels, system.pickets_at_mid_rail == "between"):
        length = high - low
        if rake and name:
            length = math.floor(length / tape) * tape or length
        foot = (low + high - length) / 2 + lift
        yield Part("picket", system.picket, length, box(first, foot, first + system.picket_width, foot + length),
                   panel.leaf, name, shifts, rake=rake, rounded=length != high - low)


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
    along = Fraction(math.isqrt(int(GRAIN**2 * (width**2 + height**2))), GRAIN) * face / (2 * height)
    along = Fraction(round(along * GRAIN), GRAIN)
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
