"""The rack's file: one SQLite database, made on first use, read and changed in whole transactions (see database)."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutplan.damage import blank, salvaged
from cutplan.database import Form, is_there, transaction, utc_now
from cutplan.problems import InputProblems, Problem
from cutplan.rack import command
from cutplan.rack.contents import RACK_TABLES, agree, sealed

RACK_ID = 0x43504C52  # the application id in the file's header: this database is a rack
UNIT = "in"  # of a new rack, where nothing says otherwise

# What leads from each version of the schema to the next; a new file goes through them all. Never change one that has
# been released: add one.
RACK_MIGRATIONS: list[tuple[str, ...]] = [
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
    (  # offcuts that lay there before are taken for raw at both ends
        "ALTER TABLE offcuts ADD COLUMN sawn INTEGER NOT NULL DEFAULT 0 CHECK (sawn IN (0, 1, 2))",
        "ALTER TABLE offcuts ADD COLUMN plain TEXT NOT NULL DEFAULT '0'",
    ),
    (  # of bookings made before, what they left is not known
        "ALTER TABLE bookings ADD COLUMN left_over TEXT NOT NULL DEFAULT '[]'",
        "CREATE TABLE replaced (plan TEXT PRIMARY KEY, booking INTEGER NOT NULL REFERENCES bookings (id))",
    ),
    (  # the tag given out last, for plans that are not booked too; not known until another is given out
        "ALTER TABLE rack ADD COLUMN last_tag TEXT",
    ),
    (  # before, no end was sloped
        "ALTER TABLE offcuts ADD COLUMN slope TEXT NOT NULL DEFAULT '0'",
    ),
    (  # any sticks of a plan may be booked, in stretches; `sticks` is how many they are together, and of a stick that
       # was spoiled so many pieces are `good`
        "CREATE TABLE booked (booking INTEGER NOT NULL REFERENCES bookings (id), first INTEGER NOT NULL, "
        "last INTEGER NOT NULL, good INTEGER)",
        "CREATE INDEX booked_by ON booked (booking)",
        "INSERT INTO booked (booking, first, last) SELECT id, first, last FROM bookings",
        "ALTER TABLE bookings ADD COLUMN sticks INTEGER NOT NULL DEFAULT 0",
        "UPDATE bookings SET sticks = last - first + 1",
        "ALTER TABLE bookings DROP COLUMN first",
        "ALTER TABLE bookings DROP COLUMN last",
    ),
    (  # the plans that were made with the rack, and not only those that were booked; what took over the rest of what,
       # by a booking or when it was planned. How many sticks plans from before have is told when they are seen again
        "CREATE TABLE plans (plan TEXT PRIMARY KEY, name TEXT NOT NULL, at TEXT NOT NULL, first INTEGER NOT NULL, "
        "last INTEGER)",
        "INSERT INTO plans SELECT plan, name, at, 1, NULL FROM bookings WHERE id IN (SELECT min(id) FROM bookings "
        "GROUP BY plan) ORDER BY id",
        "INSERT OR IGNORE INTO plans SELECT plan, name, at, 1, NULL FROM holds",
        "INSERT OR IGNORE INTO plans SELECT replaced.plan, '', at, 1, NULL FROM replaced JOIN bookings ON id = booking",
        "CREATE TABLE follows (plan TEXT NOT NULL REFERENCES plans (plan), earlier TEXT NOT NULL REFERENCES plans "
        "(plan), PRIMARY KEY (plan, earlier))",
        "INSERT INTO follows SELECT bookings.plan, replaced.plan FROM replaced JOIN bookings ON id = booking",
        "CREATE TABLE taken_over (plan TEXT PRIMARY KEY REFERENCES plans (plan), by TEXT NOT NULL REFERENCES plans "
        "(plan), at TEXT NOT NULL, booking INTEGER REFERENCES bookings (id))",
        "INSERT INTO taken_over SELECT replaced.plan, bookings.plan, at, booking FROM replaced JOIN bookings ON id = "
        "booking",
        "DROP TABLE replaced",
        "ALTER TABLE taken_over RENAME TO replaced",
    ),
    (  # how often the rack was changed: a plan that was made later than that was not made with this file as it is
        "ALTER TABLE rack ADD COLUMN changes INTEGER NOT NULL DEFAULT 0",
    ),
    (  # the pieces that were cut; fewer than none where a change of the week took them away, or made others of them
        "CREATE TABLE pieces (booking INTEGER NOT NULL REFERENCES bookings (id), profile TEXT NOT NULL, "
        "mark TEXT NOT NULL, for_ TEXT NOT NULL, length TEXT NOT NULL, lies TEXT NOT NULL, qty INTEGER NOT NULL)",
        "CREATE INDEX pieces_by ON pieces (booking)",
    ),
    (  # what was done of an earlier plan when its rest was listed (see Done); of plans made before, that is not known
        "ALTER TABLE follows ADD COLUMN cut TEXT",
    ),
    (  # the fingerprint of all rows as they were last written; a step that changes rows makes it NULL, not known
        "ALTER TABLE rack ADD COLUMN seal TEXT",
    ),
    (  # the pieces that a plan was made for; of plans made before, that is not known
        "ALTER TABLE plans ADD COLUMN asked TEXT",
    ),
]


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

    @property
    def changes(self) -> int:
        """How often the rack was changed before."""
        return int(self.db.execute("SELECT changes FROM rack").fetchone()["changes"])

    @contextmanager
    def as_if(self) -> Iterator[None]:
        """Whatever is changed inside is looked at, and then taken back."""
        self.do("SAVEPOINT as_if")
        try:
            yield
        finally:
            self.do("ROLLBACK TO as_if")
            self.do("RELEASE as_if")

    def write(self) -> None:
        """Writes what is there again, to find out whether the file can be written. sqlite3.Error where it cannot."""
        self.do(f"PRAGMA user_version = {len(RACK_MIGRATIONS)}")

    def command(self, *words: str) -> str:
        """A command of this rack to advise, as it is to be typed."""
        return command(self.path, *words)

    def refuse(self, column: str, message: str) -> None:
        raise InputProblems([Problem(self.path, 1, column, message)])

    def remember(self, what: str, profile: str, length: str, *, tag: str | None = None, qty: int = 1,
                 booking: int | None = None, note: str = "") -> None:
        """A line of the history."""
        self.do("INSERT INTO history (at, what, tag, profile, length, qty, booking, note) VALUES (?,?,?,?,?,?,?,?)",
                self.now, what, tag, profile, length, qty, booking, note)


def form() -> Form:
    return Form("rack", RACK_ID, RACK_MIGRATIONS, RACK_TABLES, agree,
                "; cutplan rack show --readable writes down its offcuts")


@contextmanager
def reading(path: str | Path) -> Iterator[Rack]:
    """The rack as it is, for looking. InputProblems where there is none or it cannot be read."""
    refuse_none(path)
    with transaction(path, form(), None) as db:
        yield opened(path, db, utc_now)


@contextmanager
def foreseen(path: str | Path, unit: str | None) -> Iterator[Rack]:
    """The rack as it is, or as it would be made in a `unit`: nothing is made yet. InputProblems as for `reading`."""
    if is_there(path):
        with reading(path) as rack:
            yield rack
    else:
        with closing(blank(RACK_MIGRATIONS)) as db:
            yield Rack(str(path), db, unit or UNIT, utc_now())


@contextmanager
def changing(path: str | Path, unit: str | None = None, clock: Callable[[], str] = utc_now) -> Iterator[Rack]:
    """The rack, to be changed: wholly when the block ends, not at all when it is left by an error.

    The file is made if it is not there; its lengths are then in `unit`. InputProblems where it cannot be written.
    """
    def new(db: sqlite3.Connection) -> None:
        db.execute("INSERT INTO rack (unit, next_tag) VALUES (?, 0)", (unit or UNIT,))

    with transaction(path, form(), new) as db:
        before = db.total_changes
        yield opened(path, db, clock)
        if db.total_changes != before:
            db.execute("UPDATE rack SET changes = changes + 1")
            db.execute("UPDATE rack SET seal = ?", (sealed(db),))


@contextmanager
def readable(path: str | Path) -> Iterator[Rack]:
    """What can be read of a rack that is damaged, in a copy in memory; in inches where its unit is lost."""
    refuse_none(path)
    with closing(salvaged(str(path), RACK_TABLES, RACK_MIGRATIONS)) as db:
        row = db.execute("SELECT unit FROM rack").fetchone()
        yield Rack(str(path), db, row["unit"] if row else UNIT, utc_now())


def refuse_none(path: str | Path) -> None:
    if not is_there(path):
        raise InputProblems([Problem(str(path), 1, "file", "there is no rack here; rack add makes one")])


def opened(path: str | Path, db: sqlite3.Connection, clock: Callable[[], str]) -> Rack:
    return Rack(str(path), db, db.execute("SELECT unit FROM rack").fetchone()["unit"], clock())
