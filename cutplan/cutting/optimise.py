"""One tier: the best plan for an objective, with its proven bound."""

from __future__ import annotations

import heapq
import math
import random
from dataclasses import dataclass

from cutplan.cutting import master as lp
from cutplan.cutting import rounding, search
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Instance, Pattern
from cutplan.cutting.objective import Objective
from cutplan.cutting.rounding import Plan

SHARES = (0.9, 0.7, 0.5, 0.99, 0.8, 0.6)  # what fraction a dive rounds up, one dive each
FIRST_DIVES, LATER_DIVES = 40, 2  # by chance
BOXES = 400
MOST_PATTERNS = (4_000, 20_000)  # in a search, of the later tiers and of the first


@dataclass(frozen=True)
class Optimum:
    """The best plan found, its value, the proven bound, and what proves it.

    `dual` is the LP bound (None where the LP was not solved); where `bound` lies above what `dual` alone proves,
    a search proved the rest. `patterns` are those of the LP, for the tiers to come.
    """

    plan: Plan
    value: int
    bound: int
    dual: lp.Bound | None
    searched: bool
    patterns: tuple[Pattern, ...]

    @property
    def proven(self) -> bool:
        return self.bound >= self.value


def attainable(instance: Instance, floor: int, ceiling: int, box: lp.Box) -> int:
    """The least cost of any numbers of sticks within the box that is at least `floor`; `ceiling` if there is none.

    The sums that occur are the bits of one integer.
    """
    base = sum(low * stick.cost for (low, _), stick in zip(box, instance.sticks, strict=True))
    ranges = [(stick.cost, high - low) for (low, high), stick in zip(box, instance.sticks, strict=True) if stick.cost]
    coin = math.gcd(*(cost for cost, _ in ranges))
    if not coin or base >= ceiling:
        return min(base if base >= floor else ceiling, ceiling)
    room = (ceiling - base) // coin
    sums = 1
    for cost, most in ranges:
        step, run, most = cost // coin, 1, min(most, (ceiling - base) // cost)
        while most > 0:  # 1, 2, 4, ... and the rest make every number up to most
            part = min(run, most)
            sums |= (sums << (part * step)) & ((1 << (room + 1)) - 1)
            most -= part
            run *= 2
    first = max(0, -(-(floor - base) // coin))
    above = sums >> first
    return base + (first + (above & -above).bit_length() - 1) * coin if above else ceiling


class Search:
    """Best-first branch and bound on how many sticks of each type are drawn.

    Branching on these sums keeps the pricing problem as it is (Vanderbeck, Oper. Res. 48 (2000) 111-128, sec. 3)
    and each leaf is proven by one LP bound over its box. Where the sums are whole and the LP is not, a MIP over the
    patterns of small reduced cost decides.
    """

    def __init__(self, objective: Objective, start: Plan, effort: Effort, name: str) -> None:
        self.objective, self.effort, self.name = objective, effort, name
        self.instance = objective.instance
        self.best, self.worth = start, rounding.value(objective, start)
        self.pool: dict[Pattern, None] = dict.fromkeys([*start, *lp.starters(objective)])
        self.searched = False
        self.root: lp.Bound | None = None
        self._open: list[tuple[int, int, lp.Box]] = []
        self._made = 0

    def run(self) -> Optimum:
        self._push(0, self.objective.box(self.worth))
        closed = self.worth  # the least bound among boxes that could not be decided
        while self._open and not self.effort.spent() and self._made < BOXES:
            bound, _, box = heapq.heappop(self._open)
            if bound >= self.worth:
                break
            closed = min(closed, self._box(box, bound))
            self.effort.tell(f"{self.name}: best {self.worth}, proven {min(bound, closed)}, box {self._made}")
        bound = min([self.worth, closed, *(entry[0] for entry in self._open)])
        return Optimum(self.best, self.worth, bound, self.root, self.searched, tuple(self.pool))

    def _push(self, bound: int, box: lp.Box) -> None:
        """Keeps a box for later, unless its sticks alone cost more than a better plan may."""
        limit = self.worth - 1 if self.objective.budget is None else self.objective.budget
        least = sum(low * stick.cost for (low, _), stick in zip(box, self.instance.sticks, strict=True))
        if bound < self.worth and least <= limit and all(low <= high for low, high in box):
            self._made += 1
            heapq.heappush(self._open, (bound, self._made, box))

    def _box(self, box: lp.Box, known: int) -> int:
        """Bounds one box and branches; returns the bound of what stays undecided, or the best value."""
        master = lp.Master(self.objective, box, self.worth)
        for pattern in self.pool:
            master.add(pattern)
        relaxed = lp.relax(master, self.effort, self.worth)
        if relaxed is None:
            return known
        if self.root is None:
            self.root = relaxed.bound
        self.pool.update(dict.fromkeys(master.patterns))
        bound = max(known, self._round(relaxed.bound.ceiling, box))
        drawn = master.sticks()
        self._dive(master, bound)
        if bound >= self.worth:
            return self.worth
        s = max(range(len(drawn)), key=lambda s: (min(drawn[s] % 1, 1 - drawn[s] % 1), -s))
        if 1e-6 < drawn[s] % 1 < 1 - 1e-6:
            low, high = box[s]
            self._push(bound, (*box[:s], (low, int(drawn[s])), *box[s + 1:]))
            self._push(bound, (*box[:s], (int(drawn[s]) + 1, high), *box[s + 1:]))
            return self.worth
        return self._decide(box, relaxed.bound, bound, list(master.patterns))

    def _dive(self, master: lp.Master, bound: int) -> None:
        """Dives until one reaches the bound: many at first, a few in every later box."""
        chance = random.Random(self._made)
        first = self._made == 1
        for share in SHARES if first else SHARES[:1]:
            if bound < self.worth and not self.effort.spent():
                self._offer(rounding.dive(master, self.effort, share))
        for _ in range(FIRST_DIVES if first else LATER_DIVES):
            if bound < self.worth and not self.effort.spent():
                self._offer(rounding.dive(master, self.effort, 1.0, chance))

    def _decide(self, box: lp.Box, dual: lp.Bound, bound: int, patterns: list[Pattern]) -> int:
        """A MIP over what a better plan in this box could use; returns the bound it leaves."""
        most = MOST_PATTERNS[self.objective.budget is None]
        complete = search.worthwhile(self.objective, dual, self.worth, box, most)
        outcome = search.search(self.objective, complete or patterns, box, bound, self.worth, self.effort)
        if outcome.plan is not None:
            self._offer(rounding.trim(self.instance, outcome.plan))
        if complete is None or outcome.bound is None:
            return bound
        self.searched = True
        return max(bound, min(outcome.bound, self.worth))

    def _round(self, bound: int, box: lp.Box) -> int:
        """The next value that a plan in this box can have."""
        if self.objective.budget is not None:
            return max(0, bound)
        return attainable(self.instance, bound, self.worth, box)

    def _offer(self, plan: Plan | None) -> None:
        """Takes a plan that is better than the best so far and within the budget."""
        if plan is None:
            return
        if self.objective.budget is None:
            plan = rounding.downgrade(self.instance, plan)
        elif rounding.spent(self.instance, plan) > self.objective.budget:
            return
        value = rounding.value(self.objective, plan)
        if value < self.worth:
            self.best, self.worth = plan, value


def optimise(objective: Objective, start: Plan, effort: Effort, name: str) -> Optimum:
    """The best plan for this objective and its proven bound. `start` is any plan; `name` is for progress."""
    return Search(objective, start, effort, name).run()
