"""If these fail, the buyer orders too much, too little, or at the wrong price."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest

from cutplan.buying.order import PlacedOrder, left_of
from cutplan.buying.purchase import order, weekly
from cutplan.orders import Piece
from cutplan.problems import InputProblems, NoPlan
from cutplan.sheets.buying import OrderSheet, order_json, order_text
from cutplan.sheets.words import Writer
from cutplan.shop import Profile, Shop, Stock, load_shop
from tests.cutting.shops import patterns

F = Fraction


def shop(stock: Sequence[Stock], **rules: object) -> Shop:
    rail = Profile("rail", "rail", tuple(stock), **{"kerf": F(1, 8), "head_trim": F(1, 2), **rules})  # type: ignore[arg-type]
    return Shop("", "in", "USD", F(1, 8), None, 1, F(1, 16), {"rail": rail}, {})


def pieces(demand: dict[int, int]) -> list[Piece]:
    return [Piece(f"P{length}", "rail", F(length), qty) for length, qty in demand.items()]


def ordered(made: PlacedOrder) -> dict[int, int]:
    return {int(line.stock.length): line.ordered for one in made.profiles for line in one.lines}


def test_more_may_cost_less() -> None:
    """Nine at 17 are 153, twelve at 12 are 144."""
    one = shop([Stock(F(96), F(17), breaks=((12, F(12)),))])
    made = order([pieces({90: 9})], one, {})
    (line,) = made.profiles[0].lines
    assert made.money == 144 and (line.ordered, line.left, line.each) == (12, 3, 12)


def test_without_terms_it_is_the_cheapest_plan() -> None:
    """As brute force over small numbers of sticks says: two lengths, and what fits on them."""
    one = shop([Stock(F(96), F(20)), Stock(F(120), F(24))])
    made = order([pieces({50: 3, 40: 2})], one, {})
    rail = one.profiles["rail"]
    trims = rail.head_trim + rail.tail_trim
    fits = {entry.length: patterns(rail, [F(50), F(40)], [3, 2], entry.length - trims) for entry in rail.stock}
    best = min(
        sum(entry.price * n for entry, n in zip(rail.stock, counts, strict=True))
        for counts in product(range(6), repeat=2)
        if any(sum(p[0] for p in chosen) >= 3 and sum(p[1] for p in chosen) >= 2
               for chosen in product(*[fits[F(96)]] * counts[0], *[fits[F(120)]] * counts[1])) and sum(counts) <= 5)
    assert made.money == best and made.proven


def test_nothing_long_enough_is_no_plan() -> None:
    with pytest.raises(NoPlan, match="longer than"):
        order([pieces({200: 1})], shop([Stock(F(96), F(20))]), {})
    with pytest.raises(NoPlan, match="runs out"):
        order([pieces({90: 3})], shop([Stock(F(96), F(20), 2)]), {})
    for short in (Stock(F(96), F(20), 3, bundle=10), Stock(F(96), F(20), 3, min_order=8)):
        with pytest.raises(NoPlan, match="no stick can be had, as it is sold"):
            order([pieces({90: 3})], shop([short]), {})


def test_only_whole_bundles_of_what_is_left_are_ordered() -> None:
    """By hand: of 9 sticks sold by 5 only 5 can be had, so 2 of the 7 come from the dearer ones."""
    few, dear = Stock(F(100), F(10), 9, bundle=5), Stock(F(99), F(100))
    made = order([pieces({60: 7})], shop([few, dear]), {})
    assert ordered(made) == {100: 5, 99: 2}
    breaks = Stock(F(100), F(10), 9, bundle=5, breaks=((8, F(1)),))
    made = order([pieces({60: 5})], shop([breaks, dear]), {})
    assert ordered(made) == {100: 5, 99: 0}  # a break that only 10 would reach


def test_what_one_week_leaves_of_a_bundle_is_there_for_the_next() -> None:
    one = shop([Stock(F(96), F(20), bundle=10)])
    for make in (order, weekly):
        found = make([pieces({90: 6}), pieces({80: 4})], one, {})
        orders = found if isinstance(found, list) else [found]
        assert sum(placed.money for placed in orders) == 200
        assert [sum(ordered(placed).values()) for placed in orders] in ([10], [10, 0])
    made = order([pieces({90: 6}), pieces({80: 5})], one, {})
    assert ordered(made) == {96: 20} and made.proven


def test_what_one_week_keeps_is_there_for_the_next() -> None:
    one = shop([Stock(F(96), F(20))], keep_from=F(24))
    made = order([pieces({50: 1}), pieces({40: 1})], one, {})
    assert ordered(made) == {96: 1} and made.proven
    made = order([pieces({40: 1}), pieces({94: 1})], one, {})
    assert ordered(made) == {96: 2} and made.proven
    never = shop([Stock(F(96), F(20))])
    assert ordered(order([pieces({50: 1}), pieces({40: 1})], never, {})) == {96: 2}


def test_one_order_is_proven_and_a_sum_of_weeks_never() -> None:
    """Worked by hand: 24 sticks at 5.00 are 120.00, each week's eight at 9.00 are 72.00 (or 80.00 at 10.00)."""
    one = shop([Stock(F(100), F(10), breaks=((20, F(5)),)), Stock(F(110), F(9))], head_trim=F(0))
    weeks = [pieces({95: 8}) for _ in range(3)]
    write = Writer("in", F(1, 16), "USD")
    made = order(weeks, one, {})
    assert made.money == made.bound == 120 and ordered(made) == {100: 24, 110: 0}
    text = " ".join(order_text(OrderSheet((made,)), write).split())
    assert "120.00 USD: proven by search, no order for these pieces is cheaper" in text
    said = json.loads(order_json(OrderSheet((made,)), "in", "USD"))
    assert said["bound"] == said["money"] == 120 and said["status"] == "search"
    apart = weekly(weeks, one, {})
    assert [(placed.weeks, placed.money, placed.bound) for placed in apart] == [((k,), 72, 72) for k in (1, 2, 3)]
    text = " ".join(order_text(OrderSheet(tuple(apart)), write).split())
    assert "Nothing is proven of the sum" in text and "no order for these pieces" not in text
    assert "week 2, 72.00 USD: proven by search, no order for this week alone" in text
    said = json.loads(order_json(OrderSheet(tuple(apart)), "in", "USD"))
    assert said["money"] == 216 and said["bound"] is None and said["status"] == "gap"


def test_a_need_is_divided_between_entries_of_one_length() -> None:
    """Worked by hand: ten at 10.00 and three at 11.50 are 134.50; thirteen at 9.00 from ten on are 117.00."""
    bundles, singly = Stock(F(100), F(10), bundle=10, supplier="a"), Stock(F(100), F(11.5), supplier="b")
    made = order([pieces({95: 13})], shop([bundles, singly]), {})
    assert made.money == made.bound == F(269, 2)
    assert [line.ordered for line in made.profiles[0].lines] == [10, 3]
    plain, breaks = Stock(F(100), F(10)), Stock(F(100), F(11.5), breaks=((10, F(9)),))
    assert order([pieces({95: 13})], shop([plain, breaks]), {}).money == 117


def test_what_is_left_over_is_worth_what_was_paid() -> None:
    """Twelve at 12.00, nine of them cut: three are worth 36.00, not three at the price of few, 51.00."""
    one = shop([Stock(F(96), F(17), breaks=((12, F(12)),))])
    assert left_of([order([pieces({90: 9})], one, {})]) == 36
    there = {"rail": [(F(96), 2)]}
    made = order([pieces({90: 1})], one, there)
    assert made.money == 0 and left_of([made]) == 0  # what was there before was not paid for here


BAD = """name = "x"
unit = "in"
currency = "USD"
[saw]
kerf = 0
[profiles.rail]
kind = "rail"
stock = [
  { length = 96, price = 20, bundle = 0 },
  { length = 97, price = 20, min_order = -1, price_breaks = [ { from = 50, price = 19 }, { from = 40, price = 18 } ] },
  { length = 98, price = 20, price_breaks = [ { from = 50, price = 21 }, { price = 5 } ] },
  { length = 99, price = 20, price_breaks = [ { from = 10, price = 9, off = 2 } ] },
]
"""


def test_every_wrong_term_of_a_shop_file_is_named(tmp_path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "shop.toml"
    file.write_text(BAD, encoding="utf-8")
    with pytest.raises(InputProblems) as wrong:
        load_shop(file)
    found = {(problem.line, problem.column.rpartition("stock[")[2]) for problem in wrong.value.problems}
    assert found == {(9, "1].bundle"), (10, "2].min_order"), (10, "2].price_breaks[2].from"),
                     (11, "3].price_breaks[1].price"), (11, "3].price_breaks[2].from"),
                     (12, "4].price_breaks[1].off")}


def test_good_terms_are_read(tmp_path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "shop.toml"
    terms = "bundle = 4, min_order = 6, price_breaks = [ { from = 9, price = 17 } ]"
    head = BAD[:BAD.index("  { length = 96")]
    file.write_text(f"{head}  {{ length = 96, price = 20, {terms} }},\n]\n", encoding="utf-8")
    (entry,) = load_shop(file).profiles["rail"].stock
    assert entry == replace(Stock(F(96), F(20)), bundle=4, min_order=6, breaks=((9, F(17)),))
