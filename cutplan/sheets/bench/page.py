"""The page of a plan: a summary, then each profile's sticks, then cautions. Made for paper and for a tablet."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.plans.plan import Plan, numbered
from cutplan.plans.records import ProfilePlan, purchases, total
from cutplan.plans.sawtime import lifts_of
from cutplan.sheets.bench.bars import LEGEND
from cutplan.sheets.bench.cards import cards_section
from cutplan.sheets.bench.paper import page_size
from cutplan.sheets.bench.sticks import section
from cutplan.sheets.cautions import ONE_ZERO, saw_cautions
from cutplan.sheets.pages import fractions, page
from cutplan.sheets.sawtime import time_words
from cutplan.sheets.words import Writer, counted, percent
from cutplan.takeoff.cards import Card


def plan_page(plan: Plan, name: str, id_: str, paper: str, cards: Sequence[Card] = ()) -> str:
    """The whole page; `id_` tells a tablet which plan its ticks belong to, `paper` is "letter" or "a4"."""
    write = Writer(plan.unit, plan.tape, plan.currency)
    entries = list(numbered(plan))
    return page(
        "plan.html", title=name, id=id_, size=page_size(paper), length=write.length, summary=summary(plan),
        legend=LEGEND, one_zero=ONE_ZERO, from_rack=from_rack(plan),
        headings=("profile", f"length, {write.unit}", "sticks", "to buy"), new=new_sticks(plan, write),
        profiles=[section(plan, profile, [one for one in entries if one.profile == k], write)
                  for k, profile in enumerate(plan.profiles)],
        cards=cards_section(cards, write), cautions=saw_cautions(plan.unit))


def summary(plan: Plan) -> str:
    """What there is to do, and what is known of it, before the first cut."""
    sticks = sum(stick.count for profile in plan.profiles for stick in profile.sticks)
    pieces = sum(entry.qty for profile in plan.profiles for entry in profile.demand)
    lifts = sum(lifts_of(profile.sticks, plan.stack) for profile in plan.profiles)
    at_once = f" in {counted(lifts, 'lift')} of at most {plan.stack}" if plan.stack > 1 else ""
    return (f"{counted(pieces, 'piece')} from {counted(sticks, 'stick')}{at_once}; "
            f"{percent(total(plan.profiles).waste_percent)} % of what is drawn is not pieces. "
            + known_of_cost(plan.profiles) + time_words(plan))


def known_of_cost(profiles: Sequence[ProfilePlan]) -> str:
    """What is known of the cost of all profiles together."""
    tiers = [profile.tiers[0] for profile in profiles]
    shares = {profile.spare.share for profile in profiles if profile.spare is not None}
    if shares:
        return f"Up to {percent(100 * max(shares))} % more than the least cost may be spared for fewer set-ups."
    if not all(tier.closed for tier in tiers):
        return "A cheaper plan is not ruled out."
    return f"Proven{' by search' * any(tier.by_search for tier in tiers)}: no plan is cheaper."


def from_rack(plan: Plan) -> Sequence[dict[str, object]]:
    """The offcuts to bring from the rack."""
    return [{"tag": stick.tag, "profile": profile.profile, "length": stick.length}
            for profile in plan.profiles for stick in profile.sticks if stick.tag is not None]


def new_sticks(plan: Plan, write: Writer) -> Sequence[tuple[object, ...]]:
    """The new sticks, and how many of them are to be bought."""
    return [(profile.profile, fractions(write.stock(one.length)), one.drawn, one.missing)
            for profile in plan.profiles for one in purchases(profile)]
