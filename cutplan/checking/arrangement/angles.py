"""Pieces whose ends are not square, by the rule as it is written: both edges of each begin a kerf along the slope after
the one before, and both lie within the trims."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from cutplan.checking.arrangement.leaning import Leaning, LeaningShape, best_leaning
from cutplan.checking.arrangement.protocol import PieceKind, Pulse, StickKind
from cutplan.ends import Ends, ends_in
from cutplan.lengths import Ratio
from cutplan.lengths import exact_decimal as said
from cutplan.plans.records import Cut, Demand, ProfilePlan, Stick
from cutplan.shop import Angles

ALLOWED = {"none": ("as is",), "ends": ("as is", "ends"), "over": ("as is", "over"),
           "both": ("as is", "ends", "over", "both")}


@dataclass(frozen=True)
class AngledTwin:
    profile: ProfilePlan
    angles: Angles

    def demand(self) -> Iterator[str]:
        """Each piece has the ends it was asked for, and lies as it may."""
        asked: Counter[tuple[str, Fraction, Fraction, Fraction]] = Counter()
        for d, entry in enumerate(self.profile.demand):
            asked[entry.mark, entry.length, entry.left_in, entry.right_in] += entry.qty
            if entry.centred:
                yield f"demand[{d}].centred: this profile has no holes to centre on"
            if entry.length <= 0 or entry.length - entry.left_in - entry.right_in <= 0:
                yield f"demand[{d}].left_in: its ends leave no bottom edge"
        made: Counter[tuple[str, Fraction, Fraction, Fraction]] = Counter()
        for s, stick in enumerate(self.profile.sticks):
            for c, cut in enumerate(stick.cuts):
                made[cut.mark, cut.length, *turned_back(cut)] += stick.count
                square = cut.left_in == cut.right_in == 0
                if cut.lies not in ALLOWED[self.angles.may_turn] and not (square and not cut.lies):
                    may = " or ".join(ALLOWED[self.angles.may_turn])
                    yield f"sticks[{s}].cuts[{c}].lies: {cut.lies or 'missing'}, but {may} would be right"
        for mark, length, left, right in sorted(asked.keys() | made.keys()):
            want, there = asked[mark, length, left, right], made[mark, length, left, right]
            if want != there:
                yield (f"demand: {mark} of {said(length)}, its ends set in {said(left)} and {said(right)}: "
                       f"{want} asked for, {there} cut")

    def cuts(self, stick: Stick, at: Fraction) -> Iterator[str]:
        """Each as near to the one before as both edges allow; it is as long as it says, and within the trims."""
        if stick.first is not None or stick.turned:
            yield ".first: this profile has no holes"
        usable = stick.length - stick.tail_trim
        top = bottom = at
        before: Fraction | None = None
        for c, cut in enumerate(stick.cuts):
            kerf = Fraction(0) if before is None else self.kerf(max(abs(before), abs(cut.left_in)))
            right = max(top + kerf, bottom + kerf - cut.left_in)
            if cut.start != right:
                yield f".cuts[{c}].start: {said(cut.start)}, but {said(right)} would be right"
            if cut.centred:
                yield f".cuts[{c}].centred: this profile has no holes to centre on"
            as_asked = cut.length if cut.lies not in ("over", "both") else cut.length - sum(turned_back(cut))
            if cut.end != cut.start + as_asked:
                yield f".cuts[{c}].end: {said(cut.end)}, but {said(cut.start + as_asked)} would be right"
            top, bottom, before = cut.end, cut.end - cut.right_in, cut.right_in
            if max(top, bottom) > usable:
                yield (f".cuts[{c}].end: {said(max(top, bottom))}, the further corner, lies beyond {said(usable)}, "
                       "where the usable stick ends")

    def kerf(self, set_in: Fraction) -> Fraction:
        """What the saw takes along a piece, where its cut is set in so far; rounded up where it has no exact root."""
        across = self.profile.kerf / self.angles.face
        square = across * across * (self.angles.face * self.angles.face + set_in * set_in)
        top, bottom = math.isqrt(square.numerator), math.isqrt(square.denominator)
        if top * top == square.numerator and bottom * bottom == square.denominator:
            return Fraction(top, bottom)
        steps = math.isqrt(math.floor(square / (self.angles.step * self.angles.step)))
        return (steps + 1) * self.angles.step if (steps * self.angles.step) ** 2 < square else steps * self.angles.step

    def beside(self) -> str:
        return "its pieces have angled ends"

    def tail_may_be(self, tail: Fraction) -> bool:
        return False

    def used(self, stick: Stick) -> Fraction:
        """Up to the further corner of the last piece, and the kerf along its slope."""
        last = stick.cuts[-1]
        return max(last.end, last.end - last.right_in) + self.kerf(abs(last.right_in))

    def between(self, stick: Stick) -> Fraction:
        """Halfway up the face, what lies between unlike ends besides the kerf, and before and after square ones."""
        at, total = stick.head_trim, Fraction(0)
        before: Fraction | None = None
        for cut in stick.cuts:
            kerf = Fraction(0) if before is None else self.kerf(max(abs(before), abs(cut.left_in)))
            total += cut.start + cut.left_in / 2 - at - kerf
            at, before = cut.end - cut.right_in / 2, cut.right_in
        return total + abs(before or Fraction(0)) / 2

    def wedges(self, stick: Stick) -> Fraction:
        return self.between(stick)

    def first_cuts(self, stick: Stick) -> int:
        """Wherever the slope that a cut leaves is not the next one's; the first end is square."""
        before, again = Fraction(0), 0
        for cut in stick.cuts:
            again += cut.left_in != before
            before = -cut.right_in
        return again

    def along_slopes(self, stick: Stick) -> Fraction:
        """Cut by cut, each by the steeper of the two ends that it parts; the last as far as its stick reaches."""
        square = self.profile.kerf
        total = sum((self.kerf(max(abs(one.right_in), abs(other.left_in))) - square
                     for one, other in pairwise(stick.cuts)), Fraction(0))
        last = stick.cuts[-1]
        ends = stick.length - (0 if stick.keep else stick.tail_trim)
        behind = ends - max(last.end, last.end - last.right_in)
        return total + min(behind, self.kerf(abs(last.right_in))) - min(behind, square)

    def middle(self, entry: Demand) -> Fraction:
        return (entry.length + entry.length - entry.left_in - entry.right_in) / 2

    def saw_setting(self, cut: Cut) -> tuple[Ratio, ...]:
        return tuple(number.as_integer_ratio() for number in (cut.length, *turned_back(cut)))

    @cached_property
    def unit(self) -> int:
        """Parts of a length of one, so that every size, half a set-in and kerf is a whole number of them."""
        numbers = [self.profile.kerf]
        for entry in self.profile.demand:
            numbers += [entry.length, entry.left_in / 2, entry.right_in / 2,
                        self.kerf(abs(entry.left_in)) / 2, self.kerf(abs(entry.right_in)) / 2]
        return math.lcm(*(number.denominator for number in numbers))

    def best_on_kinds(self, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                      floors: Mapping[StickKind, int], step: Pulse) -> dict[StickKind, int]:
        unit = self.unit
        shapes: dict[tuple[int, int], LeaningShape] = {}
        pieces = []
        for (length, lies), qty in demand.items():
            left, right = ends_in(lies)
            ends = int(left * unit), int(right * unit)
            shape = shapes.setdefault(ends, LeaningShape(len(shapes), self.ways(*ends)))
            middle = int((length - (left + right) / 2) * unit)
            pieces.append(Leaning(middle, duals.get((length, lies), 0), qty, shape))
        kerfs = {abs(end): int(self.kerf(Fraction(abs(end), unit)) * unit) for ends in shapes for end in ends}
        kerfs[0] = int(self.profile.kerf * unit)
        rooms = {kind: math.floor((kind[0] - sum(kind[4])) * unit) for kind in floors}
        least: dict[int, int] = {}
        for kind, room in rooms.items():
            least[room] = min(floors[kind], least.get(room, floors[kind]))
        best = best_leaning(pieces, list(shapes.values()), kerfs, least, step)
        return {kind: best[room] for kind, room in rooms.items()}

    def ways(self, left: int, right: int) -> tuple[tuple[int, int], ...]:
        """What the ends are set in, in each way that such a piece may lie."""
        turn = self.angles.may_turn
        ways = {(left, right)}
        if turn in ("ends", "both"):
            ways |= {(b, a) for a, b in ways}
        if turn in ("over", "both"):
            ways |= {(-a, -b) for a, b in ways}
        return tuple(sorted(ways))


def turned_back(cut: Cut) -> Ends:
    """What its ends are set in as it was asked for."""
    ends = cut.left_in, cut.right_in
    if cut.lies in ("ends", "both"):
        ends = ends[1], ends[0]
    if cut.lies in ("over", "both"):
        ends = -ends[0], -ends[1]
    return ends
