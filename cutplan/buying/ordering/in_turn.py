"""A whole plan for one task by the cutter, week after week, each with what the weeks before it left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.buying.ordering.columns import Column, Columns, WeekCounts
from cutplan.buying.ordering.task import ProfileTask
from cutplan.buying.weeks import left_of, offcut_name
from cutplan.cutting import draft
from cutplan.plans.records import Cut, Demand, ProfilePlan
from cutplan.running.budget import Budget
from cutplan.shop import Stock

CHEAP = 100  # sticks that are ordered anyway cost this part of their price, so that few are drawn


@dataclass
class Lot:
    """New sticks of one length at one price, from the week they are `ready`; `left` of them (None: any number)."""

    length: Fraction
    price: Fraction
    ready: int
    left: int | None


def lots_of(task: ProfileTask, sticks: Sequence[int], prices: Sequence[Fraction]) -> list[Lot]:
    """What lies there and what is ordered, nearly for nothing, and what could be bought beside."""
    dear = dict(zip((sale.stock.length for sale in task.sold), prices, strict=True))
    found = [Lot(length, dear.get(length, Fraction(1)) / CHEAP, 0, n) for length, n in task.there if n]
    for sale, n, price in zip(task.sold, sticks, prices, strict=True):
        found.append(Lot(sale.stock.length, price / CHEAP, sale.ready, n))
        found.append(Lot(sale.stock.length, price, sale.ready, None if sale.most is None else max(0, sale.most - n)))
    return found


def in_turn(task: ProfileTask, sticks: Sequence[int], prices: Sequence[Fraction], budget: Budget) -> dict[Column, int]:
    """Columns that cut all pieces from these sticks and what is bought beside. Raises NoPlan."""
    columns = Columns(task)
    profile = task.profile if columns.carries else replace(task.profile, keep_from=None)
    lots = lots_of(task, sticks, prices)
    begun: dict[str, tuple[int, WeekCounts]] = {}  # what was cut from the offcuts of weeks before
    found: Counter[tuple[int, WeekCounts]] = Counter()
    weeks = [t for t, week in enumerate(task.weeks) if week]
    for number, t in enumerate(weeks):
        ready = [lot for lot in lots if lot.ready <= t and lot.left != 0]
        stock = (*(Stock(lot.length, lot.price, lot.left) for lot in ready),
                 *(entry for entry in profile.stock if entry.tag is not None))
        made = draft(replace(profile, stock=stock), task.weeks[t], budget.quietly().share(len(weeks) - number))
        draw(made, ready)
        left: dict[str, tuple[int, WeekCounts]] = {}
        name = f"week {t}"
        for place, stick in enumerate(made.sticks, start=1):
            counts = counted(task, t, stick.cuts, task.weeks[t])
            before = begun.pop(stick.tag, None) if stick.tag is not None else None
            s, earlier = before or (kind_of(task, stick.tag, stick.length), ())
            own = s, (*earlier, *counts)
            if stick.keep:
                left |= {offcut_name(profile.name, name, place, k): own for k in range(1, stick.count + 1)}
            else:
                found[own] += stick.count
        begun |= left
        profile = left_of(replace(profile, stock=stock), made, name)
    found.update(begun.values())
    cut: Counter[Column] = Counter()
    for (s, counts), n in found.items():
        if task.instance.blanks is None:
            cut[columns.column(s, counts)] += n
        else:
            for t, i, a in counts:
                cut[replace(columns.column(s, ((t, i, task.sets[i]),)), sticks=task.sets[i])] += n * a
    return {column: -(-n // column.sticks) for column, n in cut.items()}


def draw(made: ProfilePlan, ready: Sequence[Lot]) -> None:
    """Takes what a plan draws of new sticks from these lots, the cheapest first."""
    for stick in made.sticks:
        n = stick.count if stick.tag is None else 0
        for lot in sorted(ready, key=lambda lot: lot.price):
            if lot.length == stick.length:
                taken = n if lot.left is None else min(n, lot.left)
                lot.left = None if lot.left is None else lot.left - taken
                n -= taken


def kind_of(task: ProfileTask, tag: str | None, length: Fraction) -> int:
    if tag is None:
        return task.kind[length]
    return next(s for s in task.sticks if any(entry.tag == tag for entry in task.instance.stock[s]))


def counted(task: ProfileTask, t: int, cuts: Sequence[Cut], demand: Sequence[Demand]) -> WeekCounts:
    """A stick's pieces of one week, by the sizes of the task's instance."""
    sizes = {asked: i for i, asked in enumerate(zip(task.instance.lengths, task.instance.lies, task.sets, strict=True))}
    asked = {(one.mark, one.length): sizes[one.length, one.lies, one.each] for one in demand}
    counts = Counter(asked[cut.mark, cut.length] for cut in cuts)
    return tuple((t, i, a) for i, a in sorted(counts.items()))
