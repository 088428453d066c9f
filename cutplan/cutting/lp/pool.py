"""What no plan from a set of kinds of stick can be below, for all sets at once.

For a demand d and duals pi >= 0, with P_s the most that a pattern on a stick of kind s is worth (an exact integer
knapsack) and c_s the stick's price, every plan that draws on the set S costs at least

    sum_i d_i pi_i / max over s in S of (P_s / c_s)

(Farley, Oper. Res. 38 (1990) 922-923; Held, Cook and Sewell, Math. Prog. Comp. 4 (2012) 363-381): pi divided by that
maximum is feasible for the dual of the set's LP. So one vector of duals, good for one set, bounds every other set too,
and one knapsack table prices all kinds. A pool keeps the vectors; the bound of a set is the best of theirs. All of it
is in whole numbers, rounded down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.lp import bounds
from cutplan.cutting.lp import master as lp
from cutplan.cutting.lp.core import Core, relax_core
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import cheapest
from cutplan.running.budget import Budget
from cutplan.sums import Ints

MOST_FINE = 2**61  # bounds, in fine parts of a coin, stay below this


@dataclass(frozen=True)
class PoolParams:
    """A pool of duals: `known` patterns are remembered from one LP to the next, whose columns are generated so."""

    known: int = 4_000
    generation: lp.GenerationParams = field(default_factory=lp.GenerationParams)


class DualPool:
    """Bounds for one demand. `instance` has every kind of stick; bounds are in 1 / `fine` coins."""

    def __init__(self, instance: Instance, params: PoolParams = PoolParams()) -> None:
        self.params = params
        self.instance = instance
        self.objective = cheapest(instance)
        self.ceiling = max(1, sum(instance.demands) * max(stick.cost for stick in instance.sticks))
        self.fine = max(1, MOST_FINE // (2 * self.ceiling))
        self.rows: list[Ints] = []
        self._patterns: dict[Pattern, None] = {}
        self.learn(bounds.by_length(self.objective, max(1, params.generation.fine // self.ceiling)))

    def learn(self, duals: bounds.Duals) -> None:
        """Keeps the bound that these duals give to each kind alone."""
        instance = self.instance
        uses = [Use(s, stick.capacity) for s, stick in enumerate(instance.sticks)]
        found = instance.price(uses, instance.demands, duals.sizes)
        worth = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
        row = []
        for stick, patterns in zip(instance.sticks, found, strict=True):
            most = patterns.best()
            row.append(min(MOST_FINE, worth * stick.cost * self.fine // most) if most else MOST_FINE)
        self.rows.append(np.array(row, dtype=np.int64))

    def solve(self, kinds: Sequence[int], budget: Budget) -> None:
        """The LP of one set; its duals join the pool."""
        core = Core(self.instance, tuple(sorted(kinds)))
        begin = [pattern for pattern in self._patterns if pattern.stick in core.at]
        solved = relax_core(core, cheapest(core.instance), begin, self.ceiling, budget, self.params.generation)
        self.learn(solved.bound.duals)
        if len(self._patterns) < self.params.known:
            self._patterns.update(dict.fromkeys(solved.patterns))
