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
from functools import partial
from typing import Any

from cutplan.checking.arrangement.knapsack import halves
from cutplan.checking.arrangement.protocol import PieceKind, Pulse, StickKind
from cutplan.checking.cover import least_cover
from cutplan.checking.kinds import asked_for, best_on_kinds, kind_of
from cutplan.checking.pairs import few_on, only_kind, too_few
from cutplan.checking.setups import SetupClaim
from cutplan.lengths import exact_decimal, rounded_decimal
from cutplan.plans.certificate import lies_in
from cutplan.plans.grounds import least_setups, least_used
from cutplan.plans.records import ProfilePlan, Tier, purchases

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Proved:
    """What came of one profile: `ok` where nothing it claims was refuted, and lines that say what was proven.

    The first line is on cost, the others on the length used up and on the set-ups.
    """

    ok: bool
    line: str
    others: tuple[str, ...] = ()


def prove(profile: ProfilePlan, tell: Tell = lambda text: None) -> Proved:
    """Proves the bound of the first tier from the certificate; every claim in it is worked out again.

    Of the length used up only the plain floor is proven, of set-ups what counting and the certificate's multipliers do;
    what a search claims beyond that is named as such.
    `tell` hears of progress, many times a second.
    """
    tier, claim, name = profile.tiers[0], Claim(profile, tell), profile.profile
    shown, stated = claim.bound(), tier.bound
    words = f"{name}: costs {rounded_decimal(tier.value)}{paid(profile)}; {cost_words(shown, tier.value)}"
    if shown < stated and claim.bound(trust_search=True) < stated:
        return Proved(False, f"{name}: the certificate proves only {at_least(shown)} of the bound {at_least(stated)}")
    if shown < stated:
        words += f"; by search, not checked here: {no_cheaper(stated, tier.value)}"
    if "setups" in profile.certificate:
        said = f"{name}: checking the proof of the set-ups"
        if not SetupClaim(profile, partial(tell, said)).holds():
            return Proved(False, f"{name}: the certificate's multipliers for the set-ups do not hold for every stick")
    return Proved(True, words, tuple(later_tiers(profile)))


def cost_words(bound: Fraction, cost: Fraction) -> str:
    """What is proven of a cost; that nothing costs less than nothing is no proof worth telling."""
    return f"proven: {no_cheaper(bound, cost)}" if bound > 0 or not cost else "nothing is proven of its cost"


def paid(profile: ProfilePlan) -> str:
    """Where no stick that costs anything is still to be bought, as in the plans of an order."""
    found = purchases(profile)
    return ", for sticks that are all on hand" if any(one.price for one in found) and not any(
        one.missing for one in found) else ""


def no_cheaper(bound: Fraction, cost: Fraction) -> str:
    return "no plan is cheaper" if bound >= cost else f"no plan costs less than {at_least(bound)}"


def later_tiers(profile: ProfilePlan) -> Iterator[str]:
    """What is proven of the length used up and of the set-ups, and what is only read."""
    _, used, setups = profile.tiers
    reached = f"{length(used.value)} used up"
    yield f"{reached}: " + ground(used, least_used(profile), lambda bound: (
        "no plan of this cost uses up less" if bound >= used.value
        else f"no plan of this cost uses up less than {length(bound)}"))
    yield f"{int(setups.value)} set-up{'s' * (setups.value != 1)}: " + ground(
        setups, Fraction(least_setups(profile)), lambda bound: (
            f"no plan {good_enough(profile)} has fewer" + f" than {int(bound)}" * (bound < setups.value)))


def good_enough(profile: ProfilePlan) -> str:
    """Which plans a bound on set-ups speaks of."""
    if profile.spare is None:
        return "as good in cost and length"
    return f"that costs at most {at_least(profile.spare.at_most)}"


def ground(tier: Tier, floor: Fraction, words: Callable[[Fraction], str]) -> str:
    """What the floor proves of a tier and, where more is stated, what a search claims."""
    proven = f"proven: {words(min(floor, tier.value))}"
    return proven if floor >= tier.bound else f"{proven}; by search, not checked here: {words(tier.bound)}"


def at_least(bound: Fraction) -> str:
    """Money that nothing costs less than, rounded down so that no claim grows in print; after "~" where it is."""
    down = Fraction(math.floor(bound * 100), 100)
    return ("" if down == bound else "~") + rounded_decimal(down)


def length(exact: Fraction) -> str:
    """A length in decimals; one that has no end in them is rounded, after "~", with what it is exactly behind it."""
    text = exact_decimal(exact)
    return f"{rounded_decimal(exact)} ({text})" if "/" in text else text


MOST_SUMS = 10**8  # bits; beyond so many a bound is rounded up to a whole multiple only

Limits = dict[StickKind, tuple[int, int]]  # the least and the most sticks of each kind


@dataclass(frozen=True)
class GivenDuals:
    """What a piece of each is worth, scaled by `scale`."""

    scale: int
    worths: tuple[tuple[PieceKind, int], ...]


class Claim:
    """The certificate of one profile, read against the plan's own rules and demand."""

    def __init__(self, profile: ProfilePlan, tell: Tell = lambda text: None) -> None:
        self.profile = profile
        # a plan that costs less than what is stated costs less than this, too: no other need be looked at
        self.stated = profile.tiers[0].bound
        self.cost = profile.tiers[0].value if profile.spare is None else min(profile.tiers[0].value, self.stated)
        self.coin = Fraction(profile.certificate["coin"])
        self.demand = asked_for(profile)
        self._stock = self._all_there()
        self._tell = tell
        self._best: dict[tuple[GivenDuals, bool], dict[StickKind, int]] = {}  # many boxes have the same duals

    def bound(self, trust_search: bool = False) -> Fraction:
        """What no plan can cost less than; with `trust_search`, taking a search's word for its boxes."""
        boxes = list(self._boxes())
        proven = self.cost
        for k, (node, limits) in enumerate(boxes, start=1):
            said = f"{self.profile.profile}: checking the proof, part {k} of {len(boxes)}"
            here = self._leaf(node, limits, partial(self._tell, said))
            if trust_search and "search" in node:
                here = max(here, Fraction(node["search"]))
            proven = min(proven, here)
        return proven

    def _all_there(self) -> Limits:
        """How many of each kind a plan no dearer than this one can draw; each stick carries a piece at least."""
        pieces = sum(self.demand.values())
        limits: Limits = {}
        for entry in self.profile.certificate["stock"]:
            price = Fraction(entry["price"])
            kind = kind_of(self.profile, entry, entry["tag"] is None)
            there = pieces if entry["qty"] is None else int(entry["qty"])
            most = min(limits.get(kind, (0, 0))[1] + there, pieces)
            limits[kind] = 0, min(most, int(self.cost // price)) if price else most
        return limits

    def _boxes(self) -> Iterator[tuple[dict[str, Any], Limits]]:
        """The leaves of the tree with the numbers of sticks that are left there: every plan is in one of them."""
        waiting = [(self.profile.certificate["tree"], self._stock)]
        while waiting:
            node, limits = waiting.pop()
            if "stick" not in node:
                yield node, limits
                continue
            kind = kind_of(self.profile, node["stick"], node["stick"]["source"] == "new")
            (low, high), at = limits[kind], int(node["at_most"])
            waiting.append((node["above"], limits | {kind: (max(low, at + 1), high)}))
            waiting.append((node["below"], limits | {kind: (low, min(high, at))}))

    def _leaf(self, node: dict[str, Any], limits: Limits, step: Pulse) -> Fraction:
        """What the duals of one box prove."""
        if any(low > high for low, high in limits.values()) or least_cost(limits) >= self.cost:
            return self.cost
        duals = GivenDuals(int(node["scale"]), tuple(
            ((Fraction(entry["length"]), lies_in(entry)), int(entry["value"])) for entry in node["duals"]))
        if not self._sound(duals):
            return Fraction(0)
        proven = self._proven(duals, limits, False, step)
        if proven < self.stated and any(low for low, _ in limits.values()):  # there it counts what falls short
            proven = self._proven(duals, limits, True, step)
        if proven < self.stated and "pairs" in node:
            proven = max(proven, self._over_pairs(node["pairs"], limits, step))
        if proven < self.stated and node.get("cover"):
            proven = max(proven, self._by_cover(duals, limits, step))
        return proven

    def _by_cover(self, duals: GivenDuals, limits: Limits, step: Pulse) -> Fraction:
        """What sticks cost at least that can be worth as much as all pieces are."""
        unit = common([price for _, price, *_ in limits])
        worth = sum(self.demand[asked] * pi for asked, pi in duals.worths)
        best = self._best_values(duals, True, step)
        return least_cover(limits, best, worth, unit, self.cost, step) if unit else Fraction(0)

    def _over_pairs(self, proof: dict[str, Any], limits: Limits, step: Pulse) -> Fraction:
        """What the sticks cost of which the tree over pairs proves that fewer are not enough."""
        sticks = int(proof["sticks"])
        kind = only_kind(self.profile, self.demand, [kind for kind, (_, high) in limits.items() if high])
        if kind is None or not too_few(few_on(self.profile, kind, self.demand, sticks), proof["nodes"], step):
            return Fraction(0)
        low, high = limits[kind]
        if high <= sticks:
            return self.cost
        return next_sum(limits | {kind: (max(low, sticks + 1), high)}, (sticks + 1) * kind[1], self.cost, step)

    def _sound(self, duals: GivenDuals) -> bool:
        asked = dict(duals.worths)
        return (duals.scale >= 1 and self.coin > 0 and min(asked.values(), default=0) >= 0
                and len(asked) == len(duals.worths) and asked.keys() <= self.demand.keys())

    def _proven(self, duals: GivenDuals, limits: Limits, exactly: bool, step: Pulse) -> Fraction:
        best = self._best_values(duals, exactly, step)
        total = Fraction(sum(self.demand[asked] * pi for asked, pi in duals.worths))
        for kind, (low, high) in limits.items():
            excess = best[kind] - self._charge(duals, kind)
            total -= max(low * excess, high * excess)
        return next_sum(limits, total * self.coin / duals.scale, self.cost, step)

    def _best_values(self, duals: GivenDuals, exactly: bool, step: Pulse) -> dict[StickKind, int]:
        """The most that a pattern on a stick of each kind is worth; unless `exactly`, no less than the stick costs."""
        known = self._best.get((duals, exactly))
        if known is None:
            floors = {kind: 0 if exactly else math.floor(self._charge(duals, kind)) for kind in self._stock}
            known = self._best[duals, exactly] = best_on_kinds(
                self.profile, dict(duals.worths), self.demand, floors, step)
        return known

    def _charge(self, duals: GivenDuals, kind: StickKind) -> Fraction:
        """What a pattern must be worth to pay for its stick."""
        return duals.scale * kind[1] / self.coin


def least_cost(limits: Limits) -> Fraction:
    """What the sticks that have to be drawn cost."""
    return sum((low * kind[1] for kind, (low, _) in limits.items() if low), Fraction(0))


def common(prices: Sequence[Fraction]) -> Fraction:
    """The largest amount of which every price is a whole multiple; 0 where all are zero."""
    shared = math.lcm(*(price.denominator for price in prices))
    return Fraction(math.gcd(*(int(price * shared) for price in prices)), shared)


def next_sum(limits: Limits, floor: Fraction, cost: Fraction, step: Pulse) -> Fraction:
    """The least sum of prices that numbers of sticks within the limits give and that is at least `floor`.

    At most `cost`. The sums that occur are the bits of one integer.
    """
    base = least_cost(limits)
    unit = common([price for _, price, *_ in limits])
    if base >= cost or floor >= cost:
        return cost
    if not unit:
        return base if floor <= base else cost
    room, first = int((cost - base) / unit), max(0, math.ceil((floor - base) / unit))
    if room > MOST_SUMS:
        return min(cost, base + first * unit)
    sums, within = 1, (1 << (room + 1)) - 1
    for (_, price, *_), (low, high) in limits.items():
        for part in halves(min(high - low, int(room * unit / price)) if price else 0):
            step()
            sums |= (sums << (part * int(price / unit))) & within
    above = sums >> first
    return base + (first + (above & -above).bit_length() - 1) * unit if above else cost
