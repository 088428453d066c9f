"""What sticks one version of a job asks of a profile, and whether some sticks are enough for it.

Sticks are enough that a plan was found on (a longer one serves for a shorter, but for turned blanks). Where the search
for a plan was cut short, they are enough as well when they obey what every plan's sticks obey: their worth, by the
duals of the cutter's LP, comes to that of the pieces. That is necessary, and in large jobs as good as sufficient: the
least integer numbers that obey it are nearly always those of a best plan (Scheithauer and Terno, Eur. J. Oper. Res. 84
(1995) 562-571, on one length).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.cutting import Job, Solution, worth_of_sticks

StickNumbers = Mapping[Fraction, int]  # of each length so many; none of a length that is not there


@dataclass(frozen=True)
class Need:
    """What one version asks of a profile's new sticks.

    numbers:   the cheapest, by length: a plan's, or, where the search was cut short, such as no plan is cheaper than
    cost:      what these cost at the prices of single sticks; no plan costs less
    worth:     of each length what one stick is worth at most; `floor`: what sticks must be worth to be enough
    exchanged: whether a longer stick serves for a shorter one
    cut_short: whether the numbers rest on the bound and not on a plan
    small:     whether so little is asked that only a plan says whether sticks are enough
    """

    numbers: tuple[tuple[Fraction, int], ...]
    cost: Fraction
    worth: tuple[tuple[Fraction, int], ...]
    floor: int
    exchanged: bool
    cut_short: bool = False
    small: bool = False


NO_NEED = Need((), Fraction(0), (), 0, True)


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
    worth, floor = worth_of_sticks(instance, first, rounds)
    free = sum(worth[s] * len(instance.stock[s]) for s, stick in enumerate(instance.sticks)
               if instance.stock[s][0].tag is not None)
    new = [s for s, stick in enumerate(instance.sticks) if instance.stock[s][0].tag is None and not stick.emergency]
    floor = max(0, floor - free)
    found = counted_sticks(job, first.plan)
    cost = first.value * instance.coin
    cut_short = False
    if not first.proven and not free and all(instance.sticks[s].cost for s in new):
        kinds = [(instance.sticks[s].cost, worth[s], instance.sticks[s].available) for s in new]
        least, numbers = cheapest_numbers(kinds, floor, first.value)
        if numbers is not None:
            found = Counter({instance.stock[s][0].length: n for s, n in zip(new, numbers, strict=True) if n})
            cost, cut_short = least * instance.coin, True
    by_length: dict[Fraction, int] = {}
    for s in new:
        length = instance.stock[s][0].length
        by_length[length] = max(by_length.get(length, 0), worth[s])
    return Need(tuple(sorted(found.items())), cost, tuple(sorted(by_length.items())) if floor else (), floor,
                instance.blanks is None, cut_short, sum(instance.demands) <= params.few)


def counted_sticks(job: Job, plan: Solution) -> Counter[Fraction]:
    """The new sticks of a plan, by length."""
    found: Counter[Fraction] = Counter()
    for pattern, n in plan.items():
        entry = job.instance.stock[pattern.stick][0]
        if entry.tag is None:
            found[entry.length] += n
    return found


def cheapest_numbers(kinds: Sequence[tuple[int, int, int | None]], floor: int, below: int
                     ) -> tuple[int, list[int] | None]:
    """The cheapest whole numbers of some kinds (cost, worth, how many there are) whose worth comes to the floor.

    None where no such numbers cost less than `below`. By enumeration, the kinds of most worth for their cost first.
    """
    order = sorted((k for k in range(len(kinds)) if kinds[k][1]), key=lambda k: Fraction(kinds[k][0], kinds[k][1]))
    best, found = below, None
    numbers = [0] * len(kinds)

    def descend(at: int, left: int, spent: int) -> None:
        nonlocal best, found
        if left <= 0:
            if spent < best:
                best, found = spent, numbers.copy()
            return
        if at == len(order):
            return
        cost, worth, there = kinds[order[at]]
        if spent * worth + left * cost >= best * worth:  # even in fractions, and this is the best for its worth
            return
        most = -(-left // worth)
        most = most if there is None else min(most, there)
        for n in range(most, -1, -1):
            numbers[order[at]] = n
            descend(at + 1, left - n * worth, spent + n * cost)
        numbers[order[at]] = 0

    descend(0, floor, 0)
    return best, found


def at_least(sticks: StickNumbers, other: StickNumbers, exchanged: bool) -> bool:
    """Whether some sticks can stand for others: as many of each length, or longer ones in their place."""
    if not exchanged:
        return all(sticks.get(length, 0) >= n for length, n in other.items())
    spare = 0
    for length in sorted({*sticks, *other}, reverse=True):
        spare += sticks.get(length, 0) - other.get(length, 0)
        if spare < 0:
            return False
    return True
