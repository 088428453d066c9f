"""The cheapest order that is enough for versions of a job which are likely enough, for all profiles at once.

What suppliers ask is asked of the whole order: one supplier's dearer sticks can be cheaper than a second freight, and a
bundle too many dearer than sticks that no version would draw by itself. Hardware and work count with it, for an order
is enough where what is put by for these is enough too.

Where little is asked of a profile, an order is what its model says: whole numbers that are worth what the pieces are,
by the duals of their LPs, and that are not known to be lacking. Whether it is enough is then found by looking for
plans; what is lacking is written into the model, and it is solved again (combinatorial Benders cuts: Codato and
Fischetti, Oper. Res. 54 (2006) 756-766). Where more is asked, it is one of the orders in question.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from ortools.sat.python import cp_model

from cutplan.bidding.enough import AskingTried, try_out
from cutplan.bidding.needs import StickNumbers, number_of, standing_for
from cutplan.bidding.purchases import SticksBought, bought, by_length, list_prices, sold, sticks_task, write_at_least
from cutplan.buying.ordering.numbers import OrderMarket, by_task, write_terms
from cutplan.cutting import solved
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Supplier
from cutplan.sums import granule

WORK_ON_ORDER = 4.0  # of CP-SAT, in its deterministic seconds, for one model
ROUNDS = 60  # of looking for plans; then only what is known to be enough counts
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
class JobPart:
    """One profile: the orders in question, or, where there are none, what each version asks (None: nothing)."""

    profile: Profile
    orders: Sequence[OrderInQuestion] = ()
    asks: Sequence[AskingTried | None] = ()

    @property
    def most(self) -> int:
        """How many sticks are enough for anything: one for each piece."""
        return max([*(number_of(one.sticks) for one in self.orders), *(one.pieces for one in self.askings)], default=0)

    @property
    def askings(self) -> list[AskingTried]:
        """What is asked, each thing once."""
        return self.askings_of(range(len(self.asks)))

    def askings_of(self, versions: Iterable[int]) -> list[AskingTried]:
        return list(dict.fromkeys(one for j in versions if self.asks and (one := self.asks[j]) is not None))


@dataclass(frozen=True)
class CheapestOrder:
    """What is bought, which of the orders in question each part took (None: of none), and the versions for which all
    of it is enough."""

    purchase: SticksBought
    places: tuple[int | None, ...]
    serves: frozenset[int]


@dataclass(frozen=True)
class WholeJob:
    """What an order is for: its profiles; how likely each version is, in proportion, and what it costs beside its
    sticks; and what suppliers ask."""

    parts: Sequence[JobPart]
    weights: Sequence[int]
    beside: Sequence[Fraction]
    suppliers: Mapping[str, Supplier]

    def cheapest(self, weight: int, budget: Budget) -> CheapestOrder | None:
        """The cheapest that is enough in versions of so much weight, as far as it was found; None where none is."""
        for number in range(ROUNDS + 1):
            model = JobModel(self, known_only=number == ROUNDS or budget.spent())
            found = model.solved(weight)
            if found is None or model.known_only:
                return found
            asked = [one for part in self.parts for one in part.askings_of(found.serves)]
            if try_out(asked, found.purchase.sticks, budget):
                return found
        return None


class JobModel:
    """The model of one order; `known_only`: an order is enough for what it is known to be enough for."""

    def __init__(self, job: WholeJob, known_only: bool) -> None:
        self.job, self.known_only = job, known_only
        self.model = cp_model.CpModel()
        self.market = OrderMarket(tuple(sticks_task(part.profile, part.most) for part in job.parts), job.suppliers)
        self.terms = write_terms(self.model, self.market)
        self.served = [self.model.new_bool_var("") for _ in job.weights]
        self.takes: list[list[Any]] = []
        for part, numbers in zip(job.parts, by_task(self.market, self.terms.sticks), strict=True):
            self.takes.append(self.write_orders(part, numbers) if part.orders else [])
            if not part.orders:
                self.write_asked(part, numbers)

    def solved(self, weight: int) -> CheapestOrder | None:
        job, model = self.job, self.model
        model.add(sum(n * one for n, one in zip(job.weights, self.served, strict=True)) >= weight)
        model.minimize(self.money())
        solver, status = solved(model, Budget(), WORK_ON_ORDER, linear=2)  # to be had once time is over, too
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        places = tuple(next((k for k, take in enumerate(own) if solver.value(take)), None) for own in self.takes)
        purchase = bought(self.market, [part.profile for part in job.parts], self.terms, solver, job.suppliers)
        return CheapestOrder(purchase, places, frozenset(j for j, one in enumerate(self.served) if solver.value(one)))

    def money(self) -> Any:
        """What is bought, and the most that a served version costs beside; of sticks for nothing little is taken."""
        parts = math.ceil(self.market.coin / CENT)
        costs = [math.ceil(one * parts / self.market.coin) for one in self.job.beside]
        beside = self.model.new_int_var(0, max(costs), "")
        for one, cost in zip(self.served, costs, strict=True):
            if cost:
                self.model.add(beside >= cost * one)
        money = parts * self.terms.money + beside
        entries = [entry for part in self.job.parts for entry in sold(part.profile)]
        if all(entry.price for entry in entries):
            return money
        longest = max(entry.length for entry in entries)
        return 10**6 * money + sum(math.ceil(20 * entry.length / longest) * n
                                   for entry, n in zip(entries, self.terms.sticks, strict=True))

    def write_orders(self, part: JobPart, numbers: Sequence[Any]) -> list[Any]:
        """One of the orders in question is bought, or longer sticks for it; which it is."""
        takes = [self.model.new_bool_var("") for _ in part.orders]
        self.model.add_exactly_one(takes)
        for j, one in enumerate(self.served):
            enough = [take for take, order in zip(takes, part.orders, strict=True) if order.serves >> j & 1]
            if len(enough) < len(takes):
                self.model.add(sum(enough) >= one)
        asked = {length: sum(order.sticks.get(length, 0) * take
                             for order, take in zip(part.orders, takes, strict=True))
                 for length in sorted({length for order in part.orders for length in order.sticks})}
        write_at_least(self.model, asked, not part.profile.one_per_stick, sold(part.profile), numbers)
        return takes

    def write_asked(self, part: JobPart, numbers: Sequence[Any]) -> None:
        """What is bought is enough for what a served version asks, as far as that is known."""
        known = SticksModel(self.model, part.profile, by_length(sold(part.profile), numbers))
        flags = {one: known.flag(one, self.known_only) for one in part.askings}
        for j, one in enumerate(part.asks):
            if one is not None:
                self.model.add_implication(self.served[j], flags[one])


@dataclass
class SticksModel:
    """The sticks of one profile in a model, and conditions on them."""

    model: cp_model.CpModel
    profile: Profile
    numbers: Mapping[Fraction, Any]
    reached: dict[tuple[Fraction, int], Any] = field(default_factory=dict)

    def flag(self, one: AskingTried, known_only: bool) -> Any:
        """Whether the sticks are enough for an asking: where it is set, nothing that is known speaks against it;
        `known_only`: they are at least some that are enough."""
        flag = self.model.new_bool_var("")
        if known_only:
            ways = [self.holds(sticks, one.exchanged) for sticks in one.enough]
            self.model.add_bool_or([flag.negated(), *ways])
            return flag
        for row in one.need.rows:
            worth = dict(row.worth)
            self.model.add(sum(worth.get(length, 0) * n for length, n in self.numbers.items()) >= row.floor * flag)
        self.write_cost(one, flag)
        for sticks in one.lacking:
            self.model.add_bool_or([flag.negated(), *(
                self.reaches(length, standing_for(sticks, length, one.exchanged) + 1, one.exchanged)
                for length in self.numbers)])
        return flag

    def write_cost(self, one: AskingTried, flag: Any) -> None:
        """No plan costs less than the cheapest, even at the lowest price for single sticks."""
        prices = list_prices(self.profile)
        coin = granule([*prices.values(), one.need.cost])
        if one.need.cost:
            self.model.add(sum(int(prices[length] / coin) * n for length, n in self.numbers.items())
                           >= int(one.need.cost / coin) * flag)

    def holds(self, sticks: StickNumbers, exchanged: bool) -> Any:
        """Whether there are as many of each length, or longer ones for them."""
        flag = self.model.new_bool_var("")
        for length in self.numbers:
            if n := standing_for(sticks, length, exchanged):
                self.model.add_implication(flag, self.reaches(length, n, exchanged))
        return flag

    def reaches(self, length: Fraction, least: int, exchanged: bool) -> Any:
        """Whether there are so many of a length, longer ones included where they serve for it."""
        if (length, least) not in self.reached:
            flag = self.reached[length, least] = self.model.new_bool_var("")
            self.model.add(standing_for(self.numbers, length, exchanged) >= least).only_enforce_if(flag)
        return self.reached[length, least]
