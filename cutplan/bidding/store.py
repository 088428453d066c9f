"""What bids said and what plans wasted, in one SQLite file (see database). Lengths and percentages are exact text."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from cutplan.bidding.drawn import BOOKED, PLANNED, WITHOUT_RACK
from cutplan.damage import TableRule, length, number, or_none, text, time, whole, word
from cutplan.database import Form, is_there, transaction
from cutplan.problems import InputProblems, Problem
from cutplan.shop import UNITS

BIDS_ID = 0x43504249  # the application id in the file's header: this database holds bids

# What leads from each version of the schema to the next. Never change one that was released: add one.
BIDS_MIGRATIONS: list[tuple[str, ...]] = [
    (
        "CREATE TABLE store (unit TEXT NOT NULL)",
        """CREATE TABLE bids (
            id INTEGER PRIMARY KEY, at TEXT NOT NULL, name TEXT NOT NULL, seed INTEGER NOT NULL,
            versions INTEGER NOT NULL)""",
        """CREATE TABLE said (
            bid INTEGER NOT NULL REFERENCES bids (id), profile TEXT NOT NULL, net TEXT NOT NULL,
            half TEXT NOT NULL, chance TEXT NOT NULL, enough TEXT NOT NULL, PRIMARY KEY (bid, profile))""",
        "CREATE TABLE plans (plan TEXT PRIMARY KEY, at TEXT NOT NULL, name TEXT NOT NULL)",
        """CREATE TABLE wasted (
            plan TEXT NOT NULL REFERENCES plans (plan), profile TEXT NOT NULL, net TEXT NOT NULL,
            waste TEXT NOT NULL, kept TEXT NOT NULL, PRIMARY KEY (plan, profile))""",
    ),
    (  # bids and plans belong together by a job's name; what was said of the whole job is said of the profile '', and
       # its order is `whole`. Of plans learnt before, what was planned is in `wasted`, booked or not
        "ALTER TABLE bids ADD COLUMN job TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE bids ADD COLUMN racked INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE said ADD COLUMN least_net TEXT",
        "ALTER TABLE said ADD COLUMN most_net TEXT",
        "ALTER TABLE said ADD COLUMN turned INTEGER NOT NULL DEFAULT 0",
        """CREATE TABLE ordered (
            bid INTEGER NOT NULL REFERENCES bids (id), whole INTEGER NOT NULL, profile TEXT NOT NULL,
            length TEXT NOT NULL, number INTEGER NOT NULL, PRIMARY KEY (bid, whole, profile, length))""",
        "ALTER TABLE plans ADD COLUMN job TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE plans ADD COLUMN how TEXT NOT NULL DEFAULT 'as planned'",
        "ALTER TABLE plans ADD COLUMN unfinished INTEGER NOT NULL DEFAULT 0",
        """CREATE TABLE drawn (
            plan TEXT NOT NULL REFERENCES plans (plan), profile TEXT NOT NULL, net TEXT NOT NULL, kept TEXT NOT NULL,
            PRIMARY KEY (plan, profile))""",
        """CREATE TABLE sticks (
            plan TEXT NOT NULL REFERENCES plans (plan), profile TEXT NOT NULL, length TEXT NOT NULL,
            number INTEGER NOT NULL, tag TEXT, kept_by TEXT NOT NULL DEFAULT '')""",
        """CREATE TABLE week (
            plan TEXT NOT NULL REFERENCES plans (plan), other TEXT NOT NULL, name TEXT NOT NULL,
            PRIMARY KEY (plan, other))""",
    ),
]


def seed(value: Any) -> bool:
    """Any whole number; a person chose it."""
    return isinstance(value, int)


def signed(value: Any) -> bool:
    """A number that may be below zero."""
    return isinstance(value, str) and number(value.removeprefix("-"))


FLAG = word(0, 1)
BIDS_TABLES = {
    "store": TableRule({"unit": word(*UNITS)}, single=True),
    "bids": TableRule({
        "id": whole, "at": time, "name": text, "seed": seed, "versions": whole, "job": text, "racked": FLAG,
    }),
    "said": TableRule({
        "bid": whole, "profile": text, "net": number, "half": number, "chance": number, "enough": number,
        "least_net": or_none(number), "most_net": or_none(number), "turned": FLAG,
    }),
    "ordered": TableRule({"bid": whole, "whole": FLAG, "profile": text, "length": length, "number": whole}),
    "plans": TableRule({
        "plan": text, "at": time, "name": text, "job": text, "how": word(BOOKED, WITHOUT_RACK, PLANNED),
        "unfinished": FLAG,
    }),
    "wasted": TableRule({"plan": text, "profile": text, "net": number, "waste": number, "kept": number}),
    "drawn": TableRule({"plan": text, "profile": text, "net": signed, "kept": number}),
    "sticks": TableRule({
        "plan": text, "profile": text, "length": length, "number": whole, "tag": or_none(text), "kept_by": text,
    }),
    "week": TableRule({"plan": text, "other": text, "name": text}),
}


def agree(db: sqlite3.Connection) -> Iterator[str]:
    """What does not agree between the rows of a store whose columns are sound."""
    for name, what in (("said", "said"), ("ordered", "ordered")):
        for row in db.execute(f"SELECT DISTINCT bid FROM {name} WHERE bid NOT IN (SELECT id FROM bids) LIMIT 3"):
            yield f"what bid {row[0]} {what} is there, and the bid is lost"
    for name, what in (("wasted", "wasted"), ("drawn", "drew"), ("sticks", "drew"), ("week", "was part of")):
        for row in db.execute(f"SELECT DISTINCT plan FROM {name} WHERE plan NOT IN (SELECT plan FROM plans) LIMIT 3"):
            yield f"what plan {row[0]} {what} is there, and the plan is lost"


@contextmanager
def changing(path: str | Path, unit: str | None) -> Iterator[sqlite3.Connection]:
    """The store inside one transaction; made where there is none, then in `unit` (None: whatever it has; not made).

    InputProblems where it cannot be used, or its lengths are in another unit.
    """
    if unit is None and not is_there(path):
        refuse(str(path), "there is no store here; bid --store makes one")

    def new(db: sqlite3.Connection) -> None:
        db.execute("INSERT INTO store (unit) VALUES (?)", (unit,))

    with transaction(path, Form("store of bids", BIDS_ID, BIDS_MIGRATIONS, BIDS_TABLES, agree), new) as db:
        own = unit_of(db)
        if unit not in (None, own):
            refuse(str(path), f"holds bids in {own}, and this is in {unit}; keep a store for each unit")
        yield db


def unit_of(db: sqlite3.Connection) -> str:
    return str(db.execute("SELECT unit FROM store").fetchone()["unit"])


def refuse(path: str, message: str) -> None:
    raise InputProblems([Problem(path, 1, "file", message)])


def store_refused(path: str) -> list[Problem]:
    """Why a store could not be used, known before any long work."""
    folder = os.path.dirname(os.path.abspath(path))
    if not os.path.isdir(folder):
        return [Problem(path, 1, "file", f"there is no folder {folder}; give a file in a folder that is there")]
    if os.path.isdir(path):
        return [Problem(path, 1, "file", "is a folder; give the name of a file")]
    return []
