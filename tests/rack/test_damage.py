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

from cutplan.problems import InputProblems
from cutplan.rack import store
from tests.commands import good, run
from tests.rack import damages
from tests.rack.damages import COMMANDS, PLANNING, SHOP, work
from tests.sweeps import rounds

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


@pytest.mark.parametrize("often", rounds(50, 1000))
def test_no_damage_is_a_fault_of_cutplans_own(rack: Path, often: int) -> None:
    """Hundreds of damages, each met by a command or two: an answer or a refusal, and never long to wait for."""
    sound = rack.read_bytes()
    for seed in range(often):
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
    for table, column in columns(rack):
        for value in (b"\xff\xfe", "\ud800".encode("utf-8", "surrogatepass")):
            with closing(damages.hand(restored(rack, sound))) as db:
                row = db.execute(f"SELECT max(rowid) FROM {table}").fetchone()[0]
                if (table, column) in (("bookings", "id"), ("history", "id")):
                    continue  # SQLite keeps these whole numbers
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


def test_whatever_a_hand_takes_away_or_alters_is_told(rack: Path) -> None:
    """Every row of every table in its turn; and each cell made another that could be right too."""
    sound = rack.read_bytes()
    with closing(sqlite3.connect(rack)) as db:
        rows = [(table, row) for table in damages.tables(db) for (row,) in db.execute(f"SELECT rowid FROM {table}")]
    changes = [f"DELETE FROM {table} WHERE rowid = {row}" for table, row in rows]
    last = {table: row for table, row in sorted(rows)}
    changes += [f"UPDATE {table} SET {column} = iif(typeof({column}) = 'integer', {column} + 1, NULL) WHERE "
                f"rowid = {last[table]} AND {column} IS NOT NULL" for table, column in columns(rack)
                if column != "seal"]
    changes += ["DELETE FROM replaced", "DELETE FROM pieces", "UPDATE offcuts SET sawn = 2 - sawn", "DELETE FROM holds",
                "UPDATE rules SET shortest = '1'", "UPDATE offcuts SET note = note || '?'"]
    for sql in changes:
        with closing(damages.hand(restored(rack, sound))) as db:
            try:
                if db.execute(sql).rowcount < 1:
                    continue
            except sqlite3.IntegrityError:  # which SQLite does not let a hand do
                continue
        result = run("rack", "check")
        assert result.exit_code == 2 and "is damaged: " in result.stderr, sql


def refused(rack: Path, *changes: str) -> str:
    """What every command says of a rack that a hand changed so; it is as it was afterwards, and can be read."""
    with closing(damages.hand(rack)) as db:
        for sql in changes:
            assert db.execute(sql).rowcount > 0, sql
    before = rack.read_bytes()
    result = run("rack", "show")
    assert result.exit_code == 2 and result.stdout == "" and "is damaged: " in result.stderr, changes
    assert "this rack is damaged, and nothing was changed; what can still be read of it: offcuts" in result.stderr
    assert run("book", "plan.json").exit_code == run("rack", "add", "rail", "40").exit_code == 2
    assert rack.read_bytes() == before and lying("--readable")
    return result.stderr


@pytest.mark.parametrize("value", ["''", "'x'", "'monday.json'", "substr(plan, 2) || 'A'", "substr(plan, 2)"])
def test_a_booking_of_a_plan_that_nobody_can_name_is_not_forgotten(rack: Path, value: str) -> None:
    sound = rack.read_bytes()
    for table in ("bookings", "holds"):
        assert f": {table}.plan: is damaged" in refused(restored(rack, sound), f"UPDATE {table} SET plan = {value}")


def test_an_offcut_of_another_profile_or_length_than_it_came_with_is_told(rack: Path) -> None:
    """Each offcut and each hold, changed to a profile that is there, one that is not, and a length that might be."""
    sound = rack.read_bytes()
    with closing(sqlite3.connect(rack)) as db:
        tags = [("offcuts", row[0]) for row in db.execute("SELECT tag FROM offcuts")]
        tags += [("holds", row[0]) for row in db.execute("SELECT tag FROM holds WHERE tag IS NOT NULL")]
    assert len(tags) > 8 and tags[-1][0] == "holds"
    for table, tag in tags:
        for change in ("profile = 'rial'", "profile = iif(profile = 'rail', 'bar', 'rail')", "length = length + 0.5"):
            said = refused(restored(rack, sound), f"UPDATE {table} SET {change} WHERE tag = '{tag}'")
            assert f"offcut {tag} " in said


def test_a_count_that_nobody_made_and_a_hold_of_what_is_gone_are_told(rack: Path) -> None:
    sound = rack.read_bytes()
    assert "the count of rial " in refused(rack, "UPDATE counted SET profile = 'rial' WHERE profile = 'rail'")
    assert "which is gone" in refused(restored(rack, sound),
                                      "UPDATE offcuts SET state = 'used' WHERE tag IN (SELECT tag FROM holds)")


CONTRADICTORY = [
    ("UPDATE offcuts SET state = 'used' WHERE tag = 'CPT'", "offcut CPT is here in the history, and used on the rack"),
    ("UPDATE offcuts SET state = 'here' WHERE tag = 'CKJ'", "offcut CKJ is scrapped in the history, and here on the"),
    ("UPDATE offcuts SET first = printf('%.*c', 400, '9') WHERE tag = 'CHW'", "offcuts.first: is damaged"),
    ("UPDATE offcuts SET first = '80' WHERE tag = 'CHW'", "offcut CHW has its first hole beyond its other end"),
    ("UPDATE offcuts SET first = '4' WHERE tag = 'CPT'", "unlike others of rail that booking 1 kept"),
    ("UPDATE offcuts SET plain = '3' WHERE tag = 'CHW'", "offcut CHW was measured by hand, and its other end was not"),
    ("UPDATE offcuts SET plain = '3' WHERE tag = 'C3F'", "offcut C3F has no holes"),
    ("UPDATE offcuts SET slope = '1/2' WHERE tag = 'CHW'", "offcut CHW was measured by hand, and the slope"),
    ("UPDATE offcuts SET slope = 'steep' WHERE tag = 'CHW'", "slope"),
    ("UPDATE offcuts SET slope = '1/2', sawn = 2 WHERE tag = 'C3F'", "offcut C3F has both ends sawn square"),
    ("UPDATE offcuts SET came = '2020-01-01T00:00:00Z' WHERE tag = 'CHW'", "offcut CHW came at 2"),
    ("UPDATE offcuts SET source = 'by hand' WHERE tag = 'CPT'", "offcut CPT came another way"),
    ("UPDATE holds SET qty = 99 WHERE tag IS NULL AND length = '96'", "plans hold 99 x rail 96, and at most 5 were"),
    ("UPDATE holds SET qty = 2 WHERE tag = 'CHW'", "a plan holds offcut CHW, which is one"),
    ("UPDATE holds SET profile = 'rial' WHERE tag IS NULL AND profile = 'rail'", "holds rial, of which nothing is"),
    ("UPDATE holds SET name = 'x.json' WHERE tag = 'CHW'", "was put on hold under another name"),
    ("UPDATE counted SET qty = qty + 1 WHERE profile = 'bar'", "is 3 by the history, and 4 on the rack"),
    ("UPDATE history SET qty = 4 WHERE what = 'counted' AND profile = 'rail'", "is 4 by the history, and 5 on the"),
    ("UPDATE history SET qty = 9 WHERE what = 'drawn'", "9 of bar 120 were drawn, and 4 were there"),
    ("UPDATE history SET length = '81' WHERE what = 'added' AND tag = 'CCC'", "and it came as rail 81"),
    ("UPDATE history SET profile = 'bar' WHERE what = 'kept' AND tag = 'CKJ'", "and it came as bar 29.375"),
    ("UPDATE history SET booking = 2 WHERE id = 8", "line 8 of the history does not belong to its booking"),
    ("UPDATE booked SET first = 2 WHERE booking = 1", "booking 1 is of 2 sticks, and 1 are there"),
    ("UPDATE booked SET first = first + 40, last = last + 40 WHERE booking = 1", "of sticks that its plan has not"),
    ("UPDATE booked SET first = first + 2, last = last + 2 WHERE booking = 1", "offcut CPT came another way"),
    ("UPDATE booked SET good = 1 WHERE booking = 1", "booking 1 has spoiled more than a stick"),
    ("UPDATE booked SET booking = 9 WHERE booking = 1", "sticks are booked by booking 9, which is lost"),
    ("UPDATE bookings SET plan = (SELECT plan FROM bookings WHERE id = 1) WHERE id = 2",
     "booking 2 is of sticks that booking 1 is of too"),
    ("UPDATE bookings SET undone = '2026-12-01T00:00:00Z' WHERE id = 1", "booking 1 was taken back, and offcut "),
    ("UPDATE bookings SET undone = '2026-12-01T00:00:00Z' WHERE id = 2", "the bar 120 it drew are not put back"),
    ("INSERT INTO bookings (plan, name, at, sticks) SELECT plan, name, at, sticks FROM bookings WHERE id = 1",
     "booking 3 is of 2 sticks, and 0 are there"),
    ("INSERT INTO replaced SELECT plan, plan, at, NULL FROM holds LIMIT 1",
     "was taken over by one that was not made of"),
    ("INSERT INTO replaced SELECT holds.plan, bookings.plan, bookings.at, 2 FROM holds, bookings WHERE id = 1 LIMIT 1",
     "was taken over by booking 2, which is of another plan or day"),
    ("INSERT INTO follows SELECT plan, '00000000deadbeef', NULL FROM holds LIMIT 1",
     "of which there are later plans, is lost"),
    ("DELETE FROM plans WHERE plan IN (SELECT plan FROM bookings)", "of which there are bookings, is lost"),
    ("UPDATE plans SET first = 9", "booking 1 is of sticks that its plan has not"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "said"), CONTRADICTORY)
def test_tables_that_contradict_each_other_are_told(rack: Path, change: str, said: str) -> None:
    assert said in refused(rack, change)


def told(rack: Path, *changes: str) -> bool:
    """Whether a rack that a hand changed so is refused as damaged."""
    with closing(damages.hand(rack)) as db:
        for sql in changes:
            assert db.execute(sql).rowcount > 0, sql
    try:
        with store.reading(rack):
            return False
    except InputProblems as wrong:
        return "damaged" in str(wrong)


@pytest.mark.parametrize("taken_back", [False, True])
def test_no_line_of_the_history_can_go_come_twice_or_tell_another_tale(rack: Path, taken_back: bool) -> None:
    """Every line, after a week and once its last booking was taken back; and every state and count that could stand."""
    if taken_back:
        good("unbook", "recut-1")
    sound = rack.read_bytes()
    with closing(sqlite3.connect(rack)) as db:
        lines = db.execute("SELECT id, what, tag FROM history").fetchall()
        bookings = db.execute("SELECT id, undone FROM bookings").fetchall()
        states = db.execute("SELECT tag, state FROM offcuts").fetchall()
    copied = "at, what, tag, profile, length, qty, booking, note"
    for id_, what, tag in lines:
        changes = [f"DELETE FROM history WHERE id = {id_}", f"UPDATE history SET length = '17' WHERE id = {id_}",
                   f"UPDATE history SET profile = 'rial' WHERE id = {id_}"]
        if what != "counted":  # counted twice to the same number, it is still that number
            changes.append(f"INSERT INTO history ({copied}) SELECT {copied} FROM history WHERE id = {id_}")
        changes += [f"UPDATE history SET tag = NULL WHERE id = {id_}"] if tag else []
        for change in changes:
            assert told(restored(rack, sound), change), change
        if id_ < len(lines):  # numbered anew, so that no number is missing
            assert told(restored(rack, sound), f"DELETE FROM history WHERE id = {id_}",
                        f"UPDATE history SET id = id - 1 WHERE id > {id_}"), id_
    for tag, state in states:
        for other in {"here", "used", "scrapped", "taken back"} - {state}:
            change = f"UPDATE offcuts SET state = '{other}' WHERE tag = '{tag}'"
            assert told(restored(rack, sound), change), change
    for id_, undone in bookings:
        other = "NULL" if undone else "'2026-12-01T00:00:00Z'"
        assert told(restored(rack, sound), f"UPDATE bookings SET undone = {other} WHERE id = {id_}"), id_
        assert told(restored(rack, sound), f"DELETE FROM bookings WHERE id = {id_}"), id_
    assert not told(restored(rack, sound), "UPDATE rack SET next_tag = next_tag")


def test_a_plan_may_hold_sticks_that_nobody_counted(rack: Path) -> None:
    """The shop file says that nine of 144 can be had, and the plan holds one; other plans may take the count below."""
    with closing(sqlite3.connect(rack)) as db:
        assert db.execute("SELECT count(*) FROM holds WHERE tag IS NULL AND length = '144'").fetchone() == (1,)
        assert db.execute("SELECT count(*) FROM counted WHERE length = '144'").fetchone() == (0,)
    good("rack", "show")


@pytest.mark.parametrize("length", [str(2**62), "9" * 900, "12001", "304801", f"{10**9}/7"])
def test_a_length_that_nothing_has_is_damage_wherever_it_stands(rack: Path, length: str) -> None:
    sound = rack.read_bytes()
    for changes in (("offcuts", "history"), ("counted", "holds", "history"), ("holds", "offcuts", "history")):
        text = refused(restored(rack, sound), *(
            f"UPDATE {name} SET length = '{length}' WHERE rowid = (SELECT max(rowid) FROM {name})" for name in changes))
        assert f": {changes[0]}.length: is damaged" in text or f"{changes[0]} has a length of" in text


def test_a_tag_that_would_be_given_twice_is_told(rack: Path) -> None:
    """The next tag set back, or ahead, by any number; also on a rack that does not know which it gave out last."""
    sound = rack.read_bytes()
    with closing(sqlite3.connect(rack)) as db:
        number, last = db.execute("SELECT next_tag, last_tag FROM rack").fetchone()
        added = [row[0] for row in db.execute("SELECT tag FROM history WHERE what = 'added'")]
    for other in {*range(number), number + 1, number + 169}:
        said = refused(restored(rack, sound), f"UPDATE rack SET next_tag = {other}")
        assert f"the tag given out last is {last}, and the next to be given" in said
    for other in range(len(added)):
        said = refused(restored(rack, sound), f"UPDATE rack SET next_tag = {other}, last_tag = NULL")
        assert "was given out already, and the next tag to be given is" in said
    with closing(damages.hand(restored(rack, sound))) as db:
        db.execute(f"UPDATE rack SET next_tag = {len(added)}, last_tag = NULL, seal = NULL")
    good("rack", "show")  # as racks were before they knew


def test_an_emptied_rack_is_damaged_and_its_journal_is_kept(rack: Path) -> None:
    """No command takes it for a rack that is still to be made, whose tags would begin again."""
    for content in (None, b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + bytes(11) + b"\x07" + bytes(600)):
        journal = rack.with_name("rack.db-journal")
        rack.write_bytes(b"")
        if content:
            journal.write_bytes(content)
        for words in [*COMMANDS, *PLANNING, ["rack", "count", "rail", "96", "5", "--shop", "shop.toml"]]:
            if "--readable" not in words:
                result = run(*words)
                assert result.exit_code == 2 and "this rack is damaged, and nothing was changed" in result.stderr, words
        assert rack.read_bytes() == b"" and journal.exists() == (content is not None)
        if content:
            rack.unlink()
            assert "rack.db-journal was left of it; keep both" in run("rack", "add", "rail", "96", "--new",
                                                                      "--unit", "in").stderr
            assert journal.read_bytes() == content and not rack.exists()


def test_a_rack_that_could_not_be_made_leaves_nothing_that_looks_like_damage(tmp_path: Path) -> None:
    path = tmp_path / "new.db"
    with pytest.raises(ZeroDivisionError), store.changing(path):
        raise ZeroDivisionError
    assert not path.exists()
    with store.changing(path):
        pass
    assert path.exists()


def test_a_damaged_rack_of_an_older_form_can_be_read_too(rack: Path) -> None:
    """As racks were before they knew of sawn ends."""
    rack.unlink()
    with closing(sqlite3.connect(rack)) as db, db:
        for statement in store.RACK_MIGRATIONS[0]:
            db.execute(statement)
        db.execute("INSERT INTO rack (unit, next_tag) VALUES ('mm', 2)")
        for tag, length in (("CCC", "1000"), ("CFH", "none")):
            db.execute("INSERT INTO offcuts (tag, profile, length, first, came, source, note, state) VALUES "
                       f"('{tag}', 'rail', '{length}', NULL, '2026-01-01T00:00:00Z', 'by hand', '', 'here')")
        db.execute(f"PRAGMA application_id = {store.RACK_ID}")
        db.execute("PRAGMA user_version = 1")
    assert "rack.db:2: offcuts.length: is damaged: holds 'none'" in run("rack", "show").stderr
    assert [(row["tag"], row["length"]) for row in lying("--readable")] == [("CCC", "1000")]
    assert "unit is lost" not in run("rack", "show", "--readable").stderr


def test_what_is_no_rack_at_all_is_said(rack: Path) -> None:
    for content, said in ((b"", "it is empty, and a rack never is"), (b"x" * 5000, "damaged at its very beginning"),
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
    good("bid", "bid.csv", "--shop", shop, "--versions", "2", "--store", "bids.db", "--job", "Pier")
    good("learn", plan, "--store", "bids.db", "--without-rack")
    store = Path("bids.db")
    with closing(damages.hand(store)) as db:  # rows of what was learnt in an earlier form, and of a week's other plan
        db.execute("INSERT INTO wasted SELECT plan, 'rail', '10', '1', '0' FROM plans")
        db.execute("INSERT INTO week SELECT plan, 'other', 'other.json' FROM plans")
    sound = store.read_bytes()
    for table, column in columns(store):
        if (table, column) not in (("bids", "id"), ("said", "bid")):
            with closing(damages.hand(restored(store, sound))) as db:
                db.execute(f"UPDATE {table} SET {column} = CAST(x'ff' AS TEXT) WHERE rowid = 1")
            assert f"{table}.{column}: is damaged" in run("learn", "--store", "bids.db").stderr
    for seed in range(40):
        said = damages.damage(restored(store, sound), random.Random(seed))
        began = time.process_time()
        assert run("learn", plan, "--store", "bids.db", "--without-rack").exit_code in (0, 2), said
        assert time.process_time() - began < PATIENT, said


def test_the_shop_of_these_tests_is_sound() -> None:
    assert Path("shop.toml").read_text() == SHOP and run("rack", "report", "--shop", "shop.toml").exit_code == 0
