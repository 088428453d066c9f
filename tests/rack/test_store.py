"""If these fail, a crash, a second user or a full disk damages the rack, or a file that is none is taken for one."""

from __future__ import annotations

import os
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan import database
from cutplan.bidding import store as bids
from cutplan.planning import racked
from cutplan.plans.plan import Plan
from cutplan.problems import InputProblems
from cutplan.rack import booking, claims, shelf, store
from cutplan.rack.claims import known
from cutplan.rack.store import changing, reading
from tests.rack.workshop import SHOP, plan_with, priced_out
from tests.sweeps import rounds

F = Fraction
OFTEN = rounds(30, 200)
DEMAND = {("rail", 50): 4, ("rail", 110): 2, ("bar", 30): 5}

forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    path = tmp_path / "rack.db"
    with changing(path) as now:
        shelf.add(now, "rail", F(60), 3)
        shelf.count(now, "rail", F(144), 3)
    return path


def state(rack: Path) -> object:
    with reading(rack) as now:
        return shelf.offcuts(now), shelf.counts(now), shelf.history(now)


def sound(rack: Path) -> bool:
    with sqlite3.connect(rack) as db:
        return list(db.execute("PRAGMA integrity_check")) == [("ok",)]


def child(work: Callable[[], object]) -> int:
    """A process of its own that does this and ends with 0, or with 2 where the input was refused."""
    pid = os.fork()
    if pid:
        return pid
    status = 1
    try:
        work()
        status = 0
    except InputProblems:
        status = 2
    finally:
        os._exit(status)


def book(rack: Path, plan: Plan) -> booking.Booked:
    with changing(rack) as now:
        return booking.book(now, known(plan, "plan.json"))


@forks
@pytest.mark.parametrize("often", OFTEN)
def test_two_that_book_at_once_never_promise_an_offcut_twice(rack: Path, tmp_path: Path, often: int) -> None:
    """Both plans take the same offcuts; the second process is refused, whichever of them it is."""
    plans = [(plan := plan_with(rack, DEMAND)), priced_out(plan)]
    before = rack.read_bytes()
    winners = set()
    for _ in range(often):
        rack.write_bytes(before)
        pids = [child(lambda plan=plan: book(rack, plan)) for plan in plans]  # type: ignore[misc]
        statuses = [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in pids]
        assert sorted(statuses) == [0, 2]
        winners.add(statuses[0])
        with reading(rack) as now:
            gone = [event.tag for event in shelf.history(now) if event.what == "cut up"]
        assert len(gone) == len(set(gone)) == 3 and sound(rack)


@forks
@pytest.mark.parametrize("often", OFTEN)
def test_two_that_book_other_things_at_once_are_both_right(rack: Path, often: int) -> None:
    plans = [plan_with(rack, {("bar", 30): 3}), plan_with(rack, {("rail", 50): 2})]
    before = rack.read_bytes()
    for _ in range(often // 4):
        rack.write_bytes(before)
        pids = [child(lambda plan=plan: book(rack, plan)) for plan in plans]  # type: ignore[misc]
        assert [os.waitpid(pid, 0)[1] for pid in pids] == [0, 0]
        with reading(rack) as now:
            assert [claims.done(now, known(plan, "").id).cut for plan in plans] == [{1}, {1, 2}]
        assert sound(rack)


@forks
@pytest.mark.parametrize("often", OFTEN)
def test_killed_while_booking_the_rack_holds_all_of_it_or_nothing(rack: Path, often: int) -> None:
    plan = plan_with(rack, DEMAND)
    before, nothing = rack.read_bytes(), state(rack)
    book(rack, plan)
    whole = without_times(rack)
    began = time.perf_counter()
    rack.write_bytes(before)
    book(rack, plan)
    usual = time.perf_counter() - began
    chance = random.Random(0)
    ends = {"none": 0, "all": 0}
    for _ in range(often):
        rack.write_bytes(before)
        pid = child(lambda: book(rack, plan))
        later = (1 + ends["none"]) / (1 + ends["all"])  # where most came too soon
        time.sleep(later * chance.uniform(0, 2 * usual))
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        if state(rack) == nothing:  # opening it rolls back what was begun
            ends["none"] += 1
        else:
            assert without_times(rack) == whole
            ends["all"] += 1
        assert sound(rack)
    assert all(ends.values()), ends  # the moments fell on both sides


def without_times(rack: Path) -> object:
    with reading(rack) as now:
        lying = [(one.tag, one.length, one.source) for one in shelf.offcuts(now)]
        events = [(event.what, event.tag, event.length, event.qty) for event in shelf.history(now)]
        return lying, shelf.counts(now), events


@pytest.mark.parametrize("seed", range(6))
def test_the_command_killed_leaves_all_or_nothing(rack: Path, tmp_path: Path, seed: int) -> None:
    from cutplan.plans.plan import to_json

    file = tmp_path / "plan.json"
    file.write_text(to_json(plan_with(rack, DEMAND)), encoding="utf-8")
    nothing = state(rack)
    words = [sys.executable, "-m", "cutplan", "book", str(file), "--rack", str(rack)]
    running = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    time.sleep(random.Random(seed).uniform(0.1, 0.7))
    running.kill()
    running.wait()
    with reading(rack) as now:
        left = shelf.history(now)
    assert state(rack) == nothing or [event.what for event in left].count("cut up") == 3
    assert sound(rack)


def full_disk(kilobytes: int) -> None:
    """In this process no file may grow beyond so much: what a full disk does, without filling one."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * 1024, kilobytes * 1024))


@forks
def test_a_full_disk_is_said_and_loses_nothing(rack: Path, tmp_path: Path) -> None:
    plan = plan_with(rack, DEMAND)
    before = state(rack)
    said = tmp_path / "said.txt"

    def work() -> None:
        full_disk(8)
        try:
            book(rack, plan)
        except InputProblems as error:
            said.write_text(str(error), encoding="utf-8")  # short enough
            raise

    assert os.waitstatus_to_exitcode(os.waitpid(child(work), 0)[1]) == 2
    assert "nothing was changed: make room on the disk" in said.read_text(encoding="utf-8")
    assert state(rack) == before and sound(rack)
    book(rack, plan)


@forks
def test_a_folder_that_cannot_be_written_to_is_said(rack: Path) -> None:
    plan = plan_with(rack, DEMAND)
    with tempfile.TemporaryDirectory() as folder:
        there, said = Path(folder) / "rack.db", Path(folder) / "said.txt"
        there.write_bytes(rack.read_bytes())
        said.touch()
        for path, rights in ((there, 0o444), (said, 0o666), (Path(folder), 0o555)):
            path.chmod(rights)

        def work() -> None:
            if os.geteuid() == 0:
                os.setuid(65534)  # root writes everywhere; nobody does not
            try:
                book(there, plan)
            except InputProblems as error:
                said.write_text(str(error), encoding="utf-8")
                raise

        assert os.waitstatus_to_exitcode(os.waitpid(child(work), 0)[1]) == 2
        assert "nothing was changed: put the rack in a folder" in said.read_text(encoding="utf-8")
        assert there.read_bytes() == rack.read_bytes()
        Path(folder).chmod(0o755)


@forks
def test_a_full_disk_leaves_no_new_file(tmp_path: Path) -> None:
    """Neither of a rack nor of a store of bids, whichever of their first pages it is that has no room."""
    for kilobytes in (0, 1, 4, 8, 12, 16, 24):
        for make in (lambda: changing(tmp_path / "new.db"), lambda: bids.changing(tmp_path / "s.db", "in")):
            def work(make: Callable[[], AbstractContextManager[object]] = make, kilobytes: int = kilobytes) -> None:
                full_disk(kilobytes)
                with make():
                    pass

            assert os.waitstatus_to_exitcode(os.waitpid(child(work), 0)[1]) == 2
            assert list(tmp_path.iterdir()) == [], kilobytes


def test_a_rack_that_cannot_be_written_is_known_before_the_search(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where tags will be needed: they are to be written to it, and the plan would be lost."""
    connect, found = database.connect, []
    monkeypatch.setattr(database, "connect", lambda path, mode, patience: connect(path, "ro", patience))
    monkeypatch.setattr(racked, "supply", lambda shop, rack, own: found.append(rack))
    with pytest.raises(InputProblems, match="nothing was changed: put the rack in a folder"):
        racked.on_rack(str(rack), [], SHOP, tags=True)
    assert not found
    racked.on_rack(str(rack), [], SHOP, tags=False)
    assert found
    monkeypatch.undo()
    before = rack.read_bytes()
    racked.on_rack(str(rack), [], SHOP, tags=True)
    assert state(rack) and rack.read_bytes()[100:] == before[100:]  # but for the header's count of changes


@forks
def test_a_rack_that_may_not_be_read_is_said(rack: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        there, said = Path(folder) / "rack.db", Path(folder) / "said.txt"
        there.write_bytes(rack.read_bytes())
        said.touch()
        for path, rights in ((there, 0o200), (said, 0o666), (Path(folder), 0o755)):
            path.chmod(rights)

        def work() -> None:
            if os.geteuid() == 0:
                os.setuid(65534)
            try:
                state(there)
            except InputProblems as error:
                said.write_text(str(error), encoding="utf-8")
                raise

        assert os.waitstatus_to_exitcode(os.waitpid(child(work), 0)[1]) == 2
        assert "cannot be read (" in said.read_text(encoding="utf-8")


@pytest.mark.parametrize("way", [3, 32, 255])
def test_a_header_that_says_it_is_written_in_no_known_way_is_damaged(rack: Path, way: int) -> None:
    """SQLite itself only says that the file is not to be written (its file format, 1.3.3: 1 or 2 is right)."""
    data = bytearray(rack.read_bytes())
    data[18] = way
    rack.write_bytes(data)
    with pytest.raises(InputProblems, match=f"is damaged: .* way {way}(.|\n)*this rack is damaged") as wrong, \
            changing(rack) as now:
        shelf.add(now, "rail", F(40))
    assert "folder that can be written" not in str(wrong.value) and rack.read_bytes() == data


def test_a_file_opened_for_reading_only_is_said(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a disk that is mounted for reading only, which root cannot write to either."""
    connect = database.connect
    monkeypatch.setattr(database, "connect", lambda path, mode, patience: connect(path, "ro", patience))
    with pytest.raises(InputProblems, match=r"readonly.*nothing was changed: put the rack in a folder"), \
            changing(rack) as now:
        shelf.add(now, "rail", F(40))


def test_no_such_folder_and_no_such_rack_are_said(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match="unable to open"), changing(tmp_path / "none" / "rack.db"):
        pass
    with pytest.raises(InputProblems, match="no rack here"), reading(tmp_path / "rack.db"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_whoever_waits_too_long_is_told(rack: Path) -> None:
    again = database.transaction(rack, store.form(), lambda db: None, patience=0.05)
    with changing(rack), pytest.raises(InputProblems, match="another cutplan is still changing"), again:
        pass


@pytest.mark.parametrize("content", [b"mark,profile,length\n" * 40, b"SQLite format 3\0" + bytes(4080)])
def test_a_file_that_is_no_rack_is_left_as_it_is(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "week.csv"
    file.write_bytes(content)
    for opened in (reading, changing):
        with pytest.raises(InputProblems, match="no rack"), opened(file):  # type: ignore[operator]
            pass
    assert file.read_bytes() == content


def test_somebody_elses_database_is_left_as_it_is(tmp_path: Path) -> None:
    file = tmp_path / "books.db"
    with sqlite3.connect(file) as db:
        db.execute("CREATE TABLE books (title TEXT)")
    with pytest.raises(InputProblems, match="a database, but no rack"), changing(file):
        pass
    with sqlite3.connect(file) as db:
        assert list(db.execute("SELECT name FROM sqlite_master")) == [("books",)]


def test_an_older_rack_is_brought_up_to_date_with_all_it_holds(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a step that a later version might bring; a step that fails leaves the older rack as it was."""
    before = state(rack)
    released = list(store.RACK_MIGRATIONS)
    wrong = ("ALTER TABLE offcuts ADD COLUMN bay TEXT", "SELECT wrong")
    monkeypatch.setattr(store, "RACK_MIGRATIONS", [*released, wrong])
    with pytest.raises(InputProblems, match="nothing was changed"), reading(rack):
        pass
    monkeypatch.setattr(store, "RACK_MIGRATIONS", [*released, ("ALTER TABLE offcuts ADD COLUMN bay TEXT",)])
    with reading(rack) as now:
        assert now.one("SELECT bay FROM offcuts") is not None
    assert state(rack) == before
    monkeypatch.setattr(store, "RACK_MIGRATIONS", released)
    with pytest.raises(InputProblems, match="written by a newer cutplan"), changing(rack):
        pass


def test_offcuts_of_the_first_racks_are_raw_at_both_ends(tmp_path: Path) -> None:
    path = tmp_path / "old.db"
    with sqlite3.connect(path) as db:
        for statement in store.RACK_MIGRATIONS[0]:
            db.execute(statement)
        db.execute("INSERT INTO rack (unit, next_tag) VALUES ('in', 1)")
        db.execute("INSERT INTO offcuts (tag, profile, length, first, came, source, note, state) "
                   "VALUES ('CCC', 'rail', '40.25', NULL, '2026-01-01T00:00:00Z', 'by hand', '', 'here')")
        db.execute("INSERT INTO history (at, what, tag, profile, length, qty, note) "
                   "VALUES ('2026-01-01T00:00:00Z', 'added', 'CCC', 'rail', '40.25', 1, '')")
        db.execute(f"PRAGMA application_id = {store.RACK_ID}")
        db.execute("PRAGMA user_version = 1")
    with reading(path) as now:
        (one,) = shelf.offcuts(now)
    assert (one.tag, one.length, one.sawn, one.plain) == ("CCC", F("40.25"), 0, 0)


@forks
def test_many_that_come_first_make_one_rack(tmp_path: Path) -> None:
    rack = tmp_path / "new.db"

    def work() -> None:
        with changing(rack, "mm") as now:
            shelf.add(now, "rail", F(1500))

    pids = [child(work) for _ in range(12)]
    assert all(os.waitpid(pid, 0)[1] == 0 for pid in pids)
    with reading(rack) as now:
        assert now.unit == "mm" and len({one.tag for one in shelf.offcuts(now)}) == 12
