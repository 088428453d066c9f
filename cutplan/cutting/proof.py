"""Proves the bound on cost again, in plain integers: neither the optimiser nor any solver is used here.

With integer duals pi >= 0 scaled by K and P_s the most by which any pattern on stick s is worth more than the stick
costs, no plan costs less than (sum_i d_i pi_i - sum_s u_s max(0, P_s)) / K (Held, Cook and Sewell, Math. Prog.
Comp. 4 (2012) 363-381; Farley, Oper. Res. 38 (1990) 922-923), rounded up to the next sum of prices.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from cutplan.cutting.plan import ProfilePlan


@dataclass(frozen=True)
class Proved:
    """What came of one profile: `ok` where nothing it claims was refuted, and a line that says what was proven."""

    ok: bool
    line: str


def prove(profile: ProfilePlan) -> Proved:
    """Proves the bound of the first tier from the certificate."""
    cost, bound = profile.tiers[0].value, profile.tiers[0].bound
    shown = lower_bound(profile)
    name, money = profile.profile, f"{float(cost):g}"
    if shown >= bound:
        words = "no plan is cheaper" if shown >= cost else f"no plan costs less than {float(shown):g}"
        return Proved(True, f"{name}: costs {money}; proven: {words}")
    if profile.certificate.get("search") is True:
        return Proved(True, f"{name}: costs {money}; proven that no plan costs less than {float(shown):g}; "
                            f"that none costs less than {float(bound):g} was proved by search, not by certificate")
    return Proved(False, f"{name}: the certificate proves only {float(shown):g} of the bound {float(bound):g}")


def lower_bound(profile: ProfilePlan) -> Fraction:
    """What the certificate proves no plan of this profile can cost less than."""
    certificate = profile.certificate
    demand: dict[Fraction, int] = {}
    for entry in profile.demand:
        demand[entry.length] = demand.get(entry.length, 0) + entry.qty
    scale = int(certificate["scale"])
    coin = Fraction(certificate.get("coin", 1))
    duals = {Fraction(entry["length"]): int(entry["value"]) for entry in certificate["duals"]}
    stock = sticks(certificate["stock"], sum(demand.values()), profile.tiers[0].value)
    if scale < 1 or coin <= 0 or any(pi < 0 for pi in duals.values()) or not duals.keys() <= demand.keys():
        return Fraction(0)
    total = sum((demand[length] * Fraction(pi) for length, pi in duals.items()), Fraction(0))
    for (length, price), most in stock.items():
        excess = best_value(profile, duals, demand, length) - scale * price / coin
        total -= most * max(Fraction(0), excess)
    return next_sum(stock, total * coin / scale, profile.tiers[0].value)


def sticks(listed: list[dict[str, Any]], pieces: int, cost: Fraction) -> dict[tuple[Fraction, Fraction], int]:
    """How many of each (length, price) a plan no dearer than `cost` can draw; each carries at least one piece."""
    most: dict[tuple[Fraction, Fraction], int] = {}
    for entry in listed:
        price = Fraction(entry["price"])
        key = (Fraction(entry["length"]), price)
        there = pieces if entry["qty"] is None else int(entry["qty"])
        most[key] = min(most.get(key, 0) + there, pieces, *([int(cost // price)] if price else []))
    return most


def best_value(profile: ProfilePlan, duals: dict[Fraction, int], demand: dict[Fraction, int],
               length: Fraction) -> int:
    """The best value of a pattern on a stick of this length: a knapsack over undominated (fill, value) pairs."""
    if profile.one_per_stick:
        room = length - 2 * max(profile.head_trim, profile.tail_trim)
        return max((pi for piece, pi in duals.items() if piece <= room), default=0)
    room = length - profile.head_trim - profile.tail_trim + profile.kerf
    unit = math.lcm(room.denominator, profile.kerf.denominator, *(piece.denominator for piece in duals))
    capacity = math.floor(room * unit)
    front = [(0, 0)]
    for piece, pi in duals.items():
        size = int((piece + profile.kerf) * unit)
        if pi == 0 or size <= 0:
            continue
        copies = min(demand[piece], capacity // size)
        front = undominated(
            (fill + a * size, worth + a * pi)
            for fill, worth in front
            for a in range(copies + 1)
            if fill + a * size <= capacity
        )
    return front[-1][1] if capacity >= 0 else 0


def undominated(pairs: Any) -> list[tuple[int, int]]:
    """The pairs that no pair of smaller or equal fill beats, by rising fill."""
    front: list[tuple[int, int]] = []
    for fill, worth in sorted(pairs, key=lambda pair: (pair[0], -pair[1])):
        if not front or worth > front[-1][1]:
            front.append((fill, worth))
    return front


def next_sum(stock: dict[tuple[Fraction, Fraction], int], floor: Fraction, cost: Fraction) -> Fraction:
    """The least sum of prices, each taken as often as there are sticks, that is at least `floor`; at most `cost`."""
    if floor >= cost:
        return cost
    prices = [(price, most) for (_, price), most in stock.items() if price]
    if not prices:
        return max(floor, Fraction(0))
    unit = math.lcm(*(price.denominator for price, _ in prices))
    top = math.ceil(cost * unit)
    sums = 1
    for price, most in prices:
        step, run = int(price * unit), 1
        while most > 0:
            part = min(run, most)
            sums |= (sums << (part * step)) & ((1 << (top + 1)) - 1)
            most -= part
            run *= 2
    first = max(0, math.ceil(floor * unit))
    above = sums >> first
    if not above:
        return cost
    return min(cost, Fraction(first + (above & -above).bit_length() - 1, unit))


