"""Goes through an order with nothing but the shop's entries, the pieces and the plans: no line of the search is used.

Each line as the entry sells it, each supplier's amount and freight, every week's plan sound and made of sticks that are
there by then, and of offcuts that lie on the rack or were kept by a week before.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from fractions import Fraction

from cutplan.buying.order import OrderLine, PlacedOrder, ProfileOrder
from cutplan.checking.audit import audit as audit_plan
from cutplan.lengths import exact_decimal as said
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.shop import Profile, Shop, Supplier


def audit(order: PlacedOrder, weeks: Sequence[Sequence[Piece]], shop: Shop,
          on_hand: Mapping[str, Sequence[tuple[Fraction, int]]]) -> list[str]:
    """Everything wrong with an order for these weeks; empty where it is right."""
    found = list(suppliers(order, shop))
    asked = {piece.profile for week in weeks for piece in week}
    if asked != {one.profile for one in order.profiles}:
        found.append("some profile has no order")
    for one in order.profiles:
        profile = shop.profiles[one.profile]
        there = dict(on_hand.get(one.profile, ()))
        found += [f"{one.profile}: {text}" for line in one.lines for text in terms(line, profile, there)]
        found += [f"{one.profile}: {text}" for text in pieces(one, weeks)]
        found += [f"{one.profile}: {text}" for text in sticks(one, order, profile, there)]
        for plan in one.weeks:
            if plan is not None:
                found += audit_plan(Plan(shop.unit, (plan,)))
    if order.bound > order.money:
        found.append(f"the order costs {said(order.money)}, which is less than its bound {said(order.bound)}")
    return found


def terms(line: OrderLine, profile: Profile, there: Mapping[Fraction, int]) -> Iterator[str]:
    """Whole bundles, no fewer than the least order, no more than there are, at the price for so many."""
    entry = profile.stock[line.place]
    name = f"{said(entry.length)}: {line.ordered} ordered"
    if line.ordered % entry.bundle:
        yield f"{name}, which are no whole bundles of {entry.bundle}"
    if 0 < line.ordered < entry.min_order:
        yield f"{name}, fewer than the least order, {entry.min_order}"
    if entry.qty is not None and line.ordered > max(0, entry.qty - there.get(entry.length, 0)):
        yield f"{name}, more than there are"
    if line.each != min([entry.price, *(price for least, price in entry.breaks if line.ordered >= least)]):
        yield f"{name} at {said(line.each)}, which is not the price for so many"
    if line.ordered and line.ready is None:
        yield f"{name}, which comes too late"


def suppliers(order: PlacedOrder, shop: Shop) -> Iterator[str]:
    """What each is owed: his lines, his freight, no less than his minimum."""
    goods: Counter[str] = Counter()
    for one in order.profiles:
        for line in one.lines:
            goods[line.stock.supplier] += line.ordered * line.each  # type: ignore[assignment]
    if {name for name, amount in goods.items() if amount} != {bill.supplier for bill in order.bills}:
        yield "some supplier has no bill, or one for nothing"
    for bill in order.bills:
        asks = shop.suppliers.get(bill.supplier, Supplier(bill.supplier))
        if bill.goods != goods[bill.supplier]:
            yield f"{bill.supplier}: {said(bill.goods)} is not what his lines come to"
        if bill.goods < asks.minimum:
            yield f"{bill.supplier}: {said(bill.goods)} is less than his minimum, {said(asks.minimum)}"
        free = asks.free_from is not None and bill.goods >= asks.free_from
        if bill.freight != (0 if free else asks.freight):
            yield f"{bill.supplier}: {said(bill.freight)} is not his freight"


def pieces(one: ProfileOrder, weeks: Sequence[Sequence[Piece]]) -> Iterator[str]:
    """Each week's plan cuts that week's pieces."""
    if len(one.weeks) != len(weeks):
        yield "a week has no plan"
    for number, (plan, week) in enumerate(zip(one.weeks, weeks, strict=False), start=1):
        asked: Counter[tuple[str, Fraction]] = Counter()
        for piece in week:
            if piece.profile == one.profile:
                asked[piece.mark, piece.length] += piece.qty
        cut: Counter[tuple[str, Fraction]] = Counter()
        for stick in plan.sticks if plan is not None else ():
            for piece_cut in stick.cuts:
                cut[piece_cut.mark, piece_cut.length] += stick.count
        if asked != cut:
            yield f"the plan of week {number} does not cut what is asked for"


def sticks(one: ProfileOrder, order: PlacedOrder, profile: Profile, there: Mapping[Fraction, int]) -> Iterator[str]:
    """Week by week no more new sticks of a length than are there or have come, and no offcut that is not there."""
    offcuts: dict[str | None, Fraction] = {entry.tag: entry.length for entry in profile.stock if entry.tag is not None}
    drawn: Counter[Fraction] = Counter()
    for number, plan in enumerate(one.weeks):
        if plan is None:
            continue
        kept: dict[str | None, Fraction] = {}
        for stick in plan.sticks:
            if stick.tag is None:
                drawn[stick.length] += stick.count
            elif offcuts.pop(stick.tag, None) != stick.length:
                yield f"the plan of week {number + 1} cuts an offcut that is not there, {stick.tag}"
            kept |= dict.fromkeys(stick.offcut_tags, stick.offcut)
        offcuts |= kept
        for length, n in drawn.items():
            come = sum(line.ordered for line in one.lines
                       if line.stock.length == length and in_time(line, order, number))
            if n > there.get(length, 0) + come:
                yield f"{n} sticks of {said(length)} are cut by week {number + 1}, and fewer are there by then"
    for length, n in drawn.items():
        if n != sum(line.needed for line in one.lines if line.stock.length == length):
            yield f"{said(length)}: {n} are cut, and others are said to be needed"


def in_time(line: OrderLine, order: PlacedOrder, week: int) -> bool:
    dates = order.dates
    if dates.today is None or not dates.due:
        return True
    return dates.today + timedelta(days=line.stock.lead_days) <= dates.due[week]
