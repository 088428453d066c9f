"""Solving with a rack: its offcuts and counted sticks are stock too, and the plan's offcuts get their tags from it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from cutplan.lengths import factor
from cutplan.orders import Order, Piece
from cutplan.planning.result import Result
from cutplan.planning.solve import solve
from cutplan.plans.plan import Plan
from cutplan.problems import InputProblems, Problem, suggest
from cutplan.rack import booking, holding, register, replacing
from cutplan.rack.claims import Known, claim, known
from cutplan.rack.store import Rack, changing, reading
from cutplan.rack.supply import Supply, supply, tagged, with_on_hand
from cutplan.running.budget import Budget
from cutplan.shop import Shop


def on_rack(rack: str, work: Sequence[Order | Piece], shop: Shop, tags: bool, instead: Collection[str] = ()) -> Supply:
    """The shop with what is free on the rack, which is made where it is not there; what plans hold that will be made
    `instead`, by their fingerprints, counts as free.

    Raises InputProblems for a rack that is damaged or of another unit, for a rest that was booked since, and with
    `tags` for a rack that cannot be written: no long work is to be lost to that.
    """
    with changing(rack, shop.unit) as open_rack:
        if tags:
            open_rack.write()
        replacing.refuse_stale(open_rack, work)
        with holding.without(open_rack, instead):
            return supply(shop, open_rack)


def solve_on_rack(rack: str, work: Sequence[Order | Piece], found: Supply, budget: Budget, tags: bool, name: str = ""
                  ) -> tuple[Result, tuple[str, ...]]:
    """As `solve`, with what `on_rack` found; and what there is to say of the plan on this rack.

    With `tags` the offcuts that are kept get theirs, which the rack gives to no others from then on, and the rack
    knows the plan, by the `name` of its file.
    """
    result = solve(work, found.shop, budget)
    plan = with_on_hand(result.plan, found)
    with reading(rack) as open_rack:
        plan = replace(plan, first=register.next_number(open_rack, plan.replaces))
        notes = tuple(replacing.doubts(open_rack, plan))
    if tags:
        with changing(rack) as open_rack:
            plan = tagged(plan, open_rack)
            register.register(open_rack, known(plan, name))
    return replace(result, plan=plan), notes


def left_of(rack: str, plans: Sequence[Known], shop: Shop) -> list[Piece]:
    """What is left of some plans, in the shop's unit, each piece with the file of its plan.

    InputProblems for a plan that another took over, or of which nothing is left, and for profiles that the shop has
    not.
    """
    problems: list[Problem] = []
    pieces: list[Piece] = []
    with reading(rack) as open_rack:
        for what in plans:
            try:
                left = booking.rest(open_rack, what)
            except InputProblems as wrong:
                problems += wrong.problems
                continue
            if not left:
                problems.append(Problem(what.file, 1, "plan", "nothing is left of it to be cut; leave it out"))
            strange = {piece.profile: None for piece in left if piece.profile not in shop.profiles}
            problems += [Problem(what.file, 1, "profile", f"'{name}' is not in the shop file; "
                                 f"{suggest(name, shop.profiles)}") for name in strange]
            inward = factor(what.plan.unit, shop.unit)
            pieces += [replace(piece, length=piece.length * inward, file=what.file, line=1) for piece in left]
    if problems:
        raise InputProblems(problems)
    return pieces


def replaced_on_rack(rack: Rack, plan: Plan, olds: Sequence[Known], name: str) -> tuple[Plan, list[str]]:
    """The new plan takes over what is left of the old ones now: they are retired, and what they held is held for it.

    Gives it with its tags and number, and what is to be said. InputProblems where an old plan was booked meanwhile.
    """
    plan = tagged(replace(plan, first=register.next_number(rack, plan.replaces)), rack)
    what = known(plan, name)
    replacing.refuse_outrun(rack, what)
    notes = [note for old in olds for note in register.older_copy(rack, old)] + list(replacing.doubts(rack, plan))
    held = any(holding.holds(rack, old.id) for old in olds)
    register.register(rack, what)
    gone = list(replacing.take_over(rack, what, None))
    notes.append(f"{name} takes over what was left of {' and '.join(gone)}: book it from now on; cutplan unbook {name} "
                 "takes that back")
    if held:
        taken = holding.write(rack, what, claim(rack, what, what.numbers))
        if taken.offcuts + taken.new:
            notes.append(f"what it needs of the rack is on hold for {name}")
    return plan, notes
