"""If these fail, a gate is drawn or set out wrong, or a label is missing."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan import cli, cut
from cutplan.lengths import read_length
from cutplan.orders import load_inputs
from cutplan.problems import Findings
from cutplan.sheets.bench.cards import EDGE, HIGH, WIDE, cards_section
from cutplan.sheets.bench.labels import grid
from cutplan.sheets.takeoffjson import opening
from cutplan.sheets.words import Writer
from cutplan.takeoff import take_off
from cutplan.takeoff.carried import as_fields, from_fields

F = Fraction
DEMO = Path(__file__).resolve().parent.parent.parent.parent / "data" / "demo"
SHOP, WEEK = str(DEMO / "shop.toml"), str(DEMO / "week.csv")
WRITE = Writer("in", F(1, 16))


@pytest.fixture(scope="module")
def cards():  # type: ignore[no-untyped-def]
    shop, orders = load_inputs(SHOP, WEEK)
    return list(take_off(orders, shop).cards)  # type: ignore[arg-type]


def test_a_card_is_the_same_when_a_plan_has_carried_it(cards) -> None:  # type: ignore[no-untyped-def]
    found = Findings("plan.json")
    assert [from_fields(as_fields(card), "", found) for card in cards] == cards and not found.problems
    for slip in ({"mark": "G1"}, {**as_fields(cards[0]), "height": "tall"}, {**as_fields(cards[0]), "parts": 3},
                 {**as_fields(cards[0]), "squared": []}, {**as_fields(cards[0]), "posts": F(-3)},
                 {**as_fields(cards[0]), "layout": {**as_fields(cards[0])["layout"], "count": 99}},
                 {**as_fields(cards[0]), "layout": {**as_fields(cards[0])["layout"], "marks": []}}):
        assert from_fields(slip, "cards[0]", found) is None
    assert len(found.problems) == 7


FORMS = """mark,kind,system,qty,opening,height,leaves,hinges,opening_bottom,rake
G1,gate,lantern,1,42,48,,right,41 1/2,5%
G2,gate,breakwater,2,96,60,2,,,
B1,bay,lantern,2,72 1/4,42,,,71 5/8,
B2,bay,lantern,1,72 1/4,42,,,,7 5/8:10
B3,bay,breakwater,1,100,42,,,,-1:3
"""


def test_every_part_is_drawn_to_scale_within_half_a_pixel(cards, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """From the outlines of the takeoff's JSON, put to the drawing's scale again; posts of bays by their faces."""
    week = tmp_path / "week.csv"
    week.write_text(FORMS, encoding="utf-8")
    shop, orders = load_inputs(SHOP, week)
    more = list(take_off(orders, shop).cards)  # type: ignore[arg-type]
    for card in (*cards, *more):
        parts = opening(card)["parts"]
        svg = re.search(r'<svg class="card .*?</svg>', cards_section([card], WRITE), re.S)[0]  # type: ignore[index]
        drawn = [(look, [tuple(map(float, point.split(","))) for point in points.split()]) for look, points in
                 re.findall(r'<polygon class="(\w+)" points="([^"]+)"', svg)]
        placed = [[(float(x), float(y)) for x, y in part["outline"]] for part in parts]
        shown = [corners for look, corners in drawn if look not in ("post", "fitting")]
        assert len(shown) == len(placed)
        (low, high), (left, right) = span(placed, 1), span(placed, 0)
        scale = (span(shown, 0)[1] - span(shown, 0)[0]) / (right - left)
        x0, y0 = span(shown, 0)[0] - left * scale, span(shown, 1)[1] + low * scale
        put = sorted(sorted((x0 + x * scale, y0 - y * scale) for x, y in outline) for outline in placed)
        for mine, its in zip(put, sorted(sorted(corners) for corners in shown), strict=True):
            assert all(abs(a - c) < 0.5 and abs(b - d) < 0.5 for (a, b), (c, d) in zip(mine, its, strict=True))
        assert (right - left) * scale <= WIDE + 0.5 and (high - low) * scale <= HIGH + 0.5
        assert span(shown, 0)[0] >= EDGE - 0.5 and span(shown, 1)[0] >= EDGE - 0.5
        posts = [corners for look, corners in drawn if look == "post"]
        assert len(posts) == (2 if card.kind == "bay" else 0)
        faces = [x0, x0 + float(card.opening) * scale]
        for face, post in zip(faces, posts, strict=False):
            assert any(abs(x - face) < 0.5 for x, _ in post)
        assert svg.count('class="diagonal"') == max(1, card.leaves) + bool(card.rake)


RUNS = """mark,kind,system,qty,opening,height,rake,ends
R1,run,ropewalk,1,41 ft 6 in,48,,walls
R2,run,ropewalk,1,258,45,-1:4,posts
R3,run,ropewalk,1,300,45,7 5/8:10,walls
"""


def test_a_run_is_drawn_with_its_setting_out_marks(tmp_path: Path) -> None:
    """A tick and a figure at the left face of each post: level under the drawing, and over it along the rake, which is
    level x sqrt(1 + rake^2) as a tape of sixteenths has it; the ground and the posts lie as the run does."""
    week = tmp_path / "week.csv"
    week.write_text(RUNS, encoding="utf-8")
    shop, orders = load_inputs(SHOP, week)
    for card in take_off(orders, shop).cards:  # type: ignore[arg-type]
        svg = re.search(r'<svg class="card .*?</svg>', cards_section([card], WRITE), re.S)[0]  # type: ignore[index]
        drawn = [[tuple(map(float, point.split(","))) for point in points.split()]
                 for points in re.findall(r'<polygon class="side" points="([^"]+)"', svg)]
        drawn += [[tuple(map(float, point.split(","))) for point in points.split()]
                  for points in re.findall(r'<polygon class="post" points="([^"]+)"', svg)]
        placed = [part["outline"] for part in opening(card)["parts"] if part["part"] == "post"]
        said = re.findall(r'<text class="mark" .*?translate\(([\d.]+) ([\d.]+)\) rotate\(-90\)">([^<]+)<', svg)
        level = [(float(x), text) for x, _, text in said if "along" not in text]
        along = [(float(x), text.removesuffix(" along")) for x, _, text in said if "along" in text]
        assert len(level) == len(placed) and len(along) == (len(placed) if card.rake else 0)
        for k, outline in enumerate(placed):
            assert level[k][1] == WRITE.length(outline[0][0])
            if card.rake:
                sloped = float(outline[0][0]) * (1 + float(card.rake) ** 2) ** 0.5
                assert abs(float(read_length(along[k][1].removeprefix("~"), "in", zero_ok=True)) - sloped) <= 1 / 32
                assert along[k][0] == level[k][0]
            assert any(abs(level[k][0] - min(x for x, _ in corners)) < 0.01 for corners in drawn)
        ground = re.findall(r'<line class="ground" x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"', svg)
        x1, y1, x2, y2 = map(float, ground[-1])
        assert abs((y1 - y2) / (x2 - x1) - float(card.rake)) < 0.001
        _, _, wide, high = map(float, re.search(r'viewBox="([^"]+)"', svg)[1].split())  # type: ignore[index]
        assert all(0 < float(x) < wide and 0 < float(y) < high for x, y, _ in said)


def span(outlines: list[list[tuple[float, ...]]], of: int) -> tuple[float, float]:
    found = [point[of] for outline in outlines for point in outline]
    return min(found), max(found)


def test_the_page_has_a_card_for_each_line_and_the_labels_a_row_for_each_piece(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    week = '=G1,gate,lantern,2,38 1/2,36,"<i>Row</i>"\nB2,bay,breakwater,1,70,42,\n'
    Path("week.csv").write_text("mark,kind,system,qty,opening,height,where\n" + week, encoding="utf-8")

    def run(*words: str) -> str:
        result = CliRunner().invoke(cli.app, list(words), catch_exceptions=False)
        assert result.exit_code == 0, result.stderr
        return result.stdout

    run("cut", "week.csv", "--shop", SHOP, "--rack", "rack.db", "--json", "plan.json")
    run("check", "plan.json")
    run("sheets", "plan.json", "--out", "page.html", "--labels", "labels.csv", "--each", "--paper", "a4")
    page = Path("page.html").read_text(encoding="utf-8")
    assert page.count('<article class="card">') == 2 and "&lt;i&gt;Row&lt;/i&gt;" in page and "<i>" not in page
    plan = json.loads(Path("plan.json").read_text(encoding="utf-8"))
    asked = sum(entry["qty"] for profile in plan["profiles"] for entry in profile["demand"])
    tags = [tag for profile in plan["profiles"] for stick in profile["sticks"] for tag in stick.get("offcut_tags", [])]
    rows = list(csv.DictReader(io.StringIO(Path("labels.csv").read_text(encoding="utf-8"))))
    assert len(rows) == asked + len(tags) and [row["tag"] for row in rows if row["tag"]] == tags
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "-", "@"))]
    assert {row["gate"] for row in rows if not row["tag"]} == {"'=G1", "B2"}
    sheet = run("sheets", "plan.json", "--labels", "-", "--each", "--grid", "7x2")
    assert sheet.count("<section>") == -(-len(rows) // 14) and sheet.count("<div>") == len(rows)
    assert "half cut at once" in run("sheets", "plan.json", "--sequence")


@pytest.mark.parametrize("wrong", ["", "3", "3by4", "0x3", "3x0", "x3", "100x3", "-1x3"])
def test_what_is_no_grid_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError, match="rows x columns"):
        grid(wrong, F(10), F(5))


def test_a_plan_with_cards_of_before_is_still_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its sticks are booked and must be cut; only its cards cannot be drawn, which is told."""
    monkeypatch.chdir(tmp_path)
    Path("week.csv").write_text("mark,kind,system,qty,opening,height\nG1,gate,lantern,1,38 1/2,36\n", encoding="utf-8")
    plan = cut("week.csv", SHOP).plan
    replace(plan, cards=({"mark": "G1", "kind": "gate", "marks": [F(1), F(2)], "rail": F(40)},)).save("plan.json")
    result = CliRunner().invoke(cli.app, ["sheets", "plan.json", "--out", "page.html"])
    page = Path("page.html").read_text(encoding="utf-8")
    assert result.exit_code == 0 and "older cutplan" in result.stderr
    assert "Layout cards" not in page and "G1 top rail" in page
