"""What a tier minimises, as the pricer needs it: the ways of using a stick, each a knapsack of its own.

A pattern with counts a on stick s and fill f = sum(w_i a_i) costs g_s(f). Tier 1 has g_s = c_s. Tier 2 has
g_s(f) = length_s, or head_s + f where the offcut is kept: flat, or rising with the fill by 1 a unit.
A way (stick, capacity, base, slope) says that any pattern filling at most `capacity` may be had for
base + slope * f; the cheapest way a pattern fits is its cost.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance


@dataclass(frozen=True)
class Way:
    """One way of using a stick: fill up to `capacity`, cost base + slope * fill."""

    stick: int
    capacity: int
    base: int
    slope: int


@dataclass(frozen=True)
class Objective:
    """The ways of one tier; `cap` is the most that new stock may cost (None in tier 1), `cost_floor` what it costs at
    least in any plan, as tier 1 proved."""

    instance: Instance
    ways: tuple[Way, ...]
    cap: int | None = None
    cost_floor: int = 0

    def cost(self, pattern: Pattern) -> int:
        """What one stick cut by this pattern adds to the tier's value."""
        fill = self.instance.fill(pattern)
        return min(
            way.base + way.slope * fill
            for way in map(self.ways.__getitem__, self.by_stick[pattern.stick])
            if fill <= way.capacity
        )

    def way(self, pattern: Pattern) -> int:
        """The cheapest way (its index) to have a pattern."""
        fill = self.instance.fill(pattern)
        return min(
            (w for w in self.by_stick[pattern.stick] if fill <= self.ways[w].capacity),
            key=lambda w: self.ways[w].base + self.ways[w].slope * fill,
        )

    @property
    def floor(self) -> int:
        """What any plan is worth at least: nothing in tier 1, the pieces' own length in tier 2."""
        if self.cap is None:
            return 0
        return sum(net * d for net, d in zip(self.instance.nets, self.instance.demands, strict=True))

    @cached_property
    def kept(self) -> tuple[int, ...]:
        """The ways that keep an offcut."""
        return tuple(w for w, way in enumerate(self.ways) if way.slope)

    @cached_property
    def by_stick(self) -> tuple[tuple[int, ...], ...]:
        """For each stick type its ways; none where the cap does not allow it."""
        found: list[list[int]] = [[] for _ in self.instance.sticks]
        for w, way in enumerate(self.ways):
            found[way.stick].append(w)
        return tuple(map(tuple, found))

    @cached_property
    def rows(self) -> tuple[tuple[int, ...], ...]:
        """For each way the limits of a box that it counts towards: its type's, and its own where it keeps an offcut."""
        own = {w: len(self.instance.sticks) + k for k, w in enumerate(self.kept)}
        return tuple((way.stick, own[w]) if w in own else (way.stick,) for w, way in enumerate(self.ways))

    def box(self, ceiling: int) -> tuple[tuple[int, int], ...]:
        """The least and the most sticks of each type, then of each way that keeps an offcut.

        For plans worth at most `ceiling` and within the cap.
        """
        limit = ceiling if self.cap is None else self.cap
        sticks = [
            (0, min(self.instance.most(s), limit // stick.cost) if stick.cost else self.instance.most(s))
            for s, stick in enumerate(self.instance.sticks)
        ]
        return (*sticks, *(sticks[self.ways[w].stick] for w in self.kept))


def cheapest(instance: Instance) -> Objective:
    """Tier 1: the cost of new stock."""
    return Objective(
        instance, tuple(Way(s, stick.capacity, stick.cost, 0) for s, stick in enumerate(instance.sticks))
    )


def least_used(instance: Instance, cap: int, cost_floor: int = 0) -> Objective:
    """Tier 2: the length used up that does not come back, at a cost of at most `cap`, which is never below
    `cost_floor`."""
    ways, shortest = [], min(instance.sizes)
    for s, stick in enumerate(instance.sticks):
        if stick.cost > cap:
            continue
        ways.append(Way(s, stick.capacity, stick.length, 0))
        if stick.keep_fill is not None and stick.keep_fill >= shortest:  # a stick that is drawn carries a piece
            ways.append(Way(s, stick.keep_fill, stick.head, 1))
    return Objective(instance, tuple(ways), cap, cost_floor)
