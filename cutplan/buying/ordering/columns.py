"""How one stick is cut over the weeks, and which ways are worth most.

A column is a stick's pieces, week by week. A stick that serves more than one week lies on the rack in between: what is
left before its last week must be long enough to be kept. So a way of cutting it is a knapsack in two parts: the weeks
before the last fill at most what leaves an offcut that is kept, and the last fills up to the whole,

    F_t(f) = most that pieces of the weeks before t, filling at most f <= keep, are worth
    G_t(f) = most that these and pieces of week t, filling at most f <= capacity, are worth;  the best is max over t.

Both are tables of whole numbers, so that what a stick can be worth at most is exact. Where pieces lie beside each other
in other ways than end to end, columns serve one week each, and what one can be worth over all of them is bounded as
if the weeks were one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np

from cutplan.buying.ordering.task import ProfileTask
from cutplan.cutting import Counts, Pattern, Priced, Use
from cutplan.sums import Ints

BEGINNINGS = 10  # at the beginnings of columns, for each that may be listed
DENSE = 20_000  # positions of a table; on finer ones sizes are rounded down, which values too much and never too little

Values = Sequence[Sequence[int]]  # for each week what a piece of each size is worth
WeekCounts = tuple[tuple[int, int, int], ...]  # (week, size, how many), in order


@dataclass(frozen=True, order=True)
class Column:
    """`sticks` of a kind, ready from week `ready` on, and the pieces that they give together."""

    stick: int
    ready: int
    counts: WeekCounts
    sticks: int = 1


class Columns:
    """The columns of one task, or of what is still to be cut of its `demands`."""

    def __init__(self, task: ProfileTask, demands: Sequence[Sequence[int]] | None = None) -> None:
        self.task, self.demands = task, task.demands if demands is None else demands
        self.instance = task.instance
        self.weeks = [t for t, week in enumerate(self.demands) if any(week)]
        self.carries = task.carries and self.instance.arrangement.additive and self.instance.blanks is None

    def classes(self) -> Iterator[tuple[int, int]]:
        """Kinds of stick with each week that some are ready from."""
        for s in self.task.sticks:
            for ready in self.task.ready[s]:
                yield s, ready

    def fits(self, column: Column) -> bool:
        by_week: dict[int, list[tuple[int, int]]] = {}
        for t, i, a in column.counts:
            by_week.setdefault(t, []).append((i, a))
        if len(by_week) <= 1:
            return all(self.instance.fits(Pattern(column.stick, tuple(counts))) for counts in by_week.values())
        keep = self.instance.sticks[column.stick].keep_fill
        fills = [sum(a * self.instance.sizes[i] for i, a in by_week[t]) for t in sorted(by_week)]
        return (self.carries and keep is not None and sum(fills[:-1]) <= keep
                and sum(fills) <= self.again(column.stick))

    def again(self, s: int) -> int:
        """What a stick holds in all that is cut in more than one week: its offcut may lie the other way round, where
        that loses less (see `Profile.sawn_last`)."""
        stick, profile = self.instance.sticks[s], self.task.profile
        saved = max(Fraction(0), profile.tail_trim - profile.head_trim) if profile.head_trim else Fraction(0)
        return stick.capacity + int(saved / self.instance.unit)

    # ---- what is worth most ----

    def best(self, values: Values) -> dict[tuple[int, int], int]:
        """For each kind and week it is ready from, the most that a stick can be worth, or more."""
        if self.instance.blanks is not None:
            return {(s, ready): max((values[t][i] for t in self.weeks if t >= ready
                                     for i in range(len(self.instance.sizes)) if values[t][i] and self.gives(s, i)),
                                    default=0) for s, ready in self.classes()}
        found = self.priced(values)
        best = {(s, ready): max((found[t][s].best() for t in self.weeks if t >= ready), default=0)
                for s, ready in self.classes()}
        if self.carries:
            for s, ready in self.classes():
                if (carried := self.carried(s, ready, values)) is not None:
                    best[s, ready] = max(best[s, ready], carried.best())
        elif self.task.carries:
            best = {key: max(most, self.as_one(values)[key]) for key, most in best.items()}
        return best

    def worth(self, values: Values, above: dict[tuple[int, int], float], many: int) -> Iterator[Column]:
        """Columns worth more than asked for of their kind and week, up to `many` of each week."""
        if self.instance.blanks is not None:
            return
        found = self.priced(values)
        for s, ready in self.classes():
            least = above[s, ready]
            for t in self.weeks:
                if t >= ready:
                    for counts in found[t][s].patterns(least, many):
                        yield self.column(s, tuple((t, i, a) for i, a in counts))
            if self.carries and (carried := self.carried(s, ready, values)) is not None:
                for own in carried.patterns(least):
                    column = self.column(s, own)
                    if self.fits(column):
                        yield column

    def priced(self, values: Values) -> dict[int, dict[int, Priced]]:
        """For each week the patterns of each kind of stick."""
        uses = [Use(s, self.instance.sticks[s].capacity) for s in self.task.sticks]
        return {t: dict(zip(self.task.sticks, self.instance.price(uses, self.demands[t], values[t]), strict=True))
                for t in self.weeks}

    def as_one(self, values: Values) -> dict[tuple[int, int], int]:
        """As if all weeks were one, each size worth what it is in its best week."""
        most = [max(values[t][i] for t in self.weeks) for i in range(len(self.instance.sizes))]
        uses = [Use(s, self.instance.sticks[s].capacity) for s in self.task.sticks]
        found = self.instance.price(uses, [sum(week) for week in zip(*self.demands, strict=True)], most)
        best = {s: patterns.best() for s, patterns in zip(self.task.sticks, found, strict=True)}
        return {(s, ready): best[s] for s, ready in self.classes()}

    def carried(self, s: int, ready: int, values: Values) -> Carried | None:
        """The tables of a stick that serves several weeks; None where it cannot."""
        keep = self.instance.sticks[s].keep_fill
        weeks = [t for t in self.weeks if t >= ready and any(values[t])]
        if keep is None or keep <= 0 or len(weeks) < 2:
            return None
        capacity = self.again(s)
        step = -(-capacity // DENSE)
        return Carried(
            [[(i, size // step, values[t][i], min(self.demands[t][i], capacity // size))
              for i, size in enumerate(self.instance.sizes) if values[t][i] and self.demands[t][i]]
             for t in weeks], weeks, keep // step, capacity // step)

    def gives(self, s: int, i: int) -> bool:
        return self.instance.gives(s, i)

    def column(self, s: int, counts: WeekCounts) -> Column:
        """With the last week from which sticks of the kind are ready that still serve all of it."""
        first = min(t for t, _, _ in counts)
        return Column(s, max(ready for ready in self.task.ready[s] if ready <= first), counts)

    # ---- all of them ----

    @cached_property
    def of_blanks(self) -> tuple[Column, ...]:
        """Turned blanks: a set of pieces that belong together, from as many sticks of one kind."""
        return tuple(Column(s, ready, ((t, i, each),), each) for s, ready in self.classes() for t in self.weeks
                     if t >= ready and not any(ready < later <= t for later in self.task.ready[s])
                     for i, each in enumerate(self.task.sets)
                     if self.demands[t][i] and self.gives(s, i))

    def every(self, most: int) -> list[Column] | None:
        """All columns to which no piece can be added; None where they are more than `most`, or cannot all be named."""
        if self.instance.blanks is not None:
            lengths = [self.instance.sticks[s].length for s in self.task.sticks]
            mixed = any(each > 1 for each in self.task.sets) and len(set(lengths)) < len(lengths)
            return None if mixed or len(self.of_blanks) > most else list(self.of_blanks)
        if not self.instance.arrangement.additive:
            return None if self.task.carries else self.by_week(most)
        found: dict[Column, None] = {}
        for s, ready in self.classes():
            full = Full(self, s, ready, most)
            if not full.look():
                return None
            found.update(dict.fromkeys(self.column(s, counts) for counts in full.found))
        return list(found) if len(found) <= most else None

    def by_week(self, most: int) -> list[Column] | None:
        """All columns that serve one week each, as the arrangement lists them."""
        found: list[Column] = []
        uses = [Use(s, self.instance.sticks[s].capacity) for s in self.task.sticks]
        for t in self.weeks:
            priced = self.instance.price(uses, self.demands[t], [1] * len(self.instance.sizes), every=True)
            for s, patterns in zip(self.task.sticks, priced, strict=True):
                if not any(ready <= t for ready in self.task.ready[s]):
                    continue
                own = patterns.above(1, most - len(found))
                if own is None or len(found) + len(own) > most:
                    return None
                found += [self.column(s, tuple((t, i, a) for i, a in counts)) for counts in own if counts]
        return found


class Full:
    """All columns of one kind of stick, ready from one week on, to which no piece can be added; up to `most`."""

    def __init__(self, columns: Columns, s: int, ready: int, most: int) -> None:
        instance = columns.instance
        self.items = [(t, i, instance.sizes[i], min(columns.demands[t][i], columns.again(s) // instance.sizes[i]))
                      for t in columns.weeks if t >= ready for i in range(len(instance.sizes)) if columns.demands[t][i]]
        self.alone, self.again = instance.sticks[s].capacity, columns.again(s)
        keep = instance.sticks[s].keep_fill
        self.keep = keep if columns.carries and keep is not None else -1
        self.most, self.looks = most, BEGINNINGS * most
        self.found: list[WeekCounts] = []

    def look(self) -> bool:
        """Whether all could be found."""
        return self.extend(0, [], 0, 0, -1)

    def extend(self, k: int, taken: list[tuple[int, int, int]], before: int, own: int, week: int) -> bool:
        """Adds all that begin with `taken`, of which the last `week` fills `own`; False where it takes too long."""
        self.looks -= 1
        if self.looks < 0 or len(self.found) > self.most:
            return False
        if k == len(self.items):
            if taken and not self.more(taken, before, own, week):
                self.found.append(tuple(taken))
            return True
        t, i, size, most = self.items[k]
        if not self.extend(k + 1, taken, before, own, week):
            return False
        if t != week:
            before, own = before + own, 0
        if before > self.keep and before:
            return True
        for a in range(1, most + 1):
            own += size
            if own > (self.again - before if before else self.alone):
                break
            if not self.extend(k + 1, [*taken, (t, i, a)], before, own, t):
                return False
        return True

    def more(self, taken: Sequence[tuple[int, int, int]], before: int, own: int, last: int) -> bool:
        """Whether one more piece of any week can come from the stick too."""
        counts = {(t, i): a for t, i, a in taken}
        for t, i, size, most in self.items:
            earlier = before + (0 if t == last else size if t < last else own)
            fits = earlier <= self.keep and before + own + size <= self.again if earlier else own + size <= self.alone
            if fits and counts.get((t, i), 0) < most:
                return True
        return False


PieceItem = tuple[int, int, int, int]  # size, what it fills, what it is worth, how many at most


class Carried:
    """The tables F and G (see above) of one kind of stick; `items` for each of the `weeks`."""

    def __init__(self, items: Sequence[Sequence[PieceItem]], weeks: Sequence[int], keep: int, capacity: int) -> None:
        self.items, self.weeks, self.keep, self.capacity = items, weeks, keep, capacity
        before = np.zeros(keep + 1, dtype=np.int64)
        self.parts: list[tuple[int, Ints]] = []  # the last week, and G
        self.begun: list[Ints] = [before]  # F for each week
        for k, own in enumerate(items):
            if k:
                whole = np.concatenate([before[:capacity + 1], np.full(max(0, capacity - keep), before[-1])])
                self.parts.append((k, filled(whole, own)))
            before = filled(before, own)
            self.begun.append(before)

    def best(self) -> int:
        return max(int(table[-1]) for _, table in self.parts)

    def patterns(self, above: float) -> Iterator[WeekCounts]:
        """The best for each last week, where it is worth more."""
        for k, table in self.parts:
            if table[-1] > above:
                whole = np.concatenate([self.begun[k][:self.capacity + 1],
                                        np.full(max(0, self.capacity - self.keep), self.begun[k][-1])])
                counts, left = traced(whole, self.items[k], self.capacity)
                found = [(self.weeks[k], i, a) for i, a in counts]
                left = min(left, self.keep)
                for j in range(k - 1, -1, -1):
                    counts, left = traced(self.begun[j], self.items[j], left)
                    found += [(self.weeks[j], i, a) for i, a in counts]
                if found:
                    yield tuple(sorted(found))


def filled(table: Ints, items: Sequence[PieceItem]) -> Ints:
    """The table once pieces of these items may come from the stick too."""
    for *_, layer in layers(table, items):
        table = layer
    return table


def layers(table: Ints, items: Sequence[PieceItem]) -> Iterator[tuple[int, int, Ints]]:
    """After each piece of each item: its size, what it fills, and the table."""
    for i, size, worth, most in items:
        for _ in range(min(most, (len(table) - 1) // size if size else most)):
            longer = table.copy()
            np.maximum(table[size:], table[:len(table) - size] + worth, out=longer[size:])
            table = longer
            yield i, size, table


def traced(table: Ints, items: Sequence[PieceItem], fill: int) -> tuple[Counts, int]:
    """The pieces of these items in a best pattern filling at most `fill`, and how much is left for those before."""
    steps = [(-1, 0, table), *layers(table, items)]
    counts: dict[int, int] = {}
    for k in range(len(steps) - 1, 0, -1):
        i, size, layer = steps[k]
        if layer[fill] != steps[k - 1][2][fill]:
            counts[i] = counts.get(i, 0) + 1
            fill -= size
    return tuple(sorted(counts.items())), fill
