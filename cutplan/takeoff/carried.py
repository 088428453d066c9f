"""What is drawn of one gate or bay: its card, and the sizes that only the shop file knows, as a plan carries them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, Field, asdict, dataclass, fields
from fractions import Fraction
from typing import Any, get_type_hints

from cutplan.problems import Findings
from cutplan.shop import Shop
from cutplan.takeoff.cards import Card


@dataclass(frozen=True)
class CarriedCard:
    """One line of the week. Lengths in the plan's unit; see takeoff.cards for what they mean.

    `insertion` is how deep an upright or post is for the rail's end. `above` and `below` are the parts of the height
    above the top rail and below the bottom rail; `top_face` and `bottom_face` the rails' heights as seen, None where
    the shop file does not give them.
    """

    mark: str
    kind: str
    system: str
    qty: int
    opening: Fraction
    height: Fraction
    width: Fraction
    rail: Fraction
    insertion: Fraction
    hidden: Fraction
    clear: Fraction
    end_gap: Fraction
    gap: Fraction
    centred: str
    marks: tuple[Fraction, ...]
    picket: Fraction
    picket_width: Fraction
    turned: bool
    insert: Fraction | None
    upright: Fraction | None
    panel_height: Fraction
    diagonal_squared: Fraction
    top_hinge: Fraction | None
    bottom_hinge: Fraction | None
    top_face: Fraction | None
    bottom_face: Fraction | None
    above: Fraction
    below: Fraction
    remarks: tuple[tuple[str, str], ...]
    reminders: tuple[str, ...]
    plugs: int
    pitch: Fraction | None = None
    max_gap: Fraction | None = None


def drawn(card: Card, shop: Shop) -> CarriedCard:
    order, layout, system = card.order, card.layout, shop.systems[card.order.system]
    return CarriedCard(
        order.mark, order.kind, order.system, order.qty, order.opening, order.height, card.width, card.rail_length,
        card.rail_insertion, card.hidden, layout.clear, layout.end_gap, layout.gap, layout.centred, layout.marks,
        card.picket_length, system.picket_width, card.turned, card.insert_length, card.upright_length,
        card.panel_height, card.diagonal_squared, card.top_hinge, card.bottom_hinge,
        shop.profiles[system.top_rail].face, shop.profiles[system.bottom_rail].face,
        system.above_top_rail, system.below_bottom_rail,
        tuple((key, said) for key, said in order.extra.items() if said.strip()), card.reminders, card.plugs,
        layout.pitch, card.max_gap,
    )


def as_fields(one: CarriedCard) -> dict[str, Any]:
    """As a plan file carries it."""
    return {key: listed(value) for key, value in asdict(one).items()}


def listed(value: Any) -> Any:
    return [listed(part) for part in value] if isinstance(value, tuple) else value


def from_fields(said: Mapping[str, Any], path: str, found: Findings) -> CarriedCard | None:
    """The same again; None where it is not one, which is reported."""
    hints = get_type_hints(CarriedCard)
    try:
        return CarriedCard(**{
            field.name: as_kind(given(said, field), hints[field.name]) for field in fields(CarriedCard)})
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        found.add(1, path, "is not a layout card as cutplan cut writes it; cut again")
        return None


def given(said: Mapping[str, Any], field: Field[Any]) -> Any:
    """What a plan file says of a field, or what holds where it may be left out; KeyError where it may not."""
    return said[field.name] if field.default is MISSING else said.get(field.name, field.default)


def as_kind(value: Any, kind: Any) -> Any:
    """A value of a plan file as the kind that a field has; ValueError or TypeError where it is none."""
    if value is None:
        if kind not in (Fraction | None,):
            raise ValueError("missing")
        return None
    if kind in (Fraction, Fraction | None):
        return Fraction(value)
    if kind == tuple[Fraction, ...]:
        return tuple(map(Fraction, value))
    if kind == tuple[tuple[str, str], ...]:
        return tuple((str(key), str(said)) for key, said in value)
    if kind == tuple[str, ...]:
        return tuple(map(str, value))
    if kind is int:
        return int(value)
    if not isinstance(value, kind):
        raise ValueError("of another kind")
    return value
