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
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import cutplan as cp
from cutplan.api import model as models
from cutplan.problems import Problem

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
        named = ("pieces",) if k == 0 else ()  # only a path has a name to go by
        assert result.plan.weeks == named
        replace(result.plan, weeks=("pieces",)).save(tmp_path / "plan.json")
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


def test_angled_ends_said_in_python_are_those_of_the_files(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("""unit = "in"
saw.kerf = "1/8 in"
[profiles.rail]
kind = "other"
face = 2
may_turn = "both"
stock = [ { length = 240, price = 50 } ]
""")
    (tmp_path / "pieces.csv").write_text("mark,profile,length,qty,left_in,right_in\nF,rail,40,6,45 deg,2\n"
                                         "S,rail,61 1/2,2,-7 5/8:10,7 5/8:10\nQ,rail,18,1,,\n")
    m = cp.Model(unit="in", kerf="1/8 in")
    rail = m.add_profile("rail", face=2, may_turn="both").add_stock(240, price=50)
    m.add_piece(rail, 40, qty=6, mark="F", left_in="45 deg", right_in=2)
    m.add_piece(rail, "61 1/2", qty=2, mark="S", left_in=Fraction(-61, 40), right_in="7 5/8:10")
    m.add_piece(rail, 18, mark="Q")
    by_file, by_model = cp.cut(tmp_path / "pieces.csv", tmp_path / "shop.toml"), m.solve()
    assert by_file.plan.weeks == ("pieces",)
    replace(by_file.plan, weeks=()).save(tmp_path / "a.json")
    by_model.plan.save(tmp_path / "b.json")
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()
    cuts = by_model.cuts()
    asked = {"F": {(2.0, 2.0), (-2.0, -2.0)}, "S": {(-1.525, 1.525), (1.525, -1.525)}, "Q": {(0.0, 0.0)}}
    for mark, left, right, lies in zip(cuts["mark"], cuts["left_in"], cuts["right_in"], cuts["lies"], strict=True):
        assert (left, right) in asked[mark] and bool(lies) == (mark != "Q")
    assert "left_in" not in built().solve().cuts()


WRONG: list[tuple[Callable[[cp.Model], object], str, str]] = [
    (lambda m: m.add_piece("rail", 34.875), "length", "float 34.875"),
    (lambda m: m.add_piece("rial", "34"), "profile", "did you mean 'rail'"),
    (lambda m: m.add_piece("rail", "34", qty=-2), "qty", "negative"),
    (lambda m: m.add_piece("rail", "34", qty=1.5), "qty", "float 1.5"),  # type: ignore[arg-type]
    (lambda m: m.add_piece("rail", "34 in", centred="left"), "centred", "hole, space, either"),
    (lambda m: m.add_piece("rail", "3 furlong"), "length", "unknown unit"),
    (lambda m: m.add_piece("rail", "34", mark="a\x1b[31m"), "mark", "cannot be printed"),
    (lambda m: m.add_piece("rail", "34", left_in="45 deg"), "left_in", "needs the profile's face"),
    (lambda m: m.add_piece(m.add_profile("x", face=2), "34", right_in="95 deg"), "right_in", "no angle from square"),
    (lambda m: m.add_piece(m.add_profile("x", face=2), "34", right_in=0.5), "right_in", "float 0.5"),
    (lambda m: m.add_profile("x", may_turn="both"), "may_turn", "need the profile's face"),
    (lambda m: m.add_profile("x", face=2, may_turn="left"), "may_turn", "none, ends, over, both"),
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
    assert named_here(problem)


def named_here(problem: Problem) -> bool:
    """Whether it names this file and the line of a call in it."""
    line = Path(__file__).read_text(encoding="utf-8").split("\n")[problem.line - 1]
    return Path(problem.file) == Path(__file__) and "lambda" in line


Door = Callable[[str, cp.Shop, Any], object]
AT_THE_DOOR: list[tuple[Door, str, str]] = [
    (lambda work, shop, odd: cp.cut(5, shop), "work", "5 is no file"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut(None, shop), "work", "None is no file"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut([], shop), "work", "is empty"),
    (lambda work, shop, odd: cp.cut([work, 3], shop), "work", "3 is no file"),  # type: ignore[list-item]
    (lambda work, shop, odd: cp.cut({"a": work}, shop), "work", "is no file"),
    (lambda work, shop, odd: cp.cut(b"week.csv", shop), "work", "is no file"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut(work, None), "shop", "None is no file"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut(work, shop, rack=5), "rack", "5 is no path"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut(work, shop, progress=3), "progress", "function"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut(work, shop, limit="60"), "limit", "no time"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.solve([3, "x"], shop), "work", "3 is no record"),  # type: ignore[list-item]
    (lambda work, shop, odd: cp.solve(work, shop), "work", "is no record"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.solve([], shop), "work", "is empty"),
    (lambda work, shop, odd: cp.solve(odd, "x.toml"), "shop", "is no shop"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.solve(odd, shop, budget=3), "budget", "is no Budget"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.take_off([3], shop), "week", "3 is no file"),  # type: ignore[list-item]
    (lambda work, shop, odd: cp.take_off([], shop), "week", "is empty"),
    (lambda work, shop, odd: cp.check(5), "plan", "5 is no path"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.check(work, progress=3), "progress", "function"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.read_shop(5), "source", "5 is no file"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.read_shop(io.BytesIO(b"")), "source", "reading bytes"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.read_week(5, shop), "source", "5 is no file"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.read_pieces(work, None), "shop", "None is no shop"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.Budget(workers=3), "workers", "3 is no executor"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.Budget(progress=3), "progress", "3 cannot be called"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.Budget(gap=0.005), "gap", "float 0.005"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.Budget(gap="120%"), "gap", "no share"),
    (lambda work, shop, odd: cp.Budget(at_once=0), "at_once", "no number of jobs"),
    (lambda work, shop, odd: cp.Budget(-1), "seconds", "no time"),
    (lambda work, shop, odd: built().solve(limit=0), "limit", "no time"),
    (lambda work, shop, odd: built().solve(progress=3), "progress", "function"),  # type: ignore[arg-type]
    (lambda work, shop, odd: built().add_profile("p").add_stock(9, price=Decimal("NaN")), "price", "NaN is no number"),
    (lambda work, shop, odd: built().add_profile("p", routing="x"), "routing", "a text"),  # type: ignore[arg-type]
    (lambda work, shop, odd: built().add_profile("p", keep_from=object()), "keep_from", "is object"),
    (lambda work, shop, odd: built().add_piece(built().add_profile("p"), 9), "profile", "of another model"),
    (lambda work, shop, odd: built().add_piece([], 9), "profile", "not a profile"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.Plan("in", ()).save(None), "path", "None is no path"),  # type: ignore[arg-type]
    (lambda work, shop, odd: cp.cut([replace(odd[0], file="", mark=5)], shop), "mark", "5 is no text"),
]


@pytest.mark.parametrize("wrong", range(len(AT_THE_DOOR)))
def test_what_is_no_argument_is_refused_at_the_door(wrong: int, files: tuple[str, str]) -> None:
    call, argument, words = AT_THE_DOOR[wrong]
    shop = cp.read_shop(files[1])
    with pytest.raises(cp.InputProblems) as told:
        call(files[0], shop, list(cp.read_pieces(files[0], shop)))
    problem, = told.value.problems
    assert (problem.column, words in problem.message, named_here(problem)) == (argument, True, True), problem


JUNK: list[Any] = [None, 5, 1.5, True, b"x", "", "nothing/of/the/kind", [], [3], {}, {"a": 1}, object(),
                   io.BytesIO(b"x"), Decimal("NaN"), Decimal("Infinity"), float("nan"), Fraction(-1, 3), print, int,
                   pd.NA]


def test_junk_in_any_argument_of_any_call_is_refused_and_never_fails_otherwise(files: tuple[str, str]) -> None:
    """Everything that may be given is tried in every place, the others being sound."""
    work, shop = files[0], cp.read_shop(files[1])
    records = cp.read_pieces(work, shop)
    calls: list[Callable[[Any], object]] = [
        lambda odd: cp.cut(odd, shop), lambda odd: cp.cut(work, odd), lambda odd: cp.take_off(odd, shop),
        lambda odd: cp.solve(odd, shop), lambda odd: cp.solve(records, odd), lambda odd: cp.check(odd),
        lambda odd: cp.read_shop(odd), lambda odd: cp.read_week(odd, shop), lambda odd: cp.read_pieces(odd, shop),
        lambda odd: cp.read_pieces(work, odd), lambda odd: cp.Budget(odd), lambda odd: cp.Budget(gap=odd),
        lambda odd: cp.Budget(workers=odd), lambda odd: cp.Budget(at_once=odd), lambda odd: cp.Budget(progress=odd),
        lambda odd: cp.Model(unit=odd), lambda odd: cp.Model(kerf=odd), lambda odd: cp.Model(stack=odd),
        lambda odd: built().add_profile(odd), lambda odd: built().add_profile("p", kind=odd),
        lambda odd: built().add_profile("p", routing=odd), lambda odd: built().add_profile("p", keep_from=odd),
        lambda odd: built().add_profile("p").add_stock(odd),
        lambda odd: built().add_profile("p").add_stock(9, price=odd),
        lambda odd: built().add_profile("p").add_stock(9, qty=odd),
        lambda odd: built().add_profile("p").add_stock(9, price_breaks=odd),
        lambda odd: built().add_piece(odd, 9), lambda odd: built().add_piece("rail", odd),
        lambda odd: built().add_piece("rail", 9, qty=odd), lambda odd: built().add_piece("rail", 9, mark=odd),
        lambda odd: built().add_piece("rail", 9, for_=odd), lambda odd: built().add_piece("rail", 9, centred=odd),
        lambda odd: built().add_piece("rail", 9, each=odd),
    ]  # fmt: skip
    for k, call in enumerate(calls):
        for odd in JUNK:
            try:
                call(odd)
            except (cp.InputProblems, cp.NoPlan):
                continue
            except Exception as fault:
                raise AssertionError(f"call {k} with {odd!r}") from fault


def test_an_empty_cell_of_any_kind_of_frame_reads_as_one_of_a_file() -> None:
    """What pandas makes of the same file under each of its types, and a frame filled with its own word for nothing."""
    shop = cp.read_shop(DEMO / "shop.toml")
    text = "mark,kind,system,qty,opening,height,where\nA,gate,lantern,1,38 1/2,36,\nB,gate,lantern,1,38 1/2,36,here\n"
    from_file = cp.read_week(io.StringIO(text), shop)

    def frames(text: str) -> list[pd.DataFrame]:
        as_objects = pd.read_csv(io.StringIO(text), dtype=str).astype(object)
        return [pd.read_csv(io.StringIO(text), dtype=str), pd.read_csv(io.StringIO(text), dtype="string"),
                pd.read_csv(io.StringIO(text), dtype_backend="numpy_nullable"),
                *(as_objects.where(as_objects.notna(), nothing) for nothing in (pd.NA, None, pd.NaT, Decimal("NaN"),
                                                                               Decimal("sNaN")))]

    for k, frame in enumerate(frames(text)):
        read = cp.read_week(frame, shop)
        assert [replace(one, file="") for one in read] == [replace(one, file="") for one in from_file], k
    for k, frame in enumerate(frames(text.replace("38 1/2", "", 1))):
        with pytest.raises(cp.InputProblems) as told:
            cp.read_week(frame, shop)
        assert [(one.line, one.column) for one in told.value.problems] == [(2, "opening")], k


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
