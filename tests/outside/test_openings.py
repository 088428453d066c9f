"""If these fail, gates and bays as they are built come out otherwise than by trade figures and plain geometry.

The figures are common practice, no source, or arithmetic on such figures, unless a test names its source.
"""

from __future__ import annotations

import io
from decimal import Decimal
from fractions import Fraction as F

import pytest

from cutplan.orders import Order, load_orders
from cutplan.sheets.takeoff import takeoff_text
from cutplan.shop import load_shop
from cutplan.takeoff import take_off
from cutplan.takeoff.assembly import diagonals_squared
from cutplan.takeoff.cards import Card
from cutplan.takeoff.hanging import swing_squared

SHOP = """\
unit = "in"
saw.kerf = "1/8"
codes.apply = [@CODES@]
[profiles]
rail = { kind = "rail", face = 2, stock = [ { length = 240 } ]@ROUTING@ }
picket = { kind = "picket", stock = [ { length = 240 } ] }
upright = { kind = "upright", stock = [ { length = 240 } ] }
flat = { kind = "brace", face = 1, stock = [ { length = 240 } ] }
[systems.s]
top_rail = "rail"
bottom_rail = "rail"
picket = "picket"
upright = "upright"
max_gap = "3 15/16"
picket_allowance = 4
below_bottom_rail = "@BELOW@"
@SYSTEM@
[systems.s.gate]
@GATE@
[systems.s.bay]
end_clearance = "1/8"
rail_insertion = 1
"""
USUAL = 'latch_gap = "1/2"\nhinge_gap = "3/8"\nmeeting_gap = "1/2"\nupright_wall = "1/8"\nrail_insertion = "1 7/8"\n'


def made(row: str, *, system: str = 'picket_width = "1 1/4"', gate: str = USUAL, routing: str = "",
         centring: str = "", codes: str = "", below: str = "2") -> tuple[Card, str]:
    """The card of one line of a week (mark,kind,qty,opening,height,leaves,opening_bottom,rake), and what is printed."""
    words = {"SYSTEM": system, "GATE": gate, "CODES": codes, "BELOW": below,
             "ROUTING": f", routing = {{ {routing} }}" if routing else ""}
    text = SHOP
    for word, said in words.items():
        text = text.replace(f"@{word}@", said)
    shop = load_shop(io.StringIO(text))
    mark, kind, *rest = row.split(",")
    week = f"mark,kind,system,qty,opening,height,leaves,opening_bottom,rake\n{mark},{kind},s,{','.join(rest)}\n"
    orders = [one for one in load_orders(io.StringIO(week), shop) if isinstance(one, Order)]
    taken = take_off(orders, shop, {mark: centring} if centring else None)
    return taken.cards[0], " ".join(takeoff_text(taken, shop).split())


def card(row: str, **changes: str) -> Card:
    return made(row, **changes)[0]


def root(square: F) -> Decimal:
    return (Decimal(square.numerator) / Decimal(square.denominator)).sqrt()


def test_a_bay_is_laid_out_over_its_opening() -> None:
    """71 1/4 between posts. Laid out over 71 instead, its end gap would be over 4 and pass a 4 in sphere."""
    bay = card("B01,bay,1,71 1/4,36,,,")
    assert {rail.length for rail in bay.of("top rail", "bottom rail")} == {73}
    assert (bay.layout.clear, bay.layout.count, bay.layout.gap) == (F(285, 4), 13, F(55, 14))
    assert bay.hidden == F(7, 8)
    assert bay.layout.marks[0] == F(7, 8) + F(55, 14) + F(5, 8)
    assert max(bay.layout.gap, bay.layout.wide_end_gap) < 4 < (71 - 13 * F(5, 4)) / 14 + F(1, 8)


def test_a_bay_is_squared_over_its_rails() -> None:
    """Rails of 73, 34 over their outer edges: ~80.53. Over the full height of 36 it would be ~81.39."""
    one, other = diagonals_squared(card("B01,bay,1,71 1/4,36,,,").squared[0])
    assert one == other == 73**2 + 34**2
    assert root(one).quantize(Decimal("0.01")) == Decimal("80.53")
    assert root(F(73**2 + 36**2)).quantize(Decimal("0.01")) == Decimal("81.39")


WIDE = {"system": 'picket_width = "1 1/2"', "routing": 'pitch = 5, first = "2 1/2"',
        "gate": 'latch_gap = 1\nhinge_gap = 1\nupright_wall = "1/4"\nrail_insertion = "3 3/4"\n'}


@pytest.mark.parametrize(("centring", "count", "end_gap"), [("hole", 5, F(3)), ("space", 6, F(1, 2))])
def test_a_routed_gate_on_a_hole_and_on_a_space(centring: str, count: int, end_gap: F) -> None:
    """37 1/2 less 1 and 1 and two walls of 1/4 is 35 of rail, 27 1/2 clear; 3 <= 5 - 1 1/2 hides the next hole."""
    gate = card("G1,gate,1,37 1/2,48,,,", **WIDE, centring=centring)
    assert gate.of("top rail")[0].length == 35
    layout = gate.layout
    assert (layout.clear, layout.centred, layout.count, layout.end_gap) == (F(55, 2), centring, count, end_gap)
    assert set(gate.centrings) == {"hole", "space"}


def test_no_part_of_an_empty_hole_shows() -> None:
    """42 3/8 at a pitch of 4 3/4: 7 pickets leave 3 7/8, over 4 3/4 - 1 1/4 = 3 1/2; 8 of them leave 1 1/2."""
    gate = card("G1,gate,1,42 3/8,48,,,", routing='pitch = "4 3/4", first = 2')
    assert gate.layout.clear == F(75, 2)
    assert (F(75, 2) - F(5, 4) - 6 * F(19, 4)) / 2 == F(31, 8)
    assert (gate.layout.count, gate.layout.end_gap, gate.centrings) == (8, F(3, 2), ("space",))


def test_two_leaves() -> None:
    """96 less 3/8 at either post and 1/2 in the middle is twice 47 3/8; less two walls of 1/8 each a rail of 47 1/8."""
    gate = card("G1,gate,1,96,48,2,,")
    assert [outline[1][0] - outline[0][0] for outline in gate.squared] == [F(379, 8)] * 2
    assert {rail.length for rail in gate.of("top rail", "bottom rail")} == {F(377, 8)}


def test_a_bay_out_of_square() -> None:
    """72 1/4 above and 71 5/8 below: rails 5/8 apart, and 5/16 more at each end of the wide side."""
    bay = card("B1,bay,1,72 1/4,36,,71 5/8,")
    (top,), (bottom,) = bay.of("top rail"), bay.of("bottom rail")
    assert top.length - bottom.length == F(5, 8)
    assert bay.layout.wide_end_gap - bay.layout.end_gap == F(5, 16)


def test_a_brace_of_three_four_and_five() -> None:
    """A frame 36 x 48 inside, which is 3, 4, 5 twelvefold: 60, at 53.13 degrees (the arc tangent of 4/3)."""
    allowances = 'latch_gap = "1/2"\nhinge_gap = "1/2"\nrail_insertion = 1\n'
    gate, said = made("G1,gate,1,39,54,,,", gate=allowances, system='picket_width = 1\nbrace = "flat"')
    (brace,) = gate.of("brace")
    assert (brace.length, brace.right - brace.left, brace.high - brace.low) == (60, 36, 48)
    assert "~53.13 deg from level, 36 across and 48 up" in said


def test_the_far_corner_of_a_leaf_swings_beyond_its_width() -> None:
    """37 5/8 wide and 2 thick: sqrt(37.625^2 + 2^2) - 37.625 = ~0.053."""
    gate, said = made("G1,gate,1,38 1/2,48,,,", gate=USUAL + "thickness = 2\n")
    assert gate.hanging
    width, reach = swing_squared(gate.squared[0], gate.hanging.thickness)
    assert (width, reach) == (F(301, 8), F(301, 8) ** 2 + 4)
    assert (root(reach) - Decimal("37.625")).quantize(Decimal("0.001")) == Decimal("0.053")
    assert "swings ~0.053 in beyond the leaf's width (leaf 2 thick)" in said


@pytest.mark.parametrize(("rake", "low"), [("5 %", "left"), ("-1:20", "right")])
def test_the_ground_falls_under_a_leaf(rake: str, low: str) -> None:
    """5 % of the leaf's 41 3/8 is 2.06875, to the left where the ground rises to the right."""
    gate = card(f"G1,gate,1,42 1/4,48,,,{rake}")
    assert gate.hanging
    assert (gate.hanging.fall, gate.hanging.low_side) == (F("2.06875"), low)


@pytest.mark.parametrize(("row", "gate", "out"), [
    ("G1,gate,1,42,36,,,", USUAL, False),
    ("G1,gate,1,46,36,,,", USUAL.replace('latch_gap = "1/2"', "latch_gap = 4"), True),
    ("G1,gate,1,46,36,,,", USUAL.replace('latch_gap = "1/2"', 'latch_gap = "3 15/16"'), False),
    ("G1,gate,1,46,36,,,", USUAL.replace('hinge_gap = "3/8"', "hinge_gap = 4"), True),
    ("G1,gate,1,80,36,2,,", USUAL.replace('meeting_gap = "1/2"', "meeting_gap = 4"), True),
    ("G1,gate,1,40,36,,47,", USUAL, True),  # 1/2 at the latch, and half of 7 more where it is wider
    ("G1,gate,1,47,36,,40,", USUAL, True),
    ("G1,gate,1,40,36,,46 7/8,", USUAL, False),  # 1/2 + 3 7/16
])
def test_the_widest_gap_of_a_gate_may_be_beside_its_leaves(row: str, gate: str, out: bool) -> None:
    """2018 IRC R312.1.3, seen: a 4 in sphere shall not pass, between pickets or anywhere else."""
    (told,) = [said for said in card(row, gate=gate, codes='"IRC 2018 guards"').reminders if "R312.1.3): in a" in said]
    assert ("the widest gap here is not within that" in told) == out


@pytest.mark.parametrize(("below", "section", "other"), [("3", "(4)", "(3)"), ("3 1/16", "(3)", "(4)")])
def test_rail_tops_decide_which_gap_governs_at_a_pool(below: str, section: str, other: str) -> None:
    """IRC Appendix G, AG105.2(3) and (4), seen: under 45 in from rail top to rail top no gap over 1 3/4, else 4.

    A gate 50 high has its top rail's top at 50; its bottom rail's top is 2 above its lower edge.
    """
    gate = card("G1,gate,1,42,50,,,", below=below, codes='"IRC Appendix G pool barriers"')
    said = " ".join(gate.reminders)
    assert f"AG105.2{section}" in said and f"AG105.2{other}" not in said
    assert ("no gap over 1 3/4 in; the widest gap here is not within that" in said) == (section == "(3)")
