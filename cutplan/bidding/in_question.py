"""The orders that come into question for a profile of which much is asked.

Those that single versions ask for, or that have of each length what so many versions ask for, as they are sold, from
all suppliers or from one alone. For which versions one is enough its sticks' worth says, by the duals and by length,
and plans that are looked for in some of the versions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np

from cutplan.bidding.allowance import Figures
from cutplan.bidding.cutting import Asking, CutVersions, needs_from
from cutplan.bidding.enough import FitTask, fitting_orders
from cutplan.bidding.needs import Need, NeedRow, StickNumbers
from cutplan.bidding.purchases import SticksBought, Wanted, cheapest_purchase, list_prices, plain_sale
from cutplan.bidding.whole_job import OrderInQuestion
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile, Shop
from cutplan.sums import granule

ListedSticks = tuple[tuple[Fraction, int], ...]  # so many of each length
PLANS_LOOKED_FOR = 40  # versions in which a plan is looked for on an order, of those that are not sure


class InQuestion:
    """The orders in question for one profile of a bid, the cheapest first."""

    def __init__(self, cut: CutVersions, shop: Shop, figures: Figures, budget: Budget) -> None:
        self.cut, self.shop, self.figures, self.budget = cut, shop, figures, budget
        self.plain = plain_sale(shop)
        self.orders = self.in_all()

    def in_all(self) -> list[OrderInQuestion]:
        """From all suppliers, or from one alone."""
        profile = self.shop.profiles[self.figures.name]
        needs = [one.need for one in self.figures.outcomes]
        markets = {profile: needs, **{market: self.needs_from(market, needs) for market in self.from_one(profile)}}
        offered = [self.in_question(market, own) for market, own in markets.items()]
        orders: dict[ListedSticks, Fraction] = {}
        for own in offered:
            orders |= {order: min(money, orders.get(order, money)) for order, money in own.items()}
        rated = self.rated(profile, [(dict(order), money) for order, money in orders.items()], [*markets.values()])
        by_sticks = dict(zip(orders, rated, strict=True))
        found = {order: by_sticks[order] for own in offered for order in worth_having(own, by_sticks)}
        return sorted(found.values(), key=lambda one: one.money)

    def from_one(self, profile: Profile) -> list[Profile]:
        """A profile as each of several suppliers sells it who ask for freight, or for a minimum order."""
        names = {entry.supplier for entry in profile.stock if entry.tag is None}
        asking = [name for name, one in self.shop.suppliers.items() if one.freight or one.minimum]
        return [replace(profile, stock=tuple(entry for entry in profile.stock
                                             if entry.supplier == name or entry.supplier not in asking))
                for name in asking if name in names] if len(asking) > 1 and not self.plain else []

    def needs_from(self, market: Profile, needs: Sequence[Need]) -> list[Need]:
        """What the versions need from a market alone; where it is not enough, what they need at all."""
        own = needs_from(market, [asking.get(market.name, ()) for asking in self.cut.askings], self.budget)
        return [alone or at_all for alone, at_all in zip(own, needs, strict=True)]

    def rated(self, profile: Profile, orders: Sequence[tuple[StickNumbers, Fraction]], markets: Sequence[Sequence[Need]]
              ) -> list[OrderInQuestion]:
        """The orders, each with the versions that it is enough for, by what these need from one market or another; the
        first is the whole."""
        sure, unsure, perhaps = served(orders, markets[0], profile)
        for needs in markets[1:]:
            sure = [one | other for one, other in zip(sure, served(orders, needs, profile)[0], strict=True)]
        open_ = [(k, j) for k, j in perhaps if not sure[k] >> j & 1]
        for k, j in self.cuttable(profile.name, [order for order, _ in orders], open_):
            sure[k] |= 1 << j
        return [OrderInQuestion(order, money, surely | rest, rest & ~surely)
                for (order, money), surely, rest in zip(orders, sure, unsure, strict=True)]

    def try_out(self, at: int) -> bool:
        """Looks for plans on one of the orders, in some of the versions that are not sure, spread evenly; of the rest
        as many are taken to have none. Whether it had to be done: where sticks cost their price, orders are such as
        plans draw, and none is looked for."""
        one = self.orders[at]
        doubtful = bool(one.unsure) and not self.plain and bool(self.cut.askings)
        if doubtful:
            unsure = [j for j in range(self.cut.done) if one.unsure >> j & 1]
            sample = evenly(unsure, PLANS_LOOKED_FOR)
            found = {j for _, j in self.cuttable(self.figures.name, [one.sticks], [(0, j) for j in sample])}
            rest = [j for j in unsure if j not in sample]
            kept = {*(found & {*unsure}), *evenly(rest, len(rest) * len(found & {*sample}) // len(sample))}
            self.orders[at] = replace(one, serves=one.surely | sum(1 << j for j in kept), unsure=0)
        return doubtful

    def in_question(self, profile: Profile, needs: Sequence[Need]) -> dict[ListedSticks, Fraction]:
        """Of each version its own, and of each length what so many versions ask for; each with its money."""
        found: dict[ListedSticks, Fraction] = {}

        def offer(purchase: SticksBought) -> None:
            found[tuple(sorted(purchase.sticks.get(profile.name, {}).items()))] = purchase.money

        for need in dict.fromkeys(needs):
            with suppress(NoPlan):  # one supplier alone need not have what it takes
                offer(self.buy(Wanted(profile, need)))
        lengths = sorted({length for need in needs for length, _ in need.numbers})
        columns = [sorted(dict(need.numbers).get(length, 0) for need in needs) for length in lengths]
        for level in dict.fromkeys(zip(*columns, strict=True)):
            wanted = Wanted(profile, None, tuple(zip(lengths, level, strict=True)), not profile.one_per_stick)
            with suppress(NoPlan):  # there need not be so many of each
                offer(self.buy(wanted))
        return found

    def cuttable(self, name: str, orders: Sequence[StickNumbers],
                 perhaps: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        """Of (order, version) those in which the cutter finds a plan."""
        if not perhaps or not self.cut.askings:
            return []
        jobs: dict[Asking, dict[int, StickNumbers]] = {}
        versions: dict[Asking, list[int]] = {}
        for k, j in perhaps:
            asking = self.cut.askings[j][name]
            jobs.setdefault(asking, {})[k] = orders[k]
            if j not in versions.setdefault(asking, []):
                versions[asking].append(j)
        tasks = [FitTask(self.shop.profiles[name], asking, tuple(own.items())) for asking, own in jobs.items()]
        self.budget.tell(f"{name}: {len(perhaps)} orders tried")
        with Workers(self.budget, len(tasks)) as workers:
            fitting = workers.each(fitting_orders, tasks, FitTask.load, lambda _: 1)
        return [(k, j) for task, found in zip(tasks, fitting, strict=True) for k in found
                for j in versions[task.asking]]

    def buy(self, wanted: Wanted) -> SticksBought:
        """Without freight, which is the whole order's."""
        if not self.plain:
            return cheapest_purchase([wanted], {})
        asked = wanted.need.numbers if wanted.need else wanted.at_least
        sticks, prices = {length: n for length, n in asked if n}, list_prices(wanted.profile)
        return SticksBought({wanted.profile.name: sticks}, {wanted.profile.name: sum(
            (n * prices[length] for length, n in sticks.items()), Fraction(0))})


def worth_having(orders: Mapping[ListedSticks, Fraction], rated: Mapping[ListedSticks, OrderInQuestion]
                 ) -> list[ListedSticks]:
    """Those than which none is cheaper and enough for the same versions."""
    found: list[ListedSticks] = []
    for order in sorted(orders, key=orders.__getitem__):
        one = rated[order]
        if not any(one.serves & ~other.serves == 0 and one.surely & ~other.surely == 0
                   for other in map(rated.__getitem__, found)):
            found.append(order)
    return found


def evenly(numbers: Sequence[int], many: int) -> list[int]:
    """So many of them at most, spread evenly."""
    many = min(many, len(numbers))
    return [numbers[k * len(numbers) // many] for k in range(many)]


def served(orders: Sequence[tuple[StickNumbers, Fraction]], needs: Sequence[Need], profile: Profile
           ) -> tuple[list[int], list[int], list[tuple[int, int]]]:
    """For which versions each order is surely enough and for which by the sticks' worth, as bits; and of which (order,
    version) only a plan can say so."""
    lengths = sorted({*(n for order, _ in orders for n in order), *(n for need in needs for n, _ in need.numbers),
                      *(n for need in needs for one in need.rows for n, _ in one.worth)}, reverse=True)
    prices = list_prices(profile)
    coin = granule([*prices.values(), *(need.cost for need in needs)])

    def row(sticks: StickNumbers) -> list[int]:
        return [sticks.get(length, 0) for length in lengths]

    numbers = np.array([row(dict(need.numbers)) for need in needs], dtype=np.int64).reshape(len(needs), len(lengths))
    most = max((len(need.rows) for need in needs), default=0)
    rows = [[*need.rows, *[NeedRow((), 0)] * (most - len(need.rows))] for need in needs]  # the last ask for nothing
    worth = np.array([[row(dict(one.worth)) for one in own] for own in rows], dtype=np.int64).reshape(
        len(needs), most, len(lengths))
    floors = np.array([[one.floor for one in own] for own in rows], dtype=np.int64).reshape(len(needs), most)
    costs = np.array([int(need.cost / coin) for need in needs], dtype=np.int64)
    rated = np.array([bool(need.rows) for need in needs])
    small = np.array([need.small for need in needs])
    price = np.array([int(prices.get(length, Fraction(0)) / coin) for length in lengths], dtype=np.int64)
    exchanged = not profile.one_per_stick
    tails = np.cumsum(numbers, axis=1) if exchanged else numbers
    found, unsure, perhaps = [], [], []
    for k, (order, _) in enumerate(orders):
        own = np.array(row(credited(order, needs) if exchanged else order), dtype=np.int64)
        mine = np.cumsum(own) if exchanged else own
        sure = (tails <= mine).all(axis=1)
        may = ~sure & rated & (worth @ own >= floors).all(axis=1) & (int(price @ own) >= costs)
        perhaps += [(k, int(j)) for j in np.flatnonzero(may & small)]
        found.append(as_bits(sure))
        unsure.append(as_bits(may & ~small))
    return found, unsure, perhaps


def as_bits(versions: Any) -> int:
    return sum(1 << int(j) for j in np.flatnonzero(versions))


def credited(order: StickNumbers, needs: Sequence[Need]) -> StickNumbers:
    """What an order's sticks may count as: of no length more than any version asks for, the rest as the next shorter.

    A stick's worth is told by duals of plans that use such sticks only so often; more of them hold less.
    """
    asked: dict[Fraction, int] = {}
    for need in needs:
        for length, n in need.numbers:
            asked[length] = max(asked.get(length, 0), n)
    found, rest = {}, 0
    for length in sorted({*order, *asked}, reverse=True):
        rest += order.get(length, 0)
        found[length] = min(rest, asked.get(length, 0))
        rest -= found[length]
    return found
