"""If these fail, a spreadsheet adds up a column and leaves out what it took for a date or a text, or a length that has
no finite decimal is no longer known exactly."""

from __future__ import annotations

import csv
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.orders import load_pieces
from cutplan.problems import InputProblems
from tests.commands import good
from tests.test_clashes import options

SHOP = """\
unit = "in"
[saw]
kerf = "1/8 in"
setup_minutes = 3
cut_seconds = 20
stick_seconds = 25
hourly = 38
shortest_held = "12 in"
[profiles.rail]
kind = "rail"
face = "2 in"
keep_from = "12 in"
price_per_length = "1/ft"
stock = [ { length = "20 ft" }, { length = "1000/3" } ]
[profiles.bar]
kind = "picket"
stock = [ { length = "40 in", price = 3 } ]
[profiles.post]
kind = "post"
stock = [ { length = "16 ft", price = 30 } ]
[systems.yard]
top_rail = "rail"
bottom_rail = "rail"
picket = "bar"
picket_width = "1 in"
max_gap = "3 7/8 in"
picket_allowance = "7 in"
[systems.yard.bay]
rail_insertion = "1/2 in"
end_clearance = "1/8 in"
[systems.yard.run]
post = "post"
post_width = "4 in"
max_bay = "60 in"
post_above = "42 in"
post_below = "24 in"
[[systems.yard.hardware]]
name = "bracket"
per = "rail end"
qty = 1
price = 2.35
"""
WEEK = "mark,kind,system,qty,opening,height\nR1,run,yard,1,160,42\nB1,bay,yard,1,50,42\n"
PIECES = "mark,profile,length,qty,left_in,right_in\nP1,rail,100/3,3,1:3,\nP2,rail,1169/12,2,,-1:3\nP3,rail,200/3,1,,\n"
BID = "mark,kind,system,qty,opening,height\nR1,run,yard,1,160..161,42\n"
SHOPPED = ["--shop", "shop.toml"]
WRITERS = {  # every command that writes a table: its words
    "takeoff": ["takeoff", "week.csv", "pieces.csv", *SHOPPED],
    "cut": ["cut", "week.csv", "pieces.csv", *SHOPPED, "--limit", "5"],
    "buy": ["buy", "pieces.csv", *SHOPPED, "--limit", "5"],
    "lengths": ["lengths", "pieces.csv", *SHOPPED, "--choose", "1", "--mill", "0:300", "--limit", "5"],
    "bid": ["bid", "bid.csv", *SHOPPED, "--versions", "3"],
    "bid of a plan": ["bid", "--from-plan", "plan.json"],
    "learn": ["learn", "plan.json"],
    "rest": ["rest", "plan.json"],
    "replan": ["replan", "plan.json", *SHOPPED, "--limit", "5"],
    "rack show": ["rack", "show"],
    "rack plans": ["rack", "plans"],
    "rack history": ["rack", "history"],
    "rack report": ["rack", "report", *SHOPPED],
}
MILLIONTH = Decimal("0.000001")
ROUGH = {"rack plans"}  # counts alone


@pytest.fixture(scope="module")
def work(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop whose lengths and money are thirds of an inch and of a cent."""
    folder = tmp_path_factory.mktemp("thirds")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for name, text in (("shop.toml", SHOP), ("week.csv", WEEK), ("pieces.csv", PIECES), ("bid.csv", BID)):
            Path(name).write_text(text)
        good("rack", "add", "rail", "289/3", "--sawn", "one", *SHOPPED)
        good("cut", "pieces.csv", *SHOPPED, "--json", "plan.json", "--limit", "5")
        good("book", "plan.json", "--through", "1")
    return folder


@pytest.fixture(autouse=True)
def here(work: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(work)


def test_every_command_that_writes_a_table_is_walked_here() -> None:
    assert {name for name, option, _ in options() if option == "--csv"} == {name.split(" of ")[0] for name in WRITERS}


@pytest.mark.parametrize("command", WRITERS)
def test_no_number_is_a_fraction_and_what_is_rounded_is_there_exactly(command: str) -> None:
    good(*WRITERS[command], "--csv", "out.csv")
    with open("out.csv", encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        rows, names = list(reader), list(reader.fieldnames or ())
    assert rows
    exact = [name for name in names if name.endswith("_exact")]
    assert names[len(names) - len(exact):] == exact, "behind all the rest"
    for name in set(names).difference(exact):
        assert not [row[name] for row in rows if re.search(r"\d/\d", row[name])], name
    for name in exact:
        assert any(row[name] for row in rows), "a column that no row needs"
        for row in rows:
            assert not row[name] or "/" in row[name]
            for said, text in zip(row[name].split(), row[name.removesuffix("_exact")].split(), strict=bool(row[name])):
                whole = Decimal(Fraction(said).numerator) / Fraction(said).denominator
                assert Decimal(text) == whole.quantize(MILLIONTH, "ROUND_HALF_UP")
    assert bool(exact) == (command not in ROUGH), command


def test_the_pieces_of_a_takeoff_come_back_as_they_were() -> None:
    """The lengths of thirds and what their ends are set in, also less than 1 and less than 0."""
    good(*WRITERS["takeoff"], "--csv", "out.csv")
    read = {piece.mark: piece for piece in load_pieces("out.csv", None)}
    assert read["P2"].length == Fraction(1169, 12) and read["P2"].right_in == Fraction(-2, 3)
    assert read["P1"].length == Fraction(100, 3) and read["P1"].left_in == Fraction(2, 3)
    assert {piece.length.denominator for piece in read.values()} == {1, 3, 4, 12}
    good("cut", "out.csv", *SHOPPED, "--json", "again.json", "--limit", "5")
    assert '"1169/12"' in Path("again.json").read_text()


@pytest.mark.parametrize(("cells", "column", "word"), [
    ("33.4,100/3", "length_exact", "another number than the one beside it"),
    ("33.333333,7-Mar", "length_exact", "not what cutplan writes"),
    ("33.333333,1/0", "length_exact", "not what cutplan writes"),
    ("0,1/99999999", "length", "is zero"),
])
def test_an_exact_form_that_no_longer_fits_is_reported(tmp_path: Path, cells: str, column: str, word: str) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(f"mark,profile,qty,length,length_exact\nP1,rail,1,{cells}\n")
    with pytest.raises(InputProblems) as wrong:
        load_pieces(file, None)
    (problem,) = wrong.value.problems
    assert (problem.line, problem.column) == (2, column) and word in problem.message
