"""What the plans of a rack were made for and have still to cut, as it remembers that; which of them share pieces."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import factor
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.rack import command, inhand
from cutplan.rack.claims import Known
from cutplan.rack.register import PlanState, is_finished, made_of, piece_rows, plans, stood_for
from cutplan.rack.store import Rack

Pieces = Counter[tuple[str, str, Fraction]]  # how many, by profile, mark and length in the rack's unit
OF_ONE_PIECE = re.compile(r"recut-[0-9]+")  # what a single piece that was cut is booked under: no plan of a week


def remember_left(rack: Rack, booking: int, left: Iterable[Piece], unit: str) -> None:
    """Notes down what is left of a plan after a booking."""
    rows = piece_rows(((one.profile, one.mark, one.length, one.qty) for one in left), factor(unit, rack.unit))
    rack.do("UPDATE bookings SET left_over = ? WHERE id = ?", rows, booking)


def pieces_in(pieces: Iterable[Piece], inward: Fraction) -> Pieces:
    """How many there are of each; `inward` turns their unit into the rack's."""
    found: Pieces = Counter()
    for piece in pieces:
        found[piece.profile, piece.mark, piece.length * inward] += piece.qty
    return found


def counted(text: str) -> Pieces:
    found: Pieces = Counter()
    for profile, mark, length, qty in json.loads(text):
        found[profile, mark, Fraction(length)] += qty
    return found


def asked_of(rack: Rack, plan: str) -> Pieces:
    """What a plan was made for; of one from before that was written down, nothing."""
    row = rack.one("SELECT asked FROM plans WHERE plan = ?", plan)
    return counted(row["asked"]) if row and row["asked"] else Counter()


def left_of(rack: Rack, plan: str) -> Pieces:
    """What a plan that goes on has still to cut, as far as the rack knows it."""
    row = rack.one("SELECT left_over FROM bookings WHERE plan = ? AND undone IS NULL ORDER BY id DESC", plan)
    return counted(row["left_over"]) if row else asked_of(rack, plan)


def cut_for(rack: Rack, plan: str) -> Pieces:
    """What is in hand for a plan, and for those whose place it took."""
    found: Pieces = Counter()
    for one, qty in inhand.in_hand(rack, stood_for(rack, [plan]), rack.unit).items():
        found[one.profile, one.mark, one.length] += qty
    return found


def going(rack: Rack) -> Iterator[PlanState]:
    """The plans that no other took over and that could go on, the finished ones included, in the order in which they
    came."""
    for one in plans(rack):
        if one.by is None and not one.ended and not OF_ONE_PIECE.fullmatch(one.name):
            yield one


def is_begun(rack: Rack, one: PlanState) -> bool:
    """Whether somebody has set to work on a plan: others of the same pieces are then no mere looks."""
    return (bool(one.done.gone) or one.held
            or rack.one("SELECT 1 FROM replaced WHERE by = ?", one.plan) is not None)


# ---- which plans share pieces ----


@dataclass(frozen=True)
class Beside:
    """A plan that goes on beside some others and that has cut or is to cut the same `pieces`; `begun` says that it is
    more than planned, `finished` that nothing is left of it."""

    plan: str
    name: str
    pieces: Pieces
    begun: bool
    finished: bool


def beside(rack: Rack, those: Sequence[Known], wanted: Pieces) -> list[Beside]:
    """The plans that have pieces which are wanted of some plans and are new to these: cut for them too, they would be
    cut twice. Of a mark that is these plans' own, nothing is new.

    A plan that was finished before any of these was made is of another week.
    """
    own = standing_with(rack, those)
    marks = {key[:2] for id_ in own for key in (asked_of(rack, id_) + left_of(rack, id_) + cut_for(rack, id_))}
    marks |= {(profile.profile, entry.mark) for what in those for profile in what.plan.profiles
              for entry in profile.demand}
    new: Pieces = Counter({key: qty for key, qty in wanted.items() if key[:2] not in marks})
    began = min((row["at"] for row in rack.all("SELECT plan, at FROM plans") if row["plan"] in own), default=rack.now)
    found = []
    for one in going(rack):
        if one.plan in own or (not one.done.gone and set(own).intersection(made_of(rack, one.plan))):
            continue
        finished = is_finished(rack, one.plan)
        if finished and last_booked(rack, one.plan) < began:
            continue
        if shared := (left_of(rack, one.plan) + cut_for(rack, one.plan)) & new:
            found.append(Beside(one.plan, one.name, shared, is_begun(rack, one), finished))
    return found


def standing_with(rack: Rack, those: Iterable[Known]) -> list[str]:
    """Some plans, those that they are made of, and all whose place these took."""
    return stood_for(rack, [id_ for what in those for id_ in (what.id, *(one.plan for one in what.plan.replaces))])


def cut_before(rack: Rack, those: Sequence[Known], wanted: Pieces) -> dict[tuple[str, str, Fraction], str]:
    """Of pieces that are wanted of some plans, those that another plan cut to its end, and that one's name."""
    own = standing_with(rack, those)
    return {key: one.name for one in going(rack) if one.plan not in own and is_finished(rack, one.plan)
            for key in cut_for(rack, one.plan) & wanted}


def replan_together(rack: str, plans: Iterable[str], weeks: Iterable[str]) -> str:
    """The command that plans weeks as they are now, in the place of all plans that are for pieces of them."""
    return command(rack, "replan", *plans, *(word for week in weeks for word in ("--week", week)))


def last_booked(rack: Rack, plan: str) -> str:
    row = rack.one("SELECT max(at) AS at FROM bookings WHERE plan = ? AND undone IS NULL", plan)
    return row["at"] if row and row["at"] else ""


# ---- what is to be said of a new plan ----


def doubts(rack: Rack, plan: Plan) -> Iterator[str]:
    """What is to be said of a new plan beside those that somebody has set to work on.

    Pieces that another still has to cut may be the same; pieces of a rest that are not in the plan would be in none.
    """
    inward = factor(plan.unit, rack.unit)
    asked: Pieces = Counter()
    for profile in plan.profiles:
        for entry in profile.demand:
            asked[profile.profile, entry.mark, entry.length * inward] += entry.qty
    named = {origin.plan for origin in plan.replaces}
    for one in going(rack):
        left = left_of(rack, one.plan) if is_begun(rack, one) else Counter()
        if one.plan not in named and (both := left & asked):
            yield (f"{listed(both)}: still to be cut for {one.name} too; if they are the same, plan them from what "
                   f"{rack.command('rest', one.name, '--csv', 'FILE')} writes, with its column from_plan")
        elif one.plan in named and one.done.gone and (lost := left - asked):
            yield f"{listed(lost)}: left to be cut for {one.name}, and not in this plan, which stands for all its rest"


def listed(pieces: Pieces) -> str:
    """The first few of some pieces, and how many more there are."""
    parts = [f"{qty} x {mark}" for (_, mark, _), qty in sorted(pieces.items())]
    return ", ".join(parts[:4]) + (f" and {len(parts) - 4} more" if len(parts) > 4 else "")
