"""One order for all profiles at once: of each profile one of the orders in question, so that the versions for which all
of them are enough are likely enough, at the least money there is for such orders together.

What suppliers ask is asked of the whole order: one supplier's dearer sticks can be cheaper than a second freight.
Hardware and work count with it, for an order is enough where what is put by for these is enough too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ortools.sat.python import cp_model

from cutplan.bidding.needs import StickNumbers, number_of
from cutplan.bidding.purchases import sold, sticks_task, write_at_least
from cutplan.buying.ordering.numbers import OrderMarket, by_task, write_terms
from cutplan.cutting import solved
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Supplier

WORK = 4.0  # of CP-SAT, in its deterministic seconds, for one order
CENT = Fraction(1, 100)  # what is beside the sticks is rounded up to it where orders are compared


@dataclass(frozen=True)
class OrderInQuestion:
    """Sticks of one profile, what they cost alone, and the versions that they are enough for, as bits.

    For those of them that are `unsure` no plan was looked for.
    """

    sticks: StickNumbers
    money: Fraction
    serves: int
    unsure: int = 0

    @property
    def surely(self) -> int:
        return self.serves & ~self.unsure


@dataclass(frozen=True)
class WholeJob:
    """What an order is chosen from: of each profile those in question; how likely each version is, in proportion, and
    what it costs beside its sticks; and what suppliers ask."""

    profiles: Sequence[Profile]
    orders: Sequence[Sequence[OrderInQuestion]]
    weights: Sequence[int]
    beside: Sequence[Fraction]
    suppliers: Mapping[str, Supplier]

    def cheapest(self, weight: int, budget: Budget) -> tuple[int, ...] | None:
        """Of each profile the place of its order: together the cheapest that are enough in versions of so much weight,
        as far as they were found. None where there are no such orders."""
        model = cp_model.CpModel()
        takes = [[model.new_bool_var("") for _ in own] for own in self.orders]
        for own in takes:
            model.add_exactly_one(own)
        served = self.write_served(model, takes)
        model.add(sum(n * one for n, one in zip(self.weights, served, strict=True)) >= weight)
        model.minimize(self.write_money(model, takes, served))
        solver, status = solved(model, budget, WORK, linear=2)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        return tuple(next(k for k, take in enumerate(own) if solver.value(take)) for own in takes)

    def write_served(self, model: cp_model.CpModel, takes: Sequence[Sequence[Any]]) -> list[Any]:
        """Whether all that is taken is enough for each version."""
        served = [model.new_bool_var("") for _ in self.weights]
        for own, orders in zip(takes, self.orders, strict=True):
            for j, one in enumerate(served):
                enough = [take for take, order in zip(own, orders, strict=True) if order.serves >> j & 1]
                if len(enough) < len(own):
                    model.add(sum(enough) >= one)
        return served

    def write_money(self, model: cp_model.CpModel, takes: Sequence[Sequence[Any]], served: Sequence[Any]) -> Any:
        """What it costs to buy all that is taken, or longer sticks for it, and the most that a served version costs
        beside."""
        market = OrderMarket(tuple(
            sticks_task(profile, max(number_of(order.sticks) for order in own))
            for profile, own in zip(self.profiles, self.orders, strict=True)), self.suppliers)
        terms = write_terms(model, market)
        bought = by_task(market, terms.sticks)
        for profile, own, taken, numbers in zip(self.profiles, self.orders, takes, bought, strict=True):
            asked = {length: sum(order.sticks.get(length, 0) * take for order, take in zip(own, taken, strict=True))
                     for length in {length for order in own for length in order.sticks}}
            write_at_least(model, asked, not profile.one_per_stick, sold(profile), numbers)
        parts = math.ceil(market.coin / CENT)
        costs = [math.ceil(one * parts / market.coin) for one in self.beside]
        beside = model.new_int_var(0, max(costs), "")
        for one, cost in zip(served, costs, strict=True):
            if cost:
                model.add(beside >= cost * one)
        return parts * terms.money + beside
