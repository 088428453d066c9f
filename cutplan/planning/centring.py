"""Which way to centre rails that may be centred on a hole or on a space, where the shop leaves it to the cutter.

Both rails of a gate or bay, and all that are made by one line of the week, are centred alike. First every such rail is
planned as if it were free on its own: no choice can cost less than that. Then each line goes the way most of its rails
went, or all keep the wider end gap where that costs no more; and as long as the cost is above what is proven and there
is time, lines are tried the other way, one by one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.cutting import cut_pieces
from cutplan.orders import Order, Piece
from cutplan.plans.plan import Plan
from cutplan.running.budget import Budget
from cutplan.shop import Shop
from cutplan.takeoff import take_off
from cutplan.takeoff.cards import Card

OTHER = {"hole": "space", "space": "hole"}


@dataclass(frozen=True)
class Chosen:
    """The centring of each line that was free; what its rails cost, what they would with the wider end gaps, and the
    cost that no choice can go below."""

    centring: Mapping[str, str]
    cost: Fraction
    wider: Fraction
    bound: Fraction


def any_free(shop: Shop) -> bool:
    """Whether any system leaves the centring of its rails to the cutter."""
    return any(system.free_centring for system in shop.systems.values())


def free_lines(orders: Sequence[Order], shop: Shop) -> list[Card]:
    """The cards of the lines whose rails may be centred either way."""
    return [card for card in take_off(orders, shop).cards if is_free(card, shop)]


def is_free(card: Card, shop: Shop) -> bool:
    """Whether the rails of a card may be centred either way, and the shop leaves that to the cutter."""
    return len(card.centrings) > 1 and shop.systems[card.system].free_centring


def choose(orders: Sequence[Order], shop: Shop, budget: Budget | None = None) -> Chosen | None:
    """The centrings, chosen with this budget (None: to the end); None where no line is free, or it is spent too soon.

    Raises NoPlan and InputProblems as taking off and cutting do.
    """
    free = {card.mark: card.layout.centred for card in free_lines(orders, shop)}
    if not free:
        return None

    whole = budget or Budget()

    def tried(way: Mapping[str, str], parts: int = 1) -> tuple[Fraction, Mapping[str, str]]:
        return cost(cut_pieces(rails_of(orders, shop, way), shop, whole.share(parts))), way

    rails = rails_of(orders, shop, free)
    alone = cut_pieces([replace(piece, centred="either") if piece.for_ in free else piece for piece in rails], shop,
                       whole.share(3))
    if whole.spent():
        return None
    lines = {piece.mark: piece.for_ for piece in rails}
    votes: Counter[tuple[str, str]] = Counter()
    for profile in alone.profiles:
        for stick in profile.sticks:
            for cut in stick.cuts:
                votes[lines[cut.mark], cut.centred] += stick.count
    bound = sum((profile.tiers[0].bound for profile in alone.profiles), Fraction(0))
    voted = {mark: way if votes[mark, way] >= votes[mark, OTHER[way]] else OTHER[way] for mark, way in free.items()}
    wider = best = tried(free, 2)
    if best[0] > bound and voted != free and not whole.spent():
        best = min(best, tried(voted), key=lambda one: one[0])
    for mark in sorted(free, key=lambda mark: abs(votes[mark, "hole"] - votes[mark, "space"])):
        if best[0] <= bound or whole.spent():
            break
        best = min(best, tried({**best[1], mark: OTHER[best[1][mark]]}), key=lambda one: one[0])
    return Chosen(best[1], best[0], wider[0], bound)


def rails_of(orders: Sequence[Order], shop: Shop, centring: Mapping[str, str]) -> list[Piece]:
    """The pieces with holes, when lines are centred so."""
    return [piece for piece in take_off(orders, shop, centring).pieces if piece.centred]


def cost(plan: Plan) -> Fraction:
    return sum((profile.totals.cost for profile in plan.profiles), Fraction(0))
