"""Whole plans, quickly: first-fit decreasing, and a dive from the LP.

The dive fixes the whole parts of the LP's solution, or where there are none rounds its largest fraction up, and
prices again for what is left (Wascher and Gau, OR Spektrum 18 (1996) 131-144, residual heuristics).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from cutplan.cutting.heuristics.first_fit import trim, value
from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp import master as lp
from cutplan.cutting.patterns import Pattern, Solution, drawn_of
from cutplan.cutting.problem.instance import Instance
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class DivingParams:
    """Diving with backtracking.

    rounds: of pricing after each step
    backs:  how many steps are taken back each time that the LP has become too dear, the first time last
    """

    rounds: int = 30
    backs: tuple[int, ...] = (1, 1, 2, 1, 1, 2, 1, 1, 2, 1)


def dive(master: lp.Master, budget: Budget, share: float, dearest: int, complete: Callable[[Solution], Solution | None],
         chance: random.Random | None = None, steps: int | None = None,
         params: DivingParams = DivingParams()) -> Solution | None:
    """A whole plan from the LP worth less than `dearest`, or None. Leaves the LP as it found it.

    `share`: a fraction this large is rounded up along with the whole parts. With `chance` one fraction is rounded
    up at random instead, large ones likelier, so that dives differ. After each step `complete` may find the rest.
    After so many `steps` the dive ends; without that limit, a step after which the LP is too dear is taken back, now
    and then with those before it, and its patterns are left alone from then on.
    """
    instance = master.objective.instance
    made: list[Solution] = [Counter()]  # what is fixed after each step
    banned: set[Pattern] = set()
    backs = list(params.backs) if steps is None and master.objective.cap is None else []
    try:
        while any(master.demands) and not budget.spent():
            fixed = made[-1]
            served = regenerate(master, budget, params.rounds)
            if fixed and not (served and worth(master, fixed) <= dearest - 1 + 1e-6):
                if not backs:
                    return None
                banned.update(fixed - made[-2])
                del made[max(1, len(made) - backs.pop()):]
            elif not served or steps == len(made) - 1:
                return None
            elif fixed and (rest := complete(fixed)) is not None:
                return trim(instance, fixed + rest)
            else:
                further = fixed.copy()
                if not fix(master, further, share, chance, banned):
                    return None
                made.append(further)
            master.narrow(made[-1])
        return None if any(master.demands) else trim(instance, made[-1])
    finally:
        master.narrow(Counter())


def worth(master: lp.Master, fixed: Solution) -> float:
    """What these sticks and the LP for the rest are worth together."""
    return value(master.objective, fixed) + master.worth


def regenerate(master: lp.Master, budget: Budget, rounds: int) -> bool:
    """A few rounds of pricing for what is left, quick where there is a quick way; False where nothing can serve it."""
    for _ in range(rounds):
        solved = master.solve()
        if solved is None or budget.spent():
            return False
        duals = solved[0]
        found = bounds.tables(master.objective, duals, master.demands, master.box, quick=True)
        budget.count()
        if not generation.price(master, solved, duals, found):
            break
    return master.solve() is not None and master.serves()


def fix(master: lp.Master, fixed: Solution, share: float, chance: random.Random | None, banned: set[Pattern]) -> bool:
    """Fixes whole parts and fractions of the LP's solution, at least one stick; False where that cannot be."""
    weights = {k: weight for k, weight in enumerate(master.weights())
               if weight > 1e-9 and master.patterns[k] not in banned}
    left, instance = list(master.demands), master.objective.instance
    up = 1 - (1.0 if chance else share) + 1e-9
    before = fixed.total()
    for k in sorted(weights, key=lambda k: -(weights[k] % 1.0)):
        for _ in range(int(weights[k] + up)):
            pattern = serving(instance, master.patterns[k], left)
            if pattern is None or (not master.exchanges and pattern != master.patterns[k]):
                break
            take(pattern, left, fixed)
    if chance or fixed.total() == before:
        fractions = [(k, weight % 1.0) for k, weight in weights.items() if weight % 1.0 > 1e-6]
        if fractions and (pattern := serving(instance, master.patterns[pick(fractions, chance)], left)):
            take(pattern, left, fixed)
    return fixed.total() > before and available(master.box, fixed)


def serving(instance: Instance, pattern: Pattern, left: Sequence[int]) -> Pattern | None:
    """The pattern with only what is still to be cut: for a piece too many the next smaller one, or none."""
    needed = list(left)
    counts = Counter[int]()
    for size, a in pattern.counts:
        i: int | None = size
        while a and i is not None:
            n = min(a, needed[i])
            counts[i] += n
            needed[i] -= n
            a -= n
            i = instance.arrangement.smaller(i)
    found = tuple(sorted((i, a) for i, a in counts.items() if a))
    return Pattern(pattern.stick, found) if found else None


def take(pattern: Pattern, left: list[int], fixed: Solution) -> None:
    fixed[pattern] += 1
    for i, a in pattern.counts:
        left[i] -= a


def take_whole(weights: Sequence[float], whole: float, pattern: Callable[[int], Pattern], left: list[int],
               enough: float, fixed: Solution, chance: random.Random) -> None:
    """Takes sticks that weigh more than `whole` in random order, or where none does the heaviest, until no more than
    `enough` pieces are left."""
    chosen = [k for k, weight in enumerate(weights) if weight > whole]
    chance.shuffle(chosen)
    for k in chosen or [max(range(len(weights)), key=weights.__getitem__)]:
        if sum(left) > enough and (stick := pattern(k)).often(left):
            take(stick, left, fixed)


def pick(fractions: Sequence[tuple[int, float]], chance: random.Random | None) -> int:
    """The column with the largest fraction, or one at random with large fractions likelier."""
    if chance is None:
        return max(fractions, key=lambda entry: entry[1])[0]
    return chance.choices([k for k, _ in fractions], [fraction**3 for _, fraction in fractions])[0]


def available(box: bounds.Box, plan: Solution) -> bool:
    """Whether the plan draws no more sticks of any type than the box has."""
    return all(n <= box[s][1] for s, n in drawn_of(plan).items())
