"""Where the leaves of a gate and the rails of a bay begin and end, across the opening. Lengths in the file's unit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from cutplan.orders import Order
from cutplan.shop import BayRule, GateRule, RunRule

Span = tuple[Fraction, Fraction]  # from x to x


@dataclass(frozen=True)
class Panel:
    """The room between two uprights or two posts, in which pickets show: `top` at the top rail, `bottom` at the bottom.

    Both ends of a rail go on beyond it by `hidden`. Leaves, and the bays of a run, are counted from the left (`leaf`;
    0: a bay alone). In a leaf of a gate an upright goes on by its `wall` beyond the rail (None: there are posts).
    """

    top: Span
    bottom: Span
    hidden: Fraction
    leaf: int = 0
    wall: Fraction | None = None

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
        beyond = self.hidden + (self.wall or 0)
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


def post_spans(order: Order, rule: RunRule) -> tuple[Span, ...]:
    """The posts of a run: as few as leave no bay wider than max_bay, all bays alike.

    Between walls n = ceil((R + p) / (B + p)) bays and n - 1 posts; with end posts n = ceil((R - p) / (B + p)) bays and
    n + 1 posts, the outer faces of the two last at the run's ends.
    """
    run, wide = order.opening, rule.post_width
    sign = -1 if order.ends == "posts" else 1
    bays = max(1, math.ceil((run + sign * wide) / (rule.max_bay + wide)))
    bay = (run - (bays - sign) * wide) / bays
    first = Fraction(0) if order.ends == "posts" else bay
    return tuple((first + k * (bay + wide), first + k * (bay + wide) + wide) for k in range(bays - sign))


def run_panels(order: Order, rule: BayRule, posts: tuple[Span, ...]) -> tuple[Panel, ...]:
    """The bays between the posts of a run, and between them and its walls."""
    edges = [edge for post in posts for edge in post]
    edges = edges[1:-1] if order.ends == "posts" else [Fraction(0), *edges, order.opening]
    spans = zip(edges[::2], edges[1::2], strict=True)
    return tuple(Panel(span, span, rule.hidden, leaf) for leaf, span in enumerate(spans, start=1))
