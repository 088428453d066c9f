"""What suppliers ask: by the bundle, no fewer than so many, cheaper in larger orders; and freight beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.shop import Stock, Supplier


@dataclass(frozen=True)
class PriceLevel:
    """So many bundles or more cost so much a stick."""

    bundles: int
    each: Fraction


def whole(entry: Stock, sticks: int) -> int:
    """So many sticks, filled up to whole bundles."""
    return -(-sticks // entry.bundle) * entry.bundle


def levels(entry: Stock) -> tuple[PriceLevel, ...]:
    """At what price how many bundles can be ordered, the dearest first; the cheaper never take fewer."""
    found: list[PriceLevel] = []
    for least, each in ((1, entry.price), *entry.breaks):
        bundles = whole(entry, max(least, entry.min_order, 1)) // entry.bundle
        if found and found[-1].bundles >= bundles:
            found.pop()
        found.append(PriceLevel(bundles, each))
    return tuple(found)


def orderable(entry: Stock, there: int = 0) -> int | None:
    """The largest order there can be with so many there already (None: of any size): whole bundles, none where the
    minimum order is more."""
    if entry.qty is None:
        return None
    bundles = max(0, entry.qty - there) // entry.bundle * entry.bundle
    return bundles if whole(entry, entry.min_order) <= bundles else 0


def freight(supplier: Supplier, goods: Fraction) -> Fraction:
    """What an order of such worth costs beside its sticks; nothing where nothing is ordered."""
    free = goods == 0 or (supplier.free_from is not None and goods >= supplier.free_from)
    return Fraction(0) if free else supplier.freight


def supplier_of(suppliers: Mapping[str, Supplier], name: str) -> Supplier:
    return suppliers.get(name) or Supplier(name)
