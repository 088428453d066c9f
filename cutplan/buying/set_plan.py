"""One set of lengths, tried by planning the weeks with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.buying.weeks import left_of
from cutplan.cutting import cheapest_plan, draft
from cutplan.plans.records import Demand
from cutplan.running.budget import Budget
from cutplan.shop import Profile


@dataclass(frozen=True)
class Trial:
    """A set to be planned: the profile sold in it, and the demand of each week, of which `needs` is about the least.

    Weeks that lean on each other are left off as soon as the set has hardly a chance to stay `below` so much money.
    """

    profile: Profile
    demand: tuple[tuple[Demand, ...], ...]
    carried: bool
    needs: tuple[Fraction, ...] = ()
    below: Fraction | None = None

    def hopeless(self, weeks: int, rack: Profile, drawn: Counter[Fraction]) -> bool:
        """Whether what so many weeks bought, and the needs of the others less what is left for them, is too much.

        What is left is worth as much as it could cut of them if it wasted no more than new stock must.
        """
        if self.below is None:
            return False
        price = {entry.length: entry.price for entry in self.profile.stock if entry.tag is None}
        left = sum((entry.length * (entry.qty or 0) for entry in rack.stock if entry.tag is not None), Fraction(0))
        wanted = sum((one.length * one.qty for week in self.demand[weeks:] for one in week), Fraction(0))
        needs = sum(self.needs[weeks:], Fraction(0))
        bought = sum((price[length] * n for length, n in drawn.items()), Fraction(0))
        return bought + needs * max(Fraction(0), 1 - left / wanted) >= self.below


@dataclass(frozen=True)
class Planned:
    """What a plan draws of each length, and the sum of its weeks' proven bounds in money."""

    drawn: Counter[Fraction]
    bound: Fraction


def plan(task: Trial, budget: Budget) -> Planned | None:
    """The weeks one after the other, None where hopeless; the second tier matters only for what is used again."""
    profile, drawn, bound, budget = task.profile, Counter[Fraction](), Fraction(0), budget.quietly()
    for k, demand in enumerate(task.demand):
        share = budget.share(len(task.demand) - k)
        if task.carried and k + 1 < len(task.demand):
            made = draft(profile, demand, share)
            for stick in made.sticks:
                if stick.source == "new":
                    drawn[stick.length] += stick.count
            bound += made.tiers[0].bound
            profile = left_of(profile, made, f"week {k + 1}")
            if task.hopeless(k + 1, profile, drawn):
                return None
        else:
            job = cheapest_plan(profile, demand, share)
            for pattern, n in job.first.plan.items():
                entry = job.instance.stock[pattern.stick][0]
                if entry.tag is None:
                    drawn[entry.length] += n
            bound += job.first.bound * job.instance.coin
    return Planned(drawn, bound)


def heap_of(weeks: Sequence[Sequence[Demand]]) -> tuple[Demand, ...]:
    return tuple(one for week in weeks for one in week)
