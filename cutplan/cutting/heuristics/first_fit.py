"""Whole plans by first fit, and what a plan is worth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.cutting.patterns import Counts, Pattern, Solution
from cutplan.cutting.problem.instance import Instance, produced
from cutplan.cutting.problem.objective import Objective


def value(objective: Objective, plan: Solution) -> int:
    """The tier's value of a plan."""
    return sum(n * objective.cost(pattern) for pattern, n in plan.items())


def spent(instance: Instance, plan: Solution) -> int:
    """The cost of new stock of a plan, in coins."""
    return sum(n * instance.sticks[pattern.stick].cost for pattern, n in plan.items())


def first_fit_decreasing(instance: Instance, preference: Sequence[int]) -> Solution | None:
    """Longest piece first, each on the first open stick with room, else on a new one of the preferred type.

    Each stick is then exchanged for the cheapest type that still holds its pieces. None where the stock runs out.
    """
    plan = (size_by_size if instance.arrangement.additive else on_any_sticks)(instance, preference)
    return None if plan is None else downgrade(instance, plan)


def size_by_size(instance: Instance, preference: Sequence[int]) -> Solution | None:
    """First fit where pieces add up: those of a size go on the open sticks in turn, as many on each as it has room."""
    left = [instance.most(s) for s in range(len(instance.sticks))]
    opened: list[tuple[int, Counts]] = []
    room = np.empty(sum(instance.demands), dtype=np.int64)
    for i, (size, demand) in enumerate(zip(instance.sizes, instance.demands, strict=True)):
        some = np.flatnonzero(room[: len(opened)] >= size)
        before = np.concatenate([[0], np.cumsum(room[some] // size)])  # pieces placed before each of these sticks
        some = some[before[:-1] < demand]
        for k, n in zip(some.tolist(), np.diff(np.minimum(before[: len(some) + 1], demand)).tolist(), strict=True):
            s, counts = opened[k]
            opened[k] = s, (*counts, (i, n))
            room[k] -= n * size
        missing = demand - min(demand, int(before[len(some)]))
        while missing:
            s = next((s for s in preference if left[s] and instance.sticks[s].capacity >= size), -1)
            if s < 0:
                return None
            each = min(missing, instance.sticks[s].capacity // size)
            sticks = min(left[s], missing // each)
            left[s] -= sticks
            room[len(opened) : len(opened) + sticks] = instance.sticks[s].capacity - each * size
            opened += [(s, ((i, each),))] * sticks
            missing -= sticks * each
    return Counter({Pattern(s, counts): n for (s, counts), n in Counter(opened).items()})


def on_any_sticks(instance: Instance, preference: Sequence[int]) -> Solution | None:
    """First fit where what a piece takes depends on its neighbours.

    Sticks that carry the same are looked at once: of a size as many go on each as it has room for.
    """
    left = [instance.most(s) for s in range(len(instance.sticks))]
    opened: list[Alike] = []
    for i, demand in enumerate(instance.demands):
        after: list[Alike] = []
        for alike in opened:
            more = min(demand, room_for(instance, alike.pattern, i, demand))
            after += alike.given(i, more, demand)
            demand -= min(demand, more * alike.many)
        while demand:
            s, each = next(((s, each) for s in preference
                            if left[s] and (each := room_for(instance, Pattern(s, ()), i, demand))), (-1, 0))
            if not each:
                return None
            new = Alike(Pattern(s, ()), min(left[s], -(-demand // each)))
            left[s] -= new.many
            after += new.given(i, each, demand)
            demand -= min(demand, each * new.many)
        opened = after
    plan: Solution = Counter()
    for alike in opened:
        plan[alike.pattern] += alike.many
    return plan


@dataclass(frozen=True)
class Alike:
    """Open sticks that carry the same pieces."""

    pattern: Pattern
    many: int

    def given(self, i: int, each: int, demand: int) -> Iterator[Alike]:
        """The sticks once each has so many more pieces of size i, as long as there are any, in their order."""
        full, rest = divmod(demand, each) if each else (0, 0)
        full = min(self.many, full)
        last = int(rest > 0 and full < self.many)
        for many, more in ((full, each), (last, rest), (self.many - full - last, 0)):
            if many:
                added = (*self.pattern.counts, (i, more)) if more else self.pattern.counts
                yield Alike(Pattern(self.pattern.stick, added), many)


def room_for(instance: Instance, pattern: Pattern, i: int, most: int) -> int:
    """How many more pieces of size i, which comes after those of the pattern, fit with them, one after the other."""
    room = instance.sticks[pattern.stick].capacity - sum(a * instance.sizes[k] for k, a in pattern.counts)
    many = 0
    while many < min(most, room // instance.sizes[i]) and instance.fits(
            Pattern(pattern.stick, (*pattern.counts, (i, many + 1)))):
        many += 1
    return many


def downgrade(instance: Instance, plan: Solution) -> Solution:
    """Each stick exchanged for the cheapest type, of those left, that still holds its pieces."""
    left = [instance.most(s) for s in range(len(instance.sticks))]
    for pattern, n in plan.items():
        left[pattern.stick] -= n
    better: Solution = Counter()
    by_cost = sorted(range(len(instance.sticks)), key=lambda s: (instance.sticks[s].cost, instance.sticks[s].length))
    for pattern, n in sorted(plan.items(), key=lambda entry: -instance.sticks[entry[0].stick].cost):
        for s in by_cost:
            if instance.sticks[s].cost >= instance.sticks[pattern.stick].cost:
                break
            if left[s] and instance.fits(Pattern(s, pattern.counts)):
                moved = min(n, left[s])
                left[s] -= moved
                left[pattern.stick] += moved
                n -= moved
                if moved:
                    better[Pattern(s, pattern.counts)] += moved
        if n:
            better[pattern] += n
    return better


def trim(instance: Instance, plan: Solution) -> Solution:
    """Takes away what is cut too many, from the sticks that would gain the longest offcut."""
    surplus = [made - d for made, d in zip(produced(instance, plan), instance.demands, strict=True)]
    trimmed: Solution = Counter()
    for pattern, n in sorted(plan.items(), key=lambda entry: instance.fill(entry[0])):
        for _ in range(n):
            less = tuple((i, a - surplus[i]) for i, a in pattern.counts if a > surplus[i])
            for i, a in pattern.counts:
                surplus[i] -= min(a, surplus[i])
            if less:
                trimmed[Pattern(pattern.stick, less)] += 1
    return trimmed
