"""The history followed line by line: what it comes to is what the other tables say, or one of them was changed.

Nothing here is guessed: each rule follows from what the rack itself writes down, in every form it ever had. Where it
may come to either, nothing is said: a plan may hold sticks that nobody counted, and a booking that touched nothing on
the rack looks the same taken back. Lengths stay the text they are in the file.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.plans.numbers import spanned

CountKey = tuple[str, str]  # a profile and a length
BECOMES = {  # what an event makes of an offcut in a state
    ("here", "cut up"): "used", ("here", "scrapped"): "scrapped", ("here", "taken back"): "taken back",
    ("used", "put back"): "here",
}  # fmt: skip


@dataclass
class Life:
    """An offcut since it last came to the rack, `by` a booking or by hand (None); `cut` for a booking, if it was."""

    came: str
    key: CountKey
    by: int | None
    state: str = "here"
    cut: int | None = None


@dataclass
class DrawnFrom:
    """What a booking drew of a length; whether it was put back."""

    booking: int
    qty: int
    back: bool = False


@dataclass
class Count:
    """The new sticks of a length.

    most:       how many there were at most since somebody counted them and saw to the plans on hold (None: nobody did)
    recounted:  the last line that counts them anew
    drawn:      what the bookings drew
    """

    qty: int = 0
    most: int | None = None
    recounted: int = 0
    drawn: list[DrawnFrom] = field(default_factory=list)

    def now(self, qty: int) -> None:
        self.qty = qty
        self.most = None if self.most is None else max(self.most, qty)


class Ledger:
    """The rack as its history tells it. The rows' columns are sound, and what they name is there."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self.db = db
        self.bookings = {row["id"]: row for row in db.execute("SELECT * FROM bookings ORDER BY id")}
        self.sticks = {id_: spanned(db.execute("SELECT first, last FROM booked WHERE booking = ?", (id_,)))
                       for id_ in self.bookings}
        self.spoiled = {row["booking"] for row in db.execute("SELECT booking FROM booked WHERE good IS NOT NULL")}
        self.lives: dict[str, Life] = {}
        self.counts: dict[CountKey, Count] = {}
        self.last_line: dict[int, int] = {}  # by booking
        self.parts: dict[int, Counter[str]] = {id_: Counter() for id_ in self.bookings}  # what each cut up and kept

    def faults(self) -> Iterator[str]:
        for row in self.db.execute("SELECT * FROM history ORDER BY id"):
            if row["booking"] is not None:
                self.last_line[row["booking"]] = row["id"]
            yield from self.counted(row) if row["tag"] is None else self.moved(row)
        yield from self.offcut_faults()
        yield from self.count_faults()
        yield from self.hold_faults()
        yield from self.booking_faults()

    # ---- the history ----

    def moved(self, row: sqlite3.Row) -> Iterator[str]:
        """A line that tells of an offcut."""
        tag, what, key = row["tag"], row["what"], (row["profile"], row["length"])
        life = self.lives.get(tag)
        line = f"line {row['id']} of the history says that offcut {tag} was {what}"
        if row["booking"] is not None:  # a plan names the offcuts it is cut from, and may leave the new tags open
            self.parts[row["booking"]][tag if what == "cut up" else what] += 1
        if what in ("added", "kept"):
            if life is not None and (what, life.state) != ("kept", "taken back"):
                yield f"{line}, and it was {life.state} already"
            self.lives[tag] = Life(row["at"], key, row["booking"])
            return
        if life is None:
            yield f"{line}, and not that it ever came"
            return
        if life.key != key:
            yield f"{line} as {key[0]} {key[1]}, and it came as {life.key[0]} {life.key[1]}"
        state = BECOMES.get((life.state, what))
        undone = life.cut if what == "put back" else life.by
        if state is None or (what == "taken back" and undone is None):
            yield f"{line}, and it was {life.state}"
        elif what.endswith("back") and undone is not None and self.bookings[undone]["undone"] != row["at"]:
            yield f"{line}, and booking {undone}, which it was of, was not taken back then"
        life.state = state or life.state
        life.cut = row["booking"] if what == "cut up" else None

    def counted(self, row: sqlite3.Row) -> Iterator[str]:
        """A line that tells of new sticks."""
        what, qty, key = row["what"], row["qty"], (row["profile"], row["length"])
        line = f"line {row['id']} of the history says that {qty} of {key[0]} {key[1]} were {what}"
        if what in ("drawn", "put back") and key not in self.counts:
            yield f"{line}, and not that any were counted"
        count = self.counts.setdefault(key, Count())
        if what == "drawn":
            if qty > count.qty:
                yield f"{line}, and {count.qty} were there"
            count.drawn.append(DrawnFrom(row["booking"], qty))
            count.now(max(0, count.qty - qty))
        elif what == "put back":
            drawn = next((one for one in reversed(count.drawn) if not one.back and one.qty == qty
                          and self.bookings[one.booking]["undone"] == row["at"]), None)
            if drawn is None:
                yield f"{line}, and no booking that was taken back then had drawn them"
            else:
                drawn.back = True
            count.now(count.qty + qty)
        else:
            count.qty = qty + (count.qty if what == "delivered" else 0)
            by_hand = what == "delivered" or not row["note"]
            count.most = count.qty if by_hand else None
            if what == "counted":
                count.recounted = row["id"]

    # ---- what it comes to ----

    def offcut_faults(self) -> Iterator[str]:
        holes: dict[tuple[int, str], bool] = {}
        for row in self.db.execute("SELECT * FROM offcuts ORDER BY rowid"):
            tag, key, life = row["tag"], (row["profile"], row["length"]), self.lives.get(row["tag"])
            if life is None:
                yield f"offcut {tag} is {row['state']}, and the history does not say how it came"
                continue
            if key != life.key:
                yield f"offcut {tag} is {life.key[0]} {life.key[1]} in the history, and {key[0]} {key[1]} on the rack"
            if row["state"] != life.state:
                yield f"offcut {tag} is {life.state} in the history, and {row['state']} on the rack"
            if row["came"] != life.came:
                yield f"offcut {tag} came at {life.came} by the history, and at {row['came']} by the rack"
            source = re.fullmatch(self.source(life), row["source"], re.DOTALL)
            sticks = self.sticks[life.by] if life.by is not None else None
            if source is None or (sticks and int(source[1]) not in sticks):
                yield f"offcut {tag} came another way than from {row['source'][:40]!r}"
            yield from self.end_faults(row, life)
            if life.by is not None:  # the rails of one plan and profile all have holes, or none has
                has = row["first"] is not None
                if holes.setdefault((life.by, row["profile"]), has) != has:
                    yield (f"offcut {tag} {'has' if has else 'has no'} first hole, unlike others of {row['profile']} "
                           f"that booking {life.by} kept")
            for booking in (life.cut, life.by if life.state != "taken back" else None):
                if booking is not None and self.bookings[booking]["undone"] is not None:
                    yield f"booking {booking} was taken back, and offcut {tag} is {life.state} as if it was not"

    def end_faults(self, row: sqlite3.Row, life: Life) -> Iterator[str]:
        """Says so where an offcut cannot have the ends it is said to have."""
        tag, first = row["tag"], row["first"]
        if life.by is None and first is not None and Fraction(first) >= Fraction(row["length"]):
            yield f"offcut {tag} has its first hole beyond its other end"
        if life.by is None and row["plain"] != "0":
            yield f"offcut {tag} was measured by hand, and its other end was not"
        if life.by is None and row["slope"] != "0":
            yield f"offcut {tag} was measured by hand, and the slope of its end was not"
        if row["sawn"] == 2 and row["slope"] != "0":
            yield f"offcut {tag} has both ends sawn square, and one of them at an angle"
        new = life.by is not None and set(self.parts[life.by]) == {"kept"}  # it was cut from no other offcut
        if new and first is None and row["plain"] != "0":
            yield f"offcut {tag} has no holes, and its other end is said to have none up to {row['plain'][:40]}"

    def source(self, life: Life) -> str:
        """What the source of an offcut looks like."""
        if life.by is None:
            return "by hand"
        what = "stick ([0-9]{1,9})" if self.sticks[life.by] else "piece .+"
        return f"{re.escape(self.bookings[life.by]['name'])}, {what}"

    def count_faults(self) -> Iterator[str]:
        there = {(row["profile"], row["length"]): row["qty"] for row in self.db.execute("SELECT * FROM counted")}
        for (profile, length), qty in there.items():
            count = self.counts.get((profile, length))
            if count is None:
                yield f"the count of {profile} {length} is not in the history"
            elif count.qty != qty:
                yield f"the count of {profile} {length} is {count.qty} by the history, and {qty} on the rack"
        for (profile, length), count in self.counts.items():
            if (profile, length) not in there:
                yield f"the count of {profile} {length} is lost"
            for one in count.drawn:
                undone = self.bookings[one.booking]["undone"] is not None
                if undone and not one.back and count.recounted < self.last_line[one.booking]:
                    yield f"booking {one.booking} was taken back, and the {profile} {length} it drew are not put back"

    def hold_faults(self) -> Iterator[str]:
        """Says so where more is held than there can have been, while plans on hold were seen to."""
        for row in self.db.execute("SELECT profile, length, sum(qty) AS qty FROM holds WHERE tag IS NULL "
                                   "GROUP BY profile, length"):
            count = self.counts.get((row["profile"], row["length"]))
            if count is not None and count.most is not None and row["qty"] > count.most:
                yield f"plans hold {row['qty']} x {row['profile']} {row['length']}, and at most {count.most} were there"
        left = {row["plan"]: {entry[0] for entry in json.loads(row["left_over"])}
                for row in self.bookings.values() if row["undone"] is None}
        for row in self.db.execute("SELECT plan, name, profile FROM holds"):
            if left.get(row["plan"]) and row["profile"] not in left[row["plan"]]:
                yield f"{row['name']} holds {row['profile']}, of which nothing is left to cut for it"

    def booking_faults(self) -> Iterator[str]:
        """Says so where a stick was booked twice, or the same sticks were booked differently."""
        by: dict[tuple[str, int], int] = {}
        twins: dict[tuple[str, frozenset[int]], int] = {}
        for id_, row in self.bookings.items():
            plan, sticks = row["plan"], self.sticks[id_]
            if row["undone"] is None:
                if twice := {by[plan, number] for number in sticks if (plan, number) in by}:
                    yield f"booking {id_} is of sticks that booking {min(twice)} is of too"
                by.update(((plan, number), id_) for number in sticks)
            if id_ in self.spoiled or not sticks:
                continue
            other = twins.setdefault((plan, sticks), id_)
            if self.parts[other] != self.parts[id_]:
                yield f"bookings {other} and {id_} are of the same sticks, and not of the same offcuts"
