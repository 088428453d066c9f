"""What to order of one profile, so that its pieces can be cut and the order costs least.

The money for x_l sticks of length l is a step function G_l (see terms), so the cutter's own aim, a price for each
stick, does not say it. Best-first branch and bound over ranges lo_l <= x_l <= hi_l does: within them

    G_l(x) >= a_l + b_l (x - lo_l),   a_l = G_l(lo_l),   b_l = min over lo_l < x <= hi_l of (G_l(x) - a_l) / (x - lo_l)

(the line from the range's beginning that stays below; Falk and Soland, Management Science 15 (1969) 550-569). So the
cutter, with b_l as prices and no more than hi_l sticks, bounds every order in the ranges; its plan is an order too, at
G's true money. A range is split where a step of G ends, and on a single step the line is G itself.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.buying.terms import Terms
from cutplan.cutting import (
    Counts,
    Instance,
    Pattern,
    Solution,
    build_instance,
    cheapest_plan,
    least_cost,
    quantities,
)
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock
from cutplan.sums import granule

SaleKind = tuple[Fraction, bool, Fraction | None, Fraction | None, Fraction | None]  # see kind_of
Ranges = tuple[tuple[int, int], ...]
MOST_RANGES = 5_000  # that are looked at before the order is left unproven


@dataclass(frozen=True)
class PatternPlan:
    """A plan by its patterns: how often each is cut, from what kind of stick, with what pieces."""

    sticks: tuple[tuple[SaleKind, Counts, int], ...]

    def drawn(self) -> Counter[Fraction]:
        """The new sticks, by length."""
        counts: Counter[Fraction] = Counter()
        for (length, new, *_), _, n in self.sticks:
            if new:
                counts[length] += n
        return counts


def kind_of(stock: Stock) -> SaleKind:
    return stock.length, stock.tag is None, stock.first, stock.head_trim, stock.tail_trim


@dataclass(frozen=True)
class BestOrder:
    """The cheapest order found: the plan it is for, how many sticks of each of the terms that draws, the order's money
    and what no order can cost less than."""

    cut: PatternPlan
    shared: tuple[int, ...]
    money: Fraction
    bound: Fraction


@dataclass(frozen=True)
class Bounded:
    """What the cutter says of some ranges: no order costs less than `bound`; a plan, where it found one.

    `bound` is None where no plan draws so few sticks.
    """

    bound: Fraction | None
    cut: PatternPlan | None


class OrderSearch:
    """The search for one profile and one demand; `terms` in the order of its new stock."""

    def __init__(self, profile: Profile, demand: Sequence[Demand], terms: Sequence[Terms], budget: Budget,
                 nodes: int = MOST_RANGES) -> None:
        self.nodes = nodes
        self.profile, self.demand, self.terms, self.budget = profile, demand, terms, budget
        self.asked = quantities(demand)
        self.pieces = sum(self.asked.values())
        self.offcuts = [entry for entry in profile.stock if entry.tag is not None]
        self.fine = granule([entry.price for term in terms for entry in [term.stock]]
                            + [price for term in terms for _, price in term.stock.breaks])
        self.best: PatternPlan | None = None
        self.worth = Fraction(0)

    def run(self) -> BestOrder:
        """Raises NoPlan where the stock cannot give the pieces."""
        whole = tuple((0, self.most(term)) for term in self.terms)
        if not all(term.plain for term in self.terms):
            self.offer(self.relaxed(whole, [term.stock.price for term in self.terms]).cut)  # as if there were no terms
        root = self.bounded(whole)
        if self.best is None or root.bound is None:
            there = [replace(term.stock, qty=term.most) for term in self.terms]
            cheapest_plan(replace(self.profile, stock=(*there, *self.offcuts)), self.demand, self.budget)
            raise OutOfTime(f"{self.profile.name}: no order was found in the time there was")
        waiting = [(root.bound, 0, whole, root)]
        made = 0
        left: Fraction | None = None
        while waiting and waiting[0][0] < self.worth and made < self.nodes and not self.budget.spent():
            known, _, ranges, node = heapq.heappop(waiting)
            parts = self.split(ranges, node)
            if not parts:  # the line is G itself: what is open is whether the cutter's own bound could be reached
                left = min(known, self.worth if left is None else left)
            for part in parts:
                made += 1
                bounded = self.bounded(part)
                if bounded.bound is not None:
                    heapq.heappush(waiting, (max(known, bounded.bound), made, part, bounded))
            self.budget.tell(f"{self.profile.name}: order {float(self.worth):g}, proven so far: no less than "
                             f"{float(min([self.worth, *(entry[0] for entry in waiting)])):g}")
        bounds = [self.worth, *(bound for bound, *_ in waiting), *([] if left is None else [left])]
        return BestOrder(self.best, tuple(self.shared(self.best)), self.worth, min(bounds))

    def most(self, term: Terms) -> int:
        """The most sticks of a length that any plan draws: each carries at least one piece."""
        return self.pieces if term.most is None else min(self.pieces, term.most)

    def bounded(self, ranges: Ranges) -> Bounded:
        """The least that an order within the ranges can cost, by the lines below G."""
        lines = [line(term, low, high, self.fine) for term, (low, high) in zip(self.terms, ranges, strict=True)]
        base = sum((a for a, _ in lines), Fraction(0))
        relaxed = self.relaxed(ranges, [b for _, b in lines])
        if relaxed.bound is None:
            return Bounded(None, None)
        self.offer(relaxed.cut)
        before = sum((b * low for (_, b), (low, _) in zip(lines, ranges, strict=True)), Fraction(0))
        return Bounded(max(base, base - before + relaxed.bound), relaxed.cut)

    def relaxed(self, ranges: Ranges, prices: Sequence[Fraction]) -> Bounded:
        """The cheapest plan at these prices with no more sticks than the ranges allow."""
        new = [Stock(term.stock.length, price, high) for term, price, (_, high) in
               zip(self.terms, prices, ranges, strict=True)]
        try:
            instance = build_instance(replace(self.profile, stock=(*new, *self.offcuts)), self.asked)
        except NoPlan:
            return Bounded(None, None)
        found = least_cost(instance, self.budget, self.profile.name, "order")
        missing = [instance.sticks[pattern.stick].cost for pattern in found.plan
                   if instance.sticks[pattern.stick].emergency]
        if missing and found.bound >= missing[0]:
            return Bounded(None, None)
        bound = Fraction(0) if missing else found.bound * instance.coin
        return Bounded(bound, None if missing else as_cut(instance, found.plan))

    def offer(self, cut: PatternPlan | None) -> None:
        """Takes an order that is cheaper than the best so far."""
        if cut is None:
            return
        money = self.money(cut)
        if self.best is None or money < self.worth:
            self.best, self.worth = cut, money

    def money(self, cut: PatternPlan) -> Fraction:
        return sum((term.money(n) for term, n in zip(self.terms, self.shared(cut), strict=True)), Fraction(0))

    def shared(self, cut: PatternPlan) -> list[int]:
        """How many sticks are drawn by each of the terms; those of one length share them, the first takes most."""
        left = cut.drawn()
        counts = []
        for term in self.terms:
            n = min(left[term.stock.length], self.most(term))
            left[term.stock.length] -= n
            counts.append(n)
        return counts

    def split(self, ranges: Ranges, node: Bounded) -> list[Ranges]:
        """The ranges in two, at the end of a step, where the line is furthest below G; none where it is G itself."""
        drawn = self.shared(node.cut) if node.cut else [high for _, high in ranges]
        found = []
        for k, (term, (low, high), x) in enumerate(zip(self.terms, ranges, drawn, strict=True)):
            a, b = line(term, low, high, self.fine)
            steps = [end for end in (before(term, x), term.enough(x), term.enough(low)) if low <= end < high]
            if steps and not term.plain:
                found.append((term.money(x) - (a + b * (x - low)), -k, steps[0]))
        if not found:
            return []
        _, k, end = max(found)
        low, high = ranges[-k]
        return [(*ranges[:-k], part, *ranges[1 - k:]) for part in ((low, end), (end + 1, high))]


def line(term: Terms, low: int, high: int, fine: Fraction) -> tuple[Fraction, Fraction]:
    """a and b of the line below G between low and high.

    b is rounded down to a multiple of `fine`, so that the cutter's prices stay short numbers.
    """
    a = term.money(low)
    b = min(((term.money(x) - a) / (x - low) for x in ends(term, low, high) if x > low), default=Fraction(0))
    return a, math.floor(b / fine) * fine


def ends(term: Terms, low: int, high: int) -> list[int]:
    """Where the steps of G end between low and high."""
    found = []
    x = low
    while x <= high:
        end = min(term.enough(x), high)
        found.append(end)
        x = end + 1
    return found


def before(term: Terms, x: int) -> int:
    """The end of the step before the one that x is on; -1 for none."""
    low, high = 0, x  # the least number with the money of x
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if term.money(middle) == term.money(x) else (middle + 1, high)
    return low - 1


def as_cut(instance: Instance, plan: Solution) -> PatternPlan:
    return PatternPlan(tuple(
        (kind_of(instance.stock[pattern.stick][0]), pattern.counts, n)
        for pattern, n in sorted(plan.items())))


def as_plan(instance: Instance, cut: PatternPlan) -> Solution:
    """The same patterns on the sticks of another instance of the same pieces."""
    plan: Solution = Counter()
    left = [instance.most(s) for s in range(len(instance.sticks))]
    for kind, counts, n in cut.sticks:
        for s, stock in enumerate(instance.stock):
            if kind_of(stock[0]) == kind and not instance.sticks[s].emergency:
                some = min(n, left[s])
                left[s] -= some
                n -= some
                plan[Pattern(s, counts)] += some
    return +plan


def cheapest_order(profile: Profile, demand: Sequence[Demand], terms: Sequence[Terms], budget: Budget) -> BestOrder:
    """The order for the pieces of one profile; `terms` of each length of its new stock."""
    return OrderSearch(profile, demand, terms, budget).run()
