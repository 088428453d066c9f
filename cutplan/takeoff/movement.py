"""How far rails move with the weather, and whether there is room for it: a reminder with its figures.

A length L of a profile that grows by a for each degree moves by a L dT. From the coldest cutting to the hottest use it
grows most, from the hottest cutting to the coldest use it shrinks most.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import show
from cutplan.orders import Order
from cutplan.shop import BayRule, Profile, Shop, System
from cutplan.shop.systems import RAILS
from cutplan.takeoff.assembly import Part, of_kind

MOVEMENT_PLACES = {"in": 3, "mm": 1}


@dataclass(frozen=True)
class Movement:
    """The most that a length grows and shrinks, in the file's unit."""

    grows: Fraction
    shrinks: Fraction


def movement(length: Fraction, profile: Profile, shop: Shop) -> Movement | None:
    """None where the shop file does not say how the profile moves, or what weather it sees."""
    if profile.expansion is None or shop.cut_at is None or shop.used_at is None:
        return None
    scale = shop.used_at.degree
    cut = shop.cut_at.to(scale)
    each = length * profile.expansion.per(scale)
    return Movement(each * max(Fraction(0), shop.used_at.high - cut.low),
                    each * max(Fraction(0), cut.high - shop.used_at.low))


def movements(order: Order, parts: Sequence[Part], system: System, shop: Shop) -> Iterator[str]:
    """A sentence for the rails of each profile whose movement is known, of the longest of them; one for all alike."""
    alike: dict[str, list[Part]] = {}
    for rail in of_kind(parts, *RAILS):
        alike.setdefault(rail.profile, []).append(rail)
    told: dict[str, list[str]] = {}
    for profile, rails in alike.items():
        rail = max(rails, key=lambda one: one.length)
        if (moves := movement(rail.length, shop.profiles[profile], shop)) is None:
            continue
        said = (f"{read(rail.length, shop)}: after cutting it may grow by {figure(moves.grows, shop.unit)} and "
                f"shrink by {figure(moves.shrinks, shop.unit)}.")
        rooms = [*ends(order, moves, system, shop), *insert(rail, moves, parts, system, shop)]
        told.setdefault(" ".join([said, *rooms]), []).extend(one.part.removesuffix(" rail") for one in rails)
    for said, names in told.items():
        *before, last = dict.fromkeys(names)
        which = f"{', '.join(before)} and {last}" if before else last
        yield f"{which.capitalize()} rail, {said}"


def ends(order: Order, moves: Movement, system: System, shop: Shop) -> Iterator[str]:
    """The room for it at the ends of a rail."""
    if order.kind != "gate" and system.bay is not None:
        yield from at_posts(moves, system.bay, order.slope, shop)
    elif system.gate is not None:
        rule = system.gate
        gaps = rule.latch_gap + rule.hinge_gap if order.leaves == 1 else 2 * rule.hinge_gap + rule.meeting_gap
        widens = "The leaf widens" if order.leaves == 1 else "Both leaves widen"
        yield (f"{widens} with it into gaps of {read(gaps, shop)} together: "
               f"{enough(gaps >= order.leaves * moves.grows)}.")


def at_posts(moves: Movement, rule: BayRule, rake: Fraction, shop: Shop) -> Iterator[str]:
    """What a bay has at its posts is measured level; along a rake that is sqrt(1 + rake^2) as much."""
    room, held, more = 2 * rule.end_clearance, 2 * rule.hidden, 1 + rake**2
    level = ", level," if rake else ""
    grows, shrinks = room**2 * more >= moves.grows**2, held**2 * more > moves.shrinks**2
    yield f"It grows into end clearances of {read(room, shop)}{level} together: {enough(grows)}."
    yield f"As it shrinks, the posts hide {read(held, shop)}{level} of it: {enough(shrinks)}."


def insert(rail: Part, moves: Movement, parts: Sequence[Part], system: System, shop: Shop) -> Iterator[str]:
    """Whether the rail shrinks onto the ends of its insert, or the insert grows out of the rail's."""
    inside = [one for one in of_kind(parts, "insert", leaf=rail.leaf) if one.place == rail.called]
    if not inside:
        return
    own = movement(inside[0].length, shop.profiles[inside[0].profile], shop)
    if own is None:
        return
    short, tape = system.insert_short, read(system.insert_short, shop)
    for more, said in ((moves.shrinks - own.shrinks, "It may shrink by {} more than its insert, which is {} shorter"),
                       (own.grows - moves.grows, "Its insert may grow by {} more than it, and is {} shorter")):
        if more > 0:
            yield f"{said.format(figure(more, shop.unit), tape)}: {enough(short >= more)}."


def read(length: Fraction, shop: Shop) -> str:
    """As a tape reads it; what is compared with it, is compared with the length itself."""
    return f"{show(length, shop.unit, shop.tape)} {shop.unit}"


def enough(fits: bool) -> str:
    return "enough" if fits else "too little"


def figure(length: Fraction, unit: str) -> str:
    """A length in decimals, to the nearest, after "~" where it is rounded. What it is compared with, it is exactly."""
    places = MOVEMENT_PLACES[unit]
    parts = length * 10**places
    whole, rest = divmod(math.floor(parts + Fraction(1, 2)), 10**places)
    return f"{'' if parts.denominator == 1 else '~'}{whole}.{rest:0{places}d} {unit}"
