"""What a set-up of the saw is, and how often one can be used."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping

from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance

SetupKey = tuple[int, tuple[tuple[int, int], ...]]  # a stick's length; to what the saw is set for it, and how often


def setup(pattern: Pattern, instance: Instance) -> SetupKey:
    """What the saw is set to; where a rail's middle falls is all one to it."""
    cuts: Counter[int] = Counter()
    for i, a in pattern.counts:
        cuts[instance.settings[i]] += a
    return instance.sticks[pattern.stick].length, tuple(sorted(cuts.items()))


def set_ups(plan: Collection[Pattern], instance: Instance) -> int:
    """Set-ups of a plan: different lengths of stick, or different lengths cut from it."""
    return len({setup(p, instance) for p in plan})


def at_least(instance: Instance) -> int:
    """Each set-up cuts only so many different lengths, and every length is cut somewhere."""
    room = max(stick.capacity for stick in instance.sticks)
    sizes, different = sorted(dict(zip(instance.settings, instance.sizes, strict=True)).values()), 0
    for size in sizes:  # the most lengths that share a stick are the smallest ones
        room -= size
        if room < 0:
            break
        different += 1
    return -(-len(sizes) // max(1, different))


def by_setting(instance: Instance) -> Counter[int]:
    """How many pieces the saw is set to alike for, however they are to lie."""
    found: Counter[int] = Counter()
    for setting, demand in zip(instance.settings, instance.demands, strict=True):
        found[setting] += demand
    return found


def there(instance: Instance) -> Counter[int]:
    """The most sticks of each length that any plan draws, whatever their kind."""
    found: Counter[int] = Counter()
    for s, stick in enumerate(instance.sticks):
        found[stick.length] += instance.most(s)
    return found


def uses(key: SetupKey, demand: Mapping[int, int], sticks: Mapping[int, int]) -> int:
    """How many sticks a set-up is used for at most."""
    length, cuts = key
    return min(sticks[length], *(demand[cut] // a for cut, a in cuts))
