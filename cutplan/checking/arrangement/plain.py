"""Pieces one after the other, a kerf between."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.arrangement.knapsack import Item, best_values
from cutplan.checking.arrangement.protocol import PieceKind, Pulse, SquareEnds, Steps, StickKind, ends_right
from cutplan.lengths import added
from cutplan.lengths import exact_decimal as said
from cutplan.plans.records import ProfilePlan, Stick


@dataclass(frozen=True)
class PlainTwin(SquareEnds):
    profile: ProfilePlan

    def demand(self) -> Iterator[str]:
        """Nothing is centred where there are no holes."""
        for d, entry in enumerate(self.profile.demand):
            if entry.centred:
                yield f"demand[{d}].centred: this profile has no holes to centre on"
        yield from self.square()

    def cuts(self, stick: Stick, at: Fraction) -> Iterator[str]:
        if stick.first is not None or stick.turned:
            yield ".first: this profile has no holes"
        end = stick.length - stick.tail_trim
        steps = Steps.of(stick, at, end, self.profile.kerf)
        ready, usable, kerf = steps(at), steps(end), steps(self.profile.kerf)
        for c, cut in enumerate(stick.cuts):
            if steps(cut.start) != ready:
                yield f".cuts[{c}].start: {said(cut.start)}, but {said(steps.back(ready))} would be right"
            if cut.centred:
                yield f".cuts[{c}].centred: this profile has no holes to centre on"
            yield from ends_right(c, cut, usable, steps)
            ready = steps(cut.end) + kerf

    def beside(self) -> str:
        return ""

    def tail_may_be(self, tail: Fraction) -> bool:
        return False

    def used(self, stick: Stick) -> Fraction:
        lengths = ((1, cut.length) for cut in stick.cuts)
        return added([(1, stick.head_trim), (len(stick.cuts), self.profile.kerf), *lengths])

    def between(self, stick: Stick) -> Fraction:
        return Fraction(0)

    def best_on_kinds(self, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                      floors: Mapping[StickKind, int], step: Pulse) -> dict[StickKind, int]:
        return best_of_sums(self.profile.kerf, duals, demand, floors, step)


def best_of_sums(kerf: Fraction, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                 floors: Mapping[StickKind, int], step: Pulse) -> dict[StickKind, int]:
    """The best values where all that counts is that lengths and kerfs add up to no more than the stick."""
    unit = math.lcm(*((piece + kerf).denominator for piece, _ in demand))
    rooms = {kind: math.floor((kind[0] - sum(kind[4]) + kerf) * unit) for kind in floors}
    least: dict[int, int] = {}
    for kind, room in rooms.items():
        least[room] = min(floors[kind], least.get(room, floors[kind]))
    items = [Item(int((asked[0] + kerf) * unit), duals.get(asked, 0), qty) for asked, qty in demand.items()]
    best_in = best_values(items, least, step)
    return {kind: best_in[room] for kind, room in rooms.items()}
