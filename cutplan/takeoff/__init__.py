"""From an opening to its pieces. Knows nothing of stock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from cutplan.orders import Order, Piece, joined, marks_apart
from cutplan.problems import InputProblems, Problem
from cutplan.shop import Shop
from cutplan.takeoff.cards import Card
from cutplan.takeoff.setting_out import of_order, pieces_of, set_out

__all__ = ["Takeoff", "take_off", "take_off_all"]


@dataclass(frozen=True)
class Takeoff:
    """The pieces of a week, and one card for each of its lines, both in the order of the week."""

    pieces: tuple[Piece, ...]
    cards: tuple[Card, ...]


def take_off(orders: Iterable[Order], shop: Shop, centring: Mapping[str, str] | None = None,
             listed: Mapping[str, Sequence[Piece]] | None = None) -> Takeoff:
    """Every piece and every card of the week. Lengths in the shop file's unit.

    `centring` says by mark what routed rails are centred on; without a word of it the wider end gap decides. `listed`
    are pieces that stand on the card of a mark beside its own.

    InputProblems with all that does not fit, of all the orders.
    """
    cards: list[Card] = []
    pieces: list[Piece] = []
    alike: dict[tuple[object, ...], Card] = {}
    problems: list[Problem] = []
    routed = {name for name, profile in shop.profiles.items() if profile.routing}
    turned = {name for name, profile in shop.profiles.items() if profile.one_per_stick}
    for order in orders:
        centred = (centring or {}).get(order.mark)
        size = order.size, centred
        try:
            if size not in alike:
                alike[size] = set_out(order, shop, centred)
        except InputProblems as found:
            problems += found.problems
            continue
        cards.append(of_order(alike[size], order, (listed or {}).get(order.mark, ())))
        pieces += pieces_of(cards[-1], order, routed, turned)
    if problems:
        raise InputProblems(problems)
    return Takeoff(tuple(pieces), tuple(cards))


def misfits(work: Iterable[Order | Piece], shop: Shop) -> tuple[Problem, ...]:
    """Everything that does not fit in any of the orders, to be told beside what else is wrong."""
    try:
        take_off([entry for entry in work if isinstance(entry, Order)], shop)
    except InputProblems as found:
        return found.problems
    return ()


def take_off_all(work: Sequence[Order | Piece], shop: Shop, centring: Mapping[str, str] | None = None) -> Takeoff:
    """As `take_off`, of work with listed pieces among it: these come last, and stand on the card they are for.

    InputProblems also for a mark that stands for two things, be they parts or pieces.
    """
    listed = tuple(entry for entry in work if isinstance(entry, Piece))
    taken = take_off([entry for entry in work if isinstance(entry, Order)], shop, centring, joined(work))
    pieces = (*taken.pieces, *listed)
    if problems := [*marks_apart(pieces)]:
        raise InputProblems(problems)
    return replace(taken, pieces=pieces)
