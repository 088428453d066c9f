"""Which lengths to carry where they are sold by bundles, breaks and the like, and suppliers ask for freight.

What a set costs is then the cheapest order for the weeks, from the entries of its lengths. No such order costs less
than its sticks do at the lowest price that their terms allow, which the bounds of all sets at once (bounds.py) are
below. So the sets are ordered for one after the other, the least bound first, until none left can cost less than the
best.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from cutplan.buying.length_sets import LengthSearch, LengthSets, SetSearchParams
from cutplan.buying.offers import Market, Offer, new_stock
from cutplan.buying.ordering.laying import trimmed
from cutplan.buying.ordering.numbers import OrderMarket
from cutplan.buying.ordering.search import FoundOrder, cheapest
from cutplan.buying.ordering.task import ProfileTask, Sale
from cutplan.buying.question import BestSet, Choice, LengthsAnswer, Question, Single
from cutplan.buying.set_plan import heap_of
from cutplan.buying.terms import levels
from cutplan.cutting import instance_of
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers


def choose_under_terms(question: Question, most: int, budget: Budget) -> LengthsAnswer:
    """As `stock_lengths.choose`, by what orders cost."""
    low = lowest(question)
    with Workers(budget, 1) as workers:
        search = LengthSearch(low, budget, workers, SetSearchParams())
        search.begin()
        sets = [LengthSets(search, many) for many in range(1, min(most, len(question.market.offers)) + 1)]
        found = TermsSearch(low, search)
        today = found.today(budget.share(4))
        best: list[BestSet] = []
        for number, own in enumerate(sets):
            if len(own.sets):
                best.append(found.best(own, budget.share(len(sets) - number)))
        if not best:
            raise NoPlan(f"{question.market.profile.name}: no {most} of these lengths can cut every piece together")
        singles = found.singles(sets[0], budget)
    return LengthsAnswer(low, tuple(best), singles, *today)


def lowest(question: Question) -> Question:
    """The same, with each length at the lowest price that its terms allow."""
    market = question.market

    def cheap(offer: Offer) -> Offer:
        return Offer(offer.length, min(levels(entry)[-1].each for entry in market.sold(offer)))

    return replace(question, market=replace(market, offers=tuple(map(cheap, market.offers)),
                                            today=tuple(map(cheap, market.today))))


class TermsSearch:
    """Orders for sets of lengths, each made once."""

    def __init__(self, question: Question, search: LengthSearch) -> None:
        self.question, self.market, self.search = question, question.market, search
        self.done: dict[tuple[int, ...], tuple[Choice, Fraction]] = {}

    def order(self, kinds: tuple[int, ...], budget: Budget) -> tuple[Choice, Fraction] | None:
        """The cheapest order from a set, and what none costs less than, carrying included; None without time."""
        if kinds not in self.done:
            offers = tuple(sorted(self.search.offers[s] for s in kinds))
            try:
                self.done[kinds] = choice_of(self.question, self.market, offers, budget)
            except OutOfTime:
                return None
        return self.done[kinds]

    def best(self, sets: LengthSets, budget: Budget) -> BestSet:
        """The best set of so many; the sets in the order of their bounds, until these say that none left is better."""
        carrying = self.market.carrying * sets.sets.shape[1] * self.question.weeks
        lower = [int(bound) * self.search.coin + carrying for bound in sets.lower()]
        order = [int(i) for i in np.argsort(np.array([float(bound) for bound in lower]), kind="stable")]
        best: Choice | None = None
        least: list[Fraction] = []
        looked = 0
        for number, i in enumerate(order):
            if best is not None and (lower[i] >= best.cost or budget.spent()):
                least.append(lower[i])
                break
            if number and not budget.spent():
                sets.tighten(i, budget)
                lower[i] = max(lower[i], sets.proven(i) * self.search.coin + carrying)
                if best is not None and lower[i] >= best.cost:
                    least.append(lower[i])
                    continue
            made = self.order(sets.kinds(i), budget.share(max(1, min(8, len(order) - number))))
            if made is None:
                least.append(lower[i])
                continue
            looked += 1
            choice, bound = made
            least.append(max(lower[i], bound))
            if best is None or choice.cost < best.cost:
                best = choice
            self.search.tell(f"{looked} of {len(order)} sets of {sets.sets.shape[1]} ordered for, best so far "
                             f"{float(best.cost):.2f}")
        if best is None:
            raise OutOfTime(f"{self.market.profile.name}: no order was found in the time there was")
        return BestSet(best, min([best.cost, *least]), len(order), looked)

    def today(self, budget: Budget) -> tuple[Choice | None, str]:
        """What it costs to stay, or why these lengths cannot do."""
        try:
            stock = tuple(offer.stock for offer in self.market.today)
            instance_of(replace(self.market.profile, stock=stock), heap_of(self.question.demand))
            return choice_of(self.question, self.market, self.market.today, budget)[0], ""
        except NoPlan as nothing:
            return None, str(nothing)

    def singles(self, sets: LengthSets, budget: Budget) -> tuple[Single, ...]:
        """Every candidate alone, with what an order for it costs; once no time is left, with what it costs at least."""
        lower = {int(kinds[0]): int(bound) for kinds, bound in zip(sets.sets, sets.lower(), strict=True)}
        carrying = self.market.carrying * self.question.weeks
        found = []
        waiting = sum((kind,) not in self.done for kind in lower)
        for offer in self.market.offers:
            kind = self.search.kind.get(offer)
            if kind is None or kind not in lower:
                found.append(Single(offer, False))
                continue
            if (kind,) not in self.done and not budget.spent():
                self.order((kind,), budget.share(waiting))
                waiting -= 1
            least = lower[kind] * self.search.coin + carrying
            choice, bound = self.done.get((kind,), (None, least))
            found.append(Single(offer, True, choice, max(least, bound)))
        return tuple(found)


def choice_of(question: Question, market: Market, offers: Sequence[Offer], budget: Budget) -> tuple[Choice, Fraction]:
    """The cheapest order from these lengths alone, and what none costs less than; both with carrying."""
    stock = tuple(entry for offer in offers for entry in market.sold(offer))
    profile = replace(market.profile, stock=stock)
    sales = tuple(Sale(place, entry, 0, None) for place, entry in enumerate(new_stock(profile)))
    task = ProfileTask(profile, question.demand, (), sales)
    found = cheapest(OrderMarket((task,), market.suppliers), budget.quietly())
    carrying = market.carrying * len(offers) * question.weeks
    choice = Choice(tuple(offers), drawn_of(task, found, offers), found.money, carrying, question.pieces)
    return choice, found.bound + carrying


def drawn_of(task: ProfileTask, found: FoundOrder, offers: Sequence[Offer]) -> tuple[int, ...]:
    """How many sticks of each length the plans draw; more may be ordered, where that is cheaper."""
    drawn: Counter[Fraction] = Counter()
    for (s, _), n in trimmed(task, found.columns[0]).items():
        drawn[task.instance.stock[s][0].length] += n
    return tuple(drawn[offer.length] for offer in offers)
