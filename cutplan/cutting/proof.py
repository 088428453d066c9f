"""Proves the bound on cost again, in plain integers: neither the optimiser nor any solver is used here.

With integer duals pi >= 0 scaled by K and P_s the most by which any pattern on stick s is worth more than the stick
costs, no plan costs less than (sum_i d_i pi_i - sum_s u_s max(0, P_s)) / K (Held, Cook and Sewell, Math. Prog.
Comp. 4 (2012) 363-381; Farley, Oper. Res. 38 (1990) 922-923), rounded up to the next sum of prices.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from cutplan.cutting.grounds import least_setups, least_used
from cutplan.cutting.plan import ProfilePlan, Tier
from cutplan.cutting.proof_holes import best_on_holes
from cutplan.lengths import exact_decimal


@dataclass(frozen=True)
class Proved:
    """What came of one profile: `ok` where nothing it claims was refuted, and lines that say what was proven.

    The first line is on cost, the others on the length used up and on the set-ups.
    """

    ok: bool
    line: str
    others: tuple[str, ...] = ()


def prove(profile: ProfilePlan) -> Proved:
    """Proves the bound of the first tier from the certificate; every claim in it is worked out again.

    Of the other two tiers only the plain floors are proven; what a search claims beyond them is named as such.
    """
    tier, claim, name = profile.tiers[0], Claim(profile), profile.profile
    shown, stated = claim.bound(), tier.bound
    words = f"{name}: costs {money(tier.value)}; proven: {no_cheaper(shown, tier.value)}"
    if shown < stated and claim.bound(trust_search=True) < stated:
        return Proved(False, f"{name}: the certificate proves only {money(shown)} of the bound {money(stated)}")
    if shown < stated:
        words += f"; by search, not checked here: {no_cheaper(stated, tier.value)}"
    return Proved(True, words, tuple(later_tiers(profile)))


def no_cheaper(bound: Fraction, cost: Fraction) -> str:
    return "no plan is cheaper" if bound >= cost else f"no plan costs less than {money(bound)}"


def later_tiers(profile: ProfilePlan) -> Iterator[str]:
    """What is proven of the length used up and of the set-ups, and what is only read."""
    _, used, setups = profile.tiers
    reached = f"{exact_decimal(used.value)} used up"
    yield f"{reached}: " + ground(used, least_used(profile), lambda bound: (
        "no plan of this cost uses up less" if bound >= used.value
        else f"no plan of this cost uses up less than {exact_decimal(bound)}"))
    yield f"{int(setups.value)} set-up{'s' * (setups.value != 1)}: " + ground(
        setups, Fraction(least_setups(profile)), lambda bound: (
            "no plan as good in cost and length has fewer" if bound >= setups.value
            else f"no plan has fewer than {int(bound)}"))


def ground(tier: Tier, floor: Fraction, words: Callable[[Fraction], str]) -> str:
    """What the floor proves of a tier and, where more is stated, what a search claims."""
    proven = f"proven: {words(min(floor, tier.value))}"
    return proven if floor >= tier.bound else f"{proven}; by search, not checked here: {words(tier.bound)}"


def money(value: Fraction) -> str:
    """Money to the cent, rounded down so that no claim grows in print."""
    cents = math.floor(value * 100)
    return f"{cents // 100}.{cents % 100:02d}"


MOST_SUMS = 10**8  # bits; beyond so many a bound is rounded up to a whole multiple only

Trims = tuple[Fraction, Fraction]
Kind = tuple[Fraction, Fraction, bool, Fraction, Trims]  # length, price, new, first hole, trims
Asked = tuple[Fraction, str]  # length, and what a rail's middle must fall on
Limits = dict[Kind, tuple[int, int]]  # the least and the most sticks of each kind


class Claim:
    """The certificate of one profile, read against the plan's own rules and demand."""

    def __init__(self, profile: ProfilePlan) -> None:
        self.profile = profile
        self.cost = profile.tiers[0].value
        self.coin = Fraction(profile.certificate["coin"])
        self.demand: dict[Asked, int] = {}
        for entry in profile.demand:
            key = entry.length, entry.centred
            self.demand[key] = self.demand.get(key, 0) + entry.qty

    def bound(self, trust_search: bool = False) -> Fraction:
        """What no plan can cost less than; with `trust_search`, taking a search's word for its boxes."""
        return self._box(self.profile.certificate["tree"], self._stock(), trust_search)

    def _stock(self) -> Limits:
        """How many of each kind a plan no dearer than this one can draw; each stick carries a piece at least."""
        pieces = sum(self.demand.values())
        limits: Limits = {}
        for entry in self.profile.certificate["stock"]:
            price = Fraction(entry["price"])
            first, trims = Fraction(entry.get("first", 0)), trims_of(self.profile, entry)
            kind = Fraction(entry["length"]), price, entry["tag"] is None, first, trims
            there = pieces if entry["qty"] is None else int(entry["qty"])
            most = min(limits.get(kind, (0, 0))[1] + there, pieces)
            limits[kind] = 0, min(most, int(self.cost // price)) if price else most
        return limits

    def _box(self, node: dict[str, Any], limits: Limits, trust_search: bool) -> Fraction:
        """The bound of one box: the lesser of its two halves', or what its duals prove."""
        if "stick" not in node:
            proven = self._leaf(node, limits)
            return max(proven, Fraction(node["search"])) if trust_search and "search" in node else proven
        stick = node["stick"]
        new, first = stick["source"] == "new", Fraction(stick.get("first", 0))
        kind = Fraction(stick["length"]), Fraction(stick["price"]), new, first, trims_of(self.profile, stick)
        low, high = limits[kind]
        at = int(node["at_most"])
        return min(
            self._box(node["below"], limits | {kind: (low, min(high, at))}, trust_search),
            self._box(node["above"], limits | {kind: (max(low, at + 1), high)}, trust_search),
        )

    def _leaf(self, node: dict[str, Any], limits: Limits) -> Fraction:
        if any(low > high for low, high in limits.values()):
            return self.cost
        scale = int(node["scale"])
        duals = {(Fraction(entry["length"]), entry.get("centred", "")): int(entry["value"]) for entry in node["duals"]}
        if scale < 1 or self.coin <= 0 or min(duals.values(), default=0) < 0 or not duals.keys() <= self.demand.keys():
            return Fraction(0)
        total = sum((self.demand[asked] * Fraction(pi) for asked, pi in duals.items()), Fraction(0))
        for (length, price, _, first, trims), (low, high) in limits.items():
            best = best_value(self.profile, duals, self.demand, length, first, trims)
            excess = best - scale * price / self.coin
            total -= max(low * excess, high * excess)
        return next_sum(limits, total * self.coin / scale, self.cost)


def trims_of(profile: ProfilePlan, entry: dict[str, Any]) -> Trims:
    """What sticks of an entry lose at their ends: what it says, else the profile's."""
    return (Fraction(entry.get("head_trim", profile.head_trim)), Fraction(entry.get("tail_trim", profile.tail_trim)))


def best_value(profile: ProfilePlan, duals: dict[Asked, int], demand: dict[Asked, int], length: Fraction,
               first: Fraction, trims: Trims) -> int:
    """The best value of a pattern on a stick of this length: a knapsack over undominated (fill, value) pairs."""
    if profile.routing is not None:
        # an offcut with one sawn end has that squared first; with both sawn, as with none, either may be
        turns = trims == (profile.head_trim, profile.tail_trim) or (not any(trims) and profile.tail_trim > 0)
        found = best_on_holes(profile.routing.pitch, first, length, trims, profile.kerf, duals, demand, turns)
        if found is not None:
            return found
    if profile.one_per_stick:
        room = length - 2 * max(trims)
        least = Fraction(0) if profile.most_trim is None else length - 2 * profile.most_trim
        return max((pi for (piece, _), pi in duals.items() if least <= piece <= room), default=0)
    room = length - sum(trims) + profile.kerf
    unit = math.lcm(room.denominator, profile.kerf.denominator, *(piece.denominator for piece, _ in duals))
    capacity = math.floor(room * unit)
    front = [(0, 0)]
    for (piece, centred), pi in duals.items():
        size = int((piece + profile.kerf) * unit)
        if pi == 0 or size <= 0:
            continue
        copies = min(demand[piece, centred], capacity // size)
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


def common(prices: Sequence[Fraction]) -> Fraction:
    """The largest amount of which every price is a whole multiple; 0 where all are zero."""
    shared = math.lcm(*(price.denominator for price in prices))
    return Fraction(math.gcd(*(int(price * shared) for price in prices)), shared)


def next_sum(limits: Limits, floor: Fraction, cost: Fraction) -> Fraction:
    """The least sum of prices that numbers of sticks within the limits give and that is at least `floor`.

    At most `cost`. The sums that occur are the bits of one integer.
    """
    base = sum((low * price for (_, price, *_), (low, _) in limits.items()), Fraction(0))
    unit = common([price for _, price, *_ in limits])
    if base >= cost or floor >= cost or not unit:
        return cost
    room, first = int((cost - base) / unit), max(0, math.ceil((floor - base) / unit))
    if room > MOST_SUMS:
        return min(cost, base + first * unit)
    sums = 1
    for (_, price, *_), (low, high) in limits.items():
        step, run = int(price / unit), 1
        most = min(high - low, room // step) if step else 0
        while most > 0:  # 1, 2, 4, ... and the rest make every number up to most
            part = min(run, most)
            sums |= (sums << (part * step)) & ((1 << (room + 1)) - 1)
            most -= part
            run *= 2
    above = sums >> first
    return base + (first + (above & -above).bit_length() - 1) * unit if above else cost
