"""If this fails, an offcut with one sawn end lies the way round that loses more, and a plan claims that nothing better
is possible."""

from __future__ import annotations

import random
from fractions import Fraction as F

import pytest

from cutplan.checking.audit import audit
from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.shop import Profile, Shop, Stock
from tests.sweeps import sweep


def used_up(length: F, pieces: list[F], kerf: F, trims: tuple[F, F], keep_from: F) -> F | None:
    """By hand, of one offcut: the least that it uses up with its sawn end first, or last; None where all do not fit."""
    found = []
    for head, tail in ((F(0), trims[1]), (trims[0], F(0))):
        end = head + sum(pieces, F(0)) + kerf * (len(pieces) - 1)
        left = max(F(0), length - end - kerf)
        if left >= keep_from:
            found.append(length - left)
        elif end <= length - tail:
            found.append(length)
    return min(found, default=None)


@pytest.mark.parametrize("seed", sweep(24, 400))
def test_the_way_round_that_uses_up_less(seed: int) -> None:
    chance = random.Random(seed)
    kerf, trims = F(chance.randint(0, 2), 8), (F(chance.randint(0, 6), 8), F(chance.randint(0, 6), 8))
    keep_from = F(chance.randint(8, 80), 2)  # no shorter than a trim: see Profile.sawn_last
    profile = Profile("p", "rail", (), kerf, trims[0], trims[1], keep_from)
    offcut = profile.offcut("AAA", F(chance.randint(320, 640), 8), sawn=1)
    stock = (offcut, Stock(F(200), F(50)))
    pieces = [F(chance.randint(60, 330), 8) for _ in range(chance.randint(1, 2))]
    if chance.random() < 0.5:  # to the very end, or nearly
        pieces = [offcut.length - kerf * (chance.random() < 0.5) - chance.choice((F(0), *trims, F(1, 8), keep_from))]
    if min(pieces) <= 0:
        return
    made = Profile("p", "rail", stock, kerf, trims[0], trims[1], keep_from)
    shop = Shop("", "in", "", kerf, None, 1, F(1, 16), {"p": made}, {})
    (plan,) = (whole := cut_pieces([Piece(f"P{k}", "p", length, 1) for k, length in enumerate(pieces)], shop)).profiles
    assert not audit(whole)
    least = used_up(offcut.length, pieces, kerf, trims, keep_from)
    assert (plan.totals.cost == 0) == (least is not None)
    if least is not None:
        assert plan.totals.drawn - plan.totals.kept == least
