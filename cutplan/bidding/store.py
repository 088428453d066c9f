"""What bids said and what plans wasted, in one SQLite file (see database). Lengths and percentages are exact text."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cutplan.database import Form, transaction
from cutplan.problems import InputProblems, Problem

MARK = 0x43504249  # the application id in the file's header: this database holds bids

# What leads from each version of the schema to the next. Never change one that was released: add one.
MIGRATIONS: list[tuple[str, ...]] = [
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


@contextmanager
def changing(path: str | Path, unit: str) -> Iterator[sqlite3.Connection]:
    """The store inside one transaction; made where there is none, then in `unit`.

    InputProblems where it cannot be used, or its lengths are in another unit.
    """
    def new(db: sqlite3.Connection) -> None:
        db.execute("INSERT INTO store (unit) VALUES (?)", (unit,))

    with transaction(path, Form("store of bids", MARK, MIGRATIONS), new) as db:
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
