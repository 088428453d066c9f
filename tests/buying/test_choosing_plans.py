"""If these fail, an order takes plans that cost more than others it has found, or counts a stick for a bundle."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product

import pytest

from cutplan.buying.dates import NO_DATES
from cutplan.buying.ordering.columns import Column
from cutplan.buying.ordering.draws import beside_money, draws_of, taken_by
from cutplan.buying.ordering.numbers import by_task
from cutplan.buying.ordering.search import OrderSearch
from cutplan.buying.purchase import market_of
from cutplan.buying.terms import levels
from cutplan.running.budget import Budget
from cutplan.shop import Stock
from tests.buying.exact_orders import F, pieces_of, rail, random_case, shop_of


@pytest.mark.parametrize("seed", range(12))
def test_the_cheapest_of_all_ways_to_combine_plans_is_taken(seed: int) -> None:
    """Beside every choice of a plan for each profile, with every order that is enough for it, each at its terms."""
    chance = random.Random(seed)
    shop, weeks, there, _ = random_case(seed)
    market = market_of([pieces_of(week) for week in weeks], shop, there, NO_DATES)
    search = OrderSearch(market, Budget())
    plans = [[{Column(s, 0, ()): chance.randint(1, 4) for s in task.sticks if chance.random() < 0.7}
              for _ in range(3)] for task in market.tasks]
    found = search.among([{draws_of(cut): cut for cut in some} for some in plans])
    numbers = [sorted({0, *(n for n in range(1, 13) if n % sale.stock.bundle == 0
                            and n >= max(sale.stock.min_order, 1) and (sale.most is None or n <= sale.most))})
               for _, sale in market.sales]
    shortest = [[n for n in own if n <= 8 or n == own[-1]] for own in numbers]
    least: int | None = None
    for sticks in product(*shortest) if len(shortest) <= 5 else ():
        money = search.amount_of(sticks)
        if (least is not None and money >= least) or not allowed(search, sticks):
            continue
        own = by_task(market, sticks)
        if all(any(all(taken_by(draws_of(cut), s, 0) <= task.begin(s) + sum(
                n for n, sale in zip(some, task.sold, strict=True) if task.kind[sale.stock.length] == s)
                for s in task.sticks) for cut in cuts) for task, some, cuts in
               zip(market.tasks, own, plans, strict=True)):
            least = money
    if least is not None:
        assert found is not None and search.amount_of(found[0]) <= least


def allowed(search: OrderSearch, sticks: tuple[int, ...]) -> bool:
    """Whether each supplier gets what he asks at least."""
    goods: dict[str, Fraction] = {}
    for (_, sale), n in zip(search.market.sales, sticks, strict=True):
        each = min([sale.stock.price, *(level.each for level in levels(sale.stock)
                                        if level.bundles * sale.stock.bundle <= n)])
        goods[sale.stock.supplier] = goods.get(sale.stock.supplier, Fraction(0)) + n * each
    return all(not amount or name not in search.market.suppliers or
               amount >= search.market.suppliers[name].minimum for name, amount in goods.items())


def test_what_is_bought_beside_comes_in_whole_bundles() -> None:
    """By hand: six sticks are there, seven are cut; one more is a bundle of five at 10 each, or one at 48."""
    shop = shop_of({"rail": rail("rail", [Stock(F(100), F(10), bundle=5), Stock(F(100), F(48))])})
    market = market_of([pieces_of({"rail": {90: 7}})], shop, {"rail": [(F(100), 6)]}, NO_DATES)
    (task,) = market.tasks
    cut = {Column(task.kind[F(100)], 0, ((0, 0, 1),)): 7}
    assert beside_money(task, (0, 0), (F(10), F(48)), cut) == 48
    assert beside_money(task, (0, 0), (F(9), F(48)), cut) == 45
