"""What a supplier asks for a length: by the bundle, no fewer than so many, cheaper in larger orders."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.shop import Stock


@dataclass(frozen=True)
class Terms:
    """The cheapest way to have so many more sticks of a length, with `there` on hand and `before` needed anyway.

    An order may be larger than what is missing: it is filled up to whole bundles, to the least order, or to a price
    break that makes more sticks cheaper than few. So the money for n more never falls as n grows, and stays the same up
    to as many as are there once the order has come.
    """

    stock: Stock
    there: int = 0
    before: int = 0

    def order(self, more: int) -> int:
        """How many to order in all so that `more` are there: of the cheapest orders the smallest."""
        missing = self.before + more - self.there
        if missing <= 0:
            return 0
        leasts = (0, *(least for least, _ in self.stock.breaks
                       if self.orderable is None or self.whole(least) <= self.orderable))
        return min((self.whole(max(missing, self.stock.min_order, least)) for least in leasts),
                   key=lambda n: (n * self.stock.each(n), n))

    def whole(self, sticks: int) -> int:
        """So many, filled up to whole bundles."""
        return -(-sticks // self.stock.bundle) * self.stock.bundle

    @property
    def orderable(self) -> int | None:
        """The largest order there can be (None: of any size): whole bundles, none where the minimum order is more."""
        if self.stock.qty is None:
            return None
        bundles = self.stock.qty // self.stock.bundle * self.stock.bundle
        return bundles if self.whole(self.stock.min_order) <= bundles else 0

    def money(self, more: int) -> Fraction:
        """What they add to the money of the whole order."""
        return self.whole_money(more) - self.whole_money(0)

    def whole_money(self, more: int) -> Fraction:
        ordered = self.order(more)
        return ordered * self.stock.each(ordered)

    def enough(self, more: int) -> int:
        """Up to how many more can be used for the money of `more`."""
        return max(more, self.there + self.order(more) - self.before)

    @property
    def most(self) -> int | None:
        """How many more there can be (None: any number)."""
        if self.stock.qty is None or self.orderable is None:
            return None
        return max(0, min(self.stock.qty, self.there + self.orderable) - self.before)

    @property
    def plain(self) -> bool:
        """Whether every stick is simply bought at one price."""
        return self.stock.bundle == 1 and self.stock.min_order <= 1 and not self.stock.breaks and not self.there
