"""The rest of a plan that has begun: built stick by stick, completed, or, when little is left, found by a search."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import chain

from cutplan.cutting.exact import listing as search
from cutplan.cutting.heuristics.first_fit import value
from cutplan.cutting.heuristics.sequential import Passes, SequentialParams
from cutplan.cutting.heuristics.stick_completion import StickCompletionParams, complete_sticks
from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.patterns import Solution, drawn_of
from cutplan.cutting.problem.instance import Instance, remaining
from cutplan.cutting.problem.objective import Objective, cheapest
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class CompletionParams:
    """The rest of a plan.

    passes:   of sequential value correction
    most:     pieces left up to which there are such passes, where there are several kinds of stick
    many:     pieces left up to which the last sticks are completed where such passes are slow, and again with each
              `fewer` part of the last time
    little:   pieces left at which a search is made: the first time that so many or fewer are
    patterns: in the search
    duals:    others to list them by
    """

    passes: int = 2
    most: int = 300
    many: int = 1_000
    fewer: float = 0.93
    little: tuple[int, ...] = (120, 45)
    patterns: int = 800
    duals: int = 6
    sequential: SequentialParams = field(default_factory=SequentialParams)
    sticks: StickCompletionParams = field(default_factory=StickCompletionParams)
    generation: lp.GenerationParams = field(default_factory=lp.GenerationParams)
    listing: search.ListingParams = field(default_factory=search.ListingParams)


class Completion:
    """The rests of one plan that is being built from the LP of `master`, for less than `dearest` in all."""

    def __init__(self, master: lp.Master, dearest: int, budget: Budget,
                 params: CompletionParams = CompletionParams()) -> None:
        self.master, self.dearest, self.budget, self.params = master, dearest, budget, params
        self._little = list(params.little)
        self._many: float = params.many

    def __call__(self, fixed: Solution) -> Solution | None:
        """Sticks for all that these sticks leave to be cut; None if not found. The LP is solved, for what is left."""
        objective = self.master.objective
        if not any(self.master.demands):
            return None
        rest = left_over(objective.instance, fixed)
        if objective.cap is not None:
            rest = whole_sticks(objective, self.master.box, rest, fixed)
        elif len(objective.ways) > 1 and sum(rest.demands) > self.params.most:
            return None
        below = self.dearest - value(objective, fixed)
        passes = Passes(rest, self.params.sequential)
        for _ in range(self.params.passes):
            if (plan := passes.next(below, self.budget)) is not None:
                return plan
        if objective.cap is not None or len(objective.ways) > 1:
            return None  # the searches would take longer than they are worth: the boxes find such plans sooner
        left = sum(rest.demands)
        if passes.slow and left <= self._many:
            self._many = self.params.fewer * left
            if (plan := complete_sticks(rest, below, self.budget, self.params.sticks)) is not None:
                return plan
        if self._little and left <= self._little[0]:
            self._little = [most for most in self._little if most < left]
            return search_little(self.master, rest, below, self.budget, self.params)
        return None


def left_over(instance: Instance, fixed: Solution) -> Instance:
    """The instance with what these sticks leave to be cut, and the sticks that are still there."""
    drawn = drawn_of(fixed)
    return replace(instance, demands=remaining(instance, fixed), sticks=tuple(
        stick if stick.available is None else replace(stick, available=max(0, stick.available - drawn[s]))
        for s, stick in enumerate(instance.sticks)
    ))


def whole_sticks(objective: Objective, box: bounds.Box, rest: Instance, fixed: Solution) -> Instance:
    """The rest of a plan of a later tier: each stick counts with its length, and there are as many as the box has."""
    drawn = drawn_of(fixed)
    return replace(rest, sticks=tuple(
        replace(stick, cost=stick.length, available=max(0, box[s][1] - drawn[s]) if objective.by_stick[s] else 0)
        for s, stick in enumerate(rest.sticks)))


def search_little(master: lp.Master, rest: Instance, below: int, budget: Budget,
                  params: CompletionParams) -> Solution | None:
    """A MIP over the patterns that a plan of the rest, cheaper than `below`, can use, where they are few."""
    objective = cheapest(rest)
    own = lp.Master(objective, objective.box(below - 1), below, params.generation)
    for pattern in master.patterns:
        if pattern.often(rest.demands):
            own.add(pattern)
    relaxed = generation.relax(own, budget, lambda bound, _: bound.ceiling >= below)
    if relaxed is None or relaxed.own is None:
        return None
    for bound in chain([relaxed.own, relaxed.bound], generation.elsewhere(own, params.duals, budget)):
        patterns = search.worthwhile(objective, bound, below, own.box, params.patterns)
        budget.count()
        if patterns is not None:
            return search.look(objective, patterns, own.box, max(0, bound.ceiling), below, budget,
                               params.listing.nodes[0], params=params.listing)
    return None
