"""The ends of a piece that are not square: how far each is set in, as it is written and as it is asked for.

An end is set in by how far its bottom corner lies inside its top corner, along the piece; negative: beyond. The length
is along the top edge. How a piece is asked to lie is one text, which tells pieces of one length apart: what a rail's
middle must fall on, or what its two ends are set in; "" where there is neither.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

from cutplan import plausible
from cutplan.lengths import exact_decimal, quoted, read_length, read_number, signed_text

SET_IN_STEP = {"in": Fraction(1, 256), "mm": Fraction(1, 10)}  # to which an angle is rounded, away from 0
Ends = tuple[Fraction, Fraction]  # what the left and the right one are set in
SQUARE: Ends = Fraction(0), Fraction(0)
END_FORMS = "a length, a slope such as 7 5/8:10, or an angle such as 45 deg"
ANY_FACE = Fraction(10**9)  # of a profile that is not known: then only how an end is written can be wrong
RIGHT_ANGLE = 90


def read_end(text: str, unit: str, face: Fraction | None, decimal_comma: bool = False) -> tuple[Fraction, str]:
    """How far an end is set in, and what is to be said of it ("": nothing): a length, or over the `face` a slope
    (rise:run) or an angle from square (`deg`). ValueError says what would be right, also of an end that is steeper
    over the face than any saw cuts."""
    if face is None:
        raise ValueError("needs the profile's face; give the profile one")
    set_in, note = measured(text, unit, face, decimal_comma)
    if abs(set_in) > plausible.STEEPEST * face:
        angle = "" if "deg" in text or ":" in text else ", and write an angle as 45 deg"
        raise ValueError(f"{quoted(text)} is steeper than {plausible.STEEPEST}:1 over a face of {exact_decimal(face)}; "
                         f"check the number and its unit{angle}")
    return set_in, note and f"{quoted(text)} {note}"


def measured(text: str, unit: str, face: Fraction, decimal_comma: bool) -> tuple[Fraction, str]:
    """How far an end is set in, however steep, and what of it was rounded. ValueError as in `read_end`."""
    sign, plain = signed_text(text)
    try:
        if plain.endswith("deg"):
            return of_angle(sign, read_angle(text, plain, decimal_comma), unit, face)
        if ":" in plain:
            return sign * face * read_ratio(text, plain, decimal_comma), ""
        return read_length(text, unit, zero_ok=True, signed=True, decimal_comma=decimal_comma), ""
    except ValueError as error:
        raise ValueError(f"{error}; write how far the end is set in: {END_FORMS}") from None


def read_ratio(text: str, plain: str, decimal_comma: bool = False) -> Fraction:
    """The rise for each unit of run of a slope, rise:run: `plain` is the `text` without its sign. ValueError."""
    rise, _, run = plain.partition(":")
    try:
        return (read_length(rise, "in", zero_ok=True, decimal_comma=decimal_comma)
                / read_length(run, "in", decimal_comma=decimal_comma))
    except ValueError:
        raise ValueError(f"{quoted(text)} is no slope") from None


def read_angle(text: str, plain: str, decimal_comma: bool = False) -> Fraction:
    """The degrees of an angle from square, less than 90: `plain` is the `text` without its sign. ValueError."""
    try:
        angle = read_number(plain.removesuffix("deg"), decimal_comma=decimal_comma)
    except ValueError:
        raise ValueError(f"{quoted(text)} is no angle from square") from None
    if angle >= RIGHT_ANGLE:
        raise ValueError(f"{quoted(text)} is no angle from square, which is less than {RIGHT_ANGLE} deg")
    return angle


def of_angle(sign: int, angle: Fraction, unit: str, face: Fraction) -> tuple[Fraction, str]:
    """The set-in of an angle from square over a face; and what it was rounded to, where it had to be."""
    if angle in (0, 45):
        return sign * face * (angle == 45), ""
    step = SET_IN_STEP[unit]
    set_in = sign * step * math.ceil(math.tan(math.radians(angle)) * float(face) / float(step))
    way = "up" if sign > 0 else "away from 0"
    return set_in, f"over a face of {exact_decimal(face)} is set in {exact_decimal(set_in)}, rounded {way}"


def lies_of(centred: str, left_in: Fraction, right_in: Fraction) -> str:
    """How a piece is asked to lie, as one text."""
    return f"{left_in} {right_in}" if left_in or right_in else centred


def ends_in(lies: str) -> Ends:
    """What the left and the right end are set in, from how a piece is asked to lie."""
    left, apart, right = lies.partition(" ")
    return (Fraction(left), Fraction(right)) if apart else SQUARE


def lying(lies: str) -> dict[str, Any]:
    """How a piece is asked to lie, by the names of `Piece`'s and `Demand`'s fields; only what is not as ever."""
    left_in, right_in = ends_in(lies)
    if left_in or right_in:
        return {key: value for key, value in (("left_in", left_in), ("right_in", right_in)) if value}
    return {"centred": lies} if lies else {}
