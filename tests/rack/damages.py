"""A rack that has seen a week, and every way to damage it that a disk, a program or a hand could find."""

from __future__ import annotations

import random
import sqlite3
from contextlib import suppress
from pathlib import Path

from tests.commands import good

SHOP = """unit = "in"
currency = "USD"
[saw]
kerf = "1/8 in"
[profiles.rail]
kind = "other"
head_trim = "1/2 in"
keep_from = "20 in"
stock = [ { length = "96 in", price = 20 }, { length = "144 in", price = 28, qty = 9 } ]
[profiles.bar]
kind = "other"
keep_from = "24 in"
stock = [ { length = "120 in", price = 9 } ]
"""
WORDS: list[object] = [
    None, "", "x", "-1", "0", "1e999999999", "9" * 5000, "1/0", "NaN", "80.5.5", b"\xff\xfe", b"80", 80.5, 1e300, -1,
    2**62, "here", "in", "mm", "CCC", "CFH", "kept", "cut up", "drawn", "[" * 5000, "{}", "[]", "null", "[1]",
    '{"unit": 1}', "2026-01-01T00:00:00Z", "9999999999", "\0", "\ud7ff", "1" * 900 + "/" + "7" * 90,
]  # fmt: skip


def work(folder: Path) -> bytes:
    """The bytes of a rack after a week; its files are left in the folder, which is the current one."""
    (folder / "shop.toml").write_text(SHOP)
    (folder / "pieces.csv").write_text("mark,profile,length,qty\nA,rail,50,4\nB,rail,130,1\nC,bar,40,5\n")
    (folder / "old.csv").write_text("mark,profile,length,qty\nO,rail,47,1\n")
    (folder / "rush.csv").write_text("mark,profile,length,qty\nR,rail,45,2\n")
    for words in (["rack", "add", "rail", "80", "--qty", "3"], ["rack", "add", "bar", "60"],
                  ["rack", "count", "rail", "96", "5"], ["rack", "count", "bar", "120", "4"]):
        good(*words, "--shop", "shop.toml")
    good("cut", "pieces.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "plan.json")
    good("book", "plan.json", "--through", "2")
    good("hold", "plan.json")
    good("cut", "rush.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "rush.json")
    good("recut", "bar", "30")
    good("rack", "scrap", "CKJ", "--note", "bent \u00e9")
    good("cut", "old.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "old.json")
    good("replan", "old.json", "--shop", "shop.toml", "--json", "later.json")
    return (folder / "rack.db").read_bytes()


COMMANDS = [
    ["rack", "show"], ["rack", "show", "--csv", "-"], ["rack", "show", "--readable", "--json", "-"],
    ["rack", "history"], ["rack", "history", "CCC"], ["rack", "report", "--shop", "shop.toml"],
    ["rack", "report", "--json", "-"], ["rack", "add", "rail", "40"], ["rack", "count", "rail", "96", "2"],
    ["rack", "scrap", "CCC"], ["book", "plan.json"], ["rest", "plan.json"], ["unbook", "plan.json"],
    ["unbook", "recut-1"], ["release", "plan.json"], ["hold", "rush.json"], ["book", "rush.json"],
    ["rack", "plans"], ["rack", "plans", "--json", "-"], ["rack", "check"], ["rack", "check", "plan.json"],
    ["spoil", "plan.json", "3", "--left", "20"], ["book", "plan.json", "--sticks", "3"],
]  # fmt: skip
PLANNING = [
    ["replan", "plan.json", "--shop", "shop.toml", "--json", "again.json"],
    ["replan", "plan.json", "--week", "rush.csv", "--shop", "shop.toml"],
    ["recut", "rail", "30", "--look"], ["recut", "bar", "30"],
    ["cut", "rush.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "new.json"],
    ["buy", "rush.csv", "--shop", "shop.toml", "--rack", "rack.db"],
]  # fmt: skip


def damage(path: Path, chance: random.Random) -> str:
    """Damages the file; says how."""
    return chance.choice([flip, flip, overwrite, cut_off, headed, values, values, values, values, loose, lost, form])(
        path, chance)


def flip(path: Path, chance: random.Random) -> str:
    data = bytearray(path.read_bytes())
    places = [chance.randrange(len(data)) for _ in range(chance.choice([1, 3, 30, 300]))]
    for place in places:
        data[place] ^= 1 << chance.randrange(8)
    path.write_bytes(data)
    return f"bits flipped at {places[:5]}"


def overwrite(path: Path, chance: random.Random) -> str:
    data = bytearray(path.read_bytes())
    at, n = chance.randrange(len(data)), chance.choice([4, 100, 4096, 9000])
    filler = chance.choice([bytes(n), b"\xff" * n, chance.randbytes(n)])
    data[at: at + n] = filler[: len(data) - at]
    path.write_bytes(data)
    return f"{n} bytes written at {at}"


def cut_off(path: Path, chance: random.Random) -> str:
    data = path.read_bytes()
    n = chance.choice([0, 1, 15, 16, 99, 100, 4096, chance.randrange(len(data))])
    path.write_bytes(data[:n] + chance.choice([b"", b"more"]))
    return f"cut off at {n}"


def headed(path: Path, chance: random.Random) -> str:
    data = bytearray(path.read_bytes())
    place = chance.randrange(16, 100)
    data[place] = chance.randrange(256)
    path.write_bytes(data)
    return f"byte {place} of the header is {data[place]}"


def tables(db: sqlite3.Connection) -> list[str]:
    return [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]


def hand(path: Path) -> sqlite3.Connection:
    """The file as somebody opens it who wants to help, and keeps to no rule of it."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA ignore_check_constraints = ON")
    return db


def values(path: Path, chance: random.Random, strict: bool = True) -> str:
    """A value of another kind in some row; the table has first lost its rules where it is not `strict`."""
    db = hand(path)
    table = chance.choice(tables(db))
    if not strict:
        db.execute(f"CREATE TABLE loose AS SELECT * FROM {table}")
        db.execute(f"DROP TABLE {table}")
        db.execute(f"ALTER TABLE loose RENAME TO {table}")
    column = chance.choice([row[1] for row in db.execute(f"PRAGMA table_info({table})")])
    value, kind = chance.choice(WORDS), chance.choice(["BLOB", "TEXT"])
    rows = [row[0] for row in db.execute(f"SELECT rowid FROM {table}")] or [1]
    new = f"CAST(? AS {kind})" if isinstance(value, bytes) else "?"
    with suppress(sqlite3.IntegrityError):  # what SQLite itself lets nobody write
        db.execute(f"UPDATE OR REPLACE {table} SET {column} = {new} WHERE rowid = ?", (value, chance.choice(rows)))
    db.close()
    return f"{table}.{column} = {value!r:.40}"


def loose(path: Path, chance: random.Random) -> str:
    return "loose " + values(path, chance, strict=False)


def lost(path: Path, chance: random.Random) -> str:
    """Rows, a column or a table are gone, or something strange has come."""
    db = hand(path)
    table = chance.choice(tables(db))
    how = chance.choice([f"DELETE FROM {table}", f"DELETE FROM {table} WHERE rowid % 2", f"DROP TABLE {table}",
                         f"ALTER TABLE {table} RENAME TO other", f"CREATE VIEW strange AS SELECT * FROM {table}",
                         f"INSERT OR IGNORE INTO {table} SELECT * FROM {table}",
                         f"CREATE TRIGGER strange AFTER INSERT ON {table} BEGIN DELETE FROM {table}; END"])
    db.execute(how)
    db.close()
    return how


def form(path: Path, chance: random.Random) -> str:
    db = hand(path)
    what, value = chance.choice(["user_version", "application_id"]), chance.choice([0, 1, 2, -1, 99, 2**31 - 1])
    db.execute(f"PRAGMA {what} = {value}")
    db.close()
    return f"{what} is {value}"
