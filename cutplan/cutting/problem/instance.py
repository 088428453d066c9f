"""The cutting problem of one profile in whole numbers.

Every length becomes a multiple of one unit and every price a multiple of one coin, so that fit, cost and every
bound are integers. A piece of length l takes w = l + kerf of a stick's capacity W = length - trims + kerf: then
"pieces and the kerfs between them fit" reads sum(w_i a_i) <= W. (With angled ends l is the length halfway up the face.)
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from cutplan.cutting.arrangement.choosing import arranger_of
from cutplan.cutting.arrangement.protocol import Arrangement, Arranger, Asked, Priced, Use
from cutplan.cutting.patterns import Pattern, StickType
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.cutting.problem.stock import available, kinds_of_stock, refuse_length, stick_type
from cutplan.ends import Ends, ends_in
from cutplan.lengths import Ratio
from cutplan.problems import NoPlan
from cutplan.shop import Profile, Stock
from cutplan.sums import granule


@dataclass(frozen=True)
class Blanks:
    """What binds pieces that are turned, one from each stick.

    Of size i sets of `together[i]` pieces come from sticks of one length, of at most `longest[i]` units (None: of any).
    """

    together: tuple[int, ...]
    longest: tuple[int | None, ...]


@dataclass(frozen=True)
class Instance:
    """Sizes w_1 > w_2 > ... with demands d_i, and the sticks they are cut from.

    (With blanks, sizes may be equal whose pieces belong together in other numbers.)
    `lies` says of each size how it is asked to lie, and `arrangement` what pieces take beside each other. `unit` and
    `coin` turn the integers back into the file's lengths and money. `lengths` are the pieces' own, and `nets` what they
    take of a stick without any kerf, in units.
    `stock[s]` lists the stock entries behind stick type s (several rack offcuts of one length are one type). `tables`
    says how large those of the pricing may grow.
    """

    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    sticks: tuple[StickType, ...]
    lengths: tuple[Fraction, ...]
    nets: tuple[int, ...]
    lies: tuple[str, ...]
    stock: tuple[tuple[Stock, ...], ...]
    unit: Fraction
    coin: Fraction
    arrangement: Arrangement
    blanks: Blanks | None = None
    tables: TableParams = field(default_factory=TableParams)

    @cached_property
    def large(self) -> set[int]:
        """Capacities of which a table was too large, which the pricing itself finds out."""
        return set()

    @cached_property
    def settings(self) -> tuple[int, ...]:
        """What the saw is set to for each size, its length and its ends, as a number that those alike share."""
        numbers: dict[tuple[Ratio, Ends], int] = {}
        return tuple(numbers.setdefault((length.as_integer_ratio(), ends_in(lies)), len(numbers))
                     for length, lies in zip(self.lengths, self.lies, strict=True))

    @cached_property
    def quick(self) -> Instance:
        """The same, priced quickly for searches that prove nothing; itself where there is no quicker way."""
        arrangement = self.arrangement.quickly()
        return self if arrangement is self.arrangement else replace(self, arrangement=arrangement)

    def fill(self, pattern: Pattern) -> int:
        """How much of its stick's capacity a pattern takes; more than any capacity where it cannot lie there."""
        return self.arrangement.fill(self.sticks[pattern.stick], pattern.counts)

    def fits(self, pattern: Pattern) -> bool:
        stick = self.sticks[pattern.stick]
        if not self.arrangement.fits(stick, pattern.counts):
            return False
        if self.blanks is None:
            return True
        limits = [self.blanks.longest[i] for i, _ in pattern.counts]
        return all(most is None or stick.length <= most for most in limits)

    def gives(self, stick: int, i: int) -> bool:
        """Whether a piece of size i can be cut from a stick of this type."""
        return self.fits(Pattern(stick, ((i, 1),)))

    def price(self, uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool = False) -> list[Priced]:
        """For each use its patterns, with each size at most as often as its bound.

        Sizes without a value are left out unless `every`.
        """
        return self.arrangement.price(self.sticks, uses, bounds, values, every, self.large, self.tables)

    def most(self, stick: int) -> int:
        """The most sticks of a type that any plan draws: each carries at least one piece."""
        pieces = sum(self.demands)
        available = self.sticks[stick].available
        return pieces if available is None else min(available, pieces)


def produced(instance: Instance, plan: Counter[Pattern]) -> list[int]:
    """How many pieces of each size these sticks yield."""
    made = [0] * len(instance.sizes)
    for pattern, n in plan.items():
        for i, a in pattern.counts:
            made[i] += a * n
    return made


def remaining(instance: Instance, plan: Counter[Pattern]) -> tuple[int, ...]:
    """How many pieces of each size these sticks leave to be cut."""
    return tuple(max(0, d - made) for d, made in zip(instance.demands, produced(instance, plan), strict=True))


def by_size(instance: Instance, patterns: Sequence[Pattern]) -> list[list[tuple[int, int]]]:
    """For each size the patterns it is cut in: (k, a) where pattern k cuts a of them."""
    found: list[list[tuple[int, int]]] = [[] for _ in instance.sizes]
    for k, pattern in enumerate(patterns):
        for i, a in pattern.counts:
            found[i].append((k, a))
    return found


def build_instance(profile: Profile, demand: dict[Asked, int]) -> Instance:
    """The integer instance of a profile and its demand.

    Raises NoPlan where a piece is longer than any stick yields, or shorter than any blank may be turned down to.
    """
    arranger = arranger_of(profile)
    asked = sorted(demand, key=lambda key: (-arranger.takes(key), -key[0], *key[1:]))
    lengths = tuple(length for length, *_ in asked)
    stock = kinds_of_stock(profile, arranger)
    refuse_length(profile, arranger, asked, stock)
    keep = profile.keep_from
    unit = granule(
        [*lengths, profile.kerf, keep or Fraction(0)]
        + [group[0].length for group in stock]
        + [trim for group in stock for trim in profile.trims(group[0])]
        + [2 * (profile.most_trim or Fraction(0))]
        + arranger.steps(asked, [entry for group in stock for entry in group])
    )
    coin = granule(group[0].price for group in stock)
    kerf = int(profile.kerf / unit)
    # one piece a stick: a block added to every size and capacity leaves no room for two
    block = max(int(group[0].length / unit) for group in stock) + kerf if profile.one_per_stick else 0
    sticks = [stick_type(profile, arranger, group[0], available(group), unit, coin, block) for group in stock]
    nets = tuple(int(arranger.takes(key) / unit) for key in asked)
    sizes = tuple(net + kerf + block for net in nets)
    instance = Instance(
        sizes=sizes,
        demands=tuple(demand[key] for key in asked),
        sticks=tuple(sticks),
        lengths=lengths,
        nets=nets,
        lies=tuple(lies for _, lies, _ in asked),
        stock=tuple(stock),
        unit=unit,
        coin=coin,
        arrangement=arranger.arrange(asked, sizes, kerf, unit, sticks),
        blanks=blanks(profile, asked, unit) if profile.one_per_stick else None,
    )
    refuse_unplaceable(profile, arranger, asked, instance)
    return with_emergency(instance)


def blanks(profile: Profile, asked: Sequence[Asked], unit: Fraction) -> Blanks:
    """Which pieces belong together, and how long a blank of each may be."""
    most = profile.most_trim
    return Blanks(tuple(together for *_, together in asked),
                  tuple(None if most is None else int((length + 2 * most) / unit) for length, *_ in asked))


def refuse_unplaceable(profile: Profile, arranger: Arranger, asked: Sequence[Asked], instance: Instance) -> None:
    """Raises NoPlan for pieces that fit a stick by length alone, and not as they are asked to lie."""
    lost = [i for i in range(len(instance.sizes))
            if not any(instance.gives(s, i) for s in range(len(instance.sticks)))]
    if lost:
        raise NoPlan(f"{profile.name}: {arranger.no_room([asked[i] for i in lost])}")


def with_emergency(instance: Instance) -> Instance:
    """Adds stick types, each dearer than any plan, where the stock might run out: they measure what is missing."""
    endless = [s for s, stick in enumerate(instance.sticks) if stick.available is None]
    if all(any(instance.gives(s, i) for s in endless) for i in range(len(instance.sizes))):
        return instance
    pieces = sum(instance.demands)
    dearest = 1 + sum(s.cost * (pieces if s.available is None else s.available) for s in instance.sticks)
    lacking = [longest(instance)] if instance.blanks is None else lengths_that_run_out(instance)
    missing = [replace(stick, cost=dearest, available=None, keep_fill=None, emergency=True) for stick in lacking]
    entries = [(Stock(stick.length * instance.unit, dearest * instance.coin),) for stick in missing]
    return replace(instance, sticks=(*instance.sticks, *missing), stock=(*instance.stock, *entries))


def longest(instance: Instance) -> StickType:
    """The kind of stick that yields the most, with every end that any has: what can be cut at all comes from it."""
    every_end = tuple(dict.fromkeys(end for stick in instance.sticks for end in stick.ends))
    return replace(max(instance.sticks, key=lambda stick: stick.capacity), ends=every_end)


def lengths_that_run_out(instance: Instance) -> list[StickType]:
    """A kind of each length of new blanks of which there are only so many; for pieces that fit no new blank, of the
    longest offcut that they fit."""
    sticks, new = instance.sticks, [s for s, group in enumerate(instance.stock) if group[0].tag is None]
    lost = [i for i in range(len(instance.sizes)) if not any(instance.gives(s, i) for s in new)]
    fitting = [max((s for s in range(len(sticks)) if instance.gives(s, i)),
                   key=lambda s: sticks[s].length) for i in lost]
    endless = {stick.length for stick in sticks if stick.available is None}
    return list({sticks[s].length: sticks[s] for s in (*new, *fitting) if sticks[s].length not in endless}.values())
