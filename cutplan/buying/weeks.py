"""Several weeks one after the other: what one leaves on the rack is there for the next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from cutplan.cutting import cut_pieces
from cutplan.cutting.effort import Effort
from cutplan.cutting.plan import Plan, ProfilePlan
from cutplan.orders import Piece
from cutplan.shop import Profile, Shop, Stock


def week_by_week(weeks: Sequence[Sequence[Piece]], shop: Shop, limit: float | None = None,
                 progress: Callable[[str], None] | None = None) -> Iterator[Plan]:
    """The plan of each week, made without a look at the next ones; kept offcuts are carried on.

    `limit` seconds are for all of them. Raises NoPlan and InputProblems as cutting does.
    """
    effort = Effort(limit)
    for k, pieces in enumerate(weeks):
        plan = cut_pieces(pieces, shop, effort.share(len(weeks) - k).left(), progress)
        shop = left_by(plan, shop, f"week {k + 1}")
        yield plan


def left_by(plan: Plan, shop: Shop, name: str) -> Shop:
    """The shop with its stock as a plan leaves it: what it drew is gone, what it kept is there."""
    profiles = dict(shop.profiles)
    for part in plan.profiles:
        profiles[part.profile] = left_of(profiles[part.profile], part, name)
    return replace(shop, profiles=profiles)


def left_of(profile: Profile, plan: ProfilePlan, name: str) -> Profile:
    drawn: Counter[tuple[str | None, Fraction, Fraction]] = Counter()
    kept = []
    for number, stick in enumerate(plan.sticks, start=1):
        drawn[stick.tag, stick.length, stick.price] += stick.count
        if stick.keep:
            first = stick.first_of_offcut(profile.routing.pitch, profile.kerf) if profile.routing else None
            kept += [Stock(stick.offcut, Fraction(0), 1, f"{name}, {number}.{k}", first)
                     for k in range(1, stick.count + 1)]
    stock = []
    for entry in profile.stock:
        key = entry.tag, entry.length, entry.price
        gone = drawn[key] if entry.qty is None else min(drawn[key], entry.qty)
        drawn[key] -= gone
        if entry.qty is None or entry.qty > gone or entry.tag is None:
            stock.append(entry if entry.qty is None else replace(entry, qty=entry.qty - gone))
    return replace(profile, stock=(*stock, *kept))
