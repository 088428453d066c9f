"""What to order first where not all can be bought now: gates and bays in the week's order, as far as money goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.buying.order import PlacedOrder
from cutplan.buying.purchase import OrderQuestion, order
from cutplan.orders import Piece
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class Affordable:
    """The gates, bays and marks that can be cut `now`, from an order within the `amount`, and those that `wait`.

    `order` is None where none can. `proven`: no order within the amount is enough for the next one too.
    """

    amount: Fraction
    now: tuple[str, ...]
    wait: tuple[str, ...]
    order: PlacedOrder | None
    proven: bool


def owner(piece: Piece) -> str:
    """What a piece is for; a piece that is for nothing is for itself."""
    return piece.for_ or piece.mark


def owners(weeks: Sequence[Sequence[Piece]]) -> list[str]:
    """In the order in which the weeks ask for them."""
    return list(dict.fromkeys(owner(piece) for week in weeks for piece in week))


def affordable(question: OrderQuestion, amount: Fraction, budget: Budget) -> Affordable:
    """As many gates and bays, in their order, as an order within the amount is enough for.

    More of them never cost less, so that their number is found by halving. Raises NoPlan where even the stock runs out
    for the first.
    """
    every = owners(question.weeks)
    least, most = 0, len(every) + 1  # the first can be bought for, `most` cannot, so far as is known
    found: dict[int, PlacedOrder] = {}
    lacking: set[int] = set()  # for so many there is not enough to be had at all
    steps = max(1, most.bit_length())
    while most - least > 1:
        middle = len(every) if not found else (least + most) // 2  # all of them, first
        try:
            found[middle] = part_of(question, set(every[:middle]), budget.share(steps))
        except NoPlan:
            if middle == 1:
                raise
            lacking.add(middle)
            most = middle
            continue
        finally:
            steps = max(1, steps - 1)
        least, most = (middle, most) if found[middle].money <= amount else (least, middle)
    proven = least == len(every) or most in lacking or (most in found and found[most].bound > amount)
    return Affordable(amount, tuple(every[:least]), tuple(every[least:]), found.get(least), proven)


def part_of(question: OrderQuestion, chosen: set[str], budget: Budget) -> PlacedOrder:
    """The cheapest order for some of the gates and bays."""
    weeks = [[piece for piece in week if owner(piece) in chosen] for week in question.weeks]
    return order(weeks, question.shop, question.on_hand, budget, question.dates)
