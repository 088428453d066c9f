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
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial
from typing import Any

from ortools.sat.python import cp_model

from cutplan.buying.ordering.columns import Column
from cutplan.buying.ordering.diving import ColumnCounts, dive, renewed, write_columns
from cutplan.buying.ordering.in_turn import in_turn
from cutplan.buying.ordering.numbers import EnoughRow, OrderMarket, by_task, write_rows, write_terms
from cutplan.buying.ordering.relaxed import OrderLp, RelaxedParams
from cutplan.buying.ordering.task import ProfileTask
from cutplan.buying.terms import freight, levels, supplier_of
from cutplan.cutting import solved
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers

RUNS_OUT = "the stock runs out"


@dataclass(frozen=True)
class OrderParams:
    """The search for an order.

    every:   columns of one task up to which all of them are listed
    few:     columns of all tasks up to which the order is searched over all of them at once, and nothing else is done
    rounds:  of rows, numbers, rows
    numbers: work of CP-SAT for one choice of numbers of sticks
    plans:   its work for numbers and columns together
    dives:   of each task in a round, and rounds
    below:   the part of the time that the bound may take
    """

    every: int = 1_000
    few: int = 1_500
    rounds: int = 200
    numbers: float = 2.0
    plans: float = 60.0
    dives: tuple[int, int] = (1, 4)
    below: float = 0.4
    relaxed: RelaxedParams = field(default_factory=RelaxedParams)


@dataclass(frozen=True)
class FoundOrder:
    """The cheapest order found: sticks of each sale of the market, the columns of each task with how often each is cut,
    the amount, and what no order for these weeks costs less than."""

    sticks: tuple[int, ...]
    columns: tuple[tuple[tuple[Column, int], ...], ...]
    money: Fraction
    bound: Fraction

    @property
    def proven(self) -> bool:
        return self.bound >= self.money


class OrderSearch:
    """The search for one market. Amounts are in its coins."""

    def __init__(self, market: OrderMarket, budget: Budget, params: OrderParams = OrderParams()) -> None:
        self.market, self.budget, self.params = market, budget, params
        self.coin = market.coin
        self.below = [OrderLp(task, k, params.relaxed) for k, task in enumerate(market.tasks)]
        self.rows: list[EnoughRow] = []
        self.bound = 0
        self.numbers: list[int] | None = None
        self.best: tuple[int, tuple[int, ...], tuple[ColumnCounts, ...]] | None = None

    def run(self) -> FoundOrder:
        """Raises NoPlan where the stock runs out, OutOfTime where no order was found."""
        with Workers(self.budget, len(self.below)) as workers:
            self.first_rows(workers)
            self.raise_bound(self.budget.upto(self.params.below))
            lists = [one.columns.every(self.params.every) for one in self.below]
            every = [columns for columns in lists if columns is not None]
            complete = len(every) == len(lists)
            if complete and sum(map(len, every)) <= self.params.few:
                self.look_among(every)
            if not self.proven():
                self.dive(workers)
            if complete and not self.proven() and not self.budget.spent():
                self.look_among(every)
        if self.best is None:
            raise OutOfTime("no order was found in the time there was")
        money, sticks, cuts = self.best
        return FoundOrder(sticks, tuple(tuple(sorted(cut.items())) for cut in cuts), money * self.coin,
                      min(money, self.bound) * self.coin)

    def proven(self) -> bool:
        return self.best is not None and self.bound >= self.best[0]

    def tell(self) -> None:
        found = "" if self.best is None else f"{float(self.best[0] * self.coin):.2f}, "
        self.budget.tell(f"order: {found}no less than {float(self.bound * self.coin):.2f}")

    # ---- from below ----

    def first_rows(self, workers: Workers) -> None:
        """Rows at the prices of few sticks, and of many."""
        jobs = []
        for one in self.below:
            few = tuple(float(sale.stock.price) for sale in one.task.sold)
            many = tuple(float(levels(sale.stock)[-1].each) for sale in one.task.sold)
            jobs.append(BoundJob(one.task, one.place, tuple(dict.fromkeys([few, many])), self.params.relaxed))
        workers.budget = self.budget.share(2)
        found = workers.each(bound, jobs, BoundJob.load, partial(parts_left, len(jobs), workers.number))
        for one, (rows, columns) in zip(self.below, found, strict=True):
            self.rows += rows
            one.learn(columns)

    def raise_bound(self, budget: Budget) -> None:
        """Seeks the cheapest numbers of sticks until they are enough, in fractions."""
        for _ in range(self.params.rounds):
            sticks = self.cheapest_numbers()
            if sticks is None or budget.spent():
                return
            self.tell()
            found = [row for one, own in zip(self.below, by_task(self.market, sticks), strict=True)
                     if (row := one.lacking(own, budget)) is not None]
            self.rows += found
            if not found:
                return

    def cheapest_numbers(self) -> list[int] | None:
        """The cheapest that obey all rows; the bound is raised to their money. Raises NoPlan where none do."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        write_rows(model, self.market, terms.sticks, self.rows)
        model.minimize(terms.money)
        solver, status = solved(model, self.budget, self.params.numbers, linear=2)
        if status == cp_model.INFEASIBLE:
            raise NoPlan(RUNS_OUT)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        self.bound = max(self.bound, least(solver, status))
        self.numbers = [solver.value(n) for n in terms.sticks]
        return self.numbers

    # ---- from above ----

    def dive(self, workers: Workers) -> None:
        """Plans from the cheapest numbers and what must be bought beside, until nothing must be."""
        sticks = self.numbers or [0] * len(self.market.sales)
        own = [tuple(numbers) for numbers in by_task(self.market, sticks)]
        best: list[tuple[Fraction, ColumnCounts] | None] = [None] * len(self.below)
        for number in range(self.params.dives[1]):
            open_ = [k for k, found in enumerate(best) if found is None or found[0]]
            if not open_ or (number and self.budget.spent()) or self.proven():
                return
            jobs = [self.dive_job(k, own[k], number, best[k]) for k in open_]
            rounds = self.params.dives[1] - number
            workers.budget = self.budget.share(2 if number == 0 else rounds)
            found = workers.each(dived, jobs, DiveJob.load, partial(parts_left, len(jobs), workers.number))
            for k, plans in zip(open_, found, strict=True):
                self.below[k].learn(column for _, cut in plans for column in cut)
                now = best[k]
                if plans and (now is None or plans[-1][0] < now[0]):
                    best[k] = plans[-1]
            self.settle([one[1] for one in best if one is not None])
            self.tell()

    def dive_job(self, k: int, sticks: tuple[int, ...], number: int, best: tuple[Fraction, ColumnCounts] | None
                 ) -> DiveJob:
        one = self.below[k]
        prices = tuple(sale.stock.each(n) for sale, n in zip(one.task.sold, sticks, strict=True))
        return DiveJob(one.task, k, sticks, prices, tuple(one.known), best and best[1], number, self.params.dives[0],
                       self.params.relaxed)

    def settle(self, cuts: Sequence[ColumnCounts]) -> None:
        """Takes the cheapest numbers of sticks that these plans can be cut from."""
        if len(cuts) == len(self.below) and (sticks := self.numbers_for(cuts)) is not None:
            self.offer(self.amount_of(sticks), sticks, cuts)

    def amount_of(self, sticks: Sequence[int]) -> int:
        """What these numbers of sticks cost."""
        goods: dict[str, Fraction] = {}
        for (_, sale), n in zip(self.market.sales, sticks, strict=True):
            goods[sale.stock.supplier] = goods.get(sale.stock.supplier, Fraction(0)) + n * sale.stock.each(n)
        whole = sum((amount + freight(supplier_of(self.market.suppliers, name), amount)
                     for name, amount in goods.items()), Fraction(0))
        return int(whole / self.coin)

    def numbers_for(self, cuts: Sequence[ColumnCounts]) -> list[int] | None:
        """The cheapest numbers of sticks that these columns can be cut from; None where there are none."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        for one, cut, own in zip(self.below, cuts, by_task(self.market, terms.sticks), strict=True):
            write_columns(model, one.task, [[0] * len(week) for week in one.task.demands], [], own, cut)
        model.minimize(terms.money)
        solver, status = solved(model, Budget(), self.params.numbers, linear=2)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return [solver.value(n) for n in terms.sticks]
        return None

    def offer(self, money: int, sticks: Sequence[int], cuts: Sequence[ColumnCounts]) -> None:
        if self.best is None or money < self.best[0]:
            self.best = money, tuple(sticks), tuple(cuts)

    def look_among(self, lists: Sequence[Sequence[Column]]) -> None:
        """Numbers of sticks and columns together, over all columns that there are. Raises NoPlan where none serve."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        write_rows(model, self.market, terms.sticks, self.rows)
        cut = [write_columns(model, one.task, one.task.demands, columns, own, {}) for one, columns, own in
               zip(self.below, lists, by_task(self.market, terms.sticks), strict=True)]
        model.add(terms.money >= self.bound)
        model.minimize(terms.money)
        solver, status = solved(model, self.budget, self.params.plans, linear=2)
        if status == cp_model.INFEASIBLE:
            raise NoPlan(RUNS_OUT)
        if status == cp_model.UNKNOWN:
            return
        self.bound = max(self.bound, least(solver, status))
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.offer(round(solver.objective_value), [solver.value(n) for n in terms.sticks],
                       [{column: n for column, x in own.items() if (n := solver.value(x))} for own in cut])


def least(solver: cp_model.CpSolver, status: Any) -> int:
    """What the solver has proven, in whole coins, which floats hold exactly here."""
    return round(solver.objective_value) if status == cp_model.OPTIMAL else math.floor(solver.best_objective_bound)


def cheapest(market: OrderMarket, budget: Budget, params: OrderParams = OrderParams()) -> FoundOrder:
    """The cheapest order for all tasks of a market. Raises NoPlan."""
    return OrderSearch(market, budget, params).run()


# ---- what is done side by side ----


def parts_left(jobs: int, at_once: int, begun: int) -> int:
    """In how many parts the time is to be shared when so many of the jobs have begun."""
    return -(-(jobs - begun) // at_once)


@dataclass(frozen=True)
class BoundJob:
    """The rows of one task at some prices."""

    task: ProfileTask
    place: int
    prices: tuple[tuple[float, ...], ...]
    params: RelaxedParams

    def load(self) -> int:
        return len(self.task.heap) * len(self.task.sticks)


def bound(job: BoundJob, budget: Budget) -> tuple[list[EnoughRow], list[Column]]:
    """The rows, and the columns of their LPs."""
    relaxed = OrderLp(job.task, job.place, job.params)
    return list(dict.fromkeys(relaxed.by_prices(prices, budget) for prices in job.prices)), list(relaxed.known)


@dataclass(frozen=True)
class DiveJob:
    """Plans from sticks of one task; `known` are columns, and `begin` a plan, to begin with."""

    task: ProfileTask
    place: int
    sticks: tuple[int, ...]
    prices: tuple[Fraction, ...]
    known: tuple[Column, ...]
    begin: ColumnCounts | None
    seed: int
    dives: int
    params: RelaxedParams

    def load(self) -> int:
        return len(self.task.heap) * len(self.task.sticks)


def dived(job: DiveJob, budget: Budget) -> list[tuple[Fraction, ColumnCounts]]:
    """What each plan needs beside the sticks, the plans that need ever less."""
    relaxed = OrderLp(job.task, job.place, job.params)
    relaxed.learn(job.known)
    chance = random.Random(job.seed)
    found: list[tuple[Fraction, ColumnCounts]] = []

    def offer(cut: ColumnCounts) -> None:
        beside = beside_money(job.task, job.sticks, job.prices, cut)
        if not found or beside < found[-1][0]:
            found.append((beside, cut))

    if job.begin is None:
        with suppress(NoPlan):  # what limited sticks one week draws, another lacks
            offer(in_turn(job.task, job.sticks, job.prices, budget.share(2)))
    else:
        offer(job.begin)
    for _ in range(job.dives):
        if found and (not found[-1][0] or budget.spent()):
            break
        relaxed.learn(found[-1][1] if found else ())
        offer(dive(relaxed, job.sticks, job.prices, budget, chance))
    while found[-1][0] and not budget.spent() and job.begin is not None:
        cut = renewed(relaxed, found[-1][1], job.sticks, job.prices, budget, chance)
        if cut is not None:
            offer(cut)
    return found


def beside_money(task: ProfileTask, sticks: Sequence[int], prices: Sequence[Fraction], cut: ColumnCounts) -> Fraction:
    """About what a plan needs beside some sticks."""
    total = Fraction(0)
    kinds = [task.kind[sale.stock.length] for sale in task.sold]
    for s in task.sticks:
        drawn = sum(column.sticks * n for column, n in cut.items() if column.stick == s)
        come = sum(n for k, n in zip(kinds, sticks, strict=True) if k == s)
        dear = max((price for k, price in zip(kinds, prices, strict=True) if k == s), default=Fraction(0))
        total += max(0, drawn - come - task.begin(s)) * dear
    return total
