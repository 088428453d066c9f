"""What a pattern loses at least, as a sum over its pieces and one amount for the shapes that are there.

The knapsacks of pricing need sizes that add up. With e_c for a piece of shape c, and b_S for the set S of the shapes of
a pattern, what n_c pieces of each lose is at least sum(n_c e_c) + b_S: b_S is the least of what is over, among all the
numbers of pieces that any stick has room for. Mostly that is just what they lose; where it is not, the patterns found
are looked at one by one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from cutplan.cutting.arrangement.angles.nesting import Nesting, ShapeCounts


@dataclass(frozen=True)
class LevelParams:
    """Bounds on what is lost.

    counts: numbers of pieces of each shape that are looked at; beyond so many a plain bound is taken (`uncounted`)
    levels: sets of shapes that have a knapsack of their own
    near: two sets share one where what they lose differs by no more than the longest stick over so many
    """

    counts: int = 4_000
    levels: int = 8
    near: int = 4_000


@dataclass(frozen=True)
class Level:
    """Some shapes, and what is lost at least where no others are, beside what each piece loses."""

    shapes: frozenset[int]
    lost: int


@dataclass(frozen=True)
class Levels:
    """What each piece of a shape loses, and the levels: every set of shapes is within one that loses no more.

    `counted`: all numbers of pieces of each were looked at; else only the steepest end is.
    """

    each: tuple[int, ...]
    levels: tuple[Level, ...]
    counted: bool = True


def levels(nesting: Nesting, kerf: int, smallest: Sequence[int], room: int,
           params: LevelParams = LevelParams()) -> Levels:
    """For sticks of at most `room`; `smallest` is the least middle length and kerf of each shape.

    What is lost counts up to the last piece's end and a kerf, as a stick's capacity does.
    """
    there = list(counted(smallest, room, params.counts))
    if len(there) > params.counts:
        return uncounted(nesting, kerf, there, room, params)
    lost = {counts: nesting.lost(counts).end + kerf for counts in there}
    found = [(each, by_shapes(lost, each)) for each in (at_both_ends(nesting), alone(nesting))]
    each, least = max(found, key=lambda entry: sum(
        dot(entry[0], counts) + entry[1][shapes_of(counts)] for counts in there))
    every = [Level(shapes, b) for shapes, b in least.items()]
    return Levels(each, tuple(merged(every, params.levels, room // params.near)))


def counted(smallest: Sequence[int], room: int, most: int) -> Iterator[ShapeCounts]:
    """All numbers of pieces that might share a stick, and none; one more than `most` at most."""
    open_: list[ShapeCounts] = [()]
    for size in smallest:
        open_ = [(*counts, n) for counts in open_
                 for n in range((room - dot(smallest[:len(counts)], counts)) // size + 1)]
        if len(open_) > most + 1:
            open_ = open_[:most + 2]
    return (counts for counts in open_ if any(counts))


def at_both_ends(nesting: Nesting) -> tuple[int, ...]:
    """Half the kerf at each of its ends: where every end has its like beside it, pieces lose no more."""
    return tuple((nesting.kerfs[abs(ways[0].left)] + nesting.kerfs[abs(ways[0].right)]) // 2
                 for ways in nesting.shapes)


def alone(nesting: Nesting) -> tuple[int, ...]:
    """What each loses among its like."""
    def end(shape: int, n: int) -> int:
        return nesting.lost(tuple(n * (shape == c) for c in range(len(nesting.shapes)))).end

    return tuple((end(c, 4) - end(c, 2)) // 2 for c in range(len(nesting.shapes)))


def uncounted(nesting: Nesting, kerf: int, some: Sequence[ShapeCounts], room: int, params: LevelParams) -> Levels:
    """Levels that rest on no count: by the steepest end or by heights of slopes, which bounds more of `some` numbers of
    pieces."""
    steepest = merged(list(by_steepest(nesting, kerf)), params.levels, room // params.near)
    found = [Levels(at_both_ends(nesting), tuple(steepest), False), *by_heights(nesting, kerf)]
    return max(found, key=lambda one: sum(
        dot(one.each, counts) + min(level.lost for level in one.levels if shapes_of(counts) <= level.shapes)
        for counts in some))


def by_heights(nesting: Nesting, kerf: int) -> Iterator[Levels]:
    """By what pieces lose that lead the cut lines away from where they were, each time: see README.md, "A plain bound".

    A height Y of each slope, so that no gap costs less than it climbs; a piece loses what it descends as it lies best.
    """
    kerfs, ways = nesting.kerfs, nesting.shapes
    slopes = sorted({slope for poses in ways for way in poses for slope in (way.left, way.right)} | {0})
    ends = {s: abs(s) - kerfs[abs(s)] + kerf for s in slopes}  # twice what a first or last end costs beside its share
    for up, down in product((-1, 0, 1), repeat=2):
        for part in (1, -1) if up or down else ():
            height = {s: (up if s > 0 else down) * max(0, abs(s) + part * (kerfs[abs(s)] - kerf)) for s in slopes}
            if all(abs(height[s] - height[t]) <= abs(s - t) + abs(kerfs[abs(s)] - kerfs[abs(t)])
                   for s in slopes for t in slopes):
                each = tuple((kerfs[abs(poses[0].left)] + kerfs[abs(poses[0].right)]
                              + min(height[way.left] - height[way.right] for way in poses)) // 2 for poses in ways)
                lost = min(ends[s] - height[s] for s in slopes) + min(ends[s] + height[s] for s in slopes)
                yield Levels(each, (Level(frozenset(range(len(ways))), lost // 2),), False)


def by_steepest(nesting: Nesting, kerf: int) -> Iterator[Level]:
    """What is lost at least by the steepest slope there, without counting: see README.md, "A plain bound".

    For the shapes whose two ends are equally steep, and for all, where others bridge slopes at no cost.
    """
    ends = [(abs(ways[0].left), abs(ways[0].right)) for ways in nesting.shapes]
    for steepest in sorted({max(pair) for pair in ends}):
        there = [c for c, pair in enumerate(ends) if max(pair) <= steepest]
        like = [c for c in there if ends[c][0] == ends[c][1]]
        for shapes in dict.fromkeys([tuple(like), tuple(there)]):
            if any(max(ends[c]) == steepest for c in shapes):
                slopes = sorted({slope for c in shapes for slope in ends[c]})
                travel, least = 0, []
                for slope, above in zip(slopes[::-1], [None, *slopes[:0:-1]], strict=True):
                    if above is not None and not any(min(ends[c]) <= slope < above <= max(ends[c]) for c in shapes):
                        travel += above - slope + nesting.kerfs[above] - nesting.kerfs[slope]
                    least.append(travel + slope - nesting.kerfs[slope] + kerf)
                yield Level(frozenset(shapes), min(least))


def by_shapes(lost: dict[ShapeCounts, int], each: Sequence[int]) -> dict[frozenset[int], int]:
    least: dict[frozenset[int], int] = {}
    for counts, amount in lost.items():
        shapes, over = shapes_of(counts), amount - dot(each, counts)
        least[shapes] = min(over, least.get(shapes, over))
    return least


def merged(found: list[Level], most: int, near: int) -> list[Level]:
    """As few levels as may be: one whose shapes are all in another that loses no more is in that one already, and one
    that loses hardly less shares the other's knapsack."""
    while True:
        found = [level for level in found if not any(
            level.shapes < other.shapes and other.lost <= level.lost for other in found)]
        alike = next(((k, j) for k, level in enumerate(found) for j, other in enumerate(found)
                      if level.shapes < other.shapes and other.lost - level.lost <= near), None)
        if alike:
            less, more = (found[k] for k in alike)
            found = [level for level in found if level not in (less, more)] + [Level(more.shapes, less.lost)]
            continue
        if len(found) <= most:
            return sorted(found, key=lambda level: (level.lost, sorted(level.shapes)))
        found.sort(key=lambda level: (level.lost, sorted(level.shapes)))
        k = min(range(len(found) - 1), key=lambda k: found[k + 1].lost - found[k].lost)
        one, other = found[k], found[k + 1]
        found[k:k + 2] = [Level(one.shapes | other.shapes, min(one.lost, other.lost))]


def shapes_of(counts: ShapeCounts) -> frozenset[int]:
    return frozenset(c for c, n in enumerate(counts) if n)


def dot(each: Sequence[int], counts: Sequence[int]) -> int:
    return sum(e * n for e, n in zip(each, counts, strict=False))
