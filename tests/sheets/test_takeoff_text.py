"""If these fail, a gate is set out from a card that is not its own."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from cutplan.orders import Order, load_inputs
from cutplan.sheets.takeoff import takeoff_text
from cutplan.takeoff import take_off

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"
F = Fraction


def text(rows: str, tmp_path: Path) -> str:
    week = tmp_path / "week.csv"
    week.write_text(f"mark,kind,system,qty,opening,height,where\n{rows}\n", encoding="utf-8")
    shop, orders = load_inputs(DEMO / "shop.toml", week)
    return takeoff_text(take_off([o for o in orders if isinstance(o, Order)], shop), shop.unit, shop.tape)


def test_a_card_says_what_the_formulas_give(tmp_path: Path) -> None:
    # by hand: rail 38 1/2 - 1/2 - 3/8 - 2 x 1/8 = 37 3/8; picket 36 - 4 3/4 - 1/8 = 31 1/8; 6 pickets of
    # 1 1/4 in 37 3/8 - 2 x 1 7/8 = 33 5/8 leave 7 gaps of 26 1/8 / 7 = 3.732, to 1/16: 3 3/4;
    # insert 37 3/8 - 1/2
    # top hinge 36 - 2 (the rail's face); bottom hinge 2 below the rail + its face of 1 3/4
    card = " ".join(text("G01,gate,lantern,2,38 1/2,36,Lamp Row", tmp_path).split())
    assert "top hinge 34 up" in card
    assert "bottom hinge 3 3/4 up" in card
    assert "rails 2 x 37 3/8, 1 7/8 hidden at each end" in card
    assert "pickets 6 x 31 1/8, trimmed equally at both ends" in card
    assert "inserts 2 x 36 7/8" in card
    assert "~3 3/4 between pickets, ~3 3/4 at the ends of 33 5/8 clear" in card
    assert "where Lamp Row" in card


def test_a_bay_says_what_its_posts_hide_and_how_its_rails_are_squared(tmp_path: Path) -> None:
    # by hand: rail 71 1/4 - 2 x 1/8 + 2 x 1 = 73, of which 1 - 1/8 hide at each end; 36 less 2 below are 34 between the
    # rails' outer edges, and sqrt(73^2 + 34^2) = 80.529, to 1/16 80 1/2
    card = " ".join(text("B1,bay,lantern,1,71 1/4,36,", tmp_path).split())
    assert "rails 2 x 73, 7/8 hidden at each end" in card
    assert "at the ends of 71 1/4 clear" in card
    assert "diagonals ~80 1/2 each, over 73 x 34, the rails' outer corners" in card


def test_plugs_are_ordered_on_the_card(tmp_path: Path) -> None:
    # by hand: 35 of rail in 36 1/8, 27 1/2 clear; holes 5 apart, pickets of 1 1/2: 5 of them on a hole leave 3, where a
    # next hole of 1 1/2 hides; one of the bottom rail is 2 5/8 wide, and 1/16 of it shows at each end
    shop = (DEMO / "shop.toml").read_text(encoding="utf-8")
    routing = '\nrouting = {{ pitch = 5, first = 2.5, hole = "{}" }}\n'
    for name, hole in (("cap", "1 1/2"), ("base", "2 5/8")):
        shop = shop.replace(f"[profiles.lantern-{name}]\n", f"[profiles.lantern-{name}]{routing.format(hole)}")
    shop = shop.replace('picket_width = "1 1/4 in"', 'picket_width = "1 1/2 in"\nplugged = true', 1)
    shop = shop.replace('rail_insertion = "1 7/8 in"', 'rail_insertion = "3 3/4 in"')
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    week = tmp_path / "week.csv"
    week.write_text("mark,kind,system,qty,opening,height\nG1,gate,lantern,1,36 1/8,36\n", encoding="utf-8")
    made, orders = load_inputs(tmp_path / "shop.toml", week)
    taken = take_off([o for o in orders if isinstance(o, Order)], made)
    assert "plugs 2, for the empty holes in sight" in " ".join(takeoff_text(taken, "in", made.tape).split())


def test_the_pieces_are_counted(tmp_path: Path) -> None:
    # two gates: 2 rails, 2 inserts, 2 uprights and 6 pickets each
    assert "24 pieces" in text("G01,gate,lantern,2,38 1/2,36,", tmp_path)


def test_a_reminder_stands_once_with_its_marks_and_decides_nothing(tmp_path: Path) -> None:
    sheet = text("B1,bay,breakwater,1,72,42,\nB2,bay,breakwater,1,72,42,", tmp_path)
    assert " ".join(sheet.split()).count("2018 IRC R312.1.3") == 1
    assert "For: B1, B2." in " ".join(sheet.split())
    assert "Local codes, the authority that enforces them and licensed practice decide" in sheet


def test_a_name_cannot_steer_the_terminal(tmp_path: Path) -> None:
    assert "\x1b" not in text("G01,gate,lantern,1,38 1/2,36,\x1b[2J", tmp_path)
