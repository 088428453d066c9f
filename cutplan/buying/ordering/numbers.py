"""How many sticks to order of each entry: the terms of sale as a model in whole numbers.

For each entry e and level of its prices j, so many bundles k_ej, of one level only and no fewer than it asks for; for
each supplier whether anything is ordered, and whether freight is paid. The money is exact, in coins.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ortools.sat.python import cp_model

from cutplan.buying.ordering.task import ProfileTask, Sale
from cutplan.buying.terms import levels, supplier_of, whole
from cutplan.shop import Supplier
from cutplan.sums import granule

MOST_STICKS = 10**6  # of one entry that anybody orders; whoever asks for a larger order is sent away by the readers


@dataclass(frozen=True)
class OrderMarket:
    """All that can be ordered: the sales of each task, and what suppliers ask."""

    tasks: tuple[ProfileTask, ...]
    suppliers: Mapping[str, Supplier]

    @property
    def sales(self) -> list[tuple[int, Sale]]:
        """Each with the task that it is for."""
        return [(k, sale) for k, task in enumerate(self.tasks) for sale in task.sold]

    @property
    def coin(self) -> Fraction:
        money = [level.each for _, sale in self.sales for level in levels(sale.stock)]
        money += [amount for supplier in self.named for amount in (supplier.freight,)]
        return granule(money)

    @property
    def named(self) -> list[Supplier]:
        names = dict.fromkeys(sale.stock.supplier for _, sale in self.sales)
        return [supplier_of(self.suppliers, name) for name in names]


@dataclass
class Terms:
    """The variables of a model: the sticks ordered of each sale, and the whole amount in coins."""

    sticks: list[Any]
    money: Any


def write_terms(model: cp_model.CpModel, market: OrderMarket) -> Terms:
    """Adds what may be ordered, and what it costs, to a model."""
    coin = market.coin
    sticks: list[Any] = []
    goods: dict[str, list[Any]] = {}
    ordered: dict[str, list[Any]] = {}
    for k, sale in market.sales:
        entry, most = sale.stock, most_bundles(market, market.tasks[k], sale)
        chosen, numbers = [], []
        sold_at = levels(entry)
        for level, dearer_to in zip(sold_at, [*(cheaper.bundles - 1 for cheaper in sold_at[1:]), most], strict=True):
            if level.bundles > most:
                continue
            yes, bundles = model.new_bool_var(""), model.new_int_var(0, most, "")
            model.add(bundles <= min(most, dearer_to) * yes)  # nobody pays more for many, to reach a minimum either
            model.add(bundles >= level.bundles * yes)
            chosen.append(yes)
            numbers.append(bundles)
            goods.setdefault(entry.supplier, []).append(int(level.each / coin) * entry.bundle * bundles)
        model.add_at_most_one(chosen)
        ordered.setdefault(entry.supplier, []).extend(chosen)
        sticks.append(entry.bundle * sum(numbers) if numbers else 0)
    money = [term for terms in goods.values() for term in terms]
    for supplier in market.named:
        amount = sum(goods.get(supplier.name, []))
        if not supplier.freight and not supplier.minimum:
            continue
        any_, free = model.new_bool_var(""), model.new_bool_var("")
        model.add_max_equality(any_, ordered.get(supplier.name) or [0])
        if supplier.minimum:
            model.add(amount >= math.ceil(supplier.minimum / coin)).only_enforce_if(any_)
        if supplier.freight:
            if supplier.free_from is None:
                model.add(free == 0)
            else:
                model.add(amount >= math.ceil(supplier.free_from / coin)).only_enforce_if(free)
            paid = model.new_bool_var("")
            model.add(paid + free >= 1).only_enforce_if(any_)
            money.append(int(supplier.freight / coin) * paid)
    return Terms(sticks, sum(money))


def most_bundles(market: OrderMarket, task: ProfileTask, sale: Sale) -> int:
    """More bundles than this no cheapest order takes: enough for each piece to have a stick of its own, at the lowest
    price, for all that the supplier asks at least."""
    entry = sale.stock
    wanted = max(task.pieces, levels(entry)[-1].bundles * entry.bundle)
    supplier = supplier_of(market.suppliers, entry.supplier)
    least = max(supplier.minimum, supplier.free_from or Fraction(0))
    if least and (cheapest := levels(entry)[-1].each):
        wanted = max(wanted, math.ceil(least / cheapest))
    wanted = min(whole(entry, wanted), MOST_STICKS) if sale.most is None else min(whole(entry, wanted), sale.most)
    return wanted // entry.bundle


@dataclass(frozen=True)
class EnoughRow:
    """What every order that is enough for a task obeys: sum of worth x sticks over its sales >= floor."""

    task: int
    worth: tuple[int, ...]
    floor: int

    def holds(self, sticks: Sequence[int]) -> bool:
        return sum(w * n for w, n in zip(self.worth, sticks, strict=True)) >= self.floor


def by_task(market: OrderMarket, sticks: Sequence[Any]) -> list[list[Any]]:
    """What belongs to the sales of each task."""
    found: list[list[Any]] = [[] for _ in market.tasks]
    for (k, _), n in zip(market.sales, sticks, strict=True):
        found[k].append(n)
    return found


def write_rows(model: cp_model.CpModel, market: OrderMarket, sticks: Sequence[Any], rows: Sequence[EnoughRow]) -> None:
    own = by_task(market, sticks)
    for row in rows:
        model.add(sum(w * n for w, n in zip(row.worth, own[row.task], strict=True)) >= row.floor)
