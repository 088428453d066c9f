"""Rails whose middle lies on a hole, or half a pitch further."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.arrangement.chains import best_on_holes
from cutplan.checking.arrangement.plain import best_of_sums
from cutplan.checking.arrangement.protocol import PieceKind, Pulse, SquareEnds, Steps, StickKind, ends_right
from cutplan.lengths import exact_decimal as said
from cutplan.plans.records import Cut, ProfilePlan, Stick
from cutplan.shop import Routing


@dataclass(frozen=True)
class OnHolesTwin(SquareEnds):
    profile: ProfilePlan
    routing: Routing

    def demand(self) -> Iterator[str]:
        """Each rail is centred as it was asked for."""
        yield from self.square()
        asked: Counter[tuple[str, Fraction, str]] = Counter()
        free: Counter[tuple[str, Fraction]] = Counter()
        for entry in self.profile.demand:
            if entry.centred == "either":
                free[entry.mark, entry.length] += entry.qty
            else:
                asked[entry.mark, entry.length, entry.centred] += entry.qty
        made: Counter[tuple[str, Fraction, str]] = Counter()
        for stick in self.profile.sticks:
            for cut in stick.cuts:
                made[cut.mark, cut.length, cut.centred] += stick.count
        for mark, length, centred in sorted(asked.keys() | made.keys()):
            there, wanted = made[mark, length, centred], asked[mark, length, centred]
            if there < wanted or there - wanted > free[mark, length]:
                yield (f"demand: {mark} of {said(length)}: {wanted} asked for centred on "
                       f"'{centred}', {there} are")

    def cuts(self, stick: Stick, at: Fraction) -> Iterator[str]:
        """Each after the one before, on its hole."""
        if stick.first is None:
            yield ".first: missing; how far the first hole is from the stick's end would be right"
        end = stick.length - stick.tail_trim
        steps = Steps.of(stick, end)
        for c, cut in enumerate(stick.cuts):
            if cut.start < at:
                yield (f".cuts[{c}].start: {said(cut.start)} is before {said(at)}, where the saw is done with what "
                       "comes before")
            if stick.first is not None:
                for text in self._on_its_hole(stick, stick.first, cut):
                    yield f".cuts[{c}].{text}"
            yield from ends_right(c, cut, steps(end), steps)
            at = cut.end + self.profile.kerf

    def _on_its_hole(self, stick: Stick, first_from_end: Fraction, cut: Cut) -> Iterator[str]:
        """The middle is on a hole, or half a pitch further, exactly; the rail reaches into no plain end."""
        pitch = self.routing.pitch
        away = ((cut.start + cut.end) / 2 - stick.first_from_squared(pitch)) % pitch
        right = {"hole": Fraction(0), "space": pitch / 2}
        if cut.centred not in right:
            yield 'centred: missing; "hole" or "space" would be right'
        elif away != right[cut.centred]:
            yield (f"start: the middle lies {said(away)} after a hole; {said(right[cut.centred])} would be right on a "
                   f"{cut.centred}")
        plain = first_from_end - pitch
        if plain > 0 and (cut.end > stick.length - plain if stick.turned else cut.start < plain):
            yield f"start: the rail reaches into the {said(plain)} of the stick that has no holes"

    def first_cuts(self, stick: Stick) -> int:
        ends = [stick.head_trim, *(cut.end + self.profile.kerf for cut in stick.cuts)]
        return sum(cut.start > end for cut, end in zip(stick.cuts, ends[:-1], strict=True))

    def beside(self) -> str:
        return "its pieces lie on holes"

    def tail_may_be(self, tail: Fraction) -> bool:
        """More is lost where holes lack."""
        return tail > self.profile.tail_trim

    def used(self, stick: Stick) -> Fraction:
        return stick.cuts[-1].end + self.profile.kerf

    def between(self, stick: Stick) -> Fraction:
        ready = [stick.head_trim, *(cut.end + self.profile.kerf for cut in stick.cuts)]
        return sum((cut.start - at for cut, at in zip(stick.cuts, ready, strict=False)), Fraction(0))

    def best_on_kinds(self, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                      floors: Mapping[StickKind, int], step: Pulse) -> dict[StickKind, int]:
        found: dict[StickKind, int] = {}
        for kind in floors:
            step()
            if (best := self._best(kind, duals, demand)) is not None:
                found[kind] = best
        rest = {kind: floor for kind, floor in floors.items() if kind not in found}
        return found | best_of_sums(self.profile.kerf, duals, demand, rest, step)

    def _best(self, kind: StickKind, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int]) -> int | None:
        """At least the best value on a stick with holes; None where these never cost anything."""
        profile, (length, _, _, first, trims) = self.profile, kind
        # an offcut with one sawn end has that squared first; with both sawn, as with none, either may be
        turns = trims == (profile.head_trim, profile.tail_trim) or (not any(trims) and profile.tail_trim > 0)
        return best_on_holes(self.routing.pitch, first, length, trims, profile.kerf, duals, demand, turns)
