"""A layout card as a plan file carries it: its fields by name, lengths as exact texts, tuples as lists."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from fractions import Fraction
from functools import cache
from types import NoneType
from typing import Any, get_args, get_origin, get_type_hints

from cutplan.problems import Findings
from cutplan.takeoff.cards import Card


def as_fields(value: Any) -> Any:
    """A card, or what is in one; fields that are as if nothing were said are left out."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_fields(getattr(value, field.name)) for field in fields(value)
                if field.default is MISSING or getattr(value, field.name) != field.default}
    if isinstance(value, tuple):
        return [as_fields(part) for part in value]
    return value


def from_fields(said: Mapping[str, Any], path: str, found: Findings) -> Card | None:
    """The same again; None where it is not one, which is reported."""
    try:
        card: Card = record(said, Card)
        refuse_torn(card)
        return card
    except (KeyError, TypeError, ValueError, ZeroDivisionError, AttributeError):
        found.add(1, path, "is not a layout card as cutplan cut writes it; cut again")
        return None


def refuse_torn(card: Card) -> None:
    """ValueError where what a card says of one thing in two places does not agree, so that it is none of ours."""
    rows = [part.shifts for part in card.of("picket", leaf=card.first)]
    whole = (card.qty > 0 and card.squared and all(len(outline) == 4 for outline in card.squared)
             and all(len(part.outline) > 2 and part.shifts for part in card.parts)
             and card.layout.count == len(card.layout.marks) and all(len(row) == card.layout.count for row in rows)
             and card.opening > 0 and card.height > 0 and card.posts >= 0
             and all(one.count > 0 for one in card.hardware))
    if not whole:
        raise ValueError("torn")


def is_older(said: Mapping[str, Any]) -> bool:
    """Whether it is a card as cutplan wrote it before it placed parts: its sticks can be cut, but it not be drawn."""
    return "parts" not in said and {"mark", "marks", "rail"} <= said.keys()


@cache
def hints_of(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def record(said: Any, kind: Any) -> Any:
    """One of the card's records; KeyError where a field is missing that has no default."""
    hints = hints_of(kind)
    return kind(**{field.name: as_kind(said[field.name], hints[field.name]) for field in fields(kind)
                   if field.default is MISSING or field.name in said})


def as_kind(value: Any, kind: Any) -> Any:
    """A value of a plan file as the kind that a field has; ValueError or TypeError where it is none."""
    choices = get_args(kind)
    if NoneType in choices:
        return None if value is None else as_kind(value, next(one for one in choices if one is not NoneType))
    if get_origin(kind) is tuple:
        if not isinstance(value, list):
            raise TypeError("not a list")
        if choices[-1] is Ellipsis:
            return tuple(as_kind(part, choices[0]) for part in value)
        return tuple(as_kind(part, each) for part, each in zip(value, choices, strict=True))
    if is_dataclass(kind):
        return record(value, kind)
    if kind is Fraction:
        return Fraction(value)
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        raise TypeError("of another kind")
    return value
