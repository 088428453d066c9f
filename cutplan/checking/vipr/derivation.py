"""The rows of a proof file as they come: those of the program, and then what is derived of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.vipr.program import Program

Coefs = Sequence[tuple[int, Fraction | int]]  # (variable or row, how often)


@dataclass(frozen=True)
class Constraint:
    """coefs . x (sense) right; of a derived row also `because` of what. Senses are E, G and L: =, >= and <=."""

    sense: str
    right: Fraction | int
    coefs: Coefs
    because: str = ""

    def line(self, name: str) -> str:
        because = f" {{ {self.because} }} -1" if self.because else ""
        return f"{name} {self.sense} {self.right} {listed(self.coefs)}{because}\n"


@dataclass(frozen=True)
class ZLimit:
    """A limit of one z: the row that says so, and the number."""

    row: int
    number: int


Narrowed = Mapping[int, tuple[ZLimit, ZLimit]]  # what branches have narrowed: of a kind's z, at least and at most


class Derivation:
    """The rows of one profile's file. `last` is the number of the row that was derived last."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.given = list(constraints(program))
        self.derived: list[Constraint] = []
        self.first_node = len(program.sizes)
        self.first_most = self.first_node + program.flow.nodes - 1
        self.first_bound = self.first_most + len(program.kinds)
        self.prices = nonzero(enumerate(program.prices()))

    @property
    def last(self) -> int:
        return len(self.given) + len(self.derived) - 1

    def assume(self, k: int, sense: str, number: int) -> ZLimit:
        """One side of a branch on z_k."""
        return ZLimit(self._add(Constraint(sense, number, [(k, 1)], "asm")), number)

    def combine(self, coefs: Coefs, right: Fraction | int, parts: Coefs) -> int:
        """coefs . x >= right, a sum of rows (`parts`)."""
        return self._add(Constraint("G", right, coefs, "lin " + listed(nonzero(parts))))

    def round_up(self, coefs: Coefs, right: int, row: int) -> int:
        """A row of whole numbers with its right side rounded up."""
        return self._add(Constraint("G", right, coefs, f"rnd 1 {row} 1"))

    def limits(self, k: int, box: Narrowed) -> tuple[ZLimit, ZLimit]:
        """How often kind k is drawn in a box, at least and at most."""
        return box.get(k) or (ZLimit(self.first_bound + k, 0), ZLimit(self.first_most + k, self.program.most[k]))

    def branch(self, k: int, at: int, box: Narrowed, prove: Callable[[str, Narrowed], Fraction]) -> Fraction:
        """Derives what cost both sides prove, z_k <= at ("below") and z_k >= at + 1 ("above"); each by its last row."""
        low, high = self.limits(k, box)
        below = self.assume(k, "L", at)
        bound = prove("below", {**box, k: (low, min(high, below, key=number_of))})
        told = self.last
        above = self.assume(k, "G", at + 1)
        bound = min(bound, prove("above", {**box, k: (max(low, above, key=number_of), high)}))
        self._add(Constraint("G", bound, self.prices, f"uns {told} {below.row} {self.last} {above.row}"))
        return bound

    def _add(self, row: Constraint) -> int:
        self.derived.append(row)
        return self.last

    def given_lines(self) -> Iterator[str]:
        """The section of the program's rows; those from `first_most` on are limits of one variable."""
        yield f"CON {len(self.given)} {len(self.given) - self.first_most}\n"
        yield from (row.line(f"c{k}") for k, row in enumerate(self.given))

    def derived_lines(self) -> Iterator[str]:
        """The section of what is derived."""
        yield f"DER {len(self.derived)}\n"
        yield from (row.line(f"c{k}") for k, row in enumerate(self.derived, start=len(self.given)))


def constraints(program: Program) -> Iterator[Constraint]:
    """The rows of the program, in the order that `Derivation` counts them in."""
    kinds, arcs = len(program.kinds), program.flow.arcs
    of_size: list[list[tuple[int, int]]] = [[] for _ in program.sizes]
    at_node: list[list[tuple[int, int]]] = [[] for _ in range(program.flow.nodes)]
    for f, arc in enumerate(arcs, start=kinds):
        if arc.size is not None and arc.copies:
            of_size[arc.size].append((f, arc.copies))
        at_node[arc.tail].append((f, -1))
        at_node[arc.head].append((f, 1))
    for k, room in enumerate(program.rooms):
        at_node[program.flow.ends[room]].append((k, -1))
    yield from (Constraint("G", wanted, of_size[i]) for i, wanted in enumerate(program.demand))
    yield from (Constraint("E", 0, coefs) for coefs in at_node[1:])
    yield from (Constraint("L", most, [(k, 1)]) for k, most in enumerate(program.most))
    yield from (Constraint("G", 0, [(k, 1)]) for k in range(kinds + len(arcs)))


def number_of(limit: ZLimit) -> int:
    return limit.number


def nonzero(coefs: Iterable[tuple[int, Fraction | int]]) -> Coefs:
    return [(at, number) for at, number in coefs if number]


def listed(coefs: Coefs) -> str:
    return " ".join([str(len(coefs)), *(f"{at} {number}" for at, number in coefs)])
