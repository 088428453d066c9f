"""If these fail, a rail with holes or sloped ends that was cut for a week that changed serves as what it cannot be, or
lies on the rack as what it is not.

All figures are worked out by hand, from the first hole and the pitch, and from the corners of the ends.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from tests.commands import good

# Holes 2 3/8 from the raw end and every 4 3/4 on; ends set in over a face of 2.
SHOP = """name = "Hand"
unit = "in"
currency = "USD"
[saw]
kerf = "1/8 in"
[profiles.routed]
kind = "rail"
head_trim = "1/2 in"
keep_from = "24 in"
routing = { pitch = "4 3/4 in", first = "2 3/8 in" }
stock = [{ length = "193 in", price = 33 }]
[profiles.sloped]
kind = "rail"
head_trim = "1/2 in"
keep_from = "20 in"
face = "2 in"
may_turn = "both"
stock = [{ length = "144 in", price = 19 }]
"""
HEAD = "mark,profile,length,qty,centred,left_in,right_in\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)


def changed(was: str, now: str) -> str:
    """The first week is cut to its end, and the second is wanted now: what is said."""
    Path("was.csv").write_text(HEAD + was)
    Path("now.csv").write_text(HEAD + now)
    good("cut", "was.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "was.json")
    good("book", "was.json")
    for tag in lying():  # what the first week's sticks leave is not what this is about
        good("rack", "scrap", tag)
    said = good("replan", "was.json", "--week", "now.csv", "--shop", "shop.toml", "--json", "now.json")
    good("check", "now.json", "now.csv", "--shop", "shop.toml", "--rack", "rack.db")
    return " ".join(said.split())


def lying() -> dict[str, dict[str, str]]:
    return {row["tag"]: row for row in csv.DictReader(io.StringIO(good("rack", "show", "--csv", "-")))}


def sticks() -> list[dict[str, Any]]:
    plan = json.loads(Path("now.json").read_text())
    return [stick for profile in plan["profiles"] for stick in profile["sticks"]]


def test_a_routed_rail_is_shortened_onto_a_space() -> None:
    """Of 80, its middle hole at 40; the spaces beside it are at 37 5/8 and 42 3/8. A rail of 60 about 42 3/8 reaches
    from 12 3/8 to 72 3/8; one of 76 would reach to 80 3/8, and is not there."""
    changed("H,routed,80,1,hole,,\n", "H,routed,60,1,space,,\n")
    assert sticks() == [] and lying() == {}
    for name in ("rack.db", "was.json", "now.json"):
        Path(name).unlink()
    changed("H,routed,80,1,hole,,\n", "H,routed,76,1,space,,\n")
    (stick,) = sticks()
    assert stick["tag"] is None and [cut["length"] for cut in stick["cuts"]] == [76]
    (row,) = lying().values()
    assert (row["length"], row["first_hole"], row["sawn_ends"]) == ("80", "2", "2")  # 40 less 8 x 4 3/4


@pytest.mark.parametrize(("centred", "first", "start"), [
    ("hole", "2", 1.25),      # 40 - 8 x 4 3/4; holes at 2, 6 3/4, 11 1/2, 16 1/4: 30 about the last of these
    ("space", "4.375", 3.625),  # 37 5/8 - 7 x 4 3/4; holes at 4 3/8, 9 1/8, 13 7/8, 18 5/8: 30 about the last
])
def test_a_cancelled_routed_rail_is_an_offcut_with_its_holes_and_is_cut_from(
        centred: str, first: str, start: float) -> None:
    """A sawn end needs no trim; of what is cut off 80, a kerf of 1/8 and the rest is in hand."""
    changed(f"H,routed,80,1,{centred},,\n", "K,routed,30,1,hole,,\n")
    ((tag, row),) = lying().items()
    assert (row["length"], row["first_hole"], row["sawn_ends"]) == ("80", first, "2")
    (stick,) = sticks()
    (cut,) = stick["cuts"]
    assert (stick["tag"], cut["start"], cut["end"]) == (tag, start, start + 30)
    good("book", "now.json")
    (left,) = lying().values()
    assert float(left["length"]) == 80 - (start + 30) - 0.125 and left["sawn_ends"] == "2"
    hole = float(first) + 4.75 * next(k for k in range(20) if float(first) + 4.75 * k >= start + 30.125)
    assert float(left["first_hole"]) == hole - (start + 30.125)


@pytest.mark.parametrize(("was", "now", "serves"), [
    ("50,1,,1,0", "49,1,,0,0", True),   # whole on both edges from 1 to 50
    ("50,1,,1,0", "49.5,1,,0,0", False),
    ("50,1,,1,1", "48,1,,0,0", True),   # from 1 to 49
    ("50,1,,1,1", "49,1,,0,0", False),
    ("50,1,,-1,0", "50,1,,0,0", True),  # its bottom corner lies beyond its top one: from 0 to 50
    ("50,1,,0,0", "49,1,,1,0", True),   # along the top 49, and the bottom begins 1 further in
    ("50,1,,0,0", "50,1,,-1,0", False),  # it would begin 1 before the piece
    ("50,1,,0,0", "29.9,1,,0,0", True),   # what comes off, 50 - 29.9 - 1/8, is less than 20, and not kept
    ("50,1,,0,0", "29.5,1,,0,0", False),  # 20 3/8 would be kept
])
def test_a_sloped_rail_serves_as_what_lies_within_it_on_both_edges(was: str, now: str, serves: bool) -> None:
    changed(f"P,sloped,{was}\n", f"Q,sloped,{now}\n")
    assert (lying() == {}) == serves  # else it lies there, and what is asked for is planned
    assert (sticks() == []) == serves


@pytest.mark.parametrize(("was", "length", "sawn", "slope"), [
    ("50,1,,1,0", "49", "1", "0.5"),    # the shorter edge; 1 over a face of 2
    ("50,1,,0,-1", "50", "1", "-0.5"),
    ("50,1,,1,1", "48", "0", "0.5"),
    ("50,1,,0,0", "50", "2", ""),
])
def test_a_cancelled_sloped_rail_is_an_offcut_by_its_shorter_edge(was: str, length: str, sawn: str, slope: str) -> None:
    changed(f"P,sloped,{was}\n", "R,routed,30,1,,,\n")
    (row,) = lying().values()
    assert (row["length"], row["sawn_ends"]) == (length, sawn) and row["end_slope"] in (slope, slope or "0")
