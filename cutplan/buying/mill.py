"""A length of one's own from the mill: the single length at which a demand wastes least, and the curve around it.

One length is a set of one, and least waste is least length drawn: so it is `stock_lengths` with the length as the
price. The curve has for every length what is wasted at least, from its LP, and what its plan wastes where one was
made.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.buying.length_sets import LengthSearch, LengthSets, SetSearchParams
from cutplan.buying.question import Choice, Question
from cutplan.buying.stock_lengths import settled
from cutplan.plans.records import waste_percent
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers


@dataclass(frozen=True)
class MillParams:
    """The search for one length of all.

    plans: the part of the time that is for plans; where weeks lean on each other it says how many are made
    lps:   lengths of the curve that get LPs of their own, where there is time
    """

    plans: float = 0.7
    lps: int = 60
    search: SetSearchParams = field(default_factory=SetSearchParams)


@dataclass(frozen=True)
class MillPoint:
    """One length: the least that is drawn with it, proven, and its plan where one was made."""

    length: Fraction
    least: Fraction
    pieces: Fraction
    choice: Choice | None

    @property
    def least_waste(self) -> Fraction:
        """In percent of what is drawn."""
        return max(Fraction(0), waste_percent(self.least - self.pieces, self.least))

    @property
    def waste(self) -> Fraction:
        """Of the plan, or else the least there can be."""
        return self.choice.waste_percent if self.choice else self.least_waste


@dataclass(frozen=True)
class Mill:
    """The best single length of all asked for, the least any of them can draw, and the curve, shortest first.

    `too_short` of the lengths cannot cut every piece.
    """

    question: Question
    best: Choice
    bound: Fraction
    points: tuple[MillPoint, ...]
    too_short: int

    @property
    def proven(self) -> bool:
        return self.bound >= self.best.length

    @property
    def least_waste(self) -> Fraction:
        return max(Fraction(0), waste_percent(self.bound - self.question.pieces, self.bound))


def mill(question: Question, budget: Budget, params: MillParams = MillParams()) -> Mill:
    """The best of the question's candidates, whose prices must be their lengths. Raises NoPlan: all too short."""
    with Workers(budget, params.search.batch) as workers:
        search = LengthSearch(question, budget, workers, params.search)
        search.begin()
        sets = LengthSets(search, 1)
        best = sets.run(None, budget.upto(params.plans), every=question.carried) if len(sets.sets) else None
        if best is None:
            raise NoPlan(f"{question.market.profile.name}: none of these lengths alone can cut every piece")
        for i in range(0, len(sets.sets), max(1, len(sets.sets) // params.lps)):
            if question.carried or i not in sets.refined:
                sets.tighten(i, budget)
        bound = settled(search, sets, best).bound
        lower = sets.lower()
    points = []
    for kinds, least in zip(sets.sets, lower, strict=True):
        kind = int(kinds[0])
        points.append(MillPoint(search.offers[kind].length, int(least) * search.coin, question.pieces,
                            search.done.get((kind,))))
    points.sort(key=lambda point: point.length)
    return Mill(question, best, bound, tuple(points), len(question.market.offers) - len(points))
