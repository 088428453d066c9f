"""If these fail, inches and millimetres no longer mean what the standard says, and every piece is off.

Figures: NIST Special Publication 811 (2008), appendix B: 1 in = 25.4 mm and 1 ft = 0.3048 m, exactly.
"""

from fractions import Fraction

import pytest

from cutplan.lengths import read_length


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("1 in", Fraction("25.4")),
        ("1 ft", Fraction("304.8")),
        ("1'", Fraction("304.8")),
        ("1 cm", Fraction(10)),
        ("1 m", Fraction(1000)),
        ("1 mm", Fraction(1)),
        ("900 ft", Fraction(274320)),  # the US survey foot would give 274320.548...
        ("1/16 in", Fraction("1.5875")),
        ("20 ft", Fraction(6096)),
    ],
)
def test_exact_factors(text: str, millimetres: Fraction) -> None:
    assert read_length(text, "mm") == millimetres


def test_there_and_back_is_exact() -> None:
    assert read_length("25.4 mm", "in") == 1
    assert read_length("0.3048 m", "in") == 12
    assert read_length("1 mm", "in") == Fraction(5, 127)
