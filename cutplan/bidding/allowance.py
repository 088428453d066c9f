"""From versions of a job that were cut to the allowance: what is enough in so many jobs of a hundred.

All figures are exact fractions. Two bases are kept apart everywhere, because 15 % of one is 17.6 % of the other:
waste as a share of the net length (what one adds to the pieces), and of what is drawn (what one buys or takes).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from functools import cached_property
from itertools import accumulate

from cutplan.bidding.needs import NO_NEED, Need
from cutplan.plans.records import waste_percent

NET, BOUGHT = "net", "bought"
SURE = 0.95  # of the interval round a figure


@dataclass(frozen=True)
class Outcome:
    """What one version of a job takes of a profile, or of all. Lengths in the shop's unit, money in its currency.

    `net` is the pieces, `drawn` all sticks with those from the rack, `kept` what goes back there, `sticks` the new ones
    and `cost` their price, `credit` what is kept at the shop's rate. `minutes` are those at the saw (0 where the shop
    does not say what work takes). `proven`: no plan is cheaper. `needs`: the new sticks, profile by profile.
    """

    net: Fraction
    drawn: Fraction
    kept: Fraction
    cost: Fraction
    credit: Fraction
    sticks: int
    from_rack: int
    minutes: Fraction = Fraction(0)
    proven: bool = True
    needs: tuple[Need, ...] = ()

    @property
    def need(self) -> Need:
        """Of one profile."""
        return self.needs[0] if self.needs else NO_NEED

    @property
    def waste(self) -> Fraction:
        return self.drawn - self.net

    @property
    def of_net(self) -> Fraction:
        """The waste in per cent of the net length."""
        return waste_percent(self.waste, self.net)

    @property
    def of_bought(self) -> Fraction:
        """The waste in per cent of what is drawn: a plan's `waste_percent`."""
        return waste_percent(self.waste, self.drawn)

    @property
    def in_sticks(self) -> Fraction:
        """The waste in sticks of this version's mean length."""
        return self.waste * (self.sticks + self.from_rack) / self.drawn if self.drawn else Fraction(0)


def add(outcomes: Sequence[Outcome]) -> Outcome:
    """All of them together."""
    sums = {one.name: sum(getattr(outcome, one.name) for outcome in outcomes) for one in fields(Outcome)
            if one.name not in ("proven", "needs")}
    return Outcome(**sums, proven=all(outcome.proven for outcome in outcomes),
                   needs=tuple(need for outcome in outcomes for need in outcome.needs))


@dataclass(frozen=True)
class Enough:
    """What is enough in `percent` jobs of a hundred; the true figure lies from `low` to `high` (None: not known).

    `low` and `high` hold in 95 bids of a hundred; where every version was cut they are the figure itself.
    """

    percent: Fraction
    value: Fraction
    low: Fraction | None
    high: Fraction | None


@dataclass(frozen=True)
class Weighing:
    """How likely each version is, in proportion, as whole numbers: a version counts as so many that are alike.

    `whole`: the versions are all there are.
    """

    weights: tuple[int, ...]
    whole: bool

    @cached_property
    def total(self) -> int:
        return sum(self.weights)

    @cached_property
    def most(self) -> int:
        return max(self.weights)

    @cached_property
    def masks(self) -> Mapping[int, int]:
        """Which versions have each weight, as bits."""
        found: dict[int, int] = {}
        for j, weight in enumerate(self.weights):
            found[weight] = found.get(weight, 0) | 1 << j
        return found

    def of(self, versions: int) -> int:
        """What some versions weigh together; they are bits."""
        return sum(weight * (versions & mask).bit_count() for weight, mask in self.masks.items())

    def rank(self, percent: Fraction) -> int:
        return rank(self.total, percent, self.whole, self.most)

    def in_order(self, values: Sequence[Fraction]) -> list[tuple[int, Fraction]]:
        """The values from the least up, each with what all up to it weigh."""
        order = sorted(range(len(values)), key=values.__getitem__)
        return list(zip(accumulate(self.weights[k] for k in order), (values[k] for k in order), strict=True))

    def at(self, values: Sequence[Fraction], place: int) -> Fraction:
        """The value at a place, counted from 1; the greatest where there are not so many."""
        return next((value for upto, value in self.in_order(values) if upto >= place), max(values))


@dataclass(frozen=True)
class Figures:
    """The versions of one profile, or of the whole job, and what can be read from them.

    `weights`: how likely each of them is, in proportion; (): alike.
    """

    name: str
    outcomes: tuple[Outcome, ...]
    whole: bool
    weights: tuple[int, ...] = ()

    @cached_property
    def weighing(self) -> Weighing:
        return Weighing(self.weights or (1,) * len(self.outcomes), self.whole)

    def mean(self, figure: Callable[[Outcome], Fraction | int]) -> Fraction:
        weighed = sum(weight * figure(one) for weight, one in zip(self.weighing.weights, self.outcomes, strict=True))
        return Fraction(weighed) / self.weighing.total

    def enough(self, figure: Callable[[Outcome], Fraction | int], percent: Fraction) -> Enough:
        """The least value that `percent` of the versions do not go beyond."""
        values = [Fraction(figure(one)) for one in self.outcomes]
        value = self.weighing.at(values, self.weighing.rank(percent))
        if self.whole:
            return Enough(percent, value, value, value)
        if self.weights:  # some of few that are not alike: no sample of which anything is known
            return Enough(percent, value, None, None)
        values.sort()
        low, high = interval(len(values), percent)
        return Enough(percent, value, None if low is None else values[low - 1],
                      None if high is None else values[high - 1])

    def chance(self, figure: Callable[[Outcome], Fraction | int], limit: Fraction) -> Fraction:
        """In how many of a hundred versions the figure is not beyond the limit."""
        weighed = sum(weight for weight, one in zip(self.weighing.weights, self.outcomes, strict=True)
                      if figure(one) <= limit)
        return Fraction(100 * weighed, self.weighing.total)

    def to_add(self, percent: Fraction) -> Fraction:
        """What to add to the mean net length, in per cent of it: openings that come out wider are in it too."""
        net = self.mean(lambda one: one.net)
        return 100 * (self.enough(lambda one: one.drawn, percent).value / net - 1) if net else Fraction(0)


def rank(count: int, percent: Fraction, whole: bool, most: int = 1) -> int:
    """Which of so many values in order is enough in `percent` of a hundred, counted from 1; more than there are where
    they are too few to know.

    Of draws the k-th is enough for a fresh one in k of count + 1 (David and Nagaraja, sec. 2.5); where they are the
    `whole` of what there can be, in k of count. A fresh one counts as `most` where some count for more than others.
    """
    return max(1, math.ceil((count if whole else count + most) * percent / 100))


def interval(count: int, percent: Fraction) -> tuple[int | None, int | None]:
    """The ranks between which the true quantile lies in 95 samples of a hundred; None where there are too few.

    The number of independent values below the true quantile is binomial, whatever their distribution (David and
    Nagaraja, Order Statistics, 3rd ed. 2003, sec. 7.1). Values spread more evenly than by chance do no worse.
    """
    p = float(percent) / 100
    tail, below = (1 - SURE) / 2, 0.0
    low, high = None, None
    for k in range(count):  # below = P(at most k lie below the quantile)
        below += math.exp(log_binomial(count, k) + k * math.log(p) + (count - k) * math.log1p(-p)) if p < 1 else 0.0
        if below <= tail:
            low = k + 1
        if below >= 1 - tail:
            high = k + 1
            break
    return low, high


def log_binomial(n: int, k: int) -> float:
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)


# ---- rules of thumb ----


@dataclass(frozen=True)
class Rule:
    """A flat allowance in per cent of the net length or of what is bought, and where it was published."""

    percent: Fraction
    base: str
    source: str


RULES = (
    Rule(Fraction(5), NET, "a dealer's rule for length goods (46 ft and 5 % are 48.3, so buy 49); "
         "opinion pages say the same of structural sections cut to length"),
    Rule(Fraction(10), NET, "US Army correspondence course EN0069A, table 4-1, for dimension lumber (500 become 550); "
         "opinion pages say 5 to 10 for running trim"),
    Rule(Fraction(15), BOUGHT, "US Army correspondence course EN01136, which divides by 0.85 (106 / 5.5 / 0.85 is 23)"),
)


def flat(net: Fraction, percent: Fraction, base: str = NET) -> Fraction:
    """What to buy by a flat allowance: added to the net length, or so that it is `percent` of what is bought."""
    return net * (100 + percent) / 100 if base == NET else net * 100 / (100 - percent)


def of_net(percent: Fraction) -> Fraction:
    """What `percent` of what is bought is in per cent of the net length: 15 is 17.6."""
    return 100 * percent / (100 - percent)


def of_bought(percent: Fraction) -> Fraction:
    """What `percent` of the net length is in per cent of what is bought: 10 is 9.1."""
    return 100 * percent / (100 + percent)


def rule_chance(figures: Figures, rule: Rule) -> Fraction:
    """In how many of a hundred versions a rule of thumb on the mean net length is as long as what is drawn."""
    return figures.chance(lambda one: one.drawn, flat(figures.mean(lambda one: one.net), rule.percent, rule.base))
