"""The packet of a plan: cover, sticks of each profile, cards, packing list. Made for paper and for a tablet."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.plans.plan import Plan, numbered
from cutplan.sheets.bench.bars import CORNER_WORDS, LEGEND
from cutplan.sheets.bench.cards import cards_section
from cutplan.sheets.bench.cover import Packet, cover, running_head
from cutplan.sheets.bench.packing import packing
from cutplan.sheets.bench.paper import page_size
from cutplan.sheets.bench.sticks import section
from cutplan.sheets.cautions import AT_THE_SAW, ONE_ZERO
from cutplan.sheets.pages import page
from cutplan.sheets.slopes import SLOPE_WORDS
from cutplan.sheets.words import Writer, weeks_words
from cutplan.takeoff.cards import Card


def packet_page(plan: Plan, packet: Packet, cards: Sequence[Card] = ()) -> str:
    """The whole packet; that of one saw of several has sticks alone, as a gate's pieces come from all of them."""
    write = Writer(plan.unit, plan.tape, plan.currency)
    entries = list(numbered(plan))
    whole = not packet.only
    return page(
        "packet.html", title=weeks_words(plan.weeks) or "sheets", head=running_head(plan, packet), id=packet.id,
        size=page_size(packet.paper), length=write.length, cover=cover(plan, packet, write),
        legend=LEGEND, one_zero=ONE_ZERO,
        slope_words=f"{SLOPE_WORDS} {CORNER_WORDS}" if any(one.angles for one in plan.profiles) else "",
        cautions=AT_THE_SAW,
        profiles=[section(plan, profile, [one for one in entries if one.profile == k], write)
                  for k, profile in enumerate(plan.profiles) if packet.has(profile.profile)],
        cards=cards_section(cards if whole else (), write), packing=packing(plan, cards, write) if whole else [])
