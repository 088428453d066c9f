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
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from typing import Any

from ortools.sat.python import cp_model

from cutplan.buying.ordering.columns import Column
from cutplan.buying.ordering.diving import ColumnCounts, dive, renewed, write_columns
from cutplan.buying.ordering.draws import Draws, beside_money, draws_of, lacks, write_plans
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
    room:    by so many sticks more room is given to a task in each round in which its plans lacked something
    below:   the part of the time that the bound may take
    """

    every: int = 1_000
    few: int = 1_500
    rounds: int = 200
    numbers: float = 2.0
    plans: float = 60.0
    dives: tuple[int, int] = (1, 8)
    room: Fraction = Fraction(1, 2)
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
        self.plans: list[dict[Draws, ColumnCounts]] = [{} for _ in market.tasks]
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
        """Plans from the cheapest numbers; where these lack something, from numbers with more room for them."""
        own = self.parted(self.numbers or [0] * len(self.market.sales))
        room = [Fraction(0)] * len(self.below)
        for number in range(self.params.dives[1]):
            open_ = [k for k in range(len(self.below)) if not self.has_plan(k, own[k])]
            if (number and self.budget.spent()) or self.proven():
                return
            open_ = open_ or list(range(len(self.below)))
            jobs = [self.dive_job(k, own[k], number) for k in open_]
            workers.budget = self.budget.share(3 if number == 0 else max(2, self.params.dives[1] - number))
            found = workers.each(dived, jobs, DiveJob.load, partial(parts_left, len(jobs), workers.number))
            for k, plans in zip(open_, found, strict=True):
                for cut in plans:
                    self.below[k].learn(cut)
                    self.plans[k].setdefault(draws_of(cut), cut)
            self.settle()
            self.tell()
            lacking = [k for k in open_ if not self.has_plan(k, own[k])]
            for k in lacking:
                room[k] += self.params.room
            if (roomier := self.roomier(room, lacking)) is None:
                room = [Fraction(0)] * len(self.below)
                roomier = self.numbers
            own = self.parted(roomier or [0] * len(self.market.sales))

    def parted(self, sticks: Sequence[int]) -> list[tuple[int, ...]]:
        return [tuple(numbers) for numbers in by_task(self.market, sticks)]

    def has_plan(self, k: int, sticks: Sequence[int]) -> bool:
        """Whether some plan of a task needs nothing beside these sticks."""
        return any(not lacks(self.below[k].task, sticks, draws) for draws in self.plans[k])

    def dive_job(self, k: int, sticks: tuple[int, ...], number: int) -> DiveJob:
        one = self.below[k]
        prices = tuple(sale.stock.each(n) for sale, n in zip(one.task.sold, sticks, strict=True))
        begin = min(self.plans[k].values(), key=lambda cut: beside_money(one.task, sticks, prices, cut), default=None)
        return DiveJob(one.task, k, sticks, prices, tuple(one.known), begin, number, self.params.dives[0],
                       self.params.relaxed)

    def roomier(self, room: Sequence[Fraction], lacking: Sequence[int]) -> list[int] | None:
        """The cheapest numbers that are enough for the tasks that have plans, and leave the others so many sticks more
        room; None where these cost no less than the best order."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        write_rows(model, self.market, terms.sticks, [
            replace(row, floor=row.floor + int(room[row.task] * max(row.worth, default=0))) for row in self.rows])
        for k, own in enumerate(by_task(self.market, terms.sticks)):
            if k not in lacking:
                write_plans(model, self.below[k].task, own, list(self.plans[k]))
        if self.best is not None:
            model.add(terms.money < self.best[0])
        model.minimize(terms.money)
        solver, status = solved(model, self.budget, self.params.numbers, linear=2)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return [solver.value(n) for n in terms.sticks]
        return None

    def settle(self) -> None:
        """Offers the cheapest of all orders for the plans so far."""
        if all(self.plans) and (found := self.among(self.plans)) is not None:
            self.offer(self.amount_of(found[0]), *found)

    def among(self, plans: Sequence[dict[Draws, ColumnCounts]]) -> tuple[list[int], list[ColumnCounts]] | None:
        """One plan of each task, and the numbers of sticks for them, that cost least together; None where there are
        none."""
        model = cp_model.CpModel()
        terms = write_terms(model, self.market)
        chosen = [write_plans(model, one.task, own, list(some)) for one, own, some in
                  zip(self.below, by_task(self.market, terms.sticks), plans, strict=True)]
        model.minimize(terms.money)
        solver, status = solved(model, Budget(), self.params.numbers, linear=2)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        cuts = [next(some[draws] for draws, yes in own.items() if solver.value(yes))
                for some, own in zip(plans, chosen, strict=True)]
        return [solver.value(n) for n in terms.sticks], cuts

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
        found = self.among([{draws_of(cut): cut} for cut in cuts])
        return None if found is None else found[0]

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


def dived(job: DiveJob, budget: Budget) -> list[ColumnCounts]:
    """The plans that were found, each of them better than those before or with other sticks."""
    relaxed = OrderLp(job.task, job.place, job.params)
    relaxed.learn(job.known)
    chance = random.Random(job.seed)
    found: list[ColumnCounts] = []
    best: list[tuple[Fraction, ColumnCounts]] = []

    def offer(cut: ColumnCounts) -> None:
        beside = beside_money(job.task, job.sticks, job.prices, cut)
        found.append(cut)
        if not best or beside <= best[-1][0]:
            best.append((beside, cut))

    if job.begin is None:
        with suppress(NoPlan):  # what limited sticks one week draws, another lacks
            offer(in_turn(job.task, job.sticks, job.prices, budget.share(2)))
    else:
        offer(job.begin)
    for _ in range(job.dives):
        if best and (not best[-1][0] or budget.spent()):
            break
        relaxed.learn(best[-1][1] if best else ())
        offer(dive(relaxed, job.sticks, job.prices, budget, chance))
    while best[-1][0] and job.begin is not None and not budget.spent():
        cut = renewed(relaxed, best[-1][1], job.sticks, job.prices, budget, chance)
        if cut is not None:
            offer(cut)
    return list({draws_of(cut): cut for cut in found}.values())
