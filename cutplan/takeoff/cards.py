"""The layout card: what a person needs to build and hang one line of the week."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.takeoff.assembly import Outline, Part, of_kind
from cutplan.takeoff.hanging import Hanging
from cutplan.takeoff.hardware import Fitting
from cutplan.takeoff.pickets import PicketLayout


@dataclass(frozen=True)
class Extra:
    """Pieces listed for this gate or bay beside those that the takeoff makes of it, and what their ends are set in."""

    mark: str
    profile: str
    length: Fraction
    qty: int
    left_in: Fraction = Fraction(0)
    right_in: Fraction = Fraction(0)


@dataclass(frozen=True)
class Card:
    """One line of the week: `qty` gates or bays alike. Lengths in the file's unit, heights from the finished ground.

    parts:    all that one gate or bay is made of, each placed; what else is said is read off them
    squared:  of each leaf or of the bay the four corners between which the diagonals go: over the uprights of a leaf,
              over the outer edges of a bay's rails
    layout:   where the pickets stand
    hidden:   how much of each rail end an upright or a post hides
    posts:    how deep a post is for the rail's end, beside a bay (0: a gate)
    seat:     how deep each picket goes into its rails; below zero: by so much it is short of them
    turned:   whether the picket is, and so trimmed by half at each end
    hanging:  of a gate
    hardware: what is screwed on one gate or bay
    remarks:  the other columns of the week, as they are
    assembly: how it is put together where the shop file says so
    cautions, movement, reminders: sentences of the work, of what the weather does to the rails, and of codes
    centrings: what a routed rail's middle may fall on in a layout that will do; none for plain rails
    plugs:    the holes of all its rails that stay empty and show, in part or whole
    holed:    the rails that have holes, "top rail" and so on; none said: all, where the layout has a pitch
    max_gap:  the system's, which the pitch of the holes may exceed
    rake:     how much the rails of a bay or run rise to the right for each unit of their run
    """

    mark: str
    kind: str
    system: str
    qty: int
    opening: Fraction
    height: Fraction
    opening_bottom: Fraction | None
    parts: tuple[Part, ...]
    squared: tuple[Outline, ...]
    layout: PicketLayout
    hidden: Fraction
    posts: Fraction
    seat: Fraction
    turned: bool
    max_gap: Fraction
    hanging: Hanging | None = None
    hardware: tuple[Fitting, ...] = ()
    remarks: tuple[tuple[str, str], ...] = ()
    extra: tuple[Extra, ...] = ()
    assembly: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    movement: tuple[str, ...] = ()
    reminders: tuple[str, ...] = ()
    centrings: tuple[str, ...] = field(default=())
    plugs: int = 0
    holed: tuple[str, ...] = ()
    rake: Fraction = Fraction(0)

    def of(self, *names: str, leaf: int | None = None) -> list[Part]:
        """The parts of these names, of one leaf or of all (None)."""
        return of_kind(self.parts, *names, leaf=leaf)

    @property
    def first(self) -> int:
        """The number of its first leaf or bay, which stands for all."""
        return min(part.leaf for part in self.of("top rail"))

    @property
    def leaves(self) -> int:
        return len(self.squared) if self.kind == "gate" else 0
