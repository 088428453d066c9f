"""If these fail, an estimator is not told which lines may not come, or a customer pays for one that does not."""

from __future__ import annotations

import csv
import io
import json
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pytest

from tests.bidding.bids import DEMO
from tests.commands import good, run

HEAD = "mark,kind,system,qty,opening,height,alike,chance,or\n"
ROWS = {
    "A1": "A1,bay,breakwater,2,70,42,,,\n", "A2": "A2,gate,lantern,1,40,42,,,\n",
    "B1": "B1,gate,breakwater,1..2,40,42,,60 %,\n", "C1": "C1,bay,breakwater,1,60,42,,50 %,steps\n",
    "C2": "C2,gate,breakwater,1,44,42,,30 %,Steps\n",
}
SAID = "B1 (60 %); C1 (50 %) or C2 (30 %) or none (20 %)"
QUOTE = "\n[quote]\nmarkup = 0.35\ntax = 0.0825\nassembly_minutes = 45\nhourly = 42\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text((DEMO / "shop.toml").read_text().replace("stack = 1\n", "stack = 1\nhourly = 38\n"
                                 "setup_minutes = 3\ncut_seconds = 20\n") + QUOTE)
    Path("bid.csv").write_text(HEAD + "".join(ROWS.values()))


def bid(*words: str, file: str = "bid.csv") -> str:
    return good("bid", file, "--shop", "shop.toml", *words)


def rows_of(path: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(Path(path).read_text())))


def made(path: str) -> Any:
    return json.loads(Path(path).read_text())


def test_all_that_is_written_tells_what_may_not_come() -> None:
    import pandas as pd

    said = bid("--csv", "out.csv", "--json", "out.json", "--html", "out.html", "--xlsx", "out.xlsx", "--versions", "3")
    assert {row["may_not_come"] for row in rows_of("out.csv")} == {SAID}
    assert set(pd.read_excel("out.xlsx")["may_not_come"]) == {SAID}
    assert made("out.json")["may_not_come"] == [
        {"mark": "B1", "comes_in": 60, "or": None}, {"mark": "C1", "comes_in": 50, "or": "steps"},
        {"mark": "C2", "comes_in": 30, "or": "steps"}]
    table = said[said.index("Lines that may not come"):said.index("How to read this")].splitlines()
    lines = [line.split() for line in table if line[:2] in ("B1", "C1", "C2", "no")]
    assert [(line[0], line[-3], line[-1]) for line in lines[:3]] == [
        ("B1", "60", "-"), ("C1", "50", "C2"), ("C2", "30", "C1")]
    assert lines[3] == ["none", "20", "%", "C1", "or", "C2"]
    page = Path("out.html").read_text()
    assert "Lines that may not come" in page and "C1 or C2" in page and "60 %" in page


def test_a_number_from_0_may_not_come_either_and_a_certain_job_says_nothing() -> None:
    Path("bid.csv").write_text(HEAD + "A,bay,breakwater,1,70,42,,,\nB,gate,breakwater,0..3,40,42,,,\n")
    bid("--csv", "out.csv")
    assert {row["may_not_come"] for row in rows_of("out.csv")} == {"B (75 %)"}
    Path("bid.csv").write_text(HEAD + ROWS["A1"])
    assert "may not come" not in bid("--csv", "out.csv", "--json", "out.json")
    assert {row["may_not_come"] for row in rows_of("out.csv")} == {""} and made("out.json")["may_not_come"] == []


def test_all_ways_are_cut_with_their_chances_and_some_of_them_by_seed() -> None:
    """B1: none, one or two; of the steps C1, C2 or none: nine ways."""
    said = " ".join(bid("--json", "out.json").split())
    assert "All 9 versions" in said and "as often as it is likely" in said and "ranges and chances are right" in said
    assert made("out.json")["all_versions"]
    first, second, other = (bid("--versions", "4", "--seed", seed) for seed in ("5", "5", "6"))
    assert first == second != other and "4 versions of this job were cut (seed 5)" in first


def test_the_job_several_times_over_and_the_limit() -> None:
    Path("bid.csv").write_text(HEAD + ROWS["C1"] + ROWS["C2"])
    assert "How waste falls" in bid("--versions", "3", "--curve", "--limit", "60")


def test_what_may_not_come_is_quoted_as_a_job_of_its_own_and_is_not_in_the_total() -> None:
    """The certain lines beside a bid of them alone, and each other line beside a bid of that line alone."""
    said = bid("--quote", "--csv", "quote.csv", "--json", "quote.json", "--html", "quote.html")
    rows = {row["mark"]: row for row in rows_of("quote.csv")}
    parts = [["A1", "A2"], ["B1"], ["C1"], ["C2"]]
    for marks in parts:
        alone = "".join(",".join([*ROWS[mark].strip().split(",")[:7], "", "\n"]) for mark in marks)
        Path("alone.csv").write_text(HEAD + alone)
        bid("--quote", "--csv", "alone.out.csv", file="alone.csv")
        for row in rows_of("alone.out.csv"):
            own = rows[row["mark"]]
            amounts = ("material", "hardware", "saw", "assembly", "markup", "tax")
            assert [own[name] for name in amounts] == [row[name] for name in amounts]
            assert own["total" if len(marks) > 1 else "if_it_comes"] == row["total"]
            assert own["if_it_comes" if len(marks) > 1 else "total"] == ""
            assert sum(F(own[name]) for name in amounts) == F(row["total"])
    whole = made("quote.json")
    assert sum(F(row["total"]) for row in rows.values() if row["total"]) == F(str(whole["total"]))
    assert [one["mark"] for one in whole["if_they_come"]] == ["B1", "C1", "C2"]
    assert [(row["comes_in"], row["or"]) for row in rows.values()] == [
        ("100", ""), ("100", ""), ("60.000000", ""), ("50.000000", "steps"), ("30.000000", "steps")]
    for text in (" ".join(said.split()), " ".join(Path("quote.html").read_text().split())):
        assert "None of these lines is in the total" in text and "If they come" in text


def test_a_number_from_0_has_a_price_for_each_number_and_is_in_no_total() -> None:
    """Each beside a bid of that number alone; what is certain beside a bid without the line."""
    certain = "A1,bay,breakwater,2,70,42,,,\n"
    Path("bid.csv").write_text(HEAD + certain + "B1,bay,breakwater,0..2,60,42,,,\nB2,gate,lantern,0..5,40,42,,,\n")
    said = bid("--quote", "--csv", "quote.csv", "--json", "quote.json", "--versions", "20")
    customer = " ".join(bid("--quote", "--customer", "--versions", "20").split())
    rows = {(row["mark"], row["qty"]): row for row in rows_of("quote.csv")}
    assert list(rows) == [("A1", "2"), ("B1", "1"), ("B1", "2"), ("B2", "1"), ("B2", "5")]
    for (mark, qty), row in rows.items():
        kind, size = {"A1": ("bay,breakwater", 70), "B1": ("bay,breakwater", 60), "B2": ("gate,lantern", 40)}[mark]
        Path("alone.csv").write_text(f"{HEAD}{mark},{kind},{qty},{size},42,,,\n")
        bid("--quote", "--csv", "alone.out.csv", file="alone.csv")
        (alone,) = rows_of("alone.out.csv")
        assert row["total" if mark == "A1" else "if_it_comes"] == alone["total"]
        assert row["if_it_comes" if mark == "A1" else "total"] == ""
    assert made("quote.json")["total"] == float(rows["A1", "2"]["total"])
    assert [(row["comes_in"][:5], row["or"]) for row in rows.values()] == [
        ("100", ""), *[("66.66", "number of B1")] * 2, *[("83.33", "number of B2")] * 2]
    assert "What is certain comes to" in customer and "for a number that is not in the table" in customer
    assert "not in this total" in " ".join(said.split())


def test_the_customer_is_told_that_a_number_is_open() -> None:
    Path("bid.csv").write_text(HEAD + "A1,bay,breakwater,1..3,70,42,,,\nB1,gate,lantern,1,40,42,,,\n")
    said = " ".join(bid("--quote", "--customer", "--versions", "3").split())
    assert "2 of 1..3" in said and "the line's part of it is as for 2" in said


def test_the_customer_sees_prices_of_what_may_come_and_no_chances() -> None:
    bid("--quote", "--csv", "quote.csv")
    inside = [row["total"] + row["if_it_comes"] for row in rows_of("quote.csv")]
    said = bid("--quote", "--customer", "--csv", "offer.csv", "--html", "offer.html", "--json", "offer.json")
    assert [row["total"] + row["if_it_comes"] for row in rows_of("offer.csv")] == inside
    assert "comes_in" not in rows_of("offer.csv")[0] and "comes_in" not in made("offer.json")["if_they_come"][0]
    for text in (said, Path("offer.html").read_text().split("<body")[1]):
        assert "60 %" not in text and "jobs of 100" not in text and "C2" in text


def test_a_job_of_which_nothing_is_certain_has_no_total() -> None:
    Path("bid.csv").write_text(HEAD + ROWS["C1"] + ROWS["C2"])
    said = " ".join(bid("--quote", "--json", "quote.json").split())
    assert "there is no total" in said and made("quote.json")["total"] == 0 and made("quote.json")["lines"] == []


def test_an_offcut_of_the_rack_makes_no_option_cheaper() -> None:
    """It serves but once, and the certain lines may have taken it."""
    bid("--quote", "--csv", "quote.csv")
    good("rack", "add", "box-upright", "100", "--qty", "9", "--shop", "shop.toml")
    good("rack", "add", "box-rail", "100", "--qty", "9", "--shop", "shop.toml")
    bid("--quote", "--rack", "rack.db", "--csv", "racked.csv")
    plain, racked = rows_of("quote.csv"), rows_of("racked.csv")
    assert plain[2:] == racked[2:] and F(racked[0]["total"]) < F(plain[0]["total"])


def test_what_is_wrong_is_listed_and_nothing_is_written() -> None:
    Path("bid.csv").write_text(HEAD + ROWS["A1"] + "B,gate,breakwater,0..1,40,42,,60,\n"
                               "C,gate,breakwater,1,40x,42,,,x\n")
    result = run("bid", "bid.csv", "--shop", "shop.toml", "--csv", "out.csv")
    assert result.exit_code == 2 and not Path("out.csv").exists()
    places = ["bid.csv:3: chance: ", "bid.csv:4: or: ", "bid.csv:4: opening: ", "bid.csv:3: qty: "]
    assert all(place in result.stderr for place in places) and "as 60 %" in result.stderr
    week = run("takeoff", "bid.csv", "--shop", "shop.toml")
    assert week.exit_code == 2 and "bid.csv:3: chance: is for bids" in week.stderr


def test_a_workbook_says_the_same() -> None:
    """Shares typed as numbers with a per cent format."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in [HEAD.strip().split(","), *(row.strip().split(",") for row in ROWS.values())]:
        sheet.append([int(cell) if cell.isdecimal() else F(cell[:-2]).numerator / 100 if cell.endswith("%") else cell
                      for cell in row])
    for cells in sheet.iter_rows(min_row=2, min_col=8, max_col=8):
        cells[0].number_format = "0%"
    book.save("bid.xlsx")
    bid("--csv", "typed.csv", "--versions", "3")
    bid("--csv", "book.csv", "--versions", "3", file="bid.xlsx")
    assert rows_of("typed.csv") == rows_of("book.csv")
