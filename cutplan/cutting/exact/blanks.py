"""Turned pieces, one from each blank: which length of blank the pieces of each opening come from.

Without more this is a transportation problem, whose LP has whole solutions, so that its duals prove the least cost. But
pieces that stand side by side must come from blanks of one length, or two turnings would: y[i, l] counts how many
sets of size i come from length l, x[s] the sticks drawn of kind s, of which there are u[s], and all sticks of a length
serve all of its pieces:

    sum_l y[i, l] = sets of i,    sum of x[s] over the kinds of length l = sum_i together[i] y[i, l],    x[s] <= u[s].

Where that is dearer than the LP's bound only the search for it, by CP-SAT, says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from ortools.linear_solver import pywraplp

from cutplan.cutting.exact.branch_and_bound import BoxNode, Optimum, next_value
from cutplan.cutting.heuristics.first_fit import spent, value
from cutplan.cutting.layout import dealt
from cutplan.cutting.lp import bounds
from cutplan.cutting.patterns import Pattern, Solution
from cutplan.cutting.problem.instance import Blanks, Instance
from cutplan.cutting.problem.objective import Objective
from cutplan.lengths import exact_decimal, listed
from cutplan.plans.records import Demand
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class AssignmentParams:
    """The assignment of sets to lengths.

    work:  CP-SAT's deterministic seconds for a tier, so that the same input gives the same plan anywhere
    scale: of duals that are not whole
    """

    work: float = 4.0
    scale: int = 10**6


@dataclass(frozen=True)
class Lengths:
    """The kinds of stick of each length, the cheapest first: what would be missing of it is the last."""

    instance: Instance

    @cached_property
    def kinds(self) -> tuple[tuple[int, ...], ...]:
        found: dict[int, list[int]] = {}
        for s, stick in enumerate(self.instance.sticks):
            found.setdefault(stick.length, []).append(s)
        sticks = self.instance.sticks
        return tuple(tuple(sorted(found[key], key=lambda s: (sticks[s].cost, s))) for key in sorted(found))

    @cached_property
    def fitting(self) -> tuple[tuple[int, ...], ...]:
        """For each size the lengths it may come from."""
        return tuple(
            tuple(k for k, kinds in enumerate(self.kinds) if self.instance.gives(kinds[0], i))
            for i in range(len(self.instance.sizes)))

    @cached_property
    def enough(self) -> tuple[tuple[int, ...], ...]:
        """For each size the lengths of which there are as many as belong together."""
        there = [sum(self.instance.most(s) for s in kinds) for kinds in self.kinds]
        return tuple(tuple(k for k in fitting if there[k] >= each)
                     for fitting, each in zip(self.fitting, together(self.instance), strict=True))

    def sets(self, i: int) -> int:
        """How many sets of size i there are, each from one length."""
        return self.instance.demands[i] // together(self.instance)[i]

    def plan(self, sets: Mapping[tuple[int, int], int], drawn: Sequence[int]) -> Solution:
        """The patterns where so many sets (by size and length) come from so many sticks of each kind."""
        plan: Solution = Counter()
        left = list(drawn)
        for (i, k), n in sorted(sets.items()):
            pieces = n * together(self.instance)[i]
            for s in self.kinds[k]:
                some = min(pieces, left[s])
                left[s] -= some
                pieces -= some
                plan[Pattern(s, ((i, 1),))] += some
        return +plan


def together(instance: Instance) -> tuple[int, ...]:
    return bound_to(instance).together


def bound_to(instance: Instance) -> Blanks:
    assert instance.blanks is not None, "pieces that are turned from blanks"
    return instance.blanks


def first_plan(instance: Instance) -> Solution:
    """A plan to begin with: the largest sets first, each from the length that is cheapest for it as things stand."""
    lengths = Lengths(instance)
    left = [instance.most(s) for s in range(len(instance.sticks))]
    sets: Counter[tuple[int, int]] = Counter()
    drawn = [0] * len(left)

    def take(k: int, pieces: int) -> tuple[int, dict[int, int]] | None:
        """What so many sticks of a length cost, and which they are; None where there are not so many."""
        cost, taken = 0, {}
        for s in lengths.kinds[k]:
            some = min(pieces, left[s])
            cost, taken[s], pieces = cost + some * instance.sticks[s].cost, some, pieces - some
        return None if pieces else (cost, taken)

    for i in sorted(range(len(instance.sizes)), key=lambda i: (-together(instance)[i], i)):
        for _ in range(lengths.sets(i)):
            found = [(one[0], k, one[1]) for k in lengths.enough[i] if (one := take(k, together(instance)[i]))]
            _, k, taken = min(found, key=lambda one: one[:2])
            sets[i, k] += 1
            for s, some in taken.items():
                left[s] -= some
                drawn[s] += some
    return lengths.plan(sets, drawn)


def best(objective: Objective, start: Solution, budget: Budget,
         params: AssignmentParams = AssignmentParams()) -> Optimum:
    """One tier: the best plan, and what is proven of it by the LP's duals or, beyond these, by search."""
    plan, worth = start, value(objective, start)
    box = objective.box(worth)
    bound = relaxed(objective, box, worth, usable(objective), params.scale)
    searched = None
    if next_value(objective, bound.ceiling, worth, box) < worth and not budget.spent():
        model = AssignmentModel(objective)
        model.minimise(model.cost(), bound.ceiling, worth, start)
        if (found := model.solve(budget, params.work)) is not None and value(objective, found) < worth:
            plan, worth = found, value(objective, found)
        searched = worth if model.proven else None
    root = BoxNode(box, next_value(objective, bound.ceiling, worth, box), bound)
    if searched is not None and searched > root.known:
        root.known = root.searched = searched
    return Optimum(plan, worth, min(root.known, worth), root, tuple(plan))


# ---- what is missing ----


MOST_NAMED = 5  # openings of which it is said that they lack blanks, of each length


@dataclass(frozen=True)
class Shortfall:
    """So many `more` blanks of a length a plan needs: `left` are left when all openings that can be have been served,
    and of these entries so many sets each go without. Lengths in the file's unit."""

    blank: Fraction
    more: int
    left: int
    without: tuple[tuple[Demand, int], ...]

    def __str__(self) -> str:
        """Which openings go without, and where each was asked for."""
        named = [called(entry, sets) for entry, sets in self.without[:MOST_NAMED]]
        if others := len(self.without) - len(named):
            named.append(f"{others} more")
        left = {0: "none {} is", 1: "1 {} is"}.get(self.left, f"{self.left} {{}} are")
        return f"{left.format(f'of {exact_decimal(self.blank)}')} left for {listed(named)}"


def called(entry: Demand, sets: int) -> str:
    """An opening as the file calls it: 2 x 6 of 31 are the pieces of two."""
    wanted = "".join((f"{sets} x " if sets > 1 else "", f"{entry.each} of {exact_decimal(entry.length)}"))
    place = f", {entry.file}:{entry.line}" if entry.file else ""
    return f"{entry.mark} ({wanted}{place})" if entry.mark else wanted


def shortfalls(instance: Instance, plan: Solution, demand: Sequence[Demand]) -> tuple[Shortfall, ...]:
    """What a plan lacks, by length; the openings are served in the order of the demand."""
    pieces = {(i, length): Counter(marks) for (i, length), marks in dealt(instance, plan, demand).items()}
    sizes = {asked: i for i, asked in enumerate(zip(instance.lengths, together(instance), strict=True))}
    found = []
    for kinds in Lengths(instance).kinds:
        length = instance.sticks[kinds[0]].length
        more = sum(n for pattern, n in plan.items() if pattern.stick in kinds
                   and instance.sticks[pattern.stick].emergency)
        left = sum(instance.sticks[s].available or 0 for s in kinds)
        without = []
        for entry in demand if more else ():
            marks = pieces.get((sizes[entry.length, entry.each], length), Counter())
            sets = min(entry.qty, marks[entry.mark]) // entry.each
            marks[entry.mark] -= sets * entry.each
            served = min(sets, left // entry.each)
            left -= served * entry.each
            without += [(entry, sets - served)] if sets > served else []
        if more:
            found.append(Shortfall(length * instance.unit, more, left, tuple(without)))
    return tuple(found)


# ---- the bound ----


Usable = list[list[int]]  # for each size the kinds of stick it may come from in a tier


def usable(objective: Objective) -> Usable:
    lengths = Lengths(objective.instance)
    return [[s for k in fitting for s in lengths.kinds[k] if objective.by_stick[s]] for fitting in lengths.fitting]


def relaxed(objective: Objective, box: bounds.Box, worth: int, kinds: Usable, scale: int
            ) -> bounds.Bound:
    """The LP's bound: by what each size costs at least or, where there is too little of that, by the LP's duals."""
    simple = bound_of(objective, box, kinds, cheapest_duals(objective, kinds))
    if simple.ceiling >= worth or all(stick.available is None for stick in objective.instance.sticks):
        return simple
    others = (bound_of(objective, box, kinds, duals) for duals in lp_duals(objective, kinds, scale))
    return max((simple, *others), key=lambda bound: bound.ceiling)


def cheapest_duals(objective: Objective, kinds: Usable) -> bounds.Duals:
    """Each size is worth what its cheapest stick costs; with a cap, what the shortest of its cheapest does.

    A cap's dual that is more than any stick is long makes cost come before length.
    """
    ways, sticks = objective.ways, objective.instance.sticks
    cap = 0 if objective.cap is None else 1 + max(way.base for way in ways)
    least = tuple(
        min((ways[objective.by_stick[s][0]].base + cap * sticks[s].cost for s in own), default=0) for own in kinds)
    return bounds.Duals(least, cap, 1)


def lp_duals(objective: Objective, kinds: Usable, finest: int) -> Iterator[bounds.Duals]:
    """The duals of the LP in which every piece is free: as they are if they are whole, else scaled and
    rounded."""
    instance = objective.instance
    solver = pywraplp.Solver.CreateSolver("GLOP")
    asked: dict[Any, int] = {}
    for length, d in zip(instance.lengths, instance.demands, strict=True):
        asked[length] = asked.get(length, 0) + d
    wanted = {length: solver.Constraint(d, solver.infinity()) for length, d in asked.items()}
    there = {s: solver.Constraint(-solver.infinity(), instance.most(s))
             for s, stick in enumerate(instance.sticks) if stick.available is not None}
    cap = None if objective.cap is None else solver.Constraint(-solver.infinity(), objective.cap)
    of = dict(zip(instance.lengths, kinds, strict=True))
    for length in wanted:
        for s in of[length]:
            x = solver.NumVar(0, solver.infinity(), "")
            solver.Objective().SetCoefficient(x, objective.ways[objective.by_stick[s][0]].base)
            wanted[length].SetCoefficient(x, 1)
            if s in there:
                there[s].SetCoefficient(x, 1)
            if cap is not None:
                cap.SetCoefficient(x, instance.sticks[s].cost)
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return
    for scale in (1, finest):
        sizes = tuple(max(0, round(scale * wanted[length].dual_value())) for length in instance.lengths)
        yield bounds.Duals(sizes, 0 if cap is None else max(0, round(-scale * cap.dual_value())), scale)


def bound_of(objective: Objective, box: bounds.Box, kinds: Usable, duals: bounds.Duals) -> bounds.Bound:
    """What these duals prove, exactly: a stick carries one piece, so its best pattern is its best piece."""
    instance = objective.instance
    best_piece = [0] * len(instance.sticks)
    for own, pi in zip(kinds, duals.sizes, strict=True):
        for s in own:
            best_piece[s] = max(best_piece[s], pi)
    numerator = sum(d * pi for d, pi in zip(instance.demands, duals.sizes, strict=True))
    numerator -= duals.cap * (objective.cap or 0)
    for s, worth in enumerate(best_piece):
        for w in objective.by_stick[s]:
            numerator -= box[s][1] * max(0, worth - bounds.charge(objective, objective.ways[w], duals))
    return bounds.Bound(duals, numerator)


# ---- the search ----


class AssignmentModel:
    """Which sets come from which length, and which sticks are drawn, in whole numbers."""

    def __init__(self, objective: Objective) -> None:
        from ortools.sat.python import cp_model

        self.objective, self.instance = objective, objective.instance
        self.lengths = Lengths(self.instance)
        self.model = cp_model.CpModel()
        self.proven, self.least = False, 0
        drawable = [s for s in range(len(self.instance.sticks)) if objective.by_stick[s]]
        self.drawn = {s: self.model.new_int_var(0, self.instance.most(s), "") for s in drawable}
        kinds = self.lengths.kinds
        self.sets = {
            (i, k): self.model.new_int_var(0, self.lengths.sets(i), "")
            for i, enough in enumerate(self.lengths.enough) for k in enough if any(s in self.drawn for s in kinds[k])
        }
        for i, enough in enumerate(self.lengths.enough):
            own = [self.sets[i, k] for k in enough if (i, k) in self.sets]
            self.model.add(sum(own) == self.lengths.sets(i))
        for k, alike in enumerate(kinds):
            pieces = sum(together(self.instance)[i] * y for (i, j), y in self.sets.items() if j == k)
            self.model.add(sum(self.drawn[s] for s in alike if s in self.drawn) == pieces)
        if objective.cap is not None:
            self.model.add(sum(self.instance.sticks[s].cost * x for s, x in self.drawn.items()) <= objective.cap)

    def cost(self) -> Any:
        """What the tier minimises."""
        ways, by_stick = self.objective.ways, self.objective.by_stick
        return sum(ways[by_stick[s][0]].base * x for s, x in self.drawn.items())

    def minimise(self, aim: Any, least: int, most: int, start: Solution) -> None:
        """Asks for the least of a sum that is known to be from `least` to `most`, as `start` is."""
        self.model.add(aim >= least)
        self.model.add(aim <= most)
        self.model.minimize(aim)
        for s, x in self.drawn.items():
            self.model.add_hint(x, sum(n for pattern, n in start.items() if pattern.stick == s))

    def solve(self, budget: Budget, work: float) -> Solution | None:
        """The best plan found; `proven` is then whether there is none better, and `least` what it is worth."""
        from ortools.sat.python import cp_model

        from cutplan.cutting.exact.cpsat import solved

        solver, status = solved(self.model, budget, work)
        self.proven = status == cp_model.OPTIMAL
        self.least = round(solver.objective_value) if self.proven else 0
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        drawn = [solver.value(self.drawn[s]) if s in self.drawn else 0 for s in range(len(self.instance.sticks))]
        return self.lengths.plan({key: solver.value(y) for key, y in self.sets.items()}, drawn)


def fewest_setups(objective: Objective, start: Solution, ceiling: int, budget: Budget, work: float
                  ) -> tuple[Solution, int]:
    """The plan with the fewest set-ups among those worth at most `ceiling`, and the proven least number of them."""
    instance = objective.instance
    least = len(set(instance.lengths))
    most = len({(instance.sticks[p.stick].length, instance.lengths[i]) for p in start for i, _ in p.counts})
    if most == least or budget.spent():
        return start, least
    model = AssignmentModel(objective)
    model.model.add(model.cost() <= ceiling)
    opened = {(instance.lengths[i], k): model.model.new_bool_var("") for i, k in model.sets}
    for (i, k), y in model.sets.items():
        model.model.add(y <= model.lengths.sets(i) * opened[instance.lengths[i], k])
    model.minimise(sum(opened.values()), least, most, start)
    found = model.solve(budget, work)
    if found is None:
        return start, least
    assert objective.cap is None or spent(instance, found) <= objective.cap
    assert value(objective, found) <= ceiling
    return found, model.least if model.proven else least
