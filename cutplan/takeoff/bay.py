"""A railing bay: rails between two posts that stand already and are not cut from the week."""

from __future__ import annotations

from cutplan.orders import Order
from cutplan.shop import BayRule, System
from cutplan.takeoff.frame import Dimensions


def bay_frame(order: Order, system: System, rule: BayRule) -> Dimensions:
    """The frame of a bay. Lengths in the file's unit.

    rail = opening - 2 x end_clearance + 2 x rail_insertion; picket = height - picket_allowance. A rail stops short of
    its post's inmost by the clearance, so the pickets show over the whole opening. What can be measured across a bay
    are the outer corners of its rails.
    """
    rail = order.opening - 2 * rule.end_clearance + 2 * rule.rail_insertion
    return Dimensions(
        rail=rail,
        rail_insertion=rule.rail_insertion,
        hidden=rule.hidden,
        width=rail,
        panel_height=order.height - system.above_top_rail - system.below_bottom_rail,
        picket=order.height - system.picket_allowance,
    )
