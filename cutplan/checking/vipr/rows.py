"""The rows of a proof file as they come: those of the program, and then what is derived of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.vipr.model import Model

Coefs = Sequence[tuple[int, Fraction | int]]  # (variable or row, how often)


@dataclass(frozen=True)
class Row:
    """coefs . x (sense) right; of a derived row also `because` of what. Senses are E, G and L: =, >= and <=."""

    sense: str
    right: Fraction | int
    coefs: Coefs
    because: str = ""

    def line(self, name: str) -> str:
        because = f" {{ {self.because} }} -1" if self.because else ""
        return f"{name} {self.sense} {self.right} {listed(self.coefs)}{because}\n"


@dataclass(frozen=True)
class Limit:
    """A limit of one z: the row that says so, and the number."""

    row: int
    number: int


Box = Mapping[int, tuple[Limit, Limit]]  # what branches have narrowed: of a kind's z, at least and at most


class Rows:
    """The rows of one profile's file. `last` is the number of the row that was derived last."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.given = list(program(model))
        self.derived: list[Row] = []
        self.first_node = len(model.sizes)
        self.first_most = self.first_node + model.flow.nodes - 1
        self.first_bound = self.first_most + len(model.kinds)
        self.prices = nonzero(enumerate(model.prices()))

    @property
    def last(self) -> int:
        return len(self.given) + len(self.derived) - 1

    def assume(self, k: int, sense: str, number: int) -> Limit:
        """One side of a branch on z_k."""
        return Limit(self._add(Row(sense, number, [(k, 1)], "asm")), number)

    def combine(self, coefs: Coefs, right: Fraction | int, parts: Coefs) -> int:
        """coefs . x >= right, a sum of rows (`parts`)."""
        return self._add(Row("G", right, coefs, "lin " + listed(nonzero(parts))))

    def round_up(self, coefs: Coefs, right: int, row: int) -> int:
        """A row of whole numbers with its right side rounded up."""
        return self._add(Row("G", right, coefs, f"rnd 1 {row} 1"))

    def limits(self, k: int, box: Box) -> tuple[Limit, Limit]:
        """How often kind k is drawn in a box, at least and at most."""
        return box.get(k) or (Limit(self.first_bound + k, 0), Limit(self.first_most + k, self.model.most[k]))

    def branch(self, k: int, at: int, box: Box, prove: Callable[[str, Box], Fraction]) -> Fraction:
        """Derives what cost both sides prove, z_k <= at ("below") and z_k >= at + 1 ("above"); each by its last row."""
        low, high = self.limits(k, box)
        below = self.assume(k, "L", at)
        bound = prove("below", {**box, k: (low, min(high, below, key=number_of))})
        told = self.last
        above = self.assume(k, "G", at + 1)
        bound = min(bound, prove("above", {**box, k: (max(low, above, key=number_of), high)}))
        self._add(Row("G", bound, self.prices, f"uns {told} {below.row} {self.last} {above.row}"))
        return bound

    def _add(self, row: Row) -> int:
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


def program(model: Model) -> Iterator[Row]:
    """The rows of the program, in the order that `Rows` counts them in."""
    kinds, arcs = len(model.kinds), model.flow.arcs
    of_size: list[list[tuple[int, int]]] = [[] for _ in model.sizes]
    at_node: list[list[tuple[int, int]]] = [[] for _ in range(model.flow.nodes)]
    for f, arc in enumerate(arcs, start=kinds):
        if arc.size is not None and arc.copies:
            of_size[arc.size].append((f, arc.copies))
        at_node[arc.tail].append((f, -1))
        at_node[arc.head].append((f, 1))
    for k, room in enumerate(model.rooms):
        at_node[model.flow.ends[room]].append((k, -1))
    yield from (Row("G", wanted, of_size[i]) for i, wanted in enumerate(model.demand))
    yield from (Row("E", 0, coefs) for coefs in at_node[1:])
    yield from (Row("L", most, [(k, 1)]) for k, most in enumerate(model.most))
    yield from (Row("G", 0, [(k, 1)]) for k in range(kinds + len(arcs)))


def number_of(limit: Limit) -> int:
    return limit.number


def nonzero(coefs: Iterable[tuple[int, Fraction | int]]) -> Coefs:
    return [(at, number) for at, number in coefs if number]


def listed(coefs: Coefs) -> str:
    return " ".join([str(len(coefs)), *(f"{at} {number}" for at, number in coefs)])
