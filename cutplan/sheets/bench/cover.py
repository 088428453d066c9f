"""The cover of a packet: whose it is, which plan, what it takes the place of, what to do and what to fetch for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from cutplan.plans.numbers import stretches
from cutplan.plans.plan import Numbered, Plan, numbered
from cutplan.plans.records import ProfilePlan, purchases, total
from cutplan.plans.sawtime import lifts_of
from cutplan.sheets.pages import fractions
from cutplan.sheets.sawtime import time_words
from cutplan.sheets.words import Writer, counted, percent, weeks_words

ON_PAPER = 4  # characters of it on paper: enough to tell the plans of a week apart


@dataclass(frozen=True)
class Packet:
    """What is printed together.

    id:    the fingerprint of its plan
    made:  the day on which it was made, as written ("": not said)
    paper: "letter" or "a4"
    only:  the profiles whose sticks it has, for one saw of several (none: all of them)
    """

    id: str
    made: str
    paper: str
    only: tuple[str, ...] = ()

    @property
    def short_id(self) -> str:
        return self.id[:ON_PAPER]

    def has(self, profile: str) -> bool:
        return not self.only or profile in self.only


@dataclass(frozen=True)
class Cover:
    """What the template shows; `new` are the sticks to pull and `fetch` the offcuts."""

    shop: str
    lines: list[str]
    headings: tuple[str, ...]
    new: Sequence[tuple[object, ...]]
    fetch: Sequence[tuple[str, str, Fraction]]


def running_head(plan: Plan, packet: Packet) -> str:
    """What stands on every page."""
    made = f"made {packet.made}" if packet.made else ""
    return " \u00b7 ".join(filter(None, (plan.shop, weeks_words(plan.weeks), made, f"plan {packet.short_id}")))


def cover(plan: Plan, packet: Packet, write: Writer) -> Cover:
    entries = [one for one in numbered(plan) if packet.has(plan.profiles[one.profile].profile)]
    week = weeks_words(plan.weeks)
    lines = [which(week, packet), *replaced(plan), summary(plan, packet, entries)]
    headings = ("profile", f"length, {write.unit}", "sticks", "to buy")
    return Cover(plan.shop or week or "Sheets to cut from", lines, headings, new_sticks(plan, packet, write),
                 from_rack(plan, entries))


def which(week: str, packet: Packet) -> str:
    """Which week and plan it is, and which part of it."""
    made = f"{', ' if week else ''}made on {packet.made}" if packet.made else ""
    part = (f" This packet is for one saw: {', '.join(packet.only)} alone. The numbers of its sticks are on no other "
            "saw's." if packet.only else "")
    begun = f"{week}{made}. " if week else f"{made.capitalize()}. " if made else ""
    return f"{begun}Plan {packet.short_id}.{part}"


def replaced(plan: Plan) -> list[str]:
    """Which papers no longer hold."""
    return [f"It replaces plan {one.plan[:ON_PAPER]}"
            f"{f' from stick {one.after + 1} on' if one.after else ''}: take those papers away from the saw."
            for one in plan.replaces]


def summary(plan: Plan, packet: Packet, entries: Sequence[Numbered]) -> str:
    """What there is to do, and what is known of it, before the first cut."""
    if plan.why_empty:
        return f"No stick is to be cut: {plan.why_empty}."
    profiles = [profile for profile in plan.profiles if packet.has(profile.profile)]
    sticks = sum(one.stick.count for one in entries)
    pieces = sum(one.stick.count * len(one.stick.cuts) for one in entries)
    setups = sum(profile.totals.patterns for profile in profiles)
    lifts = sum(lifts_of(profile.sticks, plan.stack) for profile in profiles)
    at_once = f" in {counted(lifts, 'lift')} of at most {plan.stack}" if min(plan.stack, sticks) > 1 else ""
    every = chain.from_iterable(range(one.first, one.last + 1) for one in entries)
    numbers = f"numbers {', '.join(stretches(every))}, " if sticks > 1 else ""
    return (f"{counted(pieces, 'piece')} from {counted(sticks, 'stick')}{at_once} ({numbers}"
            f"{counted(setups, 'set-up')}); {percent(total(profiles).waste_percent)} % of what is drawn is not pieces. "
            + known_of_cost(profiles)
            + time_words(replace(plan, profiles=tuple(profiles))))


def known_of_cost(profiles: Sequence[ProfilePlan]) -> str:
    """What is known of the cost of all profiles together."""
    tiers = [profile.tiers[0] for profile in profiles]
    if shares := {profile.spare.share for profile in profiles if profile.spare is not None}:
        return f"Up to {percent(100 * max(shares))} % more than the least cost may be spared for fewer set-ups."
    if not all(tier.closed for tier in tiers):
        return "A cheaper plan is not ruled out."
    return f"Proven{' by search' * any(tier.by_search for tier in tiers)}: no plan is cheaper."


def from_rack(plan: Plan, entries: Sequence[Numbered]) -> Sequence[tuple[str, str, Fraction]]:
    """The offcuts to bring from the rack: tag, profile and length."""
    return [(one.stick.tag, plan.profiles[one.profile].profile, one.stick.length)
            for one in entries if one.stick.tag is not None]


def new_sticks(plan: Plan, packet: Packet, write: Writer) -> Sequence[tuple[object, ...]]:
    """The new sticks to pull, and how many of them are to be bought."""
    return [(profile.profile, fractions(write.stock(one.length)), one.drawn, one.missing)
            for profile in plan.profiles if packet.has(profile.profile) for one in purchases(profile)]
