"""Whole plans built stick by stick, with what a piece is worth corrected after each.

Each next pattern is the knapsack's best for the pieces' present worth; the worth of what it cut then moves towards
what its stick really cost for that length, so that later passes cut awkward pieces earlier (sequential value
correction: Belov and Scheithauer, INFORMS J. Comput. 19 (2007) 27-35, sec. 3).
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property

from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.patterns import Counts, Pattern
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class SequentialParams:
    """Sequential value correction.

    row:     a row of a table costs as much work as so many entries
    worth:   what a unit of length is worth at first
    power:   a piece's worth is its length to this power: longer ones are harder to place
    weights: between which the weight of a piece's worth so far is drawn
    longest: the longest stick, in units, on which filling every single stick is quick enough
    """

    row: int = 1_000
    worth: int = 1_000_000
    power: float = 1.04
    weights: tuple[float, float] = (1.0, 1.5)
    longest: int = TableParams.dense


@dataclass
class Passes:
    """Passes over one instance, each from where the last left the pieces' worth."""

    instance: Instance
    params: SequentialParams = field(default_factory=SequentialParams)

    def __post_init__(self) -> None:
        self.quick = self.instance.quick
        self.work = 0  # table entries filled so far
        self.cut: dict[Pattern, None] = {}  # the patterns of all passes, of those too that came to nothing
        self._chance = random.Random(0)
        self._worth = [float(w) for w in self.instance.sizes]
        real = [stick for stick in self.instance.sticks if not stick.emergency]
        prices = [stick.cost / stick.capacity for stick in real if stick.cost]
        self._price = min(prices, default=1.0)

    @cached_property
    def slow(self) -> bool:
        """Whether filling every single stick takes too long: on long ones in fine units."""
        instance = self.instance
        exactly = self.quick is instance or instance.arrangement.additive
        return exactly and max(stick.capacity for stick in instance.sticks) > self.params.longest

    def next(self, dearest: int, budget: Budget) -> Counter[Pattern] | None:
        """One pass; None where it costs `dearest` or more, or the stock runs out.

        None at once where that would be `slow`.
        """
        instance = self.instance
        if self.slow:
            return None
        left = list(instance.demands)
        there = [instance.most(s) for s in range(len(instance.sticks))]
        plan: Counter[Pattern] = Counter()
        cost = 0
        while any(left):
            if budget.spent():
                return None
            pattern = self._best(left, there)
            budget.count()
            if pattern is None:
                return None
            n = max(1, min(pattern.often(left) // 2, there[pattern.stick]))
            plan[pattern] += n
            self.cut[pattern] = None
            cost += n * instance.sticks[pattern.stick].cost
            if cost >= dearest:
                return None
            self._take(pattern, n, left, there)
        return plan

    def until(self, little: int, budget: Budget) -> Counter[Pattern]:
        """The first sticks of one pass, until no more than so many pieces are left, or no stick is."""
        left = list(self.instance.demands)
        there = [self.instance.most(s) for s in range(len(self.instance.sticks))]
        plan: Counter[Pattern] = Counter()
        while sum(left) > little and not budget.spent() and (pattern := self._best(left, there)) is not None:
            budget.count()
            plan[pattern] += 1
            self._take(pattern, 1, left, there)
        return plan

    def _take(self, pattern: Pattern, n: int, left: list[int], there: list[int]) -> None:
        """So many sticks fewer there, and their pieces no longer left; worths are corrected for the next."""
        there[pattern.stick] -= n
        for i, a in pattern.counts:
            left[i] -= a * n
        self._correct(pattern, left)

    def _best(self, left: list[int], there: list[int]) -> Pattern | None:
        """The pattern worth most for what its stick costs; an offcut counts as new stock of its length would."""
        instance = self.instance
        kinds = [s for s, stick in enumerate(instance.sticks) if there[s]]
        if not kinds:
            return None
        worth = [int(self.params.worth * y) if d else 0 for y, d in zip(self._worth, left, strict=True)]
        positions = min(self.params.longest, max(instance.sticks[s].capacity for s in kinds))
        self.work += sum(d > 0 for d in left) * (positions + self.params.row)
        found = self.quick.price([Use(s, instance.sticks[s].capacity) for s in kinds], left, worth)
        k = max(range(len(kinds)), key=lambda k: found[k].best() / self._cost(kinds[k]))
        counts: list[Counts] = found[k].patterns(0.0, 1)
        return Pattern(kinds[k], counts[0]) if counts else None

    def _cost(self, s: int) -> float:
        stick = self.instance.sticks[s]
        return stick.cost or self._price * stick.capacity

    def _correct(self, pattern: Pattern, left: list[int]) -> None:
        instance = self.instance
        fill = instance.fill(pattern)
        rate = self._cost(pattern.stick) / self._price / fill
        for i, _ in pattern.counts:
            weight = self._chance.uniform(*self.params.weights)
            weight = weight * (instance.demands[i] + left[i] + 1) / (instance.demands[i] + 1)
            self._worth[i] = (weight * self._worth[i] + instance.sizes[i] ** self.params.power * rate) / (weight + 1)
