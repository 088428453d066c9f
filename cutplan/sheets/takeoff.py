"""The takeoff as text: the pieces, and a layout card for each gate and bay."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.orders import Piece
from cutplan.planning.centring import Chosen
from cutplan.printable import plain
from cutplan.sheets.cautions import at_the_site
from cutplan.sheets.facts import chapters
from cutplan.sheets.hardware import hardware_table, totals_of
from cutplan.sheets.slopes import end_columns
from cutplan.sheets.words import Cell, Writer, aligned, bulleted, counted, titled, wrapped
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff
from cutplan.takeoff.cards import Card

WIDEST_NAME = 18  # letters of a fact's name that the others are lined up by


def takeoff_text(takeoff: Takeoff, shop: Shop) -> str:
    """Pieces, cards, reminders and cautions. Lengths in the shop's unit, printed to its tape."""
    write = Writer(shop.unit, shop.tape, shop.currency)
    cards = takeoff.cards
    reminders = dict.fromkeys(reminder for card in cards for reminder in card.reminders)
    numbers = {reminder: k for k, reminder in enumerate(reminders, start=1)}
    parts = [write.legend(), pieces_table(takeoff.pieces, write)]
    parts += [titled("Layout cards")]
    parts += [card_text(card, numbers, write) for card in cards]
    if hardware := totals_of(cards):
        parts.append(hardware_table(hardware, write))
    if reminders:
        parts.append(reminders_text(numbers, cards))
    return "\n\n".join([*parts, at_the_site()])


def pieces_table(pieces: Sequence[Piece], write: Writer) -> str:
    names, ends = end_columns(pieces, write)
    rows: list[Sequence[Cell]] = [
        (plain(piece.mark), plain(piece.profile), write.cut(piece.length, piece.rounded), *set_in, piece.qty,
         plain(piece.for_)) for piece, set_in in zip(pieces, ends, strict=True)
    ]
    headings = ("mark", "profile", f"length, {write.unit}", *names, "qty", "for")
    count = counted(sum(piece.qty for piece in pieces), "piece")
    sides = f"ll{'r' * (len(headings) - 3)}l"
    return f"{titled('Pieces')}\n{aligned(headings, rows, sides)}\n{count}"


def card_text(one: Card, numbers: dict[str, int], write: Writer) -> str:
    """One card: a headline, then a line for each thing to know, in the order in which a person builds."""
    headline = f"{plain(one.mark)}: {one.kind}, {plain(one.system)}, {one.qty} to make"
    lines = [(plain(key), plain(said)) for key, said in one.remarks]
    for chapter in chapters(one, write):
        lines += [(fact.name or chapter.title.lower(), " ".join([fact.said, "  |  ".join(fact.marks)]).strip())
                  for fact in chapter.facts]
    if one.reminders:
        lines.append(("reminders", ", ".join(str(numbers[reminder]) for reminder in one.reminders)))
    wide = max(width for width in (12, *(len(plain(key)) for key, _ in lines)) if width <= WIDEST_NAME)
    return "\n".join([headline, *(wrapped(plain(said), f"  {plain(key):<{wide}} ", " " * (wide + 3))
                                  for key, said in lines)])


def centring_text(chosen: Chosen, taken: Takeoff, shop: Shop) -> str:
    """How the lines were centred that were free, and what that is worth."""
    write = Writer(shop.unit, shop.tape, shop.currency)
    lines = [
        f"{plain(card.mark)} on a {card.layout.centred}: {counted(card.layout.count, 'picket')}, "
        f"{write.length(card.layout.end_gap)} at the ends"
        for card in taken.cards if card.mark in chosen.centring
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
        marks = ", ".join(plain(card.mark) for card in cards if reminder in card.reminders)
        lines.append(f"{number}: {reminder} For: {marks}.")
    return f"{titled('Reminders')}\n{bulleted(lines)}"
