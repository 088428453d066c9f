"""The order for the weeks ahead: of each profile and length how many, and the plans that it is for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from cutplan.buying.cheapest_order import BestOrder, as_plan, cheapest_order
from cutplan.buying.terms import Terms
from cutplan.buying.weeks import left_of
from cutplan.cutting import cheapest_plan, demand_of, finish, refuse_misplaced
from cutplan.orders import Piece
from cutplan.plans.records import Demand, ProfilePlan
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile, Shop, Stock

OnHand = Mapping[str, Sequence[tuple[Fraction, int]]]  # by profile, the new sticks of a length that are there


@dataclass(frozen=True)
class OrderLine:
    """One length of a profile: `needed` sticks for all weeks, `there` on hand, `ordered`, at `each` a stick."""

    stock: Stock
    needed: int
    there: int
    ordered: int
    each: Fraction

    @property
    def money(self) -> Fraction:
        return self.ordered * self.each

    @property
    def left(self) -> int:
        """What is there when all weeks are cut."""
        return self.there + self.ordered - self.needed


@dataclass(frozen=True)
class OrderPart:
    """What one week adds to the money of an order, given what the weeks before it ordered and left.

    `bound`: nothing that serves the week's own pieces then adds less. Of the sum of weeks it says nothing.
    """

    week: int
    money: Fraction
    bound: Fraction

    @property
    def proven(self) -> bool:
        return self.bound >= self.money


@dataclass(frozen=True)
class ProfileOrder:
    """The order for one profile: of each length, and what each week adds to it; `weeks` are the plans it is for."""

    profile: str
    lines: tuple[OrderLine, ...]
    parts: tuple[OrderPart, ...]
    weeks: tuple[ProfilePlan, ...]

    @property
    def money(self) -> Fraction:
        return sum((line.money for line in self.lines), Fraction(0))

    @property
    def bound(self) -> Fraction | None:
        """What no order for these pieces costs less than; None where they are ordered week by week."""
        return self.parts[0].bound if len(self.parts) == 1 else None

    @property
    def proven(self) -> bool:
        """Whether no order for these pieces is cheaper."""
        return self.bound is not None and self.bound >= self.money


@dataclass(frozen=True)
class OrderTask:
    """One profile, its demand in each week, and what of its lengths is on hand."""

    profile: Profile
    weeks: tuple[tuple[Demand, ...], ...]
    there: tuple[tuple[Fraction, int], ...]

    def load(self) -> int:
        return sum(map(len, self.weeks)) * len(self.profile.stock)


def order(weeks: Sequence[Sequence[Piece]], shop: Shop, on_hand: OnHand,
          budget: Budget | None = None) -> list[ProfileOrder]:
    """What to order for these weeks, which are planned one after the other; offcuts are carried on.

    Give all pieces as one week to plan them together. Raises InputProblems and NoPlan as cutting does.
    """
    for pieces in weeks:
        refuse_misplaced(pieces, shop)
    tasks = []
    for profile in shop.profiles.values():
        demands = tuple(tuple(demand_of(pieces, profile)) for pieces in weeks)
        if any(demands):
            tasks.append(OrderTask(profile, demands, tuple(on_hand.get(profile.name, ()))))
    budget = budget or Budget()
    with Workers(budget, len(tasks)) as workers:
        found = workers.each(order_or_none, tasks, OrderTask.load, lambda k: -(-(len(tasks) - k) // workers.number))
    if lacking := [nothing for nothing in found if isinstance(nothing, NoPlan)]:
        why = OutOfTime if all(isinstance(nothing, OutOfTime) for nothing in lacking) else NoPlan
        raise why("\n".join(map(str, lacking)))
    return [made for made in found if isinstance(made, ProfileOrder)]


def order_or_none(task: OrderTask, budget: Budget) -> ProfileOrder | NoPlan:
    try:
        return order_profile(task, budget)
    except NoPlan as nothing:
        return nothing


def order_profile(task: OrderTask, budget: Budget) -> ProfileOrder:
    """The order for one profile, week by week. Raises NoPlan."""
    profile = task.profile
    there = dict(task.there)
    terms = [Terms(entry, there.pop(entry.length, 0)) for entry in profile.stock if entry.tag is None]
    parts, plans = [], []
    weeks = [(k, demand) for k, demand in enumerate(task.weeks, 1) if demand]
    for done, (k, demand) in enumerate(weeks):
        own = budget.share(len(weeks) - done)
        best = cheapest_order(profile, demand, terms, own.share(2))
        plan = planned(profile, demand, terms, best, own)
        plans.append(plan)
        drawn = drawn_by(plan, terms)
        money = sum((term.money(n) for term, n in zip(terms, drawn, strict=True)), Fraction(0))
        parts.append(OrderPart(k, money, min(best.bound, money)))
        terms = [replace(term, before=term.before + n) for term, n in zip(terms, drawn, strict=True)]
        profile = left_of(profile, plan, f"week {k}")
    lines = tuple(
        OrderLine(term.stock, term.before, term.there, ordered, term.stock.each(ordered))
        for term in terms for ordered in [term.order(0)])
    return ProfileOrder(profile.name, lines, tuple(parts), tuple(plans))


def planned(profile: Profile, demand: Sequence[Demand], terms: Sequence[Terms], best: BestOrder,
            budget: Budget) -> ProfilePlan:
    """The best plan from the sticks that are there once the order has come: none is left over that could be."""
    new = [replace(term.stock, qty=term.enough(n))
           for term, n in zip(terms, best.shared, strict=True) if term.enough(n)]
    offcuts = [entry for entry in profile.stock if entry.tag is not None]
    profile = replace(profile, stock=(*new, *offcuts))
    return finish(cheapest_plan(profile, demand, budget.share(2), partial(as_plan, cut=best.cut)), budget)


def drawn_by(plan: ProfilePlan, terms: Sequence[Terms]) -> list[int]:
    """How many new sticks a plan draws of each of the terms; see `cheapest_order.OrderSearch.shared`."""
    counts = [0] * len(terms)
    for stick in plan.sticks:
        if stick.tag is None:
            k = next(k for k, term in enumerate(terms)
                     if (term.stock.length, term.stock.price) == (stick.length, stick.price))
            counts[k] += stick.count
    return counts
