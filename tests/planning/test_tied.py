"""If these fail, a plan made by another saw's rules, at other prices or for another week passes for this one."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from tests.commands import good, run

SHOP = """unit = "in"
currency = "USD"
[saw]
kerf = "1/8 in"
[profiles.rail]
kind = "rail"
head_trim = "1/2 in"
tail_trim = "1/4 in"
keep_from = "20 in"
stock = [ { length = "96 in", price = 20 }, { length = "144 in", price = 28 } ]
[profiles.holed]
kind = "rail"
keep_from = "30 in"
routing = { pitch = "4 3/4 in", first = "2 3/8 in" }
stock = [ { length = "193 in", price = 33 } ]
"""
PIECES = "mark,profile,length,qty,for,centred\nA,rail,50,3,G1,\nB,rail,90,1,G1,\nH,holed,80,2,G2,either\n"
CHANGES = [
    ('kerf = "1/8 in"', 'kerf = "3/32 in"', "its kerf is 0.125 in the plan, and 0.09375 in the shop file"),
    ('head_trim = "1/2 in"', 'head_trim = "1 in"', "its trim at the head is 0.5 in the plan, and 1 in the shop file"),
    ('tail_trim = "1/4 in"\n', "", "its trim at the tail is 0.25 in the plan, and 0 in the shop file"),
    ('keep_from = "20 in"\n', "", "its length from which on offcuts are kept is 20 in the plan, and not said"),
    ("[profiles.rail]", "[profiles.rial]", "rail: is not a profile of the shop file"),
    ('"4 3/4 in", first', '"5 in", first', "its holes are elsewhere in the plan than in the shop file"),
    ('length = "144 in"', 'length = "145 in"', "it draws sticks of 144, and the shop file has no such length"),
    ('{ length = "193 in", price = 33 }', '{ length = "193 in", price = 33 }, { length = "240 in", price = 40 }',
     "the shop file has sticks of 240, and the plan had none to choose from"),
]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("pieces.csv").write_text(PIECES)
    good("cut", "pieces.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "plan.json")
    return tmp_path


def test_a_plan_of_this_shop_and_week_is_said_to_be_one() -> None:
    assert "It keeps to the rules, the lengths and the prices of shop.toml." in good(
        "check", "plan.json", "--shop", "shop.toml")
    assert "shop.toml, and cuts what is asked for." in good("check", "plan.json", "pieces.csv", "--shop", "shop.toml")
    assert "a week is read with its shop file" in run("check", "plan.json", "pieces.csv").stderr
    nothing = run("check", "plan.json", "pieces.csv", "--shop", "shop.toml", "--rack", "none.db")
    assert nothing.exit_code == 2 and "none.db:1: file: there is no rack here" in nothing.stderr
    good("book", "plan.json", "--shop", "shop.toml", "--week", "pieces.csv")


@pytest.mark.parametrize(("was", "now", "said"), CHANGES)
def test_each_rule_that_is_another_is_told_and_nothing_is_booked(was: str, now: str, said: str) -> None:
    assert was in SHOP
    Path("shop.toml").write_text(SHOP.replace(was, now))
    for words in (["check", "plan.json"], ["book", "plan.json"]):
        result = run(*words, "--shop", "shop.toml")
        assert result.exit_code == 2 and said in result.stderr, words
        cure = "or, once any of it is booked, plan what is left again with cutplan replan plan.json"
        assert f"plan again with cutplan cut, {cure}" in result.stderr
        assert not re.search(r"\w\[\d", result.stderr), "a place in the file's JSON"
    assert "1 plan;" in good("rack", "check") and "booked" not in good("rack", "history")


def test_a_price_that_is_another_is_told_and_the_plan_is_booked_all_the_same() -> None:
    Path("shop.toml").write_text(SHOP.replace("price = 28", "price = 31.50"))
    said = "plan.json:1: rail: a stick of 144 cost 28 USD when it was planned, and costs 31.5 now"
    result = run("check", "plan.json", "--shop", "shop.toml")
    assert result.exit_code == 2 and said in result.stderr
    result = run("book", "plan.json", "--shop", "shop.toml")
    assert result.exit_code == 0 and said in result.stderr and "the last of it" in result.stdout


@pytest.mark.parametrize(("week", "said"), [
    (PIECES.replace("A,rail,50,3", "A,rail,50,4"),
     "week.csv:2: mark: A: 4 of rail 50 asked for, 3 in plan.json"),
    (PIECES.replace("A,rail,50,3", "A,rail,50,2"), "plan.json:1: A: 2 of rail 50 asked for, 3 in plan.json"),
    (PIECES.replace("B,rail,90", "B,rail,89"), "week.csv:3: mark: B: 1 of rail 89 asked for, 0 in plan.json"),
    (PIECES.replace("B,rail", "C,rail"), "C: 1 of rail 90 asked for"),
])
def test_a_piece_too_few_or_too_many_is_told_with_its_line(week: str, said: str) -> None:
    Path("week.csv").write_text(week)
    for words in (["check", "plan.json", "week.csv"], ["book", "plan.json", "--week", "week.csv"]):
        result = run(*words, "--shop", "shop.toml")
        assert result.exit_code == 2 and said in result.stderr, words


def test_a_week_of_gates_and_a_plan_of_what_was_left(tmp_path: Path) -> None:
    demo = Path(__file__).resolve().parents[2] / "data" / "demo" / "shop.toml"
    Path("week.csv").write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40,42\nB1,bay,breakwater,1,70,42\n")
    good("cut", "week.csv", "--shop", demo, "--rack", "demo.db", "--json", "monday.json")
    good("check", "monday.json", "week.csv", "--shop", demo)
    good("book", "monday.json", "--rack", "demo.db", "--profile", "box-rail")
    good("replan", "monday.json", "--shop", demo, "--rack", "demo.db", "--json", "tuesday.json")
    assert json.loads(Path("tuesday.json").read_text())["replaces"]
    good("check", "tuesday.json", "week.csv", "--shop", demo)  # it has not all of them, and cuts none besides
    Path("week.csv").write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40,42\n")
    result = run("check", "tuesday.json", "week.csv", "--shop", demo)
    assert result.exit_code == 2 and "B1 picket" in result.stderr
    assert "with cutplan replan tuesday.json --week week.csv" in result.stderr


def test_of_a_plan_of_what_was_left_the_rack_says_what_was_cut_before() -> None:
    """A week with more in it, one measured anew and one with less: told by `book`, and by `check` with --rack."""
    demo = Path(__file__).resolve().parents[2] / "data" / "demo" / "shop.toml"
    head = "mark,kind,system,qty,opening,height\n"
    gate, bay = "G1,gate,breakwater,1,40,42\n", "B1,bay,breakwater,1,70,42\n"
    Path("week.csv").write_text(head + gate + bay)
    good("cut", "week.csv", "--shop", demo, "--rack", "rack.db", "--json", "monday.json")
    good("book", "monday.json", "--profile", "box-rail")
    good("replan", "monday.json", "--shop", demo, "--json", "tuesday.json")
    said = " ".join(good("check", "tuesday.json", "week.csv", "--shop", demo).split())
    assert "and cuts what is asked for" not in said and "--rack rack.db" in said
    command = [*shlex.split(said.partition("is said by cutplan ")[2].partition(" --rack")[0]), "--rack", "rack.db"]
    assert "what is asked for is cut or in it" in good(*command)  # the advice, followed
    for name, text, told in (
            ("more.csv", gate + bay + "B2,bay,breakwater,1,60,42\n", "more.csv:4: mark: B2 top rail: 1 of box-rail"),
            ("wider.csv", gate + bay.replace("70", "74"), "B1 top rail: 0 of box-rail"),
            ("five.csv", gate + bay.replace(",1,", ",5,"), "five.csv:3: mark: B1 top rail: 5 of box-rail"),
            ("none.csv", gate, "tuesday.json:1: B1 top rail: 0 of box-rail")):
        Path(name).write_text(head + text)
        for words in (["check", "tuesday.json", name, "--rack", "rack.db"], ["book", "tuesday.json", "--week", name]):
            result = run(*words, "--shop", demo)
            assert result.exit_code == 2 and told in result.stderr, (words, result.stderr)
            assert f"; if the week is so now, plan it with cutplan replan tuesday.json --week {name}\n" in result.stderr
    good("book", "tuesday.json", "--week", "week.csv", "--shop", demo, "--sticks", "8")
    good("replan", "tuesday.json", "--week", "five.csv", "--shop", demo, "--json", "new.json")  # the advice, followed
    good("check", "new.json", "five.csv", "--shop", demo, "--rack", "rack.db")
    good("book", "new.json", "--week", "five.csv", "--shop", demo)
    good("check", "new.json", "five.csv", "--shop", demo, "--rack", "rack.db")


def test_a_rail_that_may_lie_either_way_is_as_it_was_cut() -> None:
    good("book", "plan.json", "--profile", "holed")
    good("replan", "plan.json", "--shop", "shop.toml", "--json", "rest.json")
    good("check", "rest.json", "pieces.csv", "--shop", "shop.toml", "--rack", "rack.db")
    Path("less.csv").write_text(PIECES.replace("H,holed,80,2", "H,holed,80,1"))
    result = run("check", "rest.json", "less.csv", "--shop", "shop.toml", "--rack", "rack.db")
    assert result.exit_code == 2
    assert re.search("H: (1 of holed 80 asked for, 2|0 of holed 80 asked for, 1) cut or still in", result.stderr)
