"""Exact lengths: read what a tape or a spreadsheet says, print what a tape reads.

Every length is a Fraction in the file's unit ("in" or "mm"); units convert through one pint registry on Fraction, which
knows lengths alone: all units there are take pint most of a second to load, and do not serve to convert.
"""

from __future__ import annotations

import functools
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from cutplan import plausible

if TYPE_CHECKING:
    from pint import UnitRegistry

PINT_NAMES = {
    '"': "inch", "in": "inch", "inch": "inch", "inches": "inch",
    "'": "foot", "ft": "foot", "foot": "foot", "feet": "foot",
    "mm": "millimeter", "cm": "centimeter", "m": "meter",
}  # fmt: skip
# exact by definition (NIST Special Publication 811, appendix B)
LENGTHS = (
    "millimeter = [length]", "centimeter = 10 millimeter", "meter = 1000 millimeter", "inch = 25.4 millimeter",
    "foot = 12 inch",
)  # fmt: skip
EXAMPLES = {
    "in": "write it like 34 7/8, 34.875, 2' 10 7/8\" or 886 mm",
    "mm": "write it like 886, 886.5, 0.886 m or 34 7/8 in",
}
QUOTES = str.maketrans(dict.fromkeys("′‘’‛´`", "'") | dict.fromkeys("″“”‟", '"'))  # noqa: RUF001
DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))  # noqa: RUF001
TEXTS_KEPT = 2**16  # lengths whose texts are remembered: a week asks for few, often
Ratio = tuple[int, int]  # a length in lowest terms, which is found again much sooner than a Fraction
FINEST_MARK = 64  # to the inch, on tapes and rules (common practice, no source)
LONGEST_LENGTH = 60  # characters; nothing a person measures needs more

NUMBER = (
    r"(?:(?:(?P<whole>[0-9]+)(?:[ ]|-[ ]?))?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
    r"|(?P<decimal>[0-9]+(?:\.[0-9]*)?|\.[0-9]+))"
)
PLAIN = re.compile(NUMBER + r" ?(?P<unit>.*)")
FEET_AND_INCHES = re.compile(
    r"(?P<feet>[0-9]+) ?(?:'|(?:ft|foot|feet)\.?) ?-? ?" + NUMBER + r" ?(?:\"|(?:in|inch|inches)\.?)?",
    re.IGNORECASE,
)


@functools.lru_cache(TEXTS_KEPT)
def read_length(text: str, unit: str, *, zero_ok: bool = False, signed: bool = False,
                decimal_comma: bool = False) -> Fraction:
    """The length a person wrote, exactly, in `unit` ("in" or "mm"); a bare number is in that unit.

    `decimal_comma` also reads 886,5. ValueError says what is wrong, and what would be right: not a number,
    negative (unless `signed`), zero (unless `zero_ok`), not a length, an unknown unit, or a fraction that no tape has.
    A bare p/q of more than 1 is no reading but an exact number, as `exact_decimal` writes it: any p/q will do.
    """
    right = EXAMPLES[unit]
    needed = "zero or more is needed" if zero_ok else "more than zero is needed"
    plain = tidy(text, decimal_comma)
    if not plain:
        raise ValueError(f"is empty; {right}")
    sign, plain = signed_text(plain)
    if sign < 0 and not signed:
        raise ValueError(f"{quoted(text)} is negative; {needed}")
    if match := FEET_AND_INCHES.fullmatch(plain):
        check_marks(match, text)
        length = (12 * int(match["feet"]) + value(match, text)) * factor("inch", unit)
    elif match := PLAIN.fullmatch(plain):
        if match["whole"] or match["unit"] or not improper(match):
            check_marks(match, text)
        source = unit_of(match["unit"], text, right) if match["unit"] else unit
        length = value(match, text) * factor(source, unit)
    else:
        raise ValueError(f"{quoted(text)} is not a length; {right}")
    if length == 0 and not zero_ok:
        raise ValueError(f"{quoted(text)} is zero; {needed}")
    return sign * plausible.length(length, unit, quoted(text))


def signed_text(text: str) -> tuple[int, str]:
    """The sign of a number that a person wrote, and the rest of it."""
    plain = text.strip().translate(DASHES)
    return (-1, plain[1:].lstrip()) if plain.startswith("-") else (1, plain)


def names_unit(text: str) -> bool:
    """Whether a length that can be read is the same in a shop of either unit."""
    inches, millimetres = (read_length(text, unit, zero_ok=True) for unit in ("in", "mm"))
    return inches * factor("in", "mm") == millimetres


def read_number(text: str, *, decimal_comma: bool = False, needed: str = "zero or more") -> Fraction:
    """A plain number (money, a quantity), zero or more, exactly. ValueError as in `read_length`."""
    right = "write a plain number like 41.20"
    plain = tidy(text, decimal_comma)
    if not plain:
        raise ValueError(f"is empty; {right}")
    if plain.startswith("-"):
        raise ValueError(f"{quoted(text)} is negative; {needed} is needed")
    match = PLAIN.fullmatch(plain)
    if not match or match["unit"]:
        raise ValueError(f"{quoted(text)} is not a number; {hint(match['unit'] if match else '') or right}")
    return value(match, text)


def read_money(text: str, *, decimal_comma: bool = False) -> Fraction:
    """A price, exactly. ValueError as in `read_length`."""
    return plausible.money(read_number(text, decimal_comma=decimal_comma), quoted(text))


def read_rate(text: str, unit: str) -> Fraction:
    """Money by length, such as 2.58/ft, exactly, for one `unit`. ValueError says what would be right."""
    right = "write it like 2.58/ft, 0.215/in or 8.46/m"
    money, slash, per = tidy(text, False).rpartition("/")
    name = PINT_NAMES.get(per.strip().lower().removesuffix("."))
    if not slash or name is None:
        raise ValueError(f"{quoted(text)} does not say for what length; {right}")
    return read_money(money) / factor(name, unit)


def read_whole(text: str, least: int, *, most: int = plausible.MOST_WHOLE, decimal_comma: bool = False) -> int:
    """A whole number of at least `least` and at most `most`; 2.0 is whole. ValueError as in `read_length`."""
    if not tidy(text, decimal_comma):
        raise ValueError(f"is empty; write a whole number of at least {least}")
    number = read_number(text, decimal_comma=decimal_comma, needed=f"{least} or more" if least else "zero or more")
    if number.denominator != 1 or number < least:
        raise ValueError(f"{quoted(text)} is not a whole number of at least {least}")
    return plausible.whole(int(number), most, quoted(text))


def tidy(text: str, decimal_comma: bool) -> str:
    """One spelling for quotes, dashes, spaces and fractions. ValueError where the text is far too long."""
    if len(text) > LONGEST_LENGTH:
        raise ValueError(f"{quoted(text)} is too long to be a number")
    text = "".join(map(spelt_out, text)).translate(QUOTES).translate(DASHES)
    text = " ".join(text.replace("''", '"').split())
    if decimal_comma and text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    return text


def spelt_out(character: str) -> str:
    """7/8 between spaces for the one character that means it, so that 34 and 7/8 never become 347/8."""
    spelt = unicodedata.normalize("NFKC", character).replace("\u2044", "/")
    return f" {spelt} " if "/" in spelt and len(spelt) > 1 else character.replace("\u2044", "/")


def value(match: re.Match[str], text: str) -> Fraction:
    """The number that NUMBER matched."""
    if match["decimal"]:
        plausible.decimals(match["decimal"], quoted(text))
        return Fraction(match["decimal"])
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise ValueError(f"{quoted(text)} divides by zero; write a fraction like 7/8")
    if match["whole"] and top >= bottom:
        raise ValueError(f"{quoted(text)} has a fraction that is not less than 1; write it like 34 7/8")
    return int(match["whole"] or 0) + Fraction(top, bottom)


def improper(match: re.Match[str]) -> bool:
    """Whether NUMBER matched a fraction of 1 or more alone."""
    return bool(match["bottom"]) and not match["whole"] and int(match["top"]) >= int(match["bottom"])


def check_marks(match: re.Match[str], text: str) -> None:
    """ValueError for a fraction between the marks of any tape: these halve an inch again and again."""
    if match["bottom"] and int(match["bottom"]) and FINEST_MARK % int(match["bottom"]):
        raise ValueError(f"{quoted(text)} has a fraction that no tape has; read it again in halves, quarters, eighths, "
                         f"16ths, 32nds or {FINEST_MARK}ths, or write a decimal")


def unit_of(word: str, text: str, right: str) -> str:
    """pint's name of the unit a person wrote."""
    name = PINT_NAMES.get(word.lower().removesuffix("."))
    if name:
        return name
    advice = hint(word)
    if advice or not re.fullmatch(r"[^\W\d_]+\.?(?:(?:\^|\*\*)?[23]|[²³])?", word):
        raise ValueError(f"{quoted(text)} is not a length; {advice or right}")
    if kind := other_dimension(word):
        raise ValueError(f"{quoted(text)} is {kind}, not a length; {right}")
    raise ValueError(f"{quoted(text)} has an unknown unit {quoted(word)}; the units are in, ft, mm, cm and m")


def hint(rest: str) -> str:
    """What would be right, where the text after the first number shows what was meant."""
    if rest.startswith(","):
        return "write thousands without a comma (1200), and decimals with a point (886.5)"
    if re.match(r"e[+-]?[0-9]", rest, re.IGNORECASE):
        return "write the number out, without an exponent (1000)"
    return ""


def other_dimension(word: str) -> str:
    """What a unit measures, with its article; empty for a length or a word that is no unit."""
    import pint

    spelt = re.sub(r"(?:\^|\*\*)?([23])$", r"**\1", unicodedata.normalize("NFKC", word))
    for spelling in (spelt, spelt.lower()):
        try:
            dimensions = dict(all_units().get_dimensionality(spelling))
        except (pint.PintError, AttributeError, TypeError, ValueError):
            continue
        if dimensions == {"[length]": 1}:
            return ""
        return MEASURES.get(" ".join(f"{name}{power}" for name, power in dimensions.items()), "something else")
    return ""


MEASURES = {
    "": "an angle or a plain number", "[mass]1": "a mass", "[time]1": "a time", "[length]2": "an area",
    "[length]3": "a volume", "[temperature]1": "a temperature", "[current]1": "a current",
}  # fmt: skip


@functools.cache
def registry() -> UnitRegistry[Any]:
    """Of lengths. It works in Fraction, for in floats 1 ft comes out as 304.79999999999995 mm."""
    import pint

    lengths: UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Fraction)
    for length in LENGTHS:
        lengths.define(length)
    return lengths


@functools.cache
def all_units() -> UnitRegistry[Any]:
    """All that pint knows, to say what a unit is that is no length."""
    import pint

    return pint.UnitRegistry()


@functools.cache
def factor(source: str, target: str) -> Fraction:
    """How many of `target` one `source` is, exactly."""
    source, target = PINT_NAMES.get(source, source), PINT_NAMES[target]
    if source == target:
        return Fraction(1)
    return Fraction(registry().Quantity(Fraction(1), source).to(target).magnitude)


def quoted(text: str) -> str:
    """The text in quotes on one line, cut where it is long."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def listed(words: Sequence[str]) -> str:
    """a, b and c."""
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def show(length: Fraction, unit: str, tape: Fraction) -> str:
    """What a tape reads: the nearest multiple of `tape` (ties up), after "~" where that is not exact.

    Inches are mixed numbers (34 7/8), millimetres decimals (886.5). `tape` is more than zero, in `unit`.
    """
    return shown(length.as_integer_ratio(), unit, tape.as_integer_ratio())


@functools.lru_cache(TEXTS_KEPT)
def shown(length: Ratio, unit: str, tape: Ratio) -> str:
    exact = Fraction(*length)
    return show_reading(nearest(exact, Fraction(*tape)), exact, unit)


def nearest(length: Fraction, tape: Fraction) -> Fraction:
    """The multiple of `tape` nearest to the length, ties up."""
    return rounded(length.as_integer_ratio(), tape.as_integer_ratio())


@functools.lru_cache(TEXTS_KEPT)
def rounded(length: Ratio, tape: Ratio) -> Fraction:
    step = Fraction(*tape)
    return math.floor(Fraction(*length) / step + Fraction(1, 2)) * step


def show_reading(reading: Fraction, length: Fraction, unit: str) -> str:
    """A reading of a tape that stands for a length; after "~" where it is not that length."""
    return ("" if reading == length else "~") + written(reading, unit)


def added(counted: Iterable[tuple[int, Fraction]]) -> Fraction:
    """The sum of (how often, what): whole numbers of each denominator first, as fractions are slow to add."""
    tops: dict[int, int] = {}
    for n, one in counted:
        top, bottom = one.as_integer_ratio()
        tops[bottom] = tops.get(bottom, 0) + n * top
    common = math.lcm(*tops)
    return Fraction(sum(top * (common // bottom) for bottom, top in tops.items()), common)


def nearest_root(square: Fraction, tape: Fraction) -> Fraction:
    """The multiple of `tape` nearest to the square root of `square` (not negative), ties up, by whole numbers alone.

    The nearest n with x = sqrt(square) / tape is floor(x + 1/2) = floor((floor(2x) + 1) / 2).
    """
    return (math.isqrt(math.floor(4 * square / tape**2)) + 1) // 2 * tape


def show_sqrt(square: Fraction, unit: str, tape: Fraction) -> str:
    """`show` of the square root of `square` (in the unit squared, not negative)."""
    reading = nearest_root(square, tape)
    return ("" if reading**2 == square else "~") + written(reading, unit)


def written(reading: Fraction, unit: str) -> str:
    """A length exactly: inches as a mixed number, millimetres as a decimal."""
    if unit == "mm":
        return exact_decimal(reading)
    whole, rest = divmod(abs(reading), 1)
    parts = [str(whole)] if whole or not rest else []
    parts += [str(rest)] if rest else []
    return ("-" if reading < 0 else "") + " ".join(parts)


def exact_decimal(number: Fraction) -> str:
    """The number in decimals, exactly; "p/q" where no finite decimal exists."""
    return decimals_of(number.as_integer_ratio())


@functools.lru_cache(TEXTS_KEPT)
def decimals_of(number: Ratio) -> str:
    top, bottom = number
    rest, places = bottom, 0
    while (common := math.gcd(rest, 10)) > 1:
        rest //= common
        places += 1
    if rest > 1:
        return f"{top}/{bottom}"
    digits = str(abs(top) * 10**places // bottom).rjust(places + 1, "0")
    point = len(digits) - places
    return ("-" if top < 0 else "") + digits[:point] + ("." + digits[point:] if places else "")


def places(number: Fraction, count: int) -> str:
    """The number with so many decimals, halves away from zero."""
    top, bottom = number.as_integer_ratio()
    whole = (2 * abs(top) * 10**count + bottom) // (2 * bottom)
    digits = str(whole).rjust(count + 1, "0")
    return ("-" if number < 0 and whole else "") + f"{digits[:-count]}.{digits[-count:]}"


def rounded_decimal(number: Fraction) -> str:
    """The number in hundredths, after "~" where that is rounded."""
    return ("" if (100 * number).denominator == 1 else "~") + places(number, 2)
