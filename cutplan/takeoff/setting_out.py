"""From one order to its card, and from its card to its pieces."""

from __future__ import annotations

from collections.abc import Collection

from cutplan.orders import Order, Piece
from cutplan.problems import Findings, InputProblems, suggest
from cutplan.shop import Shop, System
from cutplan.takeoff.bay import bay_frame
from cutplan.takeoff.cards import Card, PicketLayout
from cutplan.takeoff.fitting import check_lengths, find_holes, fit_plain, fit_routed, holes_of
from cutplan.takeoff.frame import Dimensions
from cutplan.takeoff.gate import gate_frame
from cutplan.takeoff.pickets import empty_in_sight
from cutplan.takeoff.reminders import reminders

RAILS = ("top rail", "bottom rail")


def set_out(order: Order, shop: Shop, centred: str | None = None) -> Card:
    """The layout card of one gate or bay, its rails `centred` so where they may be (None: by the wider end gap).

    InputProblems with everything that does not fit in it.
    """
    found = Findings(order.file)
    system = find_system(order, shop, found)
    frame = find_frame(order, system, shop, found)
    insert = frame.rail - system.insert_short if system.insert else None
    check_lengths(order, frame, insert, shop.unit, found)
    layouts = find_layouts(order, frame, system, shop, found)
    layout = next((layout for layout in layouts if layout.centred == centred), layouts[0])
    return Card(
        order=order,
        rail_length=frame.rail,
        rail_insertion=frame.rail_insertion,
        hidden=frame.hidden,
        layout=layout,
        picket_length=frame.picket,
        turned=shop.profiles[system.picket].one_per_stick,
        insert_length=insert,
        upright_length=frame.upright,
        width=frame.width,
        panel_height=frame.panel_height,
        diagonal_squared=frame.width**2 + frame.panel_height**2,
        top_hinge=frame.top_hinge,
        bottom_hinge=frame.bottom_hinge,
        reminders=reminders(order.kind, order.height, layout, system.max_gap, shop.unit),
        centrings=tuple(layout.centred for layout in layouts if layout.centred != "gap"),
        plugs=sum(empty_in_sight(layout, holes) for holes in holes_of(system, shop)),
        max_gap=system.max_gap,
    )


def find_system(order: Order, shop: Shop, found: Findings) -> System:
    """InputProblems where the shop file has no such system."""
    if order.system not in shop.systems:
        known = suggest(order.system, shop.systems)
        found.add(order.line, "system", f"'{order.system}' is not in the shop file; {known}")
        found.raise_any()
    return shop.systems[order.system]


def find_frame(order: Order, system: System, shop: Shop, found: Findings) -> Dimensions:
    """InputProblems where the system has no allowances for this kind of order."""
    if order.kind == "gate" and system.gate:
        top_rail, bottom_rail = shop.profiles[system.top_rail], shop.profiles[system.bottom_rail]
        return gate_frame(order, system, system.gate, top_rail, bottom_rail)
    if order.kind == "bay" and system.bay:
        return bay_frame(order, system, system.bay)
    missing = f"[systems.{system.name}.{order.kind}]"
    found.add(order.line, "system", f"'{system.name}' is not made as a {order.kind}; {missing} would say how")
    raise InputProblems(found.problems)


def find_layouts(order: Order, frame: Dimensions, system: System, shop: Shop, found: Findings) -> list[PicketLayout]:
    """The layouts that fit, the best first. InputProblems where none does, or where anything was found before."""
    holes = find_holes(order, system, shop, found)
    if frame.clear <= 0:
        found.raise_any()
    if holes is None:
        layouts = [fit_plain(order, frame, system, shop.unit, found)]
    else:
        layouts = fit_routed(order, frame, system, holes, shop.unit, found)
    found.raise_any()
    return layouts


def pieces_of(card: Card, system: System, routed: Collection[str], turned: Collection[str]) -> tuple[Piece, ...]:
    """The pieces of all the gates or bays of one order, like pieces together.

    `routed` profiles have holes; pieces of `turned` ones say how many stand side by side.
    """
    order = card.order
    parts = (
        ("top rail", system.top_rail, card.rail_length, 1),
        ("bottom rail", system.bottom_rail, card.rail_length, 1),
        ("insert", system.insert, card.insert_length, 2),
        ("picket", system.picket, card.picket_length, card.layout.count),
        ("upright", system.upright, card.upright_length, 2),
    )
    return tuple(
        Piece(f"{order.mark} {part}", profile, length, each * order.qty, order.mark, order.file, order.line,
              card.layout.centred if part in RAILS and profile in routed else "",
              each=each if profile in turned else 0)
        for part, profile, length, each in parts
        if profile is not None and length is not None and each
    )
