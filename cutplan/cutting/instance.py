"""The cutting problem of one profile in whole numbers.

Every length becomes a multiple of one unit and every price a multiple of one coin, so that fit, cost and every
bound are integers. A piece of length l takes w = l + kerf of a stick's capacity W = length - trims + kerf: then
"pieces and the kerfs between them fit" reads sum(w_i a_i) <= W.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal
from cutplan.problems import NoPlan
from cutplan.shop import Profile, Stock

Counts = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class StickType:
    """One kind of stick. Lengths in units, cost in coins.

    capacity:  W, what the sizes on one stick may add up to
    usable:    length less both trims; usable - sum(sizes) is the offcut, never below zero
    keep_fill: sum of sizes up to which the offcut is long enough to be kept (None: never)
    available: how many there are (None: any number)
    emergency: not real stock, but what would be missing
    """

    length: int
    capacity: int
    usable: int
    cost: int
    available: int | None = None
    keep_fill: int | None = None
    emergency: bool = False

    def used(self, fill: int) -> int:
        """Length used up that does not come back, of a stick whose sizes add up to `fill`."""
        if self.keep_fill is not None and fill <= self.keep_fill:
            return self.length - (self.usable - fill)
        return self.length


@dataclass(frozen=True)
class Instance:
    """Sizes w_1 > w_2 > ... with demands d_i, and the sticks they are cut from.

    `unit` and `coin` turn the integers back into the file's lengths and money. `lengths` are the pieces' own.
    `stock[s]` lists the stock entries behind stick type s (several rack offcuts of one length are one type).
    """

    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    sticks: tuple[StickType, ...]
    lengths: tuple[Fraction, ...]
    stock: tuple[tuple[Stock, ...], ...]
    unit: Fraction
    coin: Fraction

    def most(self, stick: int) -> int:
        """The most sticks of a type that any plan draws: each carries at least one piece."""
        pieces = sum(self.demands)
        available = self.sticks[stick].available
        return pieces if available is None else min(available, pieces)


@dataclass(frozen=True, order=True)
class Pattern:
    """How one stick is cut: the stick type, and (i, a_i) for each size i of which a_i > 0 pieces come, i rising."""

    stick: int
    counts: Counts

    def fill(self, sizes: Sequence[int]) -> int:
        return sum(a * sizes[i] for i, a in self.counts)

    def often(self, demands: Sequence[int]) -> int:
        """How often it can be cut before there is too much of something."""
        return min((demands[i] // a for i, a in self.counts), default=0)


def produced(instance: Instance, plan: Counter[Pattern]) -> list[int]:
    """How many pieces of each size these sticks yield."""
    made = [0] * len(instance.sizes)
    for pattern, n in plan.items():
        for i, a in pattern.counts:
            made[i] += a * n
    return made


def by_size(instance: Instance, patterns: Sequence[Pattern]) -> list[list[tuple[int, int]]]:
    """For each size the patterns it is cut in: (k, a) where pattern k cuts a of them."""
    found: list[list[tuple[int, int]]] = [[] for _ in instance.sizes]
    for k, pattern in enumerate(patterns):
        for i, a in pattern.counts:
            found[i].append((k, a))
    return found


def granule(values: Iterable[Fraction]) -> Fraction:
    """The largest rational of which every value is a whole multiple; 1 where all are zero."""
    values = list(values)
    denominator = math.lcm(*(value.denominator for value in values))
    numerator = math.gcd(*(int(value * denominator) for value in values))
    return Fraction(numerator, denominator) if numerator else Fraction(1)


def largest_piece(profile: Profile, length: Fraction) -> Fraction:
    """The longest piece that a stick of this length yields."""
    if profile.one_per_stick:  # trimmed equally at both ends, so the larger trim counts twice
        return length - 2 * max(profile.head_trim, profile.tail_trim)
    return length - profile.head_trim - profile.tail_trim


def build(profile: Profile, demand: dict[Fraction, int]) -> Instance:
    """The integer instance of a profile and its demand (length -> quantity).

    Raises NoPlan where a piece is longer than any stick yields.
    """
    lengths = tuple(sorted(demand, reverse=True))
    stock = merge(entry for entry in profile.stock if entry.qty != 0)
    longest = max((largest_piece(profile, group[0].length) for group in stock), default=Fraction(0))
    if too_long := [length for length in lengths if length > longest]:
        raise NoPlan(
            f"{profile.name}: " + ", ".join(exact_decimal(length) for length in too_long)
            + f": longer than {exact_decimal(longest)}, the longest piece that any stick here yields"
        )
    keep = profile.keep_from
    unit = granule(
        [*lengths, profile.kerf, profile.head_trim, profile.tail_trim, keep or Fraction(0)]
        + [group[0].length for group in stock]
        + ([largest_piece(profile, group[0].length) for group in stock])
    )
    coin = granule(group[0].price for group in stock)
    kerf = int(profile.kerf / unit)
    # one piece a stick: a block added to every size and capacity leaves no room for two
    block = max(int(group[0].length / unit) for group in stock) + kerf if profile.one_per_stick else 0
    sticks = []
    for group in stock:
        usable = int(largest_piece(profile, group[0].length) / unit)
        keeps = keep is not None and not profile.one_per_stick and usable > keep / unit
        sticks.append(
            StickType(
                length=int(group[0].length / unit),
                capacity=usable + kerf + block,
                usable=usable + block,
                cost=int(group[0].price / coin),
                available=available(group),
                keep_fill=usable - math.ceil(keep / unit) if keeps and keep is not None else None,
            )
        )
    return with_emergency(
        Instance(
            sizes=tuple(int(length / unit) + kerf + block for length in lengths),
            demands=tuple(demand[length] for length in lengths),
            sticks=tuple(sticks),
            lengths=lengths,
            stock=tuple(stock),
            unit=unit,
            coin=coin,
        )
    )


def merge(stock: Iterable[Stock]) -> list[tuple[Stock, ...]]:
    """Stock entries of equal length and price, together; longest first, rack offcuts before new stock."""
    groups: dict[tuple[Fraction, Fraction, bool], list[Stock]] = {}
    for entry in stock:
        groups.setdefault((-entry.length, entry.price, entry.tag is None), []).append(entry)
    return [tuple(groups[key]) for key in sorted(groups)]


def available(group: Sequence[Stock]) -> int | None:
    if any(entry.qty is None for entry in group):
        return None
    return sum(entry.qty or 0 for entry in group)


def with_emergency(instance: Instance) -> Instance:
    """Adds a last stick type, dearer than any plan, where the stock might run out: it measures what is missing."""
    endless = max((s.capacity for s in instance.sticks if s.available is None), default=0)
    if endless >= instance.sizes[0]:
        return instance
    pieces = sum(instance.demands)
    longest = instance.sticks[0]
    dearest = 1 + sum(s.cost * (pieces if s.available is None else s.available) for s in instance.sticks)
    missing = StickType(longest.length, longest.capacity, longest.usable, dearest, emergency=True)
    entry = (Stock(instance.stock[0][0].length, dearest * instance.coin),)
    return Instance(
        instance.sizes, instance.demands, (*instance.sticks, missing), instance.lengths,
        (*instance.stock, entry), instance.unit, instance.coin,
    )
