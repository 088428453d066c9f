"""Which lengths to carry: the question, and the answers to it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from cutplan.buying.offers import Market, Offer
from cutplan.plans.records import Demand, waste_percent


@dataclass(frozen=True)
class Question:
    """What is asked: a market, and the demand of each week (never empty). `weeks` is how long carrying is paid."""

    market: Market
    demand: tuple[tuple[Demand, ...], ...]
    weeks: int

    @property
    def carried(self) -> bool:
        """Whether a week's offcuts may serve the next."""
        profile = self.market.profile
        return len(self.demand) > 1 and profile.keep_from is not None and not profile.one_per_stick

    @cached_property
    def pieces(self) -> Fraction:
        """The length of all pieces."""
        return sum((one.length * one.qty for week in self.demand for one in week), Fraction(0))

    @cached_property
    def count(self) -> int:
        return sum(one.qty for week in self.demand for one in week)


@dataclass(frozen=True)
class Choice:
    """Lengths carried, shortest first, and the plan made with them: `drawn` is how many sticks of each.

    `money` is what the sticks cost, `carrying` what it costs to keep the lengths, all weeks together.
    """

    offers: tuple[Offer, ...]
    drawn: tuple[int, ...]
    money: Fraction
    carrying: Fraction
    pieces: Fraction

    @property
    def cost(self) -> Fraction:
        return self.money + self.carrying

    @property
    def length(self) -> Fraction:
        return sum((offer.length * n for offer, n in zip(self.offers, self.drawn, strict=True)), Fraction(0))

    @property
    def sticks(self) -> int:
        return sum(self.drawn)

    @property
    def waste_percent(self) -> Fraction:
        """Of what is drawn; what lies on the rack after the last week counts as waste."""
        return waste_percent(self.length - self.pieces, self.length)


@dataclass(frozen=True)
class BestSet:
    """The best set of so many lengths that was found, and what is proven: no set and no plan costs less than `bound`.

    `sets` could cut the demand, `looked` of them were planned, or begun and left off as hopeless.
    """

    choice: Choice
    bound: Fraction
    sets: int
    looked: int

    @property
    def proven(self) -> bool:
        return self.bound >= self.choice.cost

    @property
    def gap_percent(self) -> Fraction:
        """By how much of its cost it could at most be beaten."""
        cost = self.choice.cost
        return 100 * max(Fraction(0), cost - self.bound) / cost if cost else Fraction(0)


@dataclass(frozen=True)
class Single:
    """One length alone: its plan, or, where there was no time for one, only what it costs at least.

    `eligible`: whether every piece can be cut from it.
    """

    offer: Offer
    eligible: bool
    choice: Choice | None = None
    bound: Fraction = Fraction(0)


@dataclass(frozen=True)
class LengthsAnswer:
    """The best set for each number of lengths, every length alone, and today's lengths (or why these cannot do)."""

    question: Question
    best: tuple[BestSet, ...]
    singles: tuple[Single, ...]
    today: Choice | None
    today_lacks: str = ""
