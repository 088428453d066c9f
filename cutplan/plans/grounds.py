"""What a stated bound rests on: what a plan file proves by itself, or the word of a search.

Of the first tier the certificate proves what its duals do; a leaf that says "search" is a search's word. Of the second
and third tier only the plain floors below follow from the file. Nothing of the optimiser is used here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from cutplan.lengths import added
from cutplan.plans.certificate import lies_in
from cutplan.plans.records import ProfilePlan
from cutplan.sums import granule

MOST_AMOUNTS = 200_000  # of the table of what amounts buy; beyond them only the pieces' own length is a floor


def grounded(profile: ProfilePlan) -> ProfilePlan:
    """The same plan, each tier saying whether its bound rests on a search."""
    cost, used, setups = profile.tiers
    return replace(profile, tiers=(
        replace(cost, by_search=has_search(profile.certificate.get("tree"))),
        replace(used, by_search=used.bound > least_used(profile)),
        replace(setups, by_search=setups.bound > least_setups(profile)),
    ))


def raised(profile: ProfilePlan) -> ProfilePlan:
    """The same plan, no bound below what follows from the plan itself."""
    cost, used, setups = profile.tiers
    return replace(profile, tiers=(
        cost,
        replace(used, bound=min(used.value, max(used.bound, least_used(profile)))),
        replace(setups, bound=min(setups.value, max(setups.bound, Fraction(least_setups(profile))))),
    ))


def has_search(tree: Any) -> bool:
    """Whether any leaf of a certificate's tree states the bound of a search."""
    open_ = [tree]
    while open_:
        node = open_.pop()
        if isinstance(node, dict):
            if "search" in node:
                return True
            open_ += [node.get("below"), node.get("above")]
    return False


def least_used(profile: ProfilePlan) -> Fraction:
    """No plan of this cost or less uses up less length than this.

    Each stick loses its squared end, and a kerf between its pieces, beside them. Where no sticks that such a plan can
    buy leave enough beside all that for an offcut to be kept, it uses up all that it draws.
    """
    cut = cut_up(profile)
    found = drawn(profile)
    if found is None:
        return cut
    least, most = found
    keeps = profile.keep_from is not None and not profile.one_per_stick and (
        most is None or most - cut >= profile.keep_from)
    return cut if keeps else max(cut, least)


def cut_up(profile: ProfilePlan) -> Fraction:
    """The pieces, a kerf between those of a stick, and the squared end of each stick: at least so much is no offcut.

    Between no sticks (one for each piece) and the fewest that their length alone allows. An offcut's end may be sawn
    square already.
    """
    number = sum(entry.qty for entry in profile.demand)
    pieces = added((entry.qty, entry.middle) for entry in profile.demand)
    stock = profile.certificate.get("stock", [])
    head = Fraction(0) if any(entry["tag"] is not None for entry in stock) else profile.head_trim
    longest = max((Fraction(entry["length"]) for entry in stock), default=pieces)
    sticks = math.ceil(pieces / longest) if head >= profile.kerf else number
    return pieces + (number - sticks) * profile.kerf + sticks * head


def drawn(profile: ProfilePlan) -> tuple[Fraction, Fraction | None] | None:
    """The least and the most length that a plan of this cost or less can draw; None where that is too long to tell.

    It costs no less than what is proven of the cost, if that does not rest on a search. The most is None where there
    is no end to it.
    """
    tier, stock = profile.tiers[0], profile.certificate.get("stock", [])
    new: dict[tuple[Fraction, Fraction], None] = {}
    rack: Fraction | None = Fraction(0)
    for entry in stock:
        length, price, qty = Fraction(entry["length"]), Fraction(entry["price"]), entry["qty"]
        if entry["tag"] is None and price:
            new[price, length] = None
        elif rack is not None:
            rack = None if qty is None else rack + qty * length
    unit = math.lcm(tier.value.denominator, *(price.denominator for price, _ in new))
    coin = math.gcd(*(int(price * unit) for price, _ in new)) if new else 1
    amount = math.floor(tier.value * unit / coin)
    proven = Fraction(0) if has_search(profile.certificate.get("tree")) else tier.bound
    if amount * len(new) > MOST_AMOUNTS:
        return None
    step = math.lcm(*(length.denominator for _, length in new))
    kinds = tuple((int(price * unit) // coin, int(length * step)) for price, length in new)
    sums = [found for found in bought(kinds, amount)[math.ceil(proven * unit / coin):] if found is not None]
    if not sums:
        return None
    least, most = min(low for low, _ in sums), max(high for _, high in sums)
    return Fraction(least, step), None if rack is None else Fraction(most, step) + rack


@lru_cache(maxsize=4)
def bought(kinds: tuple[tuple[int, int], ...], amount: int) -> tuple[tuple[int, int] | None, ...]:
    """For each sum up to `amount` the least and the most length that sticks (price, length) of that sum have."""
    found: list[tuple[int, int] | None] = [(0, 0)]
    for at in range(1, amount + 1):
        ways = [(before, length) for price, length in kinds if price <= at and (before := found[at - price])]
        found.append((min(low + length for (low, _), length in ways), max(high + length for (_, high), length in ways))
                     if ways else None)
    return tuple(found)


def least_setups(profile: ProfilePlan) -> int:
    """No plan as good has fewer set-ups: what the certificate's multipliers come to, or plain counting if that is more.

    `check` looks whether the multipliers hold.
    """
    return max(counted_setups(profile), certified_setups(profile))


def certified_setups(profile: ProfilePlan) -> int:
    """What the multipliers of the certificate come to; 0 where it has none."""
    given = profile.certificate.get("setups")
    if not given:
        return 0
    worths = {(Fraction(entry["length"]), lies_in(entry)): int(entry["value"]) for entry in given["duals"]}
    worth = Fraction(sum(entry.qty * worths.get((entry.length, entry.lies), 0) for entry in profile.demand))
    stock = profile.certificate["stock"]
    spent = profile.tiers[0].value
    if profile.spare is not None:
        step = granule(Fraction(entry["price"]) for entry in stock if entry["qty"] != 0)
        spent = profile.spare.at_most // step * step
    worth -= given["cost"] * spent / Fraction(profile.certificate["coin"])
    worth -= given["used"] * profile.tiers[1].value / Fraction(given["unit"])
    worth -= sum(limit * (entry["qty"] or 0) for entry, limit in zip(stock, given["limits"], strict=True))
    least: int = math.ceil(worth / given["scale"])
    return max(0, least)


def counted_setups(profile: ProfilePlan) -> int:
    """No plan at all has fewer set-ups: each cuts only so many different lengths, and each is cut somewhere."""
    settings = {(entry.length.as_integer_ratio(), entry.ends): entry.middle for entry in profile.demand}
    lengths = sorted(settings.values())
    if profile.one_per_stick:
        return len(lengths)
    room = max((room_of(profile, entry) for entry in profile.certificate.get("stock", []) if entry["qty"] != 0),
               default=Fraction(0))
    different = sum(1 for _ in sharing(lengths, room, profile.kerf))
    return -(-len(lengths) // max(1, different))


def room_of(profile: ProfilePlan, entry: Mapping[str, Any]) -> Fraction:
    """What the pieces of a stick and a kerf after each may add up to."""
    trims = (Fraction(entry.get(key, usual)) for key, usual in (
        ("head_trim", profile.head_trim), ("tail_trim", profile.tail_trim)))
    return Fraction(entry["length"]) - sum(trims) + profile.kerf


def sharing(lengths: list[Fraction], room: Fraction, kerf: Fraction) -> Iterator[Fraction]:
    """The shortest of the lengths, as many as one stick has room for: the most that can share it."""
    for length in lengths:
        room -= length + kerf
        if room < 0:
            return
        yield length
