"""If these fail, a gate is drawn or set out wrong, or a label is missing."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan import cli
from cutplan.orders import load_inputs
from cutplan.problems import Findings
from cutplan.sheets.bench.cards import EDGE, HIGH, WIDE, cards_section
from cutplan.sheets.bench.labels import grid
from cutplan.sheets.words import Writer
from cutplan.takeoff import take_off
from cutplan.takeoff.carried import as_fields, drawn, from_fields

F = Fraction
DEMO = Path(__file__).resolve().parent.parent.parent.parent / "data" / "demo"
SHOP, WEEK = str(DEMO / "shop.toml"), str(DEMO / "week.csv")
WRITE = Writer("in", F(1, 16))


@pytest.fixture(scope="module")
def cards():  # type: ignore[no-untyped-def]
    shop, orders = load_inputs(SHOP, WEEK)
    return [drawn(card, shop) for card in take_off(orders, shop).cards]  # type: ignore[arg-type]


def test_a_card_is_the_same_when_a_plan_has_carried_it(cards) -> None:  # type: ignore[no-untyped-def]
    found = Findings("plan.json")
    assert [from_fields(as_fields(card), "", found) for card in cards] == cards and not found.problems
    for slip in ({"mark": "G1"}, {**as_fields(cards[0]), "height": "tall"}, {**as_fields(cards[0]), "marks": 3}):
        assert from_fields(slip, "cards[0]", found) is None
    assert len(found.problems) == 3


def test_pickets_rails_and_uprights_are_drawn_to_scale(cards) -> None:  # type: ignore[no-untyped-def]
    """From the card's own figures, worked out again: every part within half a pixel."""
    for card in cards:
        svg = re.search(r'<svg class="card".*?</svg>', cards_section([card], WRITE), re.S)[0]  # type: ignore[index]
        parts = [(kind, *map(float, numbers)) for kind, *numbers in re.findall(
            r'<rect class="(\w+)" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', svg)]
        wide = max(card.width, card.opening)
        scale = min(WIDE / wide, HIGH / card.height)
        kinds = Counter(kind for kind, *_ in parts)
        assert kinds["picket"] == len(card.marks) and kinds["rail"] == 2
        assert kinds["insert"] == (2 if card.insert else 0)
        assert kinds["side"] == (2 if card.upright else 0)
        pickets = sorted(x + w / 2 for kind, x, _, w, _ in parts if kind == "picket")
        for at, mark in zip(pickets, sorted(card.marks), strict=True):
            assert abs(at - (EDGE + float(((wide - card.rail) / 2 + mark) * scale))) < 0.5
        for kind, _, y, w, h in parts:
            size = {"picket": (card.picket_width, card.picket), "rail": (card.rail, None),
                    "side": (None, card.height)}.get(kind, (None, None))
            assert size[0] is None or abs(w - float(size[0] * scale)) < 0.5
            assert size[1] is None or abs(h - float(size[1] * scale)) < 0.5
            assert y >= EDGE - 0.5 and y + h <= EDGE + float(card.height * scale) + 0.5
        if card.kind == "bay":
            left, right = sorted((x, x + w) for kind, x, _, w, _ in parts if kind == "post")
            faces = [EDGE + float((wide + side * card.opening) / 2 * scale) for side in (-1, 1)]
            assert abs(left[1] - faces[0]) < 0.5 and abs(right[0] - faces[1]) < 0.5
        diagonal = re.search(r'class="diagonal" x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"', svg)
        x1, y1, x2, y2 = map(float, diagonal.groups())  # type: ignore[union-attr]
        assert abs((x2 - x1) ** 2 + (y2 - y1) ** 2 - float(card.diagonal_squared * scale * scale)) < 100
        gaps = {round(b - a, 3) for a, b in pairwise(pickets)}
        assert len(gaps) <= 3 and (not gaps or max(gaps) - min(gaps) < 0.01)  # the pickets stand evenly


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
    run("sheets", "plan.json", "--out", "page.html", "--labels", "labels.csv", "--paper", "a4")
    page = Path("page.html").read_text(encoding="utf-8")
    assert page.count('<article class="card">') == 2 and "&lt;i&gt;Row&lt;/i&gt;" in page and "<i>" not in page
    plan = json.loads(Path("plan.json").read_text(encoding="utf-8"))
    asked = sum(entry["qty"] for profile in plan["profiles"] for entry in profile["demand"])
    tags = [tag for profile in plan["profiles"] for stick in profile["sticks"] for tag in stick.get("offcut_tags", [])]
    rows = list(csv.DictReader(io.StringIO(Path("labels.csv").read_text(encoding="utf-8"))))
    assert len(rows) == asked + len(tags) and [row["tag"] for row in rows if row["tag"]] == tags
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "-", "@"))]
    assert {row["gate"] for row in rows if not row["tag"]} == {"'=G1", "B2"}
    sheet = run("sheets", "plan.json", "--labels", "-", "--grid", "7x2")
    assert sheet.count("<section>") == -(-len(rows) // 14) and sheet.count("<div>") == len(rows)
    assert "half cut at once" in run("sheets", "plan.json", "--sequence")


@pytest.mark.parametrize("wrong", ["", "3", "3by4", "0x3", "3x0", "x3", "100x3", "-1x3"])
def test_what_is_no_grid_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError, match="rows x columns"):
        grid(wrong, F(10), F(5))
