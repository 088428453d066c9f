"""What lies on the rack: offcuts with their tags, and new sticks that were counted."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal
from cutplan.plans.numbers import spanned, sticks
from cutplan.problems import InputProblems, Problem
from cutplan.rack.store import Rack
from cutplan.rack.tags import is_tag, nearest_tags, tag_of, tidy


@dataclass(frozen=True)
class Offcut:
    """One offcut on the rack. Lengths in the rack's unit.

    first:   how far its first hole is from one end, a sawn one if it has one, where it has holes and this is known
    came:    when it came to the rack, in UTC
    source:  where it came from: "by hand", or the plan and the stick
    held:    the name of the plan that it is held for; "" for none
    sawn:    how many of its ends are sawn square, 0 to 2
    plain:   how much of its other end has no holes, where holes do not begin at that end
    slope:   of the end that was sawn at an angle, its left one: how far its lower corner lies after its upper one, as
             rise over run; it is squared again before the offcut is used, and its shorter edge is the length
    """

    tag: str
    profile: str
    length: Fraction
    first: Fraction | None
    came: str
    source: str
    note: str = ""
    held: str = ""
    sawn: int = 0
    plain: Fraction = Fraction(0)
    slope: Fraction = Fraction(0)


@dataclass(frozen=True)
class Counted:
    """`qty` new sticks of a length are there, `held` of them for plans on hold."""

    profile: str
    length: Fraction
    qty: int
    held: int = 0

    @property
    def free(self) -> int:
        return max(0, self.qty - self.held)  # sticks that are held may have been drawn all the same


@dataclass(frozen=True)
class Event:
    """One line of the rack's history; `booking` is the number of the booking it was a part of. The length is None
    where it is of a plan's sticks and of nothing on the rack."""

    at: str
    what: str
    tag: str
    profile: str
    length: Fraction | None
    qty: int
    booking: int | None
    note: str


# ---- looking ----


def offcuts(rack: Rack, profile: str | None = None, own: Collection[str] = ()) -> list[Offcut]:
    """What is on the rack, by profile, longest first, and oldest first among those of one length; what is on hold for
    one's `own` plans is free."""
    here = "" if profile is None else " AND offcuts.profile = ?"
    rows = rack.all(
        "SELECT offcuts.*, holds.name AS held FROM offcuts LEFT JOIN holds ON holds.tag = offcuts.tag "
        f"AND holds.plan NOT IN ({marks(own)}) WHERE state = 'here'{here} ORDER BY came, offcuts.rowid",
        *own, *([] if profile is None else [profile]))
    found = [offcut(row) for row in rows]
    rank = {length: k for k, length in enumerate(sorted({one.length for one in found}, reverse=True))}
    return sorted(found, key=lambda one: (one.profile, rank[one.length]))  # a stable sort: oldest stay first


def offcut(row: sqlite3.Row) -> Offcut:
    first = None if row["first"] is None else Fraction(row["first"])
    return Offcut(row["tag"], row["profile"], Fraction(row["length"]), first, row["came"], row["source"], row["note"],
                  row["held"] or "", row["sawn"], Fraction(row["plain"]), Fraction(row["slope"]))


def counts(rack: Rack, profile: str | None = None, own: Collection[str] = ()) -> list[Counted]:
    """The lengths of new stock that were counted, longest first; what is on hold for one's `own` plans is free."""
    rows = rack.all(
        "SELECT profile, length, qty, (SELECT total(holds.qty) FROM holds WHERE holds.tag IS NULL AND "
        "holds.profile = counted.profile AND holds.length = counted.length AND "
        f"holds.plan NOT IN ({marks(own)})) AS held FROM counted", *own)
    found = [Counted(row["profile"], Fraction(row["length"]), row["qty"], int(row["held"])) for row in rows
             if profile in (None, row["profile"])]
    return sorted(found, key=lambda one: (one.profile, -one.length))


def marks(values: Collection[str]) -> str:
    """What stands for so many values in a statement."""
    return ",".join("?" * len(values))


def history(rack: Rack, tag: str | None = None) -> list[Event]:
    """Everything that happened, oldest first; of one offcut only with its `tag`. InputProblems for an unknown one."""
    if tag is None:
        rows = rack.all("SELECT * FROM history ORDER BY id")
    else:
        rows = rack.all("SELECT * FROM history WHERE tag = ? ORDER BY id", known_tag(rack, tag))
    found = [Event(row["at"], row["what"], row["tag"] or "", row["profile"], Fraction(row["length"]), row["qty"],
                   row["booking"], row["note"]) for row in rows]
    return found if tag else sorted([*found, *silent(rack)], key=lambda event: event.at)


def silent(rack: Rack) -> Iterator[Event]:
    """The bookings that moved nothing on the rack, and when they were taken back."""
    rows = rack.all("SELECT bookings.*, max(booked.good) AS good FROM bookings LEFT JOIN booked ON booking = id WHERE "
                    "id NOT IN (SELECT booking FROM history WHERE booking IS NOT NULL) GROUP BY id ORDER BY id")
    for row in rows:
        runs = rack.all("SELECT first, last FROM booked WHERE booking = ? ORDER BY first", row["id"])
        numbers = spanned((run["first"], run["last"]) for run in runs)
        what = "booked" if row["good"] is None else "spoiled"
        note = f"{row['name']}, {sticks(numbers)}" if numbers else row["name"]
        yield Event(row["at"], what if numbers else "week changed", "", "", None, len(numbers), row["id"], note)
        if row["undone"]:
            yield Event(row["undone"], "unbooked", "", "", None, len(numbers), row["id"], note)


def known_tag(rack: Rack, text: str) -> str:
    """A tag that was ever on this rack, from what was typed. InputProblems names what it may have been."""
    tag = tidy(text)
    if rack.one("SELECT 1 FROM offcuts WHERE tag = ?", tag):
        return tag
    near = nearest_tags(tag, [row["tag"] for row in rack.all("SELECT tag FROM offcuts WHERE state = 'here'")])
    right = f"did you mean {' or '.join(near[:4])}?" if near else "rack show lists those there are"
    what = "is a tag, but never was on this rack" if is_tag(tag) else "is no tag as cutplan writes them"
    raise InputProblems([Problem(rack.path, 1, text, f"{what}; {right}")])


def profiles(rack: Rack) -> list[str]:
    """The profiles that were ever on this rack, or in a plan made with it."""
    rows = rack.all("SELECT profile FROM history UNION SELECT profile FROM rules ORDER BY profile")
    return [row["profile"] for row in rows]


# ---- changing ----


def new_tags(rack: Rack, qty: int) -> list[str]:
    """So many tags that no offcut of this rack ever had or was promised."""
    row = rack.one("SELECT next_tag FROM rack")
    assert row is not None, "made with the file"
    number = int(row["next_tag"])
    found: list[str] = []
    while len(found) < qty:
        tag = tag_of(number)
        if not rack.one("SELECT 1 FROM offcuts WHERE tag = ?", tag):  # one may have come with a plan of another rack
            found.append(tag)
        number += 1
    if found:
        rack.do("UPDATE rack SET next_tag = ?, last_tag = ?", number, found[-1])
    return found


def add(rack: Rack, profile: str, length: Fraction, qty: int = 1, first: Fraction | None = None,
        note: str = "", sawn: int = 0) -> list[Offcut]:
    """Puts `qty` offcuts of a length on the rack, in its unit, and gives them tags."""
    added = [Offcut(tag, profile, length, first, rack.now, "by hand", note, sawn=sawn) for tag in new_tags(rack, qty)]
    put(rack, added)
    remember(rack, "added", added, note=note)
    return added


def put(rack: Rack, come: Iterable[Offcut]) -> None:
    """Offcuts that are on the rack from now on; a booking taken back may bring the same ones again."""
    rack.many(
        "INSERT INTO offcuts (tag, profile, length, first, came, source, note, sawn, plain, slope, state) "
        "VALUES (?,?,?,?,?,?,?,?,?,?,'here') "
        "ON CONFLICT (tag) DO UPDATE SET state = 'here', profile = excluded.profile, length = excluded.length, "
        "first = excluded.first, came = excluded.came, source = excluded.source, note = excluded.note, "
        "sawn = excluded.sawn, plain = excluded.plain, slope = excluded.slope",
        [(one.tag, one.profile, exact_decimal(one.length), None if one.first is None else exact_decimal(one.first),
          one.came, one.source, one.note, one.sawn, *map(exact_decimal, (one.plain, one.slope))) for one in come])


def scrap(rack: Rack, tags: Sequence[str], note: str = "") -> list[Offcut]:
    """Takes offcuts off the rack for scrap: all of them, or none where a tag is wrong, gone or held."""
    problems: list[Problem] = []
    gone: dict[str, Offcut] = {}
    here = {one.tag: one for one in offcuts(rack)}
    for text in tags:
        try:
            tag = known_tag(rack, text)
        except InputProblems as wrong:
            problems += wrong.problems
            continue
        if tag not in here:
            problems.append(Problem(rack.path, 1, text, f"{whereabouts(rack, tag)}; leave it out"))
        elif held := here[tag].held:
            problems.append(Problem(rack.path, 1, text, f"is held for {held}; let it go with "
                                    f"{rack.command('release', held)} first, or, if it was to be cut for it, say so "
                                    f"with {rack.command('spoil', held, tag)}"))
        else:
            gone[tag] = here[tag]
    if problems:
        raise InputProblems(problems)
    leave(rack, gone, "scrapped")
    remember(rack, "scrapped", gone.values(), note=note)
    return list(gone.values())


def leave(rack: Rack, tags: Iterable[str], state: str) -> None:
    rack.many("UPDATE offcuts SET state = ? WHERE tag = ?", [(state, tag) for tag in tags])


def remember(rack: Rack, what: str, those: Iterable[Offcut], *, booking: int | None = None, note: str = "") -> None:
    for one in those:
        rack.remember(what, one.profile, exact_decimal(one.length), tag=one.tag, booking=booking, note=note)


def whereabouts(rack: Rack, tag: str) -> str:
    """What became of an offcut that is not on the rack, or not yet."""
    row = rack.one("SELECT at, what, note FROM history WHERE tag = ? ORDER BY id DESC LIMIT 1", tag)
    if row is None:
        return f"{tag} never was on this rack"
    return f"{tag} left the rack: {row['what']} on {row['at'][:10]}" + (f", {row['note']}" if row["note"] else "")


def count(rack: Rack, profile: str, length: Fraction, qty: int, more: bool = False) -> Counted:
    """Says how many new sticks of a length are there; with `more`, how many have come besides.

    InputProblems where plans on hold need more than there are.
    """
    text = exact_decimal(length)
    before = next((one for one in counts(rack, profile) if one.length == length), Counted(profile, length, 0))
    now = before.qty + qty if more else qty
    if now < before.held:
        holds = rack.all("SELECT DISTINCT name FROM holds WHERE tag IS NULL AND profile = ? AND length = ?", profile,
                         text)
        cures = " or ".join(rack.command("release", row["name"]) for row in holds)
        rack.refuse(f"{profile} {text}", f"{before.held} are held for plans; let some go with {cures}, or count again")
    set_count(rack, profile, length, now)
    rack.remember("delivered" if more else "counted", profile, text, qty=qty)
    return Counted(profile, length, now, before.held)


def set_count(rack: Rack, profile: str, length: Fraction, qty: int) -> None:
    rack.do("INSERT INTO counted (profile, length, qty) VALUES (?,?,?) "
            "ON CONFLICT (profile, length) DO UPDATE SET qty = excluded.qty", profile, exact_decimal(length), qty)
