"""A profile's stock as the cutter sees it: how much each stick holds, what it costs, and how many there are.

A new rule of the stock that changes what fits on a stick belongs here.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.cutting.arrangement.protocol import Arranger, Asked
from cutplan.cutting.patterns import StickType
from cutplan.lengths import exact_decimal
from cutplan.problems import NoPlan
from cutplan.shop import Profile, Stock


def kinds_of_stock(profile: Profile, arranger: Arranger) -> list[tuple[Stock, ...]]:
    """The entries there are any of, those that are alike for the cutter together; longest first, offcuts before new."""
    groups: dict[tuple[Fraction, Fraction, bool, tuple[Fraction, ...], tuple[Fraction, Fraction]], list[Stock]] = {}
    for entry in profile.stock:
        if entry.qty == 0 and not sold_out(profile, entry):
            continue
        own = tuple(arranger.told(entry).values())
        key = -entry.length, entry.price, entry.tag is None, own, profile.trims(entry)
        groups.setdefault(key, []).append(entry)
    return [tuple(groups[key]) for key in sorted(groups)]


def sold_out(profile: Profile, entry: Stock) -> bool:
    """Whether these are blanks of which none is left: what is missing may have to be of just their length."""
    return profile.one_per_stick and entry.qty == 0 and entry.tag is None


def available(group: Sequence[Stock]) -> int | None:
    """How many sticks of a kind there are (None: any number)."""
    if any(entry.qty is None for entry in group):
        return None
    return sum(entry.qty or 0 for entry in group)


def stick_type(profile: Profile, arranger: Arranger, entry: Stock, there: int | None, unit: Fraction, coin: Fraction,
               block: int) -> StickType:
    """A kind of stick in whole units and coins; `block` is added to what it holds, as to every size (see instance)."""
    keep, length, head = profile.keep_from, int(entry.length / unit), int(profile.trims(entry)[0] / unit)
    if profile.sawn_last(entry):  # it is laid so only where it is cut to its end, and then nothing of it is kept
        head = 0
    capacity = int(profile.longest_piece(entry) / unit) + int(profile.kerf / unit) + block
    keeps = keep is not None and not profile.one_per_stick and length - head > keep / unit
    return StickType(
        length=length,
        capacity=capacity,
        head=head,
        cost=int(entry.price / coin),
        available=there,
        keep_fill=min(capacity, length - head - int(keep / unit)) if keeps and keep is not None else None,
        ends=arranger.ends(entry, unit),
    )


def refuse_length(profile: Profile, arranger: Arranger, asked: Sequence[Asked], stock: Sequence[Sequence[Stock]]
                  ) -> None:
    """Raises NoPlan for all pieces that are too long for every stick, or too short for all blanks that yield them."""
    longest = max((profile.longest_piece(group[0]) for group in stock), default=Fraction(0))
    too_long = (f"longer than {exact_decimal(longest)}, the longest piece that any stick here yields" if longest else
                "the stock runs out: no stick can be had, as it is sold")
    faults = {too_long: [one for one in asked if arranger.reaches(one) > longest]}
    if profile.one_per_stick and (most := profile.most_trim) is not None:
        faults["every blank that is long enough would lose more at each end than most_trim allows, "
               + exact_decimal(most)] = [one for one in asked if one[0] <= longest and all(
                   group[0].length > one[0] + 2 * most for group in stock if profile.longest_piece(group[0]) >= one[0])]
    told = [f"{profile.name}: {', '.join(dict.fromkeys(map(arranger.called, those)))}: {fault}"
            for fault, those in faults.items() if those]
    if told:
        raise NoPlan("\n".join(told))
