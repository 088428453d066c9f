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

from cutplan.cutting.exact.branch_and_price import Relaxation, pair, root, waste_of
from cutplan.cutting.exact.completion import left_over
from cutplan.cutting.heuristics.diving import take
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget

LITTLE = 80  # pieces that are left to branch and price
NODES = 40  # it may take for them
WHOLE = 0.9  # of a stick


def restart(instance: Instance, patterns: Sequence[Pattern], most: int, tries: int, budget: Budget) -> Solution | None:
    """A plan of at most `most` sticks, if one of so many tries comes to it. `patterns` are what the LP begins with."""
    chance, found = random.Random(0), dict.fromkeys(patterns)
    whole = relaxed(instance, found, most, budget)
    for _ in range(tries):
        if whole is None or budget.spent():
            break
        if (plan := attempt(instance, whole, found, chance, budget)) is not None:
            return plan
    return None


def attempt(instance: Instance, whole: Relaxation, found: dict[Pattern, None], chance: random.Random,
            budget: Budget) -> Solution | None:
    """One try; `whole` is the LP of all that is to be cut, and `found` are all patterns so far."""
    fixed: Solution = Counter()
    rest, lp = instance, whole
    while fix(lp, list(rest.demands), fixed, chance):
        rest, most = left_over(instance, fixed), whole.most - fixed.total()
        if sum(rest.demands) <= LITTLE:
            answer = pair(rest, list(found), most, NODES, budget)
            return None if answer.plan is None else fixed + answer.plan
        if (after := relaxed(rest, found, most, budget)) is None:
            return None
        lp = after
    return None


def relaxed(instance: Instance, found: dict[Pattern, None], most: int, budget: Budget) -> Relaxation | None:
    """The solved LP of what is to be cut; None where it needs more sticks, or gives up. Adds to the patterns."""
    waste = waste_of(instance, most)
    lp = Relaxation(root(instance, found, most), instance.sticks[0].capacity, most, waste)
    enough = waste >= 0 and lp.price(budget) is False
    found.update(dict.fromkeys(map(lp.node.pattern, lp.columns)))
    return lp if enough else None


def fix(lp: Relaxation, left: list[int], fixed: Solution, chance: random.Random) -> bool:
    """Fixes the whole sticks of a corner drawn at random, or its largest fraction, until little is left."""
    weights = lp.wander(chance)
    if not weights:
        return False
    whole = [k for k, weight in enumerate(weights) if weight > WHOLE]
    chance.shuffle(whole)
    before = fixed.total()
    for k in whole or [max(range(len(weights)), key=weights.__getitem__)]:
        pattern = lp.node.pattern(lp.columns[k])
        if sum(left) > LITTLE and pattern.often(left):
            take(pattern, left, fixed)
    return fixed.total() > before
