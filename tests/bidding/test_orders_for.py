"""If these fail, an order that is told to be enough is not, or a figure beside it belongs to something else."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction as F
from itertools import product
from pathlib import Path

import pytest

from cutplan.bidding.bidfile import BidLine, load_bid
from cutplan.bidding.cutting import CutVersions, cut_versions
from cutplan.bidding.enough import can_be_cut
from cutplan.bidding.needs import StickKindWorth, at_least, cheapest_numbers
from cutplan.bidding.orders_for import OrderFor, OrdersFor, orders_for
from cutplan.bidding.versions import draw, orders_of
from cutplan.buying.purchase import order as cheapest_order
from cutplan.cutting import cut_pieces
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.sheets.bid import Sheet, bid_csv
from cutplan.shop import Shop, Stock, Supplier
from cutplan.takeoff import take_off
from tests.bidding.bids import written

CHANCES = [F(50), F(80), F(95)]
JOB = ("A,gate,breakwater,1..2,38..42,42,", "B,bay,breakwater,1,60..68,42,yes", "C,bay,lantern,2,50..54,36,yes")


def asked(folder: Path, shop: Shop, *lines: str, versions: int = 30) -> tuple[tuple[BidLine, ...], CutVersions]:
    job = load_bid(written(folder, *lines), shop).lines
    return job, cut_versions(job, shop, versions, 1)


def cut_from(job: tuple[BidLine, ...], shop: Shop, order: OrderFor, versions: int) -> list[bool]:
    """Of each version whether it can be cut from the sticks of an order and no others: by `cut`, to the end. Profiles
    that the order does not speak of have stock as ever."""
    stock = {name: replace(profile, stock=tuple(
        replace(next(entry for entry in profile.stock if entry.length == length), qty=n)
        for length, n in order.sticks[name].items() if n)) if name in order.sticks else profile
        for name, profile in shop.profiles.items()}
    found, drawn = [], draw(job, versions, 1)
    for choice in drawn.choices:
        pieces = [piece for piece in take_off(orders_of(job, drawn, choice, shop.tape), shop).pieces
                  if piece.profile in order.sticks]
        try:
            cut_pieces(pieces, replace(shop, profiles=stock))
            found.append(True)
        except NoPlan:
            found.append(False)
    return found


def all_of(orders: OrdersFor) -> list[OrderFor]:
    return [one for own in (*orders.profiles, orders.together) for one in own]


@pytest.mark.parametrize("versions", [8, pytest.param(24, marks=pytest.mark.slow)])
def test_every_order_is_enough_as_often_as_it_says(versions: int, shop: Shop, tmp_path: Path) -> None:
    """Each version cut from its very sticks, by the whole cutter."""
    job, cut = asked(tmp_path, shop, *JOB, versions=versions)
    orders = orders_for(cut, shop, [F(50), F(80)], Budget())
    for one in (*orders.together, *(own[1] for own in orders.profiles)):
        enough = cut_from(job, shop, one, versions)
        assert 100 * sum(enough) >= one.percent * len(enough), (one.name, one.percent)


def test_the_whole_jobs_order_holds_each_profiles_own(shop: Shop, tmp_path: Path) -> None:
    """What is enough for all at once costs no less than what is enough for one of them as often."""
    _, cut = asked(tmp_path, shop, *JOB)
    orders = orders_for(cut, shop, CHANCES, Budget())
    for k, whole in enumerate(orders.together):
        for own in orders.profiles:
            name = own[k].name
            prices = {entry.length: entry.price for entry in shop.profiles[name].stock}
            assert sum(n * prices[length] for length, n in whole.sticks[name].items()) >= own[k].goods
        assert whole.later <= whole.money  # ordered once it is measured, one profile's more is another's less


def test_whatever_a_reader_forms_of_a_row_is_of_its_order(shop: Shop, tmp_path: Path) -> None:
    """Products and sums of the figures of a row of the CSV, as a spreadsheet makes them: each comes to no less than the
    length or the money of the one order of the row, and to no more but for rounding."""
    _, cut = asked(tmp_path, shop, *JOB)
    orders = orders_for(cut, shop, CHANCES, Budget())
    rows = list(csv.DictReader(io.StringIO(bid_csv(Sheet(cut, F(80), 1, orders)))))
    assert len(rows) == 3 * (len(cut.profiles) + 1)
    for row, order in zip(rows, all_of(orders), strict=True):
        net, length, money = F(row["net"]), F(row["length"]), F(row["money"])
        made = [net * (1 + F(row["percent_to_add"]) / 100), net / (1 - F(row["percent_of_bought"]) / 100)]
        lists = [one.split(": ")[-1] for one in row["order"].split("; ")]
        sticks = [part.split(" x ") for one in lists if one != "nothing" for part in one.split(" + ")]
        made.append(sum((F(n) * F(each) for n, each in sticks), F(0)))
        assert all(0 <= one - length < F(1, 1000) for one in made), row
        assert sum(int(n) for n, _ in sticks) == int(row["sticks"])
        parts = ("sticks_money", "freight", "hardware", "saw_money")
        sums = sum((F(row[column]) for column in parts if row[column]), F(0))
        assert 0 <= money - sums < F(1, 1000)
        assert money == pytest.approx(float(order.money)) and F(row["money_if_measured_first"]) <= money


def test_a_job_that_is_known_has_its_plans_sticks(shop: Shop, tmp_path: Path) -> None:
    lines = ("A,gate,breakwater,2,40,42,", "B,bay,breakwater,2,70,42,")
    job, cut = asked(tmp_path, shop, *lines)
    orders = orders_for(cut, shop, CHANCES, Budget())
    plan = cut_pieces(take_off(orders_of(job, draw(job, 1, 1), (), shop.tape), shop).pieces, shop)
    for one in orders.together:
        assert one.goods == sum(part.totals.cost for part in plan.profiles) and one.known
        assert one.number == sum(stick.count for part in plan.profiles for stick in part.sticks)


def terms(shop: Shop) -> Shop:
    """The demo's shop, as two suppliers sell it."""
    rail = replace(shop.profiles["box-rail"], stock=(
        Stock(F(192), F("25.4"), bundle=4, supplier="quay"), Stock(F(240), F("31.1"), supplier="quay"),
        Stock(F(240), F("29.9"), bundle=5, min_order=5, supplier="yard")))
    upright = replace(shop.profiles["box-upright"], stock=(
        Stock(F(240), F(44), breaks=((3, F(40)),), supplier="yard"),))
    return replace(shop, profiles={**shop.profiles, "box-rail": rail, "box-upright": upright}, suppliers={
        "quay": Supplier("quay", F(35), F(400)), "yard": Supplier("yard", F(60), None, F(150))})


def test_money_is_as_it_is_sold_and_as_buy_finds_it_for_each_version(shop: Shop, tmp_path: Path) -> None:
    """Beside `buy`, which orders for each version by its own search: bundles, breaks, freight and minimum. What is
    enough if it is measured first is a version's own money; nothing is enough for less than so many versions cost."""
    sold = terms(shop)
    lines = ("A,gate,breakwater,1..3,38..42,42,yes", "B,bay,breakwater,2..3,60..68,42,yes")
    job, cut = asked(tmp_path, sold, *lines, versions=12)
    orders = orders_for(cut, sold, [F(50), F(80)], Budget())
    drawn = draw(job, 12, 1)
    real = sorted(cheapest_order([take_off(orders_of(job, drawn, choice, sold.tape), sold).pieces], sold, {}).money
                  for choice in drawn.choices)
    for one, at in zip(orders.together, (7, 11), strict=True):  # of 13 ranks that a fresh job may have
        assert one.later == pytest.approx(float(real[at - 1]), rel=0.01)
        assert one.money >= real[at - 2]
        assert sum((one.goods, one.freight, one.hardware, one.sawing)) == one.money
        for name, own in one.sticks.items():
            for length, n in own.items():
                assert any(entry.length == length and n % entry.bundle == 0 for entry in sold.profiles[name].stock) or (
                    name, length) == ("box-rail", 240)


def test_a_line_that_may_not_come_asks_for_nothing_where_it_does_not(shop: Shop, tmp_path: Path) -> None:
    """0, 1 or 2 gates, each as likely: the upright, of which one stick is enough for two, is bought in two of three."""
    _, cut = asked(tmp_path, shop, "A,gate,breakwater,0..2,40,42,")
    assert cut.whole and cut.done == 3
    orders = orders_for(cut, shop, [F(30), F(50), F(80)], Budget())
    upright = next(own for own in orders.profiles if own[0].name == "box-upright")
    assert [one.number for one in upright] == [0, 1, 1]
    assert orders.together[0].money == 0 < orders.together[1].money < orders.together[2].money


def test_without_terms_hardware_or_rates_there_is_sticks_money_alone(shop: Shop, tmp_path: Path) -> None:
    _, cut = asked(tmp_path, shop, "A,bay,breakwater,1..2,60..62,42,yes")
    for one in orders_for(cut, shop, CHANCES, Budget()).together:
        assert (one.freight, one.hardware, one.minutes, one.sawing) == (0, 0, None, 0)
        assert one.money == one.goods


def test_hardware_is_counted_with_its_price(shop: Shop, tmp_path: Path) -> None:
    """A lantern gate: two hinges at 13.40, a latch at 21.50, four frame screws at 0.12 for each of four rail ends."""
    _, cut = asked(tmp_path, shop, "A,gate,lantern,2..3,40,42,")
    each = 2 * F("13.40") + F("21.50") + 4 * 4 * F("0.12")
    assert cut.hardware == (2 * each, 3 * each)


@pytest.mark.parametrize("seed", range(20))
def test_cheapest_numbers_are_the_cheapest(seed: int) -> None:
    """Against all numbers there are; the second row asks for more where the first's best kind is taken alone."""
    kinds = [StickKindWorth(7 + seed % 5, (9 + seed % 3, 4), None),
             StickKindWorth(12 + seed % 7, (17 - seed % 4, 9), None),
             StickKindWorth(5, (6, 2 + seed % 2), 1 + seed % 3)]
    floors = (40 + 3 * seed, 18 + 2 * seed)

    def enough(numbers: Sequence[int]) -> bool:
        return all(sum(n * kind.worths[row] for n, kind in zip(numbers, kinds, strict=True)) >= floor
                   for row, floor in enumerate(floors))

    best = min(sum(n * kind.cost for n, kind in zip(numbers, kinds, strict=True))
               for numbers in product(range(20), range(20), range(2 + seed % 3)) if enough(numbers))
    money, numbers = cheapest_numbers(kinds, floors, 10**6)
    assert money == best and numbers is not None and enough(numbers)
    assert cheapest_numbers(kinds, floors, best) == (best, None)  # none is cheaper than that


def test_an_order_at_a_price_break_is_enough_as_often_as_it_says(shop: Shop, tmp_path: Path) -> None:
    """A long stick that is dear but for a break, in a job too large to be cut to the end: the versions are cut from the
    order itself."""
    rail = shop.profiles["box-rail"]
    long, short = (replace(rail.stock[0], length=F(length), price=F(price)) for length, price in ((232, "33.10"),
                                                                                                 (148, "19.20")))
    sold = replace(long, breaks=((5, F("30.90")),))
    terms = replace(shop, profiles={**shop.profiles, "box-rail": replace(rail, stock=(sold, short))})
    _, cut = asked(tmp_path, terms, *(f"B{k},bay,breakwater,3,{40 + 3 * k}..{56 + 4 * k},42," for k in range(7)),
                   versions=12)
    assert not cut.profiles[0].outcomes[0].need.small
    orders = orders_for(cut, terms, [F(50), F(80)], Budget())
    for one in next(own for own in orders.profiles if own[0].name == "box-rail"):
        demands = [[Demand("", length, qty) for (length, _, _), qty in asking["box-rail"]] for asking in cut.askings]
        enough = [can_be_cut(terms.profiles["box-rail"], demand, one.sticks["box-rail"], Budget(), 300)
                  for demand in demands]
        assert 100 * sum(enough) >= one.percent * len(enough), (one.percent, dict(one.sticks))


def test_longer_sticks_stand_for_shorter_ones_but_no_blanks() -> None:
    assert at_least({F(20): 3}, {F(20): 1, F(16): 2}, True)
    assert not at_least({F(20): 3}, {F(20): 1, F(16): 2}, False)
    assert not at_least({F(20): 1, F(16): 9}, {F(20): 2}, True)
    assert not at_least({F(20): 2}, {F(20): 1, F(16): 2}, True)
