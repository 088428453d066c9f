"""The best value of a pattern on a stick with holes, in plain integers: for the proof, which trusts no solver.

Written apart from the optimiser's own tables; why it is right is said in cutplan.cutting.arrangement.holes.placing. A
rail cut on a hole or on a space takes whole pitches, and its part, what is over, says beside which others it stands one
pitch nearer.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.arrangement.protocol import PieceKind

States = dict[tuple[int, int], int]  # (pitches used, paths) -> the best value


@dataclass(frozen=True)
class Vertex:
    """A way of cutting a length, or an end of the stick (copies 0): its part, pitches, how many at most, its worth."""

    part: int
    pitches: int = 0
    copies: int = 0
    worth: int = 0


def best_on_holes(pitch: Fraction, first: Fraction, length: Fraction, trims: tuple[Fraction, Fraction],
                  kerf: Fraction, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                  turns: bool) -> int | None:
    """At least the best value over the ends that may be squared first; `first` is the first hole from the stick's end.

    `turns`: its other end may be squared first too.

    A length that may be cut on a hole and on a space is allowed as often as it is asked for in each of the two ways.
    None where the holes never cost anything.
    """
    if first > length:
        return 0
    numbers = [pitch, first, length, *trims, kerf, *(asked for asked, _ in duals)]
    unit = 2 * math.lcm(*(number.denominator for number in numbers))
    p, k, size = int(pitch * unit), int(kerf * unit), int(length * unit)
    head, tail = (int(trim * unit) for trim in trims)
    near = int(first * unit)
    plain = max(0, near - p)  # of the stick's own end, where the holes do not begin yet
    rails = [rail for asked, worth in duals.items() if worth
             for rail in ways(asked[1], int(asked[0] * unit) + k, p, demand[asked], worth)]
    ends = [
        (least - hole - k // 2, most + k - hole - k // 2)
        for hole, least, most in (
            (near, max(plain, head), size - tail),
            ((size - near) % p, head, min(size - tail, size - plain)),
        )[: 1 + turns]
    ]
    anywhere = plain <= head or (turns and plain <= tail)  # from one end the rails may lie wherever the trims allow it
    if anywhere and all(before % p == 0 for before, _ in ends) and all(
        any(rail.part == p for rail in ways(asked[1], int(asked[0] * unit) + k, p, 1, 0)) for asked in duals
    ):
        return None
    return max(best_from(p, before, most, rails) for before, most in ends)


def ways(centred: str, size: int, pitch: int, copies: int, worth: int) -> Iterator[Vertex]:
    """On a hole, on a space, or both; `size` is the length and a kerf, half of it on each side."""
    for word, shift in (("hole", 0), ("space", 1)):
        if centred in (word, "either"):
            reach = size // 2 + shift * (pitch // 2)
            whole = -(-reach // pitch) - 1
            yield Vertex(reach - whole * pitch, 2 * whole - shift + 1, copies, worth)


def best_from(pitch: int, before: int, most: int, rails: list[Vertex]) -> int:
    """From one end: rails lie between `before` and `most`, measured from half a kerf after the first hole."""
    skipped = -(-before // pitch) - 1
    room = most // pitch - skipped
    ends = [Vertex(before - skipped * pitch), Vertex(pitch - most % pitch)]
    order = sorted([*ends, *rails], key=lambda v: (abs(2 * v.part - pitch), 2 * v.part <= pitch))
    states: States = {(0, 0): 0}
    ends_seen = 0
    for vertex in order:
        small = 2 * vertex.part <= pitch
        if not vertex.copies:
            ends_seen += 1
            states = strongest(((x, max(c, 1) if small else c + 1), value) for (x, c), value in states.items())
            continue
        reached = latest = states
        for _ in range(vertex.copies):
            latest = strongest(
                ((x + vertex.pitches, then), value + vertex.worth) for (x, c), value in latest.items()
                if x + vertex.pitches <= room and (then := after(c, small, ends_seen == 2))
            )
            if not latest:
                break
            reached = strongest([*reached.items(), *latest.items()])
        states = reached
    return max((value for (x, c), value in states.items() if x + c - 1 <= room), default=0)


def after(paths: int, small: bool, closed: bool) -> int:
    """The fewest paths that cover one rail more."""
    if small:
        return max(1, paths - 1)
    return 3 if closed and paths == 1 else paths + 1


def strongest(found: Iterable[tuple[tuple[int, int], int]]) -> States:
    """The best value for each state."""
    best: States = {}
    for key, value in found:
        if value > best.get(key, -1):
            best[key] = value
    return best
