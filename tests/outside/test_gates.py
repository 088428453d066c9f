"""If these break, a gate's rails or the diagonals it is squared by differ from published or trade figures."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction as F

import pytest

from cutplan.orders import Order
from cutplan.shop import GateRule, Profile, Routing, Shop, Stock, System
from cutplan.takeoff import take_off
from cutplan.takeoff.assembly import diagonals_squared
from cutplan.takeoff.cards import Card


def gate_card(opening: F, height: F, rule: GateRule, routing: Routing | None = None) -> Card:
    stock = (Stock(F(240), F(240)),)
    profiles = {
        "rail": Profile("rail", "rail", stock, F(1, 8), routing=routing),
        "picket": Profile("picket", "picket", stock, F(1, 8)),
    }
    system = System("s", "rail", "rail", "picket", F(3, 2), F(4), F(1), gate=rule)
    shop = Shop("Kettle Lane Gates", "in", "USD", F(1, 8), None, 1, F(1, 16), profiles, {"s": system})
    return take_off([Order("G1", "gate", "s", 1, opening, height)], shop).cards[0]


@pytest.mark.parametrize(
    ("width", "height", "diagonal"),
    [(36, 48, "60.000"), (42, 48, "63.781"), (48, 60, "76.837"), (48, 72, "86.533")],
)
def test_diagonals(width: int, height: int, diagonal: str) -> None:
    """Right triangles: 36, 48, 60 is 3, 4, 5 twelvefold; the others by decimal square root."""
    card = gate_card(F(width) + 1, F(height), GateRule(F(1, 2), F(1, 2), F(1, 4), F(2), F(0)))
    one, other = diagonals_squared(card.squared[0])
    assert one == other and one.denominator == 1
    assert Decimal(int(one)).sqrt().quantize(Decimal("0.001")) == Decimal(diagonal)


def test_rails_of_a_gate() -> None:
    """Common practice, no source: a 37 1/2 in opening, 1 in each for latch and hinge, walls of 1/4 in."""
    rule = GateRule(
        latch_gap=F(1), hinge_gap=F(1), upright_wall=F(1, 4), rail_insertion=F(15, 4), picket_trim=F(0)
    )
    card = gate_card(F(75, 2), F(48), rule, Routing(pitch=F(5), first=F(5, 2)))
    assert {rail.length for rail in card.of("top rail", "bottom rail")} == {35}
    assert card.layout.centred == "hole"
    assert card.layout.marks[card.layout.count // 2] == F(35, 2)
