"""Whether so many sticks are enough: branch and price on which pieces share a stick.

    min sum_i w_i u_i   s.t.   sum_p a_ip x_p + u_i >= d_i (pi_i),   sum_p x_p <= m (K),
                               sum_p floor(sum_i m_ci a_ip / 2) x_p <= r_c (sigma_c)

over the patterns that leave at most R = m W - sum_i d_i w_i of their stick, for no plan of m sticks wastes more. Where
R is little that forbids most patterns, and the LP soon leaves something uncut. The last rows are subset-row cuts
(Jepsen, Petersen, Spoorendonk and Pisinger, Oper. Res. 56 (2008) 497-511), priced by labels (`labels.py`).

A node whose LP cuts all is split by two pieces (Ryan and Foster 1981; with several pieces of a size as Vance, Comput.
Optim. Appl. 9 (1998) 211-228): either no stick carries a piece of size i and one of size j, or one does, and those two
are glued into one piece. Both are again problems of this kind. For any whole pi, sigma >= 0, with K the most that a
pattern is worth (an exact integer knapsack), sum d pi - sum r sigma above m K proves that m sticks are not enough: the
duals come from a floating-point LP, the proof does not.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain, combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import pywraplp

from cutplan.cutting.exact.branch_and_cut import triples
from cutplan.cutting.exact.verdict import Pair, PairProof, Refuted, Verdict
from cutplan.cutting.patterns import Counts, Pattern, Solution
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.cutting.pricing.labels import LabelParams, Labels, Penalty
from cutplan.cutting.problem.instance import Instance, produced
from cutplan.cutting.problem.objective import Objective
from cutplan.running.budget import Budget

SHARP = "use_preprocessing:false dual_feasibility_tolerance:1e-9"  # for an LP that leaves a millionth of a stick uncut
DUAL = f"{SHARP} use_dual_simplex:true"  # quicker from where only bounds and rows are new


@dataclass(frozen=True)
class BranchAndPriceParams:
    """Branch and price on pairs (Ryan and Foster 1981), with subset-row cuts.

    fine:        what the number of sticks is scaled up to
    close:       what the LP may leave uncut, or a pattern be worth more than its stick, in sticks, and not count
    longest:     milliseconds for one LP
    rounds:      of cuts, at the root and below
    cuts, each:  that are added in a round, and that have one size in common
    violation:   by how much a cut must be violated
    columns, often: that are added at once, and that have one size in common
    wander:      what a stick may cost, to come to another corner of the LP
    handed_down: columns of a node that its halves begin with
    undecided:   of a stick, in turns: a pair nearer to a whole number of sticks is not split by while there are others
    tried:       pairs whose halves are tried in the LP as it is before a node is split by one of them, at least, and
                 at most in each turn
    pivots:      of the simplex, after which no further pair is tried
    idle:        pairs in turn of which none was better, after which no further is tried
    slight:      what a half leaves uncut, in sticks, and counts as much as nothing
    longest_stick: in units; pricing has tables over every position
    """

    fine: int = 10**15
    close: float = 1e-9
    longest: int = 5_000
    rounds: tuple[int, int] = (10, 2)
    cuts: int = 30
    each: int = 4
    violation: float = 0.03
    columns: int = 50
    often: int = 3
    wander: float = 1e-3
    handed_down: int = 2_500
    undecided: tuple[float, ...] = (0.25, 0.4)
    tried: tuple[int, int] = (8, 20)
    pivots: int = 3_000
    idle: int = 10
    slight: float = 1e-7
    longest_stick: int = TableParams.dense
    labels: LabelParams = field(default_factory=LabelParams)


@dataclass(frozen=True)
class GluedPiece:
    """So many alike pieces of a node; `parts` are the instance's pieces that are glued into one."""

    size: int
    demand: int
    parts: Counts


@dataclass(frozen=True)
class SubsetRow:
    """sum_p floor(sum_i m_i a_ip / 2) x_p <= most; `weights` are the pairs (i, m_i)."""

    weights: Counts
    most: int

    def coefficient(self, counts: Counts) -> int:
        weights = dict(self.weights)
        return sum(a * weights.get(i, 0) for i, a in counts) // 2


@dataclass(frozen=True)
class PairNode:
    """Pieces, the pairs of them kept apart (i, i: no stick carries two), cuts, and columns to begin with."""

    pieces: tuple[GluedPiece, ...]
    apart: frozenset[Pair] = frozenset()
    cuts: tuple[SubsetRow, ...] = ()
    columns: tuple[Counts, ...] = ()
    depth: int = 0

    def pattern(self, counts: Counts) -> Pattern:
        """A column with its pieces unglued."""
        cut = Counter[int]()
        for i, a in counts:
            for j, parts in self.pieces[i].parts:
                cut[j] += a * parts
        return Pattern(0, tuple(sorted(cut.items())))


def applies(objective: Objective, params: BranchAndPriceParams = BranchAndPriceParams()) -> bool:
    """Only pieces that add up, on sticks of one kind, however many, that are counted and short enough for tables over
    every position."""
    instance = objective.instance
    return (objective.cap is None and len(objective.ways) == 1 and instance.arrangement.additive
            and instance.sticks[0].cost > 0 and instance.sticks[0].capacity <= params.longest_stick)


def pair(instance: Instance, patterns: Sequence[Pattern], most: int, nodes: int, budget: Budget,
         params: BranchAndPriceParams = BranchAndPriceParams()) -> Verdict:
    """A plan of at most `most` sticks, or the proof that there is none, within so many nodes.

    `patterns` are what the LP begins with.
    """
    return PairTree(instance, root(instance, patterns, most), most, params).grow(nodes, budget)


def root(instance: Instance, patterns: Iterable[Pattern], most: int) -> PairNode:
    """The node of the whole demand, with those patterns that cut nothing too many and waste no more than all may."""
    capacity, waste = instance.sticks[0].capacity, waste_of(instance, most)
    there = [i for i, demand in enumerate(instance.demands) if demand]
    index = {i: k for k, i in enumerate(there)}
    columns = dict.fromkeys(
        tuple((index[i], a) for i, a in p.counts) for p in patterns
        if all(a <= instance.demands[i] for i, a in p.counts) and capacity - waste <= instance.fill(p) <= capacity
    )
    alone = tuple(GluedPiece(instance.sizes[i], instance.demands[i], ((i, 1),)) for i in there)
    return PairNode(alone, columns=tuple(columns))


class PairTree:
    """The tree below one node, for plans of at most `most` sticks; it grows on where it was left."""

    def __init__(self, instance: Instance, root: PairNode, most: int,
                 params: BranchAndPriceParams = BranchAndPriceParams()) -> None:
        self.instance, self.most, self.params = instance, most, params
        self.waste = waste_of(instance, most)
        self.nodes = 1
        self._open = [root]
        self._proof: list[Pair | Refuted] = []

    def grow(self, nodes: int, budget: Budget) -> Verdict:
        """A plan, or the proof that there is none, if either is found before there are more than so many nodes."""
        if self.waste < 0:
            return Verdict(None, True)
        while self._open:
            if self.nodes > nodes:
                return Verdict(None, False)
            node = self._open[-1]  # depth first, what is glued before what is apart: each way down is a dive as well
            relaxed = Relaxation(node, self.instance.sticks[0].capacity, self.most, self.waste, self.params)
            enough = relaxed.solve(budget)
            if isinstance(enough, Refuted):
                self._proof.append(enough)
                self._open.pop()
                continue
            if enough is None:
                return Verdict(None, False)
            if (plan := whole(self.instance, relaxed, self.most)) is not None:
                return Verdict(plan, True)
            columns = relaxed.handed_down()
            if (split := relaxed.split(budget)) is None:
                return Verdict(None, False)
            self.nodes += 2
            self._proof.append(split)
            self._open[-1:] = [keep_apart(node, relaxed.cuts, split, columns), glue(node, relaxed.cuts, split, columns)]
        return Verdict(None, True, PairProof(self.most, tuple(self._proof)))


def waste_of(instance: Instance, most: int) -> int:
    """R: what so many sticks have room for beyond the pieces."""
    pieces = sum(size * demand for size, demand in zip(instance.sizes, instance.demands, strict=True))
    return most * instance.sticks[0].capacity - pieces


def whole(instance: Instance, relaxed: Relaxation, most: int) -> Solution | None:
    """The plan that the LP's solution is, if its numbers are whole and it is one."""
    plan: Solution = Counter()
    for counts, x in zip(relaxed.columns, relaxed.weights(), strict=True):
        n = round(x)
        if abs(x - n) > 1e-6:
            return None
        if n:
            plan[relaxed.node.pattern(counts)] += n
    enough = all(made >= d for made, d in zip(produced(instance, plan), instance.demands, strict=True))
    return plan if enough and plan.total() <= most and all(map(instance.fits, plan)) else None


def keep_apart(node: PairNode, cuts: Sequence[SubsetRow], split: Pair, columns: Sequence[Counts]) -> PairNode:
    """The half in which no stick carries both."""
    return PairNode(node.pieces, node.apart | {split}, tuple(cuts),
                tuple(counts for counts in columns if not carries(counts, split)), node.depth + 1)


def carries(counts: Counts, split: Pair) -> bool:
    found = dict(counts)
    i, j = split
    return found.get(i, 0) > 1 if i == j else i in found and j in found


def glue(node: PairNode, cuts: Sequence[SubsetRow], split: Pair, columns: Sequence[Counts]) -> PairNode:
    """The half in which some stick carries both: one piece of each is glued to the other.

    The glued piece is kept apart from all that either is, and a cut counts it as both.
    """
    less = Counter(split)
    left = {i: piece.demand - less[i] for i, piece in enumerate(node.pieces)}
    index = {i: k for k, i in enumerate(i for i, n in left.items() if n)}
    both = [node.pieces[i] for i in split]
    pieces = [GluedPiece(node.pieces[i].size, left[i], node.pieces[i].parts) for i in index]
    parts = Counter[int]()
    for piece in both:
        parts.update(dict(piece.parts))
    glued = len(pieces)
    pieces.append(GluedPiece(sum(piece.size for piece in both), 1, tuple(sorted(parts.items()))))
    apart = {(index[i], index[j]) for i, j in node.apart if i in index and j in index}
    for i, j in node.apart:
        apart |= {(index[other], glued) for one, other in ((i, j), (j, i)) if one in split and other in index}
    return PairNode(
        tuple(pieces), frozenset(apart),
        tuple(SubsetRow(renamed(cut.weights, index, glued, sum(dict(cut.weights).get(i, 0) for i in split)), cut.most)
              for cut in cuts),
        tuple(dict.fromkeys(counts for column in columns
                            for counts in reglued(column, split, index, glued, pieces, apart))),
        node.depth + 1,
    )


def renamed(weights: Counts, index: dict[int, int], glued: int, weight: int) -> Counts:
    kept = [(index[i], m) for i, m in weights if i in index]
    return tuple(sorted([*kept, (glued, weight)] if weight else kept))


def reglued(counts: Counts, split: Pair, index: dict[int, int], glued: int, pieces: Sequence[GluedPiece],
            apart: set[Pair]) -> list[Counts]:
    """What becomes of a column: itself where pieces enough are left unglued, and with the glued piece."""
    versions = [(dict(counts), False)]
    if carries(counts, split):
        versions.append((dict(Counter(dict(counts)) - Counter(split)), True))
    found = []
    for cut, with_glued in versions:
        if all(i in index and a <= pieces[index[i]].demand for i, a in cut.items()):
            new = sorted((index[i], a) for i, a in cut.items())
            if with_glued:
                if any((i, glued) in apart for i, _ in new):
                    continue
                new.append((glued, 1))
            found.append(tuple(new))
    return found


class Relaxation:
    """The LP of a node, its pricing and its exact bound."""

    def __init__(self, node: PairNode, capacity: int, most: int, waste: int,
                 params: BranchAndPriceParams) -> None:
        self.node, self.capacity, self.most, self.params = node, capacity, most, params
        self.scale = max(1, params.fine // max(1, most))
        self.demands = np.array([piece.demand for piece in node.pieces], dtype=np.int64)
        self.order = sorted(range(len(node.pieces)), key=lambda i: -node.pieces[i].size)
        self.place = {i: k for k, i in enumerate(self.order)}
        singly = {i for i, j in node.apart if i == j}
        self.labels = Labels([node.pieces[i].size for i in self.order],
                             [1 if i in singly else node.pieces[i].demand for i in self.order], capacity, waste,
                             params.labels)
        self.apart = [(self.place[i], self.place[j]) for i, j in sorted(node.apart) if i != j]
        self.cuts = list(node.cuts)
        self.columns: list[Counts] = []
        self._known: set[Counts] = set()
        self._build(node.columns)

    def _build(self, columns: Sequence[Counts], parameters: str = SHARP) -> None:
        self._lp = pywraplp.Solver.CreateSolver("GLOP")
        self._lp.SetNumThreads(1)
        self._lp.SetTimeLimit(self.params.longest)
        self._lp.SetSolverSpecificParametersAsString(parameters)
        self._lp.Objective().SetMinimization()
        infinity = self._lp.infinity()
        self._demand = [self._lp.Constraint(float(d), infinity) for d in self.demands]
        self._sticks = self._lp.Constraint(-infinity, float(self.most))
        self._limits: list[pywraplp.Constraint] = []
        self._cuts_on: dict[int, list[tuple[int, int]]] = {}  # for each piece which cuts count it, and how
        for row, piece in zip(self._demand, self.node.pieces, strict=True):
            uncut = self._lp.NumVar(0.0, infinity, "")
            row.SetCoefficient(uncut, 1.0)
            self._lp.Objective().SetCoefficient(uncut, piece.size / self.capacity)
        self._x: list[pywraplp.Variable] = []
        self.columns, self._known = [], set()
        for cut in self.cuts:
            self._limit(cut)
        for counts in columns:
            self.add(counts)

    def add(self, counts: Counts) -> bool:
        """A new column; False where it is there already."""
        if counts in self._known:
            return False
        self._known.add(counts)
        self.columns.append(counts)
        x = self._lp.NumVar(0.0, self._lp.infinity(), "")
        self._sticks.SetCoefficient(x, 1.0)
        self._x.append(x)
        for i, a in counts:
            self._demand[i].SetCoefficient(x, float(a))
        halves = Counter[int]()
        for i, a in counts:
            for c, m in self._cuts_on.get(i, ()):
                halves[c] += m * a
        for c, n in halves.items():
            if n > 1:
                self._limits[c].SetCoefficient(x, float(n // 2))
        return True

    def _limit(self, cut: SubsetRow) -> pywraplp.Constraint:
        """The row of a cut."""
        for i, m in cut.weights:
            self._cuts_on.setdefault(i, []).append((len(self._limits), m))
        self._limits.append(self._lp.Constraint(-self._lp.infinity(), float(cut.most)))
        return self._limits[-1]

    def _add_cut(self, cut: SubsetRow) -> None:
        self.cuts.append(cut)
        limit = self._limit(cut)
        for counts, x in zip(self.columns, self._x, strict=True):
            if n := cut.coefficient(counts):
                limit.SetCoefficient(x, float(n))

    def _solve_lp(self) -> bool:
        """Solves the LP; where that goes wrong, once more from nothing and with the solver's own settings."""
        if self._lp.Solve() == pywraplp.Solver.OPTIMAL:
            return True
        self._build(self.columns, "")
        return bool(self._lp.Solve() == pywraplp.Solver.OPTIMAL)

    def weights(self) -> list[float]:
        return [x.solution_value() for x in self._x]

    def wander(self, chance: random.Random) -> list[float]:
        """The weights at a corner of the LP drawn at random, with hardly more sticks; prices no more after that."""
        for x in self._x:
            self._lp.Objective().SetCoefficient(x, self.params.wander * chance.random())
        return self.weights() if self._solve_lp() else []

    def solve(self, budget: Budget) -> Literal[True] | Refuted | None:
        """As `price`, with cuts as long as some are violated."""
        for _ in range(self.params.rounds[self.node.depth > 0]):
            enough = self.price(budget)
            if enough is not True or not self._cut():
                return enough
        return self.price(budget)

    def price(self, budget: Budget) -> Literal[True] | Refuted | None:
        """Adds columns until m sticks are enough for the LP (True) or refuted; None: given up."""
        close = self.params.close
        while self._solve_lp():
            if self._lp.Objective().Value() < close:
                return True
            if budget.spent():
                return None
            budget.count()
            pi = [max(0, int(row.dual_value() * self.scale)) for row in self._demand]
            sigma = [max(0, int(-limit.dual_value() * self.scale)) for limit in self._limits]
            price = max(0, int(-self._sticks.dual_value() * self.scale))
            total = self._total(pi, sigma)
            values = [pi[i] for i in self.order]
            penalties = [Penalty(tuple(sorted((self.place[i], m) for i, m in cut.weights)), dual)
                         for cut, dual in zip(self.cuts, sigma, strict=True) if dual]
            rest = self.labels.completions(values)
            if self._too_few(total, int(rest[0, -1])):
                return self._coarsest(pi, [0] * len(sigma), int(rest[0, -1]))
            least = price + int(self.scale * close)
            for width in self.params.labels.width:
                found = self.labels.best(values, rest, penalties, self.apart, least, width)
                if found is None:
                    return None
                worth = found.patterns[0][0] if found.patterns else least
                if found.exact and self._too_few(total, worth):
                    return self._coarsest(pi, sigma, worth)
                if self._add_some(found.patterns):
                    break
                if found.exact:
                    return True
            else:
                return None
        return None

    def _too_few(self, total: int, worth: int) -> bool:
        """Whether these duals prove that m sticks are not enough, if no pattern is worth more than `worth`."""
        return total > self.most * max(0, worth)

    def _coarsest(self, pi: Sequence[int], sigma: Sequence[int], worth: int) -> Refuted:
        """These duals in the shortest numbers that prove as much: rounded so that no pattern's worth can rise."""
        step = self.scale
        while step > 1:
            step = max(1, step // 10)
            worths, duals = [v // step for v in pi], [-(-v // step) for v in sigma]
            if self._total(worths, duals) > self.most * max(0, worth // step):
                break
        rows = zip(self.cuts, duals, strict=True)
        return Refuted(tuple(worths), tuple((cut.weights, dual) for cut, dual in rows if dual))

    def _total(self, pi: Sequence[int], sigma: Sequence[int]) -> int:
        """What all pieces are worth, less what the cuts allow."""
        worth: int = sum(d * v for d, v in zip(self.demands.tolist(), pi, strict=True))
        return worth - sum(cut.most * dual for cut, dual in zip(self.cuts, sigma, strict=True))

    def _add_some(self, patterns: Sequence[tuple[int, Counts]]) -> int:
        """Adds the best of these patterns, few of which have a size in common; how many were new."""
        often, added = Counter[int](), 0
        for _, taken in patterns:
            if all(often[k] < self.params.often for k, _ in taken):
                often.update(k for k, _ in taken)
                added += self.add(tuple(sorted((self.order[k], a) for k, a in taken)))
                if added >= self.params.columns:
                    break
        return added

    def _used(self) -> tuple[list[int], NDArray[np.float64]]:
        """The columns in the LP's solution, and how often each."""
        weights = np.array(self.weights())
        used = np.flatnonzero(weights > 1e-7)
        return used.tolist(), weights[used]

    def _cut(self) -> int:
        """Adds the most violated subset-row cuts; how many."""
        used, weights = self._used()
        counts = np.zeros((len(self.demands), len(used)), dtype=np.int64)
        for k, column in enumerate(used):
            for i, a in self.columns[column]:
                counts[i, k] = a
        violated = []
        for triple in triples(counts, weights, self.demands, self.params.violation):
            row = counts[list(triple)].sum(axis=0) // 2
            most = int(self.demands[list(triple)].sum()) // 2
            if (by := float(row @ weights) - most) > self.params.violation:
                violated.append((by, triple, most))
        often, added = Counter[int](), 0
        for _, triple, most in sorted(violated, reverse=True):
            if added < self.params.cuts and all(often[i] < self.params.each for i in triple):
                often.update(triple)
                self._add_cut(SubsetRow(tuple((i, 1) for i in triple), most))
                added += 1
        return added

    def split(self, budget: Budget) -> Pair | None:
        """Two pieces that the LP neither always nor never puts on one stick.

        Of several such, the two without which and with which on one stick the most is left uncut, as far as the columns
        that are there can tell (strong branching: Achterberg, Koch and Martin, Oper. Res. Lett. 33 (2005) 42-54,
        sec. 2). Prices no more after that.
        """
        params, best, most = self.params, None, -1.0
        tried = pivots = idle = 0
        self._lp.SetSolverSpecificParametersAsString(DUAL)
        for both, together in self._undecided():
            enough = tried >= params.tried[0] and (pivots > params.pivots or idle >= params.idle)
            if enough or (tried and budget.spent()):
                break
            budget.count()
            left, more = self._left_uncut(both, together)
            tried, pivots, idle = tried + 1, pivots + more, idle + 1
            if left > most:
                best, most, idle = both, left, 0
        return best

    def _undecided(self) -> list[tuple[Pair, float]]:
        """Pairs to split by, each with how often the LP puts both on one stick; in turns the longest that are hardly
        nearer to a whole number of sticks than to half of one, and the longest of more."""
        together: dict[Pair, float] = {}
        broken: set[Pair] = set()
        for column, weight in zip(*self._used(), strict=True):
            counts = self.columns[column]
            pairs = [(i, i) for i, a in counts if a > 1] + list(combinations([i for i, _ in counts], 2))
            for both in pairs:
                together[both] = together.get(both, 0.0) + weight
            if 1e-6 < weight % 1 < 1 - 1e-6:
                broken.update(pairs)

        def longest(undecided: float) -> list[Pair]:
            def key(both: Pair) -> tuple[bool, bool, int, Pair]:
                off = min(together[both] % 1, 1 - together[both] % 1)
                return off > undecided, off > 1e-5, sum(self.node.pieces[i].size for i in both), both

            return sorted(broken, key=key, reverse=True)[: self.params.tried[1]]

        in_turns = zip(*map(longest, self.params.undecided), strict=True)
        return [(both, together[both]) for both in dict.fromkeys(chain.from_iterable(in_turns))]

    def _left_uncut(self, both: Pair, together: float) -> tuple[float, int]:
        """What the halves of a split leave uncut, the one times the other, and the pivots that this took."""
        slight, infinity = self.params.slight, self._lp.infinity()
        sharing = [x for x, counts in zip(self._x, self.columns, strict=True) if carries(counts, both)]
        for x in sharing:
            x.SetUb(0.0)
        apart, pivots = self._tried(), self._lp.iterations()
        for x in sharing:
            x.SetUb(infinity)
        glued = self._lp.Constraint(float(int(together) + 1), infinity)
        for x in sharing:
            glued.SetCoefficient(x, 1.0)
        worth = max(slight, apart) * max(slight, self._tried())
        glued.SetLb(-infinity)
        return worth, pivots + self._lp.iterations()

    def _tried(self) -> float:
        return self._lp.Objective().Value() if self._lp.Solve() == pywraplp.Solver.OPTIMAL else 0.0

    def handed_down(self) -> list[Counts]:
        """The columns that may still be of use below."""
        cost = [x.reduced_cost() for x in self._x]
        best = sorted(range(len(cost)), key=lambda k: (cost[k], k))[:self.params.handed_down]
        return [self.columns[k] for k in sorted(best)]
