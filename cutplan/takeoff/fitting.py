"""What does not fit in an opening, in words that say what would be right."""

from __future__ import annotations

from fractions import Fraction

from cutplan.orders import Order
from cutplan.problems import Findings, InputProblems
from cutplan.shop import Shop, System
from cutplan.takeoff.cards import PicketLayout
from cutplan.takeoff.frame import Frame
from cutplan.takeoff.pickets import centrings, nearest_fit, plain_layout, routed_layouts
from cutplan.takeoff.words import say


def check_lengths(order: Order, frame: Frame, insert: Fraction | None, unit: str, found: Findings) -> None:
    """Notes a clear width, insert or picket that leaves nothing."""
    for name, left in (("clear width", frame.clear), ("insert", insert)):
        if left is not None and left <= 0:
            found.add(
                order.line,
                "opening",
                f"{say(order.opening, unit)} leaves {say(left, unit)} of {name}; "
                f"more than {say(order.opening - left, unit)} is needed",
            )
    if frame.picket <= 0:
        found.add(
            order.line,
            "height",
            f"{say(order.height, unit)} leaves {say(frame.picket, unit)} of picket; "
            f"more than {say(order.height - frame.picket, unit)} is needed",
        )


def find_pitch(order: Order, system: System, shop: Shop, found: Findings) -> Fraction | None:
    """The pitch of the holes in the system's rails; None where both are plain. Notes unusable holes."""
    routings = [shop.profiles[name].routing for name in (system.top_rail, system.bottom_rail)]
    pitches = [routing.pitch for routing in routings if routing]
    if not pitches:
        return None
    first, last = pitches[0], pitches[-1]
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
    return first


def fit_plain(order: Order, frame: Frame, system: System, unit: str, found: Findings) -> PicketLayout:
    """The layout on plain rails. Notes pickets that are wider than the clear width."""
    layout = plain_layout(frame.rail, frame.rail_insertion, system.picket_width, system.max_gap)
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
    order: Order, frame: Frame, system: System, pitch: Fraction, unit: str, found: Findings
) -> list[PicketLayout]:
    """The layouts that will do on rails with holes at `pitch`, the wider end gap first. InputProblems for none."""
    layouts = routed_layouts(frame.rail, frame.rail_insertion, system.picket_width, pitch)
    if will_do := centrings(layouts, system.min_end_gap, system.max_gap):
        return will_do
    on_hole, on_space = (say(layout.end_gap, unit) for layout in layouts)
    found.add(
        order.line,
        "opening",
        f"the end gap would be {on_hole} centred on a hole and {on_space} centred on a space, and "
        f"{say(system.min_end_gap, unit)} to {say(system.max_gap, unit)} is wanted; "
        + cure(order, frame, system, pitch, unit),
    )
    raise InputProblems(found.problems)


def cure(order: Order, frame: Frame, system: System, pitch: Fraction, unit: str) -> str:
    """The smallest change that would bring an end gap within its limits, in words."""
    change = nearest_fit(frame.clear, system.picket_width, pitch, system.min_end_gap, system.max_gap)
    if change is None:
        return (
            f"no opening would do: give system '{system.name}' a min_end_gap that is less than the pitch and "
            "not more than its max_gap"
        )
    by = say(abs(change), unit)
    words = f"an opening {by} {'wider' if change > 0 else 'narrower'} would do"
    if order.kind == "gate" and system.gate and system.gate.latch_gap >= change:
        words += f", or a latch gap {by} {'narrower' if change > 0 else 'wider'}"
    return words
