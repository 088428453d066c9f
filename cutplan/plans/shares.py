"""What a finished plan wastes on each gate and bay, and how long each keeps the saw busy: the waste and the minutes of
a stick shared out among its pieces by their length.

Exact, so that the shares add up to the plan's own totals to the last fraction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, waste_percent
from cutplan.plans.sawtime import amount, minutes_of_sticks

ShareKey = tuple[str, str]


@dataclass(frozen=True)
class Share:
    """What falls on the gate or bay `for_` (or on a mark that is for none) of a profile ("": of all together).

    `waste` is all that is drawn and is no piece, `kept` the part of it that goes to the rack. Lengths in the plan's
    unit, `kept_worth` is what was paid for what is kept; `cost` and the money for the `minutes` at the saw,
    `sawing`, in its currency (0 where none are known).
    """

    for_: str
    profile: str
    net: Fraction
    waste: Fraction
    kept: Fraction
    cost: Fraction
    minutes: Fraction = Fraction(0)
    sawing: Fraction = Fraction(0)
    kept_worth: Fraction = Fraction(0)

    @property
    def of_net(self) -> Fraction:
        return waste_percent(self.waste, self.net)

    @property
    def of_bought(self) -> Fraction:
        return waste_percent(self.waste, self.net + self.waste)


def shares(plan: Plan) -> tuple[Share, ...]:
    """A share for each profile of each gate and bay, in the order they are asked for."""
    return tuple(share for profile in plan.profiles for share in shares_of(plan, profile))


def shares_of(plan: Plan, profile: ProfilePlan) -> list[Share]:
    """The shares of one profile; they add up to its totals."""
    owners = {entry.mark: entry.for_ or entry.mark for entry in profile.demand}
    sums = {owner: [Fraction(0)] * 7 for owner in owners.values()}
    times = minutes_of_sticks(plan, profile)
    for s, stick in enumerate(profile.sticks):
        pieces = sum((cut.middle for cut in stick.cuts), Fraction(0))
        minutes = times[s] if times else Fraction(0)
        sawing = (plan.saw and amount(plan.saw, minutes)) or Fraction(0)
        for cut in stick.cuts:
            part = stick.count * cut.middle / pieces
            price = stick.price if stick.source == "new" else Fraction(0)
            kept = stick.offcut if stick.keep else Fraction(0)
            mine = sums[owners[cut.mark]]
            for k, whole in enumerate((pieces, stick.length - pieces, kept, price, minutes, sawing,
                                       price * kept / stick.length)):
                mine[k] += part * whole
    return [Share(owner, profile.profile, *amounts) for owner, amounts in sums.items()]


def by_owner(found: Sequence[Share]) -> tuple[Share, ...]:
    """The shares of each gate and bay with its profiles together."""
    owners = dict.fromkeys(share.for_ for share in found)
    return tuple(together(owner, [share for share in found if share.for_ == owner]) for owner in owners)


def together(name: str, found: Sequence[Share]) -> Share:
    parts = ((share.net, share.waste, share.kept, share.cost, share.minutes, share.sawing, share.kept_worth)
             for share in found)
    return Share(name, "", *(sum(part, Fraction(0)) for part in zip(*parts, strict=True)))
