"""If these fail, an offcut with a sloped end is taken for one with a square end, so that the next piece comes out short
at one edge; or nobody knows at the rack over which face a piece was angled."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.checking.audit import audit
from cutplan.orders import Piece
from cutplan.planning import recutting
from cutplan.rack import booking, claims, rules, shelf
from cutplan.rack.store import changing, reading
from cutplan.rack.supply import supply
from cutplan.sheets.rack import shelf_csv, shelf_text
from tests.rack.workshop import RAIL, SHOP, plan_of

F = Fraction
SLOPED = replace(RAIL, face=F(2), may_turn="both", tail_trim=F(1, 4))
SLOPED_SHOP = replace(SHOP, profiles={"rail": SLOPED})
ANGLED = Piece("A", "rail", F(50), 1, left_in=F(-61, 40), right_in=F(61, 40))


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    """A rack with what a stick of 96 has left behind a rail that is angled at both ends."""
    path = tmp_path / "rack.db"
    with changing(path, "in"):
        pass
    plan = plan_of(path, [ANGLED], SLOPED_SHOP)
    with changing(path) as open_rack:
        booking.book(open_rack, claims.known(plan, "one"))
    return path


def test_its_slope_is_remembered_and_it_counts_by_its_shorter_edge(rack: Path) -> None:
    """96 less the trim of 1/2, the set-in of 1.525 that a square end loses first, 50 along the top edge and a kerf of
    1/8 x sqrt(1 + 0.7625^2) = 0.1572: 43.8178."""
    with reading(rack) as open_rack:
        (one,) = shelf.offcuts(open_rack)
        known = rules.rule(open_rack, "rail")
    assert (one.slope, one.sawn) == (F(-61, 80), 0) or (one.slope, one.sawn) == (F(61, 80), 0)
    assert abs(float(one.length) - 43.8178) < 1 / 1024
    assert "~37.3 deg (7 5/8:10)" in shelf_text([one], [], "in")
    (row,) = csv.DictReader(io.StringIO(shelf_csv([one], [])))
    assert abs(Fraction(row["end_slope"])) == F(61, 80)
    assert known is not None and (known.face, known.may_turn) == (2, "both")


def test_it_is_squared_again_before_it_is_used(rack: Path) -> None:
    """Its end loses the trim: what fits on it is shorter by that, and the plan says so."""
    with reading(rack) as open_rack:
        stock = [entry for entry in supply(SLOPED_SHOP, open_rack).shop.profiles["rail"].stock if entry.tag]
    assert [SLOPED.trims(entry) for entry in stock] == [(F(1, 2), F(1, 4))]
    longest = stock[0].length - F(3, 4)
    for length, tagged in ((longest, True), (longest + F(1, 1024), False)):
        plan = plan_of(rack, [Piece("B", "rail", length, 1)], SLOPED_SHOP)
        (stick,) = plan.profiles[0].sticks
        assert (stick.tag is not None) == tagged and audit(plan) == []


def test_a_far_end_that_was_sawn_square_stays_one(rack: Path) -> None:
    with changing(rack) as open_rack:
        (added,) = shelf.add(open_rack, "rail", F(90), 1, sawn=2)
    plan = plan_of(rack, [replace(ANGLED, mark="C")], SLOPED_SHOP)
    (stick,) = plan.profiles[0].sticks
    assert stick.tag == added.tag and (stick.head_trim, stick.tail_trim) == (0, 0)
    with changing(rack) as open_rack:
        booked = booking.book(open_rack, claims.known(plan, "two"))
    (kept,) = booked.kept
    assert kept.sawn == 1 and kept.slope


def test_a_square_week_forgets_no_face_and_an_angled_piece_is_cut_again(rack: Path) -> None:
    plan = plan_of(rack, [Piece("S", "rail", F(130), 1)], SLOPED_SHOP)
    assert plan.profiles[0].angles is None
    with changing(rack) as open_rack:
        booking.book(open_rack, claims.known(plan, "square"))
    with reading(rack) as open_rack:
        shop = recutting.shop_of(open_rack, "rail")
        found = supply(shop, open_rack, remembered=True)
    again = recutting.recut(found, replace(ANGLED, mark="recut", length=F(30)))
    (stick,) = again.profiles[0].sticks
    assert stick.tag is not None and stick.cuts[0].asked_ends == (F(-61, 40), F(61, 40)) and audit(again) == []
