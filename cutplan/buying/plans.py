"""The plans that orders were proven for, one for each week, as plan files: to be cut once the sticks have come."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace

from cutplan.buying.order import PlacedOrder
from cutplan.checking.audit import audit
from cutplan.orders import Origin
from cutplan.planning.sequence import sequenced
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, new_drawn
from cutplan.plans.sawtime import timed
from cutplan.problems import FailedAudit, InputProblems, Problem
from cutplan.rack.register import next_number
from cutplan.rack.store import changing
from cutplan.rack.supply import tagged_apart, tagged_in_turn
from cutplan.running.budget import Budget
from cutplan.shop import Shop
from cutplan.takeoff.cards import Card
from cutplan.takeoff.carried import as_fields


def week_file(k: int) -> str:
    """What the plan of the k-th week is called in its folder."""
    return f"week-{k}.json"


def files_in(folder: str) -> list[str]:
    """The plans of an order, in the order of their weeks. InputProblems where the folder holds none."""
    found: list[str] = []
    while os.path.exists(path := os.path.join(folder, week_file(len(found) + 1))):
        found.append(path)
    if not found:
        right = f"{week_file(1)} and so on; give the folder that buy --plans has filled"
        raise InputProblems([Problem(folder, 1, "file", f"holds no plans of an order, which are called {right}")])
    return found


def files_beside(plan: str) -> list[str]:
    """The plans of an order in the folder that one of them lies in; none where it is not called like one of them."""
    folder, name = os.path.split(plan)
    lying = files_in(folder) if os.path.exists(os.path.join(folder, week_file(1))) else []
    return lying if name in map(os.path.basename, lying) else []


def week_plans(orders: Sequence[PlacedOrder], cards: Sequence[Sequence[Card]], shop: Shop, budget: Budget,
               rack: str | None = None, names: Sequence[str] = (), rests: Sequence[Sequence[Origin]] = ()
               ) -> list[Plan]:
    """A plan for each week, with its cards, its name and the rests it takes the place of. Its offcuts get tags that no
    others of the rack have; without a rack, tags that none comes to by itself.

    Raises FailedAudit never, unless cutplan is at fault.
    """
    number = sum(len(one.profiles[0].weeks) if one.profiles else 0 for one in orders)
    weeks: list[list[ProfilePlan]] = [[] for _ in range(number)]
    first = 0
    for one in orders:
        for profile in one.profiles:
            for k, own in enumerate(profile.weeks):
                if own is not None:
                    weeks[first + k].append(replace(own, on_hand=tuple(new_drawn(own).items())))
        first += len(one.profiles[0].weeks) if one.profiles else 0
    if len(cards) != number:  # all weeks are cut as one
        cards = [[card for own in cards for card in own]]
    if len(rests) != number:
        rests = [[one for own in rests for one in own], *([()] * (number - 1))]
    plans: list[Plan] = []
    for k, (profiles, on_cards) in enumerate(zip(weeks, cards, strict=True)):
        plan = Plan(shop.unit, tuple(profiles), shop.currency, shop.tape, shop.shortest_held, stack=shop.stack,
                    shortest_clamped=shop.shortest_clamped, saw=shop.saw, shop=shop.name, bench=shop.bench)
        plan = sequenced(timed(plan), budget.share(number - k))
        own_names = names[k:k + 1] if len(names) == number else names
        plans.append(replace(plan, cards=tuple(as_fields(card) for card in on_cards), weeks=tuple(own_names),
                             replaces=tuple(rests[k]), first=1 + max((one.last for one in rests[k]), default=0)))
    if rack is None:
        plans = tagged_apart(plans)
    else:
        with changing(rack) as open_rack:
            numbers = [next_number(open_rack, plan.replaces) if plan.replaces else plan.first for plan in plans]
            plans = [replace(plan, first=first) for plan, first in zip(plans, numbers, strict=True)]
            plans = tagged_in_turn(plans, open_rack)
    if findings := [finding for plan in plans for finding in audit(plan)]:
        raise FailedAudit("\n".join(["a week's plan failed its own audit; nothing is shown:", *findings]))
    return plans
