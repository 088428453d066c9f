"""Bids and what was cut of plans, into the store and out of it again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.bidding.allowance import Figures, Outcome
from cutplan.bidding.cutting import CutVersions
from cutplan.bidding.drawn import BOOKED, PLANNED, CutOffcut, Drawn, PlanDrawn
from cutplan.bidding.learning import WHOLE_JOB, BidSaid, LearntPlan, ProfileSaid
from cutplan.bidding.needs import StickNumbers
from cutplan.bidding.orders_for import OrderFor, OrdersFor
from cutplan.database import utc_now
from cutplan.lengths import exact_decimal
from cutplan.shop import Shop

HALF = Fraction(50)
ADDED, AGAIN, NOT_BOOKED, TAKEN_BACK = "added", "again", "not booked", "taken back"  # what became of a plan


# ---- bids ----


def bid_of(name: str, job: str, racked: bool, cut: CutVersions, orders: OrdersFor, chance: Fraction, shop: Shop
           ) -> BidSaid:
    """What a bid says of each profile and of the whole job."""
    def at(own: tuple[OrderFor, ...]) -> Mapping[str, StickNumbers]:
        return next(one.sticks for one in own if one.percent == chance)

    parts = [said_of(one.name, one, chance, at(own), shop.profiles[one.name].one_per_stick)
             for one, own in zip(cut.profiles, orders.profiles, strict=True)]
    return BidSaid(name, job, racked, (*parts, said_of(WHOLE_JOB, cut.together, chance, at(orders.together), False)))


def said_of(name: str, one: Figures, chance: Fraction, order: Mapping[str, StickNumbers], turned: bool) -> ProfileSaid:
    def of_net(outcome: Outcome) -> Fraction:
        return outcome.of_net

    nets = [outcome.net for outcome in one.outcomes]
    return ProfileSaid(name, one.mean(lambda outcome: outcome.net), one.enough(of_net, HALF).value, chance,
                one.enough(of_net, chance).value, min(nets), max(nets), order, turned)


def remember_bid(db: sqlite3.Connection, bid: BidSaid, seed: int, versions: int) -> None:
    """Adds a bid to the store; one of the same job that came before counts no more, and stays there."""
    id_ = db.execute("INSERT INTO bids (at, name, seed, versions, job, racked) VALUES (?,?,?,?,?,?)",
                     (utc_now(), bid.name, seed, versions, bid.job, int(bid.racked))).lastrowid
    for one in bid.said:
        db.execute("INSERT INTO said (bid, profile, net, half, chance, enough, least_net, most_net, turned) VALUES "
                   "(?,?,?,?,?,?,?,?,?)", (id_, one.profile, *map(str, (one.net, one.half, one.chance, one.enough)),
                                           said_or_none(one.least), said_or_none(one.most), int(one.turned)))
        rows = [(id_, int(one.profile == WHOLE_JOB), name, exact_decimal(length), number)
                for name, own in (one.order or {}).items() for length, number in own.items() if number]
        db.executemany("INSERT INTO ordered (bid, whole, profile, length, number) VALUES (?,?,?,?,?)", rows)


def said_or_none(number: Fraction | None) -> str | None:
    return None if number is None else str(number)


def all_bids(db: sqlite3.Connection) -> list[BidSaid]:
    """The bids, the last one last."""
    return [BidSaid(row["name"], row["job"], bool(row["racked"]), tuple(
        said_in(db, one) for one in db.execute("SELECT * FROM said WHERE bid = ? ORDER BY profile = '', rowid",
                                               (row["id"],)).fetchall()))
            for row in db.execute("SELECT * FROM bids ORDER BY id").fetchall()]


def said_in(db: sqlite3.Connection, row: sqlite3.Row) -> ProfileSaid:
    net, half, chance, enough = (Fraction(row[key]) for key in ("net", "half", "chance", "enough"))
    if row["least_net"] is None or row["most_net"] is None:
        return ProfileSaid(row["profile"], net, half, chance, enough)
    order: dict[str, dict[Fraction, int]] = {}
    whole = row["profile"] == WHOLE_JOB
    for one in db.execute("SELECT profile, length, number FROM ordered WHERE bid = ? AND whole = ? ORDER BY rowid",
                          (row["bid"], int(whole))):
        if whole or one["profile"] == row["profile"]:
            order.setdefault(one["profile"], {})[Fraction(one["length"])] = one["number"]
    return ProfileSaid(row["profile"], net, half, chance, enough, Fraction(row["least_net"]),
                       Fraction(row["most_net"]), order, bool(row["turned"]))


# ---- plans ----


def other_jobs(db: sqlite3.Connection, plans: Iterable[PlanDrawn]) -> dict[str, str]:
    """Of plans that are now for another job than they were learnt for before, that one, by fingerprint."""
    rows = {row["plan"]: row["job"] for row in db.execute("SELECT plan, job FROM plans")}
    return {one.plan: before for one in plans if one.job and (before := rows.get(one.plan, "")) not in ("", one.job)}


def remember_plan(db: sqlite3.Connection, plan: PlanDrawn) -> str:
    """What was cut of a plan takes the place of what was known of it; a job that was said stays where none is now.

    Of a plan of which nothing is booked nothing is noted down; one whose bookings were taken back is taken out. What
    was learnt otherwise stays. Gives what became of it.
    """
    before = db.execute("SELECT job, how FROM plans WHERE plan = ?", (plan.plan,)).fetchone()
    said = AGAIN if before else ADDED
    if not plan.begun:
        said = TAKEN_BACK if before and before["how"] == BOOKED else NOT_BOOKED
    if plan.begun or said == TAKEN_BACK:
        for name in ("drawn", "sticks", "week"):
            db.execute(f"DELETE FROM {name} WHERE plan = ?", (plan.plan,))
    if said == TAKEN_BACK:
        db.execute("DELETE FROM wasted WHERE plan = ?", (plan.plan,))
        db.execute("DELETE FROM plans WHERE plan = ?", (plan.plan,))
    if plan.begun:
        job = plan.job or (before["job"] if before else "")
        db.execute("INSERT INTO plans (plan, at, name, job, how) VALUES (?,?,?,?,?) ON CONFLICT (plan) DO UPDATE SET "
                   "at = excluded.at, name = excluded.name, job = excluded.job, how = excluded.how",
                   (plan.plan, utc_now(), plan.name, job, plan.how))
        for one in plan.profiles:
            write_drawn(db, plan.plan, one)
    elif before and plan.job and said != TAKEN_BACK:
        db.execute("UPDATE plans SET job = ? WHERE plan = ?", (plan.job, plan.plan))
    write_week(db, plan)
    return said


def write_drawn(db: sqlite3.Connection, plan: str, one: Drawn) -> None:
    db.execute("INSERT INTO drawn (plan, profile, net, kept) VALUES (?,?,?,?)",
               (plan, one.profile, exact_decimal(one.net), exact_decimal(one.kept)))
    rows: list[tuple[object, ...]] = [(plan, one.profile, exact_decimal(length), number, None, "")
                                      for length, number in one.new.items()]
    rows += [(plan, one.profile, exact_decimal(cut.length), 1, cut.tag, cut.kept_by) for cut in one.offcuts]
    db.executemany("INSERT INTO sticks (plan, profile, length, number, tag, kept_by) VALUES (?,?,?,?,?,?)", rows)


def write_week(db: sqlite3.Connection, plan: PlanDrawn) -> None:
    """What is known now of each plan of the same week that was learnt."""
    for one in plan.week:
        if db.execute("SELECT 1 FROM plans WHERE plan = ?", (one.plan,)).fetchone():
            db.execute("UPDATE plans SET unfinished = ? WHERE plan = ?", (int(one.unfinished), one.plan))
            db.execute("DELETE FROM week WHERE plan = ?", (one.plan,))
            db.executemany("INSERT INTO week (plan, other, name) VALUES (?,?,?)",
                           [(one.plan, other.plan, other.name) for other in plan.week if other.plan != one.plan])


def all_plans(db: sqlite3.Connection) -> list[LearntPlan]:
    """The plans of which it is known what was cut."""
    found = []
    for row in db.execute("SELECT * FROM plans WHERE how != ? ORDER BY rowid", (PLANNED,)).fetchall():
        profiles = tuple(drawn_in(db, row["plan"], one) for one in db.execute(
            "SELECT * FROM drawn WHERE plan = ? ORDER BY rowid", (row["plan"],)).fetchall())
        others = db.execute("SELECT other, name FROM week WHERE plan = ? ORDER BY rowid", (row["plan"],)).fetchall()
        found.append(LearntPlan(PlanDrawn(row["plan"], row["name"], row["job"], row["how"], profiles, ()),
                                bool(row["unfinished"]), tuple((one["other"], one["name"]) for one in others)))
    return found


def drawn_in(db: sqlite3.Connection, plan: str, row: sqlite3.Row) -> Drawn:
    new: dict[Fraction, int] = {}
    offcuts = []
    for one in db.execute("SELECT * FROM sticks WHERE plan = ? AND profile = ? ORDER BY rowid", (plan, row["profile"])):
        if one["tag"] is None:
            new[Fraction(one["length"])] = one["number"]
        else:
            offcuts.append(CutOffcut(one["tag"], Fraction(one["length"]), one["kept_by"]))
    return Drawn(row["profile"], Fraction(row["net"]), Fraction(row["kept"]), new, tuple(offcuts))


@dataclass(frozen=True)
class LearntBefore:
    """One profile of a plan that was learnt as it was planned, before it was asked what of it was cut."""

    name: str
    job: str
    profile: str
    net: Fraction
    waste: Fraction
    kept: Fraction


def all_before(db: sqlite3.Connection) -> list[LearntBefore]:
    rows = db.execute("SELECT name, job, profile, net, waste, kept FROM wasted JOIN plans USING (plan) WHERE how = ? "
                      "ORDER BY wasted.rowid", (PLANNED,))
    return [LearntBefore(*row[:3], *map(Fraction, row[3:])) for row in rows.fetchall()]
