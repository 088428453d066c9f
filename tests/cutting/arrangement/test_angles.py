"""Broken if pieces with angled ends are not cut as cheaply as they can be, lie where the saw cannot cut them, or are
said to be proven when they are not.

What is held against the cutter here follows the two edges of the stick piece by piece, over every order and every way
of lying, and knows nothing of slopes, middles or shapes.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from decimal import ROUND_CEILING, Decimal, getcontext
from fractions import Fraction
from itertools import permutations, product

import pytest

from cutplan.checking.arrangement import arrangement_of
from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.cutting.arrangement.choosing import arranger_of
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan
from cutplan.shop import Profile
from tests.cutting.shops import profile, shop

getcontext().prec = 60
STEP = Fraction(1, 1024)
FACE = Fraction(2)
Pose = tuple[Fraction, Fraction, Fraction]  # top edge, left_in, right_in as it lies


def kerf_along(kerf: Fraction, set_in: Fraction) -> Fraction:
    """kerf x sqrt(1 + (m/face)^2), rounded up to 1/1024 in where irrational: by decimals, not by whole roots."""
    square = kerf * kerf * (1 + (set_in / FACE) ** 2)
    root = (Decimal(square.numerator) / Decimal(square.denominator)).sqrt()
    near = Fraction(root).limit_denominator(10**6)
    if near * near == square:
        return near
    return int((root / (Decimal(1) / 1024)).to_integral_value(ROUND_CEILING)) * STEP


def poses(length: Fraction, left: Fraction, right: Fraction, may_turn: str) -> Iterator[Pose]:
    """Each way of lying that is allowed, as the words of the rule have it."""
    bottom = length - left - right
    yield length, left, right
    if may_turn in ("ends", "both"):
        yield length, right, left
    if may_turn in ("over", "both"):
        yield bottom, -left, -right
    if may_turn == "both":
        yield bottom, -right, -left


def after(rail: Profile, top: Fraction, last: Fraction | None, pose: Pose) -> Fraction:
    """The end of the top edge of a piece laid after an end at `top` that is set in by `last` (None: after the trim)."""
    length, left, _ = pose
    if last is None:
        return max(top, top - left) + length
    kerf = kerf_along(rail.kerf, max(abs(last), abs(left)))
    return max(top + kerf, top - last + kerf - left) + length


def best_on_one_stick(rail: Profile, pieces: Sequence[Piece]) -> dict[int, tuple[Fraction, Fraction]]:
    """For each set of the pieces (a bit each) how far the further corner of the last lies, and with its kerf: the least
    of each over all orders and ways of lying."""
    turned = [tuple(poses(piece.length, piece.left_in, piece.right_in, rail.may_turn)) for piece in pieces]
    ending: list[dict[Fraction | None, Fraction]] = [{} for _ in range(1 << len(pieces))]
    ending[0][None] = rail.head_trim
    for those in range(1 << len(pieces)):
        for last, top in ending[those].items():
            for k, ways in enumerate(turned):
                if those >> k & 1:
                    continue
                for pose in ways:
                    end, further = after(rail, top, last, pose), ending[those | 1 << k]
                    further[pose[2]] = min(end, further.get(pose[2], end))
    return {those: (min(max(top, top - (last or 0)) for last, top in ends.items()),
                    min(max(top, top - (last or 0)) + kerf_along(rail.kerf, abs(last or Fraction(0)))
                        for last, top in ends.items()))
            for those, ends in enumerate(ending) if those}


def best_plan(rail: Profile, pieces: Sequence[Piece]) -> tuple[Fraction, Fraction] | None:
    """The least cost, and the least length used up at that cost; None where a piece fits no stick."""
    reach = best_on_one_stick(rail, pieces)
    alone: dict[int, list[tuple[Fraction, Fraction]]] = {}
    for those, (end, cut) in reach.items():
        for stick in rail.stock:
            if end > stick.length - rail.tail_trim:
                continue
            offcut = max(Fraction(0), stick.length - cut)
            kept = rail.keep_from is not None and offcut >= rail.keep_from
            alone.setdefault(those, []).append((stick.price, stick.length - offcut * kept))
    best: dict[int, tuple[Fraction, Fraction]] = {0: (Fraction(0), Fraction(0))}
    for those in range(1, 1 << len(pieces)):
        lowest, found = those & -those, []
        part = those
        while part:
            if part & lowest and part in alone and those ^ part in best:
                cost, used = best[those ^ part]
                found += [(cost + price, used + length) for price, length in alone[part]]
            part = (part - 1) & those
        if found:
            best[those] = min(found)
    return best.get((1 << len(pieces)) - 1)


def cut(rail: Profile, pieces: Sequence[Piece]) -> ProfilePlan:
    """The plan, which is sound and proves what it says."""
    found = cut_pieces(pieces, shop(rail)).profiles[0]
    assert audit(Plan("in", (found,))) == []
    assert not found.faults
    proved = prove(found)
    assert proved.ok, proved.line
    return found


def random_pieces(chance: random.Random, most: int, slopes: Sequence[Fraction]) -> list[Piece]:
    ends = [sign * slope for slope in slopes for sign in (1, -1)]
    return [Piece(f"P{k}", "rail", Fraction(chance.randint(24, 160), 4), 1, left_in=chance.choice(ends),
                  right_in=chance.choice(ends)) for k in range(chance.randint(1, most))]


def random_rail(chance: random.Random, may_turn: str) -> Profile:
    lengths = chance.sample(range(48, 120), 2)
    trims = chance.choice([0, Fraction(1, 2)]), chance.choice([0, Fraction(1, 4)])
    return profile([(lengths[0], chance.randint(3, 9), None), (lengths[1], chance.randint(3, 9), None)],
                   kerf=chance.choice(["1/8", "3/16", "0"]), head_trim=Fraction(trims[0]), tail_trim=Fraction(trims[1]),
                   keep_from=chance.choice([None, Fraction(12)]), face=FACE, may_turn=may_turn)


@pytest.mark.parametrize("may_turn", ["none", "ends", "over", "both"])
def test_the_least_a_stick_loses_by_trying_every_order(may_turn: str) -> None:
    """Up to four pieces, each order and way of lying written out: what the slow searches below rest on too."""
    chance = random.Random(1)
    for _ in range(25):
        rail, pieces = random_rail(chance, may_turn), random_pieces(chance, 4, [Fraction(0), Fraction(1), Fraction(2)])
        ends = []
        for order in permutations(pieces):
            for lying in product(*(tuple(poses(p.length, p.left_in, p.right_in, may_turn)) for p in order)):
                top, last = rail.head_trim, None
                for pose in lying:
                    top, last = after(rail, top, last, pose), pose[2]
                assert last is not None
                ends.append(max(top, top - last))
        every = (1 << len(pieces)) - 1
        assert best_on_one_stick(rail, pieces)[every][0] == min(ends)


@pytest.mark.parametrize("may_turn", ["none", "ends", "over", "both"])
def test_the_same_optimum_as_every_order_and_way_of_lying(may_turn: str) -> None:
    """Up to seven pieces, three slopes, two stick lengths: cost and length used up, fifty cases for each `may_turn`."""
    chance = random.Random(may_turn)
    kinds = [Fraction(0), Fraction(1), Fraction(3, 2), Fraction(61, 40), Fraction(2)]
    compared = 0
    while compared < 50:
        rail, pieces = random_rail(chance, may_turn), random_pieces(chance, 7, chance.sample(kinds, 3))
        best = best_plan(rail, pieces)
        if best is None:
            continue
        found = cut(rail, pieces)
        cost, used, _ = found.tiers
        assert (cost.value, used.value) == best, (rail, pieces)
        assert cost.bound <= best[0] and used.bound <= best[1]
        compared += 1
