"""If these fail, the railing of a stair is cut, spaced or reminded otherwise than published figures ask for."""

from __future__ import annotations

import io
from fractions import Fraction as F

import pytest

from cutplan.orders import Order, load_orders
from cutplan.sheets.takeoff import takeoff_text
from cutplan.sheets.words import Writer
from cutplan.shop import load_shop
from cutplan.takeoff import Takeoff, take_off

SHOP = """\
unit = "in"
saw.kerf = "1/8"
tape = "1/64"
codes.apply = [@CODES@]
[profiles]
rail = { kind = "rail", face = 2, stock = [ { length = 240 } ] }
picket = { kind = "picket", stock = [ { length = 240 } ] }
[systems.s]
top_rail = "rail"
bottom_rail = "rail"
picket = "picket"
picket_width = 1
max_gap = "@GAP@"
picket_allowance = 4
below_bottom_rail = 2
[systems.s.bay]
end_clearance = 1
rail_insertion = 1
"""
GUARDS = '"IRC 2018 guards"'
SPHERES, HEIGHTS = "IRC R312.1.3, exceptions", "IRC R312.1.2, exceptions"


def made(row: str, gap: str = "3 15/16", codes: str = "") -> tuple[Takeoff, str]:
    """One bay (opening,height,rake), whose rails are as long, level, as its opening; and what is printed."""
    shop = load_shop(io.StringIO(SHOP.replace("@CODES@", codes).replace("@GAP@", gap)))
    week = f"mark,kind,system,qty,opening,height,rake\nB1,bay,s,1,{row}\n"
    taken = take_off([one for one in load_orders(io.StringIO(week), shop) if isinstance(one, Order)], shop)
    return taken, " ".join(takeoff_text(taken, shop).split())


def test_a_rail_of_72_level_by_7_5_8_in_10() -> None:
    """Journal of Light Construction, seen: 37.3 deg; computed: 37.326, and 72 level is 90.543 along. A plumb cut over a
    face of 2 is set in 2 x 0.7625 = 1.525 (arithmetic)."""
    taken, said = made("72,36,7 5/8:10")
    (rail, *_) = taken.pieces
    assert abs(rail.length - F("90.543")) <= F(1, 128) + F(1, 1000) and (64 * rail.length).denominator == 1
    assert (rail.left_in, rail.right_in) == (F("-1.525"), F("1.525"))
    assert "~37.3 deg (7 5/8:10) from level" in said and "~37.3 deg (7 5/8:10) off square" in said
    assert "~90 35/64" in said


def test_the_clear_gap_is_the_level_one() -> None:
    """4 3/8 level is 5.502 along a rake of 7 5/8 in 10, and a pitch of 4 3/4 is 5.973 (computed)."""
    fine = Writer("mm", F(1, 1000))
    assert fine.along(F(35, 8), F(61, 80)) == "~5.502" and fine.along(F(19, 4), F(61, 80)) == "~5.973"
    level, raked = (made(f"72,36,{rake}")[0].cards[0].layout for rake in ("", "7 5/8:10"))
    assert level == raked


@pytest.mark.parametrize(("opening", "out"), [("31 3/16", False), ("31 1/4", True)])
def test_a_sphere_of_4_3_8_beside_a_stair(opening: str, out: bool) -> None:
    """IRC R312.1.3, exceptions, at second hand: 4 3/8 in shall not pass, so that (31 1/4 - 5) / 6, exactly that, is out
    and (31 3/16 - 5) / 6 is not; along the rake both are more than 5."""
    _, said = made(f"{opening},36,7 5/8:10", gap="4 7/16", codes=GUARDS)
    line = next(part for part in said.split("- ") if SPHERES in part)
    assert "a 4 3/8 in sphere shall not pass, nor a 6 in sphere through the triangle of tread, riser and bottom" in line
    assert ("the widest gap here is not within that" in line) == out


@pytest.mark.parametrize(("codes", "rake", "told"), [
    (GUARDS, "7 5/8:10", True), (GUARDS, "-7 5/8:10", True), (GUARDS, "", False), ('"IBC guards"', "7 5/8:10", False),
    ("", "7 5/8:10", False),
])  # fmt: skip
def test_stairs_are_reminded_in_the_sets_that_apply(codes: str, rake: str, told: bool) -> None:
    """34 in, and 34 to 38 in where the top is the handrail: IRC R312.1.2, exceptions, at second hand. Nothing else here
    is near a limit: gaps of 2, and 45 high."""
    _, said = made(f"59,45,{rake}", gap="2", codes=codes)
    assert (f"{SPHERES}, figures not checked" in said) == (f"{HEIGHTS}, figures not checked" in said) == told
    if told:
        assert "at least 34 in high, and 34 in to 38 in where its top is also the handrail. Local codes" in said
        assert "complian" not in said and "safe" not in said
