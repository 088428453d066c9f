"""Whole plans, quickly: first-fit decreasing, and a dive from the LP.

The dive fixes the whole parts of the LP's solution, or where there are none rounds its largest fraction up, and
prices again for what is left (Wascher and Gau, OR Spektrum 18 (1996) 131-144, residual heuristics).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence

from cutplan.cutting import master as lp
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Instance, Pattern, produced
from cutplan.cutting.objective import Objective

Plan = Counter[Pattern]


def value(objective: Objective, plan: Plan) -> int:
    """The tier's value of a plan."""
    return sum(n * objective.cost(pattern) for pattern, n in plan.items())


def spent(instance: Instance, plan: Plan) -> int:
    """The cost of new stock of a plan, in coins."""
    return sum(n * instance.sticks[pattern.stick].cost for pattern, n in plan.items())


def first_fit_decreasing(instance: Instance, preference: Sequence[int]) -> Plan | None:
    """Longest piece first, each on the first open stick with room, else on a new one of the preferred type.

    Each stick is then exchanged for the cheapest type that still holds its pieces. None where the stock runs out.
    """
    left = [instance.most(s) for s in range(len(instance.sticks))]
    opened: list[tuple[int, list[int]]] = []
    room: list[int] = []
    for i, (size, demand) in enumerate(zip(instance.sizes, instance.demands, strict=True)):
        first = 0
        for _ in range(demand):
            while first < len(room) and room[first] < size:
                first += 1
            if first == len(room):
                fitting = [s for s in preference if left[s] and instance.sticks[s].capacity >= size]
                if not fitting:
                    return None
                left[fitting[0]] -= 1
                opened.append((fitting[0], [0] * len(instance.sizes)))
                room.append(instance.sticks[fitting[0]].capacity)
            opened[first][1][i] += 1
            room[first] -= size
    return downgrade(instance, Counter(Pattern(s, tuple(counts)) for s, counts in opened))


def downgrade(instance: Instance, plan: Plan) -> Plan:
    """Each stick exchanged for the cheapest type, of those left, that still holds its pieces."""
    left = [instance.most(s) for s in range(len(instance.sticks))]
    for pattern, n in plan.items():
        left[pattern.stick] -= n
    better: Plan = Counter()
    by_cost = sorted(range(len(instance.sticks)), key=lambda s: (instance.sticks[s].cost, instance.sticks[s].length))
    for pattern, n in sorted(plan.items(), key=lambda entry: -instance.sticks[entry[0].stick].cost):
        fill = pattern.fill(instance.sizes)
        for s in by_cost:
            if s == pattern.stick:
                break
            if instance.sticks[s].capacity >= fill and instance.sticks[s].cost < instance.sticks[pattern.stick].cost:
                moved = min(n, left[s])
                left[s] -= moved
                left[pattern.stick] += moved
                n -= moved
                if moved:
                    better[Pattern(s, pattern.counts)] += moved
        if n:
            better[pattern] += n
    return better


def trim(instance: Instance, plan: Plan) -> Plan:
    """Takes away what is cut too many, from the sticks that would gain the longest offcut."""
    surplus = [made - d for made, d in zip(produced(instance, plan), instance.demands, strict=True)]
    trimmed: Plan = Counter()
    for pattern, n in sorted(plan.items(), key=lambda entry: entry[0].fill(instance.sizes)):
        for _ in range(n):
            if any(surplus):
                less = tuple(a - min(a, extra) for a, extra in zip(pattern.counts, surplus, strict=True))
                surplus = [extra - (a - b) for extra, a, b in zip(surplus, pattern.counts, less, strict=True)]
            else:
                less = pattern.counts
            if any(less):
                trimmed[Pattern(pattern.stick, less)] += 1
    return trimmed


def dive(master: lp.Master, effort: Effort, share: float, chance: random.Random | None = None) -> Plan | None:
    """A whole plan from the LP, or None where a dive ends in nothing. Leaves the LP as it found it.

    `share`: a fraction this large is rounded up along with the whole parts. With `chance` one fraction is rounded
    up at random instead, large ones likelier, so that dives differ.
    """
    fixed: Plan = Counter()
    instance = master.objective.instance
    try:
        while any(master.demands) and not effort.spent():
            if not regenerate(master) or not fix(master, fixed, share, chance):
                return None
            master.narrow(fixed)
        return None if any(master.demands) else trim(instance, fixed)
    finally:
        master.narrow(Counter())


def regenerate(master: lp.Master, rounds: int = 30) -> bool:
    """A few rounds of pricing for what is left; False where nothing can serve it."""
    for _ in range(rounds):
        solved = master.solve()
        if solved is None:
            return False
        duals, limits = solved
        if not lp.price(master, duals, limits, lp.tables(master.objective, duals, master.demands)):
            break
    return master.solve() is not None and master.serves()


def fix(master: lp.Master, fixed: Plan, share: float, chance: random.Random | None) -> bool:
    """Fixes whole parts and fractions of the LP's solution, at least one stick; False where that cannot be."""
    weights = {k: weight for k, weight in enumerate(master.weights()) if weight > 1e-9}
    left = list(master.demands)
    up = 1 - (1.0 if chance else share) + 1e-9
    chosen = 0
    for k in sorted(weights, key=lambda k: -(weights[k] % 1.0)):
        count = int(weights[k] + up)
        if not count:
            continue
        pattern = master.patterns[k]
        count = min(count, min((left[i] // a for i, a in enumerate(pattern.counts) if a), default=0))
        if count:
            chosen += count
            fixed[pattern] += count
            left = [d - a * count for d, a in zip(left, pattern.counts, strict=True)]
    if chance or not chosen:
        fractions = [(k, weight % 1.0) for k, weight in weights.items() if weight % 1.0 > 1e-6]
        if fractions:
            pattern = master.patterns[pick(fractions, chance)]
            counts = tuple(min(a, d) for a, d in zip(pattern.counts, left, strict=True))
            if any(counts):
                fixed[Pattern(pattern.stick, counts)] += 1
                chosen += 1
    return chosen > 0 and available(master.box, fixed)


def pick(fractions: Sequence[tuple[int, float]], chance: random.Random | None) -> int:
    """The column with the largest fraction, or one at random with large fractions likelier."""
    if chance is None:
        return max(fractions, key=lambda entry: entry[1])[0]
    return chance.choices([k for k, _ in fractions], [fraction**3 for _, fraction in fractions])[0]


def available(box: lp.Box, plan: Plan) -> bool:
    """Whether the plan draws no more sticks of any type than the box has."""
    drawn = Counter[int]()
    for pattern, n in plan.items():
        drawn[pattern.stick] += n
    return all(n <= box[s][1] for s, n in drawn.items())
