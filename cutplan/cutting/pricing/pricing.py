"""The patterns that are worth most for given values, on plain sticks and on sticks with holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from cutplan.cutting.arrangement.holes import chains
from cutplan.cutting.pricing import knapsack
from cutplan.cutting.problem.instance import Counts, Instance


class Priced(Protocol):
    """The patterns of one way of using a stick, by what they are worth."""

    def best(self) -> int:
        """The best value of any pattern."""

    def patterns(self, above: float, many: int) -> list[Counts]:
        """Up to `many` patterns worth more than `above`, the best first."""

    def above(self, least: int, most: int) -> list[Counts] | None:
        """Every pattern worth at least `least`; None where they are more than `most`."""


@dataclass(frozen=True)
class Plain:
    """A plain stick: a capacity of a knapsack table that several sticks share."""

    table: knapsack.Table
    capacity: int

    def best(self) -> int:
        return self.table.best(self.capacity)

    def patterns(self, above: float, many: int) -> list[Counts]:
        return self.table.patterns(self.capacity, above, many)

    def above(self, least: int, most: int) -> list[Counts] | None:
        return knapsack.above(self.table, self.capacity, least, most)


@dataclass(frozen=True)
class Use:
    """A stick type filled up to `capacity`, where each unit filled costs `slope`.

    Patterns worth less than `floor` do not interest (None: all do).
    """

    stick: int
    capacity: int
    slope: int = 0
    floor: int | None = None


def price(instance: Instance, uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
          every: bool = False) -> list[Priced]:
    """For each use its patterns, with each size at most as often as its bound.

    Sizes without a value are left out unless `every`.
    """
    if instance.spaced and instance.holes is not None:
        ways = [(instance.sticks[use.stick].ends, use.capacity, use.slope) for use in uses]
        return list(chains(instance.holes, ways, bounds, values, every))
    tables = {}
    for slope in {use.slope for use in uses}:
        alike = [use for use in uses if use.slope == slope]
        worth = [value - slope * size for value, size in zip(values, instance.sizes, strict=True)]
        floors = [(use.capacity, use.floor) for use in alike if use.floor is not None]
        tables[slope] = knapsack.solve(instance.sizes, bounds, worth, max(use.capacity for use in alike),
                                       floors=floors if len(floors) == len(alike) else [], every=every,
                                       large=instance.large)
    return [Plain(tables[use.slope], use.capacity) for use in uses]
