"""The bound of one plain profile as a file in VIPR (Cheung, Gleixner and Steffy, IPCO 2017, LNCS 10328, 148-160).

The file holds an integer program, a plan that is one of its solutions, and a derivation of the bound. The program is
the flow of `flow.py`: f is how often an arc is used, z how many sticks of a kind are drawn.

    minimise sum_k price_k z_k
    for every size     sum of copies f over its arcs >= demand
    for every node     what comes in = what goes out, and to sticks z where it is the end of their room
    for every kind     0 <= z_k <= what there is;   f >= 0

With integer duals pi and v(node) the most that a path to it is worth, the rows times pi and -v and the slack of each
arc add up to sum_k v(end of k) z_k >= sum_i demand_i pi_i. That and the limits of z bound the cost, which branches on z
then round up to the next sum of prices. The boxes of the certificate are branches too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from cutplan.checking.arrangement import arrangement_of
from cutplan.checking.arrangement.protocol import StickKind
from cutplan.checking.cover import least_cover
from cutplan.checking.kinds import kind_of
from cutplan.checking.proof import next_sum
from cutplan.checking.vipr.covering import Covering
from cutplan.checking.vipr.derivation import Coefs, Derivation, Narrowed, ZLimit, listed, nonzero
from cutplan.checking.vipr.flow import TooLarge
from cutplan.checking.vipr.program import Program
from cutplan.checking.vipr.rounding import Rounding
from cutplan.lengths import exact_decimal
from cutplan.plans.records import ProfilePlan


@dataclass(frozen=True)
class ProofFile:
    """The file's text, and the bound on cost that it proves; `arcs` and `rows` say how large it is."""

    text: str
    bound: Fraction
    arcs: int
    rows: int


def why_not(profile: ProfilePlan) -> str:
    """Why no such file can be written of a profile; "" where one can, if it is not too large."""
    if profile.one_per_stick:
        return "its pieces are turned, one of each blank"
    return arrangement_of(profile).beside() or ("" if profile.sticks else "nothing is cut of it")


def write_proof(profile: ProfilePlan, step: Callable[[], None] = lambda: None) -> ProofFile:
    """The proof of a profile's bound on cost, of one about which `why_not` says nothing. Raises TooLarge."""
    program = Program.of(profile, step)
    proof = Proof(program, step)
    bound = proof.prove_all()
    return ProofFile("".join(text_of(proof.rows, bound)), bound, len(program.flow.arcs), len(proof.rows.derived))


class Proof:
    """Derives the rows that prove a certificate."""

    def __init__(self, program: Program, step: Callable[[], None]) -> None:
        self.program, self.step = program, step
        self.rows = Derivation(program)
        self._worth_rows: dict[tuple[int, ...], tuple[int, list[int]]] = {}  # many boxes have the same duals

    def prove_all(self) -> Fraction:
        """What no plan costs less than. A plan that draws more of one kind than the plan's cost would buy is none."""
        program = self.program
        bought = {k: int(program.cost // price) for k, price in enumerate(program.prices()) if price}
        return self._afford([(k, most) for k, most in bought.items() if most < program.most[k]], {})

    def _afford(self, bought: Sequence[tuple[int, int]], box: Narrowed) -> Fraction:
        if not bought:
            return self.prove(self.program.profile.certificate["tree"], box)
        (k, most), *others = bought
        return self.rows.branch(k, most, box, lambda side, narrowed: (
            self._afford(others, narrowed) if side == "below" else self._too_dear(k, narrowed)))

    def _too_dear(self, k: int, box: Narrowed) -> Fraction:
        low, price = self.rows.limits(k, box)[0], self.program.prices()[k]
        others = [(self.rows.first_bound + j, other) for j, other in enumerate(self.program.prices()) if j != k]
        self.rows.combine(self.rows.prices, low.number * price, [(low.row, price), *others])
        return low.number * price

    def prove(self, node: Mapping[str, Any], box: Narrowed) -> Fraction:
        """What a box of the certificate proves; its last row says so."""
        if "stick" not in node:
            return self._leaf(node, box)
        kind = kind_of(self.program.profile, node["stick"], node["stick"]["source"] == "new")
        return self.rows.branch(self.program.kinds.index(kind), int(node["at_most"]), box,
                                lambda side, narrowed: self.prove(node[side], narrowed))

    def _leaf(self, node: Mapping[str, Any], box: Narrowed) -> Fraction:
        """The best of what the duals prove and what the sticks cost that have to be drawn."""
        program = self.program
        limits = [self.rows.limits(k, box) for k in range(len(program.kinds))]
        for low, high in limits:
            if low.number > high.number:  # no plan at all is in this box
                self.rows.combine([], low.number - high.number, [(low.row, 1), (high.row, -1)])
                return program.cost
        worths = {Fraction(entry["length"]): int(entry["value"]) for entry in node["duals"]}
        values = tuple(worths.get(size, 0) for size in program.sizes)
        row, at_ends = self._worth_row(values)
        share = Fraction(program.profile.certificate["coin"]) / (int(node["scale"]) * program.coin)
        least, parts = self._in_coins(limits, share, at_ends)
        least += share * sum(wanted * value for wanted, value in zip(program.demand, values, strict=True))
        drawn, of_limits = self._in_coins(limits, Fraction(0), at_ends)
        if least < drawn:
            least, share, parts = drawn, Fraction(0), of_limits
        spans = {kind: (low.number, high.number) for kind, (low, high) in zip(program.kinds, limits, strict=True)}
        if node.get("cover") and (covered := self._covered(row, at_ends, values, spans, box)) is not None:
            return covered
        told = self.rows.combine(nonzero(enumerate(program.coins())), least, [(row, share), *parts])
        return self._rounded_up(told, least, next_sum(spans, least * program.coin, program.cost, self.step), box)

    def _covered(self, row: int, at_ends: Sequence[int], values: Sequence[int],
                 spans: Mapping[StickKind, tuple[int, int]], box: Narrowed) -> Fraction | None:
        """What the cheapest numbers of sticks cost that are worth enough; None where that takes too many branches."""
        program = self.program
        need = sum(wanted * value for wanted, value in zip(program.demand, values, strict=True))
        aim = least_cover(spans, dict(zip(program.kinds, at_ends, strict=True)), need, program.coin, program.cost,
                          self.step)
        before = len(self.rows.derived)
        try:
            return Covering(self.rows, self.step, row, at_ends, need, int(aim / program.coin)).prove(box)
        except TooLarge:
            del self.rows.derived[before:]
            return None

    def _rounded_up(self, told: int, least: Fraction, aim: Fraction, box: Narrowed) -> Fraction:
        """The next sum of prices above a bound in coins; where that takes too many branches, the next coin."""
        before = len(self.rows.derived)
        try:
            return Rounding(self.rows, self.step, told, least, aim / self.program.coin).prove(box)
        except TooLarge:
            del self.rows.derived[before:]
            return Rounding(self.rows, self.step, told, least, Fraction(math.ceil(least))).prove(box)

    def _in_coins(self, limits: Sequence[tuple[ZLimit, ZLimit]], share: Fraction,
                  at_ends: Sequence[int]) -> tuple[Fraction, Coefs]:
        """What limits of z make of the coins that a share of the worths leaves, and those limits with how often."""
        least, parts = Fraction(0), []
        for (low, high), price, worth in zip(limits, self.program.coins(), at_ends, strict=True):
            left = price - share * worth
            limit = low if left >= 0 else high
            least += left * limit.number
            parts.append((limit.row, left))
        return least, parts

    def _worth_row(self, values: tuple[int, ...]) -> tuple[int, list[int]]:
        """The row sum_k v(end of k) z_k >= sum_i demand_i pi_i, and its coefficients."""
        if (known := self._worth_rows.get(values)) is not None:
            return known
        self.step()
        program, rows = self.program, self.rows
        best = program.flow.worths(values)
        parts: list[tuple[int, int]] = list(enumerate(values))
        parts += [(rows.first_node + node - 1, -best[node]) for node in range(1, program.flow.nodes)]
        for at, arc in enumerate(program.flow.arcs, start=rows.first_bound + len(program.kinds)):
            parts.append((at, best[arc.head] - best[arc.tail] - arc.worth(values)))
        at_ends = [best[program.flow.ends[room]] for room in program.rooms]
        total = sum(wanted * value for wanted, value in zip(program.demand, values, strict=True))
        found = self._worth_rows[values] = rows.combine(nonzero(enumerate(at_ends)), total, parts), at_ends
        return found


def text_of(rows: Derivation, bound: Fraction) -> Iterator[str]:
    """The whole file, a line after the other."""
    program = rows.program
    for k, kind in enumerate(program.kinds):
        source, most = "new" if kind[2] else "from the rack", program.most[k]
        yield f"% z{k} sticks of {exact_decimal(kind[0])}, {source}, at {exact_decimal(kind[1])}, at most {most}\n"
    for i, size in enumerate(program.sizes):
        yield f"% c{i} says that {program.demand[i]} pieces of {exact_decimal(size)} are cut\n"
    names = [f"z{k}" for k in range(len(program.kinds))] + [f"f{k}" for k in range(len(program.flow.arcs))]
    yield f"VER 1.0\nVAR {len(names)}\n{' '.join(names)}\n"
    yield f"INT {len(names)}\n{' '.join(map(str, range(len(names))))}\n"
    yield f"OBJ min\n{listed(rows.prices)}\n"
    yield from rows.given_lines()
    yield f"RTP range {bound} {program.cost}\nSOL 1\nplan {listed(program.solution())}\n"
    yield from rows.derived_lines()
