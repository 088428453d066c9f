"""From patterns to sticks: which mark is cut where, and what is left."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from cutplan.cutting.instance import Instance, Pattern
from cutplan.cutting.plan import Cut, Demand, Stick
from cutplan.shop import Profile, Stock


def lay_out(profile: Profile, instance: Instance, plan: Counter[Pattern], demand: Sequence[Demand]) -> list[Stick]:
    """The sticks of a plan, like set-ups together, marks dealt in the order of the demand."""
    waiting: dict[Fraction, deque[str]] = {}
    for entry in demand:
        waiting.setdefault(entry.length, deque()).extend([entry.mark] * entry.qty)
    drawn = {s: draw(stock) for s, stock in enumerate(instance.stock)}
    singles = []
    for pattern, n in sorted(plan.items(), key=lambda item: order(instance, *item)):
        lengths = [instance.lengths[i] for i, a in pattern.counts for _ in range(a)]
        for _ in range(n):
            marks = [waiting[length].popleft() for length in lengths]
            singles.append(stick(profile, next(drawn[pattern.stick]), lengths, marks))
    return [fold(list(alike)) for _, alike in groupby(singles)]


def order(instance: Instance, pattern: Pattern, count: int) -> tuple[int, int, tuple[int, ...]]:
    """Rack offcuts first, then long set-ups before short ones, longest pieces first."""
    is_new = instance.stock[pattern.stick][0].tag is None
    return int(is_new), pattern.stick, (*(i for i, a in pattern.counts for _ in range(a)), len(instance.sizes))


def draw(stock: Sequence[Stock]) -> Iterator[Stock]:
    """The stock entries behind one stick type, one for each stick; an endless one comes last."""
    for entry in sorted(stock, key=lambda entry: entry.qty is None):
        if entry.qty is None:
            while True:
                yield entry
        for _ in range(entry.qty):
            yield entry


def stick(profile: Profile, stock: Stock, lengths: Sequence[Fraction], marks: Sequence[str]) -> Stick:
    """One stick with its cuts in place, from the end squared first."""
    at = (stock.length - lengths[0]) / 2 if profile.one_per_stick else profile.head_trim
    cuts = []
    for length, mark in zip(lengths, marks, strict=True):
        cuts.append(Cut(mark, length, at, at + length))
        at += length + profile.kerf
    usable = stock.length - profile.head_trim - profile.tail_trim
    left = max(Fraction(0), usable - sum(lengths) - len(lengths) * profile.kerf)
    keep = not profile.one_per_stick and profile.keep_from is not None and left >= profile.keep_from
    source = "new" if stock.tag is None else "rack"
    return Stick(source, stock.tag, stock.length, stock.price, 1, tuple(cuts), left, keep)


def fold(alike: Sequence[Stick]) -> Stick:
    one = alike[0]
    return Stick(one.source, one.tag, one.length, one.price, len(alike), one.cuts, one.offcut, one.keep)

