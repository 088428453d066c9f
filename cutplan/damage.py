"""Whether a database holds what it should, row by row; and what of a damaged one can still be read.

A damaged file is refused whole before anything in it is believed: nothing that is read from it later can be of a wrong
kind, absurdly long or no text at all.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from fractions import Fraction
from typing import Any
from urllib.parse import quote

from cutplan.problems import Problem

LONGEST_NUMBER = 1000  # characters; a longer one is a slip or a trick
LONGEST_CELL = 1_000_000  # characters
MOST_COUNTED = 2**53  # of anything that is counted
TOLD = 10  # faults that are told one by one
NUMBER_OR_FRACTION = re.compile(r"[0-9]+(\.[0-9]+)?|[0-9]+/0*[1-9][0-9]*")
WHEN = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])T[0-2][0-9]:[0-5][0-9]:[0-6][0-9]Z")
CORRUPT = ("SQLITE_ERROR", "SQLITE_CORRUPT", "SQLITE_FORMAT", "SQLITE_SCHEMA", "SQLITE_IOERR_SHORT_READ",
           "SQLITE_IOERR_CORRUPTFS", "SQLITE_MISMATCH", "SQLITE_TOOBIG", "SQLITE_RANGE")  # fmt: skip

CellRule = Callable[[Any], bool]  # whether a value is of this kind
Fault = tuple[int, str, str]  # row, column, what is wrong


@dataclass(frozen=True)
class TableRule:
    """What the columns of a table hold; `single`: it has just one row."""

    columns: Mapping[str, CellRule]
    single: bool = False


Agreement = Callable[[sqlite3.Connection], Iterator[str]]  # what does not agree between the rows of a sound file


# ---- what a column may hold ----


def text(value: Any) -> bool:
    """Text without halves of characters, which is how bytes that are not UTF-8 are read here."""
    if not isinstance(value, str) or len(value) > LONGEST_CELL:
        return False
    return value.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in value)


def number(value: Any) -> bool:
    """An exact number as text, zero or more: decimal or p/q, as `lengths.exact_decimal` writes them."""
    return isinstance(value, str) and len(value) <= LONGEST_NUMBER and NUMBER_OR_FRACTION.fullmatch(value) is not None


def length(value: Any) -> bool:
    return number(value) and Fraction(value) > 0


def whole(value: Any) -> bool:
    return isinstance(value, int) and 0 <= value <= MOST_COUNTED


def time(value: Any) -> bool:
    return isinstance(value, str) and WHEN.fullmatch(value) is not None


def word(*words: str | int) -> CellRule:
    return lambda value: any(value == one and type(value) is type(one) for one in words)


def or_none(kind: CellRule) -> CellRule:
    return lambda value: value is None or kind(value)


def plain_json(said: str) -> Any:
    """JSON whose numbers become Fractions. ValueError for what is none, for numbers nobody wrote, and for what says one
    thing twice."""
    def exactly(digits: str) -> Fraction:
        if not number(digits.removeprefix("-")):
            raise ValueError(f"{digits[:40]} is no plain number")
        return Fraction(digits)

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        if twice := next((key for key, n in Counter(key for key, _ in pairs).items() if n > 1), None):
            raise ValueError(f"{twice[:40]!r} stands in it twice")
        return dict(pairs)

    try:
        return json.loads(said, parse_float=exactly, parse_int=exactly, parse_constant=exactly, object_pairs_hook=once)
    except RecursionError:
        raise ValueError("is nested too deep") from None


# ---- finding out ----


def faults(db: sqlite3.Connection, tables: Mapping[str, TableRule], agree: Agreement) -> list[Fault]:
    """Everything wrong in a database that is open. sqlite3.Error where its pages are damaged."""
    db.text_factory = lenient
    try:
        found = [*form_faults(db, tables)]
        if not found:
            found = [fault for name, table in tables.items() for fault in table_faults(db, name, table)]
        found += [(1, "file", str(row[0])) for row in db.execute(f"PRAGMA integrity_check({TOLD})") if row[0] != "ok"]
        return found or [(1, "file", said) for said in agree(db)]
    finally:
        db.text_factory = str


def form_faults(db: sqlite3.Connection, tables: Mapping[str, TableRule]) -> Iterator[Fault]:
    """What is missing of tables and columns, or is there and never was made by cutplan."""
    for name, table in tables.items():
        columns = {row[1] for row in db.execute(f"PRAGMA table_info({name})")}
        if not columns:
            yield 1, name, "there is no such table any more"
        elif lost := [column for column in table.columns if column not in columns]:
            yield 1, name, f"has no column {', '.join(lost)} any more"
    if db.execute("SELECT count(*) FROM sqlite_master WHERE type IN ('trigger', 'view')").fetchone()[0]:
        yield 1, "file", "has triggers or views, which cutplan never makes"


def table_faults(db: sqlite3.Connection, name: str, table: TableRule) -> Iterator[Fault]:
    rows = [tuple(row) for row in db.execute(reading(name, table)).fetchall()]
    for kind, cells in zip(table.columns.values(), list(zip(*rows, strict=True))[1:], strict=bool(rows)):
        each_once = {(type(cell), cell) for cell in cells}  # a long history holds few different values
        if not all(kind(value) for _, value in each_once):
            yield from (fault for row in rows for fault in row_faults(name, table, row))
            break
    if table.single and len(rows) != 1:
        yield 1, name, f"has {len(rows)} rows; one is right"


def reading(name: str, table: TableRule) -> str:
    return f"SELECT rowid, {', '.join(table.columns)} FROM {name}"


def row_faults(name: str, table: TableRule, row: Sequence[Any]) -> Iterator[Fault]:
    for (column, kind), value in zip(table.columns.items(), row[1:], strict=True):
        if not kind(value):
            yield int(row[0]), f"{name}.{column}", f"holds {shown(value)}"


def shown(value: Any) -> str:
    said = ascii(value)
    return said if len(said) <= 40 else f"{said[:37]}..."


def lenient(raw: bytes) -> str:
    return raw.decode(errors="surrogateescape")


def problems(path: str, name: str, found: Sequence[Fault], readable: str) -> list[Problem]:
    """The faults of a file in words: it is damaged, where, and what can still be read."""
    more = f"; {len(found) - TOLD} more rows or columns are damaged" if len(found) > TOLD else ""
    told = [Problem(path, row, column, f"is damaged: {said}") for row, column, said in sorted(found)[:TOLD]]
    whole = f"this {name} is damaged, and nothing was changed{more}; {readable}; go on with a copy of it from before"
    return [*told, Problem(path, 1, "file", whole)]


# ---- what can be read ----


def salvaged(path: str, tables: Mapping[str, TableRule], steps: Sequence[Sequence[str]]) -> sqlite3.Connection:
    """A database in memory with the sound rows of a damaged file, as far as SQLite finds any."""
    copy = blank(steps)
    for name, whole_table in tables.items():
        table = as_it_stands(path, name, whole_table)
        names = ", ".join(("rowid", *table.columns))
        marks = ", ".join("?" * (1 + len(table.columns)))
        for row in sound_rows(path, name, table):
            with suppress(sqlite3.Error):
                copy.execute(f"INSERT INTO {name} ({names}) VALUES ({marks})", row)
    return copy


def as_it_stands(path: str, name: str, table: TableRule) -> TableRule:
    """The table with those columns that a file has: one of an older form has fewer."""
    with suppress(sqlite3.Error, UnicodeError, OverflowError), closing(looking(path)) as db:
        there = {row[1] for row in db.execute(f"PRAGMA table_info({name})")}
        if set(table.columns) & there:
            return TableRule({column: kind for column, kind in table.columns.items() if column in there}, table.single)
    return table


def blank(steps: Sequence[Sequence[str]]) -> sqlite3.Connection:
    """A database in memory, of a form and without rows."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.row_factory = sqlite3.Row
    for statements in steps:
        for statement in statements:
            with suppress(sqlite3.Error):  # what fails here failed in the file too
                db.execute(statement)
    return db


def sound_rows(path: str, name: str, table: TableRule) -> Iterator[tuple[Any, ...]]:
    """The sound rows of a table, from both its ends as far as it can be read, each once."""
    seen: set[int] = set()
    for order in ("", " ORDER BY rowid DESC"):
        with suppress(sqlite3.Error, UnicodeError, OverflowError), closing(looking(path)) as db:
            for row in db.execute(reading(name, table) + order):
                if row[0] not in seen and not any(row_faults(name, table, row)):
                    seen.add(row[0])
                    yield tuple(row)


def looking(path: str) -> sqlite3.Connection:
    """The file as it stands, without locks and without putting back what a crash left half done."""
    db = sqlite3.connect(f"file:{quote(os.path.abspath(path))}?mode=ro&immutable=1", uri=True)
    db.execute("PRAGMA writable_schema = ON")  # a file that was cut off is read as far as it goes
    db.text_factory = lenient
    return db


def readable(path: str, tables: Mapping[str, TableRule], steps: Sequence[Sequence[str]], saving: str) -> str:
    """How many rows of each table can still be read, in words, and how to save them."""
    with closing(salvaged(path, tables, steps)) as copy:
        counts = [(name, copy.execute(f"SELECT count(*) FROM {name}").fetchone()[0])
                  for name, table in tables.items() if not table.single]
    found = ", ".join(f"{name} {count}" for name, count in counts if count)
    return f"what can still be read of it: {found}{saving}" if found else "nothing of it can be read"
