"""Where rails, pickets and uprights begin and end above the finished ground. Lengths in the file's unit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.orders import Order
from cutplan.shop import Shop, System
from cutplan.takeoff.assembly import GRAIN, along

GUESS = Fraction(1, 25)  # of the height: how high a rail is drawn whose face the shop file does not give


@dataclass(frozen=True)
class RailLevel:
    """One rail: its name, the profile it is cut from, its lower and upper edge; `place` tells mid rails apart, `sized`
    is as of takeoff.assembly.Part. Along a rake both edges are measured plumb."""

    name: str
    profile: str
    low: Fraction
    high: Fraction
    sized: bool
    place: str = ""

    @property
    def called(self) -> str:
        return f"{self.place} {self.name}".strip()


@dataclass(frozen=True)
class Heights:
    """The rails from the bottom up, the foot and top of an upright, and the length of a picket that goes through.

    A picket stands in the middle between the inner edges of the lowest and the highest rail.
    """

    rails: tuple[RailLevel, ...]
    foot: Fraction
    top: Fraction
    picket: Fraction

    @property
    def panel(self) -> Fraction:
        """Between the outer edges of the lowest and the highest rail."""
        return self.rails[-1].high - self.rails[0].low

    @property
    def room(self) -> Fraction:
        """Between their inner edges."""
        return self.rails[-1].low - self.rails[0].high

    @property
    def least_room(self) -> Fraction:
        """The same, if rails whose faces are not known took nothing."""
        faces = sum((rail.high - rail.low for rail in (self.rails[0], self.rails[-1]) if rail.sized), Fraction(0))
        return self.panel - faces

    @property
    def seat(self) -> Fraction:
        """How deep a picket goes into each of them; below zero: by so much it is short of them."""
        return (self.picket - self.room) / 2

    def share(self, rail: RailLevel) -> Fraction:
        """How far up a rail lies: 0 at the bottom rail, 1 at the top rail, a mid rail by its middle."""
        if rail is self.rails[0]:
            return Fraction(0)
        if rail is self.rails[-1]:
            return Fraction(1)
        return ((rail.low + rail.high) / 2 - self.rails[0].low) / self.panel


def heights(order: Order, system: System, shop: Shop) -> Heights:
    """The heights of a gate or bay. upright = height - ground_clearance; picket = height - picket_allowance, of a gate
    less picket_trim. Along a rake a face is face x sqrt(1 + rake^2) high, measured plumb, and placed to 1 / GRAIN."""
    gate = system.gate if order.kind == "gate" else None
    top, bottom = order.height - system.above_top_rail, system.below_bottom_rail
    over, under = (tall(shop.profiles[name].face, order.slope) for name in (system.top_rail, system.bottom_rail))
    guess = min(order.height * GUESS, (top - bottom - (over or 0) - (under or 0)) / 4)
    rails = [RailLevel("bottom rail", system.bottom_rail, bottom, bottom + (under or guess), under is not None)]
    if system.mid_rail:
        face = tall(shop.profiles[system.mid_rail].face, order.slope) or Fraction(0)
        places = ranks(len(system.mid_rails_at))
        rails += [RailLevel("mid rail", system.mid_rail, at - face / 2, at + face / 2, True, place)
                  for at, place in zip(system.mid_rails_at, places, strict=True)]
    rails.append(RailLevel("top rail", system.top_rail, top - (over or guess), top, over is not None))
    return Heights(
        rails=tuple(rails),
        foot=gate.ground_clearance if gate else Fraction(0),
        top=order.height,
        picket=order.height - system.picket_allowance - (gate.picket_trim if gate else 0),
    )


def tall(face: Fraction | None, rake: Fraction) -> Fraction | None:
    """How high a rail's face is, measured plumb."""
    return None if face is None else along(face, rake, Fraction(1, GRAIN))


def rows(levels: Heights, between: bool) -> list[tuple[str, Fraction, Fraction]]:
    """The rows of pickets from the bottom up: a name where there are more, the lower end and the upper end."""
    if not between or len(levels.rails) == 2:
        low = levels.rails[0].high - levels.seat
        return [("", low, low + levels.picket)]
    pairs = list(zip(levels.rails, levels.rails[1:], strict=False))
    return [(name, under.high - levels.seat, over.low + levels.seat)
            for name, (under, over) in zip(ranks(len(pairs)), pairs, strict=True)]


def ranks(several: int) -> list[str]:
    """Names from the bottom up for what lies one above the other; "" for one alone."""
    if several == 1:
        return [""]
    between = [f"middle {k}" if several > 3 else "middle" for k in range(1, several - 1)]
    return ["lower", *between, "upper"]
