"""Whole plans built stick by stick, with what a piece is worth corrected after each.

Each next pattern is the knapsack's best for the pieces' present worth; the worth of what it cut then moves towards
what its stick really cost for that length, so that later passes cut awkward pieces earlier (sequential value
correction: Belov and Scheithauer, INFORMS J. Comput. 19 (2007) 27-35, sec. 3).
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass

from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.patterns import Counts, Pattern
from cutplan.cutting.pricing import knapsack
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget

ROW = 1_000  # a row of a table costs as much as so many entries
FINE = 1_000_000  # what a unit of length is worth at first
POWER = 1.04  # longer pieces are worth a little more for their length: they are harder to place


@dataclass
class Passes:
    """Passes over one instance, each from where the last left the pieces' worth."""

    instance: Instance

    def __post_init__(self) -> None:
        self.work = 0  # table entries filled so far
        self.cut: dict[Pattern, None] = {}  # the patterns of all passes, of those too that came to nothing
        self._chance = random.Random(0)
        self._worth = [float(w) for w in self.instance.sizes]
        real = [stick for stick in self.instance.sticks if not stick.emergency]
        prices = [stick.cost / stick.capacity for stick in real if stick.cost]
        self._price = min(prices, default=1.0)

    def next(self, dearest: int, budget: Budget) -> Counter[Pattern] | None:
        """One pass; None where it costs `dearest` or more, or the stock runs out.

        None at once on a long stick in fine units, where filling every single stick takes too long.
        """
        instance = self.instance
        if max(stick.capacity for stick in instance.sticks) > knapsack.FINE:
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
            there[pattern.stick] -= n
            cost += n * instance.sticks[pattern.stick].cost
            if cost >= dearest:
                return None
            for i, a in pattern.counts:
                left[i] -= a * n
            self._correct(pattern, left)
        return plan

    def _best(self, left: list[int], there: list[int]) -> Pattern | None:
        """The pattern worth most for what its stick costs; an offcut counts as new stock of its length would."""
        instance = self.instance
        kinds = [s for s, stick in enumerate(instance.sticks) if there[s]]
        if not kinds:
            return None
        worth = [int(FINE * y) if d else 0 for y, d in zip(self._worth, left, strict=True)]
        self.work += sum(d > 0 for d in left) * (max(instance.sticks[s].capacity for s in kinds) + ROW)
        found = instance.price([Use(s, instance.sticks[s].capacity) for s in kinds], left, worth)
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
            weight = self._chance.uniform(1.0, 1.5) * (instance.demands[i] + left[i] + 1) / (instance.demands[i] + 1)
            self._worth[i] = (weight * self._worth[i] + instance.sizes[i] ** POWER * rate) / (weight + 1)
