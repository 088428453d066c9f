"""What sticks cost as they are sold: by the bundle, at breaks, from several suppliers, with freight.

The buyer's own model of the terms (buying.ordering.numbers), in whole numbers; where nothing is sold in any such way it
is left alone, and sticks cost their price.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from cutplan.bidding.needs import Need, StickNumbers, standing_for
from cutplan.buying.ordering.numbers import OrderMarket, Terms, by_task, write_terms
from cutplan.buying.ordering.task import ProfileTask, Sale
from cutplan.buying.terms import freight, orderable, supplier_of
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock, Supplier
from cutplan.sums import granule

WORK = 1.0  # of CP-SAT, in its deterministic seconds, for one purchase
LACKING = "what can be had, as it is sold, is not enough; allow more of a length, or another supplier"


@dataclass(frozen=True)
class Wanted:
    """What a purchase must be of one profile: enough for a need, or `at_least` these sticks, or longer ones for them.
    """

    profile: Profile
    need: Need | None = None
    at_least: tuple[tuple[Fraction, int], ...] = ()
    exchanged: bool = True

    @property
    def sticks(self) -> int:
        return sum(n for _, n in (self.need.numbers if self.need else self.at_least))


@dataclass(frozen=True)
class SticksBought:
    """So many sticks of each length of each profile, what these cost, and their freight."""

    sticks: Mapping[str, StickNumbers]
    goods: Mapping[str, Fraction]
    freight: Fraction = Fraction(0)

    @property
    def money(self) -> Fraction:
        return sum(self.goods.values(), Fraction(0)) + self.freight


@dataclass(frozen=True)
class SticksTask(ProfileTask):
    """Sticks of a profile, whatever they are for: no more than `most` and what the terms ask."""

    most: int = 0

    @cached_property
    def pieces(self) -> int:
        return self.most


def plain_sale(shop: Shop) -> bool:
    """Whether every stick costs its price, whatever is ordered with it, from the one entry of its length."""
    for profile in shop.profiles.values():
        new = [entry for entry in profile.stock if entry.tag is None]
        if len({entry.length for entry in new}) < len(new) or any(
                entry.bundle > 1 or entry.min_order > 1 or entry.breaks for entry in new):
            return False
    return not any(one.freight or one.minimum for one in shop.suppliers.values())


def cheapest_purchase(wanted: Sequence[Wanted], suppliers: Mapping[str, Supplier]) -> SticksBought:
    """The cheapest that is all that is wanted; without `suppliers`, by the terms of the lengths alone. Raises NoPlan.
    """
    from ortools.sat.python import cp_model

    from cutplan.cutting import solved

    wanted = [one for one in wanted if one.sticks]
    if not wanted:
        return SticksBought({}, {})
    market = OrderMarket(tuple(sticks_task(one.profile, one.sticks) for one in wanted), suppliers)
    model = cp_model.CpModel()
    terms = write_terms(model, market)
    for one, own in zip(wanted, by_task(market, terms.sticks), strict=True):
        write_wanted(model, one, sold(one.profile), own)
    model.minimize(terms.money)
    solver, status = solved(model, Budget(), WORK, linear=2)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise NoPlan(f"{', '.join(one.profile.name for one in wanted)}: {LACKING}")
    return bought(market, [one.profile for one in wanted], terms, solver, suppliers)


def bought(market: OrderMarket, profiles: Sequence[Profile], terms: Terms, solver: Any,
           suppliers: Mapping[str, Supplier]) -> SticksBought:
    sticks: dict[str, dict[Fraction, int]] = {}
    goods: dict[str, Fraction] = {}
    owed: dict[str, Fraction] = {}
    for profile, own in zip(profiles, by_task(market, terms.sticks), strict=True):
        mine = sticks.setdefault(profile.name, {})
        for entry, variable in zip(sold(profile), own, strict=True):
            if n := solver.value(variable):
                money = n * entry.each(n)
                mine[entry.length] = mine.get(entry.length, 0) + n
                goods[profile.name] = goods.get(profile.name, Fraction(0)) + money
                owed[entry.supplier] = owed.get(entry.supplier, Fraction(0)) + money
    return SticksBought(sticks, goods, sum((freight(supplier_of(suppliers, name), amount)
                                        for name, amount in owed.items()), Fraction(0)))


def sold(profile: Profile) -> list[Stock]:
    return [entry for entry in profile.stock if entry.tag is None and orderable(entry) != 0]


def sticks_task(profile: Profile, sticks: int) -> SticksTask:
    """What there is to be bought of a profile, where so many sticks are wanted."""
    sales = tuple(Sale(place, entry, 0, orderable(entry)) for place, entry in enumerate(sold(profile)))
    return SticksTask(profile, (), (), sales, most=2 * sticks + 1)


def write_wanted(model: Any, one: Wanted, entries: Sequence[Stock], numbers: Sequence[Any]) -> None:
    """What a purchase of one profile obeys, as rows of a model.

    The worth of sticks is told by duals that are right where sticks are as they are cheapest singly. Terms may make
    others cheaper, which hold less than they are worth. Where little is asked a plan decides in the end; where more is,
    a purchase has the sticks themselves, or longer ones.
    """
    need = one.need
    if need is None or not need.rows or not need.small:
        write_at_least(model, dict(need.numbers if need else one.at_least), need.exchanged if need else one.exchanged,
                       entries, numbers)
        return
    least = list_prices(one.profile)
    for row in need.rows:
        worth = dict(row.worth)
        model.add(sum(worth.get(entry.length, 0) * n for entry, n in zip(entries, numbers, strict=True)) >= row.floor)
    coin = granule([*least.values(), need.cost])
    model.add(sum(int(least[entry.length] / coin) * n for entry, n in zip(entries, numbers, strict=True))
              >= int(need.cost / coin))  # no plan costs less, even at the lowest price for single sticks


def write_at_least(model: Any, asked: Mapping[Fraction, Any], exchanged: bool, entries: Sequence[Stock],
                   numbers: Sequence[Any]) -> None:
    """So many of each length as asked, be it a number or an expression of the model, or longer ones for them."""
    there = by_length(entries, numbers)
    for length in asked:
        model.add(standing_for(there, length, exchanged) >= standing_for(asked, length, exchanged))


def by_length(entries: Sequence[Stock], numbers: Sequence[Any]) -> dict[Fraction, Any]:
    """How many sticks of each length there are of all entries, as expressions of a model."""
    found: dict[Fraction, Any] = {}
    for entry, n in zip(entries, numbers, strict=True):
        found[entry.length] = found.get(entry.length, 0) + n
    return found


def list_prices(profile: Profile) -> dict[Fraction, Fraction]:
    """The lowest price of a single stick of each length."""
    found: dict[Fraction, Fraction] = {}
    for entry in profile.stock:
        if entry.tag is None:
            found[entry.length] = min(found.get(entry.length, entry.price), entry.price)
    return found
