"""Versions of a job: which of its lines come, and what their openings, heights and numbers may turn out to be.

Where there are few, all of them are taken once each, with the chance of each: the product of all that it is made of, so
that shares of them are exact. Else they are drawn, each as likely as another, by a randomized Halton sequence (Owen,
arXiv 1706.02808 (2017), every digit permuted at random): it fills each range more evenly than chance. Any first part of
the versions is a fair sample, so that a bid that is stopped early still is.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, count, product

from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.choices import CERTAIN
from cutplan.orders import Order

FINE = 2**40  # a drawn number has at least so many steps

DrawnValues = tuple[int, ...]  # for each unknown, which of its values; 0 where that does not matter
WHICH, QTY, HEIGHT, OPENING = "which", "qty", "height", "opening"


@dataclass(frozen=True)
class Unknown:
    """One number that is not known yet: of which line, which, and how many values it may have.

    `weights`: how likely each of them is, in proportion; (): alike. "which" says the line of a block that comes, by its
    place in it, or one more: none.
    """

    line: int
    what: str  # "which", "qty", "height", "opening 1", ...
    values: int
    weights: tuple[int, ...] = ()


@dataclass(frozen=True)
class DrawnVersions:
    """The versions; `whole`: they are all there are, so that shares of them are exact.

    `weights`: how likely each of them is, in proportion; (): alike.
    """

    unknowns: tuple[Unknown, ...]
    choices: tuple[DrawnValues, ...]
    whole: bool
    weights: tuple[int, ...] = ()


def blocks(lines: Sequence[BidLine]) -> list[tuple[int, ...]]:
    """The lines of each group, of which at most one comes, and each other line by itself."""
    found: dict[object, list[int]] = {}
    for k, line in enumerate(lines):
        found.setdefault(line.group or k, []).append(k)
    return [tuple(own) for own in found.values()]


def chances_in(lines: Sequence[BidLine], block: Sequence[int]) -> list[Fraction]:
    """How likely each line of a block is; and last, where that is not nothing, none of them."""
    own = [lines[k].chance for k in block]
    none = CERTAIN - sum(own, Fraction(0))
    return [*own, none] if none else own


def unknowns(lines: Sequence[BidLine]) -> tuple[Unknown, ...]:
    """Everything that is open: what comes at all first, for that matters most. A line's height and number are drawn
    once; openings one by one unless `alike`."""
    found = []
    for block in blocks(lines):
        chances = chances_in(lines, block)
        found.append(Unknown(block[0], WHICH, len(chances), proportions(chances)))
    for k, line in enumerate(lines):
        found.append(Unknown(k, QTY, len(line.qty)))
        found.append(Unknown(k, HEIGHT, len(line.height)))
        found += [Unknown(k, f"{OPENING} {j}", len(line.opening)) for j in range(1, drawn_openings(line) + 1)]
    return tuple(one for one in found if one.values > 1)


def drawn_openings(line: BidLine, qty: int | None = None) -> int:
    """How many openings are drawn for so many gates or bays of a line (None: the most of it)."""
    return 1 if line.alike or len(line.opening) == 1 else line.qty[-1] if qty is None else qty


def proportions(shares: Sequence[Fraction]) -> tuple[int, ...]:
    """The least whole numbers in the same proportion; () where all are alike."""
    if len(set(shares)) == 1:
        return ()
    scale = math.lcm(*(one.denominator for one in shares))
    whole = [int(one * scale) for one in shares]
    return tuple(one // math.gcd(*whole) for one in whole)


def draw(lines: Sequence[BidLine], versions: int, seed: int) -> DrawnVersions:
    """At most so many versions; all there are, once each, where these are not more."""
    open_ = unknowns(lines)
    if math.prod(sum(ways_of(lines[k]) for k in block) + (len(chances_in(lines, block)) > len(block))
                 for block in blocks(lines)) <= versions:
        return all_versions(lines, open_, seed)
    columns = [drawn_values(one, base, f"{seed} {one.line} {one.what}", versions)
               for one, base in zip(open_, primes(), strict=False)]
    return DrawnVersions(open_, tuple(zip(*columns, strict=True)), False)


# ---- all there are ----

LineWay = tuple[Fraction, Mapping[tuple[int, str], int]]  # how likely it is, of 1, and the values of its unknowns


def ways_of(line: BidLine) -> int:
    """In how many ways a line that comes may turn out."""
    return sum(len(line.height) * len(line.opening) ** drawn_openings(line, qty) if qty else 1 for qty in line.qty)


def ways(lines: Sequence[BidLine], block: Sequence[int]) -> Iterator[LineWay]:
    """Every way in which the lines of a block may turn out."""
    chances = chances_in(lines, block)
    for place, k in enumerate(block):
        for share, values in line_ways(lines[k], k):
            yield chances[place] * share, {(block[0], WHICH): place, **values}
    if len(chances) > len(block):
        yield chances[-1], {(block[0], WHICH): len(block)}


def line_ways(line: BidLine, k: int) -> Iterator[LineWay]:
    """Every way in which a line that comes may turn out."""
    for place, qty in enumerate(line.qty):
        share = Fraction(1, len(line.qty))
        if not qty:
            yield share, {(k, QTY): place}
            continue
        names = [(k, HEIGHT), *((k, f"{OPENING} {j}") for j in range(1, drawn_openings(line, qty) + 1))]
        sizes = [len(line.height), *[len(line.opening)] * (len(names) - 1)]
        for values in product(*map(range, sizes)):
            yield share / math.prod(sizes), {(k, QTY): place, **dict(zip(names, values, strict=True))}


def all_versions(lines: Sequence[BidLine], open_: tuple[Unknown, ...], seed: int) -> DrawnVersions:
    """Each once; in an order by chance, so that a first part of them is a fair sample."""
    found = []
    for parts in product(*(list(ways(lines, block)) for block in blocks(lines))):
        values = {name: value for _, own in parts for name, value in own.items()}
        found.append((tuple(values.get((one.line, one.what), 0) for one in open_),
                      math.prod((share for share, _ in parts), start=Fraction(1))))
    random.Random(f"{seed} order").shuffle(found)
    return DrawnVersions(open_, tuple(choice for choice, _ in found), True,
                         proportions([share for _, share in found]))


# ---- some of very many ----


def drawn_values(one: Unknown, base: int, name: str, versions: int) -> list[int]:
    """The first values of an unknown, each as often as it is likely."""
    if not one.weights:
        return halton(base, name, one.values, versions)
    upto = list(accumulate(one.weights))
    return [bisect_right(upto, place) for place in halton(base, name, upto[-1], versions)]


def halton(base: int, name: str, values: int, versions: int) -> list[int]:
    """The first numbers of the randomized sequence in a base, each as one of `values` equally likely places.

    In whole numbers throughout, and seeded by a name: the same on any machine.
    """
    chance = random.Random(name)
    digits = math.ceil(math.log(FINE, base)) + 1
    shuffles = [chance.sample(range(base), base) for _ in range(digits)]
    found = []
    for k in range(versions):
        top = 0
        for shuffle in shuffles:
            k, digit = divmod(k, base)
            top = top * base + shuffle[digit]
        found.append(top * values // base**digits)
    return found


def primes() -> Iterator[int]:
    """2, 3, 5, ..."""
    found: list[int] = []
    for n in count(2):
        if all(n % p for p in found if p * p <= n):
            found.append(n)
            yield n


def orders_of(lines: Sequence[BidLine], drawn: DrawnVersions, choice: DrawnValues, tape: Fraction) -> list[Order]:
    """One version of the job as a week."""
    chosen = {(one.line, one.what): k for one, k in zip(drawn.unknowns, choice, strict=True)}
    come = {k for block in blocks(lines) for place, k in enumerate(block) if place == chosen.get((block[0], WHICH), 0)}
    orders = []
    for k, line in enumerate(lines):
        qty = line.qty[chosen.get((k, QTY), 0)]
        height = line.height[chosen.get((k, HEIGHT), 0)]
        if k not in come or not qty:
            continue
        if line.alike or len(line.opening) == 1:
            opening = line.opening[chosen.get((k, f"{OPENING} 1"), 0)]
            orders.append(line.order(line.mark, qty, opening, height, tape))
        else:
            orders += [line.order(f"{line.mark}.{j}", 1, line.opening[chosen[k, f"{OPENING} {j}"]], height, tape)
                       for j in range(1, qty + 1)]
    return orders


def copies(lines: Sequence[BidLine], times: int) -> tuple[BidLine, ...]:
    """The job so many times over, each time with unknowns and groups of its own."""
    return tuple(replace(line, group=f"{line.group}\n{turn}") if line.group else line  # no name has a line's end in it
                 for turn in range(times) for line in lines)
