"""Whole plans for one task from given sticks: a dive, and the rest by listing.

A dive fixes what the LP is sure of, again and again (as cutting's own do); what is left, once it is small, is solved to
its end over all its columns. What the given sticks do not give is bought beside, at its price.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ortools.sat.python import cp_model

from cutplan.buying.ordering.columns import Column, Columns
from cutplan.buying.ordering.relaxed import OrderLp
from cutplan.buying.ordering.task import ProfileTask
from cutplan.cutting import solved
from cutplan.running.budget import Budget
from cutplan.sums import granule


@dataclass(frozen=True)
class DiveParams:
    """Dives.

    small:  pieces left that are listed and solved to the end
    anew:   pieces whose sticks are cut anew together
    every:  columns of these, at most; and of those that the LP found last
    work:   of CP-SAT for them
    cheap:  sticks that are there cost so much less than others
    first, rounds, renew: rounds of pricing at the first step, at each later one, and where sticks are cut anew
    """

    small: int = 16
    anew: int = 26
    every: int = 600
    work: float = 0.2
    cheap: float = 100.0
    first: int = 40
    rounds: int = 4
    renew: int = 12


ColumnCounts = dict[Column, int]


def dive(relaxed: OrderLp, sticks: Sequence[int], prices: Sequence[Fraction], budget: Budget, chance: random.Random,
         params: DiveParams = DiveParams()) -> ColumnCounts:
    """Columns that cut all pieces from these sticks and what is bought beside; quick ones once time is over."""
    cut: ColumnCounts = {}
    amounts = [float(price) for price in prices]
    share = chance.choice((0.9, 0.7, 0.5, 0.99))
    try:
        while True:
            left = relaxed.left(cut)
            pieces = sum(map(sum, left))
            if not pieces:
                return cut
            relaxed.leave(sticks, amounts, cut, params.cheap)
            relaxed.generate(budget, params.rounds if cut else params.first)
            if pieces <= params.small and (rest := completed(relaxed, sticks, prices, cut, budget, params)) is not None:
                return dict(Counter(cut) + Counter(rest))
            step = {} if budget.spent() else fixed(relaxed, left, share, chance)
            if not step:
                return dict(Counter(cut) + Counter(greedy(relaxed, left)))
            cut = dict(Counter(cut) + Counter(step))
    finally:
        relaxed.whole()


def renewed(relaxed: OrderLp, cut: ColumnCounts, sticks: Sequence[int], prices: Sequence[Fraction], budget: Budget,
            chance: random.Random, params: DiveParams = DiveParams()) -> ColumnCounts | None:
    """The plan with some of its sticks, those that waste most among them, cut anew over many columns at once (large
    neighbourhood search: Shaw, CP 1998, LNCS 1520, 417-431); None where that came to nothing."""
    sizes, kinds = relaxed.task.instance.sizes, relaxed.task.instance.sticks

    def waste(column: Column) -> float:
        fill = sum(a * sizes[i] for _, i, a in column.counts) / column.sticks
        return 1 - fill / kinds[column.stick].length + 0.3 * chance.random()

    every = sorted((column for column, n in sorted(cut.items()) for _ in range(n)), key=waste, reverse=True)
    kept, pieces = Counter(cut), 0
    for column in every:
        if pieces >= params.anew:
            break
        kept[column] -= 1
        pieces += sum(a for *_, a in column.counts)
    rest = dict(+kept)
    try:
        relaxed.leave(sticks, [float(price) for price in prices], rest, params.cheap)
        relaxed.generate(budget, params.renew)
        again = completed(relaxed, sticks, prices, rest, budget, params, known=Counter(cut) - kept)
        return None if again is None else dict(Counter(rest) + Counter(again))
    finally:
        relaxed.whole()


def fixed(relaxed: OrderLp, left: Sequence[Sequence[int]], share: float, chance: random.Random) -> ColumnCounts:
    """What the LP is sure of: whole numbers of columns, or else the surest one, each no more than is left to cut."""
    weights = relaxed.weights
    found: ColumnCounts = {}
    rest = [list(week) for week in left]

    def take(column: Column, n: int) -> None:
        n = min([n, *(rest[t][i] // a for t, i, a in column.counts)])
        if n > 0:
            found[column] = found.get(column, 0) + n
            for t, i, a in column.counts:
                rest[t][i] -= a * n

    for column, weight in sorted(weights.items(), key=lambda item: (-item[1], item[0])):
        take(column, math.floor(weight + 1 - share if weight > 1 else weight + 1e-6))
    if not found:
        order = sorted(weights, key=lambda column: (-weights[column] - 0.05 * chance.random(), column))
        for column in order:
            take(column, 1)
            if found:
                return found
        for column in order:  # all give more than is left of something: less of it, then
            counts = tuple((t, i, min(a, rest[t][i])) for t, i, a in column.counts if rest[t][i])
            if counts and relaxed.task.instance.blanks is None:
                return {relaxed.columns.column(column.stick, counts): 1}
    return found


def greedy(relaxed: OrderLp, left: Sequence[Sequence[int]]) -> ColumnCounts:
    """Columns that give most, one after the other, and at the end each piece from a stick of its own."""
    task, sizes = relaxed.task, relaxed.task.instance.sizes
    rest = [list(week) for week in left]
    found: ColumnCounts = {}
    endless = [(task.kind[sale.stock.length], sale.ready) for sale in task.sold if sale.most is None]

    def filling(column: Column) -> Fraction:
        return Fraction(sum(a * sizes[i] for _, i, a in column.counts), column.sticks
                        * task.instance.sticks[column.stick].length)

    def serves(column: Column) -> bool:
        return any(s == column.stick and ready <= column.ready for s, ready in endless)

    alone = [Column(s, ready, ((t, i, task.sets[i]),), task.sets[i]) for s, ready in dict.fromkeys(endless)
             for t, week in enumerate(rest) if t >= ready for i, d in enumerate(week)
             if d and relaxed.columns.gives(s, i)]
    known = [column for column in relaxed.known if serves(column)]
    for column in [*sorted(known, key=filling, reverse=True), *sorted(alone, key=filling, reverse=True)]:
        while n := min(rest[t][i] // a for t, i, a in column.counts):
            found[column] = found.get(column, 0) + n
            for t, i, a in column.counts:
                rest[t][i] -= a * n
    return found


def completed(relaxed: OrderLp, sticks: Sequence[int], prices: Sequence[Fraction], cut: ColumnCounts, budget: Budget,
              params: DiveParams, known: Mapping[Column, int] | None = None) -> ColumnCounts | None:
    """The cheapest way to cut the rest, over all its columns, or the last that the LP found; `known` is one way."""
    task, left = relaxed.task, relaxed.left(cut)
    every = Columns(task, left).every(params.every) or list(relaxed.known)[-params.every:]
    columns = list(dict.fromkeys([*every, *relaxed.weights, *(known or ())]))
    return cheapest_cut(task, left, columns, sticks, prices, cut, budget, params.work, known)


def cheapest_cut(task: ProfileTask, left: Sequence[Sequence[int]], columns: Sequence[Column], sticks: Sequence[int],
                 prices: Sequence[Fraction], cut: ColumnCounts, budget: Budget, work: float,
                 hint: Mapping[Column, int] | None = None) -> ColumnCounts | None:
    """How often to cut each column so that what is bought beside the given sticks costs least."""
    model = cp_model.CpModel()
    coin = granule(prices)
    bundles = [model.new_int_var(0, (task.pieces if sale.most is None else max(0, sale.most - n)) // sale.stock.bundle
                                 + (sale.most is None), "") for sale, n in zip(task.sold, sticks, strict=True)]
    extra = [sale.stock.bundle * more for sale, more in zip(task.sold, bundles, strict=True)]
    have = [n + more for n, more in zip(sticks, extra, strict=True)]
    chosen = write_columns(model, task, left, columns, have, cut)
    for column, x in chosen.items():
        if hint is not None:
            model.add_hint(x, hint.get(column, 0))
    model.minimize(sum(int(price / coin) * more for price, more in zip(prices, extra, strict=True)))
    solver, status = solved(model, budget, work)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return {column: n for column, x in chosen.items() if (n := solver.value(x))}


def write_columns(model: cp_model.CpModel, task: ProfileTask, demands: Sequence[Sequence[int]],
                  columns: Sequence[Column], sticks: Sequence[Any], before: ColumnCounts) -> dict[Column, Any]:
    """Adds how often each column is cut: these pieces are, from what columns cut `before` leave of what is ready."""
    cut = {column: model.new_int_var(0, most_often(demands, column), "") for column in columns}
    made: dict[tuple[int, int], list[Any]] = {}
    drawn: dict[int, list[tuple[int, Any]]] = {s: [] for s in task.sticks}
    for column, x in cut.items():
        for t, i, a in column.counts:
            made.setdefault((t, i), []).append(a * x)
        drawn[column.stick].append((column.ready, column.sticks * x))
    for column, n in before.items():
        drawn[column.stick].append((column.ready, column.sticks * n))
    for t, week in enumerate(demands):
        for i, d in enumerate(week):
            if d:
                model.add(sum(made.get((t, i), [])) >= d)
    for s, own in drawn.items():
        for ready in task.ready[s]:
            come = [n for n, sale in zip(sticks, task.sold, strict=True)
                    if task.kind[sale.stock.length] == s and sale.ready <= ready]
            model.add(sum(x for r, x in own if r <= ready) <= task.begin(s) + sum(come))
    return cut


def most_often(demands: Sequence[Sequence[int]], column: Column) -> int:
    return max(-(-demands[t][i] // a) for t, i, a in column.counts)
