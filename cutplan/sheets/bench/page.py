"""The page of a plan: a summary, then each profile's sticks, then cautions. Made for paper and for a tablet."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.plans.records import Plan, Tier, numbered, purchases, total
from cutplan.sheets.bench.bars import PATTERNS
from cutplan.sheets.bench.html import length, text
from cutplan.sheets.bench.sticks import profile_section
from cutplan.sheets.bench.style import SCRIPT, paged, style
from cutplan.sheets.cautions import AT_THE_SAW, ONE_ZERO
from cutplan.sheets.lifts import count
from cutplan.sheets.words import Writer, counted, percent

LEGEND = (
    ("piece", "piece"), ("trim", "trim, squared off"), ("kept", "kept for the rack"), ("lost", "lost: scrap and kerf"),
)  # fmt: skip


def plan_page(plan: Plan, name: str, id_: str, paper: str, cards: str = "") -> str:
    """The whole page; `id_` tells a tablet which plan its ticks belong to, `paper` is "letter" or "a4"."""
    write = Writer(plan.unit, plan.tape, plan.currency)
    entries = list(numbered(plan))
    sections = [profile_section(plan, k, [one for one in entries if one.profile == k], write)
                for k in range(len(plan.profiles))]
    names = [profile.profile for profile in plan.profiles]
    return "".join([
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{text(name)}</title><style>{style(paper)}{paged(name, names)}</style></head>",
        f'<body data-plan="{text(id_)}">{PATTERNS}',
        f"<header><h1>{text(name)}</h1></header>",
        summary(plan, write), *sections, cards, foot(), SCRIPT, "</body></html>\n",
    ])


def summary(plan: Plan, write: Writer) -> str:
    """What there is to do, what to fetch and what to buy, before the first cut."""
    sticks = sum(stick.count for profile in plan.profiles for stick in profile.sticks)
    pieces = sum(entry.qty for profile in plan.profiles for entry in profile.demand)
    waste = percent(total(plan.profiles).waste_percent)
    lifts = sum(count(profile.sticks, plan.stack) for profile in plan.profiles)
    together = f" in {counted(lifts, 'lift')} of at most {plan.stack}" if plan.stack > 1 else ""
    said = f"{counted(pieces, 'piece')} from {counted(sticks, 'stick')}{together}; "
    said += f"{waste} % of what is drawn is not pieces. "
    said += known_of_cost([profile.tiers[0] for profile in plan.profiles])
    box = '<rect class="{}" width="100%" height="100%"/>'
    legend = "".join(f'<li><svg class="key">{box.format(kind)}</svg> {what}</li>' for kind, what in LEGEND)
    return (f'<section class="summary"><p>{said}</p><ul class="legend">{legend}</ul>'
            f"<p>{text(ONE_ZERO)}</p>"
            f"{fetch(plan, write)}{table_of(plan, write)}</section>")


def known_of_cost(tiers: Sequence[Tier]) -> str:
    """What is known of the cost of all profiles together."""
    if not all(tier.closed for tier in tiers):
        return "A cheaper plan is not ruled out."
    return f"Proven{' by search' * any(tier.by_search for tier in tiers)}: no plan is cheaper."


def fetch(plan: Plan, write: Writer) -> str:
    """The offcuts to bring from the rack."""
    taken = [f"<li><b>{text(stick.tag or '')}</b> {text(profile.profile)} {length(stick.length, write)}</li>"
             for profile in plan.profiles for stick in profile.sticks if stick.tag is not None]
    return f'<h2>From the rack</h2><ul class="fetch">{"".join(taken)}</ul>' if taken else ""


def table_of(plan: Plan, write: Writer) -> str:
    """The new sticks, and how many of them are to be bought."""
    rows = [(text(one.profile), length(one.length, write), str(one.drawn), str(one.missing))
            for profile in plan.profiles for one in purchases(profile)]
    return f"<h2>New sticks</h2>{table(('profile', f'length, {write.unit}', 'sticks', 'to buy'), rows)}" if rows else ""


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f"<th>{heading}</th>" for heading in headings)
    body = "".join(f'<tr>{"".join(f"<td>{cell}</td>" for cell in row)}</tr>' for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def foot() -> str:
    said = "".join(f"<li>{text(caution)}</li>" for caution in AT_THE_SAW)
    return f'<section class="cautions"><h2>At the saw</h2><ul>{said}</ul></section>'
