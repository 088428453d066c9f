"""If these fail, what is shown of the rack is not what lies there, or a spreadsheet runs what somebody wrote on it."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.problems import InputProblems
from cutplan.rack import shelf
from cutplan.rack.report import report
from cutplan.rack.store import changing, reading
from cutplan.rack.tags import tag_of
from cutplan.sheets import rack as sheets
from cutplan.shop import load_shop

F = Fraction
DEMO = Path(__file__).resolve().parent.parent.parent / "data" / "demo" / "shop.toml"
FORMULAS = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1")


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    return tmp_path / "rack.db"


def test_nothing_somebody_wrote_becomes_a_formula(rack: Path) -> None:
    with changing(rack) as now:
        for text in FORMULAS:
            shelf.add(now, text, F(40), note=text)
        shelf.scrap(now, [shelf.offcuts(now)[0].tag], note="=2+2")
        offcuts, events, made = shelf.offcuts(now), shelf.history(now), report(now, load_shop(DEMO))
    for text in (sheets.shelf_csv(offcuts, []), sheets.history_csv(events), sheets.report_csv(made)):
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
        assert any(cell.startswith("'=1+1") for cell in cells)


def test_all_three_ways_show_the_same_offcuts(rack: Path) -> None:
    with changing(rack) as now:
        shelf.add(now, "box-rail", F(289, 7), 2, note="by the door")
        shelf.add(now, "base", F(50), first=F(19, 8))
        shelf.count(now, "box-rail", F(240), 7)
        offcuts, counts = shelf.offcuts(now), shelf.counts(now)
    read = json.loads(sheets.shelf_json(offcuts, counts, "in"))
    rows = list(csv.DictReader(io.StringIO(sheets.shelf_csv(offcuts, counts))))
    text = sheets.shelf_text(offcuts, counts, "in")
    assert [one["tag"] for one in read["offcuts"]] == [row["tag"] for row in rows if row["tag"]]
    assert {row["length"] for row in rows} == {"41.285714", "50", "240"}
    assert {row["length_exact"] for row in rows} == {"289/7", ""}
    assert [row["qty"] for row in rows if not row["tag"]] == ["7"] and read["counted"][0]["qty"] == 7
    assert all(one.tag in text for one in offcuts) and "3 offcuts" in text and "~41 5/16" in text


def test_what_is_scrapped_is_scrapped_all_together(rack: Path) -> None:
    with changing(rack) as now:
        tags = [one.tag for one in shelf.add(now, "rail", F(40), 3)]
        shelf.scrap(now, tags[:1])
    slip = tags[1][:-1] + ("4" if tags[1][-1] != "4" else "7")
    with pytest.raises(InputProblems) as wrong, changing(rack) as now:
        shelf.scrap(now, [tags[2], tags[0], slip, "none"])
    said = str(wrong.value)
    assert f"{tags[0]} left the rack: scrapped" in said and f"did you mean {tags[1]}?" in said
    assert "is no tag as cutplan writes them" in said and len(wrong.value.problems) == 3
    with reading(rack) as now:
        assert [one.tag for one in shelf.offcuts(now)] == tags[1:]


def test_a_tag_is_known_however_it_is_typed(rack: Path) -> None:
    with changing(rack) as now:
        (one,) = shelf.add(now, "rail", F(40))
        shelf.scrap(now, [f" {one.tag[:2].lower()}-{one.tag[2:].lower()}"])
        assert shelf.offcuts(now) == [] and [e.what for e in shelf.history(now, one.tag.lower())] == [
            "added", "scrapped"]


def test_a_count_may_not_fall_below_what_is_held(rack: Path) -> None:
    with changing(rack) as now:
        shelf.count(now, "rail", F(96), 4)
        assert shelf.count(now, "rail", F(96), 3, more=True).qty == 7
        now.do("INSERT INTO holds (plan, name, at, profile, length, qty) VALUES ('x', 'x.json', '', 'rail', '96', 5)")
        with pytest.raises(InputProblems, match="5 are held"):
            shelf.count(now, "rail", F(96), 4)


def test_the_report_adds_up_and_names_what_is_old_and_what_nothing_can_use(rack: Path) -> None:
    shop = load_shop(DEMO)
    start = datetime(2025, 1, 10, 8)
    moved: list[tuple[int, F]] = []
    for month in range(14):
        with changing(rack, clock=lambda at=start + timedelta(days=30 * month): f"{at.isoformat()}Z") as now:  # type: ignore[misc]
            shelf.add(now, "box-rail", F(40 + month))
            moved.append((1, F(40 + month)))
            if month % 3 == 2:
                gone = shelf.offcuts(now, "box-rail")[0]
                shelf.scrap(now, [gone.tag])
                moved.append((-1, -gone.length))
            if month == 13:
                shelf.add(now, "none-such", F(40))
                shelf.add(now, "box-rail", F(20))
                shelf.add(now, "box-upright", F(1, 4))
                made = report(now, shop)
                here = shelf.offcuts(now)
    last = made.months[-1]
    rails = next(flow for flow in made.profiles if flow.name == "box-rail")
    assert rails.left == sum(n for n, _ in moved) + 1
    assert rails.left_length == sum(length for _, length in moved) + 20
    assert last.left == len(here) and last.left_length == sum((one.length for one in here), F(0))
    cheapest = min(F("19.30") / 144, F("25.40") / 192, F("31.10") / 240)  # the demo's prices, per inch
    assert rails.worth == rails.left_length * cheapest
    assert sum(flow.came for flow in made.months) == 14 + 3 and sum(flow.went for flow in made.months) == 4
    year_ago = (start + timedelta(days=30 * 13 - 365)).isoformat()
    assert {one.tag for one in made.old} == {one.tag for one in here if one.came < year_ago} and made.old
    assert sorted(why.split(",")[0] for _, why in made.useless) == [
        "its trims leave nothing of it", "shorter than 36", "the shop file has no such profile"]


def test_a_tag_that_came_from_elsewhere_is_not_given_again(tmp_path: Path) -> None:
    """As when a plan made with another rack is booked on this one: its offcuts keep the tags written on them."""
    rack = tmp_path / "rack.db"
    with changing(rack) as now:
        now.do("INSERT INTO plans (plan, name, at, first, last) VALUES (?,?,?,1,1)", "0" * 16, "other.json", now.now)
        booking = now.do("INSERT INTO bookings (plan, name, at, sticks) VALUES (?,?,?,1)",
                         "0" * 16, "other.json", now.now)
        now.do("INSERT INTO booked (booking, first, last) VALUES (?,1,1)", booking)
        shelf.put(now, [shelf.Offcut(tag_of(2), "rail", F(70), None, now.now, "other.json, stick 1")])
        shelf.remember(now, "kept", shelf.offcuts(now), booking=booking, note="from other.json")
        tags = [one.tag for one in shelf.add(now, "rail", F(60), 4)]
    assert tags == [tag_of(n) for n in (0, 1, 3, 4)]
    with reading(rack) as now:
        assert sorted(one.length for one in shelf.offcuts(now)) == [60, 60, 60, 60, 70]
