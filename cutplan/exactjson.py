"""JSON whose numbers are exact: Fractions as decimals, or as 'p/q' text."""

from __future__ import annotations

from fractions import Fraction
from json import encoder
from typing import Any

from cutplan.lengths import exact_decimal

LINE_LENGTH = 100  # characters: what fits is written on one line


def written(value: Any, indent: str = "") -> str:
    """JSON of dicts, lists, text, Fractions, whole numbers, flags and None; short parts stay on one line."""
    deeper = indent + "  "
    kind = type(value)
    if kind is dict:
        parts = [f"{text(key)}: {written(part, deeper)}" for key, part in value.items()]
        opening, closing = "{", "}"
    elif kind is list or kind is tuple:
        parts = [written(part, deeper) for part in value]
        opening, closing = "[", "]"
    else:
        return scalar(value)
    line = opening + ", ".join(parts) + closing
    if len(indent) + len(line) <= LINE_LENGTH and "\n" not in line:
        return line
    return f"{opening}\n{deeper}" + f",\n{deeper}".join(parts) + f"\n{indent}{closing}"


text = encoder.encode_basestring_ascii  # as JSON has it
WORDS = {None: "null", True: "true", False: "false"}


def canonical(value: Any) -> str:
    """The value on one line, in the one form that all its layouts share. TypeError for a float."""
    kind = type(value)
    if kind is dict:
        return "{" + ",".join([f"{text(key)}:{canonical(value[key])}" for key in sorted(value)]) + "}"
    if kind is list or kind is tuple:
        return "[" + ",".join([canonical(part) for part in value]) + "]"
    return scalar(value)


def scalar(value: Any) -> str:
    """One value as a plan file says it. TypeError for a float, which is not exact."""
    kind = type(value)
    if kind is Fraction:
        decimal = exact_decimal(value)
        return f'"{decimal}"' if "/" in decimal else decimal
    if kind is str:
        return text(value)
    if kind is int:
        return str(value)
    if value is None or kind is bool:
        return WORDS[value]
    raise TypeError(f"{type(value).__name__} is not exact; a plan file holds Fractions and whole numbers")
