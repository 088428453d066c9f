"""Plans of few set-ups: set-up after set-up, each used as often as its waste allows.

As sequential pattern selection (Haessler, Management Science 17 (1971) B793-B802), with the duals of the LP as what
pieces are worth, so that waste is what a pattern costs beyond that. The waste that a whole plan may have is dealt out
by how much of the pieces a set-up cuts: m sticks of a set-up that covers a tenth of what is left may have a tenth of
what is left of the waste, and somewhat more. The largest m with such a pattern is taken.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.heuristics.first_fit import spent, value
from cutplan.cutting.lp import bounds
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class FewSetupsParams:
    """Passes of sequential selection.

    passes: in all
    eager:  how many times its part of the waste a set-up may have, in turn
    spread: by which share of themselves duals are changed by chance
    work:   knapsacks times sizes, in all passes
    """

    passes: int = 24
    eager: tuple[float, ...] = (1.0, 2.0, 4.0)
    spread: float = 0.1
    work: int = 20_000


def few_setups(objective: Objective, dual: bounds.Bound, ceiling: int, budget: Budget,
               params: FewSetupsParams = FewSetupsParams()) -> Iterator[Solution]:
    """Plans made so, each worth at most `ceiling`; the same ones on any machine."""
    chance = random.Random(0)
    left = params.work // max(1, len(objective.instance.sizes))
    for turn in range(params.passes):
        if left < 0 or budget.spent():
            return
        one = OnePass(objective, dual, ceiling, params.eager[turn % len(params.eager)],
                      params.spread if turn >= len(params.eager) else 0.0, chance)
        plan = one.run(budget)
        left -= one.knapsacks
        budget.count()
        if plan is None or value(objective, plan) > ceiling:
            continue
        if objective.cap is None or spent(objective.instance, plan) <= objective.cap:
            yield plan


class OnePass:
    """One plan; `knapsacks` counts the work."""

    def __init__(self, objective: Objective, dual: bounds.Bound, ceiling: int, eager: float, spread: float,
                 chance: random.Random) -> None:
        self.objective, self.ceiling, self.eager = objective, ceiling, eager
        self.scale, self.knapsacks = dual.duals.scale, 0
        self.cap = dual.duals.cap
        self.worths = [int(pi * (1 + spread * (chance.random() - 0.5))) for pi in dual.duals.sizes]
        self.left = list(objective.instance.demands)
        self.drawn: Counter[int] = Counter()

    def run(self, budget: Budget) -> Solution | None:
        plan: Solution = Counter()
        waste = self.scale * self.ceiling + self.cap * (self.objective.cap or 0) - self._worth(self.left)
        while any(self.left):
            if budget.spent() or (chosen := self._next(max(0, waste))) is None:
                return None
            pattern, often, lost = chosen
            plan[pattern] += often
            self.drawn[pattern.stick] += often
            waste -= often * lost
            for i, a in pattern.counts:
                self.left[i] -= a * often
        return plan

    def _worth(self, pieces: list[int]) -> int:
        return sum(d * pi for d, pi in zip(pieces, self.worths, strict=True))

    def _next(self, waste: int) -> tuple[Pattern, int, int] | None:
        """The pattern to cut next, how often, and what one stick of it wastes."""
        rest = self._worth(self.left)
        for m in sorted({d // k for d in self.left for k in range(1, d + 1)}, reverse=True):
            best: tuple[int, Pattern, int] | None = None
            for pattern, worth, lost in self._best(m):
                part = self.eager * waste * m * worth / max(1, rest)
                if (m == 1 or m * lost <= min(waste, part)) and (best is None or lost < best[0]):
                    best = lost, pattern, worth
            if best is not None:
                return best[1], m, best[0]
        return None

    def _best(self, m: int) -> Iterator[tuple[Pattern, int, int]]:
        """Of each way of using a stick the best pattern that m sticks can be cut by, its worth and its waste."""
        objective, instance = self.objective, self.objective.instance
        ways = [way for way in objective.ways if not instance.sticks[way.stick].emergency and m <= self._there(
            instance, way.stick)]
        uses = [Use(way.stick, way.capacity, self.scale * way.slope) for way in ways]
        self.knapsacks += 1
        for way, found in zip(ways, instance.price(uses, [d // m for d in self.left], self.worths), strict=True):
            for counts in found.patterns(0, 1):
                pattern = Pattern(way.stick, counts)
                worth = sum(a * self.worths[i] for i, a in counts)
                yield pattern, worth, (self.scale * objective.cost(pattern)
                                       + self.cap * instance.sticks[way.stick].cost - worth)

    def _there(self, instance: Instance, s: int) -> int:
        available = instance.sticks[s].available
        return sum(self.left) if available is None else available - self.drawn[s]
