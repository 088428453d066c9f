"""Plans on hold: what they need is kept for them until they are booked or released."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from cutplan.lengths import exact_decimal
from cutplan.problems import InputProblems, Problem
from cutplan.rack import replacing
from cutplan.rack.claims import Claimed, Known, claim, done, own, refuse
from cutplan.rack.register import register
from cutplan.rack.store import Rack


@dataclass(frozen=True)
class Held:
    """What a plan holds: so many offcuts, and so many new sticks that are there; `before` are the plans of the same
    rest that hold nothing any more."""

    name: str
    offcuts: int
    new: int
    before: tuple[str, ...] = ()


def hold(rack: Rack, what: Known) -> Held:
    """Keeps for a plan what it still needs of the rack. InputProblems where that is no longer there."""
    gone = done(rack, what.id).gone
    replacing.refuse_replaced(rack, what)
    if not gone:
        replacing.refuse_outrun(rack, what)
    if not what.numbers:
        refuse(what, "plan", f"has no sticks: {what.plan.why_empty}; nothing is to be held")
    if what.numbers <= gone:
        refuse(what, "plan", "is booked to its last stick; nothing of it is to be held")
    if holds(rack, what.id):
        refuse(what, "plan", "is on hold already; nothing is to be done")
    taken = claim(rack, what, what.numbers - gone)
    register(rack, what)
    before = let_go(rack, own(rack, what))
    held = write(rack, what, taken)
    if not held.offcuts + held.new:
        refuse(what, "plan", "takes nothing that is on this rack; nothing is to be held")
    return replace(held, before=before)


def let_go(rack: Rack, plans: Iterable[str]) -> tuple[str, ...]:
    """Some plans hold nothing any more: those that did, by name."""
    found = [row["name"] for plan in sorted(plans) if (row := rack.one("SELECT name FROM holds WHERE plan = ?", plan))]
    rack.many("DELETE FROM holds WHERE plan = ?", [(plan,) for plan in plans])
    return tuple(found)


def write(rack: Rack, what: Known, taken: Claimed) -> Held:
    rows: list[tuple[str, str | None, str, int]] = []
    rows += [(one.profile, one.tag, exact_decimal(one.length), 1) for one in taken.offcuts]
    rows += [(part.profile, None, exact_decimal(part.length), part.there) for part in taken.new if part.there]
    rack.many("INSERT INTO holds (plan, name, at, profile, tag, length, qty) VALUES (?,?,?,?,?,?,?)",
              [(what.id, what.file, rack.now, *row) for row in rows])
    return Held(what.file, len(taken.offcuts), sum(part.there for part in taken.new))


def release(rack: Rack, plan: str, file: str) -> Held:
    """Lets go of what a plan holds. InputProblems where it is not on hold."""
    rows = rack.all("SELECT * FROM holds WHERE plan = ?", plan)
    if not rows:
        raise InputProblems([Problem(file, 1, "plan", "is not on hold; nothing is to be released")])
    rack.do("DELETE FROM holds WHERE plan = ?", plan)
    return Held(rows[0]["name"], sum(row["tag"] is not None for row in rows),
                sum(row["qty"] for row in rows if row["tag"] is None))


def holds(rack: Rack, plan: str) -> bool:
    """Whether a plan has anything on hold."""
    return rack.one("SELECT 1 FROM holds WHERE plan = ?", plan) is not None


def shorten(rack: Rack, what: Known) -> None:
    """Leaves on hold what a plan still needs once more of it is booked; nothing if it had nothing on hold."""
    held = holds(rack, what.id)
    rack.do("DELETE FROM holds WHERE plan = ?", what.id)
    if held and (left := what.numbers - done(rack, what.id).gone):
        write(rack, what, claim(rack, what, left))
