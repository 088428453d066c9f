"""What suppliers ask: by the bundle, no fewer than so many, cheaper in larger orders; and freight beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal
from cutplan.shop import Shop, Stock, Supplier


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


def most_worth(entry: Stock, most: int) -> Fraction:
    """What an order of up to so many sticks comes to at most; fewer at a higher price may come to more."""
    before = ((least - 1) // entry.bundle * entry.bundle for least, _ in entry.breaks if least <= most)
    return max(n * entry.each(n) for n in (most, *before))


def never_met(shop: Shop) -> Iterator[str]:
    """What of the shop file's terms no order can meet, however much is wanted."""
    most: dict[str, Fraction | None] = {}  # what all that a supplier has left comes to
    for profile in shop.profiles.values():
        for entry in profile.stock:
            if entry.tag is not None:
                continue
            left, worth = orderable(entry), most.get(entry.supplier, Fraction(0))
            most[entry.supplier] = None if left is None or worth is None else worth + most_worth(entry, left)
            if left is None or not entry.qty:
                continue
            name = f"{profile.name} {exact_decimal(entry.length)}" + (f" from {entry.supplier}" * bool(entry.supplier))
            if not left:
                asks = f"by {entry.bundle}" if entry.bundle > entry.qty else f"from {entry.min_order} on"
                yield f"{name}: {entry.qty} are left, and it is sold {asks}: none of them can be ordered"
            elif entry.breaks and entry.breaks[-1][0] > left:
                yield f"{name}: {left} can be ordered at most, and none at the price from {entry.breaks[-1][0]} on"
    for name, worth in most.items():
        least = supplier_of(shop.suppliers, name).minimum
        if worth is not None and 0 < worth < least:
            yield (f"supplier {name}: all that is left there comes to {exact_decimal(worth)}, less than the minimum, "
                   f"{exact_decimal(least)}: nothing can be ordered there")


def freight(supplier: Supplier, goods: Fraction) -> Fraction:
    """What an order of such worth costs beside its sticks; nothing where nothing is ordered."""
    free = goods == 0 or (supplier.free_from is not None and goods >= supplier.free_from)
    return Fraction(0) if free else supplier.freight


def supplier_of(suppliers: Mapping[str, Supplier], name: str) -> Supplier:
    return suppliers.get(name) or Supplier(name)
