"""One order for each chance: sticks that are enough in so many jobs of a hundred, and what they and the rest cost.

Of a profile the cheapest of the orders that single versions ask for (or that have of each length what so many versions
ask for) from which so many versions can be cut. Of the whole job: such an order of every profile, and so much hardware
and work, the cheapest together that are enough all at once in so many versions (`whole_job`). All figures of a row are
then of that one order.

A sample flatters what is chosen by it: an order that is enough in k of n drawn versions is so in k of n + 1 fresh jobs.
So the next larger order is taken, of every profile (see `allowance.rank`); not where the versions are all there are.

Beside it stands what is enough where the order is placed once the openings are measured: each version's own cheapest
order, and the sum that so many do not exceed. What one profile then needs more, another needs less.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

import numpy as np

from cutplan.bidding.allowance import Figures
from cutplan.bidding.cutting import Asking, CutVersions, needs_from
from cutplan.bidding.needs import Need, NeedRow, StickNumbers, at_least, length_of, number_of
from cutplan.bidding.purchases import SticksBought, Wanted, cheapest_purchase, list_prices, plain_sale
from cutplan.bidding.whole_job import OrderInQuestion, WholeJob
from cutplan.cutting import cheapest_plan
from cutplan.ends import lying
from cutplan.plans.records import Demand
from cutplan.plans.sawtime import MINUTES
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile, Shop
from cutplan.sums import granule

ZERO_MONEY = Fraction(0)
Sticks = tuple[tuple[Fraction, int], ...]  # so many of each length
PLANS_LOOKED_FOR = 40  # versions in which a plan is looked for on an order, of those that are not sure


@dataclass(frozen=True)
class OrderFor:
    """One order that is enough in `percent` jobs of a hundred, for a profile or for the whole job.

    `net` is the mean net length. `sticks` are by profile. `goods`, `freight`, `hardware` and `sawing` add up to its
    money; `minutes` are at the saw (None, with `sawing`: the shop does not say). `later`: the money that is enough as
    often where it is ordered once the openings are measured. `known`: whether there were versions enough to know.
    `goods_of` are the goods by profile; `panels` the gates and bays of the whole job.
    """

    name: str
    percent: Fraction
    net: Fraction
    sticks: Mapping[str, StickNumbers]
    goods: Fraction
    freight: Fraction
    hardware: Fraction
    minutes: Fraction | None
    sawing: Fraction
    later: Fraction
    known: bool
    goods_of: Mapping[str, Fraction]
    panels: int = 0

    @property
    def money(self) -> Fraction:
        return self.goods + self.freight + self.hardware + self.sawing

    @property
    def number(self) -> int:
        return sum(map(number_of, self.sticks.values()))

    @property
    def length(self) -> Fraction:
        return sum(map(length_of, self.sticks.values()), Fraction(0))

    @property
    def to_add(self) -> Fraction:
        """What makes the ordered length of the mean net length, in per cent of it."""
        return 100 * (self.length / self.net - 1) if self.net else Fraction(0)

    @property
    def of_bought(self) -> Fraction:
        """The same in per cent of the ordered length."""
        return 100 * (1 - self.net / self.length) if self.length else Fraction(0)


@dataclass(frozen=True)
class OrdersFor:
    """The orders of each profile, and those of the whole job; each the smallest chance first."""

    profiles: tuple[tuple[OrderFor, ...], ...]
    together: tuple[OrderFor, ...]


def orders_for(cut: CutVersions, shop: Shop, chances: Sequence[Fraction], budget: Budget) -> OrdersFor:
    """The orders for the chances, in that order. Raises NoPlan where what is sold is not enough."""
    return Chooser(cut, shop, budget).orders(chances)


class Chooser:
    """The orders of one bid."""

    def __init__(self, cut: CutVersions, shop: Shop, budget: Budget) -> None:
        self.cut, self.shop, self.budget = cut, shop, budget
        self.weighing = cut.together.weighing
        self.plain = plain_sale(shop)
        self.purchases: dict[tuple[Profile, Need], SticksBought] = {}
        self.candidates = [self.of_profile(figures) for figures in cut.profiles]
        self.totals = self.later_totals()

    def orders(self, chances: Sequence[Fraction]) -> OrdersFor:
        return OrdersFor(tuple(tuple(self.alone(k, p) for p in chances) for k in range(len(self.candidates))),
                         tuple(self.jointly(p) for p in chances))

    # ---- one profile ----

    def alone(self, k: int, percent: Fraction) -> OrderFor:
        figures = self.cut.profiles[k]
        at = self.weighing.rank(percent)
        chosen = self.first_serving(k, at)
        later = [self.purchase(self.shop.profiles[figures.name], one.need).money for one in figures.outcomes]
        return OrderFor(figures.name, percent, figures.mean(lambda one: one.net), {figures.name: chosen.sticks},
                        chosen.money, ZERO_MONEY, ZERO_MONEY, None, ZERO_MONEY, self.weighing.at(later, at),
                        at <= self.weighing.total, {figures.name: chosen.money})

    def of_profile(self, figures: Figures) -> list[OrderInQuestion]:
        """The orders that come into question, the cheapest first: from all suppliers, or from one alone."""
        profile = self.shop.profiles[figures.name]
        needs = [one.need for one in figures.outcomes]
        markets = {profile: needs, **{market: self.needs_from(market, needs) for market in self.from_one(profile)}}
        offered = [self.in_question(market, own) for market, own in markets.items()]
        orders: dict[Sticks, Fraction] = {}
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

    def first_serving(self, k: int, versions: int) -> OrderInQuestion:
        """The cheapest that is enough for versions of so much weight; that of the most where none is."""
        for at, one in enumerate(self.candidates[k]):
            if self.weighing.of(one.serves) >= versions:
                tried = self.tried(k, at)
                if self.weighing.of(tried.serves) >= versions:
                    return tried
        return max(self.candidates[k], key=lambda one: (self.weighing.of(one.serves), -one.money))

    def tried(self, k: int, at: int) -> OrderInQuestion:
        """A profile's candidate, once plans were looked for in some of the versions that are not sure, spread evenly;
        of the rest as many are taken to have none. Where sticks cost their price orders are such as plans draw, and
        none is looked for."""
        one = self.candidates[k][at]
        if one.unsure and not self.plain and self.cut.askings:
            unsure = [j for j in range(self.cut.done) if one.unsure >> j & 1]
            sample = evenly(unsure, PLANS_LOOKED_FOR)
            found = {j for _, j in self.cuttable(self.cut.profiles[k].name, [one.sticks], [(0, j) for j in sample])}
            rest = [j for j in unsure if j not in sample]
            kept = {*(found & {*unsure}), *evenly(rest, len(rest) * len(found & {*sample}) // len(sample))}
            one = self.candidates[k][at] = replace(one, serves=one.surely | sum(1 << j for j in kept), unsure=0)
        return one

    def in_question(self, profile: Profile, needs: Sequence[Need]) -> dict[Sticks, Fraction]:
        """Of each version its own, and of each length what so many versions ask for; each with its money."""
        found: dict[Sticks, Fraction] = {}

        def offer(purchase: SticksBought) -> None:
            found[tuple(sorted(purchase.sticks.get(profile.name, {}).items()))] = purchase.money

        for need in dict.fromkeys(needs):
            with suppress(NoPlan):  # one supplier alone need not have what it takes
                offer(self.purchase(profile, need))
        lengths = sorted({length for need in needs for length, _ in need.numbers})
        columns = [sorted(dict(need.numbers).get(length, 0) for need in needs) for length in lengths]
        for level in dict.fromkeys(zip(*columns, strict=True)):
            wanted = Wanted(profile, None, tuple(zip(lengths, level, strict=True)), not profile.one_per_stick)
            with suppress(NoPlan):  # there need not be so many of each
                offer(self.buy([wanted], alone=True))
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

    # ---- the whole job ----

    def jointly(self, percent: Fraction) -> OrderFor:
        """The cheapest orders of all profiles, with hardware and work, that are enough together in so many versions."""
        at = self.weighing.rank(percent)
        chosen = self.together(min(at, self.weighing.total))
        purchase = self.buy([
            Wanted(self.shop.profiles[figures.name], None, tuple(one.sticks.items()),
                   not self.shop.profiles[figures.name].one_per_stick)
            for figures, one in zip(self.cut.profiles, chosen, strict=True)])
        outcomes = self.cut.together.outcomes
        enough = self.enough_for(chosen, at)
        minutes = max(outcomes[j].minutes for j in enough)
        known = at <= self.weighing.total and sum(self.weighing.weights[j] for j in enough) >= at
        return OrderFor(self.cut.together.name, percent, self.cut.together.mean(lambda one: one.net), purchase.sticks,
                        sum(purchase.goods.values(), ZERO_MONEY), purchase.freight,
                        max(self.cut.hardware[j] for j in enough), None if self.shop.saw is None else minutes,
                        self.sawing(minutes), self.weighing.at(self.totals, at), known, purchase.goods,
                        max(self.cut.panels[j] for j in enough))

    def together(self, weight: int) -> list[OrderInQuestion]:
        """Of each profile the one to take for all to be enough in versions of such a weight, once it is tried; where
        there are none, of each the one that is enough for the most."""
        profiles = [self.shop.profiles[figures.name] for figures in self.cut.profiles]
        while True:
            job = WholeJob(profiles, self.candidates, self.weighing.weights, self.beside,
                           {} if self.plain else self.shop.suppliers)
            places = job.cheapest(weight, self.budget)
            if places is None:
                return [self.first_serving(k, self.weighing.total) for k in range(len(profiles))]
            before = [self.candidates[k][at] for k, at in enumerate(places)]
            tried = [self.tried(k, at) for k, at in enumerate(places)]
            if tried == before:
                return tried

    def enough_for(self, chosen: Sequence[OrderInQuestion], weight: int) -> list[int]:
        """Versions of so much weight for which all that is chosen is enough, those that cost the least beside the
        sticks; all of them, where they are fewer, or some version where there are none."""
        both = (1 << self.cut.done) - 1
        for one in chosen:
            both &= one.serves
        outcomes = self.cut.together.outcomes
        order = sorted((j for j in range(self.cut.done) if both >> j & 1),
                       key=lambda j: (self.beside[j], outcomes[j].minutes, self.cut.panels[j]))
        found, reached = [], 0
        for j in order:
            if reached >= weight:
                break
            found.append(j)
            reached += self.weighing.weights[j]
        return found or [max(range(self.cut.done), key=lambda j: (self.beside[j], outcomes[j].minutes))]

    @cached_property
    def beside(self) -> list[Fraction]:
        """What each version costs beside its sticks."""
        return [hardware + self.sawing(one.minutes)
                for hardware, one in zip(self.cut.hardware, self.cut.together.outcomes, strict=True)]

    def later_totals(self) -> list[Fraction]:
        """What each version costs, ordered once it is measured."""
        found = []
        for j in range(self.cut.done):
            needs = [(figures.name, figures.outcomes[j].need) for figures in self.cut.profiles]
            if self.plain:
                money = sum((need.cost for _, need in needs), ZERO_MONEY)
            else:
                money = self.buy([Wanted(self.shop.profiles[name], need) for name, need in needs]).money
                self.budget.tell(f"version {j + 1} of {self.cut.done} ordered")
            found.append(money + self.beside[j])
        return found

    def sawing(self, minutes: Fraction) -> Fraction:
        rates = self.shop.saw
        return ZERO_MONEY if rates is None or rates.hourly is None else minutes * rates.hourly / MINUTES

    # ---- money ----

    def purchase(self, profile: Profile, need: Need) -> SticksBought:
        """The cheapest for a need of one profile, without freight, which is the whole order's."""
        if (profile, need) not in self.purchases:
            self.purchases[profile, need] = self.buy([Wanted(profile, need)], alone=True)
        return self.purchases[profile, need]

    def buy(self, wanted: Sequence[Wanted], alone: bool = False) -> SticksBought:
        if not self.plain:
            return cheapest_purchase(wanted, {} if alone else self.shop.suppliers)
        sticks = {one.profile.name: {length: n for length, n in (one.need.numbers if one.need else one.at_least) if n}
                  for one in wanted}
        prices = {one.profile.name: list_prices(one.profile) for one in wanted}
        return SticksBought(sticks, {name: sum((n * prices[name][length] for length, n in own.items()), ZERO_MONEY)
                                 for name, own in sticks.items()})


def worth_having(orders: Mapping[Sticks, Fraction], rated: Mapping[Sticks, OrderInQuestion]) -> list[Sticks]:
    """Those than which none is cheaper and enough for the same versions."""
    found: list[Sticks] = []
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
    price = np.array([int(prices.get(length, ZERO_MONEY) / coin) for length in lengths], dtype=np.int64)
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


# ---- whether a small version can be cut from an order ----


@dataclass(frozen=True)
class FitTask:
    """One version of a profile, and orders from which it may be cut."""

    profile: Profile
    asking: Asking
    orders: tuple[tuple[int, StickNumbers], ...]

    def load(self) -> int:
        return len(self.orders)


FIT_STEPS = 60  # of the search for a plan from one order


def fitting_orders(task: FitTask, budget: Budget) -> list[int]:
    """The orders from which a plan is found; whatever has all that one of these has is enough too."""
    demand = [Demand("", length, qty, each=each, **lying(lies)) for (length, lies, each), qty in task.asking]
    fit: list[tuple[int, StickNumbers]] = []
    for k, order in task.orders:
        if budget.spent():
            break
        if any(at_least(order, other, True) for _, other in fit) or can_be_cut(task.profile, demand, order, budget):
            fit.append((k, order))
    return [k for k, _ in fit]


def can_be_cut(profile: Profile, demand: Sequence[Demand], order: StickNumbers, budget: Budget,
               steps: int = FIT_STEPS) -> bool:
    """Whether a search of so many steps finds a plan on these new sticks, and what lies on the rack."""
    offcuts = tuple(entry for entry in profile.stock if entry.tag is not None)
    first = {entry.length: entry for entry in reversed(profile.stock) if entry.tag is None}
    stock = tuple(replace(first[length], qty=n) for length, n in order.items() if n)
    try:
        cheapest_plan(replace(profile, stock=(*stock, *offcuts)), demand, budget.quietly().within(steps))
    except NoPlan:
        return False
    return True
