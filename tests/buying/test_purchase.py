"""If these fail, the buyer orders too much, too little, or at the wrong price."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from ortools.sat.python import cp_model

from cutplan.buying.purchase import ProfileOrder, order
from cutplan.buying.terms import Terms
from cutplan.orders import Piece
from cutplan.problems import InputProblems, NoPlan
from cutplan.sheets.buying import order_json, order_text
from cutplan.sheets.words import Writer
from cutplan.shop import Profile, Shop, Stock, load_shop
from tests.cutting.shops import patterns
from tests.sweeps import sweep

F = Fraction


def shop(stock: Sequence[Stock], **rules: object) -> Shop:
    rail = Profile("rail", "rail", tuple(stock), **{"kerf": F(1, 8), "head_trim": F(1, 2), **rules})  # type: ignore[arg-type]
    return Shop("", "in", "USD", F(1, 8), None, 1, F(1, 16), {"rail": rail}, {})


def pieces(demand: dict[int, int]) -> list[Piece]:
    return [Piece(f"P{length}", "rail", F(length), qty) for length, qty in demand.items()]


def ordered(made: ProfileOrder) -> dict[int, int]:
    return {int(line.stock.length): line.ordered for line in made.lines}


def random_stock(chance: random.Random) -> list[Stock]:
    stock = []
    for length in sorted(chance.sample([72, 96, 120, 144], chance.randint(1, 3))):
        price = F(chance.randint(length - 6, length + 6), 4)
        breaks = ()
        if chance.random() < 0.6:
            least = chance.randint(3, 8)
            breaks = ((least, price * F(9, 10)), (least + chance.randint(2, 6), price * F(8, 10)))
        stock.append(Stock(F(length), price, bundle=chance.choice([1, 1, 2, 3, 5]), min_order=chance.choice([0, 0, 4]),
                           breaks=breaks))
    return stock


def by_model(rail: Profile, demand: dict[int, int], there: dict[int, int]) -> Fraction:
    """The least money by a model of its own: every pattern of every length, and every order from none to plenty."""
    model = cp_model.CpModel()
    lengths = [F(length) for length in sorted(demand, reverse=True)]
    counts = [demand[int(length)] for length in lengths]
    made = [0] * len(lengths)
    scale = 400
    money = []
    for k, entry in enumerate(rail.stock):
        drawn = []
        for p, pattern in enumerate(patterns(rail, lengths, counts, entry.length - rail.head_trim - rail.tail_trim)):
            n = model.new_int_var(0, sum(counts), f"x{k},{p}")
            drawn.append(n)
            for i, a in enumerate(pattern):
                made[i] += a * n
        orders = [n for n in range(0, 2 * sum(counts) + 20, entry.bundle) if n == 0 or n >= entry.min_order]
        chosen = [model.new_bool_var(f"o{k},{n}") for n in orders]
        model.add_exactly_one(chosen)
        model.add(sum(drawn) <= there.get(int(entry.length), 0)
                  + sum(n * o for n, o in zip(orders, chosen, strict=True)))
        for n, o in zip(orders, chosen, strict=True):
            price = min([entry.price, *(each for least, each in entry.breaks if n >= least)])
            money.append(int(price * n * scale) * o)
            assert (price * n * scale).denominator == 1
    for i, count in enumerate(counts):
        model.add(made[i] >= count)
    model.minimize(sum(money))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return F(round(solver.objective_value), scale)


@pytest.mark.parametrize("seed", sweep(16, 40))
def test_the_order_is_the_cheapest_there_is(seed: int) -> None:
    chance = random.Random(seed)
    one = shop(random_stock(chance))
    demand = {length: chance.randint(1, 7) for length in chance.sample(range(18, 70), chance.randint(1, 4))}
    there = {int(entry.length): chance.choice([0, 0, 2]) for entry in one.profiles["rail"].stock}
    (made,) = order([pieces(demand)], one, {"rail": [(F(length), n) for length, n in there.items()]})
    assert made.money == by_model(one.profiles["rail"], demand, there) and made.proven
    for line in made.lines:
        assert line.ordered % line.stock.bundle == 0
        assert line.ordered == 0 or line.ordered >= line.stock.min_order
        assert line.needed <= line.there + line.ordered and line.left >= 0
    assert [entry.qty for entry in made.weeks[0].demand] == list(demand.values())


@pytest.mark.parametrize(("there", "before"), [(0, 0), (3, 0), (0, 4), (2, 7)])
def test_the_money_never_falls_and_a_step_ends_where_it_says(there: int, before: int) -> None:
    entry = Stock(F(96), F(20), bundle=4, min_order=6, breaks=((9, F(17)), (30, F(15))))
    terms = Terms(entry, there, before)
    money = [terms.money(n) for n in range(60)]
    assert money == sorted(money) and money[0] == 0
    for n in range(50):
        end = terms.enough(n)
        assert end >= n and all(money[x] == money[n] for x in range(n, min(end, 59) + 1))
        cheapest = min(q * entry.each(q) for q in range(0, 200, 4)
                       if q >= before + n - there and (q == 0 or q >= 6))
        assert terms.whole_money(n) == cheapest


def test_more_may_cost_less() -> None:
    """Nine at 17 are 153, twelve at 12 are 144."""
    one = shop([Stock(F(96), F(17), breaks=((12, F(12)),))])
    (made,) = order([pieces({90: 9})], one, {})
    assert ordered(made) == {96: 12} and made.money == 144 and made.lines[0].left == 3 and made.lines[0].each == 12


def test_what_one_week_leaves_of_a_bundle_is_there_for_the_next() -> None:
    one = shop([Stock(F(96), F(20), bundle=10)])
    (made,) = order([pieces({90: 6}), pieces({80: 4})], one, {})
    assert ordered(made) == {96: 10} and made.money == 200 and made.lines[0].needed == 10
    assert [(part.week, part.money, part.proven) for part in made.parts] == [(1, 200, True), (2, 0, True)]
    (made,) = order([pieces({90: 6}), pieces({80: 5})], one, {})
    assert ordered(made) == {96: 20}


def test_what_one_week_keeps_is_there_for_the_next() -> None:
    one = shop([Stock(F(96), F(20))], keep_from=F(24))
    (made,) = order([pieces({50: 1}), pieces({40: 1})], one, {})
    assert ordered(made) == {96: 1}
    (made,) = order([pieces({40: 1}), pieces({94: 1})], one, {})
    assert ordered(made) == {96: 2}


def test_all_weeks_as_one_never_cost_more_when_proven() -> None:
    for seed in range(6):
        chance = random.Random(seed)
        one = shop(random_stock(chance))
        weeks = [pieces({length: chance.randint(1, 4) for length in chance.sample(range(18, 70), 2)}) for _ in range(3)]
        (apart,) = order(weeks, one, {})
        (together,) = order([[piece for week in weeks for piece in week]], one, {})
        assert together.proven and together.money <= apart.money


def test_the_sum_of_weeks_is_never_called_proven() -> None:
    """Worked by hand: 24 sticks at 5.00 are 120.00, each week's eight at 9.00 are 72.00 (or 80.00 at 10.00)."""
    one = shop([Stock(F(100), F(10), breaks=((20, F(5)),)), Stock(F(110), F(9))], head_trim=F(0))
    weeks = [pieces({95: 8}) for _ in range(3)]
    write = Writer("in", F(1, 16), "USD")
    (apart,) = order(weeks, one, {})
    assert apart.money == 216 and apart.bound is None and not apart.proven
    assert [(part.money, part.bound) for part in apart.parts] == [(72, 72)] * 3
    text = " ".join(order_text([apart], 3, write).split())
    assert "Nothing is proven of the sum" in text and "no order for these pieces" not in text
    assert "week 2 adds 72.00 USD: proven by search" in text
    said = json.loads(order_json([apart], "in", "USD"))
    assert said["bound"] is said["profiles"][0]["bound"] is None and said["profiles"][0]["status"] == "gap"
    assert [week["status"] for week in said["profiles"][0]["weeks"]] == ["search"] * 3
    (together,) = order([[piece for week in weeks for piece in week]], one, {})
    assert together.money == together.bound == 120
    assert "120.00 USD: proven by search, no order for these pieces is cheaper" in order_text([together], 1, write)


def test_without_terms_it_is_the_cheapest_plan() -> None:
    """As brute force over small numbers of sticks says: two lengths, and what fits on them."""
    one = shop([Stock(F(96), F(20)), Stock(F(120), F(24))])
    (made,) = order([pieces({50: 3, 40: 2})], one, {})
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
    (made,) = order([pieces({60: 7})], shop([few, dear]), {})
    assert ordered(made) == {100: 5, 99: 2}
    breaks = Stock(F(100), F(10), 9, bundle=5, breaks=((8, F(1)),))
    (made,) = order([pieces({60: 5})], shop([breaks, dear]), {})
    assert ordered(made) == {100: 5, 99: 0}  # a break that only 10 would reach


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
