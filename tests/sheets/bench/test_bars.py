"""If these fail, holes are drawn where a stick has none, or not where it has them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.sheets.bench.bars import hole_places
from cutplan.shop import Profile, Routing, Shop, Stock

F = Fraction


@pytest.mark.parametrize("turned", [False, True])
def test_no_hole_is_drawn_in_a_plain_end(turned: bool) -> None:
    """A stick of 96 with holes 4 apart from 17 on has twenty of them, 17 to 93, whichever end is squared first."""
    rail = Profile("rail", "rail", (Stock(F(96), F(9)),), F(1, 8), routing=Routing(F(4), F(17)))
    shop: Any = Shop("", "in", "", F(1, 8), None, 1, F(1, 16), {"rail": rail}, {})
    (made,) = cut_pieces([Piece("R", "rail", F(30), 1, centred="hole")], shop).profiles
    drawn = list(hole_places(made, replace(made.sticks[0], turned=turned)))
    assert len(drawn) == 20
