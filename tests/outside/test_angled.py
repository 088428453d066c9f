"""If these fail, angled ends are not where trigonometry has them, or frames and stair rails take more stock than they
need.

The values are arithmetic of the rule that the room of angles writes down; each can be done again with a pocket
calculator. 7 5/8 in 10 is an invented stair, whose slope is 0.7625 and whose secant is sqrt(1 + 0.7625^2) = 1.257540.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.ends import read_end
from cutplan.orders import Piece
from cutplan.plans.records import ProfilePlan
from cutplan.shop import Angles, Profile, Shop, Stock

F = Fraction
FACE, KERF, STAIR = F(2), F(1, 8), F(61, 80)


def plan_of(may_turn: str, pieces: list[Piece]) -> ProfilePlan:
    rail = Profile("rail", "rail", (Stock(F(240), F(1)),), KERF, face=FACE, may_turn=may_turn)
    plan = cut_pieces(pieces, Shop("", "in", "", KERF, None, 1, F(1, 16), {"rail": rail}, {}))
    assert audit(plan) == [] and prove(plan.profiles[0]).ok
    return plan.profiles[0]


def furthest(plan: ProfilePlan) -> float:
    last = plan.sticks[0].cuts[-1]
    return float(max(last.end, last.end - last.right_in))


def test_the_secant_of_the_stair() -> None:
    assert math.sqrt(1 + float(STAIR) ** 2) == pytest.approx(1.257540, abs=5e-7)


def test_a_plumb_cut_over_two_inches_sets_in_by_the_slope() -> None:
    """0.7625 x 2 = 1.525, exactly."""
    assert read_end("7 5/8:10", "in", FACE) == (F("1.525"), "")
    assert read_end("-7 5/8:10", "in", FACE) == (F("-1.525"), "")
    assert read_end("45 deg", "in", FACE) == (F(2), "")


def test_a_kerf_along_the_stair() -> None:
    """1/8 x 1.257539 = ~0.1572, never less and less than 1/1024 more; along 45 degrees 1/8 x sqrt 2 = ~0.17678."""
    angles = Angles(FACE, "none", F(1, 1024))
    for set_in, along in ((F("1.525"), 0.125 * 1.257539), (F(2), 0.125 * math.sqrt(2))):
        assert 0 <= float(angles.kerf_along(KERF, set_in)) - along + 1e-7 < 1 / 1024
    assert angles.kerf_along(KERF, F(0)) == KERF


def test_six_frame_sides_from_240_lie_alternately_upside_down() -> None:
    """38 x 6 + 2 + 5 x 0.17678 = ~230.88; lying alike six need 6 x 40 + 5 x 0.17678 = ~240.88, and five fit."""
    six = plan_of("over", [Piece("F", "rail", F(40), 6, left_in=FACE, right_in=FACE)])
    assert six.totals.drawn == 240 and furthest(six) == pytest.approx(230.88, abs=0.01)
    five = plan_of("none", [Piece("F", "rail", F(40), 5, left_in=FACE, right_in=FACE)])
    assert five.totals.drawn == 240 and furthest(five) == pytest.approx(5 * 40 + 4 * 0.17678, abs=0.01)
    assert plan_of("none", [Piece("F", "rail", F(40), 6, left_in=FACE, right_in=FACE)]).totals.drawn == 480


@pytest.mark.parametrize("may_turn", ["none", "both"])
def test_rails_of_one_stair_take_one_set_in_and_kerfs_along_it(may_turn: str) -> None:
    """Five rails of 45: 1.525 + 5 x 45 + 4 x 0.1572 = ~227.15; the wedge is lost half at each end of the stick."""
    rails = plan_of(may_turn, [Piece("S", "rail", F(45), 5, left_in=-STAIR * FACE, right_in=STAIR * FACE)])
    assert furthest(rails) == pytest.approx(1.525 + 5 * 45 + 4 * 0.1572, abs=0.005)
    assert rails.totals.wedges == F("1.525")
    assert float(rails.totals.slope_kerf) == pytest.approx(5 * (0.1572 - 0.125), abs=0.005)
