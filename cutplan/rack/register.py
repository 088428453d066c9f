"""The plans that a rack knows: what they are called, which of their sticks are done, what replaced what."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction

from cutplan.exactjson import written
from cutplan.lengths import exact_decimal, factor
from cutplan.orders import Origin
from cutplan.problems import InputProblems, Problem
from cutplan.rack.claims import Done, Known, done, done_by
from cutplan.rack.store import Rack


@dataclass(frozen=True)
class Successor:
    """The plan that took over what another had left, and how: `booked`, or planned, on a day."""

    plan: str
    name: str
    day: str
    booked: bool

    def __str__(self) -> str:
        return f"{self.name}, {'booked' if self.booked else 'planned'} on {self.day}"


@dataclass(frozen=True)
class PlanState:
    """A plan as the rack knows it; `last` is None where that was never told.

    `earlier` names the plans it was made of the rest of, `by` is what took over what it had left; `again` says that
    pieces of spoiled sticks are to be planned again, `ended` why it can never begin ("": it can).
    """

    plan: str
    name: str
    made: str
    first: int
    last: int | None
    done: Done
    held: bool
    earlier: tuple[str, ...]
    by: Successor | None
    again: bool
    ended: str = ""

    @property
    def left(self) -> int | None:
        """How many of its sticks are neither cut nor spoiled."""
        return None if self.last is None else self.last - self.first + 1 - len(self.done.gone)

    @property
    def state(self) -> str:
        """One of retired, taken back, out of date, done, to be replanned, begun, on hold and planned."""
        if self.by is not None:
            return "retired"
        if self.ended:
            return self.ended
        if self.left == 0:
            return "to be replanned" if self.again else "done"
        return "begun" if self.done.gone else "on hold" if self.held else "planned"


def register(rack: Rack, what: Known, name: str | None = None) -> None:
    """Makes a plan known to the rack, under the name of its file (None: as it was read)."""
    asked = ((profile.profile, entry.mark, entry.length, entry.qty)
             for profile in what.plan.profiles for entry in profile.demand)
    rack.do("INSERT INTO plans (plan, name, at, first, last, asked) VALUES (?,?,?,?,?,?) ON CONFLICT (plan) DO UPDATE "
            "SET name = iif(excluded.name = '', name, excluded.name), first = excluded.first, last = excluded.last, "
            "asked = excluded.asked", what.id, what.file if name is None else name, rack.now, what.plan.first,
            what.plan.last, piece_rows(asked, factor(what.plan.unit, rack.unit)))
    for origin in what.plan.replaces:
        rack.do("INSERT OR IGNORE INTO plans (plan, name, at, first, last) VALUES (?,'',?,1,?)",
                origin.plan, rack.now, origin.last or None)
        rack.do("INSERT INTO follows (plan, earlier, cut) VALUES (?,?,?) ON CONFLICT (plan, earlier) DO UPDATE SET "
                "cut = excluded.cut", what.id, origin.plan, str(done_by(origin)))


def piece_rows(pieces: Iterable[tuple[str, str, Fraction, int]], inward: Fraction) -> str:
    """Some pieces as the rack writes them down: profile, mark, length and how many; `inward` of their unit make one of
    the rack's."""
    return written([[profile, mark, exact_decimal(length * inward), qty] for profile, mark, length, qty in pieces])


@contextmanager
def noticing(rack: Rack, what: Known) -> Iterator[list[str]]:
    """What is to be said of a plan and an older copy of its rack; InputProblems that are raised within say it too."""
    notes = older_copy(rack, what)
    try:
        yield notes
    except InputProblems as wrong:
        said = [Problem(what.file, 1, "plan", note) for note in notes]
        raise InputProblems([*wrong.problems, *said], wrong.most) from None


def older_copy(rack: Rack, what: Known) -> list[str]:
    """What is to be said where the rack has seen less than it had when a plan was made with it."""
    seen, then = rack.changes, what.plan.rack_changes
    if then <= seen:
        return []
    return [f"{rack.path} was changed {seen} time{'s' * (seen != 1)} so far, and {what.file} was made when its rack "
            f"had been changed {then} times: an older copy was put back since, or this is another rack. What was done "
            f"in between is not known here; see {rack.command('rack', 'plans')}, and book again what is missing"]


def name_of(rack: Rack, plan: str) -> str:
    """What a plan is called; its fingerprint where this rack does not know it."""
    row = rack.one("SELECT name FROM plans WHERE plan = ?", plan)
    return str(row["name"]) if row and row["name"] else f"the plan {plan}"


def is_named(rack: Rack, plan: str) -> bool:
    """Whether a rack knows what a plan is called."""
    return rack.one("SELECT 1 FROM plans WHERE plan = ? AND name != ''", plan) is not None


def taking_back(rack: Rack, booking: int) -> str:
    """How a booking that stands is taken back: of a plan, the last one comes first."""
    row = rack.one("SELECT plan, (SELECT count(*) FROM bookings WHERE plan = one.plan AND undone IS NULL AND id >= "
                   "one.id) AS often FROM bookings AS one WHERE id = ?", booking)
    assert row is not None, "it is there"
    often = f", {row['often']} times: the last booking is taken back first" if row["often"] > 1 else ""
    return rack.command("unbook", name_of(rack, row["plan"])) + often


def successor(rack: Rack, plan: str) -> Successor | None:
    """What took over what a plan had left."""
    row = rack.one("SELECT by, replaced.at, sticks FROM replaced LEFT JOIN bookings ON id = booking "
                   "WHERE replaced.plan = ?", plan)
    if row is None:
        return None
    return Successor(row["by"], name_of(rack, row["by"]), row["at"][:10], bool(row["sticks"]))


def last_successor(rack: Rack, plan: str) -> Successor | None:
    """The plan that goes on with what a plan had left, after however many others."""
    found = None
    while (after := successor(rack, found.plan if found else plan)) is not None:
        found = after
    return found


def plans(rack: Rack) -> list[PlanState]:
    """Every plan that the rack knows, in the order in which they came."""
    return [plan_state(rack, row) for row in rack.all("SELECT * FROM plans ORDER BY rowid")]


def plan_state(rack: Rack, row: sqlite3.Row) -> PlanState:
    plan = row["plan"]
    held = rack.one("SELECT 1 FROM holds WHERE plan = ?", plan) is not None
    so_far = done(rack, plan)
    return PlanState(plan, name_of(rack, plan), row["at"], row["first"], row["last"], so_far, held,
                     tuple(name_of(rack, one) for one in made_of(rack, plan)), successor(rack, plan), waits(rack, plan),
                     "" if so_far.gone else ended(rack, plan))


def ended(rack: Rack, plan: str) -> str:
    """Why a plan of which nothing is booked can never begin: it was for a week that changed, and that was taken back;
    or what it was made of is no longer what is left. "" where it can, or where that is not known."""
    if taken_back(rack, plan):
        return "taken back"
    for row in rack.all("SELECT earlier, cut FROM follows WHERE plan = ?", plan):
        by = successor(rack, row["earlier"])
        if by.plan != plan if by else row["cut"] not in (None, str(done(rack, row["earlier"]))):
            return "out of date"
    return ""


def taken_back(rack: Rack, plan: str) -> bool:
    """Whether a plan was made for a week that changed, or of what was left of such a plan, and that was taken back."""
    changes = rack.all("SELECT undone FROM bookings WHERE plan = ? AND sticks = 0", plan)
    if changes:
        return all(row["undone"] is not None for row in changes)
    return any(taken_back(rack, earlier) for earlier in made_of(rack, plan))


def made_of(rack: Rack, plan: str) -> list[str]:
    """The plans whose rest a plan was made of."""
    return [row["earlier"] for row in rack.all("SELECT earlier FROM follows WHERE plan = ? ORDER BY rowid", plan)]


def week_changes(rack: Rack, those: Iterable[str]) -> int:
    """How often a week changed that some plans, or any whose place they took, were made for."""
    return sum(len(rack.all("SELECT 1 FROM bookings WHERE plan = ? AND sticks = 0 AND undone IS NULL", plan))
               for plan in stood_for(rack, those))


def going_on(rack: Rack, those: Iterable[str]) -> list[str]:
    """The plans that now stand for some plans, by name; for one that was taken back, those for what it was made of."""
    found: dict[str, None] = {}
    for plan in those:
        if last := last_successor(rack, plan):
            found[last.name] = None
        elif taken_back(rack, plan):
            found.update(dict.fromkeys(going_on(rack, made_of(rack, plan))))
        else:
            found[name_of(rack, plan)] = None
    return list(found)


def is_finished(rack: Rack, plan: str) -> bool:
    """Whether a plan was booked, and nothing was left of it then."""
    row = rack.one("SELECT left_over FROM bookings WHERE plan = ? AND undone IS NULL ORDER BY id DESC", plan)
    return row is not None and row["left_over"] == "[]"


def waits(rack: Rack, plan: str) -> bool:
    """Whether anything was left of a plan after its last booking."""
    row = rack.one("SELECT left_over FROM bookings WHERE plan = ? AND undone IS NULL ORDER BY id DESC", plan)
    return row is not None and row["left_over"] != "[]"


def next_number(rack: Rack, origins: Sequence[Origin]) -> int:
    """The number that the first stick of a plan made of these rests has: beyond all that were ever given in its week,
    that of a plan that was made and then left alone included."""
    week = week_of(rack, (origin.plan for origin in origins))
    known = [row["last"] or 0 for row in rack.all("SELECT plan, last FROM plans") if row["plan"] in week]
    return 1 + max([*known, *(origin.last for origin in origins)], default=0)


def stood_for(rack: Rack, those: Iterable[str]) -> list[str]:
    """Some plans and all whose place they took, after however many others."""
    found = list(dict.fromkeys(those))
    for plan in found:  # it grows meanwhile
        rows = rack.all("SELECT plan FROM replaced WHERE by = ? ORDER BY rowid", plan)
        found += [row["plan"] for row in rows if row["plan"] not in found]
    return found


def week_of(rack: Rack, those: Iterable[str]) -> set[str]:
    """Some plans and all that were made of the rest of each other with them."""
    pairs = [(row["plan"], row["earlier"]) for row in rack.all("SELECT plan, earlier FROM follows")]
    week, open_ = set(those), True
    while open_:
        more = {plan for pair in pairs if week & set(pair) for plan in pair} - week
        week |= more
        open_ = bool(more)
    return week
