"""From gates, bays and pieces to an audited plan: take off, centre, cut, put in sequence, audit."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.checking.audit import audit
from cutplan.cutting import cut_pieces, refuse_hopeless
from cutplan.orders import Order, Piece, origins
from cutplan.planning import centring
from cutplan.planning.centring import Chosen
from cutplan.planning.result import Result
from cutplan.planning.sequence import sequenced
from cutplan.problems import FailedAudit
from cutplan.running.budget import Budget
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff, take_off_all
from cutplan.takeoff.carried import as_fields

# seconds for each line of pieces that are kept for what comes after the search, and after the set-ups are in order
AFTER_SEARCH, AFTER_ORDER = 5e-4, 3.5e-4


def solve(work: Sequence[Order | Piece], shop: Shop, budget: Budget | None = None, *, spare: Fraction | None = None,
          trade: Sequence[Fraction] = (), weeks: Sequence[str] = (), job: str = "") -> Result:
    """The plan that cuts this work for least cost of stock, then least length used up, then fewest set-ups.

    Lengths are in the shop's unit; the budget (None: to the end) counts from when it was made. The plan is audited.
    With a `spare` each profile may cost that share more than the least, and has the fewest set-ups, then lifts, at
    that price; `trade` are the shares of other plans to compare with, each in `trade` of its profile's plan. `weeks` is
    what the work is called on papers, `job` what it is cut for.
    Raises InputProblems for what is wrong with the work, NoPlan where a piece is longer than any stick it could come
    from or stock runs out, and FailedAudit never, unless cutplan is at fault.
    """
    began, budget = time.monotonic(), budget or Budget()
    taken, chosen = taken_off(work, shop, budget.share(2))
    lines = len(taken.pieces)
    budget.tell(f"{lines} lines of pieces")
    found = cut_pieces(taken.pieces, shop, budget.before(AFTER_SEARCH * lines), spare=spare, trade=trade)
    plan = sequenced(found, budget.before(AFTER_ORDER * lines))
    budget.tell("the plan is made, and gone through once more")
    cards = tuple(as_fields(card) for card in taken.cards)
    replaces = origins(work)
    plan = replace(plan, cards=cards, replaces=replaces, weeks=tuple(weeks), job=job,
                   first=1 + max((one.last for one in replaces), default=0))
    if findings := audit(plan):
        raise FailedAudit("\n".join(["the plan failed its own audit; nothing is shown:", *findings]))
    return Result(plan, shop, taken, chosen, time.monotonic() - began, budget.stopped)


def taken_off(work: Sequence[Order | Piece], shop: Shop, budget: Budget) -> tuple[Takeoff, Chosen | None]:
    """The pieces listed and those of gates and bays, with the cards of these; and how free rails were centred, where
    any are free and there was time to compare."""
    orders = [entry for entry in work if isinstance(entry, Order)]
    taken = take_off_all(work, shop)
    refuse_hopeless(taken.pieces, shop)
    chosen = centring.choose(orders, shop, budget) if orders and centring.any_free(shop) else None
    return (take_off_all(work, shop, chosen.centring) if chosen else taken), chosen
