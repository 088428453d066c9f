"""A week that changed: pieces that were cut become others, or offcuts, under the plan that goes on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import factor
from cutplan.orders import Piece
from cutplan.rack import inhand, shelf, waiting
from cutplan.rack.claims import Known
from cutplan.rack.inhand import InHand
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import Rack


@dataclass(frozen=True)
class ToRack:
    """`qty` pieces that are laid on the rack, each as an offcut of this length, with its first hole and its ends."""

    cut: InHand
    qty: int
    length: Fraction
    first: Fraction | None
    sawn: int
    slope: Fraction


@dataclass(frozen=True)
class Change:
    """What becomes of pieces in hand, in a plan's unit: `made` counts them, fewer than none of those that are gone."""

    made: Counter[InHand]
    laid: tuple[ToRack, ...]


def lay(rack: Rack, laid: Sequence[ToRack], name: str, unit: str) -> list[Offcut]:
    """Puts pieces on the rack as offcuts, under new tags."""
    inward = factor(unit, rack.unit)
    come = [Offcut(tag, one.cut.profile, one.length * inward, None if one.first is None else one.first * inward,
                   rack.now, f"{name}, piece {one.cut.mark}", sawn=one.sawn, slope=one.slope)
            for one in laid for tag in shelf.new_tags(rack, one.qty)]
    shelf.put(rack, come)
    return come


def enter(rack: Rack, what: Known, change: Change, laid: Sequence[Offcut], left: Sequence[Piece]) -> int:
    """Writes a change down as a booking of no sticks of the plan that goes on, which has so much left; its number."""
    id_ = rack.do("INSERT INTO bookings (plan, name, at, sticks) VALUES (?,?,?,0)", what.id, what.file, rack.now)
    shelf.remember(rack, "kept", laid, booking=id_, note=f"from {what.file}")
    inhand.write(rack, id_, change.made, what.plan.unit)
    waiting.remember_left(rack, id_, left, what.plan.unit)
    return id_
