"""Bounds that hold exactly, from any duals (Held, Cook and Sewell 2012; Farley 1990)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.cutting.arrangement.protocol import Priced, Use
from cutplan.cutting.patterns import Counts, Pattern
from cutplan.cutting.problem.objective import Objective, Way

Box = tuple[tuple[int, int], ...]  # the least and the most sticks of each type, then of each way that keeps an offcut


@dataclass(frozen=True)
class Duals:
    """Integer duals, scaled by K = `scale`: one for each size, and one for the cap on cost."""

    sizes: tuple[int, ...]
    cap: int
    scale: int


@dataclass(frozen=True)
class Bound:
    """The lower bound numerator / duals.scale. `most` is no less than what a pattern had each way can be worth."""

    duals: Duals
    numerator: int
    most: tuple[int, ...] = ()

    @property
    def ceiling(self) -> int:
        return -(-self.numerator // self.duals.scale)


def value(objective: Objective, way: Way, counts: Counts, duals: Duals) -> int:
    """A pattern's worth when cut this way: sum_i pi_i a_i - K slope f."""
    worth = sum(a * duals.sizes[i] for i, a in counts)
    if way.slope:
        worth -= duals.scale * way.slope * objective.instance.fill(Pattern(way.stick, counts))
    return worth


def charge(objective: Objective, way: Way, duals: Duals) -> int:
    """What a pattern cut this way must be worth to pay for its stick: K base + mu c_s."""
    return duals.scale * way.base + duals.cap * objective.instance.sticks[way.stick].cost


def mix(best: Duals, latest: Duals, quarters: int) -> Duals:
    """So many quarters of the best duals, the rest the latest: steadier than the LP's own (Wentges, 1997)."""
    def mean(a: int, b: int) -> int:
        return (quarters * a + (4 - quarters) * b) // 4

    return Duals(tuple(map(mean, best.sizes, latest.sizes)), mean(best.cap, latest.cap), latest.scale)


def by_length(objective: Objective, scale: int) -> Duals:
    """Duals to begin with: each size is worth its share of the stick that is cheapest by length."""
    ways = [way for way in objective.ways if objective.instance.sticks[way.stick].available is None] or objective.ways
    best = min(ways, key=lambda way: Fraction(way.base, way.capacity) + way.slope)
    worth = Fraction(best.base, best.capacity) + best.slope
    return Duals(tuple(int(scale * worth * w) for w in objective.instance.sizes), 0, scale)


def tables(objective: Objective, duals: Duals, demands: Sequence[int], box: Box, *, every: bool = False,
           less: int = 0, quick: bool = False) -> list[Priced]:
    """For each way the exact worth of its patterns.

    Patterns that fall short of what their stick must be worth by more than `less` may be left out, unless the box
    asks for a least number of sticks. `quick`: the best may be overlooked, and no bound may rest on it.
    """
    all_count = any(low for low, _ in box)
    uses = [Use(way.stick, way.capacity, duals.scale * way.slope,
                None if all_count else charge(objective, way, duals) - less) for way in objective.ways]
    instance = objective.instance.quick if quick else objective.instance
    return instance.price(uses, demands, duals.sizes, every)


def excesses(objective: Objective, duals: Duals, found: Sequence[Priced]) -> list[int]:
    """P for each way: the most by which a pattern had that way is worth more than it costs."""
    return [most_worth(objective, way, duals, patterns) - charge(objective, way, duals)
            for way, patterns in zip(objective.ways, found, strict=True)]


def most_worth(objective: Objective, way: Way, duals: Duals, patterns: Priced) -> int:
    """The most that a pattern had this way is worth, or more. A stick that is drawn carries a piece: where every piece
    is worth less than it fills, the best of them alone."""
    if not way.slope:
        return patterns.best()
    alone = max(pi - duals.scale * way.slope * size
                for size, pi in zip(objective.instance.sizes, duals.sizes, strict=True) if size <= way.capacity)
    return patterns.best() if alone > 0 else min(alone, patterns.best())


def most_excess(objective: Objective, excess: Sequence[int], box: Box, s: int, using: int | None = None) -> int | None:
    """The most that sticks of type s within the box can be worth more than they cost; None where there is no number.

    With `using`, at least one of them is had that way.
    """
    ways = objective.by_stick[s]
    if not ways:
        return 0
    low, high = box[s]
    flat = ways[0]
    least_flat = int(using == flat)
    if len(ways) == 1:
        low = max(low, least_flat)
        return max(low * excess[flat], high * excess[flat]) if low <= high else None
    keeping = ways[1]
    first, last = box[objective.rows[keeping][-1]]
    first, last = max(first, int(using == keeping)), min(last, high - least_flat)
    if first > last or low > high:
        return None
    totals = []
    for kept in {first, last, min(max(low - least_flat, first), last)}:  # linear between these
        flats = high - kept if excess[flat] > 0 else max(least_flat, low - kept)
        totals.append(flats * excess[flat] + kept * excess[keeping])
    return max(totals)


def safe_bound(objective: Objective, duals: Duals, found: Sequence[Priced], box: Box) -> Bound:
    """The exact bound of these duals, for plans within the box (which is not empty)."""
    instance = objective.instance
    excess = excesses(objective, duals, found)
    numerator = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
    numerator -= duals.cap * (objective.cap or 0)
    numerator -= sum(most_excess(objective, excess, box, s) or 0 for s in range(len(instance.sticks)))
    most = (beyond + charge(objective, way, duals) for beyond, way in zip(excess, objective.ways, strict=True))
    return Bound(duals, numerator, tuple(most))


def mean(found: Sequence[Duals]) -> Duals:
    def average(values: Iterable[int]) -> int:
        return sum(values) // len(found)

    return Duals(tuple(map(average, zip(*(duals.sizes for duals in found), strict=True))),
                 average(duals.cap for duals in found), found[0].scale)
