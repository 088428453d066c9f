"""The best value of a pattern on a stick with holes, in plain integers: for the proof, which trusts no solver.

Written apart from the optimiser's own search: depth first, with a bound that forgets how often a rail was cut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

Asked = tuple[Fraction, str]  # length, and what the middle must fall on
NONE = -1


@dataclass(frozen=True)
class Way:
    """One way of cutting a length: what is asked, its worth, and its reach left and right of its hole.

    Both reaches have the same `part` beyond `left` and `right` whole pitches, 0 < part <= pitch.
    """

    asked: Asked
    worth: int
    left: int
    right: int
    part: int


def best_on_holes(pitch: Fraction, first: Fraction, length: Fraction, trims: tuple[Fraction, Fraction],
                  kerf: Fraction, duals: dict[Asked, int], demand: dict[Asked, int]) -> int:
    """The best value over both ends that may be squared first; `first` is the first hole from the stick's end."""
    if first > length:
        return 0
    numbers = [pitch, first, length, *trims, kerf, *(asked for asked, _ in duals)]
    unit = 2 * math.lcm(*(number.denominator for number in numbers))
    p, k, size = int(pitch * unit), int(kerf * unit), int(length * unit)
    head, tail = (int(trim * unit) for trim in trims)
    near = int(first * unit)
    far = (size - near) % p
    plain = max(0, near - p)  # of the stick's own end, where the holes do not begin yet
    found = 0
    for hole, least, most in ((near, max(plain, head), size - tail), (far, head, min(size - tail, size - plain))):
        ways = sorted((way for asked, worth in duals.items() if worth and asked in demand
                       for way in ways_of(asked, worth, int(asked[0] * unit) + k, p)), key=lambda way: way.part)
        found = max(found, Depth(p, k // 2, hole, least, most + k, ways, demand).best())
    return found


def ways_of(asked: Asked, worth: int, size: int, pitch: int) -> list[Way]:
    """On a hole, on a space, or both; `size` is the length with a kerf, half of it on each side."""
    found = []
    for word, shift in (("hole", 0), ("space", 1)):
        if asked[1] in (word, "either"):
            reach = size // 2 + shift * (pitch // 2)
            whole = -(-reach // pitch) - 1
            found.append(Way(asked, worth, whole - shift, whole, reach - whole * pitch))
    return found


class Depth:
    """Depth first from one end. `hole`, `least` and `most` are measured from the end squared first."""

    def __init__(self, pitch: int, half_kerf: int, hole: int, least: int, most: int, ways: list[Way],
                 demand: dict[Asked, int]) -> None:
        self.pitch, self.half_kerf, self.hole, self.least, self.most = pitch, half_kerf, hole, least, most
        self.ways, self.demand = ways, demand
        # for each way how many, in order of their part, can stand one hole nearer beside it than the others
        self.near = [sum(way.part + other.part <= pitch for other in ways) for way in ways]
        self.bounds: dict[int, list[int]] = {}
        self.value = 0
        self.seen: dict[tuple[int, frozenset[tuple[Asked, int]]], int] = {}

    def best(self) -> int:
        if not self.ways:
            return 0
        self._bound()
        starts = []
        for k, way in enumerate(self.ways):
            reach = way.left * self.pitch + way.part - self.half_kerf
            at = -((self.hole - self.least - reach) // self.pitch) + way.right
            if (rest := self._rest(k, at)) != NONE:
                starts.append((way.worth + rest, k, at))
        for bound, k, at in sorted(starts, reverse=True):
            self._descend(bound, k, at, self.ways[k].worth, {self.ways[k].asked: 1})
        return self.value

    def _fits(self, k: int, at: int) -> bool:
        """Whether a rail fits whose reach covers `at` whole pitches from the first hole."""
        return self.hole + at * self.pitch + self.ways[k].part + self.half_kerf <= self.most

    def _rest(self, k: int, at: int) -> int:
        """The most that can follow way k there; NONE where it does not fit itself."""
        return self.bounds[at][k] if at in self.bounds else NONE

    def _bound(self) -> None:
        """Backwards from the last place where any rail fits."""
        n = len(self.ways)
        last = (self.most - self.hole) // self.pitch + 1
        best: dict[int, list[int]] = {}  # of the ways up to each part, entering at a hole
        empty = [NONE] * n
        low = min(0, *(-((self.hole - self.least) // self.pitch) + way.left + way.right for way in self.ways)) - 1
        for at in range(last, low - 1, -1):
            one, two = best.get(at + 1, empty), best.get(at + 2, empty)
            self.bounds[at] = [
                max(0, two[n - 1], one[self.near[k] - 1] if self.near[k] else NONE) if self._fits(k, at) else NONE
                for k in range(n)
            ]
            entering, most = [], NONE
            for k, way in enumerate(self.ways):
                rest = self._rest(k, at + way.left + way.right)
                most = max(most, way.worth + rest if rest != NONE else NONE)
                entering.append(most)
            best[at] = entering

    def _descend(self, bound: int, last: int, at: int, worth: int, cut: dict[Asked, int]) -> None:
        if bound <= self.value or cut[self.ways[last].asked] > self.demand[self.ways[last].asked]:
            return
        key = last, frozenset(cut.items())
        if self.seen.get(key, at + 1) <= at:
            return
        self.seen[key] = at
        self.value = max(self.value, worth)
        further = []
        for k, way in enumerate(self.ways):
            there = at + way.left + way.right + (1 if k < self.near[last] else 2)
            if (rest := self._rest(k, there)) != NONE:
                further.append((worth + way.worth + rest, k, there))
        for more, k, there in sorted(further, reverse=True):
            if more <= self.value:
                break
            asked = self.ways[k].asked
            self._descend(more, k, there, worth + self.ways[k].worth, {**cut, asked: cut.get(asked, 0) + 1})
