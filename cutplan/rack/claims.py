"""What some sticks of a plan take from the rack, and whether that is still there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NoReturn

from cutplan.lengths import exact_decimal, factor
from cutplan.orders import Origin
from cutplan.plans.numbers import runs, spanned, sticks
from cutplan.plans.plan import Numbered, Plan, identity, numbered
from cutplan.plans.records import ProfilePlan
from cutplan.problems import InputProblems, Problem
from cutplan.rack import shelf
from cutplan.rack.shelf import Counted, Offcut
from cutplan.rack.store import Rack


@dataclass(frozen=True)
class Known:
    """A plan as the rack knows it: by its fingerprint; `file` is where it was read from."""

    plan: Plan
    id: str
    file: str

    @property
    def numbers(self) -> frozenset[int]:
        """The numbers of its sticks."""
        return frozenset(range(self.plan.first, self.plan.last + 1))


def known(plan: Plan, file: str) -> Known:
    return Known(plan, identity(plan), file)


def refuse(what: Known, column: str, message: str) -> NoReturn:
    raise InputProblems([Problem(what.file, 1, column, message)])


@dataclass(frozen=True)
class Done:
    """What was done of a plan's sticks: those that are `cut`; of each that was spoiled, how many pieces are good."""

    cut: frozenset[int] = frozenset()
    spoiled: Mapping[int, int] = field(default_factory=dict)

    @property
    def gone(self) -> frozenset[int]:
        """The sticks of which nothing is left to be done."""
        return self.cut | self.spoiled.keys()

    def __str__(self) -> str:
        """As an Origin says it: 20-25,31:2."""
        parts = [(first, str(first) if first == last else f"{first}-{last}") for first, last in runs(self.cut)]
        parts += [(number, f"{number}:{good}") for number, good in self.spoiled.items()]
        return ",".join(text for _, text in sorted(parts))


def done_by(origin: Origin) -> Done:
    """What was done of a plan when its rest was listed."""
    if not origin.cut:
        return Done(frozenset(range(1, origin.after + 1)))
    parts = [part.partition(":") for part in origin.cut.split(",")]
    return Done(spanned((int(first), int(last or first)) for part, good, _ in parts if not good
                        for first, _, last in [part.partition("-")]),
                {int(number): int(good) for number, colon, good in parts if colon})


def origin(what: Known, so_far: Done) -> Origin:
    """The rest of a plan as it is now."""
    (first, last), *others = runs(so_far.cut) or [(1, 0)]
    plainly = first == 1 and not others and not so_far.spoiled
    return Origin(what.id, last if first == 1 else 0, "" if plainly else str(so_far), what.plan.last)


def done(rack: Rack, plan: str) -> Done:
    """What the bookings of a plan that stand say of its sticks."""
    rows = rack.all("SELECT first, last, good FROM booked JOIN bookings ON bookings.id = booking "
                    "WHERE plan = ? AND undone IS NULL", plan)
    return Done(spanned((row["first"], row["last"]) for row in rows if row["good"] is None),
                {row["first"]: row["good"] for row in rows if row["good"] is not None})


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
    """Some sticks of a plan: the offcuts and the new sticks they take."""

    entries: tuple[Numbered, ...]
    offcuts: tuple[Offcut, ...]
    new: tuple[New, ...]


def chosen(plan: Plan, numbers: frozenset[int]) -> Iterator[Numbered]:
    """The entries of the sticks with these numbers, parted where an entry's are not all among them."""
    for one in numbered(plan):
        for begin, end in runs(numbers.intersection(range(one.first, one.last + 1))):
            tags = one.stick.offcut_tags[begin - one.first: end - one.first + 1]
            yield replace(one, first=begin, stick=replace(one.stick, count=end - begin + 1, offcut_tags=tags))


def claim(rack: Rack, what: Known, numbers: frozenset[int]) -> Claimed:
    """What these sticks take. InputProblems names all that is no longer there, or held for another plan."""
    entries = tuple(chosen(what.plan, numbers))
    problems: list[Problem] = []
    taken = []
    for one in entries:
        if one.stick.tag is not None:
            offcut, fault = there(rack, what, one)
            if offcut is None or fault:
                problems.append(Problem(what.file, 1, sticks([one.first]),
                                        f"{fault}; plan again with {rack.command('replan', what.file)}, or say that "
                                        f"it is not there with {rack.command('spoil', what.file, str(one.first))}, and "
                                        "book the others"))
            else:
                taken.append(offcut)
    new = all_new(rack, what, entries, numbers)
    for part in new:
        problems += [Problem(what.file, 1, f"{part.profile} {exact_decimal(part.length)}", fault)
                     for fault in missing(rack, what, part)]
    if problems:
        raise InputProblems(problems)
    return Claimed(entries, tuple(taken), tuple(new))


def same_rest(rack: Rack, those: Iterable[str]) -> set[str]:
    """Some plans, and those made of what they have left that nobody has begun: only one of them will be cut, so what
    is on hold for one is there for each."""
    rows = rack.all("SELECT plan, earlier FROM follows WHERE plan NOT IN (SELECT plan FROM bookings WHERE undone IS "
                    "NULL) AND plan NOT IN (SELECT by FROM replaced)")
    found = set(those)
    while more := {row["plan"] for row in rows if row["earlier"] in found} - found:
        found |= more
    return found


def own(rack: Rack, what: Known) -> set[str]:
    """The plans whose holds are there for a plan: its own, and those for which the same rest would be cut."""
    return same_rest(rack, [what.id, *(one.plan for one in what.plan.replaces)])


def there(rack: Rack, what: Known, one: Numbered) -> tuple[Offcut | None, str]:
    """The offcut that a stick is cut from, or why it cannot be."""
    stick, profile = one.stick, what.plan.profiles[one.profile]
    tag = stick.tag or ""
    row = rack.one("SELECT offcuts.*, holds.name AS held, holds.plan AS plan FROM offcuts "
                   "LEFT JOIN holds ON holds.tag = offcuts.tag WHERE offcuts.tag = ? AND state = 'here'", tag)
    if row is None:
        return None, shelf.whereabouts(rack, tag)
    if row["held"] is not None and row["plan"] not in own(rack, what):
        return None, f"{tag} is held for {row['held']}"
    offcut = shelf.offcut(row)
    if (offcut.profile, offcut.length) != (profile.profile, stick.length * factor(what.plan.unit, rack.unit)):
        return None, f"{tag} on this rack is another offcut ({offcut.profile} {exact_decimal(offcut.length)})"
    return replace(offcut, held=""), ""


def all_new(rack: Rack, what: Known, entries: Sequence[Numbered], numbers: frozenset[int]) -> list[New]:
    """The new sticks among some of a plan's, which have these numbers."""
    before = done(rack, what.id).gone - numbers
    return [part for k in range(len(what.plan.profiles)) for part in new_sticks(what, rack.unit, k, entries, before)]


def new_sticks(what: Known, unit: str, k: int, entries: Sequence[Numbered], before: frozenset[int]) -> Iterator[New]:
    """The new sticks of the plan's profile k, by length in a rack's unit; the sticks `before` were drawn already."""
    profile = what.plan.profiles[k]
    drawn, earlier = drawn_by(entries, k), drawn_by(chosen(what.plan, before), k)
    on_hand = dict(profile.on_hand)
    for length, n in drawn.items():
        limit = limit_of(profile, length)
        promised = on_hand.get(length, 0) - earlier[length] if limit is None else n
        yield New(profile.profile, length * factor(what.plan.unit, unit), n, max(0, min(promised, n)), limit)


def drawn_by(entries: Iterable[Numbered], k: int) -> Counter[Fraction]:
    """How many new sticks of the plan's profile k these are, by length in the plan's unit."""
    drawn: Counter[Fraction] = Counter()
    for one in entries:
        if one.profile == k and one.stick.tag is None:
            drawn[one.stick.length] += one.stick.count
    return drawn


def limit_of(profile: ProfilePlan, length: Fraction) -> int | None:
    """How many new sticks of a length the plan could draw at all."""
    there = [entry["qty"] for entry in profile.certificate["stock"]
             if entry["tag"] is None and Fraction(entry["length"]) == length]
    return None if None in there else sum(map(int, there))


def counted(rack: Rack, what: Known, part: New) -> Counted | None:
    """The rack's count of such a length, of which all is free that is not on hold for another plan; None where it was
    never counted."""
    return next((one for one in shelf.counts(rack, part.profile, own(rack, what)) if one.length == part.length), None)


def free_of(count: Counted | None) -> int:
    """How many sticks a plan may draw by the count that is there for it."""
    return count.free if count else 0


def missing(rack: Rack, what: Known, part: New) -> Iterator[str]:
    """What is to be said where fewer new sticks are left than the plan found."""
    count = counted(rack, what, part)
    if count is None and (part.limit is not None or not part.there):
        return  # never counted
    free = free_of(count)
    if free < part.there:
        held = f" ({count.held} more are held for plans)" if count and count.held else ""
        yield (f"the plan takes {part.there} new sticks that were there, and {free} are free now{held}; "
               f"plan again with {rack.command('replan', what.file)}, or count them with "
               f"{rack.command('rack', 'count', part.profile, exact_decimal(part.length), 'N')}")
