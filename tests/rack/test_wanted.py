"""If these fail, the only copy of a plan that is half cut is written over, and nobody can book or list its rest."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.commands import good, run
from tests.test_cli_rack import SHOP as SHOP_FILE

WITH = ("--shop", SHOP_FILE)
WRITERS: list[list[str]] = [
    ["cut", "rush.csv", *WITH, "--rack", "rack.db", "--json"],
    ["cut", "rush.csv", *WITH, "--json"],
    ["replan", "other.json", *WITH, "--json"],
    ["rack", "show", "--json"],
    ["takeoff", "week.csv", *WITH, "--json"],
]


def begun() -> None:
    good("book", "plan.json", "--sticks", "2")


def spoiled() -> None:
    good("spoil", "plan.json", "1")


def on_hold() -> None:
    good("hold", "plan.json")


def replaced() -> None:
    good("replan", "plan.json", *WITH, "--json", "later.json")


def taking_over() -> None:
    Path("plan.json").rename("first.json")
    good("replan", "first.json", *WITH, "--json", "plan.json")


def changed() -> None:
    begun()
    Path("plan.json").rename("first.json")
    Path("now.csv").write_text("mark,profile,length,qty\nS,box-rail,50,2\n")
    good("replan", "first.json", "--week", "now.csv", *WITH, "--json", "plan.json")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("pieces.csv").write_text("mark,profile,length,qty\nA,box-rail,100,6\n")
    Path("rush.csv").write_text("mark,profile,length,qty\nR,box-rail,50,2\n")
    Path("week.csv").write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40,42\n")
    good("rack", "add", "box-rail", "110", *WITH)
    good("cut", "pieces.csv", *WITH, "--rack", "rack.db", "--json", "plan.json")
    good("cut", "rush.csv", *WITH, "--rack", "rack.db", "--json", "other.json")


@pytest.mark.parametrize("state", [begun, spoiled, on_hold, replaced, taking_over, changed])
def test_a_plan_that_the_rack_goes_by_is_not_written_over(state: Callable[[], None]) -> None:
    state()
    before, plans = Path("plan.json").read_bytes(), good("rack", "plans")
    for words in WRITERS:
        result = run(*words, "plan.json")
        assert result.exit_code == 2 and "plan.json:1: file: is a plan " in result.stderr, words
        assert "would be lost; give another name" in result.stderr
        assert Path("plan.json").read_bytes() == before and good("rack", "plans") == plans, words
    good(*WRITERS[0], "rush.json")  # the advice, followed


@pytest.mark.parametrize("words", WRITERS)
def test_a_plan_that_nothing_was_done_of_may_be_made_again(words: list[str]) -> None:
    before = Path("plan.json").read_bytes()
    good(*words, "plan.json")
    assert Path("plan.json").read_bytes() != before
