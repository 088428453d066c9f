"""The best patterns of pieces with angled ends, for given worths: knapsacks that may count too little lost.

The patterns that come of them are looked at one by one.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import islice
from operator import itemgetter

from cutplan.cutting.arrangement.angles.levels import Level, Levels
from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.patterns import Counts
from cutplan.cutting.pricing import knapsack
from cutplan.cutting.pricing.rough import Rough, rough

TRIED = 4  # patterns of the knapsacks for each that must fit: some do not
LISTED = 200  # patterns that may be worth more than the best known, before the knapsack's word is taken


@dataclass(frozen=True)
class LevelTable:
    """A knapsack of one level, for one stick: `room` is its capacity less what the level loses, `offset` what that is
    worth. The worth of a pattern is at most its worth in the table and the offset."""

    table: knapsack.PatternTable
    room: int
    offset: int

    def most(self) -> int:
        return self.table.best(self.room) + self.offset

    def patterns(self, above: float, many: int) -> list[Counts]:
        return self.table.patterns(self.room, above - self.offset, many)

    def above(self, least: int, most: int) -> list[Counts] | None:
        return knapsack.above(self.table, self.room, least - self.offset, most)


@dataclass
class Nested:
    """The patterns of one way of using a stick; `worth` is a pattern's own, None where it does not fit.

    Not `exactly`: the best value is the knapsacks' word, as it is in the proof of a plan then.
    """

    tables: Sequence[LevelTable]
    floor: int | None
    exactly: bool
    worth: Callable[[Counts], int | None]
    _best: tuple[int, Counts] | None = field(default=None, repr=False)

    def best(self) -> int:
        """The best value of any pattern; what the knapsacks say where too many would have to be looked at."""
        return self._found()[0]

    def may_beat(self, value: float) -> bool:
        return max((table.most() for table in self.tables), default=0) > value

    def _found(self) -> tuple[int, Counts]:
        """The best value, and the best pattern that was looked at."""
        if self._best is None:
            value, pattern = max(self._fitting(0, TRIED), default=(0, ()))
            enough = max(value, 0 if self.floor is None else self.floor)
            most = max((table.most() for table in self.tables), default=0)
            self._best = (value, pattern) if most <= enough else (
                self._listed(value, pattern, most) if self.exactly else (most, pattern))
            self._best = max(self._best[0], min(most, enough)), self._best[1]
        return self._best

    def _listed(self, value: int, pattern: Counts, most: int) -> tuple[int, Counts]:
        for table in self.tables:
            found = table.above(value + 1, LISTED) if table.most() > value else []
            if found is None:
                return most, pattern
            value, pattern = max([(value, pattern), *self._worths(found)])
        return value, pattern

    def _fitting(self, above: float, many: int) -> Iterator[tuple[int, Counts]]:
        for table in self.tables:
            yield from self._worths(table.patterns(above, many))

    def _worths(self, found: Sequence[Counts]) -> Iterator[tuple[int, Counts]]:
        for counts in found:
            if counts and (worth := self.worth(counts)) is not None:
                yield worth, counts

    def patterns(self, above: float, many: int) -> list[Counts]:
        """Up to `many` patterns worth more than `above`, the best first."""
        found = {counts: worth for worth, counts in self._fitting(above, many) if worth > above}
        if not found and (best := self._found()[1]) and (self.worth(best) or 0) > above:
            return [best]
        return sorted(found, key=lambda counts: (-found[counts], counts))[:many]

    def above(self, least: int, most: int) -> list[Counts] | None:
        """Every pattern worth at least `least`; None where they, or those to be looked at, are too many."""
        found: dict[Counts, None] = {}
        for table in self.tables:
            listed = table.above(least, TRIED * most)
            if listed is None:
                return None
            found.update((counts, None) for counts in listed if (worth := self.worth(counts)) is None or worth >= least)
            found = {counts: None for counts in found if self.worth(counts) is not None}
            if len(found) > most:
                return None
        return list(found)


@dataclass(frozen=True)
class RoughTable:
    """As LevelTable, in coarse steps."""

    table: Rough
    room: int
    offset: int

    def falling(self, above: float) -> Iterator[tuple[int, Counts]]:
        return ((worth + self.offset, counts) for worth, counts in self.table.falling(self.room, above - self.offset))


@dataclass
class Likely:
    """Patterns of one way of using a stick that were quickly found; there may be better ones."""

    tables: Sequence[RoughTable]
    worth: Callable[[Counts], int | None]

    def best(self) -> int:
        """What the best pattern found is worth: no bound."""
        return self._best[0]

    @cached_property
    def _best(self) -> tuple[int, list[Counts]]:
        found = self._found(0, 1)
        return next(iter(found.values()), 0), list(found)

    def may_beat(self, value: float) -> bool:
        return True

    def patterns(self, above: float, many: int) -> list[Counts]:
        if many == 1 and not above:
            return self._best[1]
        found = self._found(above, many)
        return sorted(found, key=lambda counts: (-found[counts], counts))

    def _found(self, above: float, many: int) -> dict[Counts, int]:
        """The first that fit, of all tables, by what they seem to be worth."""
        found: dict[Counts, int] = {}
        hopeful = heapq.merge(*(table.falling(above) for table in self.tables), key=itemgetter(0), reverse=True)
        for _, counts in islice(hopeful, TRIED * many * len(self.tables)):
            if counts not in found and (worth := self.worth(counts)) is not None and worth > above:
                found[counts] = worth
                if len(found) == many:
                    break
        return found

    def above(self, least: int, most: int) -> None:
        """All are not known."""


@dataclass(frozen=True)
class Knapsacks:
    """The tables of all levels; `nets` and `shapes` are each size's middle length and shape."""

    nets: Sequence[int]
    shapes: Sequence[int]
    lost: Levels
    params: knapsack.TableParams

    def of(self, uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int], every: bool,
           large: set[int]) -> list[list[LevelTable]]:
        """For each use its tables."""
        sizes = [net + self.lost.each[shape] for net, shape in zip(self.nets, self.shapes, strict=True)]
        found: list[list[LevelTable]] = [[] for _ in uses]
        for slope in {use.slope for use in uses}:
            worths = [value - slope * size for value, size in zip(values, sizes, strict=True)]
            wanted = [bound if every or value > 0 else 0 for bound, value in zip(bounds, values, strict=True)]
            # a piece may be worth less than it takes among its like, and more beside others: no listing leaves it out
            whole = every or any(bound and worth <= 0 for bound, worth in zip(wanted, worths, strict=True))
            for level in self.lost.levels:
                alike = [(u, use) for u, use in enumerate(uses) if use.slope == slope and use.capacity >= level.lost]
                if alike:
                    table = self._table(level, sizes, [use for _, use in alike], wanted, worths, whole, large)
                    for u, use in alike:
                        found[u].append(LevelTable(table, use.capacity - level.lost, -slope * level.lost))
        return found

    def roughly(self, uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int], step: int
                ) -> list[list[RoughTable]]:
        """For each use its tables in such steps."""
        sizes = [net + self.lost.each[shape] for net, shape in zip(self.nets, self.shapes, strict=True)]
        found: list[list[RoughTable]] = [[] for _ in uses]
        for slope in {use.slope for use in uses}:
            worths = [value - slope * size for value, size in zip(values, sizes, strict=True)]
            for level in self.lost.levels:
                own = [bound if shape in level.shapes else 0 for bound, shape in zip(bounds, self.shapes, strict=True)]
                alike = [(u, use.capacity - level.lost) for u, use in enumerate(uses)
                         if use.slope == slope and use.capacity >= level.lost]
                if alike:
                    table = rough(sizes, own, worths, max(room for _, room in alike), step)
                    for u, room in alike:
                        found[u].append(RoughTable(table, room, -slope * level.lost))
        return found

    def _table(self, level: Level, sizes: Sequence[int], uses: Sequence[Use], bounds: Sequence[int],
               worths: Sequence[int], every: bool, large: set[int]) -> knapsack.PatternTable:
        own = [bound if shape in level.shapes else 0 for bound, shape in zip(bounds, self.shapes, strict=True)]
        floors = [(use.capacity - level.lost, use.floor + use.slope * level.lost)
                  for use in uses if use.floor is not None]
        return knapsack.solve(sizes, own, worths, max(use.capacity for use in uses) - level.lost,
                              floors=floors if len(floors) == len(uses) else [], every=every, large=large,
                              params=replace(self.params, work=0))  # without the last row: slower in one week tried
