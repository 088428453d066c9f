"""A gate: two uprights, the rails between them, and room for latch and hinges."""

from __future__ import annotations

from fractions import Fraction

from cutplan.orders import Order
from cutplan.shop import GateRule, Profile, System
from cutplan.takeoff.frame import Dimensions


def gate_frame(
    order: Order, system: System, rule: GateRule, top_rail: Profile, bottom_rail: Profile
) -> Dimensions:
    """The frame of a gate. Lengths in the file's unit.

    rail = opening - latch_gap - hinge_gap - 2 x upright_wall; the width goes over the uprights.
    picket = height - picket_allowance - picket_trim.
    """
    width = order.opening - rule.latch_gap - rule.hinge_gap
    return Dimensions(
        rail=width - 2 * rule.upright_wall,
        rail_insertion=rule.rail_insertion,
        hidden=rule.rail_insertion,
        width=width,
        panel_height=order.height,
        picket=order.height - system.picket_allowance - rule.picket_trim,
        upright=order.height if system.upright else None,
        top_hinge=top_hinge(order.height, system, top_rail),
        bottom_hinge=bottom_hinge(system, bottom_rail),
    )


def top_hinge(height: Fraction, system: System, top_rail: Profile) -> Fraction | None:
    """How high the upper hinge's top is: under the top rail. None where the rail's face is not known."""
    return None if top_rail.face is None else height - system.above_top_rail - top_rail.face


def bottom_hinge(system: System, bottom_rail: Profile) -> Fraction | None:
    """How high the lower hinge's bottom is: on the bottom rail. None where the rail's face is not known."""
    return None if bottom_rail.face is None else system.below_bottom_rail + bottom_rail.face
