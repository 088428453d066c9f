"""If these fail, a sheet of labels is printed on which something is cut off or written over something else."""

from __future__ import annotations

import csv
import io
import random
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.plan import Plan, numbered
from cutplan.running.budget import Budget
from cutplan.sheets.bench.labels import Grid, labels_csv, labels_page
from tests.rack.workshop import SHOP
from tests.sheets.bench.browser import FOUND, Browser

F = Fraction
LETTERS = "mwMW@%ABCabcilt. -\u00e9\u0416\u6728"
# The cells in which something does not fit: by its own measure, or by where its paragraphs end.
SPILT = """[...document.querySelectorAll('div')].filter(function(cell){
var box=cell.getBoundingClientRect(),parts=[...cell.children].map(p=>p.getBoundingClientRect());
return cell.scrollHeight>cell.clientHeight||cell.scrollWidth>cell.clientWidth||
parts.some((p,k)=>p.bottom>box.bottom+.5||p.right>box.right+.5||(k&&p.top<parts[k-1].bottom-.5))
}).map(cell=>cell.textContent)"""
TYPE = "parseFloat(getComputedStyle(document.querySelector('div p:last-child')).fontSize)"


def random_plan(seed: int) -> Plan:
    """Marks and gates short and long, of letters wide and narrow."""
    chance = random.Random(seed)

    def name(most: int) -> str:
        return "M" + "".join(chance.choices(LETTERS, k=chance.randint(1, most)))

    most = chance.choice([6, 20, 60])
    pieces = [Piece(name(most), "rail", F(chance.randint(160, 1300), 16), 2, name(most)) for _ in range(6)]
    return cut_pieces(pieces, SHOP, Budget(0.3))


def spilt(browser: Browser, file: Path, page: str) -> object:
    file.write_text(page, encoding="utf-8")
    browser.open(file)
    assert browser.evaluate(TYPE) >= 7 * 96 / 72 - 0.01  # 7 points, in pixels
    assert browser.evaluate("document.querySelectorAll('section').length") >= 1
    return browser.evaluate(SPILT)


def test_every_piece_has_its_label_or_its_bundle() -> None:
    """Counted again off the sticks; lengths as a tape reads them, and exactly beside."""
    for seed in range(4):
        plan = replace(random_plan(seed), tape=F(1, 8))
        cut: Counter[tuple[str, str, F]] = Counter()
        on: dict[tuple[str, str, F], set[int]] = {}
        for one in numbered(plan):
            for piece in one.stick.cuts:
                key = plan.profiles[one.profile].profile, piece.mark, piece.length
                cut[key] += one.stick.count
                on.setdefault(key, set()).update(range(one.first, one.last + 1))
        for each in (False, True):
            rows = list(csv.DictReader(io.StringIO(labels_csv(plan, each))))
            told: Counter[tuple[str, str, F]] = Counter()
            sticks: dict[tuple[str, str, F], set[int]] = {}
            for row in rows:
                key = row["profile"], row["mark"].removeprefix("'"), F(row["exact"])
                told[key] += int(row["qty"])
                for span in row["stick"].split(", "):
                    ends = list(map(int, span.split(" to ")))
                    sticks.setdefault(key, set()).update(range(ends[0], ends[-1] + 1))
                reading = sum(map(F, row["length"].removeprefix("~").split()))
                assert (reading == key[2]) == (not row["length"].startswith("~")) and abs(reading - key[2]) <= F(1, 16)
            assert told == cut and sticks == on
            assert len(rows) == (sum(cut.values()) if each else len(cut))


def test_the_label_of_an_offcut_with_holes_says_where_they_are() -> None:
    """A rail of 193, holes 2 3/8 from its raw end and every 4 3/4 on; one piece of 60 and a kerf off it: what is
    left begins at its last cut. Laid out by hand: a centred rail has its middle on a hole, or between two."""
    plan = cut_pieces([Piece("H", "holed", F(60), 1, "G1", centred="hole")], SHOP, Budget(5))
    (profile,) = plan.profiles
    (stick,) = profile.sticks
    plan = replace(plan, profiles=(replace(profile, sticks=(replace(stick, offcut_tags=("CFK",)),)),))
    end = stick.cuts[-1].end + F(1, 8)
    first = next(at - end for k in range(50) if (at := F(19, 8) + k * F(19, 4)) >= end)
    assert (stick.cuts[-1].start + stick.cuts[-1].end) / 2 % F(19, 4) == F(19, 8)
    (row,) = [row for row in csv.DictReader(io.StringIO(labels_csv(plan))) if row["tag"]]
    assert F(row["first_hole"]) == first and F(row["length"].split()[0]) <= 193 - end and row["plain_end"] == "0"
    page = labels_page(plan, Grid(10, 3, F(127, 10), F(5)), "letter")
    assert re.search(r"CFK offcut, one end sawn.*first hole ~?[\d /]+ in from its sawn end", page, re.S)


@pytest.mark.skipif(FOUND is None, reason="there is no chromium on this machine")
def test_a_grid_that_is_taken_prints_every_label_whole(tmp_path: Path) -> None:
    taken = refused = 0
    with Browser() as browser:
        for seed in range(4):
            plan, chance = random_plan(seed), random.Random(seed)
            for _ in range(6):
                paper = chance.choice(["letter", "a4"])
                grid = Grid(chance.randint(3, 24), chance.randint(1, 7), F(127, 10), F(5))
                try:
                    page = labels_page(plan, grid, paper)
                except ValueError:
                    refused += 1
                    continue
                taken += 1
                assert spilt(browser, tmp_path / "labels.html", page) == [], (seed, grid)
    assert taken > 5 and refused > 3


def test_the_grids_named_in_a_refusal_are_taken_and_one_row_more_is_not() -> None:
    plan = random_plan(0)
    with pytest.raises(ValueError, match="too small for these labels") as refusal:
        labels_page(plan, Grid(30, 4, F(127, 10), F(5)), "letter")
    named = [tuple(map(int, pair)) for pair in re.findall(r"\b(\d+)x(\d+)\b", str(refusal.value))][1:]
    assert named and named[0][1] == 4
    for rows, columns in named:
        assert labels_page(plan, Grid(rows, columns, F(127, 10), F(5)), "letter")
        with pytest.raises(ValueError, match="too small"):
            labels_page(plan, Grid(rows + 1, columns, F(127, 10), F(5)), "letter")


@pytest.mark.parametrize("grid", [Grid(5, 99, F(0), F(0)), Grid(2, 3, F(100), F(107))])
def test_where_no_room_is_left_it_is_refused_in_words(grid: Grid) -> None:
    with pytest.raises(ValueError, match="too small for these labels"):
        labels_page(random_plan(1), grid, "letter")
