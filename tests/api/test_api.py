"""If these fail, a Python user gets another plan than the command, a figure that is not exact is taken, or what is
wrong is not told with the script, the line and the argument."""

from __future__ import annotations

import doctest
import io
import json
import subprocess
import sys
import threading
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import cutplan as cp
from cutplan.api import model as models

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "demo"
SHOP = """unit = "in"
saw.kerf = "1/8 in"
[profiles.rail]
kind = "other"
head_trim = "1/2 in"
keep_from = "36 in"
stock = [ { length = "16 ft", price = 41.20 }, { length = "20 ft", price = 50, qty = 2 } ]
[profiles.bar]
kind = "other"
routing = { pitch = "4 3/4 in", first = "2 3/8 in" }
stock = [ { length = 240 } ]
"""
PIECES = """mark,profile,length,qty,for,centred
R1,rail,34 7/8,10,G1,
R2,rail,50,4,,
B1,bar,60,5,G1,either
"""


def built() -> cp.Model:
    """The same in Python."""
    m = cp.Model(unit="in", kerf="1/8 in")
    rail = m.add_profile("rail", head_trim=Fraction(1, 2), keep_from="36 in")
    rail.add_stock("16 ft", price="41.20").add_stock(240, price=Decimal("50.00"), qty=2)
    m.add_profile("bar", routing={"pitch": "4 3/4", "first": "2 3/8"}).add_stock(240)
    m.add_piece(rail, "34 7/8", qty=10, mark="R1", for_="G1")
    m.add_piece("rail", 50, 4, "R2")
    m.add_piece("bar", "60 in", qty=5, mark="B1", for_="G1", centred="either")
    return m


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "pieces.csv").write_text(PIECES)
    return str(tmp_path / "pieces.csv"), str(tmp_path / "shop.toml")


def command(*arguments: str) -> None:
    subprocess.run([sys.executable, "-m", "cutplan", *arguments], check=True, capture_output=True)


def test_every_way_in_gives_the_plan_of_the_command(files: tuple[str, str], tmp_path: Path) -> None:
    work, shop = files
    command("cut", work, "--shop", shop, "--json", str(tmp_path / "by_command.json"))
    read = cp.read_shop(io.StringIO(SHOP))
    results = [
        cp.cut(work, shop), cp.cut(io.StringIO(PIECES), read), built().solve(),
        cp.cut(pd.read_csv(work, dtype=str), shop), cp.cut(cp.read_pieces(work, read), read),
        cp.solve(cp.read_pieces(work, read), read, cp.Budget(60)),
    ]
    expected = (tmp_path / "by_command.json").read_bytes()
    for k, result in enumerate(results):
        result.plan.save(tmp_path / "plan.json")
        assert (tmp_path / "plan.json").read_bytes() == expected, k
    assert results[0].is_proven() and results[0].cost == results[0].bound
    assert cp.check(tmp_path / "plan.json").ok


def test_the_demo_week_is_the_command_s(tmp_path: Path) -> None:
    """Gates and bays, with their cards, through a rack that both begin."""
    week, shop = str(DEMO / "rush.csv"), str(DEMO / "shop.toml")
    command("cut", week, "--shop", shop, "--rack", str(tmp_path / "a.db"), "--json", str(tmp_path / "a.json"))
    cp.cut(week, shop, rack=tmp_path / "b.db").plan.save(tmp_path / "b.json")
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()


def test_frames_say_what_the_plan_file_does(files: tuple[str, str], tmp_path: Path) -> None:
    """The sums, from the file alone."""
    result = cp.cut(*files)
    result.plan.save(tmp_path / "plan.json")
    said = json.loads((tmp_path / "plan.json").read_text(), parse_float=Fraction)
    profiles = said["profiles"]
    sticks, cuts, bought, openings = result.sticks(), result.cuts(), result.purchases(), result.by_opening()
    assert sticks["count"].sum() == sum(stick["count"] for one in profiles for stick in one["sticks"])
    assert cuts["count"].sum() == sum(entry["qty"] for one in profiles for entry in one["demand"])
    cost = float(sum(one["totals"]["cost"] for one in profiles))
    assert bought["amount"].sum() == pytest.approx(cost) == pytest.approx(openings["cost"].sum())
    assert openings["net"].sum() == pytest.approx(float(sum(one["totals"]["pieces"] for one in profiles)))
    for length, text in zip(cuts["length"], cuts["length_text"], strict=True):
        assert Fraction(length) == cp.Model().add_profile("x").add_stock(text).model.profiles["x"].stock[0].length


WRONG: list[tuple[Callable[[cp.Model], object], str, str]] = [
    (lambda m: m.add_piece("rail", 34.875), "length", "float 34.875"),
    (lambda m: m.add_piece("rial", "34"), "profile", "did you mean 'rail'"),
    (lambda m: m.add_piece("rail", "34", qty=-2), "qty", "negative"),
    (lambda m: m.add_piece("rail", "34", qty=1.5), "qty", "float 1.5"),  # type: ignore[arg-type]
    (lambda m: m.add_piece("rail", "34 in", centred="left"), "centred", "hole, space, either"),
    (lambda m: m.add_piece("rail", "3 furlong"), "length", "unknown unit"),
    (lambda m: m.add_piece("rail", "34", mark="a\x1b[31m"), "mark", "cannot be printed"),
    (lambda m: m.add_profile("rail"), "name", "there already"),
    (lambda m: m.add_profile("new", colour="red"), "colour", "not a key"),
    (lambda m: m.add_profile("new", routing={"pitch": 0, "first": 1}), "routing.pitch", "zero"),
    (lambda m: m.add_profile("new").add_stock("8 ft", price=3.5), "price", "float 3.5"),
    (lambda m: m.add_profile("new", head_trim="10").add_stock(9), "length", "leave nothing"),
    (lambda m: m.add_profile("new", head_trim=Fraction(-1, 2)), "head_trim", "negative"),
    (lambda m: cp.Model(unit="cm"), "unit", "unknown"),
    (lambda m: cp.Model(kerf=0.125), "saw.kerf", "float 0.125"),
    (lambda m: m.solve(limit=-1), "limit", "no time"),
    (lambda m: cp.Model().solve(), "pieces", "there is none"),
]


@pytest.mark.parametrize("wrong", range(len(WRONG)))
def test_what_is_wrong_names_the_script_the_line_and_the_argument(wrong: int) -> None:
    call, argument, words = WRONG[wrong]
    with pytest.raises(cp.InputProblems) as told:
        call(built())
    problem, = told.value.problems
    assert (problem.column, words in problem.message) == (argument, True), problem
    if argument != "limit":
        assert Path(problem.file) == Path(__file__)
        assert "lambda" in Path(__file__).read_text().split("\n")[problem.line - 1]


def test_a_frame_s_floats_are_asked_about_and_its_lines_told() -> None:
    shop = cp.read_shop(io.StringIO(SHOP))
    frame = pd.DataFrame({"mark": list("ABC"), "profile": ["rail"] * 3, "length": [30, 34.1, None], "qty": [1, 2, 0]})
    with pytest.raises(cp.InputProblems) as told:
        cp.read_pieces(frame, shop)
    assert [(one.file, one.line, one.column) for one in told.value.problems] == [
        ("DataFrame", 3, "length"), ("DataFrame", 4, "length"), ("DataFrame", 4, "qty")]
    frame = pd.DataFrame({"mark": ["A"], "profile": ["rail"], "length": [Fraction(100, 3)], "qty": [2.0]})
    assert cp.read_pieces(frame, shop)[0].length == Fraction(100, 3)


def test_records_are_checked_as_files_are() -> None:
    shop = cp.read_shop(io.StringIO(SHOP))
    good = cp.read_pieces(io.StringIO(PIECES), shop)[0]
    from dataclasses import replace

    for change, column in [({"profile": "bars"}, "profile"), ({"qty": 0}, "qty"), ({"length": 3.5}, "length")]:
        with pytest.raises(cp.InputProblems) as told:
            cp.cut([replace(good, **change)], shop)
        assert [(one.file, one.line, one.column) for one in told.value.problems] == [("text", 2, column)]


def test_a_search_in_a_thread_is_heard_and_stopped_from_another() -> None:
    """Signals are left alone there."""
    import signal

    before, heard = signal.getsignal(signal.SIGINT), list[str]()
    budget, found = cp.Budget(60), list[cp.Result]()
    week, shop = DEMO / "week.csv", DEMO / "shop.toml"
    thread = threading.Thread(target=lambda: found.append(cp.cut(week, shop, limit=budget, progress=heard.append)))
    thread.start()
    while not heard:
        thread.join(0.05)
    budget.stop()
    thread.join(15)
    assert not thread.is_alive() and signal.getsignal(signal.SIGINT) is before
    assert found[0].stopped and found[0].cost >= found[0].bound > 0


def test_the_examples_in_docstrings_run() -> None:
    results = doctest.testmod(models)
    assert results.attempted and not results.failed


def test_names_are_loaded_when_they_are_asked_for() -> None:
    code = ("import sys, cutplan as cp; assert 'ortools' not in sys.modules; cp.Model; "
            "assert 'pandas' not in sys.modules; assert set(cp.__all__) <= set(dir(cp)); "
            "assert all(getattr(cp, name) for name in cp.__all__); assert 'pandas' not in sys.modules")
    subprocess.run([sys.executable, "-c", code], check=True)
    with pytest.raises(AttributeError):
        cp.nothing_of_the_kind  # noqa: B018


def test_a_gap_that_is_enough_ends_the_search_and_is_kept() -> None:
    shop, week = DEMO / "shop.toml", DEMO / "week.csv"
    near = cp.cut(week, shop, limit=cp.Budget(60, gap="4%"))
    assert near.cost - near.bound <= near.cost * Fraction(4, 100)
    assert not near.is_proven(), "the search would have gone on"
    for wrong in ("120%", "much", Fraction(-1, 9)):
        with pytest.raises(cp.InputProblems, match="gap"):
            cp.Budget(60, gap=wrong)


@pytest.mark.parametrize("seconds", [-1, float("nan"), float("-inf"), True, "60"])
def test_what_is_no_time_is_refused_wherever_it_is_given(seconds: Any) -> None:
    for name, call in (("seconds", cp.Budget), ("limit", lambda limit: built().solve(limit=limit)),
                       ("limit", lambda limit: cp.cut(DEMO / "week.csv", DEMO / "shop.toml", limit=limit))):
        with pytest.raises(cp.InputProblems) as told:
            call(seconds)
        problem, = told.value.problems
        assert (problem.column, f"{seconds!r} is no time" in problem.message) == (name, True)
    assert cp.Budget(0).spent() and not cp.Budget(float("inf")).spent()
