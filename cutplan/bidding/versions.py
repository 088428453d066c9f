"""Equally likely versions of a job: what its openings, heights and numbers may turn out to be.

Where there are few, all of them are taken once each, and shares of them are the exact chances. Else they are drawn by a
randomized Halton sequence (Owen, arXiv 1706.02808 (2017), every digit permuted at random): it fills each range
more evenly than chance, and any first part of it is a fair sample, so that a bid that is stopped early still is.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import count, product

from cutplan.bidding.bidfile import BidLine
from cutplan.orders import Order

FINE = 2**40  # a drawn number has at least so many steps

DrawnValues = tuple[int, ...]  # for each unknown, which of its values


@dataclass(frozen=True)
class Unknown:
    """One number that is not known yet: of which line, which, and how many values it may have."""

    line: int
    what: str  # "qty", "height", "opening 1", ...
    values: int


@dataclass(frozen=True)
class DrawnVersions:
    """The versions; `whole`: they are all there are, so that shares of them are exact."""

    unknowns: tuple[Unknown, ...]
    choices: tuple[DrawnValues, ...]
    whole: bool


def unknowns(lines: Sequence[BidLine]) -> tuple[Unknown, ...]:
    """Everything that is open. A line's height and number are drawn once; openings one by one unless `alike`."""
    found = []
    for k, line in enumerate(lines):
        found.append(Unknown(k, "qty", len(line.qty)))
        found.append(Unknown(k, "height", len(line.height)))
        each = 1 if line.alike or len(line.opening) == 1 else line.qty[-1]
        found += [Unknown(k, f"opening {j}", len(line.opening)) for j in range(1, each + 1)]
    return tuple(one for one in found if one.values > 1)


def draw(lines: Sequence[BidLine], versions: int, seed: int) -> DrawnVersions:
    """At most so many versions; all there are, once each, where these are not more."""
    open_ = unknowns(lines)
    if math.prod(one.values for one in open_) <= versions:
        return DrawnVersions(open_, tuple(product(*(range(one.values) for one in open_))), True)
    columns = [halton(base, f"{seed} {one.line} {one.what}", one.values, versions)
               for one, base in zip(open_, primes(), strict=False)]
    return DrawnVersions(open_, tuple(zip(*columns, strict=True)), False)


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
    orders = []
    for k, line in enumerate(lines):
        qty = line.qty[chosen.get((k, "qty"), 0)]
        height = line.height[chosen.get((k, "height"), 0)]
        if not qty:  # it does not come
            continue
        if line.alike or len(line.opening) == 1:
            opening = line.opening[chosen.get((k, "opening 1"), 0)]
            orders.append(line.order(line.mark, qty, opening, height, tape))
        else:
            orders += [line.order(f"{line.mark}.{j}", 1, line.opening[chosen[k, f"opening {j}"]], height, tape)
                       for j in range(1, qty + 1)]
    return orders


def copies(lines: Sequence[BidLine], times: int) -> tuple[BidLine, ...]:
    """The job so many times over, each time with unknowns of its own."""
    return tuple(lines) * times
