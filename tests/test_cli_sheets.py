"""If these fail, a packet goes by the wrong week, two saws book each other's sticks, or an option says nothing."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from tests.commands import good, run

DEMO = Path(__file__).parents[1] / "data" / "demo"
HEAD = "mark,kind,system,qty,opening,height\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    shutil.copy(DEMO / "shop.toml", "shop.toml")
    return tmp_path


@pytest.fixture
def plan(here: Path) -> str:
    """A gate with its rails, inserts, pickets and uprights, of a file whose name is not the plan's."""
    Path("March 2nd.csv").write_text(f"{HEAD}G1,gate,lantern,2,38 1/2,36\n", encoding="utf-8")
    good("cut", "March 2nd.csv", "--shop", "shop.toml", "--limit", "9", "--json", "plan.json")
    return "plan.json"


def page_of(*words: str) -> str:
    good("sheets", *words, "--out", "page.html")
    return Path("page.html").read_text(encoding="utf-8")


def numbers_on(page: str) -> set[int]:
    """The sticks that have a box to tick."""
    return {int(n) for said in re.findall(r'data-sticks="([\d,]+)"', page) for n in said.split(",")}


def test_papers_go_by_the_names_of_what_was_cut(plan: str) -> None:
    page = page_of(plan)
    assert "<title>March 2nd</title>" in page and "<p>March 2nd, made on " in page and "plan.json" not in page
    good("sheets", plan, "--labels", "labels.html")
    assert "<title>Labels: March 2nd</title>" in Path("labels.html").read_text(encoding="utf-8")
    assert json.loads(Path(plan).read_text(encoding="utf-8"))["weeks"] == ["March 2nd"]


def test_a_plan_of_more_is_named_by_all_of_it(plan: str) -> None:
    """A plan with what came since, a week that changed, and a plan that does not say."""
    good("book", plan, "--sticks", "1")
    Path("rush.csv").write_text(f"{HEAD}G2,gate,breakwater,1,40,42\n", encoding="utf-8")
    good("replan", plan, "--with", "rush.csv", "--shop", "shop.toml", "--limit", "9", "--json", "next.json")
    assert "<p>March 2nd and rush, made on " in page_of("next.json")
    good("replan", "next.json", "--week", "rush.csv", "--shop", "shop.toml", "--limit", "9", "--json", "last.json")
    assert "<p>rush, made on " in page_of("last.json")


def test_two_saws_each_book_what_is_printed_for_it(plan: str) -> None:
    """Each profile's numbers follow on from its own first; what one saw books is never of the other."""
    profiles = [one["profile"] for one in json.loads(Path(plan).read_text(encoding="utf-8"))["profiles"]]
    saws = [profiles[::2], profiles[1::2]]
    printed = []
    for saw in saws:
        page = page_of(plan, *(word for name in saw for word in ("--only", name)))
        printed.append(numbers_on(page))
    assert not printed[0] & printed[1]
    whole = page_of(plan)
    for name in profiles:
        own = sorted(numbers_on(page_of(plan, "--only", name)))
        assert own == [*range(own[0], own[-1] + 1)]
        head = f"Sticks {own[0]} to {own[-1]}." if own[1:] else f"Stick {own[0]}."
        assert re.search(rf"<h2>{name}</h2>\n<p class=\"rule\">{head}", whole)

    for k in (1, 0):  # the saw with the higher numbers first
        names = [word for name in saws[k] for word in ("--profile", name)]
        good("book", plan, "--through", min(printed[k]), *names)
        other = min(printed[1 - k])
        wrong = run("book", plan, "--through", other, *names)
        assert wrong.exit_code == 2 and f"stick {other} is not of" in wrong.stderr
        good("book", plan, *names)
    done = run("book", plan)
    assert done.exit_code == 2 and "was booked to its last stick" in done.stderr


def test_every_unknown_profile_is_told_at_once(plan: str) -> None:
    for words in (("sheets", plan, "--out", "a.html", "--only", "nosuch", "--only", "nope"),
                  ("book", plan, "--profile", "nosuch", "--profile", "nope")):
        said = run(*words)
        assert said.exit_code == 2 and "'nosuch' is not in this plan" in said.stderr
        assert "'nope' is not in this plan" in said.stderr
    assert not Path("a.html").exists()


@pytest.mark.parametrize("words", [
    ["--out", "a.html", "--grid", "10x3"], ["--out", "a.html", "--each"], ["--out", "a.html", "--margins", "9", "9"],
    ["--labels", "l.csv", "--grid", "10x3"], ["--labels", "l.csv", "--margins", "9", "9"],
    ["--labels", "l.html", "--grid", ""], ["--labels", "l.csv", "--made", "2026-03-02"],
    ["--sequence", "--only", "lantern-cap"],
])
def test_an_option_that_would_say_nothing_is_refused(plan: str, words: list[str]) -> None:
    said = run("sheets", plan, *words)
    assert said.exit_code == 2 and said.stderr and not Path("a.html").exists() and not Path("l.csv").exists()
