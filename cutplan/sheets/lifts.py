"""Set-ups of the saw, and the sticks of each that are cut together: a lift is so many of them as the saw takes.

Only sticks that share all their marks can lie in one lift. On plain sticks those of a set-up do; on sticks with holes,
and on offcuts beside new sticks, some may not, and then more lifts are needed than the set-up's sticks by the stack.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cutplan.plans.plan import Numbered

Group = list[Numbered]  # entries that share their marks


def setups(entries: Iterable[Numbered]) -> list[list[Group]]:
    """The set-ups of one profile in the order of the plan; of each the entries that share their marks."""
    found: dict[object, dict[object, Group]] = {}
    for one in entries:
        found.setdefault(one.stick.setup, {}).setdefault(one.stick.places, []).append(one)
    return [list(groups.values()) for groups in found.values()]


def lifts(group: Group, stack: int) -> list[tuple[int, ...]]:
    """The numbers of the sticks of each lift."""
    every = [n for one in group for n in range(one.first, one.last + 1)]
    return [tuple(every[k: k + stack]) for k in range(0, len(every), stack)]


def numbers(lift: Sequence[int]) -> str:
    """The sticks of a lift in words: 5, or 5 to 8, or 5, 6 and 9 where they do not follow one another."""
    if len(lift) > 1 and lift[-1] - lift[0] == len(lift) - 1:
        return f"{lift[0]} to {lift[-1]}"
    return " and ".join([", ".join(map(str, lift[:-1])), str(lift[-1])]) if len(lift) > 1 else str(lift[0])
