"""Plans that go on beside those that are planned again, and are for the very pieces: these would be cut twice."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.checking.sound import read_plan
from cutplan.lengths import factor
from cutplan.orders import Order, Piece
from cutplan.plans.plan import identity
from cutplan.problems import InputProblems, Problem
from cutplan.rack import command
from cutplan.rack.claims import Known
from cutplan.rack.store import reading
from cutplan.rack.waiting import Beside, Pieces, beside, cut_before, listed, pieces_in, replan_together
from cutplan.shop import Shop
from cutplan.takeoff import take_off_all


def plans_beside(rack: str, those: Sequence[Known], work: Sequence[Order | Piece], shop: Shop) -> list[Beside]:
    """The plans of a rack that are for some of this work, beside those that are given: all that somebody has set to
    work on, and of the others those whose file is still there to be booked."""
    with reading(rack) as open_rack:
        found = beside(open_rack, those, pieces_of(work, shop, factor(shop.unit, open_rack.unit)))
    return [one for one in found if one.begun or one.finished or is_there(one)]


def done_with(rack: str, those: Sequence[Known], work: Sequence[Order | Piece], shop: Shop
              ) -> dict[tuple[str, str, Fraction], str]:
    """Of the pieces of this work, by profile, mark and length, those that plans beside cut to their end, and which."""
    with reading(rack) as open_rack:
        inward = factor(shop.unit, open_rack.unit)
        found = cut_before(open_rack, those, pieces_of(work, shop, inward))
    return {(profile, mark, length / inward): name for (profile, mark, length), name in found.items()}


def pieces_of(work: Sequence[Order | Piece], shop: Shop, inward: Fraction) -> Pieces:
    return pieces_in(take_off_all(work, shop).pieces, inward)


def is_there(one: Beside) -> bool:
    """Whether the file of a plan still holds that plan."""
    try:
        return identity(read_plan(one.name)) == one.plan
    except InputProblems:
        return False


def refuse_in_week(rack: str, those: Sequence[Known], work: Sequence[Order | Piece], files: Sequence[str], shop: Shop
                   ) -> None:
    """InputProblems where weeks, as all that is wanted now, have pieces that another plan is for."""
    if found := plans_beside(rack, those, work, shop):
        together = replan_together(rack, [*(what.file for what in those), *(one.name for one in found)], files)
        refuse(those, found, f"plan them together, with {together}")


def refuse_in_more(rack: str, those: Sequence[Known], work: Sequence[Order | Piece], files: Sequence[str], shop: Shop
                   ) -> None:
    """InputProblems where what came since, from these files, has pieces that another plan is for."""
    if not (found := plans_beside(rack, those, work, shop)):
        return
    theirs: set[str] = {mark for one in found for _, mark, _ in one.pieces}
    open_ = [one.name for one in found if not one.finished]
    kept = [file for file in files if any(piece.mark not in theirs for piece in take_off_all(
        [entry for entry in work if entry.file == file], shop).pieces)]
    words = [word for file in kept for word in ("--with", file)]
    together = command(rack, "replan", *(what.file for what in those), *open_, *words)
    refuse(those, found, f"leave them out of what has come, and plan with {together}" if kept or len(files) > 1 else
           f"plan without it, with {together}")


def refuse(those: Sequence[Known], found: Sequence[Beside], right: str) -> None:
    others = "pieces that are others and have the same mark need a mark of their own"
    raise InputProblems([
        Problem(those[0].file, 1, "plan", f"{listed(one.pieces)}: {'cut' if one.finished else 'planned'} in {one.name} "
                f"too, and not to be cut twice; {right}; {others}") for one in found])
