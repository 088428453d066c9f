"""From one order to its placed parts and its card, and from its card to its pieces."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.orders import Order, Piece
from cutplan.problems import Findings, InputProblems, suggest
from cutplan.shop import Shop, System
from cutplan.shop.systems import RAILS
from cutplan.takeoff.assembly import Outline, Part, box, raked
from cutplan.takeoff.audit import audit
from cutplan.takeoff.cards import Card, Extra
from cutplan.takeoff.fitting import Fit, check_heights, check_rake, check_widths, find_layouts, holes_of, plugs
from cutplan.takeoff.hanging import cautions, hanging
from cutplan.takeoff.hardware import fittings
from cutplan.takeoff.heights import Heights, heights
from cutplan.takeoff.movement import movements
from cutplan.takeoff.panels import Panel, bay_panel, gate_panels, post_spans, run_panels
from cutplan.takeoff.pickets import PicketLayout
from cutplan.takeoff.placing import place, posts
from cutplan.takeoff.reminders import figures, reminders


def set_out(order: Order, shop: Shop, centred: str | None = None) -> Card:
    """The layout card of one gate or bay, its rails `centred` so where they may be (None: by the wider end gap).

    InputProblems with everything that does not fit in it.
    """
    found = Findings(order.file)
    system = find_system(order, shop, found)
    panels, levels = find_panels(order, system, found), heights(order, system, shop)
    fit = Fit(order, system, shop, panels[0], levels, found, len(panels))
    check_widths(fit)
    check_heights(fit)
    check_rake(fit)
    layouts = find_layouts(fit)
    layout = next((layout for layout in layouts if layout.centred == centred), layouts[0])
    parts = (*(part for panel in panels for part in place(panel, levels, layout, order, shop)),
             *posts_of(order, system, panels[0].hidden))
    card = card_of(order, shop, panels, levels, layout, parts)
    card = replace(card, centrings=tuple(one.centred for one in layouts if one.centred != "gap"),
                   plugs=sum(plugs(layout, panel, levels, system, shop) for panel in panels))
    audit(order, card, system, shop)
    return card


def find_system(order: Order, shop: Shop, found: Findings) -> System:
    """InputProblems where the shop file has no such system."""
    if order.system not in shop.systems:
        known = suggest(order.system, shop.systems)
        found.add(order.line, "system", f"'{order.system}' is not in the shop file; {known}")
        found.raise_any()
    return shop.systems[order.system]


def find_panels(order: Order, system: System, found: Findings) -> tuple[Panel, ...]:
    """InputProblems where the system has no allowances for this kind of order."""
    if order.kind == "gate" and system.gate:
        return gate_panels(order, system.gate)
    if order.kind == "bay" and system.bay:
        return (bay_panel(order, system.bay),)
    if order.kind == "run" and system.run and system.bay:
        return run_panels(order, system.bay, post_spans(order, system.run))
    missing = f"[systems.{system.name}.{order.kind}]"
    found.add(order.line, "system", f"'{system.name}' is not made as a {order.kind}; {missing} would say how")
    raise InputProblems(found.problems)


def posts_of(order: Order, system: System, hidden: Fraction) -> Iterator[Part]:
    """The posts that are cut for it: those of a run."""
    if order.kind == "run" and system.run:
        yield from posts(post_spans(order, system.run), order, system.run, hidden)


def card_of(order: Order, shop: Shop, panels: Sequence[Panel], levels: Heights, layout: PicketLayout,
            parts: tuple[Part, ...]) -> Card:
    """What is read off the placed parts of one gate or bay."""
    system = shop.systems[order.system]
    squared = tuple(raked(squared_of(panel, levels), order.slope) for panel in panels)
    gate = system.gate if order.kind == "gate" else None
    hung = hanging(order, gate, parts, squared, shop) if gate else None
    below = levels.rails[0].low + (hung.fall if hung else 0)
    seen = figures(order, below, parts, squared, panels[0].hidden)
    form = "gate" if gate else "rake" if order.slope else "bay"
    told = reminders(form, seen, layout, system.max_gap, shop.codes, shop.unit)
    return Card(
        mark=order.mark, kind=order.kind, system=order.system, qty=order.qty, opening=order.opening,
        height=order.height, opening_bottom=order.opening_bottom, parts=parts, squared=squared, layout=layout,
        hidden=panels[0].hidden, posts=system.bay.rail_insertion if system.bay and not gate else Fraction(0),
        seat=levels.seat, turned=shop.profiles[system.picket].one_per_stick, max_gap=system.max_gap, hanging=hung,
        hardware=fittings(order.kind, len(panels), parts, system.hardware),
        remarks=remarks_of(order), assembly=system.assembly,
        cautions=tuple(cautions(order, gate, hung, parts, squared, shop)) if gate and hung else (),
        movement=tuple(movements(order, parts, system, shop)),
        reminders=told, holed=tuple(holes_of(system, shop)), rake=order.slope,
    )  # fmt: skip


def squared_of(panel: Panel, levels: Heights) -> Outline:
    """The corners between which the diagonals go."""
    if panel.wall is not None:
        left, right = panel.outer
        return box(left, levels.foot, right, levels.top)
    under, over = levels.rails[0], levels.rails[-1]
    (a, b), (d, c) = panel.rail(Fraction(0)), panel.rail(Fraction(1))
    return (a, under.low), (b, under.low), (c, over.high), (d, over.high)


def remarks_of(order: Order) -> tuple[tuple[str, str], ...]:
    return tuple((key, said) for key, said in order.extra.items() if said.strip())


def of_order(card: Card, order: Order, listed: Sequence[Piece]) -> Card:
    """The card of another line of the same size, with the pieces that are listed for it."""
    return replace(card, mark=order.mark, qty=order.qty, remarks=remarks_of(order), extra=tuple(
        Extra(piece.mark, piece.profile, piece.length, piece.qty, piece.left_in, piece.right_in) for piece in listed))


def pieces_of(card: Card, order: Order, routed: Collection[str], turned: Collection[str]) -> Iterator[Piece]:
    """The pieces of all the gates or bays of one order, like pieces together.

    Parts of one name that differ in length are told apart by their place, or are a fault of this module. `routed`
    profiles have holes; pieces of `turned` ones say how many stand side by side.
    """
    counts: dict[Piece, int] = {}
    for name in dict.fromkeys(part.part for part in in_order(card.parts)):
        alike = card.of(name)
        many = len({part.length for part in alike}) > 1
        for part in alike:
            called = part.called if many else name
            centred = card.layout.centred if called.endswith("rail") and part.profile in routed else ""
            one = Piece(f"{order.mark} {called}", part.profile, part.length, 0, order.mark, order.file, order.line,
                        centred, left_in=part.left_in, right_in=part.right_in, rounded=part.rounded)
            counts[one] = counts.get(one, 0) + part.count
    for piece, each in counts.items():
        yield replace(piece, qty=each * order.qty, each=each if piece.profile in turned else 0)


def in_order(parts: Sequence[Part]) -> list[Part]:
    """Rails from the top down, then inserts, pickets, uprights and braces."""
    names = (*RAILS, "insert", "picket", "upright", "brace", "post")
    return sorted(parts, key=lambda part: names.index(part.part))
