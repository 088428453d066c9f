"""How a gate hangs: its sides, hinges and latch, the ground under it, and the care that a wide or heavy leaf wants."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import show
from cutplan.orders import Order
from cutplan.shop import GateRule, Shop
from cutplan.shop.figures import weight_text
from cutplan.takeoff.assembly import Outline, Part, of_kind
from cutplan.takeoff.words import say

# How far a latch may stand over its upright before somebody asks: a hand's breadth. Common practice, no source.
HAND = {"in": Fraction(4), "mm": Fraction(100)}


@dataclass(frozen=True)
class Hanging:
    """Heights from the finished ground, where that is highest under the gate. Lengths in the file's unit.

    side:         on which the hinges are: "left", "right" or "both" (two leaves)
    hinges:       the heights of the hinges from the lowest up; by_rails: of the lower one the bottom, in line with the
                  bottom rail's upper edge, of the upper one the top, in line with the top rail's lower edge; else of
                  their middles. None where the faces of the rails are not known
    latch:        the latch's height (None: not said)
    thickness:    of the leaf, front to back; measured: whether the shop file says it, else as its uprights are wide
    fall:         how much lower the ground is at one side of the leaves than at the other, and `low_side`, which
    weight:       of one leaf in kg, without hardware (None: no profile's is known); whole: whether all are known
    """

    side: str
    hinges: tuple[Fraction, ...] | None
    by_rails: bool
    latch: Fraction | None
    thickness: Fraction
    measured: bool
    foot: Fraction
    fall: Fraction
    low_side: str
    weight: Fraction | None
    whole: bool


def hanging(order: Order, rule: GateRule, parts: Sequence[Part], squared: Sequence[Outline], shop: Shop) -> Hanging:
    (top,), (bottom,) = of_kind(parts, "top rail", leaf=1), of_kind(parts, "bottom rail", leaf=1)
    at_rails = (bottom.high, top.low) if top.sized and bottom.sized else None
    across = max(x for outline in squared for x, _ in outline) - min(x for outline in squared for x, _ in outline)
    known = [(one, shop.profiles[one.profile].weight) for one in parts if one.leaf == 1]
    weighed = [one.count * one.length * weight for one, weight in known if weight is not None]
    return Hanging(
        side="both" if order.leaves == 2 else order.hinges,
        hinges=rule.hinges_at or at_rails,
        by_rails=not rule.hinges_at,
        latch=rule.latch_height,
        thickness=rule.upright_wall + rule.rail_insertion if rule.thickness is None else rule.thickness,
        measured=rule.thickness is not None,
        foot=rule.ground_clearance,
        fall=abs(order.rake) * across,
        low_side="" if not order.rake else "left" if order.rake > 0 else "right",
        weight=sum(weighed, Fraction(0)) if weighed else None,
        whole=len(weighed) == len(known),
    )


def gaps_beside(opening: Fraction, opening_bottom: Fraction | None, squared: Sequence[Outline]
                ) -> tuple[tuple[Fraction, Fraction], ...]:
    """Between the posts and the leaves of a gate and between two leaves, from the left: each gap at the narrow and at
    the wide end of the opening, whose posts lean alike."""
    lean = (opening - (opening_bottom or opening)) / 2
    left, right = max(Fraction(0), lean), min(opening, opening - lean)
    edges = [left, *(x for (a, _), (b, _), *_ in squared for x in (a, b)), right]
    gaps = [after - before for before, after in zip(edges[::2], edges[1::2], strict=True)]
    return tuple((gap, gap + abs(lean) * (k in (0, len(gaps) - 1))) for k, gap in enumerate(gaps))


def swing_squared(outline: Outline, thickness: Fraction) -> tuple[Fraction, Fraction]:
    """The width of a leaf, and the square of how far its far corner reaches from the hinge: width^2 + thickness^2."""
    xs = [x for x, _ in outline]
    width = max(xs) - min(xs)
    return width, width**2 + thickness**2


def cautions(order: Order, rule: GateRule, one: Hanging, parts: Sequence[Part], squared: Sequence[Outline],
             shop: Shop) -> Iterator[str]:
    """What a shop should think twice about, in sentences."""
    unit = shop.unit
    width, reach = swing_squared(squared[0], one.thickness)
    if rule.widest_leaf is not None and width > rule.widest_leaf:
        ways = ["another hinge", "a brace", "a wheel", "two leaves"][:3 if order.leaves == 2 else 4]
        ways = [way for way in ways if way != "a brace" or not of_kind(parts, "brace")]
        yield (f"A leaf is {say(width, unit)} wide. The shop file trusts these hinges and posts up to "
               f"{say(rule.widest_leaf, unit)}: think of {', '.join(ways[:-1])} or {ways[-1]}.")
    if rule.heaviest_leaf is not None and one.weight is not None and one.weight > rule.heaviest_leaf:
        known = f"{weight_text(one.weight, unit, one.whole)}{'' if one.whole else ' or more'}"
        yield (f"A leaf weighs {known}. The shop file trusts these hinges with "
               f"{weight_text(rule.heaviest_leaf, unit)}: look up what they may carry.")
    room = rule.meeting_gap if order.leaves == 2 else rule.latch_gap
    if reach > (width + room) ** 2:
        other = "the other leaf" if order.leaves == 2 else "the latch post"
        yield (f"The far corner of the leaf strikes {other} when it swings: the gap there is {say(room, unit)}. Widen "
               "it, or bevel the edge.")
    top = squared[0][-1][1]
    if one.latch is not None and one.latch > top + HAND[unit]:
        yield (f"The latch is {say(one.latch, unit)} above the ground, {say(one.latch - top, unit)} over the tops of "
               "the uprights: see what carries it there.")
    if one.fall:
        falls = f"{show(one.fall, unit, shop.tape)} {unit}"
        yield (f"The ground falls {falls} to the {one.low_side}. Where the gate swings over higher ground, try its "
               "sweep before you hang it.")
