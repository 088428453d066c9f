"""The LP over some kinds of stick of an instance, the core: what it proves there, and what it draws."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class Core:
    """Some kinds of stick of an instance, in their order, as an instance of their own."""

    whole: Instance
    chosen: tuple[int, ...]

    @cached_property
    def instance(self) -> Instance:
        return replace(self.whole, sticks=tuple(self.whole.sticks[s] for s in self.chosen),
                       stock=tuple(self.whole.stock[s] for s in self.chosen))

    @cached_property
    def at(self) -> dict[int, int]:
        """Where each kind of the core stands in it."""
        return {s: k for k, s in enumerate(self.chosen)}

    def into(self, plan: Solution) -> Solution:
        """A plan of the whole, which draws on the core alone, as one of the core."""
        return Counter({Pattern(self.at[pattern.stick], pattern.counts): n for pattern, n in plan.items()})

    def back(self, pattern: Pattern) -> Pattern:
        """A pattern of the core as one of the whole."""
        return Pattern(self.chosen[pattern.stick], pattern.counts)

    def joined(self, others: Iterable[int]) -> Core:
        return Core(self.whole, tuple(sorted({*self.chosen, *others})))


@dataclass(frozen=True)
class RelaxedCore:
    """The LP of a core: its best duals and what they prove there, the patterns it knows and the kinds that it draws."""

    bound: bounds.Bound
    patterns: list[Pattern]
    drawn: list[int]


def relax_core(core: Core, objective: Objective, patterns: Iterable[Pattern], ceiling: int, budget: Budget,
               params: lp.GenerationParams) -> RelaxedCore:
    """The LP of a core, begun with patterns of the whole that draw on it."""
    master = lp.Master(objective, objective.box(ceiling), ceiling, params)
    for pattern in core.into(Counter(patterns)):
        master.add(pattern)
    ended = generation.relax(master, budget, lambda bound, _: bound.ceiling >= ceiling)
    begun = bounds.by_length(objective, master.scale)
    bound = (ended and (ended.own or ended.bound)) or generation.bound_of(master, begun)
    drawn = master.sticks()[:len(core.chosen)] if master.solve() else []
    return RelaxedCore(bound, list(map(core.back, master.patterns)), [core.chosen[k] for k, n in enumerate(drawn) if n])
