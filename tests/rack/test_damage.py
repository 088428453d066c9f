"""If these fail, a damaged rack or store is believed, ends in a fault of cutplan's own, or takes what is sound too."""

from __future__ import annotations

import csv
import io
import os
import random
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from tests.commands import good, run
from tests.rack import damages
from tests.rack.damages import COMMANDS, PLANNING, SHOP, work

PATIENT = 10.0  # seconds of processor time; no answer takes one


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, bytes]:
    folder = tmp_path_factory.mktemp("week")
    here = os.getcwd()
    os.chdir(folder)
    try:
        return folder, work(folder)
    finally:
        os.chdir(here)


@pytest.fixture(autouse=True)
def rack(week: tuple[Path, bytes], monkeypatch: pytest.MonkeyPatch) -> Path:
    folder, sound = week
    monkeypatch.chdir(folder)
    return restored(folder / "rack.db", sound)


def restored(path: Path, sound: bytes) -> Path:
    for beside in path.parent.glob(f"{path.name}-*"):
        beside.unlink()
    path.write_bytes(sound)
    return path


def lying(*more: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(good("rack", "show", "--csv", "-", *more))))


def test_no_damage_is_a_fault_of_cutplans_own(rack: Path) -> None:
    """Three hundred damages, each met by a command or two: an answer or a refusal, and never long to wait for."""
    sound = rack.read_bytes()
    for seed in range(300):
        chance = random.Random(seed)
        said = damages.damage(restored(rack, sound), chance)
        for words in chance.sample(COMMANDS, 1) + chance.sample(PLANNING, seed % 10 == 0):
            began = time.process_time()
            result = run(*words)
            assert result.exit_code in (0, 2, 3), (said, words)
            assert time.process_time() - began < PATIENT, (said, words)
            assert result.exit_code != 2 or result.stderr.strip(), (said, words)


def columns(path: Path) -> list[tuple[str, str]]:
    """Every column of a database, as SQLite itself knows them."""
    with closing(sqlite3.connect(path)) as db:
        return [(table, row[1]) for table in damages.tables(db) for row in db.execute(f"PRAGMA table_info({table})")]


def test_a_value_of_the_wrong_kind_is_told_with_its_row_and_column_and_nothing_is_changed(rack: Path) -> None:
    """In every column there is: bytes that are no text, and what stands for no length, time, count or word."""
    sound = rack.read_bytes()
    empty = {"replaced"}
    for table, column in columns(rack):
        for value in (b"\xff\xfe", "\ud800".encode("utf-8", "surrogatepass")):
            with closing(damages.hand(restored(rack, sound))) as db:
                row = db.execute(f"SELECT max(rowid) FROM {table}").fetchone()[0]
                if (table, column) in (("bookings", "id"), ("history", "id")) or table in empty:
                    continue  # SQLite keeps these whole numbers; or there is no row
                db.execute(f"UPDATE {table} SET {column} = CAST(? AS TEXT) WHERE rowid = ?", (value, row))
            before = rack.read_bytes()
            result = run("rack", "add", "bar", "40")
            assert result.exit_code == 2 and f"rack.db:{row}: {table}.{column}: is damaged" in result.stderr
            assert "this rack is damaged, and nothing was changed" in result.stderr
            assert rack.read_bytes() == before


@pytest.mark.parametrize("value", ["1e999999999", "0", "-80", "80.5.5", "1/0", "9" * 5000, "NaN", "80 in", ""])
def test_a_length_that_is_none_takes_no_other_with_it(rack: Path, value: str) -> None:
    before = lying()
    with closing(damages.hand(rack)) as db:
        db.execute("UPDATE offcuts SET length = ? WHERE tag = 'CHW'", (value,))
    assert "offcuts.length: is damaged" in run("rack", "show").stderr
    assert lying("--readable") == [row for row in before if row["tag"] != "CHW"]


def test_a_rack_that_was_cut_off_gives_what_is_left(rack: Path) -> None:
    sound, before = rack.read_bytes(), {tuple(row.values()) for row in lying()}
    found = []
    for part in range(1, 10):
        restored(rack, sound[: len(sound) * part // 10])
        result = run("rack", "show")
        assert result.exit_code == 2 and "damaged" in result.stderr
        left = lying("--readable")
        assert all({row["tag"] for row in left} <= {one[0] for one in before} for row in left)
        found.append(len(left))
    assert found == sorted(found) and found[-1] == len(before)


def test_rows_that_belong_together_are_missed(rack: Path) -> None:
    sound = rack.read_bytes()
    for lost, said in (("offcuts", "which is lost"), ("bookings", "which is lost"), ("rack", "one is right"),
                       ("counted", "the count of")):
        with closing(damages.hand(restored(rack, sound))) as db:
            db.execute(f"DELETE FROM {lost}")
        result = run("rack", "history")
        assert result.exit_code == 2 and said in result.stderr, lost


def test_what_is_no_rack_at_all_is_said(rack: Path) -> None:
    for content, said in ((b"", "there is no rack here"), (b"x" * 5000, "damaged at its very beginning"),
                          (b"SQLite format 3\0" + bytes(84), "damaged")):
        rack.write_bytes(content)
        for words in (["rack", "show"], ["rack", "show", "--readable"], ["unbook", "plan.json"]):
            result = run(*words)
            assert result.exit_code in (0, 2) and (said in result.stderr or "--readable" in words)
        assert rack.read_bytes() == content
    rack.unlink()
    rack.mkdir()
    assert "is a folder" in run("rack", "show").stderr and run("book", "plan.json").exit_code == 2
    rack.rmdir()


def test_no_damage_of_the_store_is_a_fault_of_cutplans_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = Path("plan.json").resolve()
    monkeypatch.chdir(tmp_path)
    shop = Path(__file__).resolve().parents[2] / "data" / "demo" / "shop.toml"
    Path("bid.csv").write_text("mark,kind,system,qty,opening,height\nA,gate,breakwater,1,40..41,42\n")
    good("bid", "bid.csv", "--shop", shop, "--versions", "2", "--store", "bids.db")
    good("learn", plan, "--store", "bids.db")
    store = Path("bids.db")
    sound = store.read_bytes()
    for table, column in columns(store):
        if (table, column) not in (("bids", "id"), ("said", "bid")):
            with closing(damages.hand(restored(store, sound))) as db:
                db.execute(f"UPDATE {table} SET {column} = CAST(x'ff' AS TEXT) WHERE rowid = 1")
            assert f"{table}.{column}: is damaged" in run("learn", plan, "--store", "bids.db").stderr
    for seed in range(100):
        said = damages.damage(restored(store, sound), random.Random(seed))
        began = time.process_time()
        assert run("learn", plan, "--store", "bids.db").exit_code in (0, 2), said
        assert time.process_time() - began < PATIENT, said


def test_the_shop_of_these_tests_is_sound() -> None:
    assert Path("shop.toml").read_text() == SHOP and run("rack", "report", "--shop", "shop.toml").exit_code == 0
