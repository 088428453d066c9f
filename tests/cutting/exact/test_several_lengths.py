"""If these fail, plans of many pieces on several stock lengths with limited supply end unproven or beside the mark, or
the cutter goes on and on where so many sticks are missing that no plan can be."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting.tiers import cheapest_plan, finish
from cutplan.plans.plan import Plan
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock


def many_pieces(seed: int, sizes: int) -> tuple[Profile, list[Demand]]:
    """Sizes by the dozen and some 30 of each, six lengths priced by length, of each too few for all."""
    chance = random.Random(seed)
    lengths = [10_000, *sorted(chance.sample(range(5_000, 10_000, 500), 5))]
    pieces = {chance.randint(50, 7_500): chance.randint(1, 60) for _ in range(sizes)}
    each = sum(size * n for size, n in pieces.items()) // (3 * sum(lengths))
    stock = tuple(Stock(Fraction(length), Fraction(length), each * chance.randint(2, 5)) for length in lengths)
    return Profile("rail", "rail", stock, Fraction(0)), [Demand(str(n), Fraction(n), q, "") for n, q in pieces.items()]


@pytest.mark.parametrize(("seed", "sizes"), [(1, 60), (5, 90)])
def test_many_pieces_on_limited_lengths_end_proven(seed: int, sizes: int) -> None:
    """`check` proves it from the certificate alone, and the plan obeys every rule, its stock's numbers among them."""
    rail, demand = many_pieces(seed, sizes)
    plan = finish(cheapest_plan(rail, demand, Budget().within(1_700)), Budget(0.0))
    assert not audit(Plan("in", (plan,)))
    assert plan.tiers[0].closed
    proved = prove(plan)
    assert proved.ok and "by search" not in proved.line
    for entry in rail.stock:
        assert sum(stick.count for stick in plan.sticks if stick.length == entry.length) <= (entry.qty or 0)


@pytest.mark.slow
def test_twelve_lengths_whose_prices_rise_faster_than_they_do_end_proven() -> None:
    """Among so many numbers of sticks thousands cost less than the plan and have to be refuted, each for itself."""
    chance = random.Random(32)
    lengths = sorted(chance.sample(range(800, 1200), 12))
    pieces = chance.sample(range(10, 800), 34)
    stock = tuple(Stock(Fraction(n), Fraction(int(n**1.5 / 10)), 24) for n in lengths)
    rail = Profile("rail", "rail", stock, Fraction(0))
    demand = [Demand(str(n), Fraction(n), 1, "") for n in pieces]
    plan = finish(cheapest_plan(rail, demand, Budget().within(30_000)), Budget(0.0))
    assert not audit(Plan("in", (plan,)))
    assert plan.tiers[0].closed
    proved = prove(plan)
    assert proved.ok and "by search" not in proved.line


def test_what_is_missing_is_all_that_is_looked_for_where_the_stock_runs_out() -> None:
    """Every long piece needs a stick of its own, so that seven are missing; what the others cost says nothing more."""
    chance = random.Random(1)
    stock = tuple(Stock(Fraction(length), Fraction(length), 10) for length in (1_000, *range(400, 500, 7)))
    demand = [Demand(f"L{n}", Fraction(600 + n), 1, "") for n in range(17)]
    demand += [Demand(f"S{n}", Fraction(chance.randint(20, 380)), 1, "") for n in range(40)]
    work = 300
    budget = Budget().within(work)
    with pytest.raises(NoPlan, match="the stock runs out: 7 more of 1000 would be needed"):
        cheapest_plan(Profile("rail", "rail", stock, Fraction(0)), demand, budget)
    assert not budget.spent()
