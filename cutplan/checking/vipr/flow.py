"""All patterns of plain sticks as the paths of one graph: the arc-flow model (Valerio de Carvalho, Ann. Oper. Res. 86
(1999) 629-659), an arc for every number of pieces of one size.

The sizes are gone through from the longest to the shortest. A node says how much of a stick is filled when its size is
come to; fills that leave the same choices to what follows are one node (Brandao and Pedroso, Comput. Oper. Res. 69
(2016) 56-67). The last nodes are the sticks, by their room, and from each an arc leads on to the next longer one.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from cutplan.checking.arrangement.knapsack import halves

MOST_ARCS = 1_000_000  # a file of about a hundred megabytes
MOST_ROOM = 2_000_000  # bits of one set of fills


class TooLarge(Exception):
    """The graph has more arcs, or its sticks more steps, than can be written down."""


@dataclass(frozen=True)
class Arc:
    """`copies` pieces of one size (None: no piece, on to the next longer stick) from node to node."""

    tail: int
    head: int
    size: int | None
    copies: int

    def worth(self, values: Sequence[int]) -> int:
        """What its pieces are worth, by what a piece of each size is."""
        return 0 if self.size is None else self.copies * values[self.size]


@dataclass(frozen=True)
class ArcFlow:
    """The arcs, in an order in which every node comes after all that lead to it; node 0 is the empty stick.

    `ends` are the nodes of the rooms, from the shortest; `by_copies` finds an arc by its tail and its copies.
    """

    nodes: int
    arcs: tuple[Arc, ...]
    ends: dict[int, int]
    by_copies: dict[tuple[int, int], int]

    def worths(self, values: Sequence[int]) -> list[int]:
        """The most that a path to each node is worth, by what a piece of each size is."""
        best = [0] * self.nodes
        for arc in self.arcs:
            best[arc.head] = max(best[arc.head], best[arc.tail] + arc.worth(values))
        return best

    def path(self, copies: Sequence[int], room: int) -> Iterator[int]:
        """The arcs of a pattern on a stick of such room."""
        node = 0
        for number in copies:
            arc = self.by_copies[node, number]
            yield arc
            node = self.arcs[arc].head
        while node != self.ends[room]:
            arc = self.by_copies[node, 0]
            yield arc
            node = self.arcs[arc].head


def flow(widths: Sequence[int], demand: Sequence[int], rooms: Sequence[int], step: Callable[[], None]) -> ArcFlow:
    """The graph of sizes, from the longest, each cut at most as often as asked for, on sticks with these rooms.

    Raises TooLarge.
    """
    longest = max(rooms)
    if longest > MOST_ROOM:
        raise TooLarge
    stops = stops_of(widths, demand, rooms, step)
    here, nodes = {stops[0][0]: 0}, 1
    arcs: list[Arc] = []
    for size, (width, wanted) in enumerate(zip(widths, demand, strict=True)):
        after: dict[int, int] = {}
        for fill, tail in sorted(here.items()):
            step()
            for copies in range(min(wanted, (longest - fill) // width) + 1):
                stop = next_stop(stops[size + 1], fill + copies * width)
                head = after.setdefault(stop, nodes + len(after))
                arcs.append(Arc(tail, head, size, copies))
            if len(arcs) > MOST_ARCS:
                raise TooLarge
        nodes += len(after)
        here = after
    ends = {room: here.get(room, -1) for room in sorted(set(rooms))}
    for room in [room for room, node in ends.items() if node < 0]:
        ends[room] = nodes
        nodes += 1
    numbers = list(ends.values())
    arcs += [Arc(one, other, None, 0) for one, other in pairwise(numbers)]
    return ArcFlow(nodes, tuple(arcs), ends, {(arc.tail, arc.copies): k for k, arc in enumerate(arcs)})


def stops_of(widths: Sequence[int], demand: Sequence[int], rooms: Sequence[int],
             step: Callable[[], None]) -> list[list[int]]:
    """For each size the fills at which something changes: a room less what the sizes from it on can come to."""
    mask = (1 << (max(rooms) + 1)) - 1
    sums, found = 1, [sorted(set(rooms))]
    for width, wanted in zip(reversed(widths), reversed(demand), strict=True):
        for part in halves(wanted):
            step()
            sums |= (sums << (part * width)) & mask
        bits = bin(sums)[:1:-1]
        reached = [at for at, bit in enumerate(bits) if bit == "1"]
        found.append(sorted({room - at for room in set(rooms) for at in reached if at <= room}))
    return found[::-1]


def next_stop(stops: Sequence[int], fill: int) -> int:
    return stops[bisect_left(stops, fill)]
