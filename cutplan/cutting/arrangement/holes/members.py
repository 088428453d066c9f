"""Rails on their holes, as the searches meet them: where the holes cost length, and where they cost none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutplan.cutting.arrangement.holes.placing import Holes
from cutplan.cutting.arrangement.holes.pricing import chains
from cutplan.cutting.arrangement.plain import Plain
from cutplan.cutting.arrangement.protocol import Lying, Placed, Priced, Use
from cutplan.cutting.patterns import Counts, StickType
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.orders import EITHER

TOO_LONG = 2**40  # the fill of what does not fit
HOLE, SPACE = "hole", "space"


@dataclass(frozen=True)
class OnHoles:
    """Sizes w_1 > w_2 > ..., each a length and a kerf, and what the middle of each must fall on."""

    sizes: tuple[int, ...]
    centred: tuple[str, ...]
    holes: Holes

    @property
    def additive(self) -> bool:
        return False

    def fill(self, stick: StickType, counts: Counts) -> int:
        found = self.holes.place(stick.ends, counts)
        return TOO_LONG if found is None else found.fill

    def fits(self, stick: StickType, counts: Counts) -> bool:
        if sum(a * self.sizes[i] for i, a in counts) > stick.capacity:  # wherever the holes are
            return False
        return self.fill(stick, counts) <= stick.capacity

    def place(self, stick: StickType, counts: Counts) -> Placed:
        return on_holes(self.holes, self.sizes, stick, counts)

    def price(self, sticks: Sequence[StickType], uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool, large: set[int], params: TableParams) -> list[Priced]:
        ways = [(sticks[use.stick].ends, use.capacity, use.slope) for use in uses]
        return list(chains(self.holes, ways, bounds, values, every))

    def quickly(self) -> OnHoles:
        return self

    def smaller(self, i: int) -> int | None:
        alike = self.centred[i], EITHER
        return next((j for j in range(i + 1, len(self.sizes)) if self.centred[j] in alike), None)

    def exchanges(self) -> Iterator[tuple[int, tuple[int, ...]]]:
        for i in range(len(self.sizes)):
            if (other := self.smaller(i)) is not None:
                yield i, (other,)


@dataclass(frozen=True)
class Aligned(Plain):
    """Rails that take no more on their holes than they would without: only where they lie is different."""

    holes: Holes

    def place(self, stick: StickType, counts: Counts) -> Placed:
        return on_holes(self.holes, self.sizes, stick, counts)


def on_holes(holes: Holes, sizes: Sequence[int], stick: StickType, counts: Counts) -> Placed:
    """Each piece where its holes fall right, by the order that takes the least of the stick."""
    found = holes.place(stick.ends, counts)
    assert found is not None, "the pattern fits"
    pieces, then = [], stick.head
    for rail, hole in found.rails:
        then = stick.head + holes.fill(found.end, rail, hole)
        said = {"centred": SPACE if rail.on_space else HOLE}
        pieces.append(Lying(rail.size, then - sizes[rail.size], then - holes.kerf, said))
    return Placed(tuple(pieces), then, {"turned": found.end.turned})
