"""Where the leaves of a gate and the rails of a bay begin and end, across the opening. Lengths in the file's unit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.orders import Order
from cutplan.shop import BayRule, GateRule

Span = tuple[Fraction, Fraction]  # from x to x


@dataclass(frozen=True)
class Panel:
    """The room between two uprights or two posts, in which pickets show: `top` at the top rail, `bottom` at the bottom.

    Both ends of a rail go on beyond it by `hidden`. In a `leaf` (counted from the left; 0: a bay) an upright goes on by
    its `wall` beyond that.
    """

    top: Span
    bottom: Span
    hidden: Fraction
    leaf: int = 0
    wall: Fraction = Fraction(0)

    @property
    def clear(self) -> Fraction:
        """The clear width where it is narrower."""
        return min(self.top[1] - self.top[0], self.bottom[1] - self.bottom[0])

    @property
    def splay(self) -> Fraction:
        """By how much each side is further out at the wide end than at the narrow one."""
        return abs(self.bottom[0] - self.top[0])

    @property
    def outer(self) -> Span:
        """Over the uprights of a leaf."""
        beyond = self.hidden + self.wall
        return self.top[0] - beyond, self.top[1] + beyond

    def rail(self, share: Fraction) -> Span:
        """Where a rail begins and ends that lies so far up from the bottom rail (0) to the top rail (1)."""
        left, right = self.top
        if self.bottom != self.top:
            left, right = (low + (high - low) * share for low, high in zip(self.bottom, self.top, strict=True))
        return left - self.hidden, right + self.hidden


def narrowest(order: Order) -> Fraction:
    return order.opening if order.opening_bottom is None else min(order.opening, order.opening_bottom)


def gate_panels(order: Order, rule: GateRule) -> tuple[Panel, ...]:
    """Each leaf of a gate, made for the narrower end of its opening.

    One leaf: width = opening - latch_gap - hinge_gap; two: (opening - 2 x hinge_gap - meeting_gap) / 2 each. Then
    rail = width - 2 x upright_wall and clear = rail - 2 x rail_insertion.
    """
    narrow = narrowest(order)
    side = (order.opening - narrow) / 2  # where the narrow end begins, seen from the top
    if order.leaves == 2:
        width = (narrow - 2 * rule.hinge_gap - rule.meeting_gap) / 2
        starts = [side + rule.hinge_gap, side + rule.hinge_gap + width + rule.meeting_gap]
    else:
        width = narrow - rule.latch_gap - rule.hinge_gap
        starts = [side + (rule.hinge_gap if order.hinges == "left" else rule.latch_gap)]
    beyond = rule.upright_wall + rule.rail_insertion
    spans = [(start + beyond, start + width - beyond) for start in starts]
    return tuple(Panel(span, span, rule.rail_insertion, leaf, rule.upright_wall)
                 for leaf, span in enumerate(spans, start=1))


def bay_panel(order: Order, rule: BayRule) -> Panel:
    """A bay between two posts that stand already: it shows over its whole opening, and each post hides the rail's end.

    rail = opening - 2 x end_clearance + 2 x rail_insertion. A bottom rail of another opening has half the difference at
    each side.
    """
    bottom = order.opening if order.opening_bottom is None else order.opening_bottom
    side = (order.opening - bottom) / 2
    return Panel((Fraction(0), order.opening), (side, side + bottom), rule.hidden)
