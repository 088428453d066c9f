"""A week cut from what was ordered for it: by the plan that its order was proven for, which draws nothing that a later
week was to have; or, where that cannot be, from what the plans still to be cut leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.orders import Order, Piece
from cutplan.planning.tied import AskedOf, pieces
from cutplan.problems import InputProblems
from cutplan.rack import holding
from cutplan.rack.claims import Claimed, Known, all_new, chosen, claim, done, there
from cutplan.rack.register import register, successor
from cutplan.rack.store import Rack, reading
from cutplan.shop import Shop

NOT_ORDERED = ("no plan of the order that is still to be cut is of just these pieces; they are planned from what its "
               "plans leave; where a week has changed, cutplan replan PLAN --week WEEK takes the place of its plan")


@dataclass(frozen=True)
class Ordered:
    """The plan of these pieces, where the order has one that can be cut now; `others` are still to be cut; `notes` say
    why there is none."""

    plan: Known | None
    others: tuple[Known, ...]
    notes: tuple[str, ...] = ()

    def set_aside(self, rack: Rack) -> None:
        """Holds what is there of what the others need."""
        for one in self.others:
            if not holding.holds(rack, one.id):
                register(rack, one)
                holding.write(rack, one, what_is_there(rack, one))


def ordered(rack: str, plans: Sequence[Known], work: Sequence[Order | Piece], shop: Shop) -> Ordered:
    """Which of an order's plans, in the order of their weeks, is of just these pieces; what is booked is past."""
    with reading(rack) as open_rack:
        waiting = [one for one in plans if not one.numbers <= done(open_rack, one.id).gone
                   and successor(open_rack, one.id) is None]
        own = next((one for one in waiting if not done(open_rack, one.id).gone
                    and not any(pieces(one, AskedOf(shop, work)))), None)
        if own is None:
            return Ordered(None, tuple(waiting), (NOT_ORDERED,))
        others = tuple(waiting[waiting.index(own) + 1:])
        try:
            claim(open_rack, own, own.numbers)
        except InputProblems as wrong:
            lacking = tuple(f"{own.file}: {one.column}: {one.message}" for one in wrong.problems)
            return Ordered(None, others, (*lacking, f"{own.file} cannot be cut as it was ordered for; its pieces are "
                                                    "planned anew, from what the weeks after it leave"))
    return Ordered(own, others)


def what_is_there(rack: Rack, one: Known) -> Claimed:
    """What a plan still needs, as far as it is on the rack by now."""
    left = one.numbers - done(rack, one.id).gone
    entries = tuple(chosen(one.plan, left))
    found = (there(rack, one, entry) for entry in entries if entry.stick.tag is not None)
    return Claimed(entries, tuple(offcut for offcut, fault in found if offcut is not None and not fault),
                   tuple(all_new(rack, one, entries, left)))
