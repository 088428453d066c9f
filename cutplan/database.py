"""A SQLite file that is read and changed in whole transactions, with a form that grows by steps.

A change happens wholly or not at all: SQLite keeps what was there in a journal beside the file until the change is
safely on the disk, and whoever opens the file next after a crash puts it back. Two that want to change it wait for
each other.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import NoReturn
from urllib.parse import quote

from cutplan import damage
from cutplan.files import COMPANIONS, replace_whole, write_new
from cutplan.problems import InputProblems, Problem

PATIENCE = 30.0  # seconds to wait for another who is changing the file
SMALLEST = 512  # bytes of a page; what is less SQLite takes for a file in which nothing is yet
RESTORED = "before-restore"  # in the name of the copy that is kept when an earlier one is put back
WRITTEN_AT, WAYS = 18, (1, 2)  # where a file's header says how it is written, and the ways there are


@dataclass(frozen=True)
class Form:
    """What a kind of file is: its `name` to people, the `mark` in its header (the application id), and its `steps`.

    The steps lead from each version of the schema to the next; a new file goes through them all. `tables` says what is
    in its rows then, `agree` what does not agree between them, and `saving` how to write down what can be read.
    """

    name: str
    mark: int
    steps: Sequence[Sequence[str]]
    tables: Mapping[str, damage.TableRule]
    agree: damage.Agreement
    saving: str = ""


@contextmanager
def transaction(path: str | Path, form: Form, new: Callable[[sqlite3.Connection], object] | None,
                patience: float = PATIENCE) -> Iterator[sqlite3.Connection]:
    """The file inside one transaction. `new` fills a file that is made; without it the file is only looked at. Another
    who is changing it is waited for, so many seconds.

    Everything SQLite may say against it becomes InputProblems, and then nothing was changed. So does every damage,
    which is looked for before anything in the file is believed.
    """
    if os.path.isdir(path):
        raise InputProblems([Problem(str(path), 1, "file", f"is a folder; give the file of the {form.name}")])
    fresh = not is_there(path)
    refuse_emptied(path, form)
    try:
        # not "ro" for looking: what a crash left half done may have to be put back
        with closing(connect(path, "rw" if new is None else "rwc", patience)) as db:
            try:
                prepare(db, str(path), form, new, fresh)
                yield db
                db.execute("COMMIT")
            except BaseException:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                if fresh:
                    remove_empty(db, path)
                raise
    except sqlite3.Error as error:
        if (name := getattr(error, "sqlite_errorname", "")) == "SQLITE_NOTADB":
            right = f"give the file of the {form.name}, or a copy of it from before"
            raise InputProblems([Problem(str(path), 1, "file", f"is no {form.name}, or damaged at its very beginning; "
                                                               f"{right}")]) from None
        if name.startswith(damage.CORRUPT):
            refuse(str(path), form, [(1, "file", str(error))])
        if name.startswith("SQLITE_READONLY") and (fault := header_fault(path)):
            refuse(str(path), form, [(1, "file", fault)])
        said = in_words(error, form.name, os.access(path, os.R_OK) or not is_there(path))
        raise InputProblems([Problem(str(path), 1, "file", said)]) from None


def prepare(db: sqlite3.Connection, path: str, form: Form, new: Callable[[sqlite3.Connection], object] | None,
            fresh: bool) -> None:
    """Begins the transaction. InputProblems for everything that is not as it should be in the file.

    `fresh`: there was no file before.
    """
    try:
        begin(db, path, form, new, fresh)
        found = damage.faults(db, form.tables, form.agree)
    except (UnicodeError, OverflowError) as error:  # in what SQLite itself says of it
        found = [(1, "file", str(error))]
    if found:
        refuse(path, form, found)


def refuse(path: str, form: Form, found: Sequence[damage.Fault]) -> NoReturn:
    readable = damage.readable(path, form.tables, form.steps, form.saving)
    raise InputProblems(damage.problems(path, form.name, found, readable))


def connect(path: str | Path, mode: str, patience: float) -> sqlite3.Connection:
    uri = f"file:{quote(os.path.abspath(path))}?mode={mode}"
    db = sqlite3.connect(uri, uri=True, timeout=patience, isolation_level=None)
    db.row_factory = sqlite3.Row
    return db


def begin(db: sqlite3.Connection, path: str, form: Form, new: Callable[[sqlite3.Connection], object] | None,
          fresh: bool) -> None:
    """Begins the transaction and brings the schema up to date."""
    db.execute("PRAGMA synchronous = EXTRA")  # on the disk, its folder's entry too, before it counts
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("BEGIN" if new is None else "BEGIN IMMEDIATE")
    version = version_of(db, path, form)
    if version == len(form.steps):
        return
    if not version and not (fresh and new):  # whoever makes one holds the lock until it is whole
        refuse(path, form, [(1, "file", f"it is empty, and a {form.name} never is; delete it only if there never was "
                                        "one here")])
    if new is None:  # an older file, to be brought up to date before it is looked at
        db.execute("ROLLBACK")
        db.execute("BEGIN IMMEDIATE")
        version = version_of(db, path, form)
    if version:
        keep_copy(path, db.serialize(), f"form{version}")
    for statements in form.steps[version:]:
        for statement in statements:
            db.execute(statement)
    if version == 0 and new is not None:
        new(db)
    db.execute(f"PRAGMA application_id = {form.mark}")
    db.execute(f"PRAGMA user_version = {len(form.steps)}")


def keep_copy(path: str, whole: bytes, why: str) -> str:
    """A copy of a file as it is, beside it under its name and `why`: nothing is ever written over. Gives its name.

    InputProblems where it cannot be kept.
    """
    name, ending = os.path.splitext(path)
    for k in count(1):
        copy = f"{name}-{why}{f'-{k}' if k > 1 else ''}{ending}"
        try:
            if is_there(copy) and Path(copy).read_bytes() == whole:
                return copy
            write_new(copy, whole)
            return copy
        except FileExistsError:
            continue
        except OSError as error:
            fault = f"a copy of it as it was cannot be kept beside it ({error.strerror})"
            raise InputProblems([Problem(path, 1, "file", f"{fault}; nothing was changed: make room for it")]) from None
    raise AssertionError("there is always another name")


def copies(path: str | Path) -> list[str]:
    """The copies that were kept of a file, the last made first."""
    name, ending = os.path.splitext(os.path.basename(path))
    kept = re.compile(rf"{re.escape(name)}-(form[0-9]+|{RESTORED})(-[0-9]+)?{re.escape(ending)}")
    folder = Path(os.path.dirname(os.path.abspath(path)))
    found = [file for file in folder.iterdir() if kept.fullmatch(file.name)] if folder.is_dir() else []
    return [os.path.join(os.path.dirname(path), file.name)
            for file in sorted(found, key=lambda file: (-file.stat().st_mtime, file.name))]


def soundness(whole: bytes, path: str | Path, form: Form) -> sqlite3.Connection:
    """A file's bytes opened in memory and brought up to date there. InputProblems for every damage in them."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.row_factory = sqlite3.Row
    try:
        if not whole:  # for SQLite an empty file is an empty database, but of nothing it makes none
            raise sqlite3.DatabaseError(f"it is empty, and a {form.name} never is")
        db.deserialize(whole)
        version = version_of(db, str(path), form)
        for statements in form.steps[version:]:
            for statement in statements:
                db.execute(statement)
        found = damage.faults(db, form.tables, form.agree)
    except (sqlite3.Error, UnicodeError, OverflowError, MemoryError) as error:
        found = [(1, "file", str(error) or "it is cut off")]
    if found:
        db.close()
        refuse(str(path), form, found)
    return db


def put_back(path: str | Path, whole: bytes, form: Form) -> str:
    """Makes a file what these bytes are; what was there is kept beside it. Gives the name of that; "" for nothing.

    Whoever waits to change the file is told that it went, and changes nothing. InputProblems where it cannot be
    written.
    """
    kept = ""
    try:
        if is_there(path):
            try:
                with closing(connect(path, "rw", PATIENCE)) as db:
                    db.execute("BEGIN EXCLUSIVE")
                    there = db.serialize() if os.path.getsize(path) >= SMALLEST else Path(path).read_bytes()
                    kept = keep_copy(str(path), there, RESTORED)
                    replace_whole(path, whole)
                    return kept
            except sqlite3.Error as error:
                if getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
                    raise InputProblems([Problem(str(path), 1, "file", in_words(error, form.name, True))]) from None
            kept = keep_copy(str(path), Path(path).read_bytes(), RESTORED)  # it is damaged too much for a lock
        for companion in COMPANIONS:  # what is left of a change to what was damaged would be put into what is sound
            beside = f"{os.path.realpath(path)}{companion}"
            if is_there(beside):
                os.replace(beside, f"{kept or os.path.realpath(path)}{companion}")
        replace_whole(path, whole)
    except OSError as error:
        fault = f"cannot be written ({error.strerror}); nothing was changed: put it in a folder that can be written to"
        raise InputProblems([Problem(str(path), 1, "file", fault)]) from None
    return kept


def version_of(db: sqlite3.Connection, path: str, form: Form) -> int:
    """Which version of the schema the file has; 0 where it is empty. InputProblems where it is of another kind."""
    mark, version = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version"))
    if mark != form.mark and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        right = f"give the file of the {form.name}, or a new name"
        raise InputProblems([Problem(path, 1, "file", f"is a database, but no {form.name}; {right}")])
    if version < 0:
        refuse(path, form, [(1, "file", f"its form is {version}")])
    if version > len(form.steps):
        newer = f"was written by a newer cutplan (its form is {version}, this one knows {len(form.steps)})"
        raise InputProblems([Problem(path, 1, "file", f"{newer}; use that one")])
    return int(version)


def is_there(path: str | Path) -> bool:
    """Whether there is a file, be it an empty one: of that something was lost."""
    try:
        return os.path.exists(path)
    except ValueError:
        return False


def refuse_emptied(path: str | Path, form: Form) -> None:
    """InputProblems where a file is gone or empty and its journal is not: opened, SQLite would delete that as well."""
    beside = f"{os.path.realpath(path)}-journal"
    with suppress(OSError, ValueError):
        if is_there(path) and os.path.getsize(path):
            return
        with open(beside, "rb") as journal:
            pages = int.from_bytes(journal.read(20)[16:], "big")  # that the file had when the change began
        if pages:
            refuse(str(path), form, [(1, "file", f"it is empty or gone, and {beside} was left of it; keep both")])


def remove_empty(db: sqlite3.Connection, path: str | Path) -> None:
    """Takes away the file that could not be made, unless somebody else has begun to fill it."""
    db.execute("PRAGMA busy_timeout = 0")
    try:
        db.execute("BEGIN IMMEDIATE")  # on a full disk SQLite has let go of it already
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
            return  # what else may fail is for want of room, which nobody else has either
    with suppress(OSError):
        if not os.path.getsize(path):
            os.unlink(path)
    if db.in_transaction:
        db.execute("ROLLBACK")


def header_fault(path: str | Path) -> str:
    """Why SQLite takes a file for one that only a newer SQLite could write (sqlite.org/fileformat.html, 1.3.3).

    Not to be asked while the file is open: closing it again would let go of the locks on it.
    """
    with suppress(OSError), open(path, "rb") as file:
        way = file.read(WRITTEN_AT + 1)[WRITTEN_AT]
        if way not in WAYS:
            return f"its header says that it is written in way {way}, and there are only {' and '.join(map(str, WAYS))}"
    return ""


def in_words(error: sqlite3.Error, name: str, may_be_read: bool) -> str:
    """What SQLite says, and what would help."""
    said = str(error)
    if not may_be_read:
        return f"cannot be read ({said}); nothing was changed: give the {name} rights to be read and written"
    if getattr(error, "sqlite_errorname", "") == "SQLITE_READONLY_DBMOVED":
        return f"an earlier copy of the {name} was put back just now; nothing was changed here: try again"
    if "locked" in said or "busy" in said:
        return f"another cutplan is still changing the {name}; nothing was changed here: try again"
    if "full" in said or "disk I/O" in said:
        return f"cannot be written ({said}); nothing was changed: make room on the disk and try again"
    if "readonly" in said or "unable to open" in said:
        return f"cannot be written ({said}); nothing was changed: put the {name} in a folder that can be written to"
    return f"the {name} could not be used ({said}); nothing was changed"


def utc_now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
