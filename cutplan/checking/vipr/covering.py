"""Raises a bound on cost to what the cheapest numbers of sticks cost that can carry the demand, by branches on them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.vipr.derivation import Narrowed
from cutplan.checking.vipr.rounding import Branching, Rounding


@dataclass
class Covering(Branching):
    """The row `row` says that sticks z_k, worth `worths[k]` each, come to `need`; `aim`, in coins, is to be shown.

    At each branch the row is taken so often that the bound is best (the multiplier of the fractional knapsack, Dantzig
    1957), and if that is not enough, the kind whose number is broken is split there.
    """

    row: int
    worths: Sequence[int]
    need: int
    aim: int

    def prove(self, box: Narrowed) -> Fraction:
        """Derives that the cost is at least the aim, by the last row; gives that in money. Raises TooLarge."""
        self.count()
        program = self.rows.program
        coins = program.coins()
        limits = [self.rows.limits(k, box) for k in range(len(coins))]
        share, broken = self._best_share([(low.number, high.number) for low, high in limits])
        if broken is None:  # all there is in this box is worth too little
            most = sum(worth * high.number for worth, (_, high) in zip(self.worths, limits, strict=True))
            highs = [(high.row, -worth) for worth, (_, high) in zip(self.worths, limits, strict=True) if worth]
            self.rows.combine([], self.need - most, [(self.row, 1), *highs])
            return self.aim * program.coin
        least, parts = share * self.need, []
        for (low, high), coin, worth in zip(limits, coins, self.worths, strict=True):
            left = coin - share * worth
            limit = low if left >= 0 else high
            least += left * limit.number
            parts.append((limit.row, left))
        k, at = broken
        if math.ceil(least) >= self.aim or not limits[k][0].number <= at < limits[k][1].number:
            told = self.rows.combine([(k, coin) for k, coin in enumerate(coins) if coin], least,
                                     [(self.row, share), *parts])
            return Rounding(self.rows, self.step, told, least, Fraction(self.aim)).prove(box)
        return self.rows.branch(k, at, box, lambda _, narrowed: self.prove(narrowed))

    def _best_share(self, spans: Sequence[tuple[int, int]]) -> tuple[Fraction, tuple[int, int] | None]:
        """How often the row is taken, and the kind that is broken with the whole number below (None: too few)."""
        coins, lacking = self.rows.program.coins(), self.need
        for (low, _), worth in zip(spans, self.worths, strict=True):
            lacking -= low * worth
        if lacking <= 0:
            return Fraction(0), (0, -1)
        useful = sorted((Fraction(coins[k], worth), k) for k, worth in enumerate(self.worths) if worth > 0)
        share, broken = Fraction(0), None
        for share, k in useful:
            low, high = spans[k]
            broken = k, low + max(0, lacking) // self.worths[k]
            lacking -= (high - low) * self.worths[k]
            if lacking <= 0:
                return share, broken
        return share, None
