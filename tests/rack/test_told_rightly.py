"""If these fail, somebody follows an advice that is refused, looks for a booking that no list shows, or misses the
second of two bad plans."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shlex
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from cutplan.files import write_whole
from tests.commands import good, run
from tests.test_cli_rack import SHOP as SHOP_FILE

WITH = ("--shop", SHOP_FILE)


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sticks 1 to 4 of box-rail, the first an offcut; each keeps an offcut."""
    monkeypatch.chdir(tmp_path)
    Path("pieces.csv").write_text("mark,profile,length,qty\nA,box-rail,100,6\nC,square-picket,95,4\n")
    good("rack", "add", "box-rail", "110", *WITH)
    good("cut", "pieces.csv", *WITH, "--rack", "rack.db", "--json", "plan.json")


def kept(plan: str) -> str:
    """The tag of an offcut that a plan keeps."""
    return next(tag for one in json.loads(Path(plan).read_text())["profiles"] for stick in one["sticks"]
                for tag in stick.get("offcut_tags", ()))


def free() -> None:
    pass


def booked_twice() -> None:
    good("book", "plan.json", "--sticks", "3")


def scrapped() -> None:
    good("rack", "scrap", kept("plan.json"))


def used_again() -> None:
    good("recut", "box-rail", "30")


def replanned() -> None:
    good("replan", "plan.json", *WITH, "--json", "later.json")


@pytest.mark.parametrize(("then", "back"), [(free, True), (booked_twice, True), (scrapped, False), (used_again, False),
                                            (replanned, None)])
def test_a_booking_is_to_be_taken_back_only_where_it_can_be(then: Callable[[], None], back: bool | None) -> None:
    """Each advice to take a booking back is followed."""
    good("book", "plan.json", "--sticks", "1,2,4")
    then()
    result = run("spoil", "plan.json", "2")
    assert result.exit_code == 2
    advised = re.findall(r"cutplan unbook [\w.-]+", result.stderr)
    assert bool(advised) == back or back is None, result.stderr
    for _ in range(2 if then is booked_twice else 1):
        for words in advised:
            good(*shlex.split(words)[1:])


def test_a_piece_that_nothing_is_there_for_is_planned_as_the_advice_says() -> None:
    good("hold", "plan.json")
    for more in ([], ["--left-in", "1 in", "--right-in", "2 in"]):
        result = run("recut", "box-rail", "50", "--qty", "2", *more, *WITH)
        assert result.exit_code == 3
        said = re.search(r"the two lines (\S+) and (.+) in a file (\S+), then (cutplan cut \S+ --shop SHOP)",
                         " ".join(result.stderr.split()))
        assert said, result.stderr
        Path(said[3]).write_text(f"{said[1]}\n{said[2]}\n")
        words = [str(SHOP_FILE) if word == "SHOP" else word for word in shlex.split(said[4])[1:]]
        good(*words, "--json", "piece.json")
        (one,) = json.loads(Path("piece.json").read_text())["profiles"]
        assert [(entry["length"], entry["qty"], entry.get("left_in")) for entry in one["demand"]] == [
            (50, 2, 1 if more else None)]


def test_every_bad_plan_is_named() -> None:
    Path("torn.json").write_text("{")
    Path("other.json").write_text("[]")
    good("rack", "scrap", "CCC")  # which the third needs
    result = run("rack", "check", "torn.json", "other.json", "plan.json")
    assert result.exit_code == 2
    assert {line.partition(":")[0] for line in result.stderr.splitlines()} == {"torn.json", "other.json", "plan.json"}


def test_ticks_that_say_one_thing_twice_are_refused() -> None:
    plan = json.loads(Path("plan.json").read_text())["digest"]["whole"]
    head = f'{{"format": "cutplan ticks", "version": 1, "plan": "{plan}", '
    Path("ticks.json").write_text(head + '"sticks": [1], "sticks": [2]}')
    result = run("book", "plan.json", "--ticked", "ticks.json")
    assert result.exit_code == 2 and "ticks.json:1: file: " in result.stderr and "'sticks' stands" in result.stderr
    assert "booked" not in good("rack", "history")
    Path("ticks.json").write_text(head + '"sticks": [2]}')
    good("book", "plan.json", "--ticked", "ticks.json")


def test_a_booking_that_moves_nothing_on_the_rack_has_a_line_too() -> None:
    """Each booking by its number, taken back or not; the spoiled stick says that it was."""
    good("book", "plan.json", "--profile", "square-picket")
    good("unbook", "plan.json")
    good("spoil", "plan.json", "5")
    good("book", "plan.json", "--sticks", "1")
    lines = list(csv.DictReader(io.StringIO(good("rack", "history", "--csv", "-"))))
    told = {number: [line["what"] for line in lines if line["booking"] == number] for number in ("1", "2", "3")}
    assert told["1"] == ["booked", "unbooked"] and told["2"] == ["spoiled"] and "cut up" in told["3"]
    assert all("plan.json, stick" in line["note"] and line["length"] == "" for line in lines
               if line["booking"] in ("1", "2"))
    assert [line["when"] for line in lines] == sorted(line["when"] for line in lines)
    assert "spoiled" in good("rack", "history")
    assert {one["booking"] for one in json.loads(good("rack", "history", "--json", "-"))["history"]} >= {1, 2, 3}
    good("rack", "report", *WITH)


def test_what_a_killed_command_left_is_cleared_away_after_a_day_and_nothing_else() -> None:
    old = time.time() - 2 * 24 * 3600
    files = {".cutplan-0123456789ab.part": False, ".cutplan-notes.part": True, ".cutplan-fedcba987654.part": True}
    for name in files:
        Path(name).write_text("half")
        if name != ".cutplan-fedcba987654.part":  # which another may be writing now
            os.utime(name, (old, old))
    write_whole({"page.html": "whole"})
    assert {name: Path(name).exists() for name in files} == files


def test_a_chain_that_is_cut_to_its_end_is_not_to_be_gone_on_with() -> None:
    good("book", "plan.json", "--sticks", "1")
    good("replan", "plan.json", *WITH, "--json", "later.json")
    for words in (["replan", "plan.json", *WITH], ["rest", "plan.json"], ["book", "plan.json"]):
        assert "go on with that plan" in run(*words).stderr
    good("book", "later.json")
    for words in (["replan", "plan.json", *WITH], ["rest", "plan.json"], ["book", "plan.json"]):
        result = run(*words)
        assert result.exit_code == 2 and "go on with" not in result.stderr
        assert "nothing is left to be cut of later.json; plan what came since with cutplan cut WEEK --rack rack.db" in (
            result.stderr)


def test_a_plan_that_the_rack_never_saw_is_called_by_its_file() -> None:
    good("cut", "pieces.csv", *WITH, "--json", "alone.json")
    result = run("replan", "alone.json", *WITH, "--json", "later.json")
    assert result.exit_code == 0 and "takes over what was left of alone.json" in result.stderr
    assert {row["name"] for row in csv.DictReader(io.StringIO(good("rack", "plans", "--csv", "-")))} >= {
        "alone.json", "later.json"}


def test_what_an_earlier_plan_cut_to_its_end_is_not_to_be_cut_again() -> None:
    """A rush that comes after the week's last stick, held against the week as well."""
    Path("rush.csv").write_text("mark,profile,length,qty\nR,box-rail,40,2\n")
    good("book", "plan.json")
    good("cut", "rush.csv", *WITH, "--rack", "rack.db", "--json", "rush.json")
    for words in (["check", "rush.json", "pieces.csv", "rush.csv", *WITH, "--rack", "rack.db"],
                  ["book", "rush.json", *WITH, "--week", "pieces.csv", "--week", "rush.csv"]):
        result = run(*words)
        said = " ".join(result.stderr.split())
        assert result.exit_code == 2 and "cutplan cut" not in said and "replan" not in said
        assert "A: 6 of box-rail 100 asked for, 0 in rush.json; plan.json cut them: if they are these, leave" in said
    good("check", "rush.json", "rush.csv", *WITH, "--rack", "rack.db")


def test_the_week_as_it_is_now_given_as_what_came_since_is_told_how_to_give_it() -> None:
    Path("week.csv").write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40,42\n"
                                "B1,bay,breakwater,1,66,42\n")
    Path("now.csv").write_text("mark,kind,system,qty,opening,height\nB1,bay,breakwater,1,65,42\n")
    good("cut", "week.csv", *WITH, "--rack", "rack.db", "--json", "week.json")
    result = run("replan", "week.json", "--with", "now.csv", *WITH)
    said = " ".join(result.stderr.split())
    assert result.exit_code == 2 and "now.csv:2: mark: 'B1' is a gate or bay of week.json already" in said
    assert "on line" not in said and "as it is now with --week" in said
    good("replan", "week.json", "--week", "now.csv", *WITH)  # the advice, followed
