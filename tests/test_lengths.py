"""If these fail, a length is read or printed as another one, or a bad one gets through to the saw."""

# ruff: noqa: RUF001 (primes and curly quotes are what is tested)

import math
import random
import subprocess
import sys
from fractions import Fraction

import pytest

from cutplan.lengths import exact_decimal, read_length, read_number, read_whole, show, show_sqrt

TALL = Fraction(279, 8)  # 34 7/8 in
SIXTEENTH = Fraction(1, 16)


@pytest.mark.parametrize(
    "text",
    [
        "34 7/8",
        '34-7/8"',
        "2' 10 7/8\"",
        "2'-10 7/8\"",
        "2 ft 10 7/8 in",
        "34.875",
        "34⅞",
        "34 ⅞",
        "34-⅞",
        "34⅞″",
        "2′ 10⅞″",
        "2’ 10 7/8”",
        "2' 10 7/8''",
        "2‘-10 7/8“",
        "34 7⁄8",
        "34–7/8",
        "  34   7/8  ",
        "34\u00a07/8",
        "34 7/8 IN",
        "34.875 Inches",
        "2FT 10 7/8IN",
        "2ft10 7/8in",
        "2 feet 10 7/8 inches",
        "2 ft. 10 7/8 in.",
        "1 foot 22.875 inch",
        "2' 10 7/8",
        "279/8",
        "885.825 mm",
        "88.5825 CM",
        "0.885825 m",
        "2.90625 ft",
    ],
)
def test_one_length_however_it_is_written(text: str) -> None:
    assert read_length(text, "in") == TALL


@pytest.mark.parametrize(
    ("text", "unit", "length"),
    [
        ("886 mm", "mm", 886),
        ("0.886 m", "mm", 886),
        ("88.6 cm", "mm", 886),
        ("886", "mm", 886),
        ("886 mm", "in", Fraction(88600, 2540)),
        ("2'", "in", 24),
        ("7/8", "in", Fraction(7, 8)),
        ("⅞", "in", Fraction(7, 8)),
        (".5", "in", Fraction(1, 2)),
        ("16 ft", "in", 192),
        ("0.1", "in", Fraction(1, 10)),
    ],
)
def test_units_and_bare_numbers(text: str, unit: str, length: Fraction) -> None:
    assert read_length(text, unit) == length


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("  ", "empty"),
        ("-3", "negative"),
        ("−3 in", "negative"),
        ("0", "zero"),
        ("0 mm", "zero"),
        ("0/8", "zero"),
        ("nan", "not a length"),
        ("inf", "not a length"),
        ("1e3", "exponent"),
        ("1/0", "zero"),
        ("34 1/0", "zero"),
        ("1,200", "1200"),
        ("886,5", "886.5"),
        ("34 kg", "a mass, not a length"),
        ("34 KG", "a mass, not a length"),
        ("34 s", "a time, not a length"),
        ("34 m²", "an area, not a length"),
        ("34 m2", "an area, not a length"),
        ("34 furlog", "unknown unit"),
        ("34 furlong", "the units are"),
        ("34 survey_foot", "not a length"),
        ("abc", "not a length"),
        ("34 7 8", "not a length"),
        ("34 9/8", "not less than 1"),
        ("1 200", "not a length"),
        ("7/8/2", "not a length"),
        ("⅞2", "not a length"),
        ("2 in 3 ft", "not a length"),
        ("3' 2'", "not a length"),
        ("0x10", "not a length"),
        ("٣", "not a length"),
        ("9" * 5000, "too long"),
        ("34\n7", "not a length"),
    ],
)
def test_what_is_not_a_length_is_refused_in_plain_words(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_length(text, "in")


def test_zero_where_an_allowance_may_be_zero() -> None:
    assert read_length("0 in", "mm", zero_ok=True) == 0
    with pytest.raises(ValueError, match="negative"):
        read_length("-1", "mm", zero_ok=True)


def test_a_decimal_comma_is_read_only_where_it_is_asked_for() -> None:
    assert read_length("886,5", "mm", decimal_comma=True) == Fraction(1773, 2)
    assert read_length("88,65 cm", "mm", decimal_comma=True) == Fraction(1773, 2)
    assert read_length("886.5", "mm", decimal_comma=True) == Fraction(1773, 2)
    for text in ("1.200,5", "1,200,5"):
        with pytest.raises(ValueError, match="without a comma"):
            read_length(text, "mm", decimal_comma=True)


def test_every_vulgar_fraction_means_what_it_shows_or_is_on_no_tape() -> None:
    # Unicode's own numeric values, as the interpreter's tables give them
    import unicodedata

    for character in "¼½¾⅛⅜⅝⅞":
        shown = Fraction(unicodedata.numeric(character)).limit_denominator(100)
        assert read_length(f"34{character}", "in") == 34 + shown
    for character in "⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚":
        with pytest.raises(ValueError, match="no tape has"):
            read_length(f"34{character}", "in")


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_a_reading_is_one_that_a_tape_can_have(unit: str) -> None:
    """Marks halve the inch again and again, to 64ths; what is between them is a slip, or is written as a decimal."""
    marks = {2**k for k in range(7)}
    for bottom in range(2, 200):
        for text in (f"40 1/{bottom}", f"1/{bottom}", f"40-1/{bottom}", f"3' 4 1/{bottom}", f"40 1/{bottom} in",
                     f"{bottom + 1}/{bottom} in"):
            if bottom in marks:
                assert read_length(text, unit) > 0
            else:
                with pytest.raises(ValueError, match=r"no tape has; read it again .* or write a decimal"):
                    read_length(text, unit)


def test_what_cutplan_writes_is_read_again_whatever_its_denominator() -> None:
    for bottom in range(2, 300):
        for number in (1 + Fraction(1, bottom), 40 + Fraction(3, bottom), 1 + Fraction(5000, 127) / bottom):
            for unit in ("in", "mm"):
                assert read_length(exact_decimal(number), unit) == number


def test_money_is_exact_and_plain() -> None:
    assert read_number("41.20") == Fraction(206, 5)
    assert read_number("0") == 0
    for text in ("", "-1", "1,200.00", "$4", "nan", "1e3", "4 USD", "1/0"):
        with pytest.raises(ValueError):
            read_number(text)


def test_whole_numbers() -> None:
    assert (read_whole("2", 1), read_whole("2.0", 1)) == (2, 2)
    for text in ("0", "1.5", "-1", "two", ""):
        with pytest.raises(ValueError):
            read_whole(text, 1)


@pytest.mark.parametrize(
    ("length", "unit", "tape", "text"),
    [
        (TALL, "in", SIXTEENTH, "34 7/8"),
        (Fraction(7, 8), "in", SIXTEENTH, "7/8"),
        (Fraction(192), "in", SIXTEENTH, "192"),
        (Fraction(0), "in", SIXTEENTH, "0"),
        (Fraction(1, 32), "in", SIXTEENTH, "~1/16"),
        (Fraction(1, 32), "in", Fraction(1, 32), "1/32"),
        (Fraction(1, 33), "in", SIXTEENTH, "~0"),
        (Fraction(67, 18), "in", SIXTEENTH, "~3 3/4"),
        (Fraction(-3, 8), "in", SIXTEENTH, "-3/8"),
        (Fraction(886), "mm", Fraction(1), "886"),
        (Fraction(1773, 2), "mm", Fraction(1), "~887"),
        (Fraction(1773, 2), "mm", Fraction(1, 2), "886.5"),
        (Fraction(88649, 100), "mm", Fraction(1, 2), "~886.5"),
    ],
)
def test_what_the_tape_reads(length: Fraction, unit: str, tape: Fraction, text: str) -> None:
    assert show(length, unit, tape) == text


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (TALL, "34.875"),
        (Fraction(192), "192"),
        (Fraction(1, 8), "0.125"),
        (Fraction(-1, 40), "-0.025"),
        (Fraction(4430, 127), "4430/127"),
        (Fraction(0), "0"),
        (Fraction(1, 3), "1/3"),
        (Fraction(1000), "1000"),
    ],
)
def test_exact_decimals(number: Fraction, text: str) -> None:
    assert exact_decimal(number) == text


def test_an_empty_whole_number_is_told_what_would_be_right() -> None:
    with pytest.raises(ValueError, match="is empty; write a whole number of at least 1"):
        read_whole(" ", 1)


def test_diagonals_by_whole_numbers() -> None:
    # 36, 48, 60 is 12 times the 3-4-5 triangle of Euclid I.47; the others follow by any square root table
    assert show_sqrt(Fraction(36**2 + 48**2), "in", SIXTEENTH) == "60"
    assert (
        show_sqrt(Fraction(42**2 + 48**2), "in", SIXTEENTH) == "~63 3/4"
    )  # 63.781 lies 1/32 above, just under
    assert show_sqrt(Fraction(48**2 + 60**2), "in", SIXTEENTH) == "~76 13/16"  # 76.837
    assert show_sqrt(Fraction(1, 4), "in", SIXTEENTH) == "1/2"


def test_square_roots_agree_with_floating_point_within_half_a_division() -> None:
    draw = random.Random(7)
    for _ in range(500):
        tape = draw.choice([Fraction(1, 16), Fraction(1, 32), Fraction(1), Fraction(1, 2), Fraction(1, 10)])
        square = Fraction(draw.randrange(1, 10**7), draw.randrange(1, 300))
        reading = read_length(show_sqrt(square, "mm", tape).lstrip("~"), "mm", zero_ok=True)
        assert reading % tape == 0
        assert abs(float(reading) - math.sqrt(square)) <= float(tape) / 2 + 1e-9


def test_round_trip_what_is_shown_reads_back_within_half_a_division() -> None:
    draw = random.Random(11)
    for _ in range(1000):
        unit, tape = draw.choice([("in", Fraction(1, 16)), ("in", Fraction(1, 64)), ("mm", Fraction(1, 2))])
        length = Fraction(draw.randrange(1, 12 * 10**5), draw.randrange(100, 300))
        text = show(length, unit, tape)
        back = read_length(text.lstrip("~"), unit, zero_ok=True)
        assert abs(back - length) <= tape / 2
        assert (back == length) == (not text.startswith("~"))


def test_round_trip_of_exact_decimals_and_mixed_forms() -> None:
    draw = random.Random(13)
    for _ in range(1000):
        number = Fraction(draw.randrange(1, 3 * 10**5), draw.choice([1, 2, 8, 10, 64, 1000, 3, 127]))
        assert read_length(exact_decimal(number), "mm") == number
        feet, inches, top = draw.randrange(1, 30), draw.randrange(12), draw.randrange(1, 16)
        length = 12 * feet + inches + Fraction(top, 16)
        for text in (
            f"{feet}' {inches} {top}/16\"",
            f"{feet}'-{inches}-{top}/16",
            f"{feet}ft{inches} {top}/16in",
        ):
            assert read_length(text, "in") == length


def test_any_text_is_read_or_refused_but_never_breaks() -> None:
    draw = random.Random(17)
    for _ in range(5000):
        text = "".join(
            draw.choice("0123456789 /.-,'\"⅞½ftinmce²³^*°٣№\n\0µkgs_()") for _ in range(draw.randrange(9))
        )
        try:
            assert read_length(text, draw.choice(["in", "mm"])) > 0
        except ValueError as error:
            assert "\n" not in str(error)


@pytest.mark.parametrize("code", [
    "l.read_length('34 7/8 in', 'in'); sys.exit('pint' in sys.modules)",
    "l.read_length('2 ft', 'mm'); sys.exit('hertz' in l.registry())",
])
def test_no_more_of_pint_is_loaded_than_a_unit_needs(code: str) -> None:
    """Half of what a short command takes were the units of physics."""
    result = subprocess.run([sys.executable, "-c", f"import sys, cutplan.lengths as l; {code}"], check=False)
    assert result.returncode == 0
