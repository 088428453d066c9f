"""The rack's file: one SQLite database, made on first use, read and changed in whole transactions.

A change happens wholly or not at all: SQLite keeps what was there in a journal beside the file until the change is
safely on the disk, and whoever opens the file next after a crash puts it back. Two that want to change it wait for
each other.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

from cutplan.problems import InputProblems, Problem

MARK = 0x43504C52  # the application id in the file's header: this database is a rack
PATIENCE = 30.0  # seconds to wait for another who is changing the file
UNIT = "in"  # of a new rack, where nothing says otherwise

# What leads from each version of the schema to the next; a new file goes through them all. Never change one that has
# been released: add one.
MIGRATIONS: list[tuple[str, ...]] = [
    (
        "CREATE TABLE rack (unit TEXT NOT NULL, next_tag INTEGER NOT NULL)",
        """CREATE TABLE offcuts (
            tag TEXT PRIMARY KEY, profile TEXT NOT NULL, length TEXT NOT NULL, first TEXT, came TEXT NOT NULL,
            source TEXT NOT NULL, note TEXT NOT NULL,
            state TEXT NOT NULL CHECK (state IN ('here', 'used', 'scrapped', 'taken back')))""",
        "CREATE INDEX offcuts_here ON offcuts (state, profile)",
        """CREATE TABLE counted (
            profile TEXT NOT NULL, length TEXT NOT NULL, qty INTEGER NOT NULL CHECK (qty >= 0),
            PRIMARY KEY (profile, length))""",
        """CREATE TABLE bookings (
            id INTEGER PRIMARY KEY, plan TEXT NOT NULL, name TEXT NOT NULL, at TEXT NOT NULL,
            first INTEGER NOT NULL, last INTEGER NOT NULL, undone TEXT)""",
        "CREATE INDEX bookings_of ON bookings (plan)",
        """CREATE TABLE holds (
            plan TEXT NOT NULL, name TEXT NOT NULL, at TEXT NOT NULL, profile TEXT NOT NULL,
            tag TEXT UNIQUE REFERENCES offcuts (tag), length TEXT NOT NULL, qty INTEGER NOT NULL CHECK (qty > 0))""",
        """CREATE TABLE history (
            id INTEGER PRIMARY KEY, at TEXT NOT NULL, what TEXT NOT NULL, tag TEXT, profile TEXT NOT NULL,
            length TEXT NOT NULL, qty INTEGER NOT NULL, booking INTEGER REFERENCES bookings (id),
            note TEXT NOT NULL)""",
        "CREATE INDEX history_of_tag ON history (tag)",
        "CREATE INDEX history_of_booking ON history (booking)",
        "CREATE TABLE rules (profile TEXT PRIMARY KEY, rule TEXT NOT NULL, shortest TEXT NOT NULL)",
    ),
]


def utc_now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@dataclass(frozen=True)
class Rack:
    """An open rack inside a transaction. Lengths in the file are in its `unit`; `now` is when this happens, in UTC."""

    path: str
    db: sqlite3.Connection
    unit: str
    now: str

    def all(self, sql: str, *values: Any) -> list[sqlite3.Row]:
        return self.db.execute(sql, values).fetchall()

    def one(self, sql: str, *values: Any) -> sqlite3.Row | None:
        row: sqlite3.Row | None = self.db.execute(sql, values).fetchone()
        return row

    def do(self, sql: str, *values: Any) -> int:
        """Carries out a statement; the id of the row it made."""
        return self.db.execute(sql, values).lastrowid or 0

    def many(self, sql: str, rows: list[tuple[Any, ...]]) -> None:
        self.db.executemany(sql, rows)

    def refuse(self, column: str, message: str) -> None:
        raise InputProblems([Problem(self.path, 1, column, message)])

    def remember(self, what: str, profile: str, length: str, *, tag: str | None = None, qty: int = 1,
                 booking: int | None = None, note: str = "") -> None:
        """A line of the history."""
        self.do("INSERT INTO history (at, what, tag, profile, length, qty, booking, note) VALUES (?,?,?,?,?,?,?,?)",
                self.now, what, tag, profile, length, qty, booking, note)


@contextmanager
def reading(path: str | Path) -> Iterator[Rack]:
    """The rack as it is, for looking. InputProblems where there is none or it cannot be read."""
    if not holds_something(path):
        raise InputProblems([Problem(str(path), 1, "file", "there is no rack here; rack add makes one")])
    with transaction(path, None, "rw") as rack:  # not "ro": what a crash left half done may have to be put back
        yield rack


@contextmanager
def changing(path: str | Path, unit: str | None = None, clock: Callable[[], str] = utc_now) -> Iterator[Rack]:
    """The rack, to be changed: wholly when the block ends, not at all when it is left by an error.

    The file is made if it is not there; its lengths are then in `unit`. InputProblems where it cannot be written.
    """
    with transaction(path, unit or UNIT, "rwc", clock) as rack:
        yield rack


def holds_something(path: str | Path) -> bool:
    try:
        return os.path.getsize(path) > 0
    except (OSError, ValueError):
        return False


@contextmanager
def transaction(path: str | Path, unit: str | None, mode: str, clock: Callable[[], str] = utc_now) -> Iterator[Rack]:
    """One transaction; everything SQLite may say against it becomes InputProblems."""
    try:
        db = connect(path, mode)
        try:
            yield begin(db, str(path), unit, clock)
            db.execute("COMMIT")
        finally:
            if db.in_transaction:
                db.execute("ROLLBACK")
            db.close()
    except sqlite3.Error as error:
        raise InputProblems([Problem(str(path), 1, "file", in_words(error))]) from None


def connect(path: str | Path, mode: str) -> sqlite3.Connection:
    uri = f"file:{quote(os.path.abspath(path))}?mode={mode}"
    db = sqlite3.connect(uri, uri=True, timeout=PATIENCE, isolation_level=None)
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA synchronous = EXTRA")  # on the disk, its folder's entry too, before it counts
    db.execute("PRAGMA foreign_keys = ON")
    return db


def begin(db: sqlite3.Connection, path: str, unit: str | None, clock: Callable[[], str]) -> Rack:
    """Begins the transaction and brings the schema up to date."""
    db.execute("BEGIN" if unit is None else "BEGIN IMMEDIATE")
    version = version_of(db, path)
    if version < len(MIGRATIONS):
        if unit is None:
            db.execute("ROLLBACK")
            with changing(path):
                pass
            db.execute("BEGIN")
        else:
            migrate(db, version, unit)
    row = db.execute("SELECT unit FROM rack").fetchone()
    return Rack(path, db, row["unit"], clock())


def version_of(db: sqlite3.Connection, path: str) -> int:
    """Which version of the schema the file has; 0 where it is empty. InputProblems where it is no rack of ours."""
    mark, version = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version"))
    if mark != MARK and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise InputProblems([Problem(path, 1, "file", "is a database, but no rack; give the file of the rack")])
    if version > len(MIGRATIONS):
        newer = f"was written by a newer cutplan (its form is {version}, this one knows {len(MIGRATIONS)})"
        raise InputProblems([Problem(path, 1, "file", f"{newer}; use that one")])
    return int(version)


def migrate(db: sqlite3.Connection, version: int, unit: str) -> None:
    """Takes a file from its version to the newest, inside the transaction."""
    for statements in MIGRATIONS[version:]:
        for statement in statements:
            db.execute(statement)
    if version == 0:
        db.execute("INSERT INTO rack (unit, next_tag) VALUES (?, 0)", (unit,))
    db.execute(f"PRAGMA application_id = {MARK}")
    db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


def in_words(error: sqlite3.Error) -> str:
    """What SQLite says, and what would help."""
    said = str(error)
    if "locked" in said or "busy" in said:
        return "another cutplan is still changing the rack; nothing was changed here: try again"
    if "full" in said or "disk I/O" in said:
        return f"cannot be written ({said}); nothing was changed: make room on the disk and try again"
    if "readonly" in said or "unable to open" in said:
        return f"cannot be written ({said}); nothing was changed: put the rack in a folder that can be written to"
    if "not a database" in said or "malformed" in said:
        return f"is no rack, or a damaged one ({said}); give the file of the rack, or a copy of it from before"
    return f"the rack could not be used ({said}); nothing was changed"
