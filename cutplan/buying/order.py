"""What an order is: its lines, what each supplier is owed, and what is proven of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.buying.dates import NO_DATES, Dates
from cutplan.plans.records import ProfilePlan
from cutplan.shop import Stock


@dataclass(frozen=True)
class OrderLine:
    """One entry of a profile's stock: `needed` sticks for all weeks, `there` on hand, `ordered`, at `each` a stick.

    `place` is the entry's in the stock; `ready` the first week that it comes in time for, from 0 (None: for none).
    """

    stock: Stock
    needed: int
    there: int
    ordered: int
    each: Fraction
    place: int = 0
    ready: int | None = 0

    @property
    def money(self) -> Fraction:
        return self.ordered * self.each

    @property
    def left(self) -> int:
        """What is there when all weeks are cut."""
        return self.there + self.ordered - self.needed


@dataclass(frozen=True)
class ProfileOrder:
    """The order for one profile: a line for each entry; `weeks` are the plans it is for (None: nothing is cut)."""

    profile: str
    lines: tuple[OrderLine, ...]
    weeks: tuple[ProfilePlan | None, ...]

    @property
    def money(self) -> Fraction:
        return sum((line.money for line in self.lines), Fraction(0))


@dataclass(frozen=True)
class SupplierBill:
    """What one supplier is owed for sticks, and for bringing them."""

    supplier: str
    goods: Fraction
    freight: Fraction

    @property
    def money(self) -> Fraction:
        return self.goods + self.freight


@dataclass(frozen=True)
class PlacedOrder:
    """One order for some `weeks` (counted from 1): no order for them costs less than `bound`."""

    weeks: tuple[int, ...]
    profiles: tuple[ProfileOrder, ...]
    bills: tuple[SupplierBill, ...]
    bound: Fraction
    dates: Dates = NO_DATES

    @property
    def money(self) -> Fraction:
        return sum((bill.money for bill in self.bills), Fraction(0))

    @property
    def proven(self) -> bool:
        """Whether no order for these weeks is cheaper."""
        return self.bound >= self.money


def total(orders: Sequence[PlacedOrder]) -> Fraction:
    return sum((one.money for one in orders), Fraction(0))


def left_of(orders: Sequence[PlacedOrder]) -> Fraction:
    """What was paid for the sticks that are left of these orders, placed one after the other. What was on hand before
    is used first, then what was ordered first."""
    bought: dict[tuple[str, Fraction], list[tuple[int, Fraction]]] = {}
    before: dict[tuple[str, Fraction], int] = {}
    needed: dict[tuple[str, Fraction], int] = {}
    for order in orders:
        for one in order.profiles:
            for line in one.lines:
                key = one.profile, line.stock.length
                if order is orders[0]:
                    before[key] = before.get(key, 0) + line.there
                needed[key] = needed.get(key, 0) + line.needed
                bought.setdefault(key, []).append((line.ordered, line.each))
    worth = Fraction(0)
    for key, lots in bought.items():
        used = max(0, needed[key] - before.get(key, 0))
        for n, each in lots:
            taken = min(n, used)
            used -= taken
            worth += (n - taken) * each
    return worth
