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
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from cutplan.cutting import master as lp
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Instance, Pattern
from cutplan.cutting.objective import Objective
from cutplan.cutting.optimise import Box, Optimum, Report, attainable, barren, optimise
from cutplan.cutting.rounding import Plan, value

FEW = 150  # kinds of stick that are planned with as they are
CORE = 60  # kinds in a core besides those that it needs
JOIN = 30  # kinds that join it at once

Aim = Callable[[Instance], Objective]


@dataclass(frozen=True)
class Core:
    """Some kinds of stick of an instance, in their order, as an instance of their own."""

    whole: Instance
    chosen: tuple[int, ...]

    @cached_property
    def instance(self) -> Instance:
        return replace(self.whole, sticks=tuple(self.whole.sticks[s] for s in self.chosen),
                       stock=tuple(self.whole.stock[s] for s in self.chosen))

    def into(self, plan: Plan) -> Plan:
        """A plan of the whole, which draws on the core alone, as one of the core."""
        at = {s: k for k, s in enumerate(self.chosen)}
        return Counter({Pattern(at[pattern.stick], pattern.counts): n for pattern, n in plan.items()})

    def back(self, pattern: Pattern) -> Pattern:
        """A pattern of the core as one of the whole."""
        return Pattern(self.chosen[pattern.stick], pattern.counts)

    def joined(self, others: Iterable[int]) -> Core:
        return Core(self.whole, tuple(sorted({*self.chosen, *others})))


def best_plan(aim: Aim, instance: Instance, start: Plan, effort: Effort, report: Report) -> Optimum:
    """`optimise` for the aim; where there are very many kinds of stick, over a core of them and bounded over all."""
    whole = aim(instance)
    if len(instance.sticks) <= FEW:
        return optimise(whole, start, effort, report)
    worth = value(whole, start)
    box = whole.box(worth)
    if worth <= whole.floor:
        return Optimum(start, worth, worth, Box(box, worth), tuple(start))
    core, root = sift(whole, aim, start, box, effort)
    own = aim(core.instance)
    found = optimise(own, core.into(start), effort, report)
    plan = Counter({core.back(pattern): n for pattern, n in found.plan.items()})
    widen = Widening(whole, own, core, min(worth, found.value), effort)
    tree = widen(found.root, box, root)
    return Optimum(plan, found.value, min(tree.known, found.value), tree, tuple(map(core.back, found.patterns)))


def needed(instance: Instance, start: Plan) -> set[int]:
    """The kinds that every core has: those that cost something, and those of the plan to begin with."""
    return {s for s, stick in enumerate(instance.sticks) if stick.cost} | {pattern.stick for pattern in start}


def sift(whole: Objective, aim: Aim, start: Plan, box: lp.Box, effort: Effort) -> tuple[Core, lp.Bound]:
    """The core to search in, and the best bound over the whole stock; see above."""
    instance, ceiling = whole.instance, value(whole, start)
    must = needed(instance, start)
    core = Core(instance, ()).joined([*must, *range(0, len(instance.sticks), -(-len(instance.sticks) // CORE))])
    patterns: dict[Pattern, None] = dict.fromkeys(start)
    best: lp.Bound | None = None
    while True:
        objective = aim(core.instance)
        master = lp.Master(objective, objective.box(ceiling), ceiling)
        for pattern in core.into(Counter(patterns.keys())) if patterns else lp.starters(objective):
            master.add(pattern)
        relaxed = lp.relax(master, effort, lambda bound, _: bound.ceiling >= ceiling)
        patterns.update(dict.fromkeys(map(core.back, master.patterns)))
        bound = relaxed and (relaxed.own or relaxed.bound) or lp.bound_of(master, lp.by_length(objective, master.scale))
        excess = most_excesses(whole, bound.duals, box)
        wide = numerator(whole, bound.duals, [e for e, _ in excess])
        print("sift", len(core.chosen), len(master.patterns), bound.numerator/bound.duals.scale, wide.numerator/wide.duals.scale, ceiling, effort.left())
        if best is None or wide.numerator > best.numerator:
            best = wide
        order = sorted(range(len(excess)), key=lambda s: (-excess[s][1], s))
        chosen = set(core.chosen)
        paying = [s for s in order if excess[s][0] > 0 and s not in chosen]
        if not paying or best.ceiling >= ceiling or effort.spent():
            drawn = {core.chosen[s] for s, n in enumerate(master.sticks()[:len(core.chosen)]) if n > 1e-6}
            return Core(instance, ()).joined([*must, *drawn, *order[:CORE]]), best
        core = core.joined(paying[:JOIN])


def most_excesses(whole: Objective, duals: lp.Duals, box: lp.Box) -> list[tuple[int, int]]:
    """For each kind of stick the most that its sticks can be worth more than they cost, all together and one alone."""
    found = lp.tables(whole, duals, whole.instance.demands, box)
    excess = lp.excesses(whole, duals, found)
    return [(lp.most_excess(whole, excess, box, s) or 0, max((excess[w] for w in ways), default=-2**62))
            for s, ways in enumerate(whole.by_stick)]


def numerator(whole: Objective, duals: lp.Duals, excess: Sequence[int]) -> lp.Bound:
    total = sum(d * pi for d, pi in zip(whole.instance.demands, duals.sizes, strict=True))
    return lp.Bound(duals, total - duals.budget * (whole.budget or 0) - sum(excess))


class Widening:
    """The tree of a core's search, with each leaf bounded over the whole stock."""

    def __init__(self, whole: Objective, own: Objective, core: Core, worth: int, effort: Effort) -> None:
        self.whole, self.own, self.core, self.worth, self.effort = whole, own, core, worth, effort

    def __call__(self, box: Box, limits: lp.Box, above: lp.Bound) -> Box:
        """`above` is a bound whose duals serve where those of the box do not prove more."""
        if barren(self.whole, limits, self.worth):
            return Box(limits, self.worth)
        tried = [above.duals] if box.dual is None else [above.duals, box.dual.duals]
        dual = max((self._bound(duals, limits) for duals in tried), key=lambda bound: bound.numerator / bound.duals.scale)
        known = max(self.whole.floor, dual.ceiling) if self.whole.budget is not None else attainable(
            self.whole.instance, dual.ceiling, self.worth, limits)
        wide = Box(limits, known, dual)
        if box.split is None or box.below is None or box.above is None or known >= self.worth or self.effort.spent():
            return wide
        s, at = box.split
        row = self._row(s)
        low, high = limits[row]
        wide.split = row, at
        wide.below = self(box.below, (*limits[:row], (low, min(high, at)), *limits[row + 1:]), dual)
        wide.above = self(box.above, (*limits[:row], (max(low, at + 1), high), *limits[row + 1:]), dual)
        wide.known = max(known, min(wide.below.known, wide.above.known))
        return wide

    def _row(self, s: int) -> int:
        """A limit of the core's box in the whole's."""
        kinds = len(self.core.chosen)
        if s < kinds:
            return self.core.chosen[s]
        way = self.own.kept[s - kinds]
        return self.whole.rows[self.whole.by_stick[self.core.chosen[self.own.ways[way].stick]][-1]][-1]

    def _bound(self, duals: lp.Duals, limits: lp.Box) -> lp.Bound:
        return lp.safe_bound(self.whole, duals, lp.tables(self.whole, duals, self.whole.instance.demands, limits), limits)
