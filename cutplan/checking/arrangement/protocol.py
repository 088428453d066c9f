"""What the checks ask of a way of lying beside each other. Lengths in the file's unit."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Protocol

from cutplan.lengths import Ratio
from cutplan.lengths import exact_decimal as said
from cutplan.plans.records import Cut, Demand, ProfilePlan, Stick

Pulse = Callable[[], None]
EndTrims = tuple[Fraction, Fraction]
StickKind = tuple[Fraction, Fraction, bool, Fraction, EndTrims]  # length, price, new, first hole, trims
PieceKind = tuple[Fraction, str]  # length, and how it is asked to lie (see cutplan.ends)


class Twin(Protocol):
    """How the pieces of one profile's plan lie, for its audit and its proof."""

    def demand(self) -> Iterator[str]:
        """What is wrong with how pieces lie, against how they are asked to; each text begins with its place."""

    def cuts(self, stick: Stick, at: Fraction) -> Iterator[str]:
        """What is wrong with where the pieces of a stick lie, of which the first can begin `at`."""

    def tail_may_be(self, tail: Fraction) -> bool:
        """Whether so much may be lost at the other end of an offcut, though neither nothing nor the profile's trim."""

    def used(self, stick: Stick) -> Fraction:
        """How far a stick is used once its last piece is cut off, from the raw end."""

    def between(self, stick: Stick) -> Fraction:
        """What lies before and between the pieces of a stick, besides one kerf for each: scrap."""

    def wedges(self, stick: Stick) -> Fraction:
        """What of that is between unlike slopes."""

    def along_slopes(self, stick: Stick) -> Fraction:
        """What the saw takes of a stick along slopes more than it would square."""

    def first_cuts(self, stick: Stick) -> int:
        """Cuts that a stick needs before its pieces can be marked, where a new end is not as the next one asks."""

    def middle(self, entry: Demand) -> Fraction:
        """What a piece takes of a stick, beside any kerf."""

    def beside(self) -> str:
        """What counts beside the lengths of pieces and a kerf for each; "" for nothing."""

    def saw_setting(self, cut: Cut) -> tuple[Ratio, ...]:
        """What the saw is set to for a piece, whichever way it lies."""

    def best_on_kinds(self, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                      floors: Mapping[StickKind, int], step: Pulse) -> dict[StickKind, int]:
        """At least the best value of a pattern on a stick of each kind, or the kind's floor where that is more.

        `duals` say what a piece is worth; each is cut as often as the demand asks for it at most.
        """


class Steps:
    """Lengths as whole numbers of a step that all of them have in common: these add and compare much sooner."""

    def __init__(self, lengths: Iterable[Fraction]) -> None:
        self._to_one = math.lcm(*{length.denominator for length in lengths})

    @classmethod
    def of(cls, stick: Stick, *others: Fraction) -> Steps:
        """For where the pieces of a stick lie, and these."""
        return cls([*others, *(length for cut in stick.cuts for length in (cut.length, cut.start, cut.end))])

    def __call__(self, length: Fraction) -> int:
        top, bottom = length.as_integer_ratio()
        return top * (self._to_one // bottom)

    def back(self, number: int) -> Fraction:
        """The length of so many."""
        return Fraction(number, self._to_one)


def ends_right(c: int, cut: Cut, usable: int, steps: Steps) -> Iterator[str]:
    """A piece is as long as it says, and lies before the end of the `usable` stick."""
    end, right = steps(cut.end), steps(cut.start) + steps(cut.length)
    if end != right:
        yield f".cuts[{c}].end: {said(cut.end)}, but {said(steps.back(right))} would be right"
    if end > usable:
        yield f".cuts[{c}].end: {said(cut.end)} lies beyond {said(steps.back(usable))}, where the usable stick ends"


class SquareEnds:
    """What holds of a profile whose pieces all have square ends."""

    profile: ProfilePlan

    def square(self) -> Iterator[str]:
        """No piece is asked for, or cut, with an end that is not square."""
        for d, entry in enumerate(self.profile.demand):
            if entry.left_in or entry.right_in:
                yield f"demand[{d}].left_in: this profile has no face to cut an angle over"
        for s, stick in enumerate(self.profile.sticks):
            for c, cut in enumerate(stick.cuts):
                if cut.left_in or cut.right_in or cut.lies:
                    yield f"sticks[{s}].cuts[{c}].left_in: this profile has no face to cut an angle over"

    def wedges(self, stick: Stick) -> Fraction:
        return Fraction(0)

    def along_slopes(self, stick: Stick) -> Fraction:
        return Fraction(0)

    def first_cuts(self, stick: Stick) -> int:
        return 0

    def middle(self, entry: Demand) -> Fraction:
        return entry.length

    def saw_setting(self, cut: Cut) -> tuple[Ratio, ...]:
        return (cut.length.as_integer_ratio(),)
