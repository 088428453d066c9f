"""One tier: the best plan for an objective, with its proven bound."""

from __future__ import annotations

import heapq
import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain

from cutplan.cutting.exact import branch_and_price as pairing
from cutplan.cutting.exact import given_sticks as given
from cutplan.cutting.exact import listing as search
from cutplan.cutting.exact import residual as rests
from cutplan.cutting.exact.completion import Completion, CompletionParams
from cutplan.cutting.exact.full_sticks import FullSticksParams, put_together
from cutplan.cutting.exact.reach import Reach
from cutplan.cutting.exact.restarts import RestartParams, restart
from cutplan.cutting.exact.verdict import PairProof
from cutplan.cutting.heuristics import diving as rounding
from cutplan.cutting.heuristics import first_fit
from cutplan.cutting.heuristics.sequential import Passes, SequentialParams
from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.lp.cover import cover_of, covered, has_covers
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget
from cutplan.sums import least_sum, sums_of

Wording = Callable[[int, int], str]  # the best value and the bound, in words

NO_PLAN_COSTS = 2**62  # so much
MOST_COINS = 10**8  # beyond so many a bound is rounded up to a whole coin only, as the proof does


@dataclass(frozen=True)
class BranchAndBoundParams:
    """Branch and bound on numbers of sticks. Of pairs the first is for the later tiers, the second for the first tier.

    boxes:        that are looked at; the bound of each goes into the first tier's certificate
    all_there:    whether no other kinds of stick are there than the search knows of, so that its boxes can be narrowed
    shares:       what fraction a dive rounds up, one dive each
    lucky:        dives by chance besides: in a box, and in one that could not be decided at first
    dive_every, steps: boxes with a short dive where the LP's numbers of sticks are not whole, and its steps
    stuck:        boxes in turn that do not raise the bound, after which rests of the LP's plan are looked at
    passes:       stick by stick
    work:         table entries that they may fill before the LP and after
    patterns:     in a search that proves; `hard_patterns` in one of a box that could not be decided at first
    guess:        patterns in a MIP that only looks for a plan
    duals, few:   for a box that could not be decided at first: others to list patterns by, and how many are few then
    pair_work:    nodes of branch and price times pieces, before most dives where waste is little; and before patterns
                  are listed, because what it proves can be written down
    pair_nodes:   nodes of it, last of all, and on large tables before other dives; all are counted from the root
    large:        table entries with which one dive takes as long as many restarts, which then come first
    """

    boxes: tuple[int, int] = (2_000, 10_000)
    all_there: bool = True
    shares: tuple[float, ...] = (0.9, 0.7, 0.5, 0.99, 0.8, 0.6)
    lucky: tuple[int, int] = (1, 12)
    dive_every: int = 4
    steps: int = 1
    stuck: int = 8
    passes: int = 5
    work: tuple[int, int] = (2 * 10**7, 2 * 10**8)
    patterns: tuple[int, int] = (500, 5_000)
    hard_patterns: int = 20_000
    guess: int = 800
    duals: tuple[int, int] = (4, 20)
    few: tuple[int, int] = (500, 800)
    pair_work: tuple[int, int] = (5_000, 16_000)
    pair_nodes: int = 2_000
    large: int = 2 * 10**6
    generation: lp.GenerationParams = field(default_factory=lp.GenerationParams)
    sequential: SequentialParams = field(default_factory=SequentialParams)
    diving: rounding.DivingParams = field(default_factory=rounding.DivingParams)
    completion: CompletionParams = field(default_factory=CompletionParams)
    listing: search.ListingParams = field(default_factory=search.ListingParams)
    pairs: pairing.BranchAndPriceParams = field(default_factory=pairing.BranchAndPriceParams)
    full: FullSticksParams = field(default_factory=FullSticksParams)
    restarts: RestartParams = field(default_factory=RestartParams)
    rests: rests.ResidualParams = field(default_factory=rests.ResidualParams)
    given: given.GivenSticksParams = field(default_factory=given.GivenSticksParams)


@dataclass
class BoxNode:
    """A node of the search: the least and most sticks of each type, its LP bound, and how it was split.

    split = (s, v): `below` draws at most v sticks of type s, `above` at least v + 1. `dual` is None where the duals of
    the box that it was split from prove as much. `searched` is the bound that a search proved, over listed patterns or
    by branch and price (None: the duals were enough), and `pairs` the proof of the latter.
    """

    box: bounds.Box
    known: int
    dual: bounds.Bound | None = None
    searched: int | None = None
    pairs: PairProof | None = None
    split: tuple[int, int] | None = None
    below: BoxNode | None = None
    above: BoxNode | None = None


@dataclass(frozen=True)
class Optimum:
    """The best plan found, its value, the proven bound, and the tree of boxes that proves it.

    `patterns` are those of the LPs, for the tiers to come.
    """

    plan: Solution
    value: int
    bound: int
    root: BoxNode
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
    if room > MOST_COINS:
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


def proven_by(objective: Objective, box: BoxNode, worth: int, above: bounds.Bound | None = None, *,
              searches: bool = False) -> int:
    """What the duals of a tree prove no plan of `worth` or less is worth less than; with `searches`, and its searches.

    `above`: the duals of the boxes that this one lies in.
    """
    dual = box.dual or above
    if box.below is not None and box.above is not None:
        return min(proven_by(objective, half, worth, dual, searches=searches) for half in (box.below, box.above))
    proven = proven_alone(objective, box, worth, dual)
    return max(proven, min(worth, box.searched)) if searches and box.searched is not None else proven


def proven_alone(objective: Objective, box: BoxNode, worth: int, dual: bounds.Bound | None,
                 cover: bool = True) -> int:
    """What these duals prove of a box as a whole, for a plan of `worth`; without duals, what its limits do.

    With `cover`, also by the cheapest numbers of sticks that can carry the demand.
    """
    if any(low > high for low, high in box.box):
        return worth
    alone = min(worth, next_value(objective, dual.ceiling if dual else 0, worth, box.box))
    return max(alone, covered(objective, dual, box.box, worth)) if cover and dual and alone < worth else alone


def beside(box: bounds.Box, drawn: Sequence[float]) -> tuple[int, int] | None:
    """A split of a box that leaves whole numbers of sticks at the edge of a half; None where all are fixed.

    The sticks that keep an offcut come first: of which there is one, its length says nearly all.
    """
    for s in reversed(range(len(box))):
        (low, high), number = box[s], round(drawn[s])
        if low < high:
            return s, number - 1 if number > low else number
    return None


class Search:
    """Best-first branch and bound on how many sticks of each type are drawn.

    Branching on these sums keeps the pricing problem as it is (Vanderbeck, Oper. Res. 48 (2000) 111-128, sec. 3)
    and each leaf is proven by one LP bound over its box. Where the sums are whole and the LP is not, a search over the
    patterns of small reduced cost decides, or with one kind of stick branch and price.
    """

    def __init__(self, objective: Objective, start: Solution, budget: Budget, report: Wording,
                 params: BranchAndBoundParams) -> None:
        self.objective, self.budget, self.report, self.params = objective, budget, report, params
        self.instance = objective.instance
        self.best, self.worth = start, first_fit.value(objective, start)
        self.passes = Passes(self.instance, params.sequential)
        self._open: list[tuple[int, int, BoxNode]] = []
        self._made = 0
        self._hard: list[BoxNode] = []  # could not be decided at first
        self._at: BoxNode | None = None  # at work on; whoever is handed the best so far must not take it for closed
        self._level, self._at_level = -1, 0  # the bound of the last box, and how many boxes in turn had it
        self._look_at = 0  # boxes made at which rests of the LP's plan are worth another look
        self._given_up = self.worth  # the least bound among boxes that were not decided at all
        self._first = objective.cap is None
        self.reach: Reach | None = None  # of a later tier, from when the root's LP is solved: the next needs its duals
        self._chance = random.Random(0)  # of full sticks: each further try is another
        self._tree: tuple[BoxNode, pairing.PairTree] | None = None
        missing = [stick.cost for stick in self.instance.sticks if stick.emergency and self._first]
        self._dearest = min(missing, default=NO_PLAN_COSTS)
        self.root = self._push(objective.floor, objective.box(self.worth))
        self.master = lp.Master(objective, self.root.box, self.worth, params.generation)
        for pattern in [*start, *generation.starters(objective)]:
            self.master.add(pattern)

    def run(self) -> Optimum:
        while self._open and not self._over() and self._made < self.params.boxes[self._first]:
            if self._open[0][0] >= self.worth:
                break
            self._work(self._bound, heapq.heappop(self._open)[-1])
            self._tell()
        while self._hard and self._proven() < self.worth and not self._over():
            self._work(self._insist, self._hard.pop(0))
        return self._so_far()

    def _tell(self) -> None:
        """How far it is."""
        self.budget.tell(self.report(self.worth, self._proven()))

    def _work(self, step: Callable[[BoxNode], None], box: BoxNode) -> None:
        """One step on a box, which is open until it is done."""
        self._at = box
        step(box)
        self._at = None

    def run_briefly(self) -> Optimum:
        """A good plan soon: the root only, and of it no more than a few dives."""
        if self._open:
            self.master.enter(self.root.box)
            self._rough(self.root)
        return self._so_far()

    def _over(self, box: BoxNode | None = None) -> bool:
        """Whether the time is, or the gap that is left is small enough; `box` is the one at work, which is not kept."""
        proven = self._proven() if box is None else min(self._proven(), box.known)
        if proven >= (dearest := self._dearest) and proven // dearest == self.worth // dearest:
            return True  # so many sticks are missing, whatever the rest costs
        return self.budget.spent() or (self.budget.gap > 0 and self.budget.enough(self.worth, proven))

    def _so_far(self) -> Optimum:
        return Optimum(self.best, self.worth, self._proven(), self.root, tuple(self.master.patterns))

    def _proven(self) -> int:
        """What no plan can be worth less than: the least bound among the boxes that are left."""
        at_work = [] if self._at is None else [self._at.known]
        return min([self.worth, self._given_up, *at_work, *(known for known, *_ in self._open),
                    *(b.known for b in self._hard)])

    def _push(self, known: int, limits: bounds.Box, dual: bounds.Bound | None = None) -> BoxNode:
        """Keeps a box for later, unless its sticks alone cost more than a better plan may.

        `dual`: of the box that it was split from.
        """
        if dual is not None and known < self.worth and all(low <= high for low, high in limits):
            known = max(known, covered(self.objective, dual, limits, self.worth))
        box = BoxNode(limits, known)
        if known < self.worth and not barren(self.objective, limits, self.worth):
            self._made += 1
            heapq.heappush(self._open, (known, self._made, box))
        return box

    def _bound(self, box: BoxNode) -> None:
        """Bounds one box, looks for plans in it, and splits or decides it."""
        if (relaxed := self._relax(box)) is None:
            return
        params, drawn = self.params, self.master.sticks()
        s = max(range(len(drawn)), key=lambda s: (min(drawn[s] % 1, 1 - drawn[s] % 1), -s))
        whole = len(self.objective.ways) == 1 or not 1e-6 < drawn[s] % 1 < 1 - 1e-6
        lone = self._first and len(drawn) == 1  # the root had its dives, and lists decide sooner than more of them
        if (box is self.root or whole) and not lone:
            self._dive(box, params.shares[:1], params.lucky[0])
        if self._stuck(box):
            self._rest(box)
            self._give(box, True)
        elif self._made % params.dive_every == 0:
            self._dive(box, params.shares[:1], 0, params.steps)
        if not whole:
            self._split(box, s, int(drawn[s]))
        elif not self._pair(box, params.pair_work[1] // sum(self.instance.demands)) and not self._decide(
                box, self._list(box, self._near(relaxed), params.patterns[self._first])):
            if self._first:
                self._guess(box, relaxed.bound)
            at = None if lone else beside(box.box, drawn)
            if at is None:
                self._hard.append(box)
            else:
                self._split(box, *at)

    def _relax(self, box: BoxNode) -> generation.Relaxed | None:
        """The LP of a box, to its end; None where the box needs no more, or can have no more."""
        self._narrow(box)
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
        if self.reach is None and not self._first and self.params.all_there:
            self.reach = Reach(self.objective)
            self._narrow(box)
        return None if box.known >= self.worth else relaxed

    def _narrow(self, box: BoxNode) -> None:
        """Leaves in a box of a later tier only what a better plan can have; the root keeps what its duals speak of."""
        if self.reach is None or box.known >= self.worth:
            return
        limits = self.reach.narrowed(box.box, self.worth)
        box.known = self.worth if limits is None else max(box.known, self._round(box.known, limits))
        if limits is not None and box is not self.root:
            box.box = limits

    def _give_up(self, box: BoxNode) -> None:
        if box.known < self.worth:
            self._given_up = min(self._given_up, box.known)

    def _insist(self, box: BoxNode) -> None:
        """A box that could not be decided, once more with patience."""
        if (relaxed := self._relax(box)) is None:
            return
        params = self.params
        if self._first:
            self._rest(box)
        else:
            self._dive(box, params.shares, params.lucky[1])
            self._guess(box, relaxed.bound)
        others = generation.elsewhere(self.master, params.duals[self._first], self.budget)
        few = self._list(box, chain(self._near(relaxed), others), params.few[self._first])
        if self._decide(box, few, patient=True):
            return
        if self._first:  # where few patterns are left, these dives take longer than to decide
            self._dive(box, params.shares, params.lucky[1])
        many = None if few is not None else self._list(box, self._near(relaxed), params.hard_patterns)
        if not self._decide(box, many, patient=True) and not self._pair(box, params.pair_nodes):
            if self._tight(box):
                self._put_together(box, insist=True)
            self._give_up(box)

    def _rough(self, box: BoxNode) -> None:
        """The root's LP only until its bound, rounded, can rise no more; then plans from it and stick by stick."""
        def enough(bound: bounds.Bound, worth: float) -> bool:
            known = self._round(bound.ceiling, box.box)
            return known >= min(self.worth, self._round(math.ceil(worth - 1e-6), box.box))

        params = self.params
        self._try_passes(box, params.work[0])
        relaxed = generation.relax(self.master, self.budget, enough)
        if relaxed is not None:
            self._learn(box, relaxed)
            if not self._beatable(box):
                return
            self._tell()  # what comes next may take long
            self._try_passes(box, params.work[1])
            if self.passes.slow:
                self.master.settle()  # pieces put in the place of longer ones waste what the last sticks have to spare
            self._give(box, False)
            tight = self._tight(box)
            later = tight and len(self.instance.sizes) * self.instance.sticks[0].capacity > params.large
            if not later:
                self._dive(box, params.shares[:1], 0)
            if tight:
                self._put_together(box)
                self._pair(box, params.pair_work[0] // sum(self.instance.demands))
            if later:
                self._restart(box)
                self._dive(box, params.shares[:1], 0)
                self._pair(box, params.pair_nodes)
            elif not tight:
                self._dive(box, params.shares[1:2], 1)

    def _beatable(self, box: BoxNode) -> bool:
        """Whether in a later tier the numbers of sticks alone leave room for a better plan."""
        return (self._first or not self.params.all_there
                or Reach(self.objective).narrowed(box.box, self.worth) is not None)

    def _learn(self, box: BoxNode, relaxed: generation.Relaxed) -> None:
        """Keeps duals that prove what is known of the box; weaker ones, of an LP stopped early, lose its proof."""
        known = self._round(relaxed.bound.ceiling, box.box)
        if known < self.worth:
            known = max(known, covered(self.objective, relaxed.bound, box.box, self.worth))
        if known >= box.known:
            box.dual, box.known = relaxed.bound, known
        self.budget.keep(self._so_far)

    def _try_passes(self, box: BoxNode, work: int) -> None:
        """Sequential plans until one reaches the box's bound or so much work is done; their patterns begin the LP."""
        if self.objective.cap is not None:
            return
        end = self.passes.work + work
        for _ in range(self.params.passes):
            if box.known >= self.worth or self.passes.work >= end or self._over(box):
                break
            self._offer(self.passes.next(self.worth, self.budget))
        for pattern in self.passes.cut:
            self.master.add(pattern)

    def _split(self, box: BoxNode, s: int, at: int) -> None:
        (low, high), limits = box.box[s], box.box
        box.split = (s, at)
        box.below = self._push(box.known, (*limits[:s], (low, at), *limits[s + 1:]), box.dual)
        box.above = self._push(box.known, (*limits[:s], (at + 1, high), *limits[s + 1:]), box.dual)

    def _dive(self, box: BoxNode, shares: Sequence[float], by_chance: int, steps: int | None = None) -> None:
        """Dives until one reaches the box's bound."""
        chance = random.Random(self._made)
        dives: list[tuple[float, random.Random | None]] = [(share, None) for share in shares]
        dives += [(1.0, chance)] * by_chance
        for share, luck in dives:
            if box.known >= self.worth or self._over(box):
                return
            rest = Completion(self.master, self.worth, self.budget, self.params.completion)
            self._offer(rounding.dive(self.master, self.budget, share, self.worth, rest, luck, steps,
                                      self.params.diving))

    def _tight(self, box: BoxNode) -> bool:
        """Whether a better plan wastes less than the smallest piece in all: dives rarely come to such a plan."""
        return pairing.applies(self.objective, self.params.pairs) and (
            0 <= pairing.waste_of(self.instance, self._fewer(box)) < self.instance.sizes[-1])

    def _fewer(self, box: BoxNode) -> int:
        """The most sticks of a better plan, where there is one kind of stick."""
        return min(box.box[0][1], (self.worth - 1) // self.instance.sticks[0].cost)

    def _pair(self, box: BoxNode, nodes: int) -> bool:
        """Branch and price on which pieces share a stick; whether that decided it."""
        if box.known < self.worth and not self._over(box) and pairing.applies(self.objective, self.params.pairs):
            answer = self._pairs(box).grow(nodes, self.budget)
            self._offer_trimmed(answer.plan)
            if answer.proven and answer.plan is None:
                box.known = box.searched = self.worth
                box.pairs = answer.proof
        return box.known >= self.worth

    def _pairs(self, box: BoxNode) -> pairing.PairTree:
        """The tree of branch and price for a better plan in this box: the one that was begun, if it asks for that."""
        most = self._fewer(box)
        if self._tree is None or self._tree[0] is not box or self._tree[1].most != most:
            root = pairing.root(self.instance, self.master.patterns, most)
            self._tree = box, pairing.PairTree(self.instance, root, most, self.params.pairs)
        return self._tree[1]

    def _put_together(self, box: BoxNode, insist: bool = False) -> None:
        """A plan of full sticks, if all patterns that waste so little can be listed."""
        if box.known < self.worth and not self._over(box):
            sticks = self._fewer(box)
            by_length = generation.bound_by_length(self.master)
            self.budget.count()
            patterns = search.worthwhile(self.objective, by_length, sticks * self.instance.sticks[0].cost + 1, box.box,
                                         self.params.full.patterns)
            if patterns is not None:
                self._offer(put_together(self.instance, patterns, sticks, self._chance, self.budget, self.params.full,
                                         insist))

    def _restart(self, box: BoxNode) -> None:
        """Tries at a plan that wastes so little, each from the beginning."""
        if box.known < self.worth and not self._over(box):
            fewer = self._fewer(box)
            self._offer_trimmed(restart(self.instance, self.master.patterns, fewer, self.budget, self.params.restarts))

    def _rest(self, box: BoxNode) -> None:
        """Plans that keep most of the whole sticks of the LP, with several kinds of stick."""
        if self._first and len(self.objective.ways) > 1 and box.known < self.worth and not self._over(box):
            self._offer(rests.look(self.master, self._proven(), self.budget, self.params.rests))

    def _give(self, box: BoxNode, patiently: bool) -> None:
        """Plans from the cheapest numbers of sticks that can carry the demand, where only its length counts."""
        if box.known >= self.worth or not has_covers(self.objective) or self._over(box):
            return
        by_length = generation.bound_by_length(self.master)
        cover = cover_of(self.objective, by_length, box.box, self.worth)
        if cover is not None and (least := cover.least()) is not None and least >= box.known:
            box.dual, box.known = by_length, least
            self._offer(given.look(self.instance, cover, self.budget, patiently, self.params.given))

    def _stuck(self, box: BoxNode) -> bool:
        """Whether boxes no longer raise the bound; again only once twice as many are made."""
        self._at_level = self._at_level + 1 if box.known == self._level else 1
        self._level = box.known
        stuck = self._at_level >= self.params.stuck and self._made >= self._look_at
        if stuck:
            self._look_at = 2 * self._made
        return stuck

    def _near(self, relaxed: generation.Relaxed) -> list[bounds.Bound]:
        """Bounds to list patterns by: the LP's own duals' first, which are often sharper than the steadier ones'."""
        return [bound for bound in (relaxed.own, relaxed.bound) if bound is not None]

    def _list(self, box: BoxNode, bounds: Iterable[bounds.Bound], most: int) -> list[Pattern] | None:
        """All that a better plan in this box could use, by the first bound for which these are few enough."""
        for bound in bounds:
            if box.known >= self.worth or self._over(box):
                return None
            patterns = search.worthwhile(self.objective, bound, self.worth, box.box, most)
            self.budget.count()
            if patterns is not None:
                reach = self.reach
                return patterns if reach is None else reach.within(patterns, box.box, box.known, self.worth)
        return None

    def _decide(self, box: BoxNode, patterns: list[Pattern] | None, patient: bool = False) -> bool:
        """A search over all patterns a better plan in this box could use; whether that decided it."""
        if patterns is not None:
            outcome = search.search(self.objective, patterns, box.box, box.known, self.worth, self.budget,
                                    self.params.listing, patient or self._first)
            self._offer_trimmed(outcome.plan)
            if outcome.bound is not None and outcome.bound > box.known:
                box.known = box.searched = min(outcome.bound, self.worth)
        return box.known >= self.worth

    def _guess(self, box: BoxNode, dual: bounds.Bound) -> None:
        """A MIP over the patterns of least reduced cost, which may find a better plan and proves nothing."""
        if box.known >= self.worth or self._over(box):
            return
        patterns = search.nearest(self.objective, dual, self.worth, box.known, box.box, self.params.guess, self.budget)
        if not patterns:
            return
        self._offer_trimmed(search.look(self.objective, patterns, box.box, box.known, self.worth, self.budget,
                                        self.params.listing.nodes[0], complete=False, params=self.params.listing))

    def _offer_trimmed(self, plan: Solution | None) -> None:
        if plan is not None:
            self._offer(first_fit.trim(self.instance, plan))

    def _round(self, bound: int, box: bounds.Box) -> int:
        """The next value that a plan in this box can have."""
        if self.reach is not None:
            return self.reach.next(max(self.objective.floor, bound), box, self.worth)
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


def unsearched(objective: Objective, plan: Solution, patterns: Sequence[Pattern] = ()) -> Optimum:
    """A plan in which nobody looked for a better one: all that is known is the objective's floor."""
    worth = first_fit.value(objective, plan)
    return Optimum(plan, worth, min(worth, objective.floor), BoxNode(objective.box(worth), objective.floor),
                   tuple(patterns))


def optimise(objective: Objective, start: Solution, budget: Budget, report: Wording, brief: bool = False,
             params: BranchAndBoundParams = BranchAndBoundParams()) -> Optimum:
    """The best plan for this objective and its proven bound. `start` is any plan; `report` words the progress.

    `brief`: a good plan is enough.
    """
    if budget.spent() and not brief:  # to begin an LP of many sizes takes long
        return unsearched(objective, start)
    search = Search(objective, start, budget, report, params)
    return search.run_briefly() if brief else search.run()
