"""If these fail, an estimator gets the wrong words, the wrong status, or half a file."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path

import pytest

from cutplan.bidding import cutting
from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.cutting import CutVersions
from cutplan.bidding.versions import DrawnVersions
from cutplan.running.budget import Budget
from cutplan.shop import Shop
from tests.commands import RECORD, good, run

ROOT = Path(__file__).resolve().parent.parent
SHOP = str(ROOT / "data" / "demo" / "shop.toml")
HEAD = "mark,kind,system,qty,opening,height\n"
SMALL = "A,gate,breakwater,1..2,40 in +/- 1 in,42\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("bid.csv").write_text(HEAD + SMALL)
    return tmp_path


def test_the_orders_come_first_and_alone_and_all_else_behind_details() -> None:
    words = ("bid", "bid.csv", "--shop", SHOP, "--versions", "12", "--chance", "70", "--seed", "3")
    said = good(*words)
    for told in ("12 versions of this job were cut (seed 3)", "What to order", "70 of 100", "The whole job's order",
                 "What the whole job costs", "measured first"):
        assert told in said
    more = good(*words, "--details")
    begin, end = said.split("How to read this")
    assert more.startswith(begin) and more.endswith(end)
    for told in ("% of the net length", "% of what is bought", "Sticks to buy", "mean credit", "EN0069A", "EN01136",
                 "95 bids of 100"):
        assert told in more and told not in begin
    assert said == good(*words)


def test_no_table_prints_a_record_as_python_writes_it() -> None:
    said = good("bid", "bid.csv", "--shop", SHOP, "--versions", "6", "--details", "--html", "bid.html")
    assert not RECORD.search(said) and not RECORD.search(Path("bid.html").read_text())
    rows = said.split("Sticks to buy")[1].split("Cost of new sticks")[0].splitlines()
    sticks = [row.split() for row in rows if row.startswith(("bw-", "total"))]
    assert sticks and all(int(low) <= int(high) for _, _, low, *_, high, _ in sticks)


def test_the_files_say_the_same() -> None:
    good("bid", "bid.csv", "--shop", SHOP, "--versions", "12", "--json", "bid.json", "--csv", "bid.out.csv")
    whole = json.loads(Path("bid.json").read_text())
    rows = list(csv.DictReader(io.StringIO(Path("bid.out.csv").read_text())))
    assert (whole["versions_cut"], whole["versions_asked"], whole["stopped_early"]) == (12, 12, False)
    assert {row["profile"] for row in rows} == {*(one["profile"] for one in whole["profiles"]), "together"}
    assert [(row["profile"], row["enough_in"], int(row["sticks"])) for row in rows] == [
        (one["profile"], str(one["in"]), sum(n["number"] for n in one["sticks"])) for one in whole["orders"]]


class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            assert not name.startswith("on") and name not in ("src", "href"), (tag, name, value)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_the_page_stands_alone_and_what_was_typed_is_text() -> None:
    name = "<script>alert(1)</script>&.csv".replace("/", "")
    Path(name).write_text(HEAD + SMALL)
    good("bid", name, "--shop", SHOP, "--versions", "8", "--curve", "--html", "bid.html")
    text = Path("bid.html").read_text()
    page = Page()
    page.feed(text)
    assert "script" not in page.tags and "link" not in page.tags and "img" not in page.tags
    assert page.tags.count("svg") == 8  # three profiles and the whole job, twice
    assert name in "".join(page.words)
    for label in ("waste, % of the net length", "enough in so many jobs of 100", "the job so many times over"):
        assert label in page.words


def test_what_is_wrong_is_listed_and_nothing_is_written() -> None:
    Path("bid.csv").write_text(HEAD + "A,gate,breakwater,1,48..36,42\nB,gate,breakwater,3..1,40,42\n")
    result = run("bid", "bid.csv", "--shop", SHOP, "--json", "out.json", "--store", "bids.db")
    assert result.exit_code == 2
    assert "bid.csv:2: opening: " in result.stderr and "bid.csv:3: qty: " in result.stderr
    assert not Path("out.json").exists() and not Path("bids.db").exists()


def test_no_plan_is_status_3() -> None:
    Path("bid.csv").write_text(HEAD + "A,bay,lantern,1,300..301,42\n")
    result = run("bid", "bid.csv", "--shop", SHOP, "--html", "out.html", "--store", "bids.db")
    assert result.exit_code == 3 and "longer than 239.5" in result.stderr
    assert not Path("out.html").exists() and not Path("bids.db").exists()


@pytest.mark.parametrize("words", [
    ("bid",), ("bid", "bid.csv"), ("bid", "bid.csv", "--shop", SHOP, "--chance", "100"),
    ("bid", "bid.csv", "--shop", SHOP, "--versions", "0"), ("bid", "bid.csv", "--from-plan", "plan.json"),
    ("bid", "bid.csv", "--shop", SHOP, "--json", "-", "--html", "-"), ("learn",),
])
def test_words_that_make_no_sense_are_refused(words: tuple[str, ...]) -> None:
    assert run(*words).exit_code == 2


def test_the_store_must_not_be_an_input_or_an_output() -> None:
    for words in (("--store", "bid.csv"), ("--store", "out.json", "--json", "out.json")):
        before = Path("bid.csv").read_text()
        assert run("bid", "bid.csv", "--shop", SHOP, "--versions", "2", *words).exit_code == 2
        assert Path("bid.csv").read_text() == before


def test_from_a_plan_the_shares_are_the_plans() -> None:
    week = Path("week.csv")
    week.write_text(HEAD + "=G1,gate,breakwater,2,40,42\nB1,bay,breakwater,2,70,42\n")
    good("cut", "week.csv", "--shop", SHOP, "--json", "plan.json")
    said = good("bid", "--from-plan", "plan.json", "--csv", "shares.csv")
    assert "Waste of each gate and bay" in said
    rows = list(csv.DictReader(io.StringIO(Path("shares.csv").read_text())))
    assert {row["for"] for row in rows} == {"'=G1", "B1"}  # no formula in a spreadsheet


def test_bids_and_plans_meet_in_the_store_by_their_jobs_name() -> None:
    good("bid", "bid.csv", "--shop", SHOP, "--versions", "6", "--store", "bids.db", "--job", "Pier 4")
    Path("week.csv").write_text(HEAD + "G1,gate,breakwater,2,40,42\n")
    good("cut", "week.csv", "--shop", SHOP, "--json", "plan.json", "--job", "Pier 4")
    good("book", "plan.json")
    first = good("learn", "plan.json", "--store", "bids.db")
    assert "1 plan added" in first and "Corrections" in first
    assert "0 plans added, 1 counted anew" in good("learn", "plan.json", "--store", "bids.db")
    assert "nothing is remembered" in good("learn", "plan.json")
    assert run("learn", "plan.json", "--store", "plan.json").exit_code == 2
    nameless = run("bid", "bid.csv", "--shop", SHOP, "--versions", "2", "--store", "bids.db")
    assert nameless.exit_code == 0 and "name it with --job" in nameless.stderr
    assert run("bid", "bid.csv", "--shop", SHOP, "--versions", "2", "--job", "Pier 4").exit_code == 2


@pytest.mark.skipif(sys.platform != "linux", reason="the stop key as Linux sends it")
def test_the_stop_key_gives_the_figures_so_far() -> None:
    Path("bid.csv").write_text(HEAD + "".join(f"B{k},bay,lantern,3,60 in..90 in,42\n" for k in range(4)))
    command = [sys.executable, "-c", "from cutplan.cli import main; main()", "bid", "bid.csv", "--shop", SHOP,
               "--versions", "600", "--json", "out.json", "--limit", "300"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                               env={**os.environ, "PYTHONUNBUFFERED": "1"})
    assert process.stderr is not None
    for line in process.stderr:  # until some are cut
        if line.startswith("cutting version") and int(line.split()[2]) > 3:
            break
    time.sleep(0.2)
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    assert out.startswith("STOPPED EARLY")
    whole = json.loads(Path("out.json").read_text())
    assert whole["stopped_early"] and 0 < whole["versions_cut"] < 600


@pytest.mark.parametrize("stopped, status, words", [
    (True, 130, "stopped before there was anything to show"), (False, 3, "give it more with --limit")])
def test_before_any_version_is_cut_the_stop_key_is_told_from_the_limit(
        stopped: bool, status: int, words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The budget ends as the drawing of versions begins, by what the key calls or by the clock."""
    def ending(lines: Sequence[BidLine], drawn: DrawnVersions, shop: Shop, budget: Budget) -> CutVersions:
        if stopped:
            budget.stop()
        return cut_drawn(lines, drawn, shop, budget if stopped else budget.before(1e9))

    cut_drawn = cutting.cut_drawn
    monkeypatch.setattr(cutting, "cut_drawn", ending)
    result = run("bid", "bid.csv", "--shop", SHOP, "--json", "out.json")
    assert (result.exit_code, words in result.stderr) == (status, True)
    assert not result.stdout and not Path("out.json").exists()


def test_a_bid_uses_what_lies_on_the_rack() -> None:
    good("rack", "add", "box-upright", "100", "--qty", "4", "--shop", SHOP)
    good("bid", "bid.csv", "--shop", SHOP, "--versions", "6", "--rack", "rack.db", "--json", "bid.json")
    figures = {one["profile"]: one for one in json.loads(Path("bid.json").read_text())["profiles"]}
    assert {one["cost"] for one in figures["box-upright"]["enough"]} == {0}
    assert run("bid", "bid.csv", "--shop", SHOP, "--rack", "none.db").exit_code == 2


def test_with_every_version_cut_the_note_is_true_of_the_figures() -> None:
    """The table shows figures rounded up to the hundredth, as it says; the spreadsheet's have six decimals."""
    Path("bid.csv").write_text(HEAD + "A,gate,breakwater,1..3,40,42\n")
    said = good("bid", "bid.csv", "--shop", SHOP, "--details", "--json", "bid.json")
    note = " ".join(said.split())
    assert "All versions were cut" in note and "rounded up to the hundredth" in note and "not off" not in note
    table = said[said.index("Waste, in % of the net length"):].splitlines()
    rows = [(one["profile"], Fraction(each["percent_of_net"]["value"]))
            for one in json.loads(Path("bid.json").read_text())["profiles"] for each in one["enough"]]
    rounded = 0
    for k, (name, value) in enumerate(rows):
        line = next(line for line in table if line.startswith(name))
        beyond = Fraction(line.split()[-5:][k % 3]) - value
        assert 0 <= beyond < Fraction(1, 100), name
        rounded += beyond > 0
    assert rounded and len(rows) % 3 == 0
