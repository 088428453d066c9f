"""Whether the placed parts of an opening are what its allowances ask for. Reads outlines only: no layout, no panel.

Every part lies inside the opening, or where posts and uprights take it in; no two of them overlap unless one is held in
the other; every gap between neighbours is the one that is told; pieces are as long as their outlines. InputProblems are
for what the shop asks and cannot have; what is found here is a fault of cutplan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from cutplan.orders import Order
from cutplan.problems import FailedAudit
from cutplan.shop import Shop, System
from cutplan.takeoff.assembly import Outline, Part
from cutplan.takeoff.cards import Card

HORIZONTAL = ("top rail", "mid rail", "bottom rail", "insert")
HELD = {frozenset(pair) for pair in (
    ("picket", "top rail"), ("picket", "mid rail"), ("picket", "bottom rail"), ("picket", "insert"),
    ("insert", "top rail"), ("insert", "mid rail"), ("insert", "bottom rail"), ("insert", "upright"),
    ("upright", "top rail"), ("upright", "mid rail"), ("upright", "bottom rail"),
)}  # fmt: skip


@dataclass(frozen=True)
class PlacedBox:
    """The least box about one placed part."""

    part: str
    leaf: int
    left: Fraction
    low: Fraction
    right: Fraction
    high: Fraction


def audit(order: Order, card: Card, system: System, shop: Shop) -> None:
    """FailedAudit with everything that is wrong."""
    boxes = [bounds(part, outline) for part in card.parts for outline in part.outlines()]
    faults = [*inside(order, system, boxes), *apart(boxes), *lengths(card.parts, shop.tape),
              *gaps(order, card, system, boxes), *squares(order, card, system)]
    if faults:
        raise FailedAudit("\n".join([f"{order.mark}: the takeoff failed its own audit; nothing is shown:", *faults]))


def bounds(part: Part, outline: Outline) -> PlacedBox:
    xs, ys = zip(*outline, strict=True)
    return PlacedBox(part.part, part.leaf, min(xs), min(ys), max(xs), max(ys))


def posts(order: Order, at: Fraction) -> tuple[Fraction, Fraction]:
    """The faces of the two posts, so far (0 to 1) up from the bottom to the top."""
    lean = Fraction(0) if order.opening_bottom is None else (order.opening - order.opening_bottom) / 2
    return lean * (1 - at), order.opening - lean * (1 - at)


def inside(order: Order, system: System, boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """Pickets and uprights stand between the faces of the posts at both ends; only a bay's rails go into the posts."""
    faces = [posts(order, at) for at in (Fraction(0), Fraction(1))]
    left, right = max(low for low, _ in faces), min(high for _, high in faces)
    deep = system.bay.rail_insertion if order.kind == "bay" and system.bay else Fraction(0)
    for one in boxes:
        if one.part in HORIZONTAL:
            most = min(low for low, _ in faces) - deep, max(high for _, high in faces) + deep
            if not most[0] <= one.left < one.right <= most[1]:
                yield f"a {one.part} from {one.left} to {one.right} is out of the opening"
        elif not left <= one.left <= one.right <= right:
            yield f"a {one.part} from {one.left} to {one.right} is not between the posts"
        if one.part != "picket" and not 0 <= one.low < one.high <= order.height:
            yield f"a {one.part} from {one.low} to {one.high} up is not within the height"


def apart(boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """Parts overlap only where one is held in the other; a brace lies on the face of its frame."""
    flat = sorted((one for one in boxes if one.part != "brace"), key=lambda one: one.left)
    upright = [one for one in flat if one.part not in HORIZONTAL]
    across = [one for one in flat if one.part in HORIZONTAL]
    for before, after in pairwise(upright):
        # rows of pickets above one another begin at one place
        if before.right > after.left and before.low < after.high and after.low < before.high:
            yield f"a {before.part} and a {after.part} overlap at {after.left}"
    for k, one in enumerate(across):
        for other in across[k + 1:]:
            held = frozenset((one.part, other.part)) in HELD and one.leaf == other.leaf
            meet = (one.left < other.right and other.left < one.right and one.low < other.high and other.low < one.high)
            if meet and not held:
                yield f"a {one.part} and a {other.part} overlap at {max(one.low, other.low)} up"


def lengths(parts: Sequence[Part], tape: Fraction) -> Iterator[str]:
    """A piece is as long as its outline; a brace at least, and by less than a mark of the tape longer."""
    for part in parts:
        xs, ys = zip(*part.outline, strict=True)
        across, up = max(xs) - min(xs), max(ys) - min(ys)
        if part.part == "brace":
            fits = across**2 + up**2 <= part.length**2 and (part.length - tape) ** 2 < across**2 + up**2
        else:
            fits = part.length == (across if part.part in HORIZONTAL else up)
        if not fits:
            yield f"a {part.part} of {part.length} is drawn {across} by {up}"


def gaps(order: Order, card: Card, system: System, boxes: Sequence[PlacedBox]) -> Iterator[str]:
    """From face to face across each row of pickets, and between posts and leaves."""
    for leaf in sorted({one.leaf for one in boxes}):
        left, right = faces(order, system, [one for one in boxes if one.leaf == leaf])
        row = sorted({(one.left, one.right) for one in boxes if one.leaf == leaf and one.part == "picket"})
        edges = [left, *(edge for picket in row for edge in picket), right]
        found = [edges[k + 1] - edges[k] for k in range(0, len(edges), 2)]
        told = card.layout
        if {found[0], found[-1]} != {told.end_gap} or any(gap != told.gap for gap in found[1:-1]):
            yield f"the gaps are {found[0]} and {found[1:2]}, and {told.end_gap} and {told.gap} are told"
        if told.end_gap + told.splay > system.max_gap or (told.pitch is None and max(found) > system.max_gap):
            yield f"a gap is wider than {system.max_gap}"
        if len(row) != told.count:
            yield f"{len(row)} pickets stand where {told.count} are told"
    if order.kind == "gate" and system.gate:
        yield from about_leaves(order, card, system)


def faces(order: Order, system: System, boxes: Sequence[PlacedBox]) -> tuple[Fraction, Fraction]:
    """Where the narrowest clear width of a leaf or bay begins and ends."""
    if order.kind == "bay":
        both = [posts(order, at) for at in (Fraction(0), Fraction(1))]
        return max(low for low, _ in both), min(high for _, high in both)
    rails = [one for one in boxes if one.part == "top rail"]
    deep = system.gate.rail_insertion if system.gate else Fraction(0)
    return rails[0].left + deep, rails[0].right - deep


def about_leaves(order: Order, card: Card, system: System) -> Iterator[str]:
    """The gaps beside and between leaves, at the narrow end of the opening."""
    rule = system.gate
    assert rule is not None
    at = Fraction(int(order.opening_bottom is None or order.opening <= order.opening_bottom))
    left, right = posts(order, at)
    edges = [left, *(x for outline in card.squared for x in (outline[0][0], outline[1][0])), right]
    found = [edges[k + 1] - edges[k] for k in range(0, len(edges), 2)]
    one = [rule.hinge_gap, rule.latch_gap] if order.hinges == "left" else [rule.latch_gap, rule.hinge_gap]
    told = one if order.leaves == 1 else [rule.hinge_gap, rule.meeting_gap, rule.hinge_gap]
    if found != told:
        yield f"the gaps beside the leaves are {found}, and {told} are asked for"


def squares(order: Order, card: Card, system: System) -> Iterator[str]:
    """The corners between which the diagonals go are corners of placed parts, and both diagonals are alike."""
    corners = {point for part in card.parts for outline in part.outlines() for point in outline}
    for outline in card.squared:
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = outline
        if (cx - ax) ** 2 + (cy - ay) ** 2 != (dx - bx) ** 2 + (dy - by) ** 2:
            yield "the diagonals of what is squared differ"
        if (order.kind == "bay" or system.upright) and not set(outline) <= corners:
            yield "what is squared is not at the corners of placed parts"
