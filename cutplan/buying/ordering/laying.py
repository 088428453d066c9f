"""From columns to each week's plan: which stick is drawn when, from what was ordered, and which offcut serves again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from cutplan.buying.ordering.columns import Column, WeekCounts
from cutplan.buying.ordering.in_turn import counted
from cutplan.buying.ordering.task import ProfileTask
from cutplan.buying.weeks import offcut_name
from cutplan.cutting import Instance, Pattern, Solution, as_given, cheapest_plan, finish
from cutplan.plans.records import Demand, ProfilePlan
from cutplan.running.budget import Budget
from cutplan.shop import Stock

History = tuple[int, WeekCounts]  # a kind of stick of the task, and what is cut from one in all weeks so far


@dataclass(frozen=True)
class LayingJob:
    """The columns of one task with how often each is cut, from so many sticks ordered of what it is sold.

    `tidy`: plans on which no later week leans are cut anew, with what there is, for less length used up and few
    set-ups. `before`: weeks that went before those of the task, for the names of offcuts.
    """

    task: ProfileTask
    columns: tuple[tuple[Column, int], ...]
    sticks: tuple[int, ...]
    tidy: bool
    before: int = 0

    def load(self) -> int:
        return len(self.task.heap)


@dataclass(frozen=True)
class Laid:
    """The plan of each week (None: nothing of the profile is cut), and how many sticks it draws: of what was there, by
    length, and of what is ordered of each sale."""

    plans: tuple[ProfilePlan | None, ...]
    drawn_there: tuple[tuple[Fraction, int], ...]
    drawn: tuple[int, ...]


def lay(job: LayingJob, budget: Budget) -> Laid:
    return Laying(job, budget).run()


class Laying:
    def __init__(self, job: LayingJob, budget: Budget) -> None:
        self.job, self.task, self.budget = job, job.task, budget
        self.there = Counter(dict(job.task.there))
        self.left = list(job.sticks)
        self.offcuts: dict[History, list[Stock]] = {}
        for s in self.task.sticks:
            if self.task.instance.stock[s][0].tag is not None:
                self.offcuts[s, ()] = list(self.task.instance.stock[s])

    def run(self) -> Laid:
        histories = trimmed(self.task, self.job.columns)
        plans: list[ProfilePlan | None] = []
        for t, demand in enumerate(self.task.weeks):
            plans.append(self.week(t, demand, histories) if demand else None)
        return self.laid(plans)

    def laid(self, plans: Sequence[ProfilePlan | None]) -> Laid:
        there = tuple((length, n - self.there[length]) for length, n in self.task.there)
        drawn = tuple(n - left for n, left in zip(self.job.sticks, self.left, strict=True))
        return Laid(tuple(plans), there, drawn)

    def week(self, t: int, demand: Sequence[Demand], histories: Counter[History]) -> ProfilePlan:
        stock: Counter[Stock] = Counter()
        parts: list[tuple[Stock, WeekCounts, int]] = []
        names: dict[str, History] = {}
        for (s, counts), n in sorted(histories.items()):
            own = tuple(one for one in counts if one[0] == t)
            if not own:
                continue
            before = tuple(one for one in counts if one[0] < t)
            for entry, some in self.drawn(s, before, t, n):
                stock[entry] += some
                parts.append((entry, own, some))
                if entry.tag is not None:
                    names[entry.tag] = s, before
        profile = replace(self.task.profile, stock=tuple(
            entry if entry.tag is not None else replace(entry, qty=n) for entry, n in stock.items()))
        given = partial(solution, task=self.task, parts=parts)
        leaned_on = any(min(week for week, *_ in counts) <= t < max(week for week, *_ in counts)
                        for _, counts in histories)
        if self.job.tidy and not leaned_on:
            plan = finish(cheapest_plan(profile, demand, self.budget.share(2), given), self.budget)
            self.give_back(stock, plan)
            return self.named(t, plan)
        plan = as_given(profile, demand, given)
        plan = self.named(t, plan)
        self.remember(t, plan, demand, names)
        return plan

    def drawn(self, s: int, before: WeekCounts, t: int, n: int) -> list[tuple[Stock, int]]:
        """Where so many sticks of a kind come from in week t: offcuts, what is there, what has come by then."""
        entry = self.task.instance.stock[s][0]
        if before or entry.tag is not None:
            own = self.offcuts[s, before]
            taken, self.offcuts[s, before] = own[:n], own[n:]
            assert len(taken) == n, "each offcut that a later week cuts was kept by the one before"
            return [(one, 1) for one in taken]
        found = []
        some = min(n, self.there[entry.length])
        if some:
            self.there[entry.length] -= some
            price = next(one.price for one in self.task.profile.stock if one.length == entry.length and one.tag is None)
            found.append((Stock(entry.length, price), some))
            n -= some
        for k, sale in enumerate(self.task.sold):
            if sale.stock.length == entry.length and sale.ready <= t and (some := min(n, self.left[k])):
                self.left[k] -= some
                n -= some
                found.append((Stock(entry.length, sale.stock.price), some))
        assert not n, "no more sticks are drawn than are ready"
        return found

    def give_back(self, stock: Counter[Stock], plan: ProfilePlan) -> None:
        """What was meant for a plan that does without it."""
        spare = Counter({(entry.length, entry.price): n for entry, n in stock.items() if entry.tag is None})
        for stick in plan.sticks:
            if stick.tag is None:
                spare[stick.length, stick.price] -= stick.count
        for (length, price), n in spare.items():
            for k, sale in enumerate(self.task.sold):
                if (sale.stock.length, sale.stock.price) == (length, price):
                    some = min(n, self.job.sticks[k] - self.left[k])
                    self.left[k] += some
                    n -= some
            self.there[length] += n

    def named(self, t: int, plan: ProfilePlan) -> ProfilePlan:
        """With a name for each offcut that is kept, as `buying.weeks.left_of` has it."""
        week = f"week {self.job.before + t + 1}"
        return replace(plan, sticks=tuple(
            replace(stick, offcut_tags=tuple(
                offcut_name(plan.profile, week, place, k) for k in range(1, stick.count + 1)))
            if stick.keep else stick for place, stick in enumerate(plan.sticks, start=1)))

    def remember(self, t: int, plan: ProfilePlan, demand: Sequence[Demand], names: dict[str, History]) -> None:
        """Keeps what is left of the sticks for the weeks to come."""
        for stick in plan.sticks:
            if stick.keep:
                own = counted(self.task, t, stick.cuts, demand)
                s, before = (names[stick.tag] if stick.tag is not None else (self.task.kind[stick.length], ()))
                left = plan.left_by(stick)
                self.offcuts.setdefault((s, (*before, *own)), []).extend(
                    self.task.profile.offcut(tag, left.length, left.first, left.sawn, left.plain)
                    for tag in stick.offcut_tags)


def drawn_by(task: ProfileTask, plans: Sequence[ProfilePlan | None]) -> dict[Column, int]:
    """What the plans of the weeks draw of new sticks, as columns of which only that is known."""
    found: Counter[Column] = Counter()
    for t, plan in enumerate(plans):
        for stick in plan.sticks if plan is not None else ():
            if stick.tag is None:
                s = task.kind[stick.length]
                found[Column(s, max(ready for ready in task.ready[s] if ready <= t), ())] += stick.count
    return dict(found)


def dealt(task: ProfileTask, plans: Sequence[ProfilePlan | None], sticks: Sequence[int]) -> Laid:
    """The plans of the weeks, made elsewhere, with the sticks that they draw."""
    laying = Laying(LayingJob(task, (), tuple(sticks), False), Budget())
    for t, plan in enumerate(plans):
        for stick in plan.sticks if plan is not None else ():
            if stick.tag is None:
                laying.drawn(task.kind[stick.length], (), t, stick.count)
    return laying.laid(plans)


def solution(instance: Instance, task: ProfileTask, parts: Sequence[tuple[Stock, WeekCounts, int]]) -> Solution:
    """What is cut in one week, on the sticks and sizes of that week's instance."""
    together = instance.blanks.together if instance.blanks else (1,) * len(instance.sizes)
    size = {asked: i for i, asked in enumerate(zip(instance.lengths, instance.lies, together, strict=True))}
    asked = list(zip(task.instance.lengths, task.instance.lies, task.sets, strict=True))
    found: Solution = Counter()
    for entry, counts, n in parts:
        s = next(s for s, group in enumerate(instance.stock) if any(
            (one.tag, one.length, one.price) == (entry.tag, entry.length, entry.price) for one in group))
        found[Pattern(s, tuple(sorted((size[asked[i]], a) for _, i, a in counts)))] += n
    return found


def trimmed(task: ProfileTask, columns: Sequence[tuple[Column, int]]) -> Counter[History]:
    """What is cut from each stick, without what is more than asked for."""
    over = [[-d for d in week] for week in task.demands]
    for column, n in columns:
        for t, i, a in column.counts:
            over[t][i] += a * n
    found: Counter[History] = Counter()
    for column, n in sorted(columns, key=lambda one: (sum(a for *_, a in one[0].counts), one)):
        for _ in range(n):
            counts = []
            for t, i, a in column.counts:
                less = min(a, over[t][i])
                over[t][i] -= less
                if a - less:
                    counts.append((t, i, a - less))
            if counts and column.sticks == 1:
                found[column.stick, tuple(counts)] += 1
            elif counts:
                (t, i, a), = counts
                found[column.stick, ((t, i, 1),)] += a
    return found


