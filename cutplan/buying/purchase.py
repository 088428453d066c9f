"""The order for the weeks ahead: of each profile and entry how many, and the plans that it is for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from cutplan.buying.audit import audit
from cutplan.buying.dates import NO_DATES, Dates
from cutplan.buying.dates import together as together_due
from cutplan.buying.order import OrderLine, PlacedOrder, ProfileOrder, SupplierBill
from cutplan.buying.ordering.columns import Columns
from cutplan.buying.ordering.laying import Laid, LayingJob, dealt, drawn_by, lay
from cutplan.buying.ordering.numbers import OrderMarket, by_task
from cutplan.buying.ordering.search import OrderSearch
from cutplan.buying.ordering.task import ProfileTask, Sale, refuse_lacking
from cutplan.buying.terms import freight, orderable, supplier_of
from cutplan.buying.weeks import left_of
from cutplan.cutting import cheapest_plan, demand_of, refuse_misplaced
from cutplan.orders import Piece
from cutplan.problems import FailedAudit, NoPlan, OutOfTime
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile, Shop, Stock

OnHand = Mapping[str, Sequence[tuple[Fraction, int]]]  # by profile, the new sticks of a length that are there
WeekPieces = Sequence[Sequence[Piece]]
RIGHT = "what can be had, as it is sold and in time, is not enough; allow more of a length, or another supplier"
SEARCHED = 0.85  # of the time is for the order, the rest for its plans


def order(weeks: WeekPieces, shop: Shop, on_hand: OnHand, budget: Budget | None = None, dates: Dates = NO_DATES,
          tidy: bool = False, before: int = 0) -> PlacedOrder:
    """One order for all these weeks, which are cut one after the other; what one leaves is there for the next.

    Give all pieces as one week to cut them as one. `tidy`: the weeks' plans are to be cut from, and worth some time.
    `before`: weeks that were cut before these, for the names of their offcuts.
    Raises InputProblems and NoPlan as cutting does; FailedAudit never, unless cutplan is at fault.
    """
    budget = budget or Budget()
    for pieces in weeks:
        refuse_misplaced(pieces, shop)
    market = market_of(weeks, shop, on_hand, dates)
    if not market.tasks:
        return PlacedOrder(tuple(range(1, len(weeks) + 1)), (), (), Fraction(0), dates)
    blind = len(weeks) > 1 and any(task.carries and not Columns(task).carries for task in market.tasks)
    search = OrderSearch(market, budget.upto(SEARCHED / 2 if blind else SEARCHED))
    try:
        chosen = search.run()
    except NoPlan as nothing:
        lacking = what_lacks(market)
        if lacking or not isinstance(nothing, OutOfTime):
            raise NoPlan(lacking or f"{nothing}; {RIGHT}") from None
        raise
    sticks = by_task(market, chosen.sticks)
    jobs = [LayingJob(task, cut, tuple(own), tidy, before) for task, cut, own in
            zip(market.tasks, chosen.columns, sticks, strict=True)]
    with Workers(budget, len(jobs)) as workers:
        laid = workers.each(lay, jobs, LayingJob.load, lambda k: -(-(len(jobs) - k) // workers.number))
    placed = placed_order(market, sticks, laid, chosen.bound, len(weeks), dates)
    if blind and not placed.proven:
        apart = merged(market, weekly(weeks, shop, on_hand, budget, dates, tidy), search, chosen.bound, dates)
        placed = placed if apart is None or apart.money >= placed.money else apart
    if findings := audit(placed, weeks, shop, on_hand):
        raise FailedAudit("\n".join(["the order failed its own audit; nothing is shown:", *findings]))
    return placed


def weekly(weeks: WeekPieces, shop: Shop, on_hand: OnHand, budget: Budget | None = None, dates: Dates = NO_DATES,
           tidy: bool = False) -> list[PlacedOrder]:
    """An order for each week, one after the other, each the cheapest for its week alone with what those before left."""
    budget, found = budget or Budget(), []
    there = {name: dict(counts) for name, counts in on_hand.items()}
    for k, pieces in enumerate(weeks):
        own = {name: tuple(counts.items()) for name, counts in there.items()}
        placed = order([pieces], shop, own, budget.share(len(weeks) - k), dates.of(k), tidy, k)
        placed = replace(placed, weeks=(k + 1,))
        found.append(placed)
        for one in placed.profiles:
            counts = there.setdefault(one.profile, {})
            for line in one.lines:
                counts[line.stock.length] = counts.get(line.stock.length, 0) + line.ordered - line.needed
        shop = after(shop, placed, k + 1)
    return found


def merged(market: OrderMarket, orders: Sequence[PlacedOrder], search: OrderSearch, bound: Fraction, dates: Dates
           ) -> PlacedOrder | None:
    """One order for the plans of orders week by week: what it is where a profile's offcuts serve later weeks in ways
    that the search of one order has no columns for. None where their sticks cannot be had in one."""
    plans = [tuple(next((one.weeks[0] for one in order.profiles if one.profile == task.profile.name), None)
                   for order in orders) for task in market.tasks]
    found = search.numbers_for([drawn_by(task, own) for task, own in zip(market.tasks, plans, strict=True)])
    if found is None:
        return None
    sticks = by_task(market, found)
    laid = [dealt(task, own, bought) for task, own, bought in zip(market.tasks, plans, sticks, strict=True)]
    return placed_order(market, sticks, laid, bound, len(orders), dates)


def after(shop: Shop, placed: PlacedOrder, week: int) -> Shop:
    """The shop once an order has come and its week is cut: fewer sticks left to buy, other offcuts."""
    profiles = dict(shop.profiles)
    for one in placed.profiles:
        profile = profiles[one.profile]
        profile = replace(profile, stock=tuple(
            entry if entry.qty is None or entry.tag is not None else replace(entry, qty=still(entry, k, one))
            for k, entry in enumerate(profile.stock)))
        for plan in one.weeks:
            if plan is not None:
                profile = left_of(profile, plan, f"week {week}")
        profiles[one.profile] = profile
    return replace(shop, profiles=profiles)


def still(entry: Stock, place: int, one: ProfileOrder) -> int:
    """How many sticks of an entry there are in all after an order: what can still be had, and what then lies there."""
    alike = [line for line in one.lines if line.stock.length == entry.length]
    there, left = sum(line.there for line in alike), sum(line.left for line in alike)
    ordered = sum(line.ordered for line in alike if line.place == place)
    return max(0, (entry.qty or 0) - there) - ordered + left


def market_of(weeks: WeekPieces, shop: Shop, on_hand: OnHand, dates: Dates) -> OrderMarket:
    tasks, lacking = [], []
    for profile in shop.profiles.values():
        demands = tuple(tuple(demand_of(pieces, profile)) for pieces in weeks)
        if any(demands):
            there = dict(on_hand.get(profile.name, ()))
            sales = sales_of(profile, there, len(weeks), dates)
            task = ProfileTask(profile, demands, tuple(there.items()), tuple(sales))
            try:
                refuse_lacking(task)
            except NoPlan as nothing:
                lacking.append(str(nothing))
            tasks.append(task)
    if lacking:
        raise NoPlan("\n".join(lacking))
    return OrderMarket(tuple(tasks), shop.suppliers)


def sales_of(profile: Profile, there: Mapping[Fraction, int], weeks: int, dates: Dates) -> list[Sale]:
    found = []
    for place, entry in enumerate(profile.stock):
        ready = dates.ready(entry, weeks) if entry.tag is None else None
        if ready is not None:
            found.append(Sale(place, entry, ready, orderable(entry, there.get(entry.length, 0))))
    return found


def what_lacks(market: OrderMarket) -> str:
    """Of which profiles there is too little of everything, as the cutter tells it; empty where that is not why."""
    told = []
    for task in market.tasks:
        new = [replace(task.instance.stock[s][0], price=Fraction(1), qty=most_of(task, length))
               for length, s in task.kind.items()]
        try:
            cheapest_plan(replace(task.profile, stock=(*new, *task.offcuts)), task.heap, Budget(5))
        except NoPlan as nothing:
            told.append(str(nothing))
    return "\n".join(told)


def most_of(task: ProfileTask, length: Fraction) -> int | None:
    """How many sticks of a length there can be in all (None: any number)."""
    mosts = [sale.most for sale in task.sold if sale.stock.length == length]
    return None if None in mosts else sum(most or 0 for most in mosts) + task.on_hand.get(length, 0)


def placed_order(market: OrderMarket, sticks: Sequence[Sequence[int]], laid: Sequence[Laid], bound: Fraction,
                 weeks: int, dates: Dates) -> PlacedOrder:
    profiles = [profile_order(task, own, found) for task, own, found in zip(market.tasks, sticks, laid, strict=True)]
    goods: dict[str, Fraction] = {}
    for one in profiles:
        for line in one.lines:
            goods[line.stock.supplier] = goods.get(line.stock.supplier, Fraction(0)) + line.money
    bills = tuple(SupplierBill(name, amount, freight(supplier_of(market.suppliers, name), amount))
                  for name, amount in goods.items() if amount)
    return PlacedOrder(tuple(range(1, weeks + 1)), tuple(profiles), bills, bound, dates)


def profile_order(task: ProfileTask, sticks: Sequence[int], laid: Laid) -> ProfileOrder:
    """The lines of one profile: an entry each; what is on hand of a length stands with its first."""
    numbers = {sale.place: (n, drawn) for sale, n, drawn in zip(task.sold, sticks, laid.drawn, strict=True)}
    ready = {sale.place: sale.ready for sale in task.sales}
    there, drawn_there = dict(task.there), dict(laid.drawn_there)
    lines = []
    for place, entry in enumerate(task.profile.stock):
        if entry.tag is not None:
            continue
        ordered, drawn = numbers.get(place, (0, 0))
        lines.append(OrderLine(entry, drawn + drawn_there.pop(entry.length, 0), there.pop(entry.length, 0), ordered,
                               entry.each(ordered), place, ready.get(place)))
    return ProfileOrder(task.profile.name, tuple(lines), laid.plans)


@dataclass(frozen=True)
class OrderQuestion:
    """What is to be ordered for: the weeks' pieces, and by when they are due; `weekly`: one order for each week."""

    weeks: tuple[tuple[Piece, ...], ...]
    shop: Shop
    on_hand: OnHand
    dates: Dates
    weekly: bool = False
    tidy: bool = False


def asked(weeks: WeekPieces, shop: Shop, on_hand: OnHand, dates: Dates, together: bool, weekly: bool,
          tidy: bool = False) -> OrderQuestion:
    """`together`: all weeks are cut as one, by when the first is due."""
    if together:
        pieces = tuple(piece for week in weeks for piece in week)
        return OrderQuestion((pieces,), shop, on_hand, replace(dates, due=together_due(dates.due)),
                             tidy=tidy)
    return OrderQuestion(tuple(map(tuple, weeks)), shop, on_hand, dates, weekly, tidy)


def bought(question: OrderQuestion, without: Sequence[str], budget: Budget
           ) -> tuple[list[PlacedOrder], PlacedOrder | None]:
    """The orders, from all suppliers but those; and what the order with all of them is, where some are left out."""
    whole = None
    if without:
        whole = order(question.weeks, question.shop, question.on_hand, budget.share(2), question.dates)
        question = replace(question, shop=left_out(question.shop, without))
    make = weekly if question.weekly else one_order
    return make(question.weeks, question.shop, question.on_hand, budget, question.dates, question.tidy), whole


def one_order(*asked: Any) -> list[PlacedOrder]:
    return [order(*asked)]


def left_out(shop: Shop, without: Sequence[str]) -> Shop:
    """The shop as if these suppliers sold nothing."""
    return replace(shop, profiles={name: replace(profile, stock=tuple(
        replace(entry, qty=0) if entry.tag is None and entry.supplier in without else entry for entry in profile.stock))
        for name, profile in shop.profiles.items()})
