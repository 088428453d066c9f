"""The cheapest order for some weeks, over all profiles, entries and suppliers at once, and its bound.

Two halves meet. From below: an order is a number of sticks of each entry, at its exact terms (numbers.py), that obeys
rows which every order that is enough obeys (relaxed.py). The cheapest such numbers cost no more than any order; where
they are not enough even in fractions, a row says so and they are sought again. From above: the numbers of sticks and
how each is cut are chosen together, over the columns that the LPs found, or over all there are where these are few;
then the least of these is the least of all. The bound is one of a search: each row is exact, and so is the solver's
arithmetic, but nothing is written down to check it by.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from ortools.sat.python import cp_model

from cutplan.buying.ordering.columns import Column
from cutplan.buying.ordering.diving import Cut, dive, write_columns
from cutplan.buying.ordering.numbers import Beyond, Enough, Market, by_task, write_rows, write_terms
from cutplan.buying.ordering.relaxed import Relaxed, RelaxedParams
from cutplan.buying.ordering.task import ProfileTask
from cutplan.cutting import solved
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class OrderParams:
    """The search for an order.

    every:   columns of one task up to which all of them are listed
    all:     columns of all tasks up to which the order is searched over all of them to its end
    rounds:  of rows, numbers, rows
    numbers: work of CP-SAT for one choice of numbers of sticks
    plans:   work of CP-SAT for numbers and columns together: where all columns are there, and where not
    """

    every: int = 1_500
    all: int = 4_000
    rounds: int = 200
    numbers: float = 2.0
    dives: int = 4
    plans: tuple[float, float] = (60.0, 12.0)
    relaxed: RelaxedParams = field(default_factory=RelaxedParams)


@dataclass(frozen=True)
class Chosen:
    """The cheapest order found: sticks of each sale of the market, the columns of each task with how often each is cut,
    the amount, and what no order for these weeks costs less than."""

    sticks: tuple[int, ...]
    columns: tuple[tuple[tuple[Column, int], ...], ...]
    money: Fraction
    bound: Fraction


class OrderSearch:
    def __init__(self, market: Market, budget: Budget, params: OrderParams = OrderParams()) -> None:
        self.market, self.budget, self.params = market, budget, params
        self.coin = market.coin
        self.below = [Relaxed(task, k, params.relaxed) for k, task in enumerate(market.tasks)]
        # where what a stick serves over several weeks has no columns, the rows are those of all weeks as one
        self.rows: list[Enough] = []
        self.beyond: list[Beyond] = []
        self.every = [one.columns.every(params.every) for one in self.below]
        self.bound = 0  # coins
        self.best: Chosen | None = None
        self.numbers: list[int] | None = None

    def run(self) -> Chosen:
        """Raises NoPlan where the stock runs out, OutOfTime where no order was found."""
        self.first_rows(self.budget.share(2))
        self.raise_bound(self.budget.share(2))
        self.look()
        if self.best is None:
            raise OutOfTime("no order was found in the time there was")
        return self.best

    def tell(self, text: str) -> None:
        self.budget.tell(f"order: {text}")

    # ---- from below ----

    def first_rows(self, budget: Budget) -> None:
        """Rows at the prices of few sticks, and of many."""
        for one in self.below:
            if budget.spent():
                return
            self.tell(f"bounds, {one.task.profile.name}")
            few = [float(sale.stock.price) for sale in one.sales]
            many = [float(sale.stock.each(10**9)) for sale in one.sales]
            for prices in [few, many] if many != few else [few]:
                self.rows.append(one.by_prices(prices, budget))

    def raise_bound(self, budget: Budget) -> None:
        """Seeks the cheapest numbers of sticks until they are enough, in fractions."""
        for _ in range(self.params.rounds):
            sticks = self.cheapest_numbers()
            if sticks is None or budget.spent():
                return
            found = [row for one, own in zip(self.below, by_task(self.market, sticks), strict=True)
                     if (row := one.lacking(own, budget)) is not None]
            self.rows += found
            self.tell(f"no less than {float(self.bound * self.coin):.2f}")
            if not found:
                return

    def cheapest_numbers(self) -> list[int] | None:
        """The cheapest that obey all rows; the bound is raised to their money. Raises NoPlan where none do."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        write_rows(model, self.market, terms.sticks, self.rows, self.beyond)
        model.minimize(terms.money)
        solver, status = solved(model, self.budget, self.params.numbers)
        if status == cp_model.INFEASIBLE:
            raise NoPlan(self.out_of_stock())
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            least = solver.objective_value if status == cp_model.OPTIMAL else solver.best_objective_bound
            self.bound = max(self.bound, round(least) if status == cp_model.OPTIMAL else math.floor(least))
            self.numbers = [solver.value(n) for n in terms.sticks]
            return self.numbers
        return None

    def out_of_stock(self) -> str:
        return "the stock runs out"

    # ---- from above ----

    def look(self) -> None:
        """Plans from the cheapest numbers and what must be bought beside; and all together, where columns are few."""
        lists = [every for every in self.every if every is not None]
        if len(lists) == len(self.every) and sum(map(len, lists)) <= self.params.all:
            self.look_among(lists, self.params.plans[0], complete=True)
            return
        self.dive_all()

    def dive_all(self) -> None:
        sticks = self.numbers
        assert sticks is not None
        chance = random.Random(0)
        cuts: list[Cut] = []
        for one, own in zip(self.below, by_task(self.market, sticks), strict=True):
            cuts.append(self.best_dive(one, own, chance))
        self.settle(cuts)

    def best_dive(self, one: Relaxed, own: Sequence[int], chance: random.Random) -> Cut:
        prices = [sale.stock.each(n) for sale, n in zip(one.sales, own, strict=True)]
        best: Cut | None = None
        worth = None
        for _ in range(self.params.dives):
            self.tell(f"plans, {one.task.profile.name}")
            found = dive(one, own, prices, self.budget, chance)
            if found is None:
                break
            one.learn(found)
            beside = extra_money(one.task, own, prices, found)
            if worth is None or beside < worth:
                best, worth = found, beside
            if not worth:
                break
        print(one.task.profile.name, 'beside', worth and float(worth))
        assert best is not None
        return best

    def settle(self, cuts: Sequence[Cut]) -> None:
        """Takes the cheapest numbers of sticks that these plans can be cut from."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        for one, cut, own in zip(self.below, cuts, by_task(self.market, terms.sticks), strict=True):
            write_columns(model, one.task, [[0] * len(week) for week in one.task.demands], [], own, cut)
        model.minimize(terms.money)
        solver, status = solved(model, self.budget, self.params.numbers)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.offer(round(solver.objective_value), [solver.value(n) for n in terms.sticks], cuts)

    def offer(self, money: int, sticks: Sequence[int], cuts: Sequence[Cut]) -> None:
        if self.best is None or money * self.coin < self.best.money:
            self.best = Chosen(tuple(sticks), tuple(tuple(sorted(cut.items())) for cut in cuts), money * self.coin,
                               min(money, self.bound) * self.coin)

    def look_among(self, lists: Sequence[Sequence[Column]], work: float, complete: bool) -> None:
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        write_rows(model, self.market, terms.sticks, self.rows, self.beyond)
        cut = [write_columns(model, one.task, one.task.demands, columns, own, {}) for one, columns, own in
               zip(self.below, lists, by_task(self.market, terms.sticks), strict=True)]
        model.add(terms.money >= self.bound)
        model.minimize(terms.money)
        solver, status = solved(model, self.budget, work)
        if status == cp_model.INFEASIBLE and complete:
            raise NoPlan(self.out_of_stock())
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return
        money = round(solver.objective_value)
        if complete:
            self.bound = max(self.bound, money if status == cp_model.OPTIMAL else
                             math.floor(solver.best_objective_bound))
        self.offer(money, [solver.value(n) for n in terms.sticks],
                   [{column: n for column, x in own.items() if (n := solver.value(x))} for own in cut])


def cheapest(market: Market, budget: Budget, params: OrderParams = OrderParams()) -> Chosen:
    """The cheapest order for all tasks of a market. Raises NoPlan."""
    return OrderSearch(market, budget, params).run()


def extra_money(task: ProfileTask, sticks: Sequence[int], prices: Sequence[Fraction], cut: Cut) -> Fraction:
    """About what a plan needs beside some sticks."""
    sales = [sale for sale in task.sales if sale.most != 0]
    total = Fraction(0)
    for s in task.sticks:
        drawn = sum(column.sticks * n for column, n in cut.items() if column.stick == s)
        come = sum(n for sale, n in zip(sales, sticks, strict=True) if task.kind[sale.stock.length] == s)
        dear = [price for sale, price in zip(sales, prices, strict=True) if task.kind[sale.stock.length] == s]
        total += max(0, drawn - come - task.begin(s)) * max(dear, default=Fraction(0))
    return total
