"""A plan as text: how each stick is cut, what it comes to, what is proven of it, and what to buy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import astuple
from fractions import Fraction
from itertools import groupby

from tabulate import tabulate

from cutplan.cutting.plan import Cut, Numbered, Plan, ProfilePlan, Stick, Tier, Totals, middle_hole, numbered, purchases
from cutplan.sheets.bar import LEGEND, bar
from cutplan.sheets.cautions import at_the_saw
from cutplan.sheets.clamps import needs_clamp, remainders
from cutplan.sheets.words import Writer, bulleted, counted, percent, plain, titled, wrapped
from cutplan.shop import Routing


def plan_text(plan: Plan) -> str:
    """The whole plan. Lengths in the plan's unit, printed to its tape; money in its currency."""
    write = Writer(plan.unit, plan.tape, plan.currency)
    parts = [part(plan.profiles, write) for part in (totals_text, proof_text, buying_text)]
    return "\n\n".join([sticks_text(plan, write), *parts, at_the_saw()])


def saw_text(plan: Plan) -> str:
    """Only how the sticks are cut."""
    return f"{sticks_text(plan, Writer(plan.unit, plan.tape, plan.currency))}\n\n{at_the_saw()}"


# ---- the sticks ----


def sticks_text(plan: Plan, write: Writer) -> str:
    """Every stick, numbered through the plan."""
    entries = list(numbered(plan))
    parts = [f"{write.legend()}\n{LEGEND}\nCuts are measured from the end squared first."]
    parts += [profile_text(profile, [one for one in entries if one.profile == k], plan.shortest_held, write)
              for k, profile in enumerate(plan.profiles)]
    return "\n\n".join(parts)


def profile_text(profile: ProfilePlan, entries: Sequence[Numbered], shortest_held: Fraction | None,
                 write: Writer) -> str:
    """The sticks of one profile, one paragraph for each set-up of the saw."""
    setups: dict[object, list[Numbered]] = {}
    for one in entries:
        setups.setdefault(one.stick.setup, []).append(one)
    parts = [f"{titled(plain(profile.profile))}\n{wrapped(rule_text(profile, write))}"]
    for number, alike in enumerate(setups.values(), start=1):
        parts.append(setup_text(f"Set-up {number} of {len(setups)}", profile, alike, shortest_held, write))
    return "\n\n".join(parts)


def rule_text(profile: ProfilePlan, write: Writer) -> str:
    """By what rule the profile is cut; a kerf is finer than a tape, so these stand as the shop file gives them."""
    length = write.exact
    trims = f"kerf {length(profile.kerf)}, trim {length(profile.head_trim)} at the head"
    trims += f" and {length(profile.tail_trim)} at the tail"
    if profile.routing is not None:
        trims += f"; holes {length(profile.routing.pitch)} apart, counted from the end squared first"
    if profile.one_per_stick:
        return f"One piece from each stick, trimmed equally at both ends; {trims} at the least."
    if profile.keep_from is None:
        return f"{trims}; no offcuts are kept.".capitalize()
    return f"{trims}; offcuts of {length(profile.keep_from)} or more go to the rack.".capitalize()


def setup_text(title: str, profile: ProfilePlan, entries: Sequence[Numbered], shortest_held: Fraction | None,
               write: Writer) -> str:
    """One set-up: a headline, then the bar, the marks on the tape and the entries for each order of cuts."""
    first = entries[0].stick
    pieces = sum((cut.length for cut in first.cuts), Fraction(0))
    waste = percent(100 * (first.length - pieces) / first.length)
    count = counted(sum(one.stick.count for one in entries), "stick")
    lines = [f"{title}: {count} of {write.length(first.length)}, {waste} % waste"]
    for _, group in groupby(entries, key=lambda one: ([cut.end for cut in one.stick.cuts], one.stick.turned)):
        alike = list(group)
        lines.append("  " + bar(alike[0].stick, write))
        lines.append(wrapped(marks_text(profile, alike[0].stick, shortest_held, write), "  ", "    "))
        lines += [wrapped(entry_text(one, shortest_held, write), "  ", "    ") for one in alike]
    return "\n".join(lines)


def marks_text(profile: ProfilePlan, stick: Stick, shortest_held: Fraction | None, write: Writer) -> str:
    """Where the tape reads at each cut, and what is left."""
    if profile.routing is not None:
        turn = "turn the stick end for end; " if stick.turned else ""
        rails = ", ".join(rail_text(profile, profile.routing, stick, cut, write) for cut in stick.cuts)
        return f"{turn}cut {rails}; {left_text(profile, stick, shortest_held, write)}"
    places = ", ".join(write.length(cut.end) for cut in stick.cuts)
    if profile.one_per_stick:
        places = f"{write.length(stick.cuts[0].start)}, {places}"
    return f"cut at {places}; {left_text(profile, stick, shortest_held, write)}"


def rail_text(profile: ProfilePlan, routing: Routing, stick: Stick, cut: Cut, write: Writer) -> str:
    """Where a rail with holes begins and ends on the tape, and the hole or space in its middle."""
    hole = middle_hole(cut, stick, routing, profile.head_trim)
    middle = f"on hole {hole}" if cut.centred == "hole" else f"between holes {hole} and {hole + 1}"
    return f"{write.length(cut.start)} to {write.length(cut.end)} (middle {middle})"


def left_text(profile: ProfilePlan, stick: Stick, shortest_held: Fraction | None, write: Writer) -> str:
    """What falls off besides the pieces, and where it goes."""
    left = [part for part in remainders(profile, stick) if part]
    if not left:
        return "nothing left"
    clamp = ", clamp" if any(needs_clamp(part, shortest_held) for part in left) else ""
    first = ""
    if stick.keep and profile.routing is not None:
        hole = stick.first_of_offcut(profile.routing.pitch, profile.kerf)
        first = f" (its first hole {write.length(hole)} from the new end)"
    return f"left {' and '.join(map(write.length, left))}, {'keep' if stick.keep else 'scrap'}{first}{clamp}"


def entry_text(one: Numbered, shortest_held: Fraction | None, write: Writer) -> str:
    """Which sticks, where from, their cuts in order with runs of like ones folded, and their offcuts' tags."""
    stick = one.stick
    which = f"stick {one.first}" if stick.count == 1 else f"sticks {one.first} to {one.last}"
    source = "new" if stick.source == "new" else f"{plain(stick.tag or '')} from the rack"
    runs = groupby(stick.cuts, key=lambda cut: (cut.mark, cut.length))
    cuts = ", ".join(run_text(list(run), shortest_held, write) for _, run in runs)
    return f"{which}, {source}: {cuts}{tags_text(stick)}"


def tags_text(stick: Stick) -> str:
    """What to write on the offcuts."""
    if not stick.offcut_tags:
        return ""
    offcuts = "the offcut" if len(stick.offcut_tags) == 1 else "the offcuts"
    return f"; write on {offcuts}: {plain(' '.join(stick.offcut_tags))}"


def run_text(run: Sequence[Cut], shortest_held: Fraction | None, write: Writer) -> str:
    clamp = " (clamp)" if needs_clamp(run[0].length, shortest_held) else ""
    return f"{len(run)} x {write.length(run[0].length)} {plain(run[0].mark)}{clamp}"


# ---- what it comes to ----


def totals_text(profiles: Sequence[ProfilePlan], write: Writer) -> str:
    """What each profile costs and wastes, and where its length goes; the last row is all of them."""
    rows = [(plain(one.profile), sticks_of([one]), one.totals) for one in profiles]
    if len(profiles) > 1:
        rows.append(("together", sticks_of(profiles), together(profiles)))
    note = (
        "Drawn is what is taken from stock. Waste is the share of it that is not pieces; net waste leaves "
        "out what is kept for the rack."
    )
    return "\n\n".join([
        f"{titled('Totals')}\n{cost_table(rows, write)}\n{wrapped(note)}",
        f"{titled('Where the length goes')}\n{length_table(rows, write)}",
    ])


def sticks_of(profiles: Iterable[ProfilePlan]) -> int:
    return sum(stick.count for profile in profiles for stick in profile.sticks)


def together(profiles: Iterable[ProfilePlan]) -> Totals:
    """The totals of all profiles."""
    return Totals(*(sum(parts) for parts in zip(*(astuple(one.totals) for one in profiles), strict=True)))


def cost_table(rows: Iterable[tuple[str, int, Totals]], write: Writer) -> str:
    headings = ("profile", "sticks", write.priced("cost"), "waste %", "net waste %", "set-ups")
    return right_aligned(headings, (
        (name, str(sticks), write.money(totals.cost),
         percent(totals.waste_percent), percent(totals.net_waste_percent), str(totals.patterns))
        for name, sticks, totals in rows
    ))  # fmt: skip


def length_table(rows: Iterable[tuple[str, int, Totals]], write: Writer) -> str:
    headings = ("profile", f"drawn, {write.unit}", "pieces", "kerf", "trim", "scrap", "kept")
    return right_aligned(headings, (
        (name, *map(write.length, (t.drawn, t.pieces, t.kerf, t.trim, t.scrap, t.kept)))
        for name, _, t in rows
    ))  # fmt: skip


def right_aligned(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of names and figures."""
    align = ("left", *["right"] * (len(headings) - 1))
    return tabulate(list(rows), headings, colalign=align, disable_numparse=True)


# ---- what is proven ----


def proof_text(profiles: Sequence[ProfilePlan], write: Writer) -> str:
    """What is known of each of the three aims, for each profile."""
    parts = [
        f"{plain(profile.profile)}\n" + bulleted(tier_text(tier, write) for tier in profile.tiers)
        for profile in profiles
    ]
    return "\n".join([titled("What is proven"), *parts])


def tier_text(tier: Tier, write: Writer) -> str:
    """One aim in words. The gap is rounded up, so that "at most" is true of it."""
    gap = tier.value - tier.bound
    if tier.name == "cost":
        said = f"cost {write.money_named(tier.value)}"
        proven = "no plan is cheaper"
        open_ = f"could at most be {write.money_at_most(gap)} cheaper"
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


# ---- what to buy ----


def buying_text(profiles: Sequence[ProfilePlan], write: Writer) -> str:
    """New sticks for each profile, length and price; what of them is there; what to take from the rack."""
    needed = [purchase for profile in profiles for purchase in purchases(profile)]
    counted_here = any(profile.on_hand for profile in profiles)

    def counts(drawn: int, there: int) -> tuple[str, ...]:
        return (str(drawn), str(there), str(drawn - there)) if counted_here else (str(drawn),)

    rows = [
        (plain(one.profile), write.length(one.length), *counts(one.drawn, one.there), write.money(one.price),
         write.money(one.missing * one.price)) for one in needed
    ]
    together = counts(sum(one.drawn for one in needed), sum(one.there for one in needed))
    money = sum((one.missing * one.price for one in needed), Fraction(0))
    rows.append(("together", "", *together, "", write.money(money)))
    names = ("sticks", "there", "to buy") if counted_here else ("sticks",)
    headings = ("profile", f"length, {write.unit}", *names, write.priced("each"), write.priced("money"))
    return "\n".join([titled("To buy"), right_aligned(headings, rows), *rack_lines(profiles, write)])


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
