"""One order for each chance: sticks that are enough in so many jobs of a hundred, and what they and the rest cost.

Of a profile the cheapest order that is enough in so many versions. Of the whole job: sticks of every profile, and so
much hardware and work, the cheapest together that are enough all at once in so many versions (`whole_job`). All figures
of a row are then of that one order.

A sample flatters what is chosen by it: an order that is enough in k of n drawn versions is so in k of n + 1 fresh jobs
(see `allowance.rank`); not where the versions are all there are.

Beside it stands what is enough where the order is placed once the openings are measured: each version's own cheapest
order, and the sum that so many do not exceed. What one profile then needs more, another needs less.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from cutplan.bidding.allowance import Figures
from cutplan.bidding.cutting import Asking, CutVersions
from cutplan.bidding.enough import AskingTried
from cutplan.bidding.in_question import InQuestion
from cutplan.bidding.needs import NO_NEED, Need, StickNumbers, length_of, number_of
from cutplan.bidding.purchases import LACKING, plain_sale
from cutplan.bidding.whole_job import CheapestOrder, JobPart, OrderInQuestion, WholeJob
from cutplan.plans.sawtime import MINUTES
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Shop, Supplier

ZERO_MONEY = Fraction(0)


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
        self.suppliers = {} if self.plain else shop.suppliers
        self.nothing = [ZERO_MONEY] * cut.done
        self.known: dict[tuple[str, Asking], AskingTried] = {}
        self.asks = [self.asked_of(figures) for figures in cut.profiles]
        self.in_question = {k: InQuestion(cut, shop, figures, budget)
                            for k, figures in enumerate(cut.profiles) if not self.asks[k]}

    def orders(self, chances: Sequence[Fraction]) -> OrdersFor:
        return OrdersFor(tuple(self.alone(k, chances) for k in range(len(self.asks))), self.jointly(chances))

    # ---- what is to be ordered for ----

    def asked_of(self, figures: Figures) -> tuple[AskingTried | None, ...]:
        """What each version asks of a profile (None: nothing), where all is so little that plans decide, and each has
        one; else (), as for a job that is known, where sticks cost their price: its plan's are the cheapest."""
        small = all((one.need.small and not one.need.cut_short) or one.need == NO_NEED for one in figures.outcomes)
        if not small or not self.cut.askings or (self.plain and self.cut.done == 1):
            return ()
        profile = self.shop.profiles[figures.name]
        return tuple(self.known.setdefault((profile.name, asking), AskingTried(
            profile, asking, one.need, [dict(one.need.numbers)])) if (asking := version.get(profile.name)) else None
            for version, one in zip(self.cut.askings, figures.outcomes, strict=True))

    def part(self, k: int) -> JobPart:
        profile = self.shop.profiles[self.cut.profiles[k].name]
        return JobPart(profile, asks=self.asks[k]) if self.asks[k] else JobPart(profile, self.in_question[k].orders)

    def cheapest(self, those: Sequence[int], beside: Sequence[Fraction], suppliers: Mapping[str, Supplier], weight: int
                 ) -> CheapestOrder:
        """The cheapest order of some profiles that is enough in versions of so much weight; where none is, one that is
        in as many as can be had."""
        def enough_in(least: int) -> CheapestOrder | None:
            while True:
                found = WholeJob([self.part(k) for k in those], self.weighing.weights, beside, suppliers).cheapest(
                    least, self.budget)
                places = zip(those, found.places, strict=True) if found else ()
                if not any([self.in_question[k].try_out(place) for k, place in places if place is not None]):
                    return found

        if found := enough_in(weight):
            return found
        most, too_much, best = 0, weight, None
        while too_much - most > 1:
            middle = (most + too_much) // 2
            if made := enough_in(middle):
                most, best = middle, made
            else:
                too_much = middle
        if best is None:
            raise NoPlan(f"{', '.join(self.cut.profiles[k].name for k in those)}: {LACKING}")
        return best

    # ---- one profile ----

    def alone(self, k: int, chances: Sequence[Fraction]) -> tuple[OrderFor, ...]:
        figures = self.cut.profiles[k]
        ranks = [self.weighing.rank(percent) for percent in chances]
        made = [self.cheapest([k], self.nothing, {}, min(at, self.weighing.total)) for at in ranks]
        later = self.later([k], {}, made)
        net = figures.mean(lambda one: one.net)
        return tuple(OrderFor(figures.name, percent, net, one.purchase.sticks, one.purchase.money, ZERO_MONEY,
                              ZERO_MONEY, None, ZERO_MONEY, self.weighing.at(later, at), self.is_known(one, at),
                              one.purchase.goods)
                     for percent, at, one in zip(chances, ranks, made, strict=True))

    def is_known(self, made: CheapestOrder, at: int) -> bool:
        """Whether there are versions enough to know that an order is enough for so much weight, and it is."""
        return at <= self.weighing.total and sum(self.weighing.weights[j] for j in made.serves) >= at

    # ---- the whole job ----

    def jointly(self, chances: Sequence[Fraction]) -> tuple[OrderFor, ...]:
        """The cheapest orders of all profiles, with hardware and work, that are enough together in so many versions."""
        those = range(len(self.asks))
        ranks = [self.weighing.rank(percent) for percent in chances]
        made = [self.cheapest(those, self.beside, self.suppliers, min(at, self.weighing.total)) for at in ranks]
        later = [money + beside for money, beside in zip(self.later(those, self.suppliers, made), self.beside,
                                                         strict=True)]
        return tuple(self.whole(percent, at, one, later)
                     for percent, at, one in zip(chances, ranks, made, strict=True))

    def whole(self, percent: Fraction, at: int, made: CheapestOrder, later: Sequence[Fraction]) -> OrderFor:
        together, enough, purchase = self.cut.together, self.enough_for(made, at), made.purchase
        minutes = max(together.outcomes[j].minutes for j in enough)
        return OrderFor(together.name, percent, together.mean(lambda one: one.net), purchase.sticks,
                        sum(purchase.goods.values(), ZERO_MONEY), purchase.freight,
                        max(self.cut.hardware[j] for j in enough), None if self.shop.saw is None else minutes,
                        self.sawing(minutes), self.weighing.at(later, at), self.is_known(made, at), purchase.goods,
                        max(self.cut.panels[j] for j in enough))

    def enough_for(self, made: CheapestOrder, weight: int) -> list[int]:
        """Versions of so much weight for which an order is enough, those that cost the least beside the sticks; all of
        them, where they are fewer."""
        outcomes = self.cut.together.outcomes
        found, reached = [], 0
        for j in sorted(made.serves, key=lambda j: (self.beside[j], outcomes[j].minutes, self.cut.panels[j])):
            if reached >= weight:
                break
            found.append(j)
            reached += self.weighing.weights[j]
        return found

    @cached_property
    def beside(self) -> list[Fraction]:
        """What each version costs beside its sticks."""
        return [hardware + self.sawing(one.minutes)
                for hardware, one in zip(self.cut.hardware, self.cut.together.outcomes, strict=True)]

    def sawing(self, minutes: Fraction) -> Fraction:
        rates = self.shop.saw
        return ZERO_MONEY if rates is None or rates.hourly is None else minutes * rates.hourly / MINUTES

    # ---- ordered once the openings are measured ----

    def later(self, those: Sequence[int], suppliers: Mapping[str, Supplier], made: Sequence[CheapestOrder]
              ) -> list[Fraction]:
        """What each version's own sticks of some profiles cost; no more than an order that is enough for it."""
        found: dict[tuple[AskingTried | Need, ...], Fraction] = {}
        totals = []
        for j in range(self.cut.done):
            least = min((one.purchase.money for one in made if j in one.serves), default=None)
            key = tuple(self.own(k, j) for k in those)
            if key not in found:
                found[key] = self.of_version(those, j, suppliers)
            totals.append(found[key] if least is None else min(least, found[key]))
        return totals

    def own(self, k: int, j: int) -> AskingTried | Need:
        return (self.asks[k] and self.asks[k][j]) or self.cut.profiles[k].outcomes[j].need

    def of_version(self, those: Sequence[int], j: int, suppliers: Mapping[str, Supplier]) -> Fraction:
        needs = {k: self.cut.profiles[k].outcomes[j].need for k in those}
        if self.plain:
            return sum((need.cost for need in needs.values()), ZERO_MONEY)
        parts = [JobPart(self.shop.profiles[self.cut.profiles[k].name], asks=(asked,))
                 if self.asks[k] and (asked := self.asks[k][j]) else
                 JobPart(self.shop.profiles[self.cut.profiles[k].name],
                         [OrderInQuestion(dict(need.numbers), need.cost, 1)])
                 for k, need in needs.items()]
        self.budget.tell(f"version {j + 1} of {self.cut.done} ordered")
        made = WholeJob(parts, [1], [ZERO_MONEY], suppliers).cheapest(1, self.budget)
        if made is None:
            raise NoPlan(f"{', '.join(part.profile.name for part in parts)}: {LACKING}")
        return made.purchase.money
