"""If these fail, a plan without sticks, of a week that waits or is cut, cannot be used as the documents say, or is told
to be what it is not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.commands import good, run

SHOP = """unit = "in"
currency = "USD"
[saw]
kerf = 0
setup_minutes = 2
[profiles.rail]
kind = "rail"
stock = [ { length = 100, price = 10 } ]
"""
HEAD = "mark,profile,length,qty,for\n"
WAITS, CUT = "nothing was ordered for its week", "all that was asked for is cut already"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("one.csv").write_text(f"{HEAD}A,rail,90,2,G1\n")
    Path("two.csv").write_text(f"{HEAD}B,rail,95,1,G2\n")


def waiting() -> str:
    good("buy", "one.csv", "two.csv", "--shop", "shop.toml", "--budget", "25", "--plans", "plans")
    good("rack", "count", "rail", "100", "2", "--shop", "shop.toml")
    return "plans/week-2.json"


def all_cut() -> str:
    good("cut", "one.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "one.json")
    good("book", "one.json")
    good("replan", "one.json", "--week", "one.csv", "--shop", "shop.toml", "--json", "end.json")
    return "end.json"


@pytest.mark.parametrize(("make", "why", "not_so"), [(waiting, WAITS, CUT), (all_cut, CUT, WAITS)])
def test_a_plan_without_sticks_is_read_by_all_and_says_why(make: object, why: str, not_so: str) -> None:
    assert callable(make)
    plan = make()
    assert json.loads(Path(plan).read_text())["profiles"] == []
    good("check", plan)
    good("rack", "check", plan)
    for words in (["--out", "page.html"], ["--labels", "labels.html"], ["--labels", "labels.csv"], ["--sequence"],
                  ["--out", "a4.html", "--paper", "a4"]):
        good("sheets", plan, *words)
    page = " ".join(Path("page.html").read_text().split())
    assert f"No stick is to be cut: {why}" in page and not_so not in page
    for words in (["book", plan], ["hold", plan], ["rest", plan], ["rest", plan, "--csv", "-"]):
        result = run(*words)
        said = " ".join((result.stdout + result.stderr).split())
        assert why in said and not_so not in said and "booked to its last stick" not in said, words
        assert result.exit_code == (0 if words[0] == "rest" else 2)


def test_a_budget_that_is_enough_for_nothing_leaves_no_folder() -> None:
    words = ["buy", "one.csv", "--shop", "shop.toml", "--budget", "5", "--plans", "plans", "--sheets", "sheets"]
    result = run(*words)
    assert result.exit_code == 0 and not Path("plans").exists() and not Path("sheets").exists()
    for folder in ("plans", "sheets"):
        assert f"{folder}: there is nothing to write in it, so it was not made" in result.stderr
