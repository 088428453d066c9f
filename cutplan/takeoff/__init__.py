"""From an opening to its pieces. Knows nothing of stock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from cutplan.orders import Order, Piece
from cutplan.problems import InputProblems, Problem
from cutplan.shop import Shop
from cutplan.takeoff.cards import Card
from cutplan.takeoff.setting_out import pieces_of, set_out

__all__ = ["Takeoff", "take_off"]


@dataclass(frozen=True)
class Takeoff:
    """The pieces of a week, and one card for each of its lines, both in the order of the week."""

    pieces: tuple[Piece, ...]
    cards: tuple[Card, ...]


def take_off(orders: Iterable[Order], shop: Shop, centring: Mapping[str, str] | None = None) -> Takeoff:
    """Every piece and every card of the week. Lengths in the shop file's unit.

    `centring` says by mark what routed rails are centred on; without a word of it the wider end gap decides.

    InputProblems with all that does not fit, of all the orders.
    """
    cards: list[Card] = []
    alike: dict[tuple[object, ...], Card] = {}
    problems: list[Problem] = []
    for order in orders:
        centred = (centring or {}).get(order.mark)
        size = order.kind, order.system, order.opening, order.height, centred
        try:
            if size not in alike:
                alike[size] = set_out(order, shop, centred)
            cards.append(replace(alike[size], order=order))
        except InputProblems as found:
            problems += found.problems
    if problems:
        raise InputProblems(problems)
    routed = {name for name, profile in shop.profiles.items() if profile.routing}
    turned = {name for name, profile in shop.profiles.items() if profile.one_per_stick}
    pieces = (piece for card in cards for piece in pieces_of(card, shop.systems[card.order.system], routed, turned))
    return Takeoff(tuple(pieces), tuple(cards))
