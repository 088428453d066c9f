"""Free centring: two rails of one gate that differ, or a choice that another beats, are found here."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction as F
from itertools import product

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Order
from cutplan.planning.centring import choose, cost, rails_of
from cutplan.shop import BayRule, Profile, Routing, Shop, Stock, System
from cutplan.takeoff import take_off

RAIL = Profile("rail", "rail", (Stock(F(144), F(30)), Stock(F(192), F(41))), F(1, 8), routing=Routing(F(5), F(5, 2)))
PICKET = Profile("picket", "picket", (Stock(F(240), F(9)),), F(1, 8))
SYSTEM = System("routed", "rail", "rail", "picket", picket_width=F(1), max_gap=F(5), min_end_gap=F(1, 8),
                bay=BayRule(F(1, 4), F(1, 2)), free_centring=True)
SHOP = Shop("Test shop", "in", "", F(1, 8), None, 1, F(1, 16), {"rail": RAIL, "picket": PICKET}, {"routed": SYSTEM})


def week(seed: int) -> list[Order]:
    chance = random.Random(seed)
    return [Order(f"B{k}", "bay", "routed", 1, F(chance.randrange(16 * 30, 16 * 80), 16), F(42)) for k in range(5)]


@pytest.mark.parametrize("seed", [
    0, 2, 7, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (1, 3, 4, 5, 6))])
def test_no_choice_costs_less_than_the_bound_and_a_proven_one_is_the_best_of_all(seed: int) -> None:
    orders = week(seed)
    chosen = choose(orders, SHOP)
    cards = take_off(orders, SHOP).cards
    marks = [card.mark for card in cards]
    costs = [
        cost(cut_pieces(rails_of(orders, SHOP, dict(zip(marks, ways, strict=True))), SHOP))
        for ways in product(*(card.centrings for card in cards))
    ]
    if chosen is None:
        assert len(costs) == 1
        return
    assert chosen.bound <= min(costs) <= chosen.cost <= chosen.wider
    assert chosen.cost == min(costs)  # not promised, but so in these weeks
    assert cost(cut_pieces(rails_of(orders, SHOP, chosen.centring), SHOP)) == chosen.cost


def test_both_rails_and_the_pickets_follow_the_choice() -> None:
    orders = week(1)
    marks = {card.mark for card in take_off(orders, SHOP).cards if len(card.centrings) == 2}
    for way, even in (("hole", 1), ("space", 0)):
        taken = take_off(orders, SHOP, dict.fromkeys(marks, way))
        for piece in taken.pieces:
            if piece.for_ in marks:
                assert piece.qty % 2 == even if piece.profile == "picket" else piece.centred == way


def test_only_the_rails_are_centred() -> None:
    """An insert or upright with holes is free: it is not the takeoff that says what is in its middle."""
    holed = replace(SHOP, systems={"routed": replace(SYSTEM, insert="rail")})
    centred = {piece.mark.split()[1]: piece.centred for piece in take_off(week(0), holed).pieces}
    assert centred["insert"] == centred["picket"] == ""
    assert centred["top"] == centred["bottom"] != ""


def test_the_wider_end_gap_stays_where_the_shop_does_not_leave_it_free() -> None:
    fixed = replace(SHOP, systems={"routed": replace(SYSTEM, free_centring=False)})
    assert choose(week(0), fixed) is None
    for card in take_off(week(0), fixed).cards:
        assert SYSTEM.min_end_gap <= card.layout.end_gap <= SYSTEM.max_gap
