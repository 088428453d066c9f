"""Reminders of published code limits, printed where an opening comes near one. They decide nothing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cache
from itertools import chain, pairwise

from cutplan.orders import Order
from cutplan.shop.codes import MM_PER_INCH, CodeLimit
from cutplan.shop.systems import RAILS
from cutplan.takeoff.assembly import Outline, Part, of_kind
from cutplan.takeoff.hanging import gaps_beside
from cutplan.takeoff.pickets import PicketLayout
from cutplan.takeoff.words import say

ENDING = "Local codes and licensed practice decide."
OUT = {
    "gap": "; the widest gap here is not within that",
    "space below": "; the space below here is not within that",
    "height": "; the height here is less",
}

Inspected = Mapping[str, Fraction | None]


def figures(order: Order, below: Fraction, parts: Sequence[Part], squared: Sequence[Outline], hidden: Fraction
            ) -> Inspected:
    """What the limits are of; "rail tops" is None where the shop file does not give the faces of the rails, and "space
    below" along a rake, where the triangle at the steps counts instead. `hidden` is how much of each rail end an
    upright or a post hides."""
    beside = gaps_beside(order.opening, order.opening_bottom, squared) if order.kind == "gate" else ()
    gap = max(chain(between_faces(parts, hidden), chain.from_iterable(beside)))
    rails = of_kind(parts, *RAILS)
    tops = sorted({rail.high for rail in rails})
    known = all(rail.sized for rail in rails if rail.part != "top rail")
    apart = min((over - under for under, over in pairwise(tops)), default=None)
    return {"gap": gap, "space below": None if order.slope else below, "height": order.height,
            "rail tops": apart if known else None}


def between_faces(parts: Sequence[Part], hidden: Fraction) -> Iterator[Fraction]:
    """The widest gap between the pickets of each leaf or bay, and the gaps at both ends of the top and bottom rail, to
    the uprights or posts."""
    rows: dict[int, Part] = {}  # those above one another stand alike
    for picket in of_kind(parts, "picket"):
        rows.setdefault(picket.leaf, picket)
    for row in rows.values():
        if row.count > 1:
            yield max(after - before for before, after in pairwise(row.shifts)) - (row.right - row.left)
    for rail in of_kind(parts, "top rail", "bottom rail"):
        left, right = rail.left + hidden, rail.right - hidden
        if rail.leaf in rows:
            row = rows[rail.leaf]
            yield from (row.left - left, right - row.right - row.shifts[-1])
        else:
            yield right - left


def reminders(kind: str, found: Inspected, layout: PicketLayout, max_gap: Fraction, limits: Iterable[CodeLimit],
              unit: str) -> tuple[str, ...]:
    """The reminders for one gate, bay or raked bay (`kind`: "gate", "bay", "rake"). Lengths in `unit`, "in" or "mm"
    (1 in = 25.4 mm exactly).

    A routed rail's gap between pickets is the maker's, whatever the system's `max_gap`: it is spoken of too.
    """
    inch = MM_PER_INCH if unit == "mm" else Fraction(1)
    inches = {name: None if value is None else value / inch for name, value in found.items()}
    lines = [in_words(limit, found, unit) for limit in limits if is_near(limit, kind, inches)]
    if layout.centred != "gap" and layout.count > 1 and layout.gap > max_gap:
        lines.append(
            f"The holes of the rail leave {say(layout.gap, unit)} between pickets, more than the system's "
            f"widest gap of {say(max_gap, unit)}. {ENDING}"
        )
    return tuple(lines)


def in_words(limit: CodeLimit, found: Inspected, unit: str) -> str:
    """The reminder as printed, its figures in the shop's unit."""
    known = ", figures not checked against its text" if limit.known else ""
    words = in_unit(limit.words, unit)
    return f"Reminder ({limit.source}{known}): {words}{standing(limit, found, unit)}. {ENDING}"


@cache
def in_unit(words: str, unit: str) -> str:
    """Words of a limit with every number of inches in the shop's unit: in millimetres as published, or else converted,
    which is said."""
    def figure(found: re.Match[str]) -> str:
        inches, published = Fraction(found[1]), found[2]
        if unit == "in":
            return say(inches, unit)
        return f"{published} mm" if published else f"{say(inches * MM_PER_INCH, unit)} (exactly {say(inches, 'in')})"

    return re.sub(r"{([^|}]+)\|?([^}]*)}", figure, words)


def is_near(limit: CodeLimit, kind: str, inches: Inspected) -> bool:
    measured = inches[limit.measure]
    near = limit.near.get(kind, limit.near.get("bay") if kind == "rake" else None)
    if near is None or measured is None:
        return False
    low, high = near
    if limit.tops is not None:
        apart, (least, most) = inches["rail tops"], limit.tops
        if apart is not None and (apart < least or (most is not None and apart >= most)):
            return False
    return low <= measured and (high is None or measured <= high)


def standing(limit: CodeLimit, found: Inspected, unit: str) -> str:
    """Where this opening is beyond the limit, the words that say so."""
    measured, value = found[limit.of] if limit.of else None, limit.stands_at(unit)
    if measured is None or (limit.tops is not None and found["rail tops"] is None):
        return ""
    beyond = value - measured if limit.least else measured - value
    return OUT[limit.of] if beyond > 0 or (limit.strict and beyond == 0) else ""
