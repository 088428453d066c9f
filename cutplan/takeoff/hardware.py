"""What is screwed on: counted off the placed parts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.shop import Hardware
from cutplan.shop.systems import RAILS
from cutplan.takeoff.assembly import Part, of_kind


@dataclass(frozen=True)
class Fitting:
    """So many of one thing for one gate or bay, `each` of them for each thing that `per` names; `price` is for one
    (None: not said). `pilot` and `note` as written."""

    name: str
    count: int
    each: int
    per: str
    price: Fraction | None = None
    pilot: str = ""
    note: str = ""


@dataclass(frozen=True)
class FittingTotal:
    """So many of one thing in all, and what they cost (None: some have no price)."""

    name: str
    count: int
    amount: Fraction | None


def fittings(kind: str, panels: int, parts: Sequence[Part], hardware: Iterable[Hardware]) -> tuple[Fitting, ...]:
    """The hardware of one gate, bay or run (`kind`) of so many leaves or bays; what it has none of is left out."""
    things = {
        "gate": int(kind == "gate"), "leaf": panels if kind == "gate" else 0, "bay": 0 if kind == "gate" else panels,
        "rail end": 2 * sum(one.count for one in of_kind(parts, *RAILS)),
        "picket": sum(one.count for one in of_kind(parts, "picket")),
        "post": sum(one.count for one in of_kind(parts, "post")), "run": int(kind == "run"),
    }  # fmt: skip
    return tuple(Fitting(one.name, one.qty * things[one.per], one.qty, one.per, one.price, one.pilot, one.note)
                 for one in hardware if things[one.per])


def totals(counted: Iterable[tuple[int, Iterable[Fitting]]]) -> tuple[FittingTotal, ...]:
    """Of (how many gates or bays, what is on each): all of one name together, in the order in which they come."""
    counts: dict[str, int] = {}
    amounts: dict[str, Fraction | None] = {}
    for qty, found in counted:
        for one in found:
            counts[one.name] = counts.get(one.name, 0) + qty * one.count
            before = amounts.get(one.name, Fraction(0))
            amounts[one.name] = None if before is None or one.price is None else before + qty * one.count * one.price
    return tuple(FittingTotal(name, count, amounts[name]) for name, count in counts.items())
