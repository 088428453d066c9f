"""The layout card: what a person needs to set out one gate or bay."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.orders import Order


@dataclass(frozen=True)
class PicketLayout:
    """Pickets along one rail. Lengths in the file's unit.

    clear:   width where pickets show
    count:   pickets
    end_gap: from the upright or post to the first picket's near edge
    gap:     between two neighbouring pickets (the end gap where there are none)
    marks:   centre of each picket, each measured from the rail's end
    centred: what the middle of a routed rail falls on, "hole" or "space"; "gap" for plain rails (equal gaps)
    pitch:   from hole to hole of a routed rail; None for plain rails
    """

    clear: Fraction
    count: int
    end_gap: Fraction
    gap: Fraction
    marks: tuple[Fraction, ...]
    centred: str
    pitch: Fraction | None = None


@dataclass(frozen=True)
class Card:
    """The layout card of one gate or bay. Lengths in the file's unit.

    Each end of a rail is `hidden` by so much; its upright or post has `rail_insertion` of room for it. width x
    panel_height is the rectangle whose two diagonals must be equal, a gate over its uprights, a bay to the outer edges
    of its rails: `diagonal_squared` is the square of each, width^2 + panel_height^2. Hinge heights are measured up from
    the line the height is measured from; None where the rails' faces are not known or there are no hinges. `centrings`
    are what a routed rail's middle may fall on in a layout that will do; none for plain rails. `plugs` counts the holes
    of all its rails that stay empty and show, in part or whole. `turned` says how the picket is trimmed: half at each
    end, else all at one end. `max_gap` is the system's, which the pitch of the holes may exceed.
    """

    order: Order
    rail_length: Fraction
    rail_insertion: Fraction
    hidden: Fraction
    layout: PicketLayout
    picket_length: Fraction
    turned: bool
    insert_length: Fraction | None
    upright_length: Fraction | None
    width: Fraction
    panel_height: Fraction
    diagonal_squared: Fraction
    top_hinge: Fraction | None
    bottom_hinge: Fraction | None
    reminders: tuple[str, ...] = ()
    centrings: tuple[str, ...] = ()
    plugs: int = 0
    max_gap: Fraction | None = None
