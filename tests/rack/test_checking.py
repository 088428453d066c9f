"""If these fail, a damaged rack cannot be mended, or an old copy put back goes unnoticed and things are cut twice."""

from __future__ import annotations

import json
import os
import random
from pathlib import Path

import pytest

from cutplan.rack import shelf
from cutplan.rack.store import changing, reading
from tests.commands import good, run
from tests.rack import damages
from tests.rack.test_store import child, forks
from tests.sweeps import rounds
from tests.test_cli_rack import SHOP as SHOP_FILE
from tests.test_cli_rack import lying

WITH = ("--shop", SHOP_FILE)


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("pieces.csv").write_text("mark,profile,length,qty\nA,box-rail,100,6\n")
    good("rack", "add", "box-rail", "110", *WITH)
    good("rack", "add", "box-rail", "50", *WITH)
    good("cut", "pieces.csv", *WITH, "--rack", "rack.db", "--json", "monday.json")
    return tmp_path


def kept(folder: Path) -> set[str]:
    return {file.name for file in folder.glob("rack-*")}


def test_an_old_copy_put_back_by_hand_is_noticed_by_the_next_plan_that_is_later(here: Path) -> None:
    old = Path("rack.db").read_bytes()
    assert "older copy" not in run("book", "monday.json", "--sticks", "1").stderr
    good("replan", "monday.json", *WITH, "--json", "tuesday.json")
    seen = json.loads(Path("tuesday.json").read_text())["rack_changes"]
    Path("rack.db").write_bytes(old)
    for words in (["hold", "tuesday.json"], ["book", "tuesday.json", "--sticks", "5"]):
        result = run(*words)
        assert f"was made when its rack had been changed {seen} times: an older copy was put back" in (
            result.stderr) or result.exit_code == 2
    result = run("rack", "check", "tuesday.json", "monday.json")
    assert "tuesday.json" in result.stderr and result.exit_code == 2  # its rest is not what is left here
    assert "here none is, nor ever was: an older copy of the rack was put back" in result.stderr
    assert "book again first what was cut: cutplan book monday.json --sticks 1\n" in result.stderr
    assert "older copy was put back since" in run("book", "tuesday.json").stderr
    good("book", "monday.json", "--sticks", "1")  # the advice, followed
    good("book", "tuesday.json")


def test_each_change_is_counted_once_and_looking_is_none() -> None:
    def changes() -> int:
        with reading("rack.db") as rack:
            return rack.changes

    before = changes()
    for words in (["rack", "show"], ["rack", "plans"], ["rack", "check"], ["rest", "monday.json"],
                  ["recut", "box-rail", "30", "--look"]):
        good(*words)
        assert changes() == before
    for n, words in enumerate((["hold", "monday.json"], ["book", "monday.json", "--sticks", "2"],
                               ["unbook", "monday.json"], ["rack", "scrap", "CFK"]), start=1):
        good(*words)
        assert changes() == before + n
    assert run("rack", "scrap", "CFK").exit_code == 2 and changes() == before + 4


def test_a_copy_is_put_back_and_what_was_there_is_kept(here: Path) -> None:
    copy, plans = Path("rack.db").read_bytes(), good("rack", "plans")
    Path("copy.db").write_bytes(copy)
    good("book", "monday.json", "--sticks", "1-2")
    later = good("rack", "history")
    for n, name in enumerate(("rack-before-restore.db", "rack-before-restore.db"), start=1):
        text = " ".join(good("rack", "restore", "copy.db").split())
        assert "rack.db is what copy.db is" in text and good("rack", "plans") == plans
        assert Path("copy.db").read_bytes() == copy
        if n == 1:
            assert f"what the last 1 did is not known now. cutplan rack history --rack {name} shows it" in text
            assert good("rack", "history", "--rack", name) == later  # the advice, followed
    good("book", "monday.json")
    good("rack", "restore", "rack-before-restore.db")
    assert good("rack", "history") == later


@pytest.mark.parametrize("often", rounds(25, 1000))
def test_any_damage_is_mended_by_the_advice_that_is_given(here: Path, often: int) -> None:
    """`rack check` names a copy, `rack restore` puts it back; what was damaged is kept, to the last byte."""
    sound, before = Path("rack.db").read_bytes(), lying()
    Path("rack-form4.db").write_bytes(sound)
    for seed in range(often):
        for file in [*here.glob("rack.db*"), *here.glob("rack-before-restore*")]:
            file.unlink()
        Path("rack.db").write_bytes(sound)
        said = damages.damage(Path("rack.db"), random.Random(seed))
        damaged = Path("rack.db").read_bytes()
        result = run("rack", "check", "monday.json")
        if result.exit_code == 0:
            continue
        assert result.exit_code == 2 and "cutplan rack restore rack-form4.db" in result.stderr, said
        good("rack", "restore", "rack-form4.db")
        assert Path("rack.db").read_bytes() == sound and lying() == before, said
        assert Path("rack-before-restore.db").read_bytes() == damaged, said


@pytest.mark.parametrize("wrong", ["none.db", "pieces.csv", "empty.db", "torn.db", "rack.db", "newer.db", "folder.db"])
def test_what_is_no_sound_copy_is_refused_and_nothing_is_changed(wrong: str, here: Path) -> None:
    sound = Path("rack.db").read_bytes()
    (here / "empty.db").touch()
    (here / "torn.db").write_bytes(sound[:9000])
    (here / "folder.db").mkdir()
    with changing("newer.db") as rack:
        rack.do("PRAGMA user_version = 99")
    result = run("rack", "restore", wrong)
    assert result.exit_code == 2 and f"{wrong}:1: file: " in result.stderr
    assert Path("rack.db").read_bytes() == sound and not kept(here)


@pytest.mark.parametrize("there", [b"", b"S", b"SQLite form"])
def test_what_is_left_of_a_rack_that_was_cut_off_is_kept_as_it_is(there: bytes) -> None:
    Path("rack.db").rename("copy.db")
    Path("rack.db").write_bytes(there)
    good("rack", "restore", "copy.db")
    assert Path("rack-before-restore.db").read_bytes() == there and lying()


def test_without_any_copy_a_rack_that_is_gone_comes_back(here: Path) -> None:
    Path("rack.db").rename("copy.db")
    text = good("rack", "restore", "copy.db")
    assert "What was there" not in text and lying() and not kept(here)


def test_a_plan_that_cannot_go_on_is_told_with_the_stick() -> None:
    text = " ".join(good("rack", "check", "monday.json").split())
    assert "rack.db is sound: 2 offcuts, 0 counts, 1 plan" in text and "monday.json can go on with it" in text
    good("rack", "scrap", "CCC")
    result = run("rack", "check", "monday.json")
    assert result.exit_code == 2 and "monday.json:1: stick 1: CCC left the rack: scrapped on" in result.stderr
    assert "[" not in result.stderr
    good("spoil", "monday.json", "1")  # the advice, followed
    good("rack", "check", "monday.json")


@forks
@pytest.mark.parametrize("often", rounds(10, 200))
def test_who_changes_a_rack_while_a_copy_is_put_back_is_kept_or_told(here: Path, often: int) -> None:
    """Every offcut that was added is on the rack, or in the copy that was kept, or was refused."""
    sound = Path("rack.db").read_bytes()
    Path("copy.db").write_bytes(sound)

    def add() -> None:
        with changing("rack.db") as rack:
            shelf.add(rack, "box-rail", shelf.Fraction(77))

    def restore() -> None:
        assert run("rack", "restore", "copy.db").exit_code == 0

    for _ in range(often):
        for file in [*here.glob("rack.db*"), *here.glob("rack-before-restore*")]:
            file.unlink()
        Path("rack.db").write_bytes(sound)
        pids = [child(add), child(restore)]
        added, done = (os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in pids)
        assert done == 0 and added in (0, 2)
        there = "77" in lying().values()
        with reading("rack-before-restore.db") as rack:
            saved = any(one.length == 77 for one in shelf.offcuts(rack))
        assert (there or saved) == (added == 0)
