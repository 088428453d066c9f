"""One tier: the best plan for an objective, with its proven bound."""

from __future__ import annotations

import heapq
import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import chain

from cutplan.cutting.exact import branch_and_price as pairing
from cutplan.cutting.exact import listing as search
from cutplan.cutting.exact.completion import Completion
from cutplan.cutting.exact.restarts import restart
from cutplan.cutting.heuristics import diving as rounding
from cutplan.cutting.heuristics import first_fit
from cutplan.cutting.heuristics.sequential import Passes
from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget
from cutplan.sums import least_sum, sums_of

SHARES = (0.9, 0.7, 0.5, 0.99, 0.8, 0.6)  # what fraction a dive rounds up, one dive each
BOX_DIVES, HARD_DIVES = 1, 12  # by chance, besides
DIVE_EVERY, BOX_STEPS = 4, 1  # boxes with a short dive, where the LP's numbers of sticks are not whole; its steps
BOXES = (60, 2_000)  # that are looked at, in the later tiers and in the first
PASSES = 5  # stick by stick
FIRST_WORK, LATER_WORK = 2 * 10**7, 2 * 10**8  # table entries they may fill before the LP and after
FEW = 800  # patterns in a MIP that only looks for a plan
MOST_PATTERNS, HARD_PATTERNS = (500, 5_000), 20_000  # in a search that proves
PAIRING = 5_000  # nodes of branch and price times pieces, before most dives where waste is little
LARGE = 2 * 10**6  # table entries with which one dive takes as long as many restarts
RESTARTS = 80  # tries at a plan that wastes little, each from the beginning
HARD_PAIRING = 500  # nodes of it, last of all
MOST_SUMS = 10**8  # beyond so many coins a bound is rounded up to a whole coin only, as the proof does
HARD_DUALS, HARD_FEW = (4, 20), (500, 800)  # to list them by, and how many are few then


Report = Callable[[int, int], str]  # the best value and the bound, in words


@dataclass
class Box:
    """A node of the search: the least and most sticks of each type, its LP bound, and how it was split.

    split = (s, v): `below` draws at most v sticks of type s, `above` at least v + 1. `dual` is None where the duals of
    the box that it was split from prove as much. `searched` is the bound that a search proved, over listed patterns or
    by branch and price (None: the duals were enough).
    """

    box: bounds.Box
    known: int
    dual: bounds.Bound | None = None
    searched: int | None = None
    split: tuple[int, int] | None = None
    below: Box | None = None
    above: Box | None = None


@dataclass(frozen=True)
class Optimum:
    """The best plan found, its value, the proven bound, and the tree of boxes that proves it.

    `patterns` are those of the LPs, for the tiers to come.
    """

    plan: Solution
    value: int
    bound: int
    root: Box
    patterns: tuple[Pattern, ...]

    @property
    def proven(self) -> bool:
        return self.bound >= self.value


def attainable(instance: Instance, floor: int, ceiling: int, box: bounds.Box) -> int:
    """The least cost of any numbers of sticks within the box that is at least `floor`; `ceiling` if there is none."""
    base = sum(low * stick.cost for (low, _), stick in zip(box, instance.sticks, strict=True))
    ranges = [(stick.cost, high - low) for (low, high), stick in zip(box, instance.sticks, strict=True) if stick.cost]
    coin = math.gcd(*(cost for cost, _ in ranges))
    if not coin or base >= ceiling:
        return min(base if base >= floor else ceiling, ceiling)
    room, first = (ceiling - base) // coin, max(0, -(-(floor - base) // coin))
    if room > MOST_SUMS:
        return min(ceiling, base + first * coin)
    least = least_sum(sums_of(((cost // coin, most) for cost, most in ranges), room), first)
    return ceiling if least is None else base + least * coin


def next_value(objective: Objective, bound: int, worth: int, box: bounds.Box) -> int:
    """The next value, from a bound on, that a plan in the box can have."""
    if objective.cap is not None:
        return max(objective.floor, bound)
    return attainable(objective.instance, bound, worth, box)


def barren(objective: Objective, limits: bounds.Box, worth: int) -> bool:
    """Whether a box has no plan below `worth`: its sticks alone cost too much, or more keep offcuts than are drawn."""
    limit = worth - 1 if objective.cap is None else objective.cap
    least = sum(low * stick.cost for (low, _), stick in zip(limits, objective.instance.sticks, strict=False))
    return least > limit or any(
        limits[own][0] > limits[stick][1] for stick, own in map(objective.rows.__getitem__, objective.kept))


def proven_by(objective: Objective, box: Box, worth: int, above: bounds.Bound | None = None, *,
              searches: bool = False) -> int:
    """What the duals of a tree prove no plan of `worth` or less is worth less than; with `searches`, and its searches.

    `above`: the duals of the boxes that this one lies in.
    """
    dual = box.dual or above
    if box.below is not None and box.above is not None:
        return min(proven_by(objective, half, worth, dual, searches=searches) for half in (box.below, box.above))
    proven = proven_alone(objective, box, worth, dual)
    return max(proven, min(worth, box.searched)) if searches and box.searched is not None else proven


def proven_alone(objective: Objective, box: Box, worth: int, dual: bounds.Bound | None) -> int:
    """What these duals prove of a box as a whole, for a plan of `worth`; without duals, what its limits do."""
    if any(low > high for low, high in box.box):
        return worth
    return min(worth, next_value(objective, dual.ceiling if dual else 0, worth, box.box))


class Search:
    """Best-first branch and bound on how many sticks of each type are drawn.

    Branching on these sums keeps the pricing problem as it is (Vanderbeck, Oper. Res. 48 (2000) 111-128, sec. 3)
    and each leaf is proven by one LP bound over its box. Where the sums are whole and the LP is not, a search over the
    patterns of small reduced cost decides, or with one kind of stick branch and price.
    """

    def __init__(self, objective: Objective, start: Solution, budget: Budget, report: Report) -> None:
        self.objective, self.budget, self.report = objective, budget, report
        self.instance = objective.instance
        self.best, self.worth = start, first_fit.value(objective, start)
        self.passes = Passes(self.instance)
        self._open: list[tuple[int, int, Box]] = []
        self._made = 0
        self._hard: list[Box] = []  # could not be decided at first
        self._given_up = self.worth  # the least bound among boxes that were not decided at all
        self._first = objective.cap is None
        self.root = self._push(objective.floor, objective.box(self.worth))
        self.master = lp.Master(objective, self.root.box, self.worth)
        for pattern in [*start, *generation.starters(objective)]:
            self.master.add(pattern)

    def run(self) -> Optimum:
        while self._open and not self._over() and self._made < BOXES[self._first]:
            if self._open[0][0] >= self.worth:
                break
            self._bound(heapq.heappop(self._open)[-1])
            self.budget.tell(self.report(self.worth, self._proven()))
        while self._hard and self._proven() < self.worth and not self._over():
            self._insist(self._hard.pop(0))
        return self._so_far()

    def run_briefly(self) -> Optimum:
        """A good plan soon: the root only, and of it no more than a few dives."""
        if self._open:
            self.master.enter(self.root.box)
            self._rough(self.root)
        return self._so_far()

    def _over(self, box: Box | None = None) -> bool:
        """Whether the time is, or the gap that is left is small enough; `box` is the one at work, which is not kept."""
        proven = self._proven() if box is None else min(self._proven(), box.known)
        return self.budget.spent() or (self.budget.gap > 0 and self.budget.enough(self.worth, proven))

    def _so_far(self) -> Optimum:
        return Optimum(self.best, self.worth, self._proven(), self.root, tuple(self.master.patterns))

    def _proven(self) -> int:
        """What no plan can be worth less than: the least bound among the boxes that are left."""
        return min([self.worth, self._given_up, *(known for known, *_ in self._open), *(b.known for b in self._hard)])

    def _push(self, known: int, limits: bounds.Box) -> Box:
        """Keeps a box for later, unless its sticks alone cost more than a better plan may."""
        box = Box(limits, known)
        if known < self.worth and not barren(self.objective, limits, self.worth):
            self._made += 1
            heapq.heappush(self._open, (known, self._made, box))
        return box

    def _bound(self, box: Box) -> None:
        """Bounds one box, looks for plans in it, and splits or decides it."""
        if (relaxed := self._relax(box)) is None:
            return
        drawn = self.master.sticks()
        s = max(range(len(drawn)), key=lambda s: (min(drawn[s] % 1, 1 - drawn[s] % 1), -s))
        whole = len(self.objective.ways) == 1 or not 1e-6 < drawn[s] % 1 < 1 - 1e-6
        if box is self.root or whole:
            self._dive(box, SHARES[:1], BOX_DIVES)
        elif self._made % DIVE_EVERY == 0:
            self._dive(box, SHARES[:1], 0, BOX_STEPS)
        if not whole:
            self._split(box, s, int(drawn[s]))
        elif not self._decide(box, self._list(box, self._near(relaxed), MOST_PATTERNS[self._first])):
            if self._first:
                self._guess(box, relaxed.bound)
            self._hard.append(box)

    def _relax(self, box: Box) -> generation.Relaxed | None:
        """The LP of a box, to its end; None where the box needs no more, or can have no more."""
        master = self.master
        master.enter(box.box)
        if box is self.root and box.dual is None:
            self._rough(box)
        if box.known >= self.worth:
            return None
        relaxed = generation.relax(
            master, self.budget, lambda bound, _: self._round(bound.ceiling, box.box) >= self.worth, box.dual)
        if relaxed is not None:
            self._learn(box, relaxed)
        if relaxed is None or relaxed.own is None:
            self._give_up(box)
            return None
        return relaxed

    def _give_up(self, box: Box) -> None:
        if box.known < self.worth:
            self._given_up = min(self._given_up, box.known)

    def _insist(self, box: Box) -> None:
        """A box that could not be decided, once more with patience."""
        if (relaxed := self._relax(box)) is None:
            return
        if self._first:
            self._dive(box, SHARES, HARD_DIVES)
        others = generation.elsewhere(self.master, HARD_DUALS[self._first], self.budget)
        patterns = self._list(box, chain(self._near(relaxed), others), HARD_FEW[self._first])
        if patterns is None and self._first:
            patterns = self._list(box, self._near(relaxed), HARD_PATTERNS)
        if not self._decide(box, patterns) and not self._pair(box, HARD_PAIRING):
            self._give_up(box)

    def _rough(self, box: Box) -> None:
        """The root's LP only until its bound, rounded, can rise no more; then plans from it and stick by stick."""
        def enough(bound: bounds.Bound, worth: float) -> bool:
            known = self._round(bound.ceiling, box.box)
            return known >= min(self.worth, self._round(math.ceil(worth - 1e-6), box.box))

        self._try_passes(box, FIRST_WORK)
        relaxed = generation.relax(self.master, self.budget, enough)
        if relaxed is not None:
            self._learn(box, relaxed)
            self._try_passes(box, LATER_WORK)
            tight = self._tight(box)
            later = tight and len(self.instance.sizes) * self.instance.sticks[0].capacity > LARGE
            self._dive(box, SHARES[:not later], 0)
            if tight:
                self._pair(box, PAIRING // sum(self.instance.demands))
            if later:
                self._restart(box)
            self._dive(box, SHARES[not later:2], 1)

    def _learn(self, box: Box, relaxed: generation.Relaxed) -> None:
        """Keeps duals that prove what is known of the box; weaker ones, of an LP stopped early, lose its proof."""
        known = self._round(relaxed.bound.ceiling, box.box)
        if box.dual is not None or known >= box.known:  # the search went on from its own duals, if it has some
            box.dual = relaxed.bound
        box.known = max(box.known, known)
        self.budget.keep(self._so_far)

    def _try_passes(self, box: Box, work: int) -> None:
        """Sequential plans until one reaches the box's bound or so much work is done; their patterns begin the LP."""
        if self.objective.cap is not None:
            return
        end = self.passes.work + work
        for _ in range(PASSES):
            if box.known >= self.worth or self.passes.work >= end or self._over(box):
                break
            self._offer(self.passes.next(self.worth, self.budget))
        for pattern in self.passes.cut:
            self.master.add(pattern)

    def _split(self, box: Box, s: int, at: int) -> None:
        (low, high), limits = box.box[s], box.box
        box.split = (s, at)
        box.below = self._push(box.known, (*limits[:s], (low, at), *limits[s + 1:]))
        box.above = self._push(box.known, (*limits[:s], (at + 1, high), *limits[s + 1:]))

    def _dive(self, box: Box, shares: Sequence[float], by_chance: int, steps: int | None = None) -> None:
        """Dives until one reaches the box's bound."""
        chance = random.Random(self._made)
        dives: list[tuple[float, random.Random | None]] = [(share, None) for share in shares]
        dives += [(1.0, chance)] * by_chance
        for share, luck in dives:
            if box.known >= self.worth or self._over(box):
                return
            rest = Completion(self.master, self.worth, self.budget)
            self._offer(rounding.dive(self.master, self.budget, share, self.worth, rest, luck, steps))

    def _tight(self, box: Box) -> bool:
        """Whether a better plan wastes less than the smallest piece in all: dives rarely come to such a plan."""
        return pairing.applies(self.objective) and (
            0 <= pairing.waste_of(self.instance, self._fewer(box)) < self.instance.sizes[-1])

    def _fewer(self, box: Box) -> int:
        """The most sticks of a better plan, where there is one kind of stick."""
        return min(box.box[0][1], (self.worth - 1) // self.instance.sticks[0].cost)

    def _pair(self, box: Box, nodes: int) -> bool:
        """Branch and price on which pieces share a stick; whether that decided it."""
        if box.known < self.worth and not self._over(box) and pairing.applies(self.objective):
            answer = pairing.pair(self.instance, self.master.patterns, self._fewer(box), nodes, self.budget)
            self._offer_trimmed(answer.plan)
            if answer.proven and answer.plan is None:
                box.known = box.searched = self.worth
        return box.known >= self.worth

    def _restart(self, box: Box) -> None:
        """Tries at a plan that wastes so little, each from the beginning."""
        if box.known < self.worth and not self._over(box):
            fewer = self._fewer(box)
            self._offer_trimmed(restart(self.instance, self.master.patterns, fewer, RESTARTS, self.budget))

    def _near(self, relaxed: generation.Relaxed) -> list[bounds.Bound]:
        """Bounds to list patterns by: the LP's own duals' first, which are often sharper than the steadier ones'."""
        return [bound for bound in (relaxed.own, relaxed.bound) if bound is not None]

    def _list(self, box: Box, bounds: Iterable[bounds.Bound], most: int) -> list[Pattern] | None:
        """All that a better plan in this box could use, by the first bound for which these are few enough."""
        for bound in bounds:
            if box.known >= self.worth or self._over(box):
                return None
            patterns = search.worthwhile(self.objective, bound, self.worth, box.box, most)
            self.budget.count()
            if patterns is not None:
                return patterns
        return None

    def _decide(self, box: Box, patterns: list[Pattern] | None) -> bool:
        """A search over all patterns a better plan in this box could use; whether that decided it."""
        if patterns is not None:
            outcome = search.search(self.objective, patterns, box.box, box.known, self.worth, self.budget)
            self._offer_trimmed(outcome.plan)
            if outcome.bound is not None and outcome.bound > box.known:
                box.known = box.searched = min(outcome.bound, self.worth)
        return box.known >= self.worth

    def _guess(self, box: Box, dual: bounds.Bound) -> None:
        """A MIP over the patterns of least reduced cost, which may find a better plan and proves nothing."""
        if box.known >= self.worth or self._over(box):
            return
        ceiling = self.worth
        while (patterns := search.worthwhile(self.objective, dual, ceiling, box.box, FEW)) is None:
            self.budget.count()
            if ceiling <= box.known + 1:
                return
            ceiling = (ceiling + box.known) // 2
        self._offer_trimmed(search.look(self.objective, patterns, box.box, box.known, self.worth, self.budget,
                                        search.FEW_NODES, complete=False))

    def _offer_trimmed(self, plan: Solution | None) -> None:
        if plan is not None:
            self._offer(first_fit.trim(self.instance, plan))

    def _round(self, bound: int, box: bounds.Box) -> int:
        """The next value that a plan in this box can have."""
        return next_value(self.objective, bound, self.worth, box)

    def _offer(self, plan: Solution | None) -> None:
        """Takes a plan that is better than the best so far and within the cap."""
        if plan is None:
            return
        if self.objective.cap is None:
            plan = first_fit.downgrade(self.instance, plan)
        elif first_fit.spent(self.instance, plan) > self.objective.cap:
            return
        value = first_fit.value(self.objective, plan)
        if value < self.worth:
            self.best, self.worth = plan, value
            self.budget.keep(self._so_far)


def optimise(objective: Objective, start: Solution, budget: Budget, report: Report, brief: bool = False) -> Optimum:
    """The best plan for this objective and its proven bound. `start` is any plan; `report` words the progress.

    `brief`: a good plan is enough.
    """
    search = Search(objective, start, budget, report)
    return search.run_briefly() if brief else search.run()
