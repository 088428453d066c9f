"""What was truly cut of a plan, as its bookings say: sticks and offcuts that were taken, pieces, what was kept.

Sticks that were spoiled count whole, with the pieces of them that are good and what of them came to the rack. Pieces
that a week that changed took away are pieces no longer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.ends import ends_in
from cutplan.lengths import factor
from cutplan.plans.plan import Numbered, numbered
from cutplan.rack import booking, register
from cutplan.rack.claims import Done, Known, chosen, done, done_by
from cutplan.rack.store import Rack

BOOKED, WITHOUT_RACK, PLANNED = "booked", "without a rack", "as planned"  # how it is known what was cut of a plan


@dataclass(frozen=True)
class CutOffcut:
    """An offcut that was cut from; `kept_by` is the fingerprint of the plan that had kept it ("": none had)."""

    tag: str
    length: Fraction
    kept_by: str = ""


@dataclass(frozen=True)
class Drawn:
    """What was cut of one profile of a plan, in the plan's unit: new sticks by length, offcuts from the rack, the net
    length of the pieces (less than 0 where more of them were taken away), the length that was kept."""

    profile: str
    net: Fraction
    kept: Fraction
    new: Mapping[Fraction, int]
    offcuts: tuple[CutOffcut, ...] = ()


@dataclass(frozen=True)
class BegunPlan:
    """A plan of which something is booked; `unfinished`: not all of it, nor of those that took over what it left."""

    plan: str
    name: str
    unfinished: bool


@dataclass(frozen=True)
class PlanDrawn:
    """What was cut of a plan for a `job` ("": not said), and `how` that is known.

    `week` are all plans that are begun and were made of each other's rests with this one, itself included.
    """

    plan: str
    name: str
    job: str
    how: str
    profiles: tuple[Drawn, ...]
    week: tuple[BegunPlan, ...]

    @property
    def begun(self) -> bool:
        """Whether anything was booked of it at all."""
        return any(one.plan == self.plan for one in self.week)


def booked(rack: Rack, what: Known, job: str) -> PlanDrawn:
    """What the bookings of a plan on a rack come to."""
    so_far = done(rack, what.id)
    outward = factor(rack.unit, what.plan.unit)
    net: dict[str, Fraction] = {}
    for one in booking.good_sticks(what.plan, so_far):
        add(net, profile_of(what, one), one.stick.count * sum((cut.middle for cut in one.stick.cuts), Fraction(0)))
    for row in rack.all("SELECT pieces.* FROM pieces JOIN bookings ON bookings.id = booking WHERE plan = ? AND "
                        "undone IS NULL AND sticks = 0", what.id):
        add(net, row["profile"], row["qty"] * outward * (Fraction(row["length"]) - sum(ends_in(row["lies"])) / 2))
    kept: dict[str, Fraction] = {}
    offcuts: dict[str, list[CutOffcut]] = {}
    for row in rack.all("SELECT what, tag, history.profile, length FROM history JOIN bookings ON bookings.id = booking "
                        "WHERE plan = ? AND undone IS NULL AND tag IS NOT NULL ORDER BY history.id", what.id):
        length = Fraction(row["length"]) * outward
        if row["what"] == "kept":
            add(kept, row["profile"], length)
        else:
            offcuts.setdefault(row["profile"], []).append(CutOffcut(row["tag"], length, kept_by(rack, row["tag"])))
    new = new_by_profile(what, chosen(what.plan, so_far.gone))
    names = dict.fromkeys([*(one.profile for one in what.plan.profiles), *net, *kept])
    none = Fraction(0)
    found = (Drawn(name, net.get(name, none), kept.get(name, none), new.get(name, {}), tuple(offcuts.get(name, ())))
             for name in names if name in net or name in kept or name in new or name in offcuts)
    return PlanDrawn(what.id, what.file, job, BOOKED, tuple(found), week_of(rack, what, so_far))


def cut_whole(what: Known, job: str) -> PlanDrawn:
    """A plan that was cut without a rack, to its last stick."""
    new = new_by_profile(what, numbered(what.plan))
    found = []
    for profile in what.plan.profiles:
        tags = [CutOffcut(stick.tag, stick.length) for stick in profile.sticks if stick.tag is not None]
        found.append(Drawn(profile.profile, profile.totals.pieces, profile.totals.kept,
                           new.get(profile.profile, {}), tuple(tags)))
    rests = [BegunPlan(one.plan, f"the plan {one.plan}", False) for one in what.plan.replaces if done_by(one).gone]
    week = (BegunPlan(what.id, what.file, False), *rests)
    return PlanDrawn(what.id, what.file, job, WITHOUT_RACK, tuple(found), week)


def add(sums: dict[str, Fraction], name: str, figure: Fraction) -> None:
    sums[name] = sums.get(name, Fraction(0)) + figure


def profile_of(what: Known, one: Numbered) -> str:
    return what.plan.profiles[one.profile].profile


def new_by_profile(what: Known, sticks: Iterable[Numbered]) -> dict[str, Counter[Fraction]]:
    """The new sticks among some of a plan's, by profile and length."""
    found: dict[str, Counter[Fraction]] = {}
    for one in sticks:
        if one.stick.tag is None:
            found.setdefault(profile_of(what, one), Counter())[one.stick.length] += one.stick.count
    return found


def kept_by(rack: Rack, tag: str) -> str:
    """The plan that kept an offcut; "" where it came otherwise."""
    row = rack.one("SELECT plan FROM history JOIN bookings ON bookings.id = booking WHERE tag = ? AND what = 'kept' "
                   "AND undone IS NULL", tag)
    return str(row["plan"]) if row else ""


def week_of(rack: Rack, what: Known, so_far: Done) -> tuple[BegunPlan, ...]:
    week = register.week_of(rack, [what.id])
    rows = rack.all("SELECT DISTINCT plan FROM bookings WHERE undone IS NULL ORDER BY id")
    return tuple(BegunPlan(plan, register.name_of(rack, plan), is_unfinished(rack, what, so_far, plan))
                 for plan in (row["plan"] for row in rows) if plan in week)


def is_unfinished(rack: Rack, what: Known, so_far: Done, plan: str) -> bool:
    """Whether anything is still to be cut of a plan, or of what took over what it had left."""
    if last := register.last_successor(rack, plan):
        return not register.is_finished(rack, last.plan)
    if plan == what.id:  # racks of an early form did not note down what bookings left
        return bool(booking.pieces_left(what.plan, so_far))
    return not register.is_finished(rack, plan)

