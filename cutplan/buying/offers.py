"""The lengths of a profile that a shop could carry, and what a stick of each costs.

Which lengths to carry is asked for the weeks to come, so how many sticks happen to be left of one (`qty`) is no limit
here. Where one of the lengths has no price, all are compared by length: money beside lengths would mean nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from cutplan.buying.terms import supplier_of
from cutplan.shop import Profile, Stock, Supplier


@dataclass(frozen=True, order=True)
class Offer:
    """A length that could be carried, in the file's unit, and what a stick of it costs."""

    length: Fraction
    price: Fraction

    @property
    def stock(self) -> Stock:
        """Any number of such sticks."""
        return Stock(self.length, self.price)


@dataclass(frozen=True)
class Market:
    """What could be carried of one profile.

    `offers` are the candidates and `today` the lengths of the shop file, shortest first. `in_money` says that prices
    are money; else they are lengths. `carrying` is what each length carried costs a week. `unpriced` are lengths that
    no price is known of, where others have one. `entries` are the shop file's, as they are sold, and `suppliers` what
    these ask of an order; `ranged` says that the candidates were asked for, and are not the shop file's own.
    """

    profile: Profile
    offers: tuple[Offer, ...]
    today: tuple[Offer, ...]
    in_money: bool
    carrying: Fraction
    unpriced: tuple[Fraction, ...] = ()
    entries: tuple[Stock, ...] = ()
    suppliers: Mapping[str, Supplier] = field(default_factory=dict)
    ranged: bool = False

    @cached_property
    def under_terms(self) -> bool:
        """Whether an order may cost something else than its sticks one by one."""
        asks = [supplier_of(self.suppliers, entry.supplier) for entry in self.entries]
        return self.in_money and any(
            entry.bundle > 1 or entry.min_order > 1 or entry.breaks or one.freight or one.minimum
            for entry, one in zip(self.entries, asks, strict=True))

    def sold(self, offer: Offer) -> tuple[Stock, ...]:
        """How a length can be bought: by the shop file's entries, else singly by length."""
        return tuple(entry for entry in self.entries if entry.length == offer.length) or (offer.stock,)

    def unsold(self, offers: Sequence[Offer]) -> tuple[Offer, ...]:
        """Those of some offers that the shop file does not say how to buy, where it says terms of others."""
        sold = {entry.length for entry in self.entries}
        return tuple(offer for offer in offers if offer.length not in sold) if self.under_terms else ()

    def edge(self, offers: Sequence[Offer]) -> tuple[Offer, ...]:
        """Those of some offers that are the shortest or the longest of the candidates that were asked for."""
        ends = {self.offers[0], self.offers[-1]} if self.ranged and len(self.offers) > 1 else set()
        return tuple(offer for offer in offers if offer in ends)

    def every(self) -> tuple[Offer, ...]:
        """Candidates and today's lengths, longest first."""
        return tuple(sorted({*self.offers, *self.today}, reverse=True))


def market(profile: Profile, lengths: Sequence[Fraction] | None, by_length: bool = False,
           suppliers: Mapping[str, Supplier] | None = None) -> Market:
    """The profile's market; without `lengths` its own are the candidates. `by_length`: whatever the prices are."""
    own = prices(profile)
    wanted = sorted(own if lengths is None else set(lengths))
    known = {length: price_of(profile, own, length) for length in {*own, *wanted}}
    lacking = tuple(sorted(length for length, price in known.items() if price is None))
    in_money = not lacking and not by_length

    def offers(chosen: Sequence[Fraction]) -> tuple[Offer, ...]:
        return tuple(Offer(length, price if in_money and (price := known[length]) is not None else length)
                     for length in chosen)

    mixed = lacking if len(lacking) < len(known) and not by_length else ()
    return Market(profile, offers(wanted), offers(sorted(own)), in_money,
                  profile.carrying if in_money else Fraction(0), mixed,
                  tuple(replace(entry, qty=None) for entry in new_stock(profile)), suppliers or {}, lengths is not None)


def prices(profile: Profile) -> dict[Fraction, Fraction | None]:
    """What each length of the shop file goes on costing: the least of the endless entries, else of all."""
    found: dict[Fraction, Fraction | None] = {}
    for length in {entry.length for entry in new_stock(profile)}:
        entries = [entry for entry in new_stock(profile) if entry.length == length]
        endless = [entry for entry in entries if entry.qty is None] or entries
        found[length] = min(entry.price for entry in endless) if all(entry.priced for entry in endless) else None
    return found


def new_stock(profile: Profile) -> Iterator[Stock]:
    return (entry for entry in profile.stock if entry.tag is None)


def price_of(profile: Profile, own: dict[Fraction, Fraction | None], length: Fraction) -> Fraction | None:
    if length in own:
        return own[length]
    return None if profile.price_per_length is None else profile.price_per_length * length


def selling(profile: Profile, offers: Sequence[Offer]) -> Profile:
    """The profile as it would be if it were sold in these lengths, any number of each."""
    return replace(profile, stock=tuple(offer.stock for offer in offers))
