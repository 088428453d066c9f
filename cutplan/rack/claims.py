"""What a stretch of a plan's sticks takes from the rack, and whether that is still there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.lengths import exact_decimal, factor
from cutplan.plans.plan import Numbered, Plan, identity, numbered
from cutplan.plans.records import ProfilePlan
from cutplan.problems import InputProblems, Problem
from cutplan.rack import shelf
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import Rack


@dataclass(frozen=True)
class Known:
    """A plan as the rack knows it: by its fingerprint; `file` is where it was read from."""

    plan: Plan
    id: str
    file: str

    @property
    def sticks(self) -> int:
        return sum(stick.count for profile in self.plan.profiles for stick in profile.sticks)


def known(plan: Plan, file: str) -> Known:
    return Known(plan, identity(plan), file)


def refuse(what: Known, column: str, message: str) -> None:
    raise InputProblems([Problem(what.file, 1, column, message)])


def booked_through(rack: Rack, plan: str) -> int:
    """The number of the last stick of a plan that is booked; 0 for none."""
    row = rack.one("SELECT max(last) AS last FROM bookings WHERE plan = ? AND undone IS NULL", plan)
    return int(row["last"] or 0) if row else 0


@dataclass(frozen=True)
class New:
    """New sticks of one length that are drawn. Lengths in the rack's unit.

    there:  how many of them the plan found on the rack when it was made, and takes now
    limit:  how many the plan could draw at all (None: any number can be bought)
    """

    profile: str
    length: Fraction
    drawn: int
    there: int
    limit: int | None


@dataclass(frozen=True)
class Claimed:
    """The sticks from number `first` to `last` of a plan: the offcuts and the new sticks they take."""

    first: int
    last: int
    entries: tuple[Numbered, ...]
    offcuts: tuple[Offcut, ...]
    new: tuple[New, ...]


def stretch(plan: Plan, first: int, last: int) -> Iterator[Numbered]:
    """The entries of the sticks from number `first` to `last`, cut where an entry is only partly among them."""
    for one in numbered(plan):
        begin, end = max(one.first, first), min(one.last, last)
        if begin <= end:
            tags = one.stick.offcut_tags[begin - one.first: end - one.first + 1]
            yield replace(one, first=begin, stick=replace(one.stick, count=end - begin + 1, offcut_tags=tags))


def claim(rack: Rack, what: Known, first: int, last: int) -> Claimed:
    """What these sticks take. InputProblems names all that is no longer there, or held for another plan."""
    entries = tuple(stretch(what.plan, first, last))
    problems: list[Problem] = []
    taken = []
    for one in entries:
        if one.stick.tag is not None:
            offcut, fault = there(rack, what, one)
            if offcut is None or fault:
                path = f"profiles[{one.profile}].sticks[{one.entry}].tag"
                problems.append(Problem(what.file, 1, path, f"{fault}; plan again with cutplan cut --rack"))
            else:
                taken.append(offcut)
    new = [part for k in range(len(what.plan.profiles)) for part in new_sticks(rack, what, k, entries)]
    for part in new:
        problems += [Problem(what.file, 1, f"{part.profile} {exact_decimal(part.length)}", fault)
                     for fault in missing(rack, what, part)]
    if problems:
        raise InputProblems(problems)
    return Claimed(first, last, entries, tuple(taken), tuple(new))


def there(rack: Rack, what: Known, one: Numbered) -> tuple[Offcut | None, str]:
    """The offcut that a stick is cut from, or why it cannot be."""
    stick, profile = one.stick, what.plan.profiles[one.profile]
    tag = stick.tag or ""
    row = rack.one("SELECT offcuts.*, holds.name AS held, holds.plan AS plan FROM offcuts "
                   "LEFT JOIN holds ON holds.tag = offcuts.tag WHERE offcuts.tag = ? AND state = 'here'", tag)
    if row is None:
        return None, shelf.whereabouts(rack, tag)
    if row["held"] is not None and row["plan"] != what.id:
        return None, f"{tag} is held for {row['held']}"
    offcut = shelf.offcut(row)
    if (offcut.profile, offcut.length) != (profile.profile, stick.length * factor(what.plan.unit, rack.unit)):
        return None, f"{tag} on this rack is another offcut ({offcut.profile} {exact_decimal(offcut.length)})"
    return replace(offcut, held=""), ""


def new_sticks(rack: Rack, what: Known, k: int, entries: tuple[Numbered, ...]) -> Iterator[New]:
    """The new sticks of the plan's profile k, by length."""
    profile = what.plan.profiles[k]
    drawn: Counter[Fraction] = Counter()
    before: Counter[Fraction] = Counter()
    for one in entries:
        if one.profile == k and one.stick.tag is None:
            drawn[one.stick.length] += one.stick.count
    for one in stretch(what.plan, 1, entries[0].first - 1) if entries else ():
        if one.profile == k and one.stick.tag is None:
            before[one.stick.length] += one.stick.count
    on_hand = dict(profile.on_hand)
    for length, n in drawn.items():
        limit = limit_of(profile, length)
        promised = on_hand.get(length, 0) - before[length] if limit is None else n
        yield New(profile.profile, length * factor(what.plan.unit, rack.unit), n, max(0, min(promised, n)), limit)


def limit_of(profile: ProfilePlan, length: Fraction) -> int | None:
    """How many new sticks of a length the plan could draw at all."""
    there = [entry["qty"] for entry in profile.certificate["stock"]
             if entry["tag"] is None and Fraction(entry["length"]) == length]
    return None if None in there else sum(map(int, there))


def missing(rack: Rack, what: Known, part: New) -> Iterator[str]:
    """What is to be said where fewer new sticks are left than the plan found."""
    count = next((one for one in shelf.counts(rack, part.profile) if one.length == part.length), None)
    if count is None and (part.limit is not None or not part.there):
        return  # never counted
    own = rack.one("SELECT total(qty) AS qty FROM holds WHERE tag IS NULL AND plan = ? AND profile = ? AND length = ?",
                   what.id, part.profile, exact_decimal(part.length))
    free = (count.free if count else 0) + int(own["qty"] if own else 0)
    if free < part.there:
        held = f" ({count.held} more are held for plans)" if count and count.held else ""
        yield (f"the plan takes {part.there} new sticks that were there, and {free} are free now{held}; "
               "plan again with cutplan cut --rack, or count them with cutplan rack count")
