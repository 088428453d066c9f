"""If these fail, the allowance is not what this shop's saw, lengths and rack would need."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pytest

from cutplan.bidding.bidfile import load_bid
from cutplan.bidding.curve import curves
from cutplan.bidding.cutting import BidParams, CutVersions, cut_drawn, cut_versions
from cutplan.bidding.versions import draw
from cutplan.cutting import cut_pieces
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.tiers import cheapest_plan
from cutplan.orders import load_inputs, load_week
from cutplan.plans.plan import Plan
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan
from cutplan.running import workers
from cutplan.running.budget import Budget
from cutplan.shop import Shop, Stock
from cutplan.takeoff import take_off
from tests.bidding.bids import DEMO, written
from tests.cutting.shops import profile


def bid(folder: Path, shop: Shop, *lines: str, versions: int = 40, seed: int = 1) -> CutVersions:
    return cut_versions(load_bid(written(folder, *lines), shop).lines, shop, versions, seed)


def plan(folder: Path, shop: Shop, *lines: str) -> Plan:
    return cut_pieces(take_off(load_week(written(folder, *lines), shop), shop).pieces, shop)


def test_with_no_spread_the_allowance_is_the_plans_waste_exactly(shop: Shop) -> None:
    shop, work = load_inputs(DEMO / "shop.toml", DEMO / "rush.csv")
    made = cut_pieces(take_off(work, shop).pieces, shop)  # type: ignore[arg-type]
    cut = cut_versions(load_bid(DEMO / "rush.csv", shop).lines, shop, 200, 1)
    assert cut.whole and cut.done == 1
    for figures, part in zip(cut.profiles, made.profiles, strict=True):
        assert figures.name == part.profile
        for percent in (50, 80, 95):
            assert figures.enough(lambda one: one.of_bought, F(percent)).value == part.totals.waste_percent
            assert figures.enough(lambda one: one.cost, F(percent)).value == part.totals.cost


def test_two_versions_give_exact_chances(shop: Shop, tmp_path: Path) -> None:
    """One gate or two, each as likely: enough in half is the lesser waste, enough in more the greater."""
    plans = [plan(tmp_path, shop, f"A,gate,breakwater,{n},40,42,") for n in (1, 2)]
    cut = bid(tmp_path, shop, "A,gate,breakwater,1..2,40,42,")
    assert cut.whole and cut.done == 2
    for k, figures in enumerate(cut.profiles):
        wastes = sorted(made.profiles[k].totals.waste_percent for made in plans)
        for percent, value in ((50, wastes[0]), (51, wastes[1]), (80, wastes[1]), (95, wastes[1])):
            assert figures.enough(lambda one: one.of_bought, F(percent)).value == value
        assert figures.chance(lambda one: one.of_bought, wastes[0]) == (50 if wastes[0] < wastes[1] else 100)
        costs = [made.profiles[k].totals.cost for made in plans]
        assert figures.mean(lambda one: one.cost) == sum(costs) / 2


def test_the_same_bid_gives_the_same_figures(shop: Shop, tmp_path: Path) -> None:
    lines = "A,bay,lantern,2,60..80,42,", "B,gate,breakwater,1..2,36..48,42,"
    assert bid(tmp_path, shop, *lines, versions=12) == bid(tmp_path, shop, *lines, versions=12)


LOOKS = 5


@pytest.mark.parametrize("steps", [2, 40])
def test_figures_do_not_hang_on_how_often_the_clock_is_looked_at(steps: int, shop: Shop,
                                                                 monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever is told that a budget is not spent may ask again, and nothing comes of it."""
    lines = load_bid(DEMO / "bid.csv", shop).lines
    drawn = draw(lines, 4, 1)
    monkeypatch.setattr(workers, "can_start", lambda: False)
    params = BidParams(steps=steps, work=steps)
    figures = cut_drawn(lines, drawn, shop, Budget(), params)
    once = Budget.spent
    monkeypatch.setattr(Budget, "spent", lambda budget: [once(budget) for _ in range(LOOKS)][-1])
    assert cut_drawn(lines, drawn, shop, Budget(), params) == figures


@pytest.mark.parametrize("steps", [1, 5, 30, 100])
def test_a_search_prices_patterns_no_more_often_than_it_may(steps: int, shop: Shop,
                                                           monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted by one who stands beside it; a few times more, where what was begun is brought to an end."""
    priced = 0

    def counting(*args: Any, price: Any = Instance.price, **kwargs: Any) -> Any:
        nonlocal priced
        priced += 1
        return price(*args, **kwargs)

    monkeypatch.setattr(Instance, "price", counting)
    most = 0
    for seed in range(6):
        rail = profile([(n, n, None) for n in (97, 120, 144)], kerf="1/8")
        chance = random.Random(seed)
        demand = [Demand("", F(chance.randint(20 * 8, 60 * 8), 8), chance.randint(1, 9), "") for _ in range(14)]
        priced = 0
        cheapest_plan(rail, demand, Budget().within(steps))
        assert priced <= steps + 6
        most = max(most, priced)
    assert most >= steps / 2  # there was more to do


def test_a_version_adds_up_and_costs_what_its_plan_costs(shop: Shop, tmp_path: Path) -> None:
    """Pieces as the takeoff has them; cut to the end, no version costs more than a plan of the same week."""
    lines = load_bid(written(tmp_path, "A,bay,breakwater,1,60..60 1/2,42,", "B,gate,lantern,1..2,40,36,"), shop).lines
    drawn = draw(lines, 200, 1)
    cut = cut_versions(lines, shop, 200, 1)
    assert cut.done == len(drawn.choices) == 18
    for k in (0, 17):
        made = plan(tmp_path, shop, f"A,bay,breakwater,1,{60 if k == 0 else 60.5},42,",
                    f"B,gate,lantern,{1 if k == 0 else 2},40,36,")
        for figures, part in zip(cut.profiles, made.profiles, strict=True):
            found = [one for one in figures.outcomes if one.net == part.totals.pieces]
            assert part.totals.cost in {one.cost for one in found}


def test_offcuts_on_a_rack_cost_nothing_and_are_not_sticks_to_buy(shop: Shop, tmp_path: Path) -> None:
    profile = shop.profiles["box-upright"]
    stocked = replace(profile, stock=(*profile.stock, Stock(F(100), F(0), 1, "CKJ")))
    with_rack = replace(shop, profiles={**shop.profiles, "box-upright": stocked})
    found = {figures.name: figures.outcomes for figures in bid(
        tmp_path, with_rack, "A,gate,breakwater,1,40..41,42,").profiles}
    assert {(one.cost, one.sticks, one.from_rack) for one in found["box-upright"]} == {(0, 0, 1)}


def test_kept_offcuts_are_credited_apart(shop: Shop, tmp_path: Path) -> None:
    line = "A,gate,breakwater,1,40..40 1/8,42,"
    none, half = (bid(tmp_path, replace(shop, offcut_credit=F(rate)), line) for rate in ("0", "0.5"))
    for a, b in zip(none.profiles, half.profiles, strict=True):
        assert [replace(one, credit=F(0)) for one in b.outcomes] == list(a.outcomes)
        assert all(one.credit <= one.cost / 2 for one in b.outcomes)
    kept = next(figures for figures in half.profiles if figures.name == "box-upright").outcomes[0]
    assert kept.credit == kept.kept * 44 / 240 / 2 > 0  # 240 in cost 44.00


def test_a_bid_that_cannot_be_cut_is_no_plan(shop: Shop, tmp_path: Path) -> None:
    with pytest.raises(NoPlan, match="of 17 versions"):
        bid(tmp_path, shop, "A,bay,lantern,1,237..238,42,", versions=40)


def test_what_is_stopped_gives_the_figures_so_far(shop: Shop, tmp_path: Path) -> None:
    """Told to stop at the tenth version, a bid still has whole versions, fewer, and says so."""
    lines = load_bid(written(tmp_path, "A,bay,lantern,3,60..80,42,"), shop).lines

    def tell(text: str) -> None:
        if text.startswith("cutting version 10"):
            budget.stop()

    budget = Budget(None, tell)
    cut = cut_drawn(lines, draw(lines, 400, 1), shop, budget)
    assert cut.cut_short and 0 < cut.done < 400 and not cut.whole
    assert all(len(figures.outcomes) == cut.done for figures in (*cut.profiles, cut.together))
    with pytest.raises(NoPlan, match="--limit"):
        cut_drawn(lines, draw(lines, 40, 1), shop, Budget(1e-9))


def test_waste_falls_as_the_job_grows(shop: Shop, tmp_path: Path) -> None:
    """A lone gate's uprights take a whole stick; of many gates' little is left. The line goes through two points."""
    lines = load_bid(written(tmp_path, "A,gate,breakwater,1..2,40,42,"), shop).lines
    once = cut_versions(lines, shop, 40, 1)
    found = {curve.name: curve for curve in curves(lines, shop, once, 1, F(80), Budget())}
    curve = found["box-upright"]
    assert [point.times for point in curve.points] == [1, 2, 4, 8]
    assert curve.points[0].mean > curve.points[-1].mean > 0
    assert curve.small > 0
    errors = [point.mean - curve.at(F(point.times)) for point in curve.points]
    assert sum(errors) == 0  # least squares
    assert sum(error / point.times for error, point in zip(errors, curve.points, strict=True)) == 0
