"""What sticks one version of a job asks of a profile, and whether some sticks are enough for it.

Sticks are enough that a plan was found on (a longer one serves for a shorter, but for turned blanks). Where the search
for a plan was cut short, they are enough as well when they obey what every plan's sticks obey: their worth, by the
duals of the cutter's LP and by length, comes to that of the pieces. That is necessary, and in large jobs as good as
sufficient where sticks are such as the LP would draw: the least integer numbers that obey it are nearly always those of
a best plan (Scheithauer and Terno, Eur. J. Oper. Res. 84 (1995) 562-571, on one length).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from cutplan.cutting import Job, Solution, worths_of_sticks

StickNumbers = Mapping[Fraction, int]  # of each length so many; none of a length that is not there


@dataclass(frozen=True)
class NeedRow:
    """Of each length what one stick is worth at most, and what all must be worth together to be enough."""

    worth: tuple[tuple[Fraction, int], ...]
    floor: int


@dataclass(frozen=True)
class Need:
    """What one version asks of a profile's new sticks.

    numbers:   the cheapest, by length: a plan's, or, where the search was cut short, such as no plan is cheaper than
    cost:      what these cost at the prices of single sticks; no plan costs less
    rows:      what sticks must be worth to be enough, in one way and another
    exchanged: whether a longer stick serves for a shorter one
    cut_short: whether the numbers rest on the bound and not on a plan
    small:     whether so little is asked that only a plan says whether sticks are enough
    """

    numbers: tuple[tuple[Fraction, int], ...]
    cost: Fraction
    rows: tuple[NeedRow, ...]
    exchanged: bool
    cut_short: bool = False
    small: bool = False


NO_NEED = Need((), Fraction(0), (), True)


@dataclass(frozen=True)
class NeedParams:
    """What a need rests on.

    few:    pieces up to which sticks are enough only where a plan is found on them
    many:   different lengths of pieces beyond which the first duals of the LP are as good as its last
    rounds: of pricing for the duals of fewer
    """

    few: int = 40
    many: int = 40
    rounds: int = 120


def need_of(job: Job, params: NeedParams = NeedParams()) -> Need:
    """What the cutter's first tier found a version to need."""
    instance, first = job.instance, job.first
    rounds = 0 if first.proven or len(instance.sizes) > params.many else params.rounds
    rows = worths_of_sticks(instance, first, rounds)
    free = [s for s in range(len(instance.sticks)) if instance.stock[s][0].tag is not None]
    new = [s for s, stick in enumerate(instance.sticks) if instance.stock[s][0].tag is None and not stick.emergency]
    floors = [max(0, row.floor - sum(row.worths[s] * len(instance.stock[s]) for s in free)) for row in rows]
    found = counted_sticks(job, first.plan)
    cost = first.value * instance.coin
    cut_short = False
    if rows and not first.proven and not free and all(instance.sticks[s].cost for s in new):
        kinds = [StickKindWorth(instance.sticks[s].cost, tuple(row.worths[s] for row in rows),
                                instance.sticks[s].available) for s in new]
        least, numbers = cheapest_numbers(kinds, floors, first.value)
        if numbers is not None:
            found = Counter({instance.stock[s][0].length: n for s, n in zip(new, numbers, strict=True) if n})
            cost, cut_short = least * instance.coin, True
    lengths = {s: instance.stock[s][0].length for s in new}
    return Need(tuple(sorted(found.items())), cost, tuple(
        NeedRow(tuple(sorted((length, max(row.worths[s] for s in new if lengths[s] == length))
                             for length in set(lengths.values()))), floor)
        for row, floor in zip(rows, floors, strict=True) if floor),
        instance.blanks is None, cut_short, sum(instance.demands) <= params.few)


def counted_sticks(job: Job, plan: Solution) -> Counter[Fraction]:
    """The new sticks of a plan, by length."""
    found: Counter[Fraction] = Counter()
    for pattern, n in plan.items():
        entry = job.instance.stock[pattern.stick][0]
        if entry.tag is None:
            found[entry.length] += n
    return found


@dataclass(frozen=True)
class StickKindWorth:
    """A kind of stick: its cost, its worth in each row, and how many there are (None: any number)."""

    cost: int
    worths: tuple[int, ...]
    there: int | None


def cheapest_numbers(kinds: Sequence[StickKindWorth], floors: Sequence[int], below: int
                     ) -> tuple[int, list[int] | None]:
    """The cheapest whole numbers of some kinds whose worth comes to the floor in each row.

    None where no such numbers cost less than `below`. By enumeration, the kinds of most worth in the first row for
    their cost first.
    """
    order = sorted((k for k in range(len(kinds)) if any(kinds[k].worths)),
                   key=lambda k: Fraction(kinds[k].cost, max(1, kinds[k].worths[0])))
    best, found = below, None
    numbers = [0] * len(kinds)

    def descend(at: int, left: Sequence[int], spent: int) -> None:
        nonlocal best, found
        if max(left) <= 0:
            if spent < best:
                best, found = spent, numbers.copy()
            return
        if at == len(order):
            return
        kind = kinds[order[at]]
        worth = kind.worths[0]
        # even in fractions, and this is the best for its worth
        if spent * worth + max(0, left[0]) * kind.cost >= best * worth:
            return
        most = max(-(-lacking // own) if own else 0 for lacking, own in zip(left, kind.worths, strict=True))
        most = most if kind.there is None else min(most, kind.there)
        for n in range(most, -1, -1):
            numbers[order[at]] = n
            descend(at + 1, [lacking - n * own for lacking, own in zip(left, kind.worths, strict=True)],
                    spent + n * kind.cost)
        numbers[order[at]] = 0

    descend(0, floors, 0)
    return best, found


def number_of(sticks: StickNumbers) -> int:
    return sum(sticks.values())


def length_of(sticks: StickNumbers) -> Fraction:
    """What some sticks are long together."""
    return sum((n * length for length, n in sticks.items()), Fraction(0))


def at_least(sticks: StickNumbers, other: StickNumbers, exchanged: bool) -> bool:
    """Whether some sticks can stand for others: as many of each length, or longer ones in their place."""
    return all(standing_for(sticks, length, exchanged) >= standing_for(other, length, exchanged) for length in other)


def standing_for(sticks: Mapping[Fraction, Any], length: Fraction, exchanged: bool) -> Any:
    """How many of some sticks, numbers or expressions of a model, can stand for one of a length: it, or a longer one.
    """
    return sum(n for other, n in sticks.items() if other == length or (exchanged and other > length))
