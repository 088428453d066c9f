"""If these fail, numbers of sticks that could carry the demand are overlooked, and a bound says more than is true; or
the cutter and `check`, which share no code, disagree about them."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import Any

import pytest

from cutplan.checking.cover import least_cover
from cutplan.checking.proof import prove
from cutplan.checking.vipr.proof import write_proof
from cutplan.cutting.lp import bounds
from cutplan.cutting.lp.cover import cover_of
from cutplan.cutting.problem.objective import cheapest
from cutplan.cutting.tiers import cheapest_plan, finish
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.reading import read_json
from cutplan.plans.records import Demand, ProfilePlan
from cutplan.problems import Findings
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock
from tests.checking.test_vipr import Reader
from tests.sweeps import sweep


def by_trying(case: dict[str, Any]) -> int | None:
    """The least cost below `below` of any numbers that are worth enough, by trying all."""
    costs = []
    for numbers in product(*(range(low, high + 1) for low, high in case["box"])):
        if sum(n * worth for n, worth in zip(numbers, case["worths"], strict=True)) >= case["need"]:
            costs.append(sum(n * price for n, price in zip(numbers, case["prices"], strict=True)))
    least = min(costs, default=case["below"])
    return least if least < case["below"] else None


def any_case(seed: int) -> dict[str, Any]:
    chance = random.Random(seed)
    kinds = chance.randint(1, 4)
    box = [(low, low + chance.randint(0, 4)) for low in (chance.choice([0, 0, 1]) for _ in range(kinds))]
    prices = [chance.choice([0, 1, 1, 1]) * chance.randint(1, 40) for _ in range(kinds)]
    worths = [chance.randint(0, 60) for _ in range(kinds)]
    return {"box": box, "prices": prices, "worths": worths, "need": chance.randint(0, 300),
            "below": chance.randint(1, 400)}


@pytest.mark.parametrize("seed", sweep(60, 400))
def test_check_finds_the_least_cost_that_trying_all_numbers_does(seed: int) -> None:
    case = any_case(seed)
    kinds = [(Fraction(k), Fraction(price), True, Fraction(0), (Fraction(0), Fraction(0)))
             for k, price in enumerate(case["prices"])]
    found = least_cover(dict(zip(kinds, case["box"], strict=True)), dict(zip(kinds, case["worths"], strict=True)),
                        case["need"], Fraction(1), Fraction(case["below"]), lambda: None)
    least = by_trying(case)
    assert found == (case["below"] if least is None else least)


@pytest.mark.parametrize("seed", sweep(60, 400))
def test_the_cutter_finds_it_too_and_numbers_of_that_cost(seed: int) -> None:
    """A piece is worth `need` there: the worths of sticks are any numbers, as far as the knapsack is concerned."""
    case = any_case(seed)
    stock = tuple(Stock(Fraction(50 - k), Fraction(price), 9) for k, price in enumerate(case["prices"]))
    job = cheapest_plan(Profile("rail", "rail", (*stock, Stock(Fraction(60), Fraction(1))), Fraction(0)),
                        [Demand("A", Fraction(20), 1, "")], Budget(0.0))
    kinds = [Fraction(entry[0].length) for entry in job.instance.stock]
    order = [kinds.index(entry.length) for entry in stock]
    sticks = tuple(replace(job.instance.sticks[s], cost=price) for s, price in zip(order, case["prices"], strict=True))
    instance = replace(job.instance, sticks=sticks)
    if len(sticks) < 2:
        return
    bound = bounds.Bound(bounds.Duals((case["need"],), 0, 1), 0, tuple(case["worths"]))
    cover = cover_of(cheapest(instance), bound, tuple(case["box"]), case["below"])
    least = by_trying(case)
    base = sum(low * price for (low, _), price in zip(case["box"], case["prices"], strict=True))
    if cover is None:
        assert least is None and base >= case["below"]
        return
    assert cover.least() == least
    for cost, numbers in cover.cheapest():
        assert cost == sum(n * price for n, price in zip(numbers, case["prices"], strict=True)) >= (least or 0)
        assert sum(n * worth for n, worth in zip(numbers, case["worths"], strict=True)) >= case["need"]
        assert all(low <= n <= high for n, (low, high) in zip(numbers, case["box"], strict=True))


def uneven(seed: int, sizes: int = 70, kinds: int = 8) -> tuple[Profile, list[Demand]]:
    """Small pieces, one of each size, and few sticks of many lengths at prices that do not rise evenly with them."""
    chance = random.Random(seed)
    lengths = sorted(chance.sample(range(1_900, 3_000), kinds))
    stock = tuple(Stock(Fraction(length), Fraction(int(length**0.5 * 10) + chance.randint(0, 60)), 3)
                  for length in lengths)
    pieces = sorted(chance.sample(range(20, 900), sizes))
    return Profile("rail", "rail", stock, Fraction(0)), [Demand(str(n), Fraction(n), 1, "") for n in pieces]


def planned(rail: Profile, demand: list[Demand], work: int) -> ProfilePlan:
    """Its plan after so much work in the first tier, and none in the others."""
    return finish(cheapest_plan(rail, demand, Budget().within(work)), Budget(0.0))


@pytest.mark.parametrize("seed", range(4))
def test_small_pieces_on_few_sticks_of_many_lengths_end_proven(seed: int) -> None:
    """By the certificate: `check` works the cover out by itself. Without the word for it, it proves less."""
    plan = planned(*uneven(seed), work=2_000)
    assert plan.tiers[0].closed
    proved = prove(plan)
    assert proved.ok and "by search" not in proved.line
    tree = plan.certificate["tree"]
    assert "cover" in tree
    bare = replace(plan, certificate={**plan.certificate, "tree": {k: v for k, v in tree.items() if k != "cover"}})
    assert not prove(bare).ok


def test_the_plan_file_and_a_proof_for_others_hold_such_a_bound() -> None:
    """Read back from its file it proves as much; so does the derivation, by the reader of the tests."""
    plan = planned(*uneven(0, sizes=24, kinds=4), work=2_000)
    assert "cover" in plan.certificate["tree"]
    found = Findings("plan.json")
    again = read_json(to_json(Plan("in", (plan,))), found).profiles[0]
    assert prove(again) == prove(plan) and prove(again).ok
    file = Reader(write_proof(plan).text)
    assert file.low == file.high == plan.tiers[0].value == plan.tiers[0].bound
