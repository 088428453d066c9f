"""A stick of a plan that was spoiled: not there, cracked, short, or cut wrong. Its pieces are to be cut again.

The rest of the plan stands and can be booked; what is left of the stick comes to the rack as it was measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal, factor
from cutplan.plans.numbers import sticks
from cutplan.plans.plan import Numbered, numbered
from cutplan.plans.records import Cut
from cutplan.rack import shelf
from cutplan.rack.booking import Booked, SticksCut, begun, can_be_taken_back, enter
from cutplan.rack.choosing import booked_on, refuse_strange
from cutplan.rack.claims import Claimed, Known, all_new, chosen, refuse, there
from cutplan.rack.register import taking_back
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import Rack
from cutplan.rack.tags import tidy


@dataclass(frozen=True)
class Remains:
    """What is left of a spoiled stick, as it was measured, in the rack's unit: see `shelf.Offcut`."""

    length: Fraction
    first: Fraction | None = None
    sawn: int = 0


def number_of_stick(what: Known, said: str) -> int:
    """The number of a stick, from its number or from the tag of the offcut it is. InputProblems for neither."""
    if said.strip().isdigit():
        number = int(said[:9])
        if number not in what.numbers:
            refuse_strange(what, "STICK", frozenset([number]))
        return number
    for one in numbered(what.plan):
        if one.stick.tag == tidy(said):
            return one.first
    refuse(what, "STICK", f"{said!r} is neither the number of a stick nor the tag of an offcut that this plan is cut "
                          "from; give one of those on its papers")


def stick_of(what: Known, number: int) -> Numbered:
    """A stick of a plan."""
    return next(chosen(what.plan, frozenset([number])))


def spoil(rack: Rack, what: Known, number: int, good: int = 0, left: Remains | None = None, note: str = ""
          ) -> tuple[Booked, tuple[Cut, ...]]:
    """Books a stick as spoiled, of whose pieces the first `good` are not; gives what is to be cut again as well.

    InputProblems where it is booked already, or more is said to be left than there was.
    """
    before, one = begun(rack, what), stick_of(what, number)
    name = sticks([number])
    if number in before.gone:
        day = booked_on(rack, what, frozenset([number]))
        refuse(what, name, f"was booked before, on {day}; {cure(rack, what, one)}")
    pieces = one.stick.cuts
    if not 0 <= good < len(pieces):
        refuse(what, "--good", f"{good} pieces of {name}, which gives {len(pieces)}; where all of them are good, book "
                               f"it: {rack.command('book', what.file, '--sticks', str(number))}")
    offcut, fault = there(rack, what, one) if one.stick.tag is not None else (None, "")
    if fault and good:
        refuse(what, "--good", f"{fault}, so nothing was cut from it for this plan; leave it out")
    if fault and left is not None:
        refuse(what, "--left", f"{fault}; {where_else(rack, one.stick.tag or '')}")
    most = (one.stick.length - sum((piece.length for piece in pieces[:good]), Fraction(0))) * factor(
        what.plan.unit, rack.unit)
    if left is not None and left.length > most:
        refuse(what, "--left", f"{exact_decimal(left.length)} {rack.unit} is more than can be left of {name}, which is "
                               f"{exact_decimal(most)} {rack.unit}; measure it again")
    kept: tuple[Offcut, ...] = ()
    if left is not None:
        (tag,) = shelf.new_tags(rack, 1)
        kept = (Offcut(tag, what.plan.profiles[one.profile].profile, left.length, left.first, rack.now,
                       f"{what.file}, stick {number}", note, sawn=left.sawn),)
    taken = Claimed((one,), (offcut,) if offcut and not fault else (),
                    tuple(all_new(rack, what, [one], frozenset([number]))))
    return enter(rack, what, taken, SticksCut(frozenset([number]), what.file, kept, good)), pieces[good:]


def where_else(rack: Rack, tag: str) -> str:
    """What helps where something is left of an offcut that this plan cannot be cut from: it comes to the rack once."""
    row = rack.one("SELECT state, name FROM offcuts LEFT JOIN holds ON holds.tag = offcuts.tag WHERE offcuts.tag = ?",
                   tag)
    if row and row["state"] == "here" and row["name"] is not None:
        return f"say it of that plan, with {rack.command('spoil', row['name'], tag)}"
    if row and row["state"] != "scrapped":
        return "leave it out: what is left of it is on the rack already, under a tag of its own, or was not kept"
    return f"leave it out, and put what is left of it on the rack with {rack.command('rack', 'add')}"


def cure(rack: Rack, what: Known, one: Numbered) -> str:
    """What helps where a stick that was booked is spoiled: a piece of it is cut again, or the booking taken back, where
    nothing stands against that."""
    row = rack.one("SELECT id FROM bookings JOIN booked ON booking = id WHERE plan = ? AND undone IS NULL "
                   "AND first <= ? AND last >= ?", what.id, one.first, one.first)
    assert row is not None, "it is booked"
    again = rack.command("recut", what.plan.profiles[one.profile].profile, "LENGTH")
    back = (f", or take that booking back with {taking_back(rack, row['id'])}" if can_be_taken_back(rack, row["id"])
            else "")
    return f"cut a piece of it again with {again}{back}"
