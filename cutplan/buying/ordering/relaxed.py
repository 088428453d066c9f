"""Whether some sticks can be enough for a task, with sticks in fractions; and what every order must obey that is.

With pieces' worths pi >= 0, whole numbers, let P_s,r be the most that one stick of kind s, ready from week r on, can be
worth (columns.py). All pieces together are worth sum d pi, so whatever is cut from,

    sum over sales e of P_(s_e, r_e) n_e  >=  sum d pi - sum over what is there of P_(s, 0)

(Farley, Oper. Res. 38 (1990) 922-923; Held, Cook and Sewell, Math. Prog. Comp. 4 (2012) 363-381: the safe bound, read
as a row for the numbers of sticks, as Benders, Numer. Math. 4 (1962) 238-252, does). It holds in whole numbers for any
pi; good ones come from the LP over columns, in floating point, by column generation.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from cutplan.buying.ordering.columns import Column, Columns, Values
from cutplan.buying.ordering.numbers import EnoughRow
from cutplan.buying.ordering.task import ProfileTask, Sale
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class RelaxedParams:
    """The LPs of one task.

    fine:    whole numbers up to which worths are scaled
    rounds:  of pricing for one LP
    many:    columns of each kind of stick and week that join in a round
    longest: milliseconds for one LP
    """

    fine: int = 10**6
    rounds: int = 400
    many: int = 3
    longest: int = 5_000


class OrderLp:
    """The LP of one task. `place` is the task's number in the market."""

    def __init__(self, task: ProfileTask, place: int, params: RelaxedParams = RelaxedParams()) -> None:
        self.task, self.place, self.params = task, place, params
        self.columns = Columns(task)
        self.sales = task.sold
        self.known: dict[Column, pywraplp.Variable] = {}
        self.weights: dict[Column, float] = {}  # how often the LP cuts each column
        self.lp = pywraplp.Solver.CreateSolver("GLOP")
        self.lp.SetNumThreads(1)
        self.lp.SetTimeLimit(params.longest)
        infinity = self.lp.infinity()
        self.pieces = [[self.lp.Constraint(float(d), infinity) if d else None for d in week] for week in task.demands]
        self.stock = {(s, r): self.lp.Constraint(-infinity, float(task.begin(s))) for s, r in self.columns.classes()}
        self.lp.Objective().SetMinimization()
        self.uncut = []
        for week in self.pieces:
            for i, row in enumerate(week):
                if row is not None:
                    short = self.lp.NumVar(0.0, infinity, "")
                    row.SetCoefficient(short, 1.0)
                    self.uncut.append((short, i))
        self.bought = [self.supply(sale) for sale in self.sales]
        self.extra = [self.supply(sale) for sale in self.sales]  # beyond the sticks that are asked after
        for column in self.columns.of_blanks if task.instance.blanks is not None else ():
            self.add(column)

    def supply(self, sale: Sale) -> pywraplp.Variable:
        sticks = self.lp.NumVar(0.0, 0.0, "")
        s = self.task.kind[sale.stock.length]
        for r in self.task.ready[s]:
            if r >= sale.ready:
                self.stock[s, r].SetCoefficient(sticks, -1.0)
        return sticks

    def add(self, column: Column) -> bool:
        if column in self.known:
            return False
        variable = self.known[column] = self.lp.NumVar(0.0, self.lp.infinity(), "")
        for t, i, a in column.counts:
            row = self.pieces[t][i]
            if row is not None:
                row.SetCoefficient(variable, float(a))
        for r in self.task.ready[column.stick]:
            if r >= column.ready:
                self.stock[column.stick, r].SetCoefficient(variable, float(column.sticks))
        return True

    # ---- rows that every order obeys ----

    def by_prices(self, prices: Sequence[float], budget: Budget) -> EnoughRow:
        """The row of the LP that buys at these prices as much as it likes."""
        dear = 10 * max([1.0, *prices]) * max(1, self.task.pieces)
        for variable, price, sale in zip(self.bought, prices, self.sales, strict=True):
            variable.SetBounds(0.0, self.lp.infinity() if sale.most is None else float(sale.most))
            self.lp.Objective().SetCoefficient(variable, price)
        for short, _ in self.uncut:
            self.lp.Objective().SetCoefficient(short, dear)
        for variable in self.extra:
            variable.SetUb(0.0)
        return self.row(self.generate(budget))

    def lacking(self, sticks: Sequence[int], budget: Budget) -> EnoughRow | None:
        """A row that these numbers of sticks do not obey; None where they are enough in fractions (or time is over)."""
        for variable, n in zip(self.bought, sticks, strict=True):
            variable.SetBounds(float(n), float(n))
            self.lp.Objective().SetCoefficient(variable, 0.0)
        for variable in self.extra:
            variable.SetUb(0.0)
        longest = float(max(self.task.instance.sizes))
        for short, i in self.uncut:
            self.lp.Objective().SetCoefficient(short, self.task.instance.sizes[i] / longest)
        row = self.row(self.generate(budget))
        return None if row.holds(sticks) else row

    def generate(self, budget: Budget, rounds: int | None = None) -> Values:
        """What pieces are worth by the LP, once no column pays any more (or after so many rounds)."""
        values: list[list[int]] = [[0] * len(week) for week in self.pieces]
        for _ in range(self.params.rounds if rounds is None else rounds):
            if not self.solve():
                break
            worths = [[max(0.0, row.dual_value()) if row is not None else 0.0 for row in week] for week in self.pieces]
            scale = self.params.fine / max([1e-9, *(worth for week in worths for worth in week)])
            values = [[int(worth * scale) for worth in week] for week in worths]
            above = {}
            for s, r in self.columns.classes():
                charge = sum(-self.stock[s, later].dual_value() for later in self.task.ready[s] if later >= r)
                above[s, r] = charge * scale + 1e-7 * self.params.fine
            added = [self.add(column) for column in self.columns.worth(values, above, self.params.many)]
            if not any(added) or budget.spent():
                break
        else:
            self.solve()
        return values

    def solve(self) -> bool:
        """Whether the LP is solved; `weights` are then its solution."""
        if self.lp.Solve() != pywraplp.Solver.OPTIMAL:
            return False
        self.weights = {column: weight for column, x in self.known.items() if (weight := x.solution_value()) > 1e-7}
        return True

    def row(self, values: Values) -> EnoughRow:
        best = self.columns.best(values)
        worth = sum(d * v for week, own in zip(self.task.demands, values, strict=True)
                    for d, v in zip(week, own, strict=True))
        there = sum(self.task.begin(s) * best[s, 0] for s in self.task.sticks if self.task.begin(s))
        floor = max(0, worth - there)
        return EnoughRow(self.place, tuple(
            min(floor, best[self.task.kind[sale.stock.length], sale.ready]) for sale in self.sales), floor)

    # ---- with some of it cut already ----

    def leave(self, sticks: Sequence[int], prices: Sequence[float], cut: Mapping[Column, int], many: float) -> None:
        """Asks for what these columns do not give, from what they leave of these sticks, and others at their prices.

        Sticks that are there anyway cost a `many`th part of that, so that few are drawn.
        """
        dear = 10 * max([1.0, *prices]) * max(1, self.task.pieces)
        for n, price, sale, bought, extra in zip(sticks, prices, self.sales, self.bought, self.extra, strict=True):
            bought.SetBounds(0.0, float(n))
            self.lp.Objective().SetCoefficient(bought, price / many)
            extra.SetBounds(0.0, self.lp.infinity() if sale.most is None else float(max(0, sale.most - n)))
            self.lp.Objective().SetCoefficient(extra, price)
        for short, _ in self.uncut:
            self.lp.Objective().SetCoefficient(short, dear)
        left = self.left(cut)
        for week, own in zip(self.pieces, left, strict=True):
            for row, d in zip(week, own, strict=True):
                if row is not None:
                    row.SetLb(float(d))
        for (s, r), row in self.stock.items():
            drawn = sum(column.sticks * n for column, n in cut.items() if column.stick == s and column.ready <= r)
            row.SetUb(float(self.task.begin(s) - drawn))
        self.columns = Columns(self.task, left)

    def whole(self) -> None:
        """Asks for all pieces again."""
        self.leave([0] * len(self.sales), [0.0] * len(self.sales), {}, 1.0)
        self.columns = Columns(self.task)

    def left(self, cut: Mapping[Column, int]) -> list[list[int]]:
        """How many pieces of each week and size these columns leave to be cut."""
        left = [list(week) for week in self.task.demands]
        for column, n in cut.items():
            for t, i, a in column.counts:
                left[t][i] = max(0, left[t][i] - a * n)
        return left

    def learn(self, columns: Iterable[Column]) -> None:
        for column in columns:
            self.add(column)
