"""A rack of very many lengths: planned over a few kinds of stick, the core, and bounded over all of them.

A plan over the core is a plan. Its bound is not a bound yet: but duals that prove something of the core prove something
of the whole stock once each kind's excess is counted (see master), and a kind without columns is no burden to the LP.
So the core's LP is solved, its duals are held against all kinds, those that would pay join the core, and so on until
none does: the LP over the core is then the LP over all (sifting: Bixby, Gregory, Lustig, Marsten and Shanno, Oper.
Res. 40 (1992) 885-897, there of columns, here of kinds of stick). Then the kinds that come nearest to paying are the
core that the tier is searched in, and each leaf of its tree is bounded over the whole stock again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction

from cutplan.cutting.exact import blanks
from cutplan.cutting.exact.branch_and_bound import (
    BoxNode,
    BranchAndBoundParams,
    Optimum,
    Wording,
    barren,
    next_value,
    optimise,
    unsearched,
)
from cutplan.cutting.heuristics.first_fit import value
from cutplan.cutting.lp import bounds
from cutplan.cutting.lp.core import Core, relax_core
from cutplan.cutting.patterns import Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget

Aim = Callable[[Instance], Objective]

NOT_ALLOWED = -2**62  # the excess of a kind that the cap does not allow


@dataclass(frozen=True)
class SiftingParams:
    """Sifting of kinds of stick.

    few:      kinds that are planned with as they are
    core:     kinds in a core besides those that it needs
    join:     kinds that join it at once
    patience: rounds that bring the bound less than a tenth nearer to the core's
    boxes:    of a later tier's search over the core: each leaf is to be bounded over all kinds
    tree:     the search over the core, or over few kinds
    """

    few: int = 150
    core: int = 60
    join: int = 30
    patience: int = 3
    boxes: int = 60
    tree: BranchAndBoundParams = field(default_factory=BranchAndBoundParams)


def best_plan(aim: Aim, instance: Instance, start: Solution, budget: Budget, report: Wording,
              params: SiftingParams, assignment: blanks.AssignmentParams, brief: bool = False) -> Optimum:
    """`optimise` for the aim; where there are very many kinds of stick, over a core of them and bounded over all.

    Pieces turned from blanks are an assignment of their own kind.
    """
    whole = aim(instance)
    if instance.blanks is not None:
        return blanks.best(whole, start, budget, assignment)
    if whole.cap is not None and budget.spent():  # a later tier: its floor is a bound
        return unsearched(whole, start)
    if len(instance.sticks) <= params.few:
        return optimise(whole, start, budget, report, brief, params.tree)
    begun = value(whole, start)
    box = whole.box(begun)
    if begun <= whole.floor:
        return Optimum(start, begun, begun, BoxNode(box, begun), tuple(start))
    core, bound = sift(whole, aim, start, box, budget.share(2), params)
    root = BoxNode(box, next_value(whole, bound.ceiling, begun, box), bound)
    if root.known >= begun or budget.spent():
        return Optimum(start, begun, min(root.known, begun), root, tuple(start))
    own = aim(core.instance)
    tree_params, time = params.tree, budget
    if whole.cap is not None:  # half of the time is for the leaves
        tree_params, time = replace(params.tree, boxes=(params.boxes,) * 2, all_there=False), budget.share(2)
    found = optimise(own, core.into(start), time.kept_by(None), report, brief, tree_params)
    plan = Counter({core.back(pattern): n for pattern, n in found.plan.items()})
    reached = value(whole, plan)
    tree = Widening(whole, own, core, reached, budget)(found.root, box, bound)
    return Optimum(plan, reached, min(tree.known, reached), tree, tuple(map(core.back, found.patterns)))


def needed(instance: Instance, start: Solution) -> set[int]:
    """The kinds that every core has: those that cost something, and those of the plan to begin with."""
    return {s for s, stick in enumerate(instance.sticks) if stick.cost} | {pattern.stick for pattern in start}


def sift(whole: Objective, aim: Aim, start: Solution, box: bounds.Box, budget: Budget,
         params: SiftingParams) -> tuple[Core, bounds.Bound]:
    """The core to search in, and the best bound over the whole stock; see above.

    On holes the worth of a pattern is bounded from above, and many kinds never cease to pay: after some rounds that
    bring the bound little nearer to the core's own there is no point in more.
    """
    instance, ceiling, patience = whole.instance, value(whole, start), params.patience
    must = needed(instance, start)
    step = -(-len(instance.sticks) // params.core)
    core = Core(instance, ()).joined([*must, *range(0, len(instance.sticks), step)])
    patterns = dict.fromkeys(start)
    best = bounds.Bound(bounds.Duals((0,) * len(instance.sizes), 0, 1), 0)
    while True:
        relaxed = relax_core(core, aim(core.instance), patterns, ceiling, budget, params.tree.generation)
        patterns.update(dict.fromkeys(relaxed.patterns))
        found = bounds.tables(whole, relaxed.bound.duals, instance.demands, box)
        budget.count()
        excess = bounds.excesses(whole, relaxed.bound.duals, found)
        alone = [max((excess[w] for w in ways), default=NOT_ALLOWED) for ways in whole.by_stick]
        wide = bounds.safe_bound(whole, relaxed.bound.duals, found, box)
        patience -= 10 * (worth(wide) - worth(best)) < worth(relaxed.bound) - worth(best)
        best = max(best, wide, key=worth)
        nearest = sorted(range(len(alone)), key=lambda s: (-alone[s], s))
        joining = [s for s in nearest if alone[s] > 0 and s not in core.at][:params.join]
        if not joining or not patience or best.ceiling >= ceiling or budget.spent():
            return Core(instance, ()).joined([*must, *relaxed.drawn, *nearest[:params.core]]), best
        core = core.joined(joining)


def worth(bound: bounds.Bound) -> Fraction:
    return Fraction(bound.numerator, bound.duals.scale)


def bound_over(whole: Objective, duals: bounds.Duals, box: bounds.Box) -> bounds.Bound:
    """What these duals prove of the plans in a box of the whole stock."""
    return bounds.safe_bound(whole, duals, bounds.tables(whole, duals, whole.instance.demands, box), box)


class Widening:
    """The tree of a core's search, with each leaf bounded over the whole stock."""

    def __init__(self, whole: Objective, own: Objective, core: Core, worth: int, budget: Budget) -> None:
        self.whole, self.own, self.core, self.worth, self.budget = whole, own, core, worth, budget

    def __call__(self, box: BoxNode, limits: bounds.Box, above: bounds.Bound) -> BoxNode:
        """A box of the core as one of the whole, within `limits`; what proves `above` of more proves it of them."""
        if barren(self.whole, limits, self.worth):
            return BoxNode(limits, self.worth)
        dual = above
        if box.dual is not None and not self.budget.spent():
            dual = max(above, bound_over(self.whole, box.dual.duals, limits), key=worth)
            self.budget.count()
        wide = BoxNode(limits, next_value(self.whole, dual.ceiling, self.worth, limits), dual)
        if box.split is None or box.below is None or box.above is None:
            return wide
        if wide.known < self.worth and not self.budget.spent():
            row, at = self._row(box.split[0]), box.split[1]
            low, high = limits[row]
            wide.split = row, at
            wide.below = self(box.below, (*limits[:row], (low, min(high, at)), *limits[row + 1:]), dual)
            wide.above = self(box.above, (*limits[:row], (max(low, at + 1), high), *limits[row + 1:]), dual)
            wide.known = max(wide.known, min(wide.below.known, wide.above.known))
        return wide

    def _row(self, k: int) -> int:
        """A limit of the core's box in the whole's."""
        kinds = len(self.core.chosen)
        if k < kinds:
            return self.core.chosen[k]
        kind = self.core.chosen[self.own.ways[self.own.kept[k - kinds]].stick]
        return self.whole.rows[self.whole.by_stick[kind][-1]][-1]
