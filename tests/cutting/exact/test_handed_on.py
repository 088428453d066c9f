"""If these fail, a search that is ended by force is taken for one that went to its end, and a plan is called the best
that is not."""

from __future__ import annotations

import random
from fractions import Fraction as F
from typing import Any

import pytest

from cutplan.cutting.exact import branch_and_bound as exact
from cutplan.cutting.exact.branch_and_bound import Optimum, Search
from cutplan.cutting.heuristics.first_fit import spent
from cutplan.cutting.problem.demand import demand_of, instance_of
from cutplan.cutting.problem.objective import cheapest, least_used
from cutplan.cutting.tiers import first_plan
from cutplan.orders import Piece
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock


class Every(Budget):
    """A budget that takes whatever is handed on, at once."""

    def __init__(self) -> None:
        super().__init__(20)
        self.taken: list[Optimum] = []

    def keep(self, find: Any) -> None:
        self.taken.append(find())


@pytest.mark.parametrize("seed", range(6))
def test_what_is_handed_on_claims_no_more_than_is_true(seed: int) -> None:
    """Of the first and the second tier: no bound that was ever handed on is above what the search found in the end."""
    chance = random.Random(seed)
    stock = tuple(Stock(F(n), F(n) * chance.randint(8, 12)) for n in chance.sample(range(96, 260, 12), 3))
    rail = Profile("rail", "rail", stock, F(1, 8), F(1, 2), keep_from=F(30))
    pieces = [Piece(f"P{k}", "rail", F(chance.randint(120, 800), 8), chance.randint(1, 6)) for k in range(12)]
    instance = instance_of(rail, demand_of(pieces, rail))
    first_budget, second_budget = Every(), Every()
    first = Search(cheapest(instance), first_plan(instance), first_budget, report, exact.BranchAndBoundParams()).run()
    aim = least_used(instance, spent(instance, first.plan))
    second = Search(aim, first.plan, second_budget, report, exact.BranchAndBoundParams()).run()
    for found, budget in ((first, first_budget), (second, second_budget)):
        assert budget.taken
        assert all(one.bound <= found.value for one in budget.taken)
        early = [one for one in budget.taken if one.value > found.value]
        assert all(not one.proven for one in early)


def report(best: int, bound: int) -> str:
    return ""
