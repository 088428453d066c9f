"""Plans that may waste hardly anything: most sticks fixed at random, the last pieces decided by branch and price.

Where m sticks may waste only little, all corners of the LP over the patterns that waste so little
(`branch_and_price.py`) are as good as each other: random costs lead to one of them, and its whole sticks are fixed in
random order until few pieces are left. What these need is decided almost at once. A dive mends its last steps only;
each try here begins anew.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from cutplan.cutting.exact.branch_and_price import BranchAndPriceParams, Relaxation, pair, root, waste_of
from cutplan.cutting.exact.completion import left_over
from cutplan.cutting.heuristics.diving import take_whole
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class RestartParams:
    """Restarts.

    tries:  each from the beginning
    little: pieces that are left to branch and price
    nodes:  that it may take for them
    whole:  the part of a stick from which a pattern's weight counts as a whole one
    """

    tries: int = 80
    little: int = 80
    nodes: int = 40
    whole: float = 0.9
    pairs: BranchAndPriceParams = field(default_factory=BranchAndPriceParams)


def restart(instance: Instance, patterns: Sequence[Pattern], most: int, budget: Budget,
            params: RestartParams = RestartParams()) -> Solution | None:
    """A plan of at most `most` sticks, if any of the tries comes to it. `patterns` are what the LP begins with."""
    chance, found = random.Random(0), dict.fromkeys(patterns)
    whole = relaxed(instance, found, most, budget, params)
    for _ in range(params.tries):
        if whole is None or budget.spent():
            break
        if (plan := attempt(instance, whole, found, chance, budget, params)) is not None:
            return plan
    return None


def attempt(instance: Instance, whole: Relaxation, found: dict[Pattern, None], chance: random.Random,
            budget: Budget, params: RestartParams) -> Solution | None:
    """One try; `whole` is the LP of all that is to be cut, and `found` are all patterns so far."""
    fixed: Solution = Counter()
    rest, lp = instance, whole
    while fix(lp, list(rest.demands), fixed, chance, params):
        rest, most = left_over(instance, fixed), whole.most - fixed.total()
        if sum(rest.demands) <= params.little:
            answer = pair(rest, list(found), most, params.nodes, budget, params.pairs)
            return None if answer.plan is None else fixed + answer.plan
        if (after := relaxed(rest, found, most, budget, params)) is None:
            return None
        lp = after
    return None


def relaxed(instance: Instance, found: dict[Pattern, None], most: int, budget: Budget,
            params: RestartParams) -> Relaxation | None:
    """The solved LP of what is to be cut; None where it needs more sticks, or gives up. Adds to the patterns."""
    waste = waste_of(instance, most)
    lp = Relaxation(root(instance, found, most), instance.sticks[0].capacity, most, waste, params.pairs)
    enough = waste >= 0 and lp.price(budget) is True
    found.update(dict.fromkeys(map(lp.node.pattern, lp.columns)))
    return lp if enough else None


def fix(lp: Relaxation, left: list[int], fixed: Solution, chance: random.Random, params: RestartParams) -> bool:
    """Fixes the whole sticks of a corner drawn at random, or its largest fraction, until little is left."""
    weights = lp.wander(chance)
    if not weights:
        return False
    before = fixed.total()
    take_whole(weights, params.whole, lambda k: lp.node.pattern(lp.columns[k]), left, params.little, fixed, chance)
    return fixed.total() > before
