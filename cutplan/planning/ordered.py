"""A week cut from what was ordered for it: by the plan that its order was proven for, which draws nothing that another
week was to have; or, where that cannot be, from what the plans still to be cut leave."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from cutplan.lengths import factor
from cutplan.orders import Order, Piece
from cutplan.planning.beside import pieces_of
from cutplan.planning.tied import AskedOf, pieces
from cutplan.plans.plan import Plan
from cutplan.plans.records import new_drawn
from cutplan.problems import InputProblems, Problem
from cutplan.rack import holding
from cutplan.rack.booking import pieces_left
from cutplan.rack.claims import Claimed, Known, all_new, chosen, claim, counted, done, free_of, own, there
from cutplan.rack.register import is_named, register, successor
from cutplan.rack.store import Rack, reading
from cutplan.rack.waiting import Pieces, listed, pieces_in
from cutplan.shop import Shop

NOT_ORDERED = ("no plan of the order that is still to be cut is of just these pieces; they are planned from what its "
               "plans leave")


@dataclass(frozen=True)
class Ordered:
    """The plan of these pieces, where the order has one that can be cut now; `others` are still to be cut; `notes` say
    why there is none, and `instead` which plan one that is made now takes the place of."""

    plan: Known | None
    others: tuple[Known, ...]
    notes: tuple[str, ...] = ()
    instead: Known | None = None

    def set_aside(self, rack: Rack) -> None:
        """Holds what is there of what the others need, beyond what this plan does."""
        mine = [self.plan] if self.plan and not holding.holds(rack, self.plan.id) else []
        set_aside(rack, [*mine, *self.others])
        holding.let_go(rack, [one.id for one in mine])


def ordered(rack: str, plans: Sequence[Known], work: Sequence[Order | Piece], shop: Shop) -> Ordered:
    """Which of an order's plans is of just these pieces; what is booked is past. InputProblems where the work has
    pieces of plans that are of others too: they would be cut and bought twice."""
    with reading(rack) as open_rack:
        open_ = waiting(open_rack, plans)
        mine = next((one for one in open_ if not done(open_rack, one.id).gone
                    and not any(pieces(one, AskedOf(shop, work)))), None)
        others = tuple(one for one in open_ if one is not mine)
        if mine is None:
            refuse_changed(open_rack, open_, work, shop)
            return Ordered(None, others, (NOT_ORDERED,))
        try:
            claim(open_rack, mine, mine.numbers)
        except InputProblems as wrong:
            lacking = tuple(f"{mine.file}: {one.column}: {one.message}" for one in wrong.problems)
            return Ordered(None, others, (*lacking, f"{mine.file} cannot be cut as it was ordered for; its pieces are "
                                          "planned anew, from what the other weeks leave: once that plan is booked, it "
                                          f"takes the place of {mine.file}"), mine)
    return Ordered(mine, others)


def waiting(rack: Rack, plans: Sequence[Known], but: Collection[str] = ()) -> list[Known]:
    """The plans of an order, but for these, that are still to be cut and that no other took over."""
    return [one for one in plans if one.id not in but and not one.numbers <= done(rack, one.id).gone
            and successor(rack, one.id) is None]


def refuse_changed(rack: Rack, plans: Sequence[Known], work: Sequence[Order | Piece], shop: Shop) -> None:
    """InputProblems where some of the work is in plans of an order that are of other pieces too."""
    asked = pieces_of(work, shop, factor(shop.unit, rack.unit))
    found = [(one, shared) for one in plans if (shared := left_by(one, rack) & asked)]
    files = dict.fromkeys(entry.file for entry in work if entry.file)
    folder = os.path.dirname(found[0][0].file) if found else ""
    words = ["replan", *(one.file for one, _ in found), *(word for file in files for word in ("--week", file)),
             "--plans", folder or "."]
    if found:
        raise InputProblems([
            Problem(one.file, 1, "plan", f"{listed(shared)}: ordered for and still to be cut by this plan, which is "
                    f"not of just the pieces that are given; plan these in its place, with {rack.command(*words)}")
            for one, shared in found])


def left_by(one: Known, rack: Rack) -> Pieces:
    """What a plan has left, in the rack's unit."""
    return pieces_in(pieces_left(one.plan, done(rack, one.id)), factor(one.plan.unit, rack.unit))


def set_aside(rack: Rack, plans: Sequence[Known]) -> None:
    """Holds for some plans of an order what is there of what they need, or for the plan that is to take the place of
    one, where that has it on hold."""
    for one in plans:
        if any(holding.holds(rack, other) for other in own(rack, one) - {one.id}):
            continue
        if not is_named(rack, one.id):
            register(rack, one)
        holding.let_go(rack, [one.id])
        holding.write(rack, one, what_is_there(rack, one))


def is_of_order(plan: Plan) -> bool:
    """Whether a plan goes with an order: it says of just the sticks it draws that they will be there."""
    return all(new_drawn(one) == +Counter(dict(one.on_hand)) for one in plan.profiles)


def cuts_what_is_there(plan: Plan) -> bool:
    """Whether a plan was made to cut the sticks on hand before any is bought."""
    for_nothing = any(stick.tag is None and not stick.price and dict(one.on_hand).get(stick.length)
                      for one in plan.profiles for stick in one.sticks)
    return for_nothing or (is_of_order(plan) and any(map(new_drawn, plan.profiles)))


def what_is_there(rack: Rack, one: Known) -> Claimed:
    """What a plan still needs, as far as it is on the rack by now."""
    left = one.numbers - done(rack, one.id).gone
    entries = tuple(chosen(one.plan, left))
    found = (there(rack, one, entry) for entry in entries if entry.stick.tag is not None)
    counts = ((part, counted(rack, one, part)) for part in all_new(rack, one, entries, left))
    new = (part if part.limit is not None and count is None  # it is counted from then on
           else replace(part, there=min(part.there, free_of(count))) for part, count in counts)
    return Claimed(entries, tuple(offcut for offcut, fault in found if offcut is not None and not fault), tuple(new))
