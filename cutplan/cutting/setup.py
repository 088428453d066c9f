"""What a set-up of the saw is, and how often one can be used."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from fractions import Fraction

from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance

SetupKey = tuple[int, tuple[tuple[Fraction, int], ...]]  # a stick's length; each length cut from it, and how many of it


def setup(pattern: Pattern, instance: Instance) -> SetupKey:
    """What the saw is set to; where a rail's middle falls is all one to it."""
    cuts: Counter[Fraction] = Counter()
    for i, a in pattern.counts:
        cuts[instance.lengths[i]] += a
    return instance.sticks[pattern.stick].length, tuple(sorted(cuts.items()))


def set_ups(plan: Collection[Pattern], instance: Instance) -> int:
    """Set-ups of a plan: different lengths of stick, or different lengths cut from it."""
    return len({setup(p, instance) for p in plan})


def at_least(instance: Instance) -> int:
    """Each set-up cuts only so many different lengths, and every length is cut somewhere."""
    room = max(stick.capacity for stick in instance.sticks)
    sizes, different = sorted(set(instance.sizes)), 0
    for size in sizes:  # the most lengths that share a stick are the smallest ones
        room -= size
        if room < 0:
            break
        different += 1
    return -(-len(sizes) // max(1, different))


def by_length(instance: Instance) -> Counter[Fraction]:
    """How many pieces of each length are asked for, however they are to lie."""
    found: Counter[Fraction] = Counter()
    for length, demand in zip(instance.lengths, instance.demands, strict=True):
        found[length] += demand
    return found


def there(instance: Instance) -> Counter[int]:
    """The most sticks of each length that any plan draws, whatever their kind."""
    found: Counter[int] = Counter()
    for s, stick in enumerate(instance.sticks):
        found[stick.length] += instance.most(s)
    return found


def uses(key: SetupKey, demand: Mapping[Fraction, int], sticks: Mapping[int, int]) -> int:
    """How many sticks a set-up is used for at most."""
    length, cuts = key
    return min(sticks[length], *(demand[cut] // a for cut, a in cuts))
