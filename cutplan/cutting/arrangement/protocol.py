"""What a way of lying beside each other has to say for itself, so that every search can cut it.

Two objects for each: an `Arranger` reads a profile and its pieces in the shop's own lengths, and makes the
`Arrangement` of one instance, which knows whole units alone. No other module asks which arrangement it has.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Protocol

from cutplan.cutting.patterns import Counts, StickType
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.orders import Piece
from cutplan.problems import Problem
from cutplan.shop import Stock

# a piece's length, how it is asked to lie (as `Arranger.asks` says it), and how many belong together (1: none)
Asked = tuple[Fraction, str, int]


@dataclass(frozen=True)
class Use:
    """A stick type filled up to `capacity`, where each unit filled costs `slope`.

    Patterns worth less than `floor` do not interest (None: all do).
    """

    stick: int
    capacity: int
    slope: int = 0
    floor: int | None = None


class Priced(Protocol):
    """The patterns of one way of using a stick, by what they are worth."""

    def best(self) -> int:
        """The best value of any pattern, or more: a bound rests on it."""

    def may_beat(self, value: float) -> bool:
        """Whether `best` may be more than this, quickly told: where it is, it may be."""

    def patterns(self, above: float, many: int) -> list[Counts]:
        """Up to `many` patterns worth more than `above`, or one for each size where that is as quick; best first."""

    def above(self, least: int, most: int) -> list[Counts] | None:
        """Every pattern worth at least `least`; None where they are more than `most`."""


@dataclass(frozen=True)
class Lying:
    """A piece of size `size` in its place, in units from the raw end of the stick that is squared first.

    `said` is what the plan's cut says of it besides, by the names of `Cut`'s fields.
    """

    size: int
    start: int
    end: int
    said: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Placed:
    """The pieces of one stick in their order, up to `end`, where the last cut is done.

    `said` is what the plan's stick says besides, by the names of `Stick`'s fields.
    """

    pieces: tuple[Lying, ...]
    end: int
    said: dict[str, Any] = field(default_factory=dict)


class Arrangement(Protocol):
    """What the pieces of an instance take of a stick beside their neighbours. Instances go to other processes with it.

    What never fits alone must not fit with others; what fits, fits with fewer pieces too.
    """

    @property
    def additive(self) -> bool:
        """Whether a pattern fills the sum of its sizes, whatever they are and on whatever stick."""

    def fill(self, stick: StickType, counts: Counts) -> int:
        """How much of the stick's capacity these pieces take at least; more than any capacity where they cannot lie.

        Never less than the sum of their sizes.
        """

    def fits(self, stick: StickType, counts: Counts) -> bool:
        """Whether they can lie on the stick: `fill` is at most its capacity."""

    def place(self, stick: StickType, counts: Counts) -> Placed:
        """Where each of them is cut so that the stick is filled by `fill`; they fit."""

    def price(self, sticks: Sequence[StickType], uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool, large: set[int], params: TableParams) -> list[Priced]:
        """For each use its patterns, with each size at most as often as its bound.

        Sizes without a value are left out unless `every`. `large` is the instance's own, to remember capacities for
        which exact tables grew too large; `params` says how large that is.
        """

    def quickly(self) -> Arrangement:
        """The same, whose pricing takes less time and may overlook the best patterns: for searches that prove nothing.
        Itself where there is none such."""

    def smaller(self, i: int) -> int | None:
        """The next smaller size, which can be cut wherever size i can; None where there is none."""

    def exchanges(self) -> Iterator[tuple[int, tuple[int, ...]]]:
        """(i, others): all of `others` can be cut in the place of one piece of size i, wherever that can be."""


class Arranger(Protocol):
    """How the pieces of one profile lie beside each other, in the shop's own lengths."""

    def refuses(self, piece: Piece) -> Iterator[Problem]:
        """What is wrong with a piece of this profile, whatever the stock."""

    def asks(self, piece: Piece) -> str:
        """How a piece is asked to lie: what its demand says as `centred`."""

    def told(self, entry: Stock) -> dict[str, Fraction]:
        """What tells a stick from others of its length, price and trims: by the names that the plan file has for it,
        which are those of `Stick`'s fields. The same names for every entry."""

    def takes(self, asked: Asked) -> Fraction:
        """What such a piece takes of a stick at least, besides any kerf."""

    def reaches(self, asked: Asked) -> Fraction:
        """How long such a piece is from one end to the other, at its longest."""

    def called(self, asked: Asked) -> str:
        """Such a piece where it is said to be too long: its length, and how far it reaches where that is more."""

    def steps(self, asked: Sequence[Asked], stock: Sequence[Stock]) -> list[Fraction]:
        """All that must come to whole units besides lengths, kerf, trims and what offcuts are kept from."""

    def ends(self, entry: Stock, unit: Fraction) -> tuple[Any, ...]:
        """What `StickType.ends` is for such a stick."""

    def arrange(self, asked: Sequence[Asked], sizes: tuple[int, ...], kerf: int, unit: Fraction,
                sticks: Sequence[StickType]) -> Arrangement:
        """The arrangement of these pieces on these sticks, and on sticks with these sticks' ends."""

    def no_room(self, asked: Sequence[Asked]) -> str:
        """Why pieces have no place on any stick, though some are long enough for each."""
