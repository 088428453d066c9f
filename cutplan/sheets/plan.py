"""A plan as text: how each stick is cut, what it comes to, what is proven of it, and what to buy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from cutplan.lengths import added
from cutplan.plans.plan import Numbered, Plan, numbered
from cutplan.plans.records import ProfilePlan, Spare, Stick, Tier, Totals, purchases, total, waste_percent
from cutplan.plans.sawtime import lifts_of
from cutplan.printable import plain
from cutplan.sheets.bar import BAR_WORDS, bar
from cutplan.sheets.cautions import ONE_ZERO, at_the_saw
from cutplan.sheets.clamps import Care, care
from cutplan.sheets.handling import handling_words
from cutplan.sheets.lifts import Group, setups
from cutplan.sheets.sawtime import times_text
from cutplan.sheets.slopes import ANGLED_NOTE, SLOPE_WORDS, lost_to_angles, near_marks, sawn
from cutplan.sheets.squaring import shortage_words, squaring_words
from cutplan.sheets.steps import LeftOver, hole_text, left, off_text, rule_text, running_marks, sticks_text
from cutplan.sheets.tape import Marked, marked
from cutplan.sheets.trade import trade_text
from cutplan.sheets.words import Writer, aligned, bulleted, counted, percent, titled, wrapped


def plan_text(plan: Plan) -> str:
    """The whole plan. Lengths in the plan's unit, printed to its tape; money in its currency."""
    write = Writer(plan.unit, plan.tape, plan.currency)
    parts = [totals_text(plan, write), *times_text(plan, write), *trade_text(plan, write),
             proof_text(plan.profiles, write), buying_text(plan.profiles, write)]
    return "\n\n".join([sawing_text(plan, write), *parts, at_the_saw()])


def saw_text(plan: Plan) -> str:
    """Only how the sticks are cut."""
    return f"{sawing_text(plan, Writer(plan.unit, plan.tape, plan.currency))}\n\n{at_the_saw()}"


# ---- the sticks ----


def sawing_text(plan: Plan, write: Writer) -> str:
    """Every stick, numbered through the plan."""
    entries = list(numbered(plan))
    angled = [wrapped(SLOPE_WORDS)] if any(profile.angles for profile in plan.profiles) else []
    parts = ["\n".join([write.legend(), wrapped(BAR_WORDS), wrapped(ONE_ZERO), *angled])]
    parts += [profile_text(plan, profile, [one for one in entries if one.profile == k], write)
              for k, profile in enumerate(plan.profiles)]
    return "\n\n".join(parts)


def profile_text(plan: Plan, profile: ProfilePlan, entries: Sequence[Numbered], write: Writer) -> str:
    """The sticks of one profile, one paragraph for each set-up of the saw."""
    found = setups(entries)
    parts = [f"{titled(plain(profile.profile))}\n{wrapped(rule_text(profile, write))}"]
    for number, groups in enumerate(found, start=1):
        parts.append(setup_text(f"Set-up {number} of {len(found)}", plan, profile, groups, write))
    return "\n\n".join(parts)


def setup_text(title: str, plan: Plan, profile: ProfilePlan, groups: Sequence[Group], write: Writer) -> str:
    """One set-up: a headline, then the bar, what to mark and the entries for each way its sticks are marked."""
    first = groups[0][0].stick
    net = added((1, cut.middle) for cut in first.cuts)
    waste = percent(waste_percent(first.length - net, first.length))
    lines = [f"{title}: {sticks_text(groups, plan.stack, write)}, {waste} % waste"]
    for group in groups:
        stick = group[0].stick
        if plan.stack > 1 and len(groups) > 1:
            lines.append(f"  {counted(lifts_of((one.stick for one in group), plan.stack), 'lift')}")
        pieces = list(marked(profile, stick, write.tape))
        careful = [care(one, plan) for one in pieces]
        lines.append("  " + bar(profile, stick, write))
        many = sum([one.stick.count for one in group])
        others = [one.stick for one in group[1:] if one.stick.tag is not None]  # new sticks are all alike in this
        minded = [said for each in (stick, *others) for said in handling_words(plan, profile, each, many, write)]
        lines += [wrapped(said, "  ", "    ") for said in dict.fromkeys(minded)]
        if lost := lost_to_angles(stick, profile, write):
            lines.append(wrapped(lost, "  ", "    "))
        lines += [wrapped(line, "  ", "    ") for line in marks_text(profile, stick, pieces, careful, write)]
        words = [one.piece for one in careful]
        lines += [wrapped(entry_text(one, profile, words, write), "  ", "    ") for one in group]
    return "\n".join(lines)


def marks_text(profile: ProfilePlan, stick: Stick, pieces: Sequence[Marked], careful: Sequence[Care],
               write: Writer) -> list[str]:
    """What to mark from each new end and what is left; then where that is from 0."""
    behind = left(profile, stick, careful[-1].behind, write)
    if behind.each_end is not None:
        piece, end = write.length(stick.cuts[0].length), write.length(behind.each_end)
        return [f"cut {piece}: take {end} off each end; {left_text(behind, write)}"]
    running = f"running marks {', '.join(running_marks(profile, pieces, write))}"
    short = [words] if (words := shortage_words(profile, stick, write)) else []
    if profile.routing is not None:
        begun = squaring_words(profile, stick, profile.routing, write)
        rails = [rail_text(one, how, write) for one, how in zip(pieces, careful, strict=True)]
        return [begun, *rails, left_text(behind, write), running, *short]
    if profile.angles is not None:
        near = f"running marks along the near edge {', '.join(near_marks(profile, pieces, write))}"
        along = running.replace("marks", "marks along the far edge", 1)
        return [*angled_text(profile, pieces, careful, write), left_text(behind, write), along, near, *short]
    runs = [list(run) for _, run in groupby(pieces, key=lambda one: one.cut.length)]
    cuts = ", ".join((f"{len(run)} x " if len(run) > 1 else "") + write.length(run[0].cut.length) for run in runs)
    return [f"cut {cuts}; {left_text(behind, write)}", running, *short]


def rail_text(one: Marked, careful: Care, write: Writer) -> str:
    """A rail with holes: what comes off the new end first, its length, its first hole, and what its middle is at."""
    off = off_text(one, write)
    first = f"{off}{bracketed(careful.off)}, then " if off else ""
    return f"{first}cut {write.length(one.cut.length)}: {hole_text(one, write)}"


def angled_text(profile: ProfilePlan, pieces: Sequence[Marked], careful: Sequence[Care], write: Writer
                ) -> Iterator[str]:
    """Pieces with angled ends: what the saw is set to where that changes, and how each is cut; like ones folded."""
    said = [(f"{one.recut}{bracketed(minded.off)}; then " * bool(one.recut) + f"{one.saw}, " * bool(one.saw),
             piece.cut.length, one.how)
            for one, piece, minded in zip(sawn(profile, pieces, write), pieces, careful, strict=True)]
    for _, run in groupby(enumerate(said), key=lambda one: (one[1], one[0] if one[1][0] else None)):
        (_, (first, length, how)), *others = run
        many = 1 + len(others)
        yield f"{first}cut {f'{many} x ' if many > 1 else ''}{write.length(length)}: {how}"


def bracketed(word: str) -> str:
    return f" ({word})" if word else ""


def left_text(one: LeftOver, write: Writer) -> str:
    """What falls off besides the pieces, and where it goes."""
    care = one.care and f", {one.care}"
    if one.each_end is not None:
        return f"both ends scrap{care}"
    if not one.length:
        return "nothing left"
    first = "" if one.first_hole is None else f" (its first hole {write.length(one.first_hole)} from the new end)"
    slope = one.slope and f", {one.slope}"
    return f"left {write.length(one.length)}, {'keep' if one.keep else 'scrap'}{first}{slope}{care}"


def entry_text(one: Numbered, profile: ProfilePlan, careful: Sequence[str], write: Writer) -> str:
    """Which sticks, where from, their cuts in order with runs of like ones folded, and their offcuts' tags.

    `careful` is what is said of each piece.
    """
    stick = one.stick
    which = f"stick {one.first}" if stick.count == 1 else f"sticks {one.first} to {one.last}"
    source = "new" if stick.source == "new" else f"{plain(stick.tag or '')} from the rack"
    if profile.begins_sawn(stick):
        source += ", its sawn end first"
    if profile.ends_sawn(stick):
        source += ", a sawn end last"
    pieces = [(cut.mark, cut.length, word) for cut, word in zip(stick.cuts, careful, strict=True)]
    cuts = ", ".join(run_text(len(list(run)), *piece, write) for piece, run in groupby(pieces))
    return f"{which}, {source}: {cuts}{tags_text(stick)}"


def run_text(many: int, mark: str, length: Fraction, careful: str, write: Writer) -> str:
    return f"{many} x {write.length(length)} {plain(mark)}{bracketed(careful)}"


def tags_text(stick: Stick) -> str:
    """What to write on the offcuts."""
    if not stick.offcut_tags:
        return ""
    offcuts = "the offcut" if len(stick.offcut_tags) == 1 else "the offcuts"
    return f"; write on {offcuts}: {plain(' '.join(stick.offcut_tags))}"


# ---- what it comes to ----


def totals_text(plan: Plan, write: Writer) -> str:
    """What each profile costs and wastes, and where its length goes; the last row is all of them."""
    rows = [ProfileRow(plain(one.profile), sticks_of(one.sticks), lifts_of(one.sticks, plan.stack), one.totals)
            for one in plan.profiles]
    if len(rows) > 1:
        sticks, lifts = sum(row.sticks for row in rows), sum(row.lifts for row in rows)
        rows.append(ProfileRow("total", sticks, lifts, total(plan.profiles)))
    note = (
        "Drawn is what is taken from stock. Waste is the share of it that is not pieces; net waste leaves "
        "out what is kept for the rack."
    )
    if plan.stack > 1:
        note += f" A lift is up to {plan.stack} sticks cut together."
    where = length_table(rows, write)
    if any(one.angles for one in plan.profiles):
        where += "\n" + wrapped(ANGLED_NOTE)
    return "\n\n".join([
        f"{titled('Totals')}\n{cost_table(rows, plan.stack > 1, write)}\n{wrapped(note)}",
        f"{titled('Where the length goes')}\n{where}",
    ])


@dataclass(frozen=True)
class ProfileRow:
    """What one profile comes to, or all of them."""

    name: str
    sticks: int
    lifts: int
    totals: Totals


def sticks_of(sticks: Iterable[Stick]) -> int:
    return sum(stick.count for stick in sticks)


def cost_table(rows: Iterable[ProfileRow], lifted: bool, write: Writer) -> str:
    headings = ("profile", "sticks", write.priced("cost"), "waste %", "net waste %", "set-ups",
                *(["lifts"] if lifted else []))
    return aligned(headings, (
        (row.name, str(row.sticks), write.money(row.totals.cost),
         percent(row.totals.waste_percent), percent(row.totals.net_waste_percent), str(row.totals.patterns),
         *([str(row.lifts)] if lifted else []))
        for row in rows
    ))  # fmt: skip


def length_table(rows: Iterable[ProfileRow], write: Writer) -> str:
    headings = ["profile", f"drawn, {write.unit}", "pieces", "kerf", "trim", "scrap", "kept"]
    rows = list(rows)
    angled = any(row.totals.wedges or row.totals.slope_kerf for row in rows)
    if angled:
        headings += ["wedges", "slope kerf"]
    return aligned(headings, (
        (row.name, *map(write.length, (t.drawn, t.pieces, t.kerf, t.trim, t.scrap, t.kept,
                                       *((t.wedges, t.slope_kerf) if angled else ()))))
        for row in rows for t in [row.totals]
    ))  # fmt: skip


# ---- what is proven ----


def proof_text(profiles: Sequence[ProfilePlan], write: Writer) -> str:
    """What is known of each of the three aims, for each profile."""
    parts = [
        f"{plain(profile.profile)}\n" + bulleted(tier_text(tier, profile.spare, write) for tier in profile.tiers)
        for profile in profiles
    ]
    return "\n".join([titled("What is proven"), *parts])


def tier_text(tier: Tier, spare: Spare | None, write: Writer) -> str:
    """One aim in words. The gap is rounded up, so that "at most" is true of it."""
    if spare is not None:
        return spared_text(tier, spare, write)
    gap = tier.value - tier.bound
    if tier.name == "cost":
        said = f"cost {write.money_named(tier.value)}"
        proven = "no plan is cheaper"
        open_ = f"could at most be {write.money_at_most(gap)} cheaper" if tier.bound else "none cheaper was sought"
    elif tier.name == "used up":
        said = f"{write.length(tier.value)} {write.unit} used up"
        proven = "no plan of this cost uses up less"
        open_ = f"could at most be {write.at_most(gap)} {write.unit} less at this cost"
    else:
        said = counted(int(tier.value), "set-up")
        proven = "no plan as good in cost and length has fewer"
        open_ = f"could at most be {gap} fewer"
    if tier.closed:
        return f"{said}: proven{' by search' * tier.by_search}, {proven}"
    return f"{said}: not proven, {open_}{' (by search)' * tier.by_search}"


def spared_text(tier: Tier, spare: Spare, write: Writer) -> str:
    """The same of a plan that may cost more than the least to have fewer set-ups."""
    if tier.name == "cost":
        said, share = f"cost {write.money_named(tier.value)}", f"{percent(100 * spare.share)} %"
        if tier.closed:
            search = " by search" * tier.by_search
            return f"{said}: proven{search}, no plan is cheaper; {share} more might be spent"
        least = "proven" + " by search" * tier.by_search if tier.bound >= spare.least else "not proven"
        more = write.money_named(tier.value - spare.least)
        return (f"{said}, {more} more than need be, of {share} that may be spent for fewer set-ups; that "
                f"{write.money_named(spare.least)} is the least is {least}")
    if tier.name == "used up":
        return f"{write.length(tier.value)} {write.unit} used up: no aim where set-ups come before it"
    said = counted(int(tier.value), "set-up")
    price = f"that costs at most {write.money_named(Fraction(math.floor(100 * spare.at_most), 100))}"
    if tier.closed:
        return f"{said}: proven{' by search' * tier.by_search}, no plan {price} has fewer"
    return f"{said}: not proven, a plan {price} could at most have {tier.value - tier.bound} fewer" + (
        " (by search)" * tier.by_search)


# ---- what to buy ----


def buying_text(profiles: Sequence[ProfilePlan], write: Writer) -> str:
    """New sticks for each profile, length and price; what of them is on hand; what to take from the rack."""
    needed = [purchase for profile in profiles for purchase in purchases(profile)]
    counted_here = any(profile.on_hand for profile in profiles)

    def counts(drawn: int, on_hand: int) -> tuple[str, ...]:
        return (str(drawn), str(on_hand), str(drawn - on_hand)) if counted_here else (str(drawn),)

    rows = [
        (plain(one.profile), write.stock(one.length), *counts(one.drawn, one.there), write.money(one.price),
         write.money(one.missing * one.price)) for one in needed
    ]
    sums = counts(sum(one.drawn for one in needed), sum(one.there for one in needed))
    amount = sum((one.missing * one.price for one in needed), Fraction(0))
    rows.append(("total", "", *sums, "", write.money(amount)))
    names = ("sticks", "on hand", "to buy") if counted_here else ("sticks",)
    headings = ("profile", f"length, {write.unit}", *names, write.priced("each"), write.priced("amount"))
    return "\n".join([titled("To buy"), aligned(headings, rows), *rack_lines(profiles, write)])


def rack_lines(profiles: Sequence[ProfilePlan], write: Writer) -> list[str]:
    """What is taken from the rack and what comes to it."""
    taken = [
        f"{plain(profile.profile)} {plain(stick.tag or '')} ({write.length(stick.length)})"
        for profile in profiles for stick in profile.sticks if stick.source == "rack"
    ]  # fmt: skip
    kept = [
        f"{plain(profile.profile)} {stick.count} x {write.length(stick.offcut)}"
        for profile in profiles for stick in profile.sticks if stick.keep
    ]  # fmt: skip
    lines = (("From the rack", taken), ("To the rack", kept))
    return [wrapped(f"{name}: {', '.join(entries)}") for name, entries in lines if entries]
