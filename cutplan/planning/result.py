"""What solving comes to: the plan, what is proven of it, and its figures as tables."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from cutplan.lengths import exact_decimal
from cutplan.planning.centring import Chosen
from cutplan.plans.plan import Plan
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff

if TYPE_CHECKING:
    import pandas as pd

WORSE = ("proven", "search", "gap")  # how a bound stands, the best first
STANDS = {"proven": "proven", "search": "proven by search", "gap": "not proven"}


@dataclass(frozen=True)
class Result:
    """An audited plan and what it was made of. Lengths in `plan.unit`, money in `plan.currency`; both exact.

    Attributes
    ----------
    plan
        The plan as `cutplan cut --json` writes it.
    shop
        The shop whose stock it cuts, offcuts of the rack included where one was given.
    takeoff
        The pieces, and a card for each gate and bay.
    centring
        How rails were centred that were free; None where none was, or no time was left to compare.
    seconds
        How long it took.
    stopped
        Whether it was stopped before its time.
    """

    plan: Plan
    shop: Shop
    takeoff: Takeoff
    centring: Chosen | None
    seconds: float
    stopped: bool

    @property
    def cost(self) -> Fraction:
        """What the new sticks of all profiles cost."""
        return sum((profile.totals.cost for profile in self.plan.profiles), Fraction(0))

    @property
    def bound(self) -> Fraction:
        """What no plan for these pieces costs less than; it rests on a search where `status` says so."""
        return sum((profile.tiers[0].bound for profile in self.plan.profiles), Fraction(0))

    @property
    def status(self) -> str:
        """Of the cost of all profiles: "proven" by what the plan file holds, by "search", or "gap"."""
        return max((profile.tiers[0].status for profile in self.plan.profiles), key=WORSE.index, default="proven")

    def is_proven(self) -> bool:
        """Whether the plan itself proves, as `check` would, that none is cheaper."""
        return self.status == "proven"

    def summary(self) -> str:
        """One screen: what each profile takes and costs, and what is proven."""
        head = f"cost {exact_decimal(self.cost)} {self.plan.currency}".rstrip()
        bound = "" if self.status != "gap" else f", no plan costs less than {exact_decimal(self.bound)}"
        rows = [("profile", "sticks", "cost", "waste %", "set-ups", "cost is")]
        rows += [(one.profile, str(sum(stick.count for stick in one.sticks)), exact_decimal(one.totals.cost),
                  f"{float(one.totals.waste_percent):.2f}", str(one.totals.patterns), STANDS[one.tiers[0].status])
                 for one in self.plan.profiles]
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        table = ("  ".join([row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in
                                                       zip(row[1:], widths[1:], strict=True))]) for row in rows)
        ended = "stopped" if self.stopped else "done"
        return "\n".join([f"{head}: {STANDS[self.status]}{bound}", *table, f"{ended} after {self.seconds:.1f} s"])

    def sticks(self) -> pd.DataFrame:
        """One row for each entry of sticks cut alike; see `cutplan.planning.frames.sticks`."""
        from cutplan.planning import frames

        return frames.sticks(self.plan)

    def cuts(self) -> pd.DataFrame:
        """One row for each cut of each entry; see `cutplan.planning.frames.cuts`."""
        from cutplan.planning import frames

        return frames.cuts(self.plan)

    def purchases(self) -> pd.DataFrame:
        """One row for each length and price of new sticks; see `cutplan.planning.frames.purchases`."""
        from cutplan.planning import frames

        return frames.purchases(self.plan)

    def by_opening(self) -> pd.DataFrame:
        """One row for each gate, bay or mark and profile; see `cutplan.planning.frames.by_opening`."""
        from cutplan.planning import frames

        return frames.by_opening(self.plan)
