"""If these fail, two plans stand for one week, or what was spoiled is cut by nobody, or by two."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import signal
import time
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.commands import good, run
from tests.rack.test_store import child, forks
from tests.sweeps import rounds
from tests.test_cli_rack import SHOP as SHOP_FILE
from tests.test_cli_rack import lying

F = Fraction
WITH = ("--shop", SHOP_FILE)


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Monday: sticks 1 to 4 of box-rail, the first an offcut, and 5 to 10 of pickets."""
    monkeypatch.chdir(tmp_path)
    Path("pieces.csv").write_text("mark,profile,length,qty\nA,box-rail,100,6\nC,square-picket,35,30\n")
    Path("rush.csv").write_text("mark,profile,length,qty\nR,box-rail,50,2\n")
    good("rack", "add", "box-rail", "110", *WITH)
    good("rack", "count", "box-rail", "240", "9", *WITH)
    good("cut", "pieces.csv", *WITH, "--rack", "rack.db", "--json", "monday.json")
    return tmp_path


def plan(name: str) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(Path(name).read_text())
    return said


def states() -> dict[str, str]:
    return {row["name"]: row["state"] for row in csv.DictReader(io.StringIO(good("rack", "plans", "--csv", "-")))}


def asked(name: str) -> Counter[str]:
    return Counter({entry["mark"]: entry["qty"] for profile in plan(name)["profiles"] for entry in profile["demand"]})


def left(name: str) -> Counter[str]:
    rows = csv.DictReader(io.StringIO(good("rest", name, "--csv", "-")))
    return Counter({row["mark"]: int(row["qty"]) for row in rows})


def cut_by(name: str, numbers: set[int]) -> Counter[str]:
    """The pieces of these sticks of a plan file."""
    said, found = plan(name), Counter[str]()
    number = said.get("first", 1)
    for profile in said["profiles"]:
        for stick in profile["sticks"]:
            mine = numbers & set(range(number, number + stick["count"]))
            number += stick["count"]
            for cut in stick["cuts"]:
                found[cut["mark"]] += len(mine)
    return +found


# ---- what is left is planned again ----


def test_a_plan_made_again_stands_for_the_old_one_from_the_moment_it_is_there() -> None:
    good("hold", "monday.json")
    good("book", "monday.json", "--sticks", "2,7")
    rest = left("monday.json")
    before = good("rack", "history")
    result = run("replan", "monday.json", "--with", "rush.csv", *WITH)
    assert result.exit_code == 0 and "this is only a look" in result.stderr
    assert states() == {"monday.json": "begun"} and good("rack", "history") == before
    said = run("replan", "monday.json", "--with", "rush.csv", *WITH, "--json", "wednesday.json").stderr
    assert "wednesday.json takes over what was left of monday.json" in said and "on hold for wednesday.json" in said
    assert asked("wednesday.json") == rest + Counter(R=2) and plan("wednesday.json")["first"] == 11
    assert states() == {"monday.json": "retired", "wednesday.json": "on hold"}
    for words in (["book", "monday.json"], ["book", "monday.json", "--sticks", "3"], ["hold", "monday.json"],
                  ["rest", "monday.json"], ["spoil", "monday.json", "3"],
                  ["replan", "monday.json", *WITH, "--json", "again.json"]):
        result = run(*words)
        assert result.exit_code == 2 and "go on with that plan, or take it back with cutplan unbook wednesday.json" in (
            result.stderr), words
    assert not Path("again.json").exists()
    good("check", "wednesday.json")
    good("book", "wednesday.json", "--through", "11")
    good("replan", "wednesday.json", *WITH, "--json", "friday.json")
    good("book", "friday.json", "--sticks", str(plan("friday.json")["first"]))
    for name in ("monday.json", "wednesday.json"):  # the advice is followed: to the plan that is said, from the last on
        result = run("unbook", name)
        assert result.exit_code == 2 and "first cutplan unbook friday.json" in result.stderr
        assert "go on with friday.json" in run("book", "monday.json").stderr
    for name, then in (("friday.json", "on hold"), ("friday.json", "planned"), ("wednesday.json", "planned"),
                       ("wednesday.json", "planned"), ("monday.json", "planned")):
        good("unbook", name)
        assert states()[name] in (then, "planned")
    assert run("unbook", "wednesday.json").exit_code == 2
    good("book", "monday.json")
    assert states()["monday.json"] == "done"
    result = run("book", "wednesday.json")  # of a rest that is gone
    said = "sticks 2 and 7 were booked on its rack, and here sticks 1 to 10 are"
    assert result.exit_code == 2 and said in result.stderr


def test_numbers_are_never_given_twice_though_a_plan_is_taken_back() -> None:
    good("book", "monday.json", "--sticks", "2")
    seen = set(range(1, 11))
    for name in ("a.json", "b.json", "c.json"):
        good("replan", "monday.json", *WITH, "--json", name)
        said = plan(name)
        count = sum(stick["count"] for profile in said["profiles"] for stick in profile["sticks"])
        numbers = set(range(said["first"], said["first"] + count))
        assert not numbers & seen
        seen |= numbers
        good("unbook", name)


def test_several_plans_are_planned_again_as_one() -> None:
    good("cut", "rush.csv", *WITH, "--rack", "rack.db", "--json", "rush.json")
    good("replan", "monday.json", "rush.json", *WITH, "--json", "both.json")
    assert asked("both.json") == asked("monday.json") + asked("rush.json")
    assert states() == {"monday.json": "retired", "rush.json": "retired", "both.json": "planned"}
    good("unbook", "both.json")
    assert states()["monday.json"] == states()["rush.json"] == "planned"


def test_what_cannot_be_planned_again_is_said_and_nothing_is_changed() -> None:
    good("cut", "rush.csv", *WITH, "--rack", "rack.db", "--json", "rush.json")
    good("book", "rush.json")
    before = Path("rack.db").read_bytes()
    for words, said in (
        (["rush.json"], "rush.json:1: plan: nothing is left of it to be cut; plan what came since with cutplan cut"),
        (["monday.json", "monday.json"], "is the same plan as monday.json; give it once"),
        (["nothing.json"], "nothing.json:1: file: cannot be read"),
        (["pieces.csv"], "is not JSON"),
        (["monday.json", "--rack", "none.db"], "there is no rack here"),
    ):
        result = run("replan", *words, *WITH, "--json", "new.json")
        assert result.exit_code == 2 and said in result.stderr, words
        assert not Path("new.json").exists() and Path("rack.db").read_bytes() == before
    assert run("replan", "monday.json", *WITH, "--json", "rack.db").exit_code == 2
    assert run("replan", "monday.json", *WITH, "--json", "monday.json").exit_code == 2


def test_the_cards_of_what_is_still_to_be_made_go_on(here: Path) -> None:
    (here / "week.csv").write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40,42\n"
                                   "B1,bay,breakwater,1,70,42\n")
    good("cut", "week.csv", *WITH, "--rack", "rack.db", "--json", "week.json")
    assert {card["mark"] for card in plan("week.json")["cards"]} == {"G1", "B1"}
    (here / "more.csv").write_text("mark,kind,system,qty,opening,height\nG2,gate,breakwater,1,44,42\n")
    good("replan", "week.json", "--with", "more.csv", *WITH, "--json", "next.json")
    assert {card["mark"] for card in plan("next.json")["cards"]} == {"G1", "B1", "G2"}
    good("sheets", "next.json", "--out", "page.html")


# ---- what was spoiled ----


def test_what_is_spoiled_goes_back_to_what_is_to_be_cut_and_the_rest_stands() -> None:
    """By stick and by tag; what is left of either comes to the rack as it was measured, with its sawn end."""
    text = good("spoil", "monday.json", "CCC", "--left", "80", "--sawn", "one")
    assert "stick 1 spoiled; sticks 2 to 10 still to be booked" in text
    assert "To be cut again: 1 x A 100; cutplan replan monday.json" in " ".join(text.split())
    good("spoil", "monday.json", "3", "--good", "1", "--left", "130", "--sawn", "both", "--note", "cracked")
    rows = {row["length"]: row for row in csv.DictReader(io.StringIO(good("rack", "show", "--csv", "-"))) if row["tag"]}
    assert {length: row["sawn_ends"] for length, row in rows.items()} == {"80": "1", "130": "2"}
    assert rows["80"]["from"] == "monday.json, stick 1" and rows["130"]["note"] == "cracked"
    assert left("monday.json") == Counter(A=5, C=30)
    good("book", "monday.json")
    assert left("monday.json") == Counter(A=2) and states() == {"monday.json": "to be replanned"}
    said = run("book", "monday.json").stderr
    assert "what was spoiled of it is planned again by cutplan replan monday.json" in said
    good("replan", "monday.json", *WITH, "--json", "tuesday.json")
    assert asked("tuesday.json") == Counter(A=2)
    good("book", "tuesday.json")
    assert states() == {"monday.json": "retired", "tuesday.json": "done"}
    for name in ("tuesday.json", "tuesday.json", *["monday.json"] * 3):
        good("unbook", name)
    assert lying() == {"CCC": "110", "": "240"} and left("monday.json") == asked("monday.json")


def test_a_stick_that_is_not_there_blocks_nobody() -> None:
    """Its offcut was scrapped, or the last new stick was never there: it is told, and the others are booked."""
    good("rack", "scrap", "CCC")
    result = run("book", "monday.json")
    assert result.exit_code == 2 and "monday.json:1: stick 1: CCC left the rack: scrapped on " in result.stderr
    assert "cutplan spoil monday.json 1, and book the others" in result.stderr
    assert "put what is left of it on the rack with cutplan rack add" in run(
        "spoil", "monday.json", "1", "--left", "50").stderr
    good("spoil", "monday.json", "1")
    good("rack", "count", "box-rail", "240", "0")
    good("spoil", "monday.json", "2")
    assert lying()[""] == "240" and json.loads(good("rack", "show", "--json", "-"))["counted"][0]["qty"] == 0
    assert "1 new sticks that were there, and 0 are free now" in run("book", "monday.json").stderr
    good("spoil", "monday.json", "3")
    good("book", "monday.json")
    assert left("monday.json") == Counter(A=6) - Counter(cut_by("monday.json", {4}))


@pytest.mark.parametrize(("words", "said"), [
    (["99"], "STICK: stick 99 is not in this plan; a number from 1 to 10 is needed"),
    (["CFH"], "'CFH' is neither the number of a stick nor the tag"),
    (["3", "--good", "2"], "2 pieces of stick 3, which gives 2; where all of them are good, book it: cutplan book"),
    (["3", "--good=-1"], "-1 pieces of stick 3"),
    (["3", "--left", "241"], "241 in is more than can be left of stick 3, which is 240 in"),
    (["3", "--good", "1", "--left", "141"], "more than can be left of stick 3, which is 140 in"),
    (["3", "--left", "x"], "--left: 'x'"),
    (["3", "--left", "50", "--sawn", "left"], "--sawn: 'left' is not one; write none, one or both"),
    (["3", "--left", "50", "--first-hole", "2"], "--first-hole: this profile has no holes"),
    (["3", "--sawn", "one"], "give --left too"),
])
def test_what_cannot_be_spoiled_so_is_refused(words: list[str], said: str) -> None:
    before = good("rack", "history")
    result = run("spoil", "monday.json", *words)
    assert result.exit_code == 2 and said in result.stderr and good("rack", "history") == before


def test_a_stick_is_spoiled_once_and_not_after_it_is_booked() -> None:
    good("spoil", "monday.json", "2")
    good("book", "monday.json", "--sticks", "3")
    for number in ("2", "3"):
        result = run("spoil", "monday.json", number)
        assert result.exit_code == 2 and f"stick {number}: was booked before, on " in result.stderr
    assert "stick 2 was booked before" in run("book", "monday.json", "--sticks", "2").stderr
    Path("t.json").write_text(json.dumps({"format": "cutplan ticks", "version": 1, "sticks": [2, 3, 4],
                                          "plan": plan("monday.json")["digest"]["whole"]}))
    result = run("book", "monday.json", "--ticked", "t.json")
    assert "stick 2: told as spoiled before, so passed over; its pieces are to be cut again" in result.stderr
    assert "stick 3: booked before" in result.stderr and "stick 4 booked" in result.stdout


def test_an_offcut_that_is_held_is_told_with_its_plan() -> None:
    good("hold", "monday.json")
    result = run("rack", "scrap", "CCC")
    assert result.exit_code == 2 and "cutplan spoil monday.json CCC" in result.stderr
    good("spoil", "monday.json", "CCC")
    assert "CCC" not in lying()
    good("rack", "history", "CCC")


# ---- a week that changed ----

HEAD = "mark,kind,system,qty,opening,height\n"
WEEK = HEAD + "G1,gate,breakwater,1,40,42\nB1,bay,breakwater,1,70,42\nB2,bay,breakwater,1,60,42\n"
NOW = HEAD + "B1,bay,breakwater,1,69,42\nB2,bay,breakwater,1,60,42\nB3,bay,breakwater,1,40,42\n"


@pytest.fixture
def changed(here: Path) -> None:
    """Rails and three sticks of pickets are cut; then G1 is cancelled, B1 measured anew, B3 comes."""
    (here / "week.csv").write_text(WEEK)
    (here / "now.csv").write_text(NOW)
    good("cut", "week.csv", *WITH, "--rack", "rack.db", "--json", "week.json")
    good("book", "week.json", "--profile", "box-rail")
    pickets = [n for n in range(1, 40) if cut_by("week.json", {n}).keys() & {"G1 picket", "B2 picket"}]
    good("book", "week.json", "--sticks", ",".join(map(str, pickets[-2:])))


def taken(name: str) -> Counter[tuple[str, str]]:
    rows = csv.DictReader(io.StringIO(good("takeoff", name, *WITH, "--csv", "-")))
    return Counter({(row["profile"], row["length"]): int(row["qty"]) for row in rows})


@pytest.mark.usefixtures("changed")
def test_what_is_cut_for_a_week_that_changed_serves_or_goes_to_the_rack() -> None:
    """What serves, read off the table that is printed, and what is still to be cut come to the week as it is now."""
    before, offcuts = good("rack", "history"), lying()
    look = good("replan", "week.json", "--week", "now.csv", *WITH)
    assert good("rack", "history") == before and "B1 top rail" in look
    text = good("replan", "week.json", "--week", "now.csv", *WITH, "--json", "now.json")
    lines = text.partition("Serves otherwise")[2].partition("Serves nothing")[0].splitlines()
    assert sum("shorten by 1" in line for line in lines) == 2  # both rails of B1, by hand: its opening is 1 in less
    over = [line for line in text.partition("Serves nothing")[2].partition("Came to")[0].splitlines() if "G1" in line]
    assert over and all("to the rack" in line for line in over)
    assert not any(mark.startswith("G1") for mark in asked("now.json"))
    assert {mark for mark in asked("now.json") if "rail" in mark} == {"B3 top rail", "B3 bottom rail"}
    new = {tag: length for tag, length in lying().items() if tag not in offcuts}
    assert sorted(new.values()).count("38.875") == 2  # G1's rails, of an opening of 40
    good("check", "now.json")
    assert {card["mark"] for card in plan("now.json")["cards"]} == {"B1", "B2", "B3"}
    good("book", "now.json")
    assert "0 pieces are still to be cut" in good("replan", "now.json", "--week", "now.csv", *WITH)
    good("replan", "now.json", "--week", "now.csv", *WITH, "--json", "end.json")
    assert plan("end.json")["profiles"] == [] and states()["end.json"] == "done"
    good("check", "end.json")
    result = run("book", "end.json")
    assert result.exit_code == 2 and "has no sticks: all that was asked for is cut already" in result.stderr
    for name in ("end.json", "now.json", "now.json", "week.json", "week.json"):
        good("unbook", name)
    assert states()["week.json"] == "planned" and lying() == {"CCC": "110", "": "240"}


@pytest.mark.usefixtures("changed")
def test_a_plan_for_a_change_that_was_taken_back_is_not_booked() -> None:
    good("rack", "count", "box-rail", "240", "9")
    good("replan", "week.json", "--week", "now.csv", *WITH, "--use-on-hand", "--json", "now.json")
    good("hold", "now.json")
    text = good("unbook", "now.json")
    assert "what now.json had on hold is free again" in text
    assert "is not on hold" in run("release", "now.json").stderr
    assert "offcuts that are pieces again" in text and "week.json may go on from where it was" in text
    for words in (["book", "now.json"], ["hold", "now.json"], ["spoil", "now.json", "11"]):
        result = run(*words)
        assert result.exit_code == 2 and "was made for a week that changed, and that was taken back" in result.stderr
    good("replan", "week.json", "--week", "now.csv", *WITH, "--json", "again.json")  # the advice, followed
    good("book", "again.json")


@pytest.mark.usefixtures("changed")
def test_what_was_made_of_a_plan_for_a_change_that_was_taken_back_is_taken_back_with_it() -> None:
    """No copy was put back and nothing waits: the rack says so, and names the plan that does go on."""
    good("replan", "week.json", "--week", "now.csv", *WITH, "--json", "now.json")
    good("rest", "now.json", "--csv", "rest.csv")
    good("cut", "rest.csv", *WITH, "--rack", "rack.db", "--json", "by-hand.json")
    good("replan", "now.json", *WITH, "--json", "later.json")
    good("unbook", "later.json")
    good("unbook", "now.json")
    assert {states()[name] for name in ("now.json", "by-hand.json", "later.json")} == {"taken back"}
    for words in (["book", "later.json"], ["hold", "later.json"], ["book", "by-hand.json"]):
        result = run(*words)
        assert result.exit_code == 2 and "older copy" not in result.stderr
        assert "with cutplan replan week.json --week WEEK" in " ".join(result.stderr.split())
    good("replan", "week.json", "--week", "now.csv", *WITH, "--json", "again.json")  # the advice, followed
    good("book", "again.json")


@pytest.mark.usefixtures("changed")
def test_the_week_as_it_was_changes_nothing() -> None:
    """Given again just as it was, all that is cut serves as it is, and what is left is what was left."""
    rest = left("week.json")
    text = good("replan", "week.json", "--week", "week.csv", *WITH, "--json", "same.json")
    assert "Serves otherwise" not in text and "Serves nothing" not in text and asked("same.json") == rest


@pytest.mark.usefixtures("changed")
def test_more_and_the_week_anew_are_not_given_together() -> None:
    result = run("replan", "week.json", "--week", "now.csv", "--with", "rush.csv", *WITH)
    assert result.exit_code == 2 and "--week says all of it anew; give one of them" in " ".join(result.stderr.split())


# ---- stopped ----


@forks
@pytest.mark.parametrize("often", rounds(5, 300))
@pytest.mark.parametrize("words", [
    ["replan", "monday.json", "--with", "rush.csv", *WITH, "--json", "new.json"],
    ["replan", "monday.json", "--week", "rush.csv", *WITH, "--json", "new.json"],
    ["spoil", "monday.json", "3", "--good", "1", "--left", "130"],
    ["book", "monday.json", "--sticks", "1,4-6"], ["unbook", "monday.json"],
])
def test_killed_at_any_moment_all_of_it_is_done_or_nothing(words: list[str], often: int) -> None:
    """And what was begun can be done again; a plan that took another's place is never without its file."""
    good("book", "monday.json", "--sticks", "2")
    before = Path("rack.db").read_bytes()
    nothing = told()
    began = time.perf_counter()
    assert os.waitpid(child(lambda: good(*words)), 0)[1] == 0
    usual, whole = time.perf_counter() - began, told()
    chance = random.Random(0)
    for _ in range(often):
        Path("new.json").unlink(missing_ok=True)
        for beside in Path(".").glob("rack.db-*"):
            beside.unlink()
        Path("rack.db").write_bytes(before)
        pid = child(lambda: good(*words))
        time.sleep(chance.uniform(0, 1.1 * usual))
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        now = told()
        assert now in (nothing, whole)
        if now == nothing:
            good(*words)
        else:
            assert words[0] != "replan" or Path("new.json").exists()
            assert words[0] != "replan" or run("check", "new.json").exit_code == 0


def told() -> object:
    """What the rack says of plans, offcuts and counts."""
    plans = [{**row, "made": ""} for row in json.loads(good("rack", "plans", "--json", "-"))["plans"]]
    return plans, lying(), json.loads(good("rack", "show", "--json", "-"))["counted"]
