"""Rounds a bound on cost up to the next sum of prices, by branches on how many sticks of each kind are drawn."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.checking.vipr.derivation import Coefs, Derivation, Narrowed
from cutplan.checking.vipr.flow import TooLarge

MOST_BRANCHES = 20_000  # for one bound


@dataclass
class Branching:
    """What is derived by branches: so many, and no more."""

    rows: Derivation
    step: Callable[[], None]
    _before: int = field(init=False)

    def __post_init__(self) -> None:
        self._before = len(self.rows.derived)

    def count(self) -> None:
        """One more branch. Raises TooLarge."""
        if len(self.rows.derived) - self._before > MOST_BRANCHES:
            raise TooLarge
        self.step()


@dataclass
class Rounding(Branching):
    """The row `told` says that the cost in coins is at least `least`; no sum of prices lies between that and `aim`."""

    told: int
    least: Fraction
    aim: Fraction

    def prove(self, box: Narrowed) -> Fraction:
        """Derives that the cost is at least the aim, by the last row; gives that in money. Raises TooLarge."""
        self.count()
        coins = self.rows.program.coins()
        limits = [self.rows.limits(k, box) for k in range(len(coins))]
        drawn = sum(coin * low.number for coin, (low, _) in zip(coins, limits, strict=True))
        if drawn >= self.aim:
            return self._cost(drawn, [(low.row, coin) for coin, (low, _) in zip(coins, limits, strict=True)])
        most = sum(coin * high.number for coin, (_, high) in zip(coins, limits, strict=True))
        if most < self.least:  # no plan at all is here
            highs = [(high.row, -coin) for coin, (_, high) in zip(coins, limits, strict=True)]
            self.rows.combine([], self.least - most, [(self.told, 1), *highs])
            return self.aim * self.rows.program.coin
        free = [k for k, (low, high) in enumerate(limits) if coins[k] and low.number < high.number]
        shared = math.gcd(*(coins[k] for k in free))
        held = [(k, coin) for k, coin in enumerate(coins) if k not in free]
        fixed = sum(coin * limits[k][0].number for k, coin in held)
        above = math.ceil((self.least - fixed) / shared) if shared else 0
        if fixed + above * shared >= self.aim:
            less = [(limits[k][1].row, Fraction(-coin, shared)) for k, coin in held]
            coefs = [(k, coins[k] // shared) for k in free]
            row = self.rows.combine(coefs, (self.least - fixed) / shared, [(self.told, Fraction(1, shared)), *less])
            up = self.rows.round_up(coefs, above, row)
            return self._cost(fixed + above * shared, [(up, shared), *((limits[k][0].row, coin) for k, coin in held)])
        k = max(free, key=lambda one: coins[one])
        low, high = limits[k]
        enough = min(high.number, low.number + math.ceil((self.aim - drawn) / coins[k]))
        return self.rows.branch(k, (low.number + enough) // 2 if enough > low.number + 1 else low.number, box,
                                lambda _, narrowed: self.prove(narrowed))

    def _cost(self, coins: Fraction | int, parts: Coefs) -> Fraction:
        """The cost is at least so many coins, by a sum of rows."""
        coin = self.rows.program.coin
        self.rows.combine(self.rows.prices, coins * coin, [(row, number * coin) for row, number in parts])
        return coins * coin
