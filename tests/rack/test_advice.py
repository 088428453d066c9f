"""If these fail, what a message advises is not right: it is refused, goes in a circle, or cuts and counts things twice.

Each command that is advised is taken from the message and given as it stands, only with what it asks for in capitals.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shlex
from collections import Counter
from pathlib import Path

import pytest

from tests.commands import good, run
from tests.test_cli_rack import SHOP as SHOP_FILE

WITH = ("--shop", SHOP_FILE)
HEAD = "mark,kind,system,qty,opening,height\n"
WEEK = HEAD + "G1,gate,breakwater,1,40,42\nB1,bay,breakwater,1,70,42\n"
NARROW = WEEK.replace("70", "62")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("pieces.csv").write_text("mark,profile,length,qty\nA,box-rail,100,6\nC,square-picket,35,30\n")
    Path("rush.csv").write_text("mark,profile,length,qty\nR,box-rail,50,2\n")
    Path("week.csv").write_text(WEEK)
    Path("narrow.csv").write_text(NARROW)
    return tmp_path


def cut(name: str, *files: str) -> None:
    good("cut", *files, *WITH, "--rack", "rack.db", "--json", name)


def states() -> dict[str, str]:
    return {row["name"]: row["state"] for row in csv.DictReader(io.StringIO(good("rack", "plans", "--csv", "-")))}


def refused(*words: str) -> str:
    result = run(*words)
    assert result.exit_code == 2, result.stdout
    return result.stderr


def advised(said: str, verb: str) -> list[str]:
    """The words of the command of that verb that a message advises: from its verb on, as far as they are no English."""
    found = set()
    for match in re.finditer(rf"cutplan {verb} ", said):
        words: list[str] = []
        for word in shlex.split(said[match.end():].partition("\n")[0]):
            plain = word.rstrip(",;")
            if re.fullmatch("[a-z]+", plain) and not (words and words[-1].startswith("--")):
                break
            words.append(plain)
            if plain != word:
                break
        found.add((*verb.split(), *words))
    (one,) = found
    return list(one)


def test_an_old_copy_put_back_under_a_week_that_went_on() -> None:
    """The sticks that are cut are booked again, and not planned again."""
    cut("p1.json", "pieces.csv")
    old = Path("rack.db").read_bytes()
    good("book", "p1.json", "--sticks", "1,3")
    good("spoil", "p1.json", "4")
    good("replan", "p1.json", *WITH, "--json", "p2.json")
    good("replan", "p2.json", *WITH, "--json", "p3.json")
    rest = good("rest", "p3.json")
    Path("rack.db").write_bytes(old)
    for words in (["book", "p2.json"], ["hold", "p2.json"], ["rack", "check", "p2.json"],
                  ["replan", "p2.json", *WITH, "--json", "new.json"]):
        said = refused(*words)
        assert "an older copy of the rack was put back" in said and "replan" not in said, words
    good(*advised(said, "book"))
    good(*advised(said, "spoil"))
    good("rack", "check", "p2.json")
    good("book", "p2.json", "--sticks", "11")
    good("unbook", "p2.json")
    good("rack", "check", "p3.json")
    assert good("rest", "p3.json") == rest


def test_a_spoiled_stick_that_is_booked_is_taken_back_by_so_many_steps() -> None:
    cut("p1.json", "pieces.csv")
    for later in ("1", "4", "5"):
        good("book", "p1.json", "--sticks", later)
        said = refused("spoil", "p1.json", "1")
        assert advised(said, "recut")[:2] == ["recut", "box-rail"]
        times = re.search(r"unbook p1\.json(?:, (\d) times: the last booking is taken back first)?\n", said)
        assert times and int(times[1] or 1) == {"1": 1, "4": 2, "5": 3}[later]
    for _ in range(3):
        good(*advised(said, "unbook"))
    good("spoil", "p1.json", "1")


def test_a_plan_whose_change_was_taken_back_names_the_one_that_goes_on() -> None:
    cut("p1.json", "week.csv")
    good("book", "p1.json", "--profile", "box-rail")
    good("replan", "p1.json", "--week", "narrow.csv", *WITH, "--json", "p2.json")
    good("replan", "p2.json", "--week", "week.csv", *WITH, "--json", "p3.json")
    good("unbook", "p3.json")
    good("unbook", "p2.json")
    assert states() == {"p1.json": "begun", "p2.json": "taken back", "p3.json": "taken back"}
    for name in ("p2.json", "p3.json"):
        said = [refused(*words) for words in (
            ["book", name], ["hold", name], ["rack", "check", name], ["replan", name, *WITH, "--json", "new.json"])]
        assert {tuple(advised(one, "replan")) for one in said} == {("replan", "p1.json", "--week", "WEEK")}
    words = [word.replace("WEEK", "narrow.csv") for word in advised(said[0], "replan")]
    good(*words, *WITH, "--json", "p4.json")
    good("book", "p4.json")


def test_a_plan_of_a_rest_that_is_gone_is_shown_so_and_names_what_helps() -> None:
    cut("p1.json", "pieces.csv")
    good("book", "p1.json", "--sticks", "1")
    good("rest", "p1.json", "--csv", "rest.csv")
    cut("p2.json", "rest.csv")
    assert states()["p2.json"] == "planned"
    good("book", "p1.json", "--sticks", "2")
    assert states()["p2.json"] == "out of date"
    good(*advised(refused("book", "p2.json"), "replan"), *WITH, "--json", "p3.json")
    assert states() == {"p1.json": "retired", "p2.json": "out of date", "p3.json": "planned"}
    said = refused("book", "p2.json")
    good(*advised(said, "replan"), *WITH, "--json", "p4.json")
    good("unbook", "p4.json")
    good("unbook", "p3.json")
    good("unbook", "p1.json")
    assert states()["p2.json"] == "planned"  # what was listed is again what is left
    good("book", "p2.json")
    assert states()["p1.json"] == "retired"


def test_an_offcut_that_is_in_the_way_is_named_with_the_plan_that_has_it() -> None:
    good("rack", "add", "box-rail", "110", *WITH)
    cut("p1.json", "pieces.csv")
    good("hold", "p1.json")
    said = refused("rack", "scrap", "CCC")
    good(*advised(said, "release"))
    good("hold", "p1.json")
    good(*advised(said, "spoil"))
    assert "CCC" not in good("rack", "show")


def test_what_was_kept_and_is_used_is_taken_back_first() -> None:
    """From the last to the first, as each refusal says."""
    Path("rush.csv").write_text("mark,profile,length,qty\nR,box-rail,20,1\n")
    cut("p1.json", "rush.csv")
    good("book", "p1.json")
    good("recut", "box-rail", "40")
    good("recut", "box-rail", "30")
    said = refused("unbook", "p1.json")
    assert advised(said, "unbook") == ["unbook", "recut-1"]
    said = refused(*advised(said, "unbook"))
    good(*advised(said, "unbook"))
    good("unbook", "recut-1")
    good("unbook", "p1.json")
    assert set(states().values()) == {"planned"}


def test_a_booking_whose_offcut_is_scrapped_is_not_said_to_be_taken_back() -> None:
    cut("p1.json", "rush.csv")
    good("book", "p1.json")
    (tag,) = re.findall(r"^([A-Z34X7]{3}) ", good("rack", "show"), re.MULTILINE)
    good("rack", "scrap", tag)
    assert "the booking stands" in refused("unbook", "p1.json") and "first" not in refused("unbook", "p1.json")


def test_what_is_left_of_an_offcut_comes_to_the_rack_once() -> None:
    """Held for another plan, it is told with that one: else it would lie there whole, and what is left besides."""
    good("rack", "add", "box-rail", "110", "--sawn", "one", *WITH)
    cut("c.json", "pieces.csv")
    cut("b.json", "pieces.csv", "rush.csv")
    good("hold", "b.json")
    said = refused("spoil", "c.json", "CCC", "--left", "40", "--sawn", "one")
    assert "rack add" not in said
    good(*advised(said, "spoil"), "--left", "40", "--sawn", "one")
    lengths = [row["length"] for row in csv.DictReader(io.StringIO(good("rack", "show", "--csv", "-")))]
    assert lengths == ["40"]
    said = refused("spoil", "c.json", "CCC", "--left", "40", "--sawn", "one")  # it is gone now, and so is nothing left
    assert "leave it out" in said and "rack add" not in said
    good("spoil", "c.json", "CCC")


def test_a_rush_after_the_last_stick_is_planned_by_itself() -> None:
    cut("p1.json", "pieces.csv")
    good("rest", "p1.json", "--csv", "rest.csv")
    good("replan", "p1.json", *WITH, "--json", "p2.json")
    good("book", "p2.json")
    said = refused("cut", "rest.csv", *WITH, "--rack", "rack.db")
    assert "nothing is left" in said and "replan" not in said
    said = refused("replan", "p2.json", "--with", "rush.csv", *WITH, "--json", "p3.json")
    words = advised(said, "cut")
    good(*[word.replace("WEEK", "rush.csv") for word in words], *WITH, "--json", "p3.json")
    good("book", "p3.json", "--sticks", "1")
    cut("p4.json", "pieces.csv")
    said = refused("replan", "p2.json", "p4.json", *WITH, "--json", "p5.json")
    assert said == "p2.json:1: plan: nothing is left of it to be cut; leave it out\n"
    good("replan", "p4.json", *WITH, "--json", "p5.json")


def test_advice_is_of_the_rack_that_was_named_and_of_files_as_they_are_called() -> None:
    good("cut", "pieces.csv", *WITH, "--rack", "the rack.db", "--json", "my plan.json")
    good("book", "my plan.json", "--rack", "the rack.db", "--sticks", "1")
    said = refused("spoil", "my plan.json", "1", "--rack", "the rack.db")
    assert "cutplan unbook 'my plan.json' --rack 'the rack.db'" in said
    good("unbook", "my plan.json", "--rack", "the rack.db")
    said = " ".join(good("spoil", "my plan.json", "1", "--rack", "the rack.db").split())
    assert "cutplan replan 'my plan.json' --rack 'the rack.db' plans that again" in said


# ---- several plans at once: no piece is cut for two ----

LIVE = ("planned", "begun", "on hold", "to be replanned")


def wanted(*weeks: str) -> Counter[str]:
    """The pieces that weeks ask for, by mark."""
    found: Counter[str] = Counter()
    for row in csv.DictReader(io.StringIO(good("takeoff", *weeks, *WITH, "--csv", "-"))):
        found[row["mark"]] += int(row["qty"])
    return found


def still() -> Counter[str]:
    """What all plans that go on have still to cut, by mark."""
    found: Counter[str] = Counter()
    for name in [name for name, state in states().items() if state in LIVE]:
        for row in csv.DictReader(io.StringIO(good("rest", name, "--csv", "-"))):
            found[row["mark"]] += int(row["qty"])
    return found


def cut_of(name: str, sticks: range) -> Counter[str]:
    """The pieces of some sticks, as the plan's file says it."""
    plan = json.loads(Path(name).read_text())
    each = [stick for profile in plan["profiles"] for stick in profile["sticks"] for _ in range(stick["count"])]
    return Counter(piece["mark"] for number in sticks for piece in each[number - plan.get("first", 1)]["cuts"])


def week_and_rush(booked: bool = True) -> Counter[str]:
    """A week that is cut in part, a rush beside it; what is cut."""
    Path("hurry.csv").write_text(HEAD + "R1,gate,breakwater,1,44,42\n")
    cut("p1.json", "week.csv")
    good("book", "p1.json", "--sticks", "1-2")
    cut("r.json", "hurry.csv")
    if booked:
        good("book", "r.json", "--sticks", "1")
    return cut_of("p1.json", range(1, 3)) + (cut_of("r.json", range(1, 2)) if booked else Counter())


@pytest.mark.parametrize("words", [("book", "r.json", "--week", "week.csv", "--week", "hurry.csv"),
                                   ("check", "r.json", "week.csv", "hurry.csv", "--rack", "rack.db"),
                                   ("check", "r.json", "week.csv", "hurry.csv")])
def test_weeks_that_two_plans_are_for_are_planned_again_from_both(words: tuple[str, ...]) -> None:
    done = week_and_rush()
    good(*advised(refused(*words, *WITH), "replan"), *WITH, "--json", "all.json")
    assert states() == {"p1.json": "retired", "r.json": "retired", "all.json": "planned"}
    assert still() + done == wanted("week.csv", "hurry.csv")


@pytest.mark.parametrize("booked", [False, True])
@pytest.mark.parametrize("more", [("--week", "narrow.csv", "--week", "hurry.csv"), ("--with", "hurry.csv"),
                                  ("--with", "hurry.csv", "--with", "rush.csv")])
def test_what_another_plan_is_for_is_not_planned_again_beside_it(more: tuple[str, ...], booked: bool) -> None:
    """Cut in part, or planned alone; as all that is wanted now, or as what has come."""
    done = week_and_rush(booked)
    said = refused("replan", "p1.json", *more, *WITH, "--json", "all.json")
    assert "r.json" in said and not Path("all.json").exists()
    good(*advised(said, "replan"), *WITH, "--json", "all.json")
    asked = wanted("narrow.csv" if more[0] == "--week" else "week.csv", "hurry.csv", *(["rush.csv"] if more[3:] and
                   more[3] == "rush.csv" else []))
    assert {name: state for name, state in states().items() if state in LIVE} == {"all.json": states()["all.json"]}
    if more[0] == "--with":
        assert still() + done == asked
    assert not still() - asked


def test_a_rush_that_is_cut_to_its_end_is_not_cut_again() -> None:
    week_and_rush()
    good("book", "r.json")
    said = refused("replan", "p1.json", "--with", "hurry.csv", *WITH, "--json", "all.json")
    good(*advised(said, "replan"), *WITH, "--json", "all.json")
    assert not set(still()) & set(wanted("hurry.csv"))
    said = refused("replan", "all.json", "--week", "week.csv", "--week", "hurry.csv", *WITH, "--json", "new.json")
    good(*advised(said, "replan"), *WITH, "--json", "new.json")
    assert not set(still()) & set(wanted("hurry.csv"))


def test_a_plan_of_the_same_pieces_that_was_only_a_look_is_in_nobody_s_way() -> None:
    """Planned twice under two names, and again once the first file is gone."""
    cut("look.json", "week.csv")
    cut("p1.json", "week.csv")
    good("book", "p1.json", "--sticks", "1")
    good("replan", "p1.json", "--week", "narrow.csv", *WITH, "--json", "p2.json")
    Path("hurry.csv").write_text(HEAD + "R1,gate,breakwater,1,44,42\n")
    cut("r.json", "hurry.csv")
    Path("r.json").unlink()
    good("replan", "p2.json", "--with", "hurry.csv", *WITH, "--json", "p3.json")
