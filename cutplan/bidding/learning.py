"""What finished plans really wasted, beside what bids had said. The correction is shown and never applied."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.bidding.allowance import Outcome
from cutplan.bidding.cutting import CutVersions
from cutplan.database import utc_now
from cutplan.plans.plan import Plan, identity
from cutplan.plans.records import waste_percent

HALF = Fraction(50)


@dataclass(frozen=True)
class Wasted:
    """One profile in one plan. Lengths in the plan's unit; `waste` with what is kept."""

    profile: str
    net: Fraction
    waste: Fraction
    kept: Fraction

    @property
    def of_net(self) -> Fraction:
        return waste_percent(self.waste, self.net)


@dataclass(frozen=True)
class BidSaid:
    """What one bid said of a profile, in % of net: enough in `half` of the jobs, and `enough` in `chance` of 100."""

    profile: str
    net: Fraction
    half: Fraction
    chance: Fraction
    enough: Fraction


@dataclass(frozen=True)
class Lesson:
    """A profile's plans beside its bids. Percentages of the net length, the longer jobs counting for more.

    `net` is all plans', `bid_net` all bids'. `really`: waste of all plans; `said`: what the bids called enough in half
    of the jobs (None: no bid). The correction is the one less the other, in points. `held`: in how many plans what the
    last bid called enough was enough.
    """

    profile: str
    plans: int
    net: Fraction
    really: Fraction
    least: Fraction
    most: Fraction
    bids: int
    bid_net: Fraction
    said: Fraction | None
    last: BidSaid | None
    held: int

    @property
    def correction(self) -> Fraction | None:
        return None if self.said is None else self.really - self.said


def wasted(plan: Plan) -> list[Wasted]:
    return [Wasted(one.profile, one.totals.pieces, one.totals.drawn - one.totals.pieces, one.totals.kept)
            for one in plan.profiles]


def said_by(cut: CutVersions, chance: Fraction) -> list[BidSaid]:
    """What a bid says of each profile."""
    def of_net(one: Outcome) -> Fraction:
        return one.of_net

    return [BidSaid(one.name, one.mean(lambda outcome: outcome.net), one.enough(of_net, HALF).value, chance,
                 one.enough(of_net, chance).value) for one in cut.profiles]


def remember_bid(db: sqlite3.Connection, name: str, seed: int, cut: CutVersions, chance: Fraction) -> None:
    """Adds a bid to the store."""
    bid = db.execute("INSERT INTO bids (at, name, seed, versions) VALUES (?,?,?,?)",
                     (utc_now(), name, seed, cut.done)).lastrowid
    db.executemany("INSERT INTO said (bid, profile, net, half, chance, enough) VALUES (?,?,?,?,?,?)",
                   [(bid, one.profile, *map(str, (one.net, one.half, one.chance, one.enough)))
                    for one in said_by(cut, chance)])


def remember_plan(db: sqlite3.Connection, name: str, plan: Plan) -> bool:
    """Adds a plan to the store; False where it is there already, under whatever name."""
    key = identity(plan)
    if db.execute("SELECT 1 FROM plans WHERE plan = ?", (key,)).fetchone():
        return False
    db.execute("INSERT INTO plans (plan, at, name) VALUES (?,?,?)", (key, utc_now(), name))
    db.executemany("INSERT INTO wasted (plan, profile, net, waste, kept) VALUES (?,?,?,?,?)",
                   [(key, one.profile, *map(str, (one.net, one.waste, one.kept))) for one in wasted(plan)])
    return True


def all_wasted(db: sqlite3.Connection) -> list[Wasted]:
    rows = db.execute("SELECT profile, net, waste, kept FROM wasted JOIN plans USING (plan) ORDER BY wasted.rowid")
    return [Wasted(row[0], *map(Fraction, row[1:])) for row in rows.fetchall()]


def all_said(db: sqlite3.Connection) -> list[BidSaid]:
    """What bids said, the last one last."""
    rows = db.execute("SELECT profile, net, half, chance, enough FROM said ORDER BY rowid")
    return [BidSaid(row[0], *map(Fraction, row[1:])) for row in rows.fetchall()]


def lessons(found: Sequence[Wasted], bids: Sequence[BidSaid]) -> tuple[Lesson, ...]:
    """One for each profile that a plan has."""
    names = dict.fromkeys(one.profile for one in found)
    return tuple(lesson(name, [one for one in found if one.profile == name],
                        [one for one in bids if one.profile == name]) for name in names)


def lesson(name: str, found: Sequence[Wasted], bids: Sequence[BidSaid]) -> Lesson:
    net = sum((one.net for one in found), Fraction(0))
    waste = sum((one.waste for one in found), Fraction(0))
    bid_net = sum((one.net for one in bids), Fraction(0))
    said = sum((one.net * one.half for one in bids), Fraction(0)) / bid_net if bid_net else None
    last = bids[-1] if bids else None
    return Lesson(
        profile=name, plans=len(found), net=net, really=waste_percent(waste, net),
        least=min(one.of_net for one in found), most=max(one.of_net for one in found), bids=len(bids),
        bid_net=bid_net, said=said,
        last=last, held=sum(one.of_net <= last.enough for one in found) if last else 0)
