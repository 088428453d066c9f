"""Whether the placed parts of an opening are what its allowances ask for. Reads outlines only: no layout, no panel.

Heights are looked at over the ground straight below, which rises with a rake. Every part lies inside the opening, or
where posts and uprights take it in; no two of them overlap unless one is held in the other; every gap between
neighbours is the one that is told; pieces are as long as their outlines. InputProblems are for what the shop asks and
cannot have; what is found here is a fault of cutplan.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, pairwise

from cutplan.orders import Order
from cutplan.problems import FailedAudit
from cutplan.shop import Shop, System
from cutplan.takeoff.assembly import Part
from cutplan.takeoff.cards import Card

HORIZONTAL = ("top rail", "mid rail", "bottom rail", "insert")
HELD = {frozenset(pair) for pair in (
    ("picket", "top rail"), ("picket", "mid rail"), ("picket", "bottom rail"), ("picket", "insert"),
    ("insert", "top rail"), ("insert", "mid rail"), ("insert", "bottom rail"), ("insert", "upright"),
    ("upright", "top rail"), ("upright", "mid rail"), ("upright", "bottom rail"),
)}  # fmt: skip

ToSteps = Callable[[Fraction], int]


@dataclass(frozen=True)
class PlacedBox:
    """The least box about one placed part, in whole steps; `under` and `over` are its heights over the ground below."""

    part: str
    leaf: int
    left: int
    low: int
    right: int
    high: int
    under: int
    over: int


@dataclass(frozen=True)
class Site:
    """What is asked for, in whole steps that all lengths are a number of: fractions are slow to add and compare.

    top, bottom: from face to face of the posts, at the top and the bottom of the opening
    lean:        what a face is further in at the bottom than at the top
    insertion:   how deep an upright of a gate, or a post beside a bay, is for a rail's end
    beside:      the gaps beside and between the leaves of a gate, from the left
    rise, run:   of a rake, in lowest terms; 0 and 1 where the rails are level
    """

    kind: str
    top: int
    bottom: int
    lean: int
    height: int
    insertion: int
    beside: tuple[int, ...]
    widest: int
    gap: int
    end_gap: int
    splay: int
    count: int
    routed: bool
    tape: int
    ends: str
    most_bay: int
    rise: int
    run: int


def audit(order: Order, card: Card, system: System, shop: Shop) -> None:
    """FailedAudit with everything that is wrong."""
    steps = in_steps(lengths_of(order, card, system, shop))
    site = site_of(order, card, system, shop, steps)
    boxes = [box for part in card.parts for box in boxes_of(part, order.slope, steps)]
    faults = [*inside(site, boxes), *apart(boxes), *sizes(card.parts, boxes, site, steps), *gaps(site, boxes),
              *about_leaves(site, card, steps), *about_posts(site, boxes), *squares(site, card, system, steps)]
    if order.slope:
        faults += [*leans(order, card, system, shop), *stands(order, card, system)]
    if faults:
        raise FailedAudit("\n".join([f"{order.mark}: the takeoff failed its own audit; nothing is shown:", *faults]))


def lengths_of(order: Order, card: Card, system: System, shop: Shop) -> Iterator[Fraction]:
    """Every length that is looked at."""
    rake = order.slope
    for part in card.parts:
        yield from chain.from_iterable(part.outline)
        yield from part.shifts
        yield part.length
        if rake:
            yield from chain.from_iterable((y, rake * x) for outline in part.outlines() for x, y in outline)
    for outline in card.squared:
        yield from chain.from_iterable(outline)
    layout, gate, bay = card.layout, system.gate, system.bay
    yield from (order.opening, order.opening_bottom or order.opening, order.height, system.max_gap, shop.tape)
    yield from (layout.gap, layout.end_gap, layout.splay)
    yield from (gate.hinge_gap, gate.latch_gap, gate.meeting_gap, gate.rail_insertion) if gate else ()
    yield from (bay.rail_insertion,) if bay else ()
    yield from (system.run.max_bay,) if system.run else ()


def in_steps(lengths: Iterable[Fraction]) -> ToSteps:
    """What turns a length into whole steps; a difference of two openings has a half, too."""
    unit = 2 * math.lcm(*{length.denominator for length in lengths})
    return lambda length: length.numerator * (unit // length.denominator)


def site_of(order: Order, card: Card, system: System, shop: Shop, steps: ToSteps) -> Site:
    top, bottom = steps(order.opening), steps(order.opening_bottom or order.opening)
    gate, bay, layout = system.gate, system.bay, card.layout
    beside: tuple[int, ...] = ()
    if order.kind == "gate" and gate:
        hinge, latch, meeting = steps(gate.hinge_gap), steps(gate.latch_gap), steps(gate.meeting_gap)
        beside = (hinge, latch) if order.hinges == "left" else (latch, hinge)
        beside = (hinge, meeting, hinge) if order.leaves == 2 else beside
    insertion = gate.rail_insertion if order.kind == "gate" and gate else bay.rail_insertion if bay else Fraction(0)
    return Site(order.kind, top, bottom, (top - bottom) // 2, steps(order.height), steps(insertion), beside,
                steps(system.max_gap), steps(layout.gap), steps(layout.end_gap), steps(layout.splay), layout.count,
                layout.pitch is not None, steps(shop.tape), order.ends, steps(system.run.max_bay) if system.run else 0,
                *order.slope.as_integer_ratio())


def boxes_of(part: Part, rake: Fraction, steps: ToSteps) -> Iterator[PlacedBox]:
    if rake:
        for outline in part.outlines():
            xs, ys = ([steps(value) for value in values] for values in zip(*outline, strict=True))
            over = [steps(y - rake * x) for x, y in outline]
            yield PlacedBox(part.part, part.leaf, min(xs), min(ys), max(xs), max(ys), min(over), max(over))
        return
    xs, ys = ([steps(value) for value in values] for values in zip(*part.outline, strict=True))
    left, right, low, high = min(xs), max(xs), min(ys), max(ys)
    for shift in map(steps, part.shifts):
        yield PlacedBox(part.part, part.leaf, left + shift, low, right + shift, high, low, high)


def narrow(site: Site) -> tuple[int, int]:
    """Between the faces of the posts at every height."""
    return max(0, site.lean), min(site.top, site.top - site.lean)


def inside(site: Site, boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """Pickets and uprights stand between the faces of the posts at both ends; only a bay's rails go into the posts."""
    left, right = narrow(site)
    deep = 0 if site.kind == "gate" else site.insertion
    most = min(0, site.lean) - deep, max(site.top, site.top - site.lean) + deep
    for one in boxes:
        first, last = most if one.part in HORIZONTAL else (left, right)
        if not first <= one.left <= one.right <= last:
            yield f"a {one.part} is out of the opening"
        if one.part != "post" and not 0 <= one.under < one.over <= site.height:
            yield f"a {one.part} is not within the height"


def apart(boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """Parts overlap only where one is held in the other; a brace lies on the face of its frame."""
    flat = sorted((one for one in boxes if one.part != "brace"), key=lambda one: (one.left, one.low))
    upright = [one for one in flat if one.part not in HORIZONTAL]
    across = [one for one in flat if one.part in HORIZONTAL]
    for before, after in pairwise(upright):  # rows of pickets above one another begin at one place
        if min(before.right, after.right) > after.left and before.low < after.high and after.low < before.high:
            yield f"a {before.part} and a {after.part} overlap"
    for k, one in enumerate(across):
        for other in across[k + 1:]:
            held = frozenset((one.part, other.part)) in HELD and one.leaf == other.leaf
            meet = (one.left < other.right and other.left < one.right
                    and one.under < other.over and other.under < one.over)
            if meet and not held:
                yield f"a {one.part} and a {other.part} overlap"


def sizes(parts: Sequence[Part], boxes: Sequence[PlacedBox], site: Site, steps: ToSteps) -> Iterator[str]:
    """A piece is as long as its outline; a brace at least, and by less than a mark of the tape longer. A rail along a
    rake is as long as its outline to the nearest mark; with rise a and run b it is sqrt(a^2 + b^2) / b as long as it is
    level."""
    each = iter(boxes)
    for part in parts:
        one, length = next(each), steps(part.length)
        for _ in part.shifts[1:]:
            next(each)
        across, up = one.right - one.left, one.high - one.low
        if site.rise and part.part == "insert":
            fits = True  # it hangs on its rail's length: see `leans`
        elif site.rise and part.part in HORIZONTAL:
            sloped, twice = 4 * across**2 * (site.rise**2 + site.run**2), 2 * length
            low, high = (twice - site.tape) * site.run, (twice + site.tape) * site.run
            fits = length % site.tape == 0 and max(0, low) ** 2 <= sloped < high**2
        elif part.part == "brace":
            fits = across**2 + up**2 <= length**2 and (length - site.tape) ** 2 < across**2 + up**2
        else:
            fits = length == (across if part.part in HORIZONTAL else up)
        if not fits:
            yield f"a {part.part} is drawn otherwise than {part.length} long"


def gaps(site: Site, boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """From face to face across the pickets of each leaf or bay."""
    spans = bays(site, boxes)
    for k, leaf in enumerate(sorted({one.leaf for one in boxes if one.part == "top rail"})):
        left, right = spans[k] if spans else faces(site, [one for one in boxes if one.leaf == leaf])
        row = sorted({(one.left, one.right) for one in boxes if one.leaf == leaf and one.part == "picket"})
        edges = [left, *chain.from_iterable(row), right]
        found = [after - before for before, after in zip(edges[::2], edges[1::2], strict=True)]
        if {found[0], found[-1]} != {site.end_gap} or any(gap != site.gap for gap in found[1:-1]):
            yield "the gaps between pickets are not those that are told"
        if site.end_gap + site.splay > site.widest or (not site.routed and max(found) > site.widest):
            yield "a gap is wider than max_gap"
        if len(row) != site.count:
            yield f"{len(row)} pickets stand where {site.count} are told"


def faces(site: Site, boxes: Sequence[PlacedBox]) -> tuple[int, int]:
    """Where the narrowest clear width of a leaf or bay begins and ends."""
    if site.kind == "bay":
        return narrow(site)
    rail = next(one for one in boxes if one.part == "top rail")
    return rail.left + site.insertion, rail.right - site.insertion


def bays(site: Site, boxes: Sequence[PlacedBox]) -> list[tuple[int, int]]:
    """The bays of a run, from face to face of its posts and walls; none of anything else."""
    if site.kind != "run":
        return []
    edges = [edge for one in boxes if one.part == "post" for edge in (one.left, one.right)]
    edges = edges[1:-1] if site.ends == "posts" else [0, *edges, site.top]
    return list(zip(edges[::2], edges[1::2], strict=True))


def about_posts(site: Site, boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """The bays of a run are alike, none wider than max_bay, and one fewer would be wider."""
    widths = [right - left for left, right in bays(site, boxes)]
    if not widths:
        return
    posts = [one for one in boxes if one.part == "post"]
    if len(set(widths)) > 1 or widths[0] > site.most_bay:
        yield "the bays of the run are not alike, or wider than max_bay"
    if len(widths) > 1 and posts:
        wide = posts[0].right - posts[0].left
        fewer = len(widths) - 1
        if (sum(widths) + wide) <= fewer * site.most_bay:
            yield "the run could have fewer bays"
    if site.ends == "posts" and (posts[0].left, posts[-1].right) != (0, site.top):
        yield "the end posts are not at the ends of the run"


def about_leaves(site: Site, card: Card, steps: ToSteps) -> Iterator[str]:
    """The gaps beside and between leaves, at the narrow end of the opening."""
    if site.kind != "gate":
        return
    left, right = narrow(site)
    edges = [left, *(steps(x) for (a, _), (b, _), *_ in card.squared for x in (a, b)), right]
    found = tuple(after - before for before, after in zip(edges[::2], edges[1::2], strict=True))
    if found != site.beside:
        yield "the gaps beside the leaves are not those that are asked for"


def squares(site: Site, card: Card, system: System, steps: ToSteps) -> Iterator[str]:
    """The corners between which the diagonals go are corners of placed parts."""
    names = ("upright",) if site.kind == "gate" else ("top rail", "bottom rail")
    corners = {(steps(x) + steps(shift), steps(y)) for part in card.of(*names) for shift in part.shifts
               for x, y in part.outline}
    squared = [[(steps(x), steps(y)) for x, y in outline] for outline in card.squared]
    if (site.kind != "gate" or system.upright) and not all(set(outline) <= corners for outline in squared):
        yield "what is squared is not at the corners of placed parts"
    for (ax, ay), (bx, by), (cx, cy), (dx, dy) in squared:
        if site.rise:
            if (ax, bx, cx - dx) != (dx, cx, bx - ax) or any(
                    (right[1] - left[1]) * site.run != (right[0] - left[0]) * site.rise
                    for left, right in (((ax, ay), (bx, by)), ((dx, dy), (cx, cy)))):
                yield "what is squared is not plumb at its sides and along the rake"
        elif (cx - ax) ** 2 + (cy - ay) ** 2 != (dx - bx) ** 2 + (dy - by) ** 2:
            yield "the diagonals of what is squared differ"


def leans(order: Order, card: Card, system: System, shop: Shop) -> Iterator[str]:
    """The rails and inserts of a raked opening go with it, between plumb ends that are set in as their faces ask; each
    insert is as long as its rail less insert_short, and lies in it."""
    rake, rails = order.slope, {(one.leaf, one.called): one for one in card.parts if one.part.endswith(" rail")}
    for one in card.parts:
        profile = shop.profiles[one.profile]
        face = Fraction(0) if profile.one_per_stick or profile.routing else profile.face  # none but inserts
        if one.part in HORIZONTAL:
            (ax, ay), (bx, by), (cx, cy), (dx, dy) = one.outline
            if (ax, bx) != (dx, cx) or by - ay != rake * (bx - ax) or cy - dy != rake * (cx - dx):
                yield f"a {one.part} is not along the rake between plumb ends"
            if (one.left_in, one.right_in) != (-rake * (face or 0), rake * (face or 0)):
                yield f"the ends of a {one.part} are not cut plumb"
        elif one.left_in or one.right_in:
            yield f"the ends of a {one.part} are not square"
        if one.part == "picket" and len({y - rake * x for (x, y), *_ in one.outlines()}) > 1:
            yield "the pickets of a row are not alike over the ground"
        if one.part == "insert":
            rail = rails.get((one.leaf, one.place))
            if rail is None or rail.length - one.length != system.insert_short or not (
                    rail.outline[0][0] <= one.outline[0][0] < one.outline[1][0] <= rail.outline[1][0]):
                yield "an insert is not as long as its rail asks for"


def stands(order: Order, card: Card, system: System) -> Iterator[str]:
    """Each post of a raked run goes from post_below under the lowest ground at it to post_above over the ground below
    the highest point where a rail meets it."""
    rule, rails = system.run, sorted({(one.outline[0][0], one.outline[1][0]) for one in card.of("top rail")})
    placed = sorted(outline for post in card.of("post") for outline in post.outlines())
    for k, outline in enumerate(placed):
        (left, low), (right, _), (_, high), _ = outline
        beside = rails[max(0, k - 1): k + 2]  # a post stands between two bays, or beside one
        meets = [x for a, b in beside if a <= right and left <= b for x in (max(a, left), min(b, right))]
        ground = [order.slope * x for x in (left, right)]
        if rule is None or low != min(ground) - rule.post_below or (
                high != max(order.slope * x for x in meets) + rule.post_above):
            yield "a post is not as long as the ground and the rails at it ask for"
