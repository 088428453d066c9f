"""What the tables of the rack's file hold, column by column, and what must agree between them."""

from __future__ import annotations

import hashlib
import re
import sqlite3
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from cutplan.damage import LONGEST_NUMBER, TableRule, length, number, or_none, plain_json, text, time, whole, word
from cutplan.lengths import factor
from cutplan.orders import CUT_STICKS
from cutplan.plans.digest import DIGITS
from cutplan.plans.numbers import MOST_NUMBERED
from cutplan.plausible import LONGEST
from cutplan.rack.ledger import Ledger
from cutplan.rack.tags import is_tag, number_of, tag_of
from cutplan.shop import TURNS, UNITS

STATES = ("here", "used", "scrapped", "taken back")
EVENTS = ("added", "kept", "taken back", "cut up", "scrapped", "put back", "counted", "delivered", "drawn")
OF_BOOKINGS = ("cut up", "kept", "drawn")  # the events that belong to one
OF_COUNTS = ("counted", "delivered", "drawn")  # those of new sticks alone
FINGERPRINT = re.compile(rf"[0-9a-f]{{{DIGITS}}}")
# The longest that can be meant in either unit, by the unit it is written in.
FARTHEST = {unit: max(LONGEST[other] * factor(other, unit) for other in UNITS) for unit in UNITS}


def tag(value: Any) -> bool:
    return isinstance(value, str) and is_tag(value)


def fingerprint(value: Any) -> bool:
    """What a plan is known by; under anything else it would count as never booked."""
    return isinstance(value, str) and FINGERPRINT.fullmatch(value) is not None


def reach(value: Any) -> bool:
    """A length that can be meant, in whatever unit."""
    return length(value) and place(value)


def place(value: Any) -> bool:
    """A place on a stick that can be meant, in whatever unit."""
    return number(value) and Fraction(value) <= max(FARTHEST.values())


def slope(value: Any) -> bool:
    """A slope that an end can have, either way."""
    return text(value) and number(value.removeprefix("-"))


def figure(value: Any, least: int = 0) -> bool:
    """A number in JSON: zero or more, exact, or p/q as text."""
    if isinstance(value, str):
        return number(value)
    return not isinstance(value, bool | list | dict) and value is not None and bool(value >= least)


def rule(value: Any) -> bool:
    """How a profile was cut, as `rules.rule_of` writes it."""
    if not text(value):
        return False
    try:
        said = plain_json(value)
        routing, stock, angles = said["routing"], said["stock"], said.get("angles")
        return (
            said["unit"] in UNITS and isinstance(said["one_per_stick"], bool)
            and all(figure(said[name]) for name in ("kerf", "head_trim", "tail_trim"))
            and (said["keep_from"] is None or figure(said["keep_from"]))
            and (routing is None or (positive(routing["pitch"]) and figure(routing["first"])))
            and (angles is None or (positive(angles["face"]) and positive(angles["step"])
                                    and angles["may_turn"] in TURNS))
            and isinstance(stock, list) and all(positive(one["length"]) and figure(one["price"]) for one in stock)
        )  # fmt: skip
    except (ValueError, TypeError, KeyError):
        return False


def positive(value: Any) -> bool:
    return figure(value) and (length(value) if isinstance(value, str) else value > 0)


def lies(value: Any) -> bool:
    """How a piece lies, as `cutplan.ends.lies_of` writes it."""
    if not isinstance(value, str) or len(value) > 2 * LONGEST_NUMBER:
        return False
    return value in ("", "hole", "space") or (
        value.count(" ") == 1 and all(number(part.removeprefix("-")) for part in value.split(" ")))


def sticks_done(value: Any) -> bool:
    """Sticks that were cut and spoiled, as an Origin says it."""
    return value == "" or (text(value) and CUT_STICKS.fullmatch(value) is not None)


def more_or_less(value: Any) -> bool:
    """How many have come, or gone."""
    return isinstance(value, int) and whole(abs(value))


def pieces(value: Any) -> bool:
    """What a plan was made for, or has left, as `register.piece_rows` writes it."""
    if not text(value):
        return False
    try:
        said = plain_json(value)
        return isinstance(said, list) and all(
            text(profile) and text(mark) and positive(long) and positive(qty) and not isinstance(qty, str)
            and qty.denominator == 1 for profile, mark, long, qty in said)
    except (ValueError, TypeError):
        return False


RACK_TABLES = {
    "rack": TableRule({
        "unit": word(*UNITS), "next_tag": whole, "last_tag": or_none(tag), "changes": whole,
        "seal": or_none(fingerprint)}, single=True),
    "offcuts": TableRule({
        "tag": tag, "profile": text, "length": reach, "first": or_none(place), "came": time, "source": text,
        "note": text, "state": word(*STATES), "sawn": word(0, 1, 2), "plain": place, "slope": slope}),
    "counted": TableRule({"profile": text, "length": reach, "qty": whole}),
    "bookings": TableRule({
        "id": whole, "plan": fingerprint, "name": text, "at": time, "undone": or_none(time), "left_over": pieces,
        "sticks": whole}),
    "booked": TableRule({"booking": whole, "first": whole, "last": whole, "good": or_none(whole)}),
    "plans": TableRule({
        "plan": fingerprint, "name": text, "at": time, "first": whole, "last": or_none(whole),
        "asked": or_none(pieces)}),
    "follows": TableRule({"plan": fingerprint, "earlier": fingerprint, "cut": or_none(sticks_done)}),
    "replaced": TableRule({"plan": fingerprint, "by": fingerprint, "at": time, "booking": or_none(whole)}),
    "holds": TableRule({
        "plan": fingerprint, "name": text, "at": time, "profile": text, "tag": or_none(tag), "length": reach,
        "qty": whole}),
    "pieces": TableRule({
        "booking": whole, "profile": text, "mark": text, "for_": text, "length": reach, "lies": lies,
        "qty": more_or_less}),
    "history": TableRule({
        "id": whole, "at": time, "what": word(*EVENTS), "tag": or_none(tag), "profile": text, "length": reach,
        "qty": whole, "booking": or_none(whole), "note": text}),
    "rules": TableRule({"profile": text, "rule": rule, "shortest": length}),
}  # fmt: skip

# What must not be found, and what it means that it is.
CONTRADICTIONS = [
    ("SELECT tag FROM history WHERE tag IS NOT NULL AND tag NOT IN (SELECT tag FROM offcuts)",
     "the history names offcut {}, which is lost"),
    ("SELECT tag FROM holds WHERE tag IS NOT NULL AND tag NOT IN (SELECT tag FROM offcuts)",
     "a plan holds offcut {}, which is lost"),
    ("SELECT booking FROM history WHERE booking IS NOT NULL AND booking NOT IN (SELECT id FROM bookings)",
     "the history names booking {}, which is lost"),
    ("SELECT booking FROM replaced WHERE booking IS NOT NULL AND booking NOT IN (SELECT id FROM bookings)",
     "a plan was taken over by booking {}, which is lost"),
    ("SELECT booking FROM replaced JOIN bookings ON bookings.id = booking WHERE (by, replaced.at) != "
     "(bookings.plan, bookings.at)", "a plan was taken over by booking {}, which is of another plan or day"),
    *((f"SELECT {column} FROM {table} WHERE {column} NOT IN (SELECT plan FROM plans)",
       f"the plan {{}}, of which there are {what}, is lost")
      for table, column, what in (("bookings", "plan", "bookings"), ("holds", "plan", "holds"),
                                  ("follows", "plan", "plans it was made of"), ("follows", "earlier", "later plans"),
                                  ("replaced", "plan", "later plans"), ("replaced", "by", "plans it took over"))),
    ("SELECT plan FROM replaced WHERE (by, plan) NOT IN (SELECT plan, earlier FROM follows)",
     "the plan {} was taken over by one that was not made of it"),
    ("SELECT bookings.id FROM bookings JOIN plans USING (plan) JOIN booked ON booking = bookings.id WHERE "
     "booked.first < plans.first OR booked.last > plans.last", "booking {} is of sticks that its plan has not"),
    ("WITH RECURSIVE chain (plan, later) AS (SELECT plan, by FROM replaced UNION SELECT chain.plan, by FROM chain JOIN "
     "replaced ON replaced.plan = later) SELECT plan FROM chain WHERE plan = later",
     "the plan {} was taken over by one that it took over itself"),
    ("SELECT max(id), count(*) FROM bookings HAVING max(id) != count(*)",
     "the last booking is number {}, and {} are there: some are lost"),
    ("SELECT max(id), count(*) FROM history HAVING max(id) != count(*)",
     "the last line of the history is number {}, and {} are there: some are lost"),
    (f"SELECT id FROM history WHERE (booking IS NOT NULL) != (what IN {OF_BOOKINGS})",
     "line {} of the history is no part of a booking, or has lost it"),
    (f"SELECT id FROM history WHERE (tag IS NULL) != (what IN {OF_COUNTS}) AND what != 'put back'",
     "line {} of the history has lost its offcut, or should have none"),
    ("SELECT id FROM history WHERE tag IS NOT NULL AND qty != 1", "line {} of the history is of one offcut, and not 1"),
    ("SELECT history.id FROM history JOIN bookings ON bookings.id = booking WHERE history.at != bookings.at OR "
     "note != iif(what = 'kept', 'from ', 'for ') || name", "line {} of the history does not belong to its booking"),
    ("SELECT booking FROM pieces WHERE booking NOT IN (SELECT id FROM bookings)",
     "pieces were cut by booking {}, which is lost"),
    ("SELECT mark FROM pieces JOIN bookings ON id = booking WHERE undone IS NULL GROUP BY profile, mark, for_, length, "
     "lies HAVING total(qty) < 0", "more of {} was made something else of than there was"),
    ("SELECT booking FROM booked WHERE booking NOT IN (SELECT id FROM bookings)",
     "sticks are booked by booking {}, which is lost"),
    (f"SELECT booking FROM booked WHERE first < 1 OR last < first OR last - first >= {MOST_NUMBERED}",
     "booking {} is of no stick"),
    ("SELECT booking FROM booked WHERE good IS NOT NULL AND first != last", "booking {} has spoiled more than a stick"),
    ("SELECT id, sticks, (SELECT total(last - first + 1) FROM booked WHERE booking = id) AS there FROM bookings "
     "WHERE sticks != there", "booking {} is of {} sticks, and {:.0f} are there"),
    ("SELECT bookings.id FROM bookings JOIN replaced ON booking = bookings.id WHERE undone IS NOT NULL",
     "booking {} was taken back, and what it took over was not given back"),
    ("SELECT name FROM holds JOIN replaced USING (plan)", "{} holds something, and another plan took it over"),
    ("SELECT min(name) FROM holds GROUP BY plan HAVING min(name) != max(name) OR min(at) != max(at)",
     "what {} holds was put on hold under another name or at another time"),
    ("SELECT tag, holds.profile, holds.length, offcuts.profile, offcuts.length FROM holds JOIN offcuts USING (tag) "
     "WHERE (holds.profile, holds.length) != (offcuts.profile, offcuts.length)",
     "a plan holds offcut {} as {} {}, and it is {} {}"),
    ("SELECT tag FROM holds JOIN offcuts USING (tag) WHERE state != 'here'", "a plan holds offcut {}, which is gone"),
    ("SELECT tag FROM holds WHERE tag IS NOT NULL AND qty != 1", "a plan holds offcut {}, which is one, and not 1"),
]  # fmt: skip


def agree(db: sqlite3.Connection) -> Iterator[str]:
    """What does not agree between the rows of a rack whose columns are sound."""
    found = [said.format(*row) for sql, said in CONTRADICTIONS for row in db.execute(f"{sql} LIMIT 3")]
    told = [*(found or Ledger(db).faults()), *tags_given_twice(db), *out_of_reach(db)]
    yield from told or broken_seal(db)


def sealed(db: sqlite3.Connection) -> str:
    """The fingerprint of all rows in their order, but for the seal itself."""
    rows = hashlib.sha256()
    for name, table in RACK_TABLES.items():
        columns = ", ".join(column for column in table.columns if column != "seal")
        for row in db.execute(f"SELECT {columns} FROM {name} ORDER BY rowid"):
            rows.update(repr((name, *row)).encode("utf-8", "surrogatepass"))
    return rows.hexdigest()[:DIGITS]


def broken_seal(db: sqlite3.Connection) -> Iterator[str]:
    """Says so where the rows are not as they were last written, though each of them could be right."""
    seal = db.execute("SELECT seal FROM rack").fetchone()[0]
    if seal is not None and seal != sealed(db):
        yield "what stands in it was changed since cutplan last wrote it: by a disk, or a hand"


def tags_given_twice(db: sqlite3.Connection) -> Iterator[str]:
    """Says so where the tags to come do not follow those that were given out here."""
    number, last = db.execute("SELECT next_tag, last_tag FROM rack").fetchone()
    added = [row[0] for row in db.execute("SELECT DISTINCT tag FROM history WHERE what = 'added' AND tag IS NOT NULL")]
    given = max(added, key=number_of, default=None)
    if last is not None and last != (tag_of(number - 1) if number else None):
        yield f"the tag given out last is {last}, and the next to be given, {tag_of(number)}, does not follow it"
    elif given is not None and number_of(given) >= number:
        yield f"{given} was given out already, and the next tag to be given is {tag_of(number)}, which comes before it"


def out_of_reach(db: sqlite3.Connection) -> Iterator[str]:
    """Says so of lengths beyond all that can be meant in the rack's unit."""
    unit = db.execute("SELECT unit FROM rack").fetchone()[0]
    for name in ("offcuts", "counted", "holds", "history"):
        for row in db.execute(f"SELECT DISTINCT length FROM {name}").fetchall():
            if Fraction(row[0]) > FARTHEST[unit]:
                yield f"{name} has a length of {row[0][:40]} {unit}, which nothing is"
