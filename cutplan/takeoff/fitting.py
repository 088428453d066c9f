"""What does not fit in an opening, in words that say what would be right."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.orders import Order
from cutplan.problems import Findings, InputProblems
from cutplan.shop import Shop, System
from cutplan.takeoff.cards import PicketLayout
from cutplan.takeoff.frame import Dimensions
from cutplan.takeoff.pickets import (
    EndGaps,
    RailHoles,
    centrings,
    empty_in_sight,
    hiding,
    nearest_fit,
    plain_layout,
    routed_layouts,
)
from cutplan.takeoff.words import say


def check_lengths(order: Order, frame: Dimensions, insert: Fraction | None, unit: str, found: Findings) -> None:
    """Notes a clear width, insert, picket or panel that leaves nothing."""
    for name, left in (("clear width", frame.clear), ("insert", insert)):
        if left is not None and left <= 0:
            found.add(
                order.line,
                "opening",
                f"{say(order.opening, unit)} leaves {say(left, unit)} of {name}; "
                f"more than {say(order.opening - left, unit)} is needed",
            )
    for name, left in (("picket", frame.picket), ("room between the rails' outer edges", frame.panel_height)):
        if left <= 0:
            found.add(
                order.line,
                "height",
                f"{say(order.height, unit)} leaves {say(left, unit)} of {name}; "
                f"more than {say(order.height - left, unit)} is needed",
            )


def holes_of(system: System, shop: Shop) -> list[RailHoles]:
    """The holes of each of the system's rails that has any; they are as wide as a picket unless the shop file says."""
    routings = [shop.profiles[name].routing for name in (system.top_rail, system.bottom_rail)]
    return [RailHoles(routing.pitch, routing.hole or system.picket_width) for routing in routings if routing]


def find_holes(order: Order, system: System, shop: Shop, found: Findings) -> RailHoles | None:
    """The holes that pickets must go by, the wider of two rails'; None where both are plain. Notes unusable ones."""
    rails = holes_of(system, shop)
    if not rails:
        return None
    first, last = rails[0].pitch, rails[-1].pitch
    if first != last:
        found.add(
            order.line,
            "system",
            f"the holes of '{system.top_rail}' are {say(first, shop.unit)} apart and those of "
            f"'{system.bottom_rail}' {say(last, shop.unit)}; a system needs two rails of one pitch",
        )
    if first < system.picket_width:
        found.add(
            order.line,
            "system",
            f"holes {say(first, shop.unit)} apart are too close for pickets "
            f"{say(system.picket_width, shop.unit)} wide; a pitch of at least that is needed",
        )
    return max(rails, key=lambda holes: holes.size)


def fit_plain(order: Order, frame: Dimensions, system: System, unit: str, found: Findings) -> PicketLayout:
    """The layout on plain rails. Notes pickets that are wider than the clear width."""
    layout = plain_layout(frame.rail, frame.hidden, system.picket_width, system.max_gap)
    if layout.gap < 0:
        fewer = layout.count - 1
        allowances = order.opening - frame.clear
        at_most = allowances + fewer * system.picket_width + layout.count * system.max_gap
        at_least = allowances + layout.count * system.picket_width
        found.add(
            order.line,
            "opening",
            f"a clear width of {say(frame.clear, unit)} is too narrow for {layout.count} of the pickets, and "
            f"with {fewer} the gaps are too wide; an opening of at most {say(at_most, unit)} or at least "
            f"{say(at_least, unit)} would do",
        )
    return layout


def fit_routed(
    order: Order, frame: Dimensions, system: System, holes: RailHoles, unit: str, found: Findings
) -> list[PicketLayout]:
    """The layouts that will do on rails with such holes, the wider end gap first. InputProblems for none."""
    layouts = routed_layouts(frame.rail, frame.hidden, system.picket_width, holes.pitch)
    if will_do := centrings(layouts, holes, ends_of(system)):
        return will_do
    gaps = " and ".join(gap_said(layout, holes, system, unit) for layout in layouts)
    wanted = f"{say(system.min_end_gap, unit)} to {say(system.max_gap, unit)} is wanted"
    found.add(order.line, "opening", f"the end gap would be {gaps}; {wanted}; "
              + cure(order, frame, system, holes, layouts, unit))
    raise InputProblems(found.problems)


def ends_of(system: System) -> EndGaps:
    return EndGaps(system.min_end_gap, system.max_gap, system.plugged)


def gap_said(layout: PicketLayout, holes: RailHoles, system: System, unit: str) -> str:
    """The end gap of a layout, and whether an empty hole would be seen beside it."""
    said = f"{say(layout.end_gap, unit)} centred on a {layout.centred}"
    shows = not system.plugged and empty_in_sight(layout, holes)
    return said + (" (where part of an empty hole would show)" if shows else "")


def cure(order: Order, frame: Dimensions, system: System, holes: RailHoles, layouts: Sequence[PicketLayout], unit: str
         ) -> str:
    """The smallest change that would bring an end gap within its limits, in words."""
    plugs = not system.plugged and any(system.min_end_gap <= layout.end_gap <= system.max_gap for layout in layouts)
    also = f", or plugs in the open holes: plugged = true in system '{system.name}'" if plugs else ""
    change = nearest_fit(frame.clear, system.picket_width, holes, ends_of(system))
    if change is None:
        most = system.max_gap if system.plugged else min(system.max_gap, hiding(system.picket_width, holes))
        return (
            f"no opening would do: give system '{system.name}' a min_end_gap that is less than the pitch and "
            f"not more than {say(most, unit)}{also}"
        )
    by = say(abs(change), unit)
    words = f"an opening {by} {'wider' if change > 0 else 'narrower'} would do"
    if order.kind == "gate" and system.gate and system.gate.latch_gap >= change:
        words += f", or a latch gap {by} {'narrower' if change > 0 else 'wider'}"
    return words + also
