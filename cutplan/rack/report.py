"""What the rack is worth: what came, what went, what has lain too long and what nothing can use."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from cutplan.lengths import exact_decimal, factor
from cutplan.rack import rules, shelf
from cutplan.rack.shelf import Event, Offcut
from cutplan.rack.store import Rack
from cutplan.rack.supply import as_stock
from cutplan.shop import Profile, Shop, System

YEAR = timedelta(days=365)
CAME = {"added": 1, "kept": 1, "taken back": -1}  # what an event adds to what has come; to what has gone
WENT = {"cut up": 1, "scrapped": 1, "put back": -1}


@dataclass(frozen=True)
class Flow:
    """Offcuts that came and went in a month or of a profile: how many, and their length in the rack's unit.

    `worth` is what as much new stock as is left would cost at the shop's best price by length; None without prices.
    """

    name: str
    came: int
    came_length: Fraction
    went: int
    went_length: Fraction
    left: int
    left_length: Fraction
    worth: Fraction | None


@dataclass(frozen=True)
class Report:
    """The rack over its months and by profile; offcuts that have lain longer than a year; what to scrap, and why."""

    months: tuple[Flow, ...]
    profiles: tuple[Flow, ...]
    old: tuple[Offcut, ...]
    useless: tuple[tuple[Offcut, str], ...]


def report(rack: Rack, shop: Shop | None) -> Report:
    """The report as of the rack's `now`; without a shop nothing is said of worth and use."""
    events = [event for event in shelf.history(rack) if event.tag and event.what in CAME | WENT]
    here = shelf.offcuts(rack)
    price = prices(shop, rack.unit) if shop else {}
    months = sorted({event.at[:7] for event in events})
    names = sorted({event.profile for event in events})
    since = (datetime.fromisoformat(rack.now) - YEAR).isoformat()[:19]
    return Report(
        months=tuple(flow(month, [e for e in events if e.at[:7] == month], [e for e in events if e.at[:7] <= month],
                          price if shop else None) for month in months),
        profiles=tuple(flow(name, of_it := [e for e in events if e.profile == name], of_it, price if shop else None)
                       for name in names),
        old=tuple(one for one in here if one.came < since),
        useless=tuple(useless(here, shop, rack)) if shop else (),
    )


def flow(name: str, within: Iterable[Event], until: Iterable[Event], price: dict[str, Fraction] | None) -> Flow:
    """What came and went in some events, and what was left after others."""
    within, until = list(within), list(until)
    came, came_length = summed(within, CAME)
    went, went_length = summed(within, WENT)
    balance = CAME | {what: -sign for what, sign in WENT.items()}
    left, left_length = summed(until, balance)
    worth = None
    if price is not None:
        worth = sum((balance[e.what] * (e.length or 0) * price.get(e.profile, Fraction(0)) for e in until), Fraction(0))
    return Flow(name, came, came_length, went, went_length, left, left_length, worth)


def summed(events: Iterable[Event], signs: dict[str, int]) -> tuple[int, Fraction]:
    counted = [(signs[event.what], event.length) for event in events if event.what in signs and event.length]
    return sum(sign for sign, _ in counted), sum((sign * length for sign, length in counted), Fraction(0))


def prices(shop: Shop, unit: str) -> dict[str, Fraction]:
    """What a unit of length of each profile costs at the least, in the rack's unit."""
    per = factor(shop.unit, unit)
    return {name: min(entry.price / (entry.length * per) for entry in profile.stock)
            for name, profile in shop.profiles.items()}


def useless(here: Iterable[Offcut], shop: Shop, rack: Rack) -> Iterator[tuple[Offcut, str]]:
    """The offcuts that no system of the shop can use, or no piece so far was short enough for, with the reason."""
    used = {part for system in shop.systems.values() for part in parts(system)}
    inward = factor(rack.unit, shop.unit)
    least = {name: rules.shortest(rack, name) for name in shop.profiles}
    for one in here:
        profile = shop.profiles.get(one.profile)
        if profile is None:
            yield one, "the shop file has no such profile"
        elif profile.name not in used:
            yield one, "no system in the shop file uses this profile"
        elif reason := too_short(profile, one, least[one.profile], inward):
            yield one, reason
        elif profile.routing is not None and one.first is None:
            yield one, "where its first hole is was never said"


def parts(system: System) -> set[str | None]:
    return {system.top_rail, system.bottom_rail, system.picket, system.insert, system.upright}


def too_short(profile: Profile, offcut: Offcut, shortest: Fraction | None, inward: Fraction) -> str:
    """Why an offcut is of no use; "" where it is long enough. `shortest` is the least piece ever asked for.

    Both are in the rack's unit; `inward` of the shop's unit make one of it.
    """
    longest = profile.longest_piece(as_stock(profile, offcut, inward))
    if longest <= 0:
        return "its trims leave nothing of it"
    if shortest is not None and longest < shortest * inward:
        return f"no piece so far was as short: {exact_decimal(shortest * inward)} is the least"
    if profile.keep_from is not None and offcut.length * inward < profile.keep_from:
        return f"shorter than {exact_decimal(profile.keep_from)}, from which on offcuts of it are kept"
    return ""
