"""If these fail, a gate is set out from a card that is not its own."""

from __future__ import annotations

import html
import re
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan import tables
from cutplan.orders import Order, load_inputs
from cutplan.sheets.bench.cards import cards_section
from cutplan.sheets.takeoff import takeoff_text
from cutplan.sheets.words import Writer
from cutplan.takeoff import take_off

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"
F = Fraction


def text(rows: str, tmp_path: Path) -> str:
    week = tmp_path / "week.csv"
    week.write_text(f"mark,kind,system,qty,opening,height,where\n{rows}\n", encoding="utf-8")
    shop, orders = load_inputs(DEMO / "shop.toml", week)
    return takeoff_text(take_off([o for o in orders if isinstance(o, Order)], shop), shop)


def test_a_card_says_what_the_formulas_give(tmp_path: Path) -> None:
    # by hand: rail 38 1/2 - 1/2 - 3/8 - 2 x 1/8 = 37 3/8; picket 36 - 4 3/4 - 1/8 = 31 1/8; 6 pickets of
    # 1 1/4 in 37 3/8 - 2 x 1 7/8 = 33 5/8 leave 7 gaps of 26 1/8 / 7 = 3.732, to 1/16: 3 3/4;
    # insert 37 3/8 - 1/2
    # top hinge 36 - 2 (the rail's face); bottom hinge 2 below the rail + its face of 1 3/4
    card = " ".join(text("G01,gate,lantern,2,38 1/2,36,Lamp Row", tmp_path).split())
    assert "top hinge 34 above the ground" in card
    assert "bottom hinge 3 3/4 above the ground" in card
    assert "top rail 1 x 37 3/8, lantern-cap; 1 7/8 hidden at each end" in card
    assert "bottom rail 1 x 37 3/8, lantern-base; 1 7/8 hidden at each end" in card
    assert "pickets 6 x 31 1/8, lantern-picket, trimmed equally at both ends" in card
    assert "inserts 2 x 36 7/8" in card
    assert "~3 3/4 between pickets, ~3 3/4 at the ends of 33 5/8 clear" in card
    assert "where Lamp Row" in card


def test_a_bay_says_what_its_posts_hide_and_how_its_rails_are_squared(tmp_path: Path) -> None:
    # by hand: rail 71 1/4 - 2 x 1/8 + 2 x 1 = 73, of which 1 - 1/8 hide at each end; 36 less 2 below are 34 between the
    # rails' outer edges, and sqrt(73^2 + 34^2) = 80.529, to 1/16 80 1/2
    card = " ".join(text("B1,bay,lantern,1,71 1/4,36,", tmp_path).split())
    assert "top rail 1 x 73, lantern-cap; 7/8 hidden at each end" in card
    assert "at the ends of 71 1/4 clear" in card
    assert "diagonals ~80 1/2 each, over 73 x 34, the rails' outer corners" in card


def test_plugs_are_ordered_on_the_card(tmp_path: Path) -> None:
    # by hand: 36 of rail in 37 1/8, 28 1/2 clear; holes 5 apart, pickets of 1 1/2: 5 of them on a hole leave 3 1/2,
    # where a next hole of 1 1/2 just hides; one of the bottom rail is 1 5/8 wide, and 1/16 of it shows at each end
    shop = (DEMO / "shop.toml").read_text(encoding="utf-8")
    routing = '\nrouting = {{ pitch = 5, first = 2.5, hole = "{}" }}\n'
    for name, hole in (("cap", "1 1/2"), ("base", "1 5/8")):
        shop = shop.replace(f"[profiles.lantern-{name}]\n", f"[profiles.lantern-{name}]{routing.format(hole)}")
    shop = shop.replace('picket_width = "1 1/4 in"', 'picket_width = "1 1/2 in"\nplugged = true', 1)
    shop = shop.replace('rail_insertion = "1 7/8 in"', 'rail_insertion = "3 3/4 in"')
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    week = tmp_path / "week.csv"
    week.write_text("mark,kind,system,qty,opening,height\nG1,gate,lantern,1,37 1/8,36\n", encoding="utf-8")
    made, orders = load_inputs(tmp_path / "shop.toml", week)
    taken = take_off([o for o in orders if isinstance(o, Order)], made)
    assert "plugs 2, for the empty holes in sight" in " ".join(takeoff_text(taken, made).split())


def both_sheets(tmp_path: Path, row: str, shop: str) -> tuple[str, str]:
    """One line of a week in a shop as the terminal's text has it, in words, and the page."""
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    (tmp_path / "week.csv").write_text(f"mark,kind,system,qty,opening,height\n{row}\n", encoding="utf-8")
    made, orders = load_inputs(tmp_path / "shop.toml", tmp_path / "week.csv")
    taken = take_off([o for o in orders if isinstance(o, Order)], made)
    return " ".join(takeoff_text(taken, made).split()), cards_section(taken.cards, Writer("in", made.tape))


def in_words(page: str) -> str:
    page = html.unescape(re.sub("<(/?)([a-z]+)[^>]*>", lambda tag: " " * (tag[2] in ("dt", "dd", "li")), page))
    return " ".join(page.replace("\u202f", " ").replace("\u2044", "/").split())


@pytest.mark.parametrize(("opening", "max_gap", "gaps"), [
    ("17", "3 15/16 in", "gaps 3 3/4 between pickets, 2 7/8 at the ends of 17 clear;"),
    ("17", "3 1/2 in", "gaps 3 3/4 between pickets (the holes' pitch makes it so: max_gap is 3 1/2), 2 7/8 at the"),
    ("6", "3 1/2 in", "gaps 2 3/8 at the ends of 6 clear;"),
    ("3", "3 1/2 in", "gaps none, for there are no pickets: 3 clear"),
])  # fmt: skip
def test_only_gaps_that_are_there_are_said(tmp_path: Path, opening: str, max_gap: str, gaps: str) -> None:
    """By hand: holes 5 apart and pickets of 1 1/4 leave 3 3/4; three take 11 1/4 of 17, one 1 1/4 of 6."""
    shop = (DEMO / "shop.toml").read_text(encoding="utf-8").replace('max_gap = "3 15/16 in"', f'max_gap = "{max_gap}"')
    for name in ("cap", "base"):
        holes = "routing = { pitch = 5, first = 2.5 }"
        shop = shop.replace(f"[profiles.lantern-{name}]\n", f"[profiles.lantern-{name}]\n{holes}\n")
    said, page = both_sheets(tmp_path, f"B1,bay,lantern,1,{opening},36", shop)
    assert gaps in said and gaps in in_words(page)


@pytest.mark.parametrize("row", ["G1,gate,lantern,2,38 1/2,36", "B1,bay,breakwater,1,70,42"])
def test_the_page_says_what_the_terminal_says(tmp_path: Path, row: str) -> None:
    """Every fact of the page's card, word for word."""
    said, page = both_sheets(tmp_path, row, (DEMO / "shop.toml").read_text(encoding="utf-8"))
    facts = [in_words(f"<dt>{name}</dt> <dd>{fact}</dd>") for name, fact in re.findall(
        "<dt>(.*?)</dt>.*?<dd>(.*?)</dd>", page, re.S)]
    missing = [fact for fact in facts if fact not in said.replace(" | ", " ")]
    assert len(facts) > (20 if row.startswith("G") else 12) and not missing


def test_both_hinges_stand_on_both_cards_though_the_rails_faces_are_not_known(tmp_path: Path) -> None:
    shop, *_ = (DEMO / "shop.toml").read_text(encoding="utf-8").partition("[systems.ropewalk]")  # which needs faces
    said, page = both_sheets(tmp_path, "G1,gate,lantern,1,38 1/2,36", re.sub("(?m)^face = .*", "", shop))
    for sheet in (said, in_words(page)):
        assert "top hinge its top" in sheet and "bottom hinge its bottom" in sheet


def test_the_pieces_are_counted(tmp_path: Path) -> None:
    # two gates: 2 rails, 2 inserts, 2 uprights and 6 pickets each
    assert "24 pieces" in text("G01,gate,lantern,2,38 1/2,36,", tmp_path)


def test_a_reminder_stands_once_with_its_marks_and_decides_nothing(tmp_path: Path) -> None:
    sheet = text("B1,bay,breakwater,1,72,42,\nB2,bay,breakwater,1,72,42,", tmp_path)
    assert " ".join(sheet.split()).count("2018 IRC R312.1.3") == 1
    assert "For: B1, B2." in " ".join(sheet.split())
    assert "Local codes, the authority that enforces them and licensed practice decide" in sheet


def test_a_name_cannot_steer_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "can_be_printed", lambda _: True)  # it is refused when it is read; if it were not:
    assert "\x1b" not in text("G01,gate,lantern,1,38 1/2,36,\x1b[2J", tmp_path)
