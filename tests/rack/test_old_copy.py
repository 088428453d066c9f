"""If these fail, an older copy of a rack loses what became of cut pieces, and gives a tag twice."""

from __future__ import annotations

import json
import re
import shlex
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.commands import good, run
from tests.rack.test_replan import NOW, WEEK, WITH
from tests.test_cli_rack import lying

CHANGE = ("--week", "now.csv", *WITH)


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Rails are cut, and the rack is copied; then a gate is cancelled and bays are measured anew."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "week.csv").write_text(WEEK)
    (tmp_path / "now.csv").write_text(NOW)
    good("cut", "week.csv", *WITH, "--rack", "rack.db", "--json", "week.json")
    good("book", "week.json", "--profile", "box-rail")
    (tmp_path / "old.db").write_bytes(Path("rack.db").read_bytes())
    good("replan", "week.json", *CHANGE, "--json", "now.json")
    return tmp_path


def given() -> set[str]:
    """All tags on the rack and in the plans that are there."""
    plans = [json.loads(file.read_text()) for file in Path().glob("*.json")]
    kept = {tag for plan in plans for one in plan["profiles"] for stick in one["sticks"]
            for tag in stick.get("offcut_tags", [])}
    return {tag for tag in lying() if tag} | kept


@pytest.mark.parametrize("plan", ["now.json", "later.json"])
def test_a_plan_of_a_week_that_changed_goes_on_only_where_the_change_is_known(plan: str) -> None:
    """The plan that was made for the change, and one made of its rest: what became of the pieces is in neither."""
    good("replan", "now.json", *WITH, "--json", "later.json")
    good("rack", "check", "later.json")
    good("rack", "restore", "old.db")
    before, number = good("rack", "history"), str(json.loads(Path(plan).read_text())["first"])
    for words in (["book", plan], ["hold", plan], ["rack", "check", plan], ["rest", plan], ["spoil", plan, number],
                  ["replan", plan, *WITH, "--json", "x.json"], ["replan", plan, *CHANGE, "--json", "x.json"]):
        result = run(*words)
        assert result.exit_code == 2 and "can go on" not in result.stdout, words
        said = " ".join(result.stderr.split())
        assert "this rack knows nothing of that change: an older copy was put back" in said, words
    assert good("rack", "history") == before
    advice = re.search(r"again with (cutplan replan (\S+) --week WEEK)", said)
    assert advice and advice[2] == ("week.json" if plan == "now.json" else "PLAN")
    if plan == "now.json":
        words = shlex.split(advice[1].replace("WEEK", "now.csv"))[1:]
        good(*words, *WITH, "--json", "again.json")  # the advice, followed
        good("check", "again.json", "now.csv", *WITH, "--rack", "rack.db")
        good("book", "again.json")
    good("rack", "restore", "rack-before-restore.db")
    good("book", "later.json")


def test_a_plan_of_a_change_goes_on_with_a_copy_that_knows_of_it() -> None:
    copy = Path("rack.db").read_bytes()
    good("book", "now.json", "--sticks", str(json.loads(Path("now.json").read_text())["first"]))
    Path("copy.db").write_bytes(copy)
    good("rack", "restore", "copy.db")
    good("rack", "check", "now.json")
    good("book", "now.json")


def test_no_tag_is_given_again_after_an_older_copy_is_put_back() -> None:
    before = given()
    text = " ".join(good("rack", "restore", "old.db").split())
    assert "Tags that were given out since are not given again." in text
    there = set(lying())
    good("rack", "add", "box-rail", "70", "--qty", "12", *WITH)
    new = set(lying()) - there
    assert len(new) == 12 and not new & before
    good("rack", "check")


def test_nor_where_the_rack_that_was_there_is_damaged() -> None:
    before = given()
    with closing(sqlite3.connect("rack.db")) as db, db:
        db.execute("UPDATE offcuts SET length = 'broken'")
    assert run("rack", "check").exit_code == 2
    good("rack", "restore", "old.db")
    there = set(lying())
    good("rack", "add", "box-rail", "70", "--qty", "12", *WITH)
    assert not (set(lying()) - there) & before
