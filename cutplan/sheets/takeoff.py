"""The takeoff as text: the pieces, and a layout card for each gate and bay."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.lengths import show_sqrt
from cutplan.orders import Piece
from cutplan.planning.centring import Chosen
from cutplan.sheets.cautions import at_the_site
from cutplan.sheets.gaps import gaps_text
from cutplan.sheets.holes import holes_text
from cutplan.sheets.words import CORNERS, Writer, aligned, bulleted, counted, titled, wrapped
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff
from cutplan.takeoff.cards import Card
from cutplan.texts import plain

RAIL_MIDDLE = {
    "gap": "all gaps equal",
    "hole": "the rail's middle on a hole",
    "space": "the rail's middle on a space between holes",
}


def takeoff_text(takeoff: Takeoff, unit: str, tape: Fraction) -> str:
    """Pieces, cards, reminders and cautions. Lengths in `unit`, printed to `tape`."""
    write = Writer(unit, tape)
    reminders = dict.fromkeys(reminder for card in takeoff.cards for reminder in card.reminders)
    numbers = {reminder: k for k, reminder in enumerate(reminders, start=1)}
    parts = [write.legend(), pieces_table(takeoff.pieces, write)]
    parts += [titled("Layout cards")]
    parts += [card_text(card, numbers, write) for card in takeoff.cards]
    if reminders:
        parts.append(reminders_text(numbers, takeoff.cards))
    return "\n\n".join([*parts, at_the_site()])


def pieces_table(pieces: Sequence[Piece], write: Writer) -> str:
    rows = [
        (plain(piece.mark), plain(piece.profile), write.length(piece.length), piece.qty, plain(piece.for_))
        for piece in pieces
    ]
    headings = ("mark", "profile", f"length, {write.unit}", "qty", "for")
    count = counted(sum(piece.qty for piece in pieces), "piece")
    return f"{titled('Pieces')}\n{aligned(headings, rows, 'llrrl')}\n{count}"


def card_text(card: Card, numbers: dict[str, int], write: Writer) -> str:
    """One card: a headline, then a line for each thing to know."""
    order = card.order
    opening, height = write.length(order.opening), write.length(order.height)
    headline = f"{plain(order.mark)}: {order.kind}, {plain(order.system)}, {order.qty} to make"
    lines = [(plain(key), plain(text)) for key, text in order.extra.items() if text.strip()]
    lines += [("opening", f"{opening} wide, {height} high"), *lines_of(card, write)]
    if card.reminders:
        lines.append(("reminders", ", ".join(str(numbers[reminder]) for reminder in card.reminders)))
    return "\n".join([headline, *(wrapped(text, f"  {key:<12} ", " " * 15) for key, text in lines)])


def lines_of(card: Card, write: Writer) -> list[tuple[str, str]]:
    """What each of the gates or bays is made of, and how it is set out."""
    layout, length = card.layout, write.length
    trimmed = ", trimmed equally at both ends" if card.turned else ", trimmed at one end"
    lines = [("rails", f"2 x {length(card.rail_length)}, {length(card.hidden)} hidden at each end")]
    if card.insert_length is not None:
        lines.append(("inserts", f"2 x {length(card.insert_length)}"))
    if card.upright_length is not None:
        lines.append(("uprights", f"2 x {length(card.upright_length)}"))
    lines += [
        ("pickets", f"{layout.count} x {length(card.picket_length)}{trimmed}"),
        ("gaps", gaps_text(layout.count, layout.clear, layout.gap, layout.end_gap, card.max_gap, write)
                 + f"; {RAIL_MIDDLE[layout.centred]}"),
        *([("holes", holes_text(card.rail_length, layout.pitch, layout.centred, layout.marks, write))]
          if layout.pitch else []),
        *([("plugs", f"{card.plugs}, for the empty holes in sight")] if card.plugs else []),
        ("centres", "from the rail's end: " + ("  |  ".join(map(length, layout.marks)) or "none")),
        ("diagonals", f"{show_sqrt(card.diagonal_squared, write.unit, write.tape)} each, over "
                      f"{length(card.width)} x {length(card.panel_height)}, {CORNERS[card.order.kind]}; "
                      "square when both are equal"),
    ]  # fmt: skip
    if card.order.kind == "gate":
        for name, rule, height in (
            ("top hinge", "its top in line with the underside of the top rail", card.top_hinge),
            ("bottom hinge", "its bottom in line with the top of the bottom rail", card.bottom_hinge),
        ):
            at = "" if height is None else f"{length(height)} up from where the height is measured: "
            lines.append((name, at + rule))
    return lines


def centring_text(chosen: Chosen, taken: Takeoff, shop: Shop) -> str:
    """How the lines were centred that were free, and what that is worth."""
    write = Writer(shop.unit, shop.tape, shop.currency)
    lines = [
        f"{plain(card.order.mark)} on a {card.layout.centred}: {counted(card.layout.count, 'picket')}, "
        f"{write.length(card.layout.end_gap)} at the ends"
        for card in taken.cards if card.order.mark in chosen.centring
    ]
    cost, wider = write.money_named(chosen.cost), write.money_named(chosen.wider)
    least = "no choice would cost less" if chosen.bound >= chosen.cost else (
        f"no choice could save more than {write.money_at_most(chosen.cost - chosen.bound)}")
    worth = f"rails centred for the least waste: they cost {cost}, with the wider end gaps {wider}; {least}."
    return "\n".join([wrapped(worth), bulleted(lines)])


def reminders_text(numbers: dict[str, int], cards: Sequence[Card]) -> str:
    """Each reminder once, with the marks it is for."""
    lines = []
    for reminder, number in numbers.items():
        marks = ", ".join(plain(card.order.mark) for card in cards if reminder in card.reminders)
        lines.append(f"{number}: {reminder} For: {marks}.")
    return f"{titled('Reminders')}\n{bulleted(lines)}"
