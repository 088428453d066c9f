"""What is asked of one profile: its pieces in each week, what lies there, and what can be bought by when.

Weeks count from 0 here. `Sticks` are alike for the cutter: new sticks of one length, whoever sells them, or offcuts.
A stick is *ready* from a week on: at once where it is there, else from the week it comes in time for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from cutplan.cutting import Instance, build_instance, instance_of, quantities
from cutplan.plans.records import Demand
from cutplan.problems import NoPlan
from cutplan.shop import Profile, Stock


@dataclass(frozen=True)
class Sale:
    """An entry of the stock that can be bought: `place` in the profile's stock, `ready` the first week it serves, and
    the most that can be ordered (None: any number)."""

    place: int
    stock: Stock
    ready: int
    most: int | None


@dataclass(frozen=True)
class ProfileTask:
    """One profile over the weeks; `there` are new sticks on hand, by length; its stock has all its offcuts."""

    profile: Profile
    weeks: tuple[tuple[Demand, ...], ...]
    there: tuple[tuple[Fraction, int], ...]
    sales: tuple[Sale, ...]

    @cached_property
    def on_hand(self) -> dict[Fraction, int]:
        return dict(self.there)

    @property
    def sold(self) -> tuple[Sale, ...]:
        """What can really be had."""
        return tuple(sale for sale in self.sales if sale.most != 0)

    @property
    def offcuts(self) -> tuple[Stock, ...]:
        return tuple(entry for entry in self.profile.stock if entry.tag is not None)

    @cached_property
    def lengths(self) -> tuple[Fraction, ...]:
        """Of new sticks that are there or can be had, longest first."""
        bought = {sale.stock.length for sale in self.sold}
        return tuple(sorted(bought | {length for length, n in self.there if n}, reverse=True))

    @cached_property
    def heap(self) -> tuple[Demand, ...]:
        return tuple(one for week in self.weeks for one in week)

    @cached_property
    def instance(self) -> Instance:
        """All weeks as one, from any number of each length. Raises NoPlan, which names who asks for what cannot be."""
        endless = tuple(Stock(length, Fraction(1)) for length in self.lengths)
        return instance_of(replace(self.profile, stock=(*endless, *self.offcuts)), self.heap)

    @cached_property
    def sticks(self) -> tuple[int, ...]:
        """The kinds of stick of the instance that are real."""
        return tuple(s for s, stick in enumerate(self.instance.sticks) if not stick.emergency)

    @cached_property
    def sets(self) -> tuple[int, ...]:
        """How many pieces of each size belong together: more than one only of turned blanks."""
        blanks = self.instance.blanks
        return blanks.together if blanks else (1,) * len(self.instance.sizes)

    @cached_property
    def demands(self) -> tuple[tuple[int, ...], ...]:
        """For each week how many pieces of each size of the instance."""
        asked = list(zip(self.instance.lengths, self.instance.lies, self.sets, strict=True))
        counts = [quantities(week) for week in self.weeks]
        return tuple(tuple(week.get(one, 0) for one in asked) for week in counts)

    @cached_property
    def pieces(self) -> int:
        return sum(map(sum, self.demands))

    @cached_property
    def kind(self) -> dict[Fraction, int]:
        """The kind of stick that new ones of a length are."""
        return {self.instance.stock[s][0].length: s for s in self.sticks if self.instance.stock[s][0].tag is None}

    def begin(self, s: int) -> int:
        """How many sticks of a kind are there to begin with."""
        entry = self.instance.stock[s][0]
        return self.on_hand.get(entry.length, 0) if entry.tag is None else len(self.instance.stock[s])

    @cached_property
    def ready(self) -> dict[int, tuple[int, ...]]:
        """For each kind of stick the weeks that more of it are ready from, in order."""
        found: dict[int, set[int]] = {s: {0} if self.begin(s) else set() for s in self.sticks}
        for sale in self.sold:
            found[self.kind[sale.stock.length]].add(sale.ready)
        return {s: tuple(sorted(weeks)) for s, weeks in found.items()}

    @property
    def carries(self) -> bool:
        """Whether an offcut of one week may serve a later one."""
        return sum(map(any, self.demands)) > 1 and any(
            self.instance.sticks[s].keep_fill is not None for s in self.sticks)

    @cached_property
    def together(self) -> ProfileTask:
        """All weeks cut as one, from sticks that are there at once."""
        return replace(self, weeks=(self.heap,), sales=tuple(replace(sale, ready=0) for sale in self.sales))


def refuse_lacking(task: ProfileTask) -> None:
    """Raises NoPlan where the pieces of some week cannot be cut from all the sticks that are ready by then."""
    task.instance  # noqa: B018 - refuses what no stick gives
    for k, week in enumerate(task.weeks):
        lengths = {length for length, n in task.there if n}
        lengths |= {sale.stock.length for sale in task.sold if sale.ready <= k}
        stock = (*(Stock(length, Fraction(1)) for length in sorted(lengths)), *task.offcuts)
        if not week:
            continue
        try:
            build_instance(replace(task.profile, stock=stock), quantities(week))
        except NoPlan as nothing:
            late = any(sale.ready > k for sale in task.sold)
            when = f" for week {k + 1}, from what comes in time for it" if late else ""
            raise NoPlan(f"{nothing}{when}") from None
