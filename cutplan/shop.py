"""The shop file: saw, profiles and the lengths they are sold in, systems (how an opening becomes pieces)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Stock:
    """A length one can draw sticks of. Lengths in the file's unit.

    `price` is the money for one stick, or the length itself where the shop file gives none; rack offcuts cost 0.
    `qty` is how many there are (None: any number). `tag` names a rack offcut (None: new stock).
    """

    length: Fraction
    price: Fraction
    qty: int | None = None
    tag: str | None = None


@dataclass(frozen=True)
class Routing:
    """Holes already in a rail: the pitch between hole centres, and the first one's distance from the factory end."""

    pitch: Fraction
    first: Fraction


@dataclass(frozen=True)
class Profile:
    """A profile: what it is, the saw's losses on it, and the lengths it is sold in. Lengths in the file's unit.

    `face` is the height of the profile's side as seen in the opening (optional; hinge heights need it of rails).
    """

    name: str
    kind: str
    stock: tuple[Stock, ...]
    kerf: Fraction
    head_trim: Fraction = Fraction(0)
    tail_trim: Fraction = Fraction(0)
    keep_from: Fraction | None = None
    one_per_stick: bool = False
    routing: Routing | None = None
    face: Fraction | None = None


@dataclass(frozen=True)
class GateRule:
    """Allowances of a gate; rail = opening - latch_gap - hinge_gap - 2 x upright_wall."""

    latch_gap: Fraction
    hinge_gap: Fraction
    upright_wall: Fraction
    rail_insertion: Fraction
    picket_trim: Fraction


@dataclass(frozen=True)
class BayRule:
    """Allowances of a bay; rail = opening - 2 x end_clearance + 2 x rail_insertion."""

    end_clearance: Fraction
    rail_insertion: Fraction


@dataclass(frozen=True)
class System:
    """How an opening becomes pieces: the profile of each part (by name), the picket rule and the allowances.

    `above_top_rail` and `below_bottom_rail` (optional, 0) are the parts of the height above the top rail's top and
    below the bottom rail's underside; they place the hinges.
    """

    name: str
    top_rail: str
    bottom_rail: str
    picket: str
    picket_width: Fraction
    max_gap: Fraction
    min_end_gap: Fraction
    insert: str | None = None
    upright: str | None = None
    insert_short: Fraction = Fraction(0)
    picket_allowance: Fraction = Fraction(0)
    above_top_rail: Fraction = Fraction(0)
    below_bottom_rail: Fraction = Fraction(0)
    gate: GateRule | None = None
    bay: BayRule | None = None


@dataclass(frozen=True)
class Shop:
    """A whole shop file. `unit` is "in" or "mm"; `tape` the division the shop's tapes are read to.

    `shortest_held` is the least length held by hand at the saw; shorter pieces and remainders are marked "clamp".
    """

    name: str
    unit: str
    currency: str
    kerf: Fraction
    shortest_held: Fraction | None
    stack: int
    tape: Fraction
    profiles: Mapping[str, Profile]
    systems: Mapping[str, System]
    notes: tuple[str, ...] = ()
