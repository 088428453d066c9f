"""The pieces that were cut in a week and lie in hand: booked with their sticks, and changed where an opening was."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.ends import ends_in, lies_of
from cutplan.lengths import exact_decimal, factor
from cutplan.plans.plan import Numbered, Plan
from cutplan.rack.store import Rack


@dataclass(frozen=True)
class InHand:
    """A piece that was cut: under which mark, for which gate or bay, and how it lies (see `cutplan.ends`)."""

    profile: str
    mark: str
    for_: str
    length: Fraction
    lies: str

    def by(self, outward: Fraction) -> InHand:
        """The same in another unit."""
        left, right = ends_in(self.lies)
        lies = lies_of("", left * outward, right * outward) if left or right else self.lies
        return replace(self, length=self.length * outward, lies=lies)


def cut_from(plan: Plan, entries: Iterable[Numbered]) -> Counter[InHand]:
    """The pieces of some sticks, in the plan's unit."""
    found: Counter[InHand] = Counter()
    for one in entries:
        profile = plan.profiles[one.profile]
        gates = {entry.mark: entry.for_ for entry in profile.demand}
        for cut in one.stick.cuts:
            lies = lies_of(cut.centred, *cut.asked_ends)
            found[InHand(profile.profile, cut.mark, gates.get(cut.mark, ""), cut.length, lies)] += one.stick.count
    return found


def write(rack: Rack, booking: int, pieces: Counter[InHand], unit: str) -> None:
    """Notes down the pieces of a booking; fewer than none of those that it takes away or makes others of."""
    inward = factor(unit, rack.unit)
    rack.many("INSERT INTO pieces (booking, profile, mark, for_, length, lies, qty) VALUES (?,?,?,?,?,?,?)",
              [(booking, one.profile, one.mark, one.for_, exact_decimal(one.length), one.lies, qty)
               for kind, qty in pieces.items() if qty for one in [kind.by(inward)]])


def in_hand(rack: Rack, plans: Iterable[str], unit: str) -> Counter[InHand]:
    """What was cut for some plans and is not taken back or made something else of, in a unit."""
    outward = factor(rack.unit, unit)
    found: Counter[InHand] = Counter()
    for plan in plans:
        for row in rack.all("SELECT pieces.* FROM pieces JOIN bookings ON bookings.id = booking WHERE plan = ? AND "
                            "undone IS NULL ORDER BY pieces.rowid", plan):
            found[InHand(row["profile"], row["mark"], row["for_"], Fraction(row["length"]), row["lies"])] += row["qty"]
    return Counter({one.by(outward): qty for one, qty in found.items() if qty})


def unknown(rack: Rack, plans: Iterable[str]) -> list[str]:
    """The plans that sticks were booked of before their pieces were noted down, by name."""
    return [row["name"] for plan in plans for row in rack.all(
        "SELECT DISTINCT name FROM bookings WHERE plan = ? AND undone IS NULL AND id NOT IN (SELECT booking FROM "
        "pieces) AND id IN (SELECT booking FROM booked WHERE good IS NULL)", plan)]
