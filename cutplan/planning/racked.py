"""Solving with a rack: its offcuts and counted sticks are stock too, and the plan's offcuts get their tags from it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.orders import Order, Origin, Piece, origins
from cutplan.planning.result import Result
from cutplan.planning.solve import solve
from cutplan.rack import register, replacing, waiting
from cutplan.rack.claims import known, same_rest
from cutplan.rack.store import Rack, changing, reading
from cutplan.rack.supply import Supply, on_hand_first, supply, tagged, with_on_hand
from cutplan.running.budget import Budget
from cutplan.shop import Shop


def on_rack(rack: str, work: Sequence[Order | Piece], shop: Shop, tags: bool, on_hand: bool = False,
            foreseen: Callable[[Rack], object] = lambda rack: None, own: Iterable[str] = ()) -> Supply:
    """The shop with what is free on the rack, which is made where it is not there, once what is `foreseen` is done;
    `on_hand`: its counted sticks first. What is on hold for plans whose rest this is, of which the work itself tells or
    which are one's `own`, is free.

    Raises InputProblems for a rack that is damaged or of another unit, for a rest that was booked since, and with
    `tags` for a rack that cannot be written: no long work is to be lost to that.
    """
    with changing(rack, shop.unit) as open_rack:
        if tags:
            open_rack.write()
        replacing.refuse_stale(open_rack, work)
        with open_rack.as_if():
            foreseen(open_rack)
            found = supply(shop, open_rack, own=same_rest(open_rack, [*own, *(one.plan for one in origins(work))]))
    return on_hand_first(found) if on_hand else found


def solve_on_rack(rack: str, work: Sequence[Order | Piece], found: Supply, budget: Budget, tags: bool, *,
                  name: str = "", spare: Fraction | None = None, trade: Sequence[Fraction] = (),
                  weeks: Sequence[str] = (), job: str = "", instead: Sequence[Origin] = ()
                  ) -> tuple[Result, tuple[str, ...]]:
    """As `solve`, with what `on_rack` found; and what there is to say of the plan on this rack.

    With `tags` the offcuts that are kept get theirs, which the rack gives to no others from then on, and the rack
    knows the plan, by the `name` of its file. `instead`: the rests that it takes the place of, beside those that the
    work tells of.
    """
    result = solve(work, found.shop, budget, spare=spare, trade=trade, weeks=weeks, job=job)
    plan = with_on_hand(replace(result.plan, replaces=(*result.plan.replaces, *instead)), found)
    with reading(rack) as open_rack:
        plan = replace(plan, first=register.next_number(open_rack, plan.replaces))
        notes = tuple(waiting.doubts(open_rack, plan))
    if tags:
        with changing(rack) as open_rack:
            plan = tagged(plan, open_rack)
            register.register(open_rack, known(plan, name))
    return replace(result, plan=plan), notes
