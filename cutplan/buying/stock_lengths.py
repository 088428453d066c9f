"""Which lengths to carry: the set of K that cuts a demand for least, over all sets of K candidates.

Sets are looked at in the order of what they could at best cost (best first). A set's LP is solved for its own sake and
for its duals, which bound all other sets too (bounds.py); what is still promising then is planned by the cutter. Where
the weeks do not lean on each other (one week, all together, or nothing is kept for the rack), the score that orders the
sets is a proven bound, and the search ends when no set left can cost less than the best: then that is proven. Where
offcuts are carried from week to week, what a set costs depends on what each week leaves, and no bound that holds for
every such plan is tight. There sets are ordered by a guess that follows the weeks, so many of them are planned, each
until its weeks have hardly a chance left to be better, and what is proven is the bound of all weeks as one heap:
carrying an offcut is cutting its stick over time, so no plan week by week can be below it.
"""

from __future__ import annotations

from cutplan.buying.length_sets import LengthSearch, LengthSets, SetSearchParams, singles
from cutplan.buying.offers import selling
from cutplan.buying.question import BestSet, Choice, LengthsAnswer, Question
from cutplan.buying.set_plan import heap_of
from cutplan.buying.under_terms import choose_under_terms
from cutplan.cutting import instance_of
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers


def choose(question: Question, most: int, budget: Budget, params: SetSearchParams | None = None) -> LengthsAnswer:
    """The best sets of 1 to `most` lengths, each length alone and today's; fewer where they are not needed.

    Raises NoPlan where a piece fits none of the candidates, or no set of `most` of them fits all pieces.
    """
    if question.market.under_terms:
        return choose_under_terms(question, most, budget)
    params = params or SetSearchParams()
    with Workers(budget, params.batch) as workers:
        search = LengthSearch(question, budget, workers, params)
        if search.can(today := search.kinds(question.market.today)):
            search.plan({today: search.task(today)}, budget.share(4))
        search.begin()
        ones = LengthSets(search, 1)
        found: dict[int, tuple[LengthSets, Choice]] = {}
        for many in range(1, min(most, ones.candidates) + 1):
            sets = ones if many == 1 else LengthSets(search, many)
            if len(sets.sets):
                begin = min([*([widened(search, found[many - 1][1])] if many - 1 in found else []), *sets.planned()],
                            key=lambda choice: choice.money, default=None)
                share = budget.share(3) if many == 1 < most else budget.share(most - many + 1)
                made = sets.run(begin, share, every=many == 1)
                found |= {many: (sets, made)} if made else {}
        if not found:
            raise NoPlan(f"{question.market.profile.name}: no {most} of these lengths can cut every piece together")
        best: list[BestSet] = []
        for sets, choice in found.values():
            if best and best[-1].choice.money < choice.money:
                choice = widened(search, best[-1].choice)
            best.append(settled(search, sets, choice))
        return LengthsAnswer(question, tuple(best), singles(search, ones), *stay(search))


def stay(search: LengthSearch) -> tuple[Choice | None, str]:
    """The plan with today's lengths, or why there is none. Lengths too short for any piece are carried too."""
    question, market = search.question, search.question.market
    try:
        instance_of(selling(market.profile, market.today), heap_of(question.demand))
    except NoPlan as nothing:
        return None, str(nothing)
    made = search.done[search.kinds(market.today)]
    drawn = dict(zip(made.offers, made.drawn, strict=True))
    return Choice(market.today, tuple(drawn.get(offer, 0) for offer in market.today), made.money,
                  market.carrying * len(market.today) * question.weeks, made.pieces), ""


def widened(search: LengthSearch, choice: Choice) -> Choice:
    """The same plan with one more length carried, which it does not draw: what more lengths cost at most."""
    market = search.question.market
    other = max(offer for offer in market.offers if offer in search.kind and offer not in choice.offers)
    drawn = {**dict(zip(choice.offers, choice.drawn, strict=True)), other: 0}
    offers = tuple(sorted(drawn))
    return Choice(offers, tuple(drawn[offer] for offer in offers), choice.money,
                  market.carrying * len(offers) * search.question.weeks, choice.pieces)


def settled(search: LengthSearch, sets: LengthSets, choice: Choice) -> BestSet:
    carrying = choice.carrying
    return BestSet(choice, sets.proven_least() * search.coin + carrying, len(sets.sets), sets.looked)


