"""If these fail, the shop is advised to carry lengths that cost more than those it has, once really ordered."""

from __future__ import annotations

import csv
import random
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from cutplan.buying.offers import market
from cutplan.buying.question import LengthsAnswer, Question
from cutplan.buying.stock_lengths import choose
from cutplan.cutting import demand_of
from cutplan.running.budget import Budget
from cutplan.sheets.stock_lengths import summary
from cutplan.sheets.words import Writer
from cutplan.shop import Shop, Stock
from tests.buying.exact_orders import Demand, F, least_money, pieces_of, rail, random_case, shop_of
from tests.commands import good
from tests.sweeps import sweep

WRITE = Writer("in", F(1, 16), "USD")


def case_of(seed: int) -> tuple[Shop, list[dict[str, Demand]]]:
    """Two to four lengths with terms, one or two weeks, of one profile."""
    chance = random.Random(seed)
    stock: list[Stock] = []
    for other in range(40):
        shop, *_ = random_case(1000 * seed + other)
        stock += [replace(entry, qty=None, lead_days=0) for entry in shop.profiles["rail"].stock[:-1]]
        if len({entry.length for entry in stock}) >= 3:
            break
    one = rail("rail", stock[:5], keep_from=chance.choice([None, F(24)]), carrying=F(chance.choice([0, 3])))
    weeks = [{"rail": {length: chance.randint(1, 4) for length in chance.sample(range(18, 70), 2)}}
             for _ in range(chance.choice([1, 2]))]
    return replace(shop_of({"rail": one}), suppliers=shop.suppliers), weeks


def answer_of(shop: Shop, weeks: list[dict[str, Demand]], lengths: list[int] | None = None, most: int = 2
              ) -> LengthsAnswer:
    one = shop.profiles["rail"]
    candidates = None if lengths is None else [F(length) for length in lengths]
    demand = tuple(tuple(demand_of(pieces_of(week), one)) for week in weeks)
    return choose(Question(market(one, candidates, suppliers=shop.suppliers), demand, len(weeks)), most, Budget(60))


@pytest.mark.parametrize("seed", sweep(4, 40))
def test_the_best_set_is_the_best_of_all_that_are_ordered_for(seed: int) -> None:
    """Beside the exact model of an order for every set of the lengths."""
    shop, weeks = case_of(seed)
    one = shop.profiles["rail"]
    own = sorted({entry.length for entry in one.stock})
    costs: dict[int, list[F]] = {}
    for many in range(1, len(own) + 1):
        for chosen in combinations(own, many):
            some = replace(one, stock=tuple(entry for entry in one.stock if entry.length in chosen))
            money = least_money(replace(shop, profiles={"rail": some}), weeks, {"rail": []}, [0] * len(weeks))
            costs.setdefault(many, []).append(money + one.carrying * many * len(weeks))
    answer = answer_of(shop, weeks)
    for best in answer.best:
        many = len(best.choice.offers)
        assert best.choice.cost == best.bound == min(costs[many]), many
    assert answer.today is not None and answer.today.cost == costs[len(own)][0]


def test_what_does_not_save_is_not_advised() -> None:
    """By hand: 8 pieces of 95; today 8 x 10.00; the lower price of the other length is by twenties alone, 160.00."""
    stock = [Stock(F(100), F(10)), Stock(F(110), F(8), bundle=20)]
    shop = shop_of({"rail": rail("rail", stock)})
    answer = answer_of(shop, [{"rail": {95: 8}}], most=1)
    assert answer.best[0].choice.cost == 80 == answer.best[0].bound and answer.best[0].choice.offers[0].length == 100
    said = summary(answer, WRITE)
    assert said.startswith("rail: to stay with 8 ft 4 in and 9 ft 2 in costs 80.00 USD")
    assert "Stay: " in said and "saves nothing" in said and "Carry" not in said


def test_what_a_choice_saves_in_a_year_and_where_better_may_lie() -> None:
    """By hand: 8 sticks at 10.00 against 4 of 200 at 16.00 in one week; 50 such weeks save 800.00."""
    shop = shop_of({"rail": rail("rail", [Stock(F(100), F(10))], price_per_length=F(8, 100))})
    answer = answer_of(shop, [{"rail": {95: 8}}], [120, 160, 200], 1)
    said = summary(answer, WRITE, 50)
    assert "16.00 USD less, 800.00 USD in a year of 50 such weeks" in said
    assert "16 ft 8 in is the longest of the lengths asked for: beyond it may lie a better one." in said
    assert "beyond" not in summary(answer_of(shop, [{"rail": {95: 8}}], [120, 200, 240], 1), WRITE)


def test_freight_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: one stick of 200 at 17.00 and 10.00 freight is dearer than two of 100 at 10.00."""
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text('unit = "in"\ncurrency = "USD"\n[saw]\nkerf = 0\n[suppliers.far]\nfreight = 10\n'
                                 '[profiles.rail]\nkind = "rail"\nstock = [ { length = 100, price = 10 }, '
                                 '{ length = 200, price = 17, supplier = "far" } ]\n')
    Path("week.csv").write_text("mark,profile,length,qty\nA,rail,95,2\n")
    said = " ".join(good("lengths", "week.csv", "--shop", "shop.toml", "--choose", "1", "--weeks-a-year", "50").split())
    assert "to stay with 8 ft 4 in and 16 ft 8 in costs 20.00 USD" in said and "saves nothing" in said


def test_a_length_whose_terms_nobody_knows_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: six sticks of each length, new ones at 0.05 an inch; those of today at 6.00, and freight 10.00."""
    monkeypatch.chdir(tmp_path)
    shop = ('unit = "in"\ncurrency = "USD"\n[saw]\nkerf = 0\n[suppliers.far]\nfreight = 10\n[profiles.rail]\n'
            'kind = "rail"\nprice_per_length = "0.05/in"\nstock = [ { length = 120, price = 6, supplier = "far" } ]\n')
    Path("shop.toml").write_text(shop)
    Path("week.csv").write_text("mark,profile,length,qty\nA,rail,54,12\n")
    words = ("lengths", "week.csv", "--shop", "shop.toml", "--choose", "1", "--from", "108 in,120 in,132 in,144 in")
    said = " ".join(good(*words, "--csv", "l.csv").split())
    assert "Carry 9 ft: 32.40 USD" in said and "13.60 USD less" in said
    assert "9 ft is not in the shop file: it is reckoned singly at price_per_length, without freight" in said
    assert "not planned" not in said
    singles = [row for row in csv.DictReader(Path("l.csv").read_text().splitlines()) if row["what"] == "single"]
    assert [row["cost"] for row in singles] == ["32.4", "46", "39.6", "43.2"]
    Path("shop.toml").write_text(shop.replace("freight = 10", "freight = 0"))
    assert "reckoned singly" not in good(*words)
