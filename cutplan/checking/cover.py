"""The least that numbers of sticks cost which can carry the demand, by what a stick of each kind can be worth.

Every plan's sticks are together worth what its pieces are, or more. So no plan costs less than the cheapest numbers of
sticks, within the limits of a box, whose worths come to that: a knapsack over numbers of sticks, in whole numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import numpy as np

from cutplan.checking.arrangement.knapsack import halves
from cutplan.checking.arrangement.protocol import Pulse, StickKind

MOST_COVERS = 2 * 10**8  # of cost times parts; beyond so many nothing is proven so
MOST_TOGETHER_WORTH = 2**62  # of all sticks together, so that no sum of worths leaves 64 bits


def least_cover(limits: Mapping[StickKind, tuple[int, int]], worths: Mapping[StickKind, int], need: int,
                unit: Fraction, cost: Fraction, step: Pulse) -> Fraction:
    """The least cost of numbers within the limits that are worth `need`; `cost` where none cost less than that.

    `limits` are the least and the most sticks of each kind, `worths` the most that one of each is worth.
    Every price is a whole multiple of `unit`. 0 where the numbers are too large to be gone through.
    """
    spent = sum((low * kind[1] for kind, (low, _) in limits.items() if low), Fraction(0))
    need -= sum(low * worths[kind] for kind, (low, _) in limits.items() if low)
    if spent >= cost or need <= 0:
        return min(spent, cost)
    room = int((cost - spent) / unit)
    parts = []
    for kind, (low, high) in limits.items():
        price = int(kind[1] / unit)
        for n in halves(min(high - low, room // price) if price else high - low):
            parts.append((n * price, n * worths[kind]))
    if (room + 1) * len(parts) > MOST_COVERS or sum(worth for _, worth in parts) >= MOST_TOGETHER_WORTH:
        return Fraction(0)
    best = np.zeros(room + 1, dtype=np.int64)  # the most that sticks for no more than so many units are worth
    for price, worth in parts:
        step()
        with_part = best[: room + 1 - price] + worth
        best[price:] = np.where(with_part > best[price:], with_part, best[price:])
    enough = np.flatnonzero(best >= need)
    return min(cost, spent + int(enough[0]) * unit) if len(enough) else cost
