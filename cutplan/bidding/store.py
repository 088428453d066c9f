"""What bids said and what plans wasted, in one SQLite file (see database). Lengths and percentages are exact text."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from cutplan.damage import TableRule, number, text, time, whole, word
from cutplan.database import Form, transaction
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
]


def seed(value: Any) -> bool:
    """Any whole number; a person chose it."""
    return isinstance(value, int)


BIDS_TABLES = {
    "store": TableRule({"unit": word(*UNITS)}, single=True),
    "bids": TableRule({"id": whole, "at": time, "name": text, "seed": seed, "versions": whole}),
    "said": TableRule({
        "bid": whole, "profile": text, "net": number, "half": number, "chance": number, "enough": number,
    }),
    "plans": TableRule({"plan": text, "at": time, "name": text}),
    "wasted": TableRule({"plan": text, "profile": text, "net": number, "waste": number, "kept": number}),
}


def agree(db: sqlite3.Connection) -> Iterator[str]:
    """What does not agree between the rows of a store whose columns are sound."""
    for row in db.execute("SELECT bid FROM said WHERE bid NOT IN (SELECT id FROM bids) LIMIT 3"):
        yield f"what bid {row[0]} said is there, and the bid is lost"
    for row in db.execute("SELECT plan FROM wasted WHERE plan NOT IN (SELECT plan FROM plans) LIMIT 3"):
        yield f"what plan {row[0]} wasted is there, and the plan is lost"


@contextmanager
def changing(path: str | Path, unit: str) -> Iterator[sqlite3.Connection]:
    """The store inside one transaction; made where there is none, then in `unit`.

    InputProblems where it cannot be used, or its lengths are in another unit.
    """
    def new(db: sqlite3.Connection) -> None:
        db.execute("INSERT INTO store (unit) VALUES (?)", (unit,))

    with transaction(path, Form("store of bids", BIDS_ID, BIDS_MIGRATIONS, BIDS_TABLES, agree), new) as db:
        own = db.execute("SELECT unit FROM store").fetchone()["unit"]
        if own != unit:
            refuse(str(path), f"holds bids in {own}, and this is in {unit}; keep a store for each unit")
        yield db


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
