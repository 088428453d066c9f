"""What bids said and what plans wasted, in one SQLite file, made on first use, changed in whole transactions.

Lengths and percentages stand in it as exact text. A change happens wholly or not at all, whatever breaks meanwhile;
two that want to change the file wait for each other.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from cutplan.problems import InputProblems, Problem
from cutplan.rack.store import connect, in_words

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
    try:
        db = connect(path, "rwc")
        try:
            db.execute("BEGIN IMMEDIATE")
            bring_up(db, str(path), unit)
            yield db
            db.execute("COMMIT")
        finally:
            if db.in_transaction:
                db.execute("ROLLBACK")
            db.close()
    except sqlite3.Error as error:
        raise InputProblems([Problem(str(path), 1, "file", in_words(error).replace("rack", "store"))]) from None


def bring_up(db: sqlite3.Connection, path: str, unit: str) -> None:
    """Brings the schema up to date. InputProblems where the file is another's."""
    mark, version = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version"))
    if mark != MARK and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        refuse(path, "is a database, but no store of bids; give the file that bid --store wrote, or a new name")
    if version > len(MIGRATIONS):
        refuse(path, f"was written by a newer cutplan (its form is {version}, this one knows {len(MIGRATIONS)}); "
               "use that one")
    for statements in MIGRATIONS[version:]:
        for statement in statements:
            db.execute(statement)
    if version == 0:
        db.execute("INSERT INTO store (unit) VALUES (?)", (unit,))
        db.execute(f"PRAGMA application_id = {MARK}")
    db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    own = db.execute("SELECT unit FROM store").fetchone()["unit"]
    if own != unit:
        refuse(path, f"holds bids in {own}, and this is in {unit}; keep a store for each unit")


def refuse(path: str, message: str) -> None:
    raise InputProblems([Problem(path, 1, "file", message)])


def store_refused(path: str, inputs: Sequence[str | None] = ()) -> list[Problem]:
    """Why a store could not be used, known before any long work; it must not be one of the `inputs`."""
    folder = os.path.dirname(os.path.abspath(path))
    if os.path.realpath(path) in [os.path.realpath(one) for one in inputs if one]:
        return [Problem(path, 1, "file", "is also read as an input; give the store a name of its own")]
    if not os.path.isdir(folder):
        return [Problem(path, 1, "file", f"there is no folder {folder}; give a file in a folder that is there")]
    if os.path.isdir(path):
        return [Problem(path, 1, "file", "is a folder; give the name of a file")]
    return []
