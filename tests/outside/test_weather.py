"""If these fail, rails are said to move otherwise with the weather than tables of their material have it."""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction as F

import pytest

from cutplan.shop import Profile, Shop, Stock
from cutplan.shop.figures import Degrees, Expansion
from cutplan.takeoff.movement import Movement, movement

# NEC 352.44, seen. Other published values for rigid PVC run from 3.0e-5 to 4.5e-5: the shop file must say one.
PVC = Expansion(F("0.0000338"), "F")
ALUMINIUM = Expansion(F("0.000013"), "F")  # 6063; Aluminum Association, typical values, seen


def moves(length: F, expansion: Expansion, degrees: int, scale: str = "F", unit: str = "in") -> Movement:
    """From cutting at 0 to use at so many degrees."""
    profile = Profile("p", "rail", (Stock(F(9999), F(1)),), F(0), expansion=expansion)
    shop = Shop("s", unit, "", F(0), None, 1, F(1, 16), {"p": profile}, {},
                cut_at=Degrees(F(0), F(0), scale), used_at=Degrees(F(min(0, degrees)), F(max(0, degrees)), scale))
    found = movement(length, profile, shop)
    assert found and movement(length, profile, replace(shop, used_at=None)) is None
    return found


def rounded(value: F, places: int) -> Decimal:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


@pytest.mark.parametrize(("degrees", "inches"), [
    (5, "0.20"), (25, "1.01"), (50, "2.03"), (75, "3.04"), (150, "6.08"), (170, "6.90"),
])  # fmt: skip
def test_rigid_pvc_by_the_foot(degrees: int, inches: str) -> None:
    """NEC table 352.44, seen: inches in 100 ft. What grows so far in the heat shrinks as far in the cold."""
    grown, shrunk = moves(F(1200), PVC, degrees), moves(F(1200), PVC, -degrees)
    assert rounded(grown.grows, 2) == Decimal(inches) and grown.shrinks == 0
    assert (shrunk.grows, shrunk.shrinks) == (0, grown.grows)


@pytest.mark.parametrize(("degrees", "millimetres"), [(10, "0.61"), (50, "3.04"), (100, "6.08")])
def test_rigid_pvc_by_the_metre(degrees: int, millimetres: str) -> None:
    """The same table in mm per m and degrees C."""
    assert rounded(moves(F(1000), PVC, degrees, "C", "mm").grows, 2) == Decimal(millimetres)


@pytest.mark.parametrize(("length", "expansion", "degrees", "inches"), [
    (F(96), PVC, 60, "0.195"), (F(761, 8), PVC, 100, "0.322"), (F(761, 8), ALUMINIUM, 100, "0.124"),
])  # fmt: skip
def test_a_rail(length: F, expansion: Expansion, degrees: int, inches: str) -> None:
    """Arithmetic on the two coefficients: 96 in over 60 degrees F, 95 1/8 in over 100."""
    assert rounded(moves(length, expansion, degrees).grows, 3) == Decimal(inches)


def test_a_rail_beside_its_insert() -> None:
    """Arithmetic: 96 in of rigid PVC move 0.200 in more over 100 degrees F than their aluminium insert."""
    assert rounded(moves(F(96), PVC, 100).grows - moves(F(96), ALUMINIUM, 100).grows, 3) == Decimal("0.200")
