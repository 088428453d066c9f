"""What a search that decides comes back with."""

from __future__ import annotations

from dataclasses import dataclass, field

from cutplan.cutting.patterns import Counts, Solution

Pair = tuple[int, int]


@dataclass(frozen=True)
class Refuted:
    """Whole multipliers by which the pieces of a node need more sticks than there are.

    `worths` of its pieces in their order, and of its subset rows the weights and the dual: so many sticks of the most
    that a pattern is worth by them come to less than all pieces and rows do.
    """

    worths: tuple[int, ...]
    rows: tuple[tuple[Counts, int], ...]


@dataclass(frozen=True)
class PairProof:
    """Why `sticks` sticks are not enough: the nodes of a tree, each before what it was split into.

    A pair (i, j) of the node's pieces is followed by the half in which the two are glued, then by the half in which
    they are kept apart.
    """

    sticks: int
    nodes: tuple[Pair | Refuted, ...]


@dataclass(frozen=True)
class Verdict:
    """A plan as good as was asked for, or None; then `proven` says whether there is none, and `proof` why, if known."""

    plan: Solution | None
    proven: bool
    proof: PairProof | None = field(default=None, compare=False)
