"""Whether sticks are enough for what a version asks of a profile: by plans that were found on them, or looked for.

Sticks that are enough stay so where there are more of them, or longer ones in their place (but for turned blanks), and
such as are not stay so where there are fewer: what is known of some says much of others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from cutplan.bidding.cutting import Asking
from cutplan.bidding.needs import Need, StickNumbers, at_least
from cutplan.cutting import cheapest_plan
from cutplan.ends import lying
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile

FIT_STEPS = 60  # of the search for a plan from one order


@dataclass(eq=False)
class AskingTried:
    """What is known of one version's asking: sticks that are `enough`, and such as no plan was found on."""

    profile: Profile
    asking: Asking
    need: Need
    enough: list[StickNumbers]
    lacking: list[StickNumbers] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return sum(qty for _, qty in self.asking)

    @property
    def exchanged(self) -> bool:
        return not self.profile.one_per_stick

    def is_enough(self, sticks: StickNumbers) -> bool | None:
        """Whether these are; None where that is not known."""
        if any(at_least(sticks, one, self.exchanged) for one in self.enough):
            return True
        return False if any(at_least(one, sticks, self.exchanged) for one in self.lacking) else None

    def learn(self, sticks: StickNumbers, enough: bool) -> None:
        (self.enough if enough else self.lacking).append(sticks)


def try_out(askings: Sequence[AskingTried], sticks: Mapping[str, StickNumbers], budget: Budget) -> bool:
    """Whether the sticks of each profile are enough for all of these; plans are looked for where that is not known."""
    open_ = [one for one in askings if one.is_enough(sticks.get(one.profile.name, {})) is None]
    tasks = [FitTask(one.profile, one.asking, ((0, sticks.get(one.profile.name, {})),)) for one in open_]
    if tasks:
        with Workers(budget, len(tasks)) as workers:
            fitting = workers.each(fitting_orders, tasks, FitTask.load, lambda _: 1)
        for one, found in zip(open_, fitting, strict=True):
            one.learn(sticks.get(one.profile.name, {}), bool(found))
    return all(one.is_enough(sticks.get(one.profile.name, {})) for one in askings)


@dataclass(frozen=True)
class FitTask:
    """One version of a profile, and orders from which it may be cut."""

    profile: Profile
    asking: Asking
    orders: tuple[tuple[int, StickNumbers], ...]

    def load(self) -> int:
        return len(self.orders)


def fitting_orders(task: FitTask, budget: Budget) -> list[int]:
    """The orders from which a plan is found; whatever has all that one of these has is enough too."""
    demand = [Demand("", length, qty, each=each, **lying(lies)) for (length, lies, each), qty in task.asking]
    fit: list[tuple[int, StickNumbers]] = []
    for k, order in task.orders:
        if budget.spent():
            break
        if any(at_least(order, other, True) for _, other in fit) or can_be_cut(task.profile, demand, order, budget):
            fit.append((k, order))
    return [k for k, _ in fit]


def can_be_cut(profile: Profile, demand: Sequence[Demand], order: StickNumbers, budget: Budget,
               steps: int = FIT_STEPS) -> bool:
    """Whether a search of so many steps finds a plan on these new sticks, and what lies on the rack."""
    offcuts = tuple(entry for entry in profile.stock if entry.tag is not None)
    first = {entry.length: entry for entry in reversed(profile.stock) if entry.tag is None}
    stock = tuple(replace(first[length], qty=n) for length, n in order.items() if n)
    try:
        cheapest_plan(replace(profile, stock=(*stock, *offcuts)), demand, budget.quietly().within(steps))
    except NoPlan:
        return False
    return True
