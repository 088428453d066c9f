"""Pieces that fill their sticks nearly to the end, and the fewest sticks by trying everything."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import cache

from cutplan.cutting.problem.instance import Instance, build_instance
from tests.cutting.shops import profile


def instance_of(capacity: int, pieces: Sequence[int]) -> Instance:
    return build_instance(profile([(capacity, 1, None)]), {(Fraction(w), "", 1): n for w, n in Counter(pieces).items()})


def fewest(capacity: int, pieces: Sequence[int]) -> int:
    """The fewest sticks, by trying every stick for each piece, the longest first."""
    pieces = sorted(pieces, reverse=True)

    def fits(sticks: int) -> bool:
        @cache
        def rest(k: int, rooms: tuple[int, ...]) -> bool:
            if k == len(pieces):
                return True
            return any(
                rest(k + 1, tuple(sorted((*rooms[:s], room - pieces[k], *rooms[s + 1:]))))
                for s, room in enumerate(rooms) if room >= pieces[k] and room not in rooms[:s]
            )
        return rest(0, (capacity,) * sticks)

    return next(n for n in range(1, len(pieces) + 1) if fits(n))


def nearly_full(seed: int) -> tuple[int, list[int]]:
    """Pieces of which full sticks were cut, but of some a little was given to others: they may not fit any more."""
    chance = random.Random(seed)
    capacity, sticks = chance.choice([24, 40, 60]), chance.randint(3, 5)
    pieces = []
    for _ in range(sticks):
        cuts = sorted(chance.sample(range(3, capacity - 2), chance.choice([1, 2, 2])))
        pieces += [b - a for a, b in zip([0, *cuts], [*cuts, capacity], strict=True)]
    for _ in range(chance.randint(0, 6)):
        i, j = chance.sample(range(len(pieces)), 2)
        if pieces[j] > 3 and pieces[i] < capacity:
            pieces[i], pieces[j] = pieces[i] + 1, pieces[j] - 1
    for _ in range(chance.choice([0, 0, 1, 3])):
        k = chance.randrange(len(pieces))
        pieces[k] = max(1, pieces[k] - 1)
    return capacity, pieces


def cut_up(seed: int, sticks: int, capacity: int, spare: Sequence[int] = (0,)) -> list[int]:
    """The pieces of so many sticks that were cut up, each with a little to spare."""
    chance = random.Random(seed)
    pieces = []
    for _ in range(sticks):
        full = capacity - chance.choice(spare)
        cuts = sorted(chance.sample(range(20, full - 20), chance.choice([2, 2, 3])))
        pieces += [b - a for a, b in zip([0, *cuts], [*cuts, full], strict=True)]
    return [piece for piece in pieces if piece]
