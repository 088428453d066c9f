"""The rack as people read it: what lies there, what happened to it, what a booking changed; as text, CSV and JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from cutplan.exactjson import written
from cutplan.lengths import exact_decimal
from cutplan.orders import Piece
from cutplan.plans.numbers import sticks
from cutplan.plans.plan import Plan
from cutplan.plans.records import Cut
from cutplan.printable import plain
from cutplan.rack.booking import Booked, Half
from cutplan.rack.checking import Restored, Sound
from cutplan.rack.holding import Held
from cutplan.rack.register import PlanState
from cutplan.rack.report import Flow, Report
from cutplan.rack.shelf import Counted, Event, Offcut
from cutplan.sheets.listing import Listing, as_csv, listing, measure, number, yes_or_no
from cutplan.sheets.slopes import end_columns, sloped
from cutplan.sheets.words import Cell, Writer, aligned, bulleted, counted, titled, wrapped
from cutplan.shop import TAPES

SHOWN = ("tag", "profile", "length", "qty", "first_hole", "came", "from", "note", "held_for", "sawn_ends", "plain_end",
         "end_slope")
HISTORY = ("when", "what", "tag", "profile", "length", "qty", "booking", "note")
PLANS = ("name", "plan", "made", "first", "last", "cut", "spoiled", "left", "state", "held", "rest_of",
         "taken_over_by")
FLOW = ("came", "came_length", "went", "went_length", "left", "left_length", "worth")
SAWN_ENDS = ("", "one end", "both ends")
WRITE_THEM = "Write its tag on each offcut with a marker, and underline it, so that nobody reads it upside down."


def writer(unit: str, currency: str = "") -> Writer:
    return Writer(unit, TAPES[unit], currency)


def day(at: str) -> str:
    """The day of a time in UTC."""
    return at[:10]


# ---- what lies there ----


def added_text(added: Sequence[Offcut], unit: str) -> str:
    return "\n".join([offcut_table(added, writer(unit)), wrapped(WRITE_THEM)])


def shelf_text(offcuts: Sequence[Offcut], counts: Sequence[Counted], unit: str) -> str:
    """The offcuts, and the new sticks that were counted."""
    write = writer(unit)
    parts = [f"{titled('Offcuts')}\n{offcut_table(offcuts, write) if offcuts else 'None.'}"]
    if offcuts:
        whole = sum((one.length for one in offcuts), Fraction(0))
        parts[0] += f"\n{counted(len(offcuts), 'offcut')}, {write.length(whole)} {unit} in all"
    if counts:
        parts.append(count_table(counts, write))
    return "\n\n".join([write.legend(), *parts])


def counted_text(counts: Sequence[Counted], unit: str) -> str:
    """The new sticks that were just counted, and nothing else."""
    write = writer(unit)
    return f"{write.legend()}\n\n{count_table(counts, write)}"


def count_table(counts: Sequence[Counted], write: Writer) -> str:
    rows = [(plain(one.profile), write.length(one.length), one.qty, one.held or "", one.free) for one in counts]
    headings = ("profile", f"length, {write.unit}", "on hand", "held", "free")
    return f"{titled('New sticks')}\n{aligned(headings, rows)}"


def offcut_table(offcuts: Sequence[Offcut], write: Writer) -> str:
    """Tag, profile and length, and what else is known of any of them."""
    lengths = {length: write.length(length) for length in {one.length for one in offcuts}}  # few, of many offcuts
    columns = [
        ("tag", "l", [one.tag for one in offcuts]),
        ("profile", "l", [plain(one.profile) for one in offcuts]),
        (f"length, {write.unit}", "r", [lengths[one.length] for one in offcuts]),
        ("sawn", "l", [SAWN_ENDS[one.sawn] for one in offcuts]),
        ("sloped end", "l", [sloped(one.slope, write) for one in offcuts]),
        ("first hole", "r", ["" if one.first is None else write.length(one.first) for one in offcuts]),
        ("plain end", "r", [write.length(one.plain) if one.plain else "" for one in offcuts]),
        ("since", "l", [day(one.came) for one in offcuts]),
        ("from", "l", [plain(one.source) for one in offcuts]),
        ("note", "l", [plain(one.note) for one in offcuts]),
        ("held for", "l", [plain(one.held) for one in offcuts]),
    ]
    columns = [column for column in columns if any(column[2])]
    return aligned([name for name, _, _ in columns], list(zip(*(cells for *_, cells in columns), strict=True)),
                   "".join(side for _, side, _ in columns))


def shelf_csv(offcuts: Sequence[Offcut], counts: Sequence[Counted]) -> str:
    return as_csv(shelf_listing(offcuts, counts))


def shelf_listing(offcuts: Sequence[Offcut], counts: Sequence[Counted]) -> Listing:
    """One row for each offcut, and for each length of new stock that was counted, which has no tag."""
    return listing("rack", SHOWN, [
        *((one.tag, one.profile, measure(one.length), 1, measure(one.first), one.came, one.source, one.note, one.held,
           one.sawn, measure(one.plain), number(one.slope)) for one in offcuts),
        *(("", one.profile, measure(one.length), one.qty, "", "", "", "", one.held or "", "", "", "")
          for one in counts)])


def shelf_json(offcuts: Sequence[Offcut], counts: Sequence[Counted], unit: str) -> str:
    return written({
        "unit": unit,
        "offcuts": [offcut_fields(one) for one in offcuts],
        "counted": [{"profile": one.profile, "length": one.length, "qty": one.qty, "held": one.held} for one in counts],
    }) + "\n"


def offcut_fields(one: Offcut) -> dict[str, object]:
    return {"tag": one.tag, "profile": one.profile, "length": one.length, "first_hole": one.first, "came": one.came,
            "from": one.source, "note": one.note, "held_for": one.held or None, "sawn_ends": one.sawn,
            "plain_end": one.plain, "end_slope": one.slope}


# ---- what happened ----


def history_text(events: Sequence[Event], unit: str) -> str:
    write = writer(unit)
    rows = [(event.at.replace("T", " ").rstrip("Z"), event.what, event.tag, plain(event.profile),
             "" if event.length is None else write.length(event.length), event.qty, event.booking or "",
             plain(event.note)) for event in events]
    headings = ("when (UTC)", "what", "tag", "profile", f"length, {unit}", "qty", "booking", "note")
    return aligned(headings, rows, "llllrrrl") if rows else "Nothing has happened yet."


def history_csv(events: Sequence[Event]) -> str:
    return as_csv(history_listing(events))


def history_listing(events: Sequence[Event]) -> Listing:
    return listing("history", HISTORY, (
        (event.at, event.what, event.tag, event.profile, measure(event.length), event.qty, event.booking or "",
         event.note) for event in events))


def history_json(events: Sequence[Event], unit: str) -> str:
    return written({"unit": unit, "history": [
        {"when": event.at, "what": event.what, "tag": event.tag or None, "profile": event.profile,
         "length": event.length, "qty": event.qty, "booking": event.booking, "note": event.note} for event in events
    ]}) + "\n"


# ---- bookings ----


def booked_text(booked: Booked, unit: str) -> str:
    """What a booking changed, and what is to be written on the offcuts."""
    write = writer(unit)
    if not booked.numbers:
        return wrapped(f"{plain(booked.name)}: nothing is booked now; all of this was booked before.")
    waiting = f"; {sticks(booked.waiting)} still to be booked" if booked.waiting else ", the last of it"
    how = "booked" if booked.good is None else "spoiled"
    parts = [wrapped(f"{plain(booked.name)}: {sticks(booked.numbers)} {how}{waiting}.")]
    if booked.replaced:
        parts[0] += "\n" + wrapped(f"It takes over what was left of {plain(' and '.join(booked.replaced))}.")
    if booked.used:
        parts.append(f"{titled('Left the rack')}\n{offcut_table(booked.used, write)}")
    if booked.kept:
        parts.append(f"{titled('Came to the rack')}\n{offcut_table(booked.kept, write)}\n{wrapped(WRITE_THEM)}")
    if booked.left:
        rows = [(plain(profile), write.length(length), booked.drawn[profile, length], left)
                for (profile, length), left in booked.left.items()]
        headings = ("profile", f"length, {unit}", "drawn", "left")
        parts.append(f"{titled('New sticks that are counted')}\n{aligned(headings, rows)}")
    return "\n\n".join(parts)


def spoiled_text(booked: Booked, again: Sequence[Cut], replan: str, plan_unit: str, unit: str) -> str:
    """What a spoiled stick changed, and what is to be cut again; `replan` is the command that plans it."""
    write = writer(plan_unit)
    pieces = ", ".join(f"{count} x {plain(mark)} {write.length(length)}"
                       for (mark, length), count in Counter((cut.mark, cut.length) for cut in again).items())
    cure = f"{plain(replan)} plans that again, with what is left of the plan"
    return f"{booked_text(booked, unit)}\n\n{wrapped(f'To be cut again: {pieces}; {cure}.')}"


def unbooked_text(undone: Booked, notes: Sequence[str]) -> str:
    if not undone.numbers:
        pieces = " ".join(one.tag for one in undone.kept)
        again = [f"offcuts that are pieces again: {pieces}"] if pieces else []
        return "\n".join([wrapped(f"{plain(undone.name)}: nothing of it is booked, and it replaces nothing any more."),
                          bulleted([*again, *notes])])
    back = " ".join(one.tag for one in undone.used) or "none"
    gone = " ".join(one.tag for one in undone.kept) or "none"
    new = ", ".join(f"{plain(profile)} {exact_decimal(length)}: now {left}"
                    for (profile, length), left in undone.left.items()) or "none changed"
    return "\n".join([
        wrapped(f"{plain(undone.name)}: {sticks(undone.numbers)} taken back."),
        bulleted([f"offcuts back on the rack: {back}", f"offcuts that never came to be: {gone}",
                  f"new sticks counted: {new}", *notes]),
    ])


def held_text(held: Held, what: str) -> str:
    things = f"{counted(held.offcuts, 'offcut')} and {counted(held.new, 'new stick')}"
    return wrapped(f"{plain(held.name)}: {things} {what}.")


def nothing_left(plan: Plan) -> str:
    """That no piece of a plan is still to be cut, and why."""
    return f"nothing is left to cut: {plan.why_empty or 'the plan is booked to its last stick'}"


def rest_text(pieces: Sequence[Piece], unit: str) -> str:
    """The pieces that are still to be cut."""
    write = writer(unit)
    names, ends = end_columns(pieces, write)
    rows: list[Sequence[Cell]] = [
        (plain(one.mark), plain(one.profile), write.length(one.length), *set_in, one.qty, plain(one.for_))
        for one, set_in in zip(pieces, ends, strict=True)]
    headings = ("mark", "profile", f"length, {unit}", *names, "qty", "for")
    return aligned(headings, rows, f"ll{'r' * (len(headings) - 3)}l")


def halves_notes(halves: Sequence[Half], unit: str) -> list[str]:
    """What must come from the blanks that others of the same gate or bay came from."""
    write = writer(unit)
    return [f"{plain(one.mark)}: some are cut; take the {one.more} of {write.length(one.length)} that stand beside "
            f"them from blanks of {write.length(one.blank)} too" for one in halves]


def plans_text(plans: Sequence[PlanState]) -> str:
    """Every plan, what was done of it, and what replaced what."""
    rows = [(plain(one.name), day(one.made), stick_numbers(one), len(one.done.cut) or "", len(one.done.spoiled) or "",
             "" if one.by or one.left is None else one.left, one.state + (" (on hold)" if shown_held(one) else ""),
             plain(" and ".join(one.earlier)), plain(one.by.name) if one.by else "") for one in plans]
    headings = ("plan", "made", "sticks", "cut", "spoiled", "left", "state", "made of the rest of", "taken over by")
    return aligned(headings, rows, "lllrrrlll") if rows else "This rack knows of no plan yet."


def shown_held(one: PlanState) -> bool:
    return one.held and one.state != "on hold"


def stick_numbers(one: PlanState) -> str:
    if one.last is None:
        return ""
    return f"{one.first}-{one.last}" if one.last >= one.first else "none"


def plans_csv(plans: Sequence[PlanState]) -> str:
    return as_csv(plans_listing(plans))


def plans_listing(plans: Sequence[PlanState]) -> Listing:
    return listing("plans", PLANS, (
        (one.name, one.plan, one.made, one.first, "" if one.last is None else one.last, len(one.done.cut),
         len(one.done.spoiled), "" if one.left is None else one.left, one.state, yes_or_no(one.held),
         " and ".join(one.earlier), one.by.name if one.by else "") for one in plans))


def plans_json(plans: Sequence[PlanState]) -> str:
    return written({"plans": [
        {"name": one.name, "plan": one.plan, "made": one.made, "first": one.first, "last": one.last,
         "cut": sorted(one.done.cut), "spoiled": sorted(one.done.spoiled), "left": one.left, "state": one.state,
         "held": one.held, "rest_of": list(one.earlier), "taken_over_by": one.by.name if one.by else None}
        for one in plans]}) + "\n"


# ---- the file ----


def sound_text(path: str, sound: Sound, plans: Sequence[str]) -> str:
    held = ", ".join([counted(sound.offcuts, "offcut"), counted(sound.counts, "count"), counted(sound.plans, "plan")])
    said = f"{path} is sound: {held}; it was changed {counted(sound.changes, 'time')}."
    return wrapped(said + (f" {plain(' and '.join(plans))} can go on with it." if plans else ""))


def restored_text(path: str, copy: str, done: Restored) -> str:
    parts = [f"{path} is what {copy} is, a rack that was changed {counted(done.changes, 'time')}."]
    if done.kept:
        parts.append(f"What was there is kept in {done.kept}.")
    if done.before is not None and done.before > done.changes:
        parts.append(f"That had been changed {counted(done.before, 'time')}: what the last "
                     f"{done.before - done.changes} did is not known now. cutplan rack history --rack {done.kept} "
                     "shows it; book again what was cut since.")
    elif done.before is None and done.kept:
        parts.append("It could not be read, so what was done since the copy was made is not known: book again what was "
                     "cut since.")
    if done.given:
        parts.append("Tags that were given out since are not given again.")
    return wrapped(" ".join(parts))


# ---- the report ----


def report_text(report: Report, unit: str, currency: str) -> str:
    write = writer(unit, currency)
    parts = [write.legend()]
    for title, flows in (("Month by month", report.months), ("By profile", report.profiles)):
        if flows:
            parts.append(f"{titled(title)}\n{flow_table(title.split()[-1], flows, write)}")
    old = offcut_table(report.old, write) if report.old else "None."
    parts.append(f"{titled('Longer than a year on the rack')}\n{old}")
    if report.useless:
        rows = [(one.tag, plain(one.profile), write.length(one.length), why) for one, why in report.useless]
        listed = aligned(("tag", "profile", f"length, {unit}", "why"), rows, "llrl")
        tags = wrapped(f"cutplan rack scrap {' '.join(one.tag for one, _ in report.useless)}", "", "    ")
        parts.append(f"{titled('To scrap: nothing in the shop file can use these')}\n{listed}\n{tags}")
    return "\n\n".join(parts)


def flow_table(first: str, flows: Sequence[Flow], write: Writer) -> str:
    priced = any(flow.worth is not None for flow in flows)
    rows: list[Sequence[Cell]] = [
        (plain(flow.name), flow.came, write.length(flow.came_length), flow.went, write.length(flow.went_length),
         flow.left, write.length(flow.left_length), *([write.money(flow.worth or Fraction(0))] if priced else []))
        for flow in flows]
    unit = write.unit
    headings = (first, "came", f"length, {unit}", "went", f"length, {unit}", "on the rack", f"length, {unit}",
                *([write.priced("worth")] if priced else []))
    return aligned(headings, rows)


def report_csv(report: Report) -> str:
    return as_csv(report_listing(report))


def report_listing(report: Report) -> Listing:
    """The flows, month by month and by profile."""
    return listing("report", ("of", "name", *FLOW), (
        (kind, flow.name, flow.came, measure(flow.came_length), flow.went, measure(flow.went_length), flow.left,
         measure(flow.left_length), number(flow.worth))
        for kind, flows in (("month", report.months), ("profile", report.profiles)) for flow in flows))


def report_json(report: Report, unit: str) -> str:
    def fields(flow: Flow) -> dict[str, object]:
        return {"name": flow.name, "came": flow.came, "came_length": flow.came_length, "went": flow.went,
                "went_length": flow.went_length, "left": flow.left, "left_length": flow.left_length,
                "worth": flow.worth}

    return written({
        "unit": unit,
        "months": [fields(flow) for flow in report.months],
        "profiles": [fields(flow) for flow in report.profiles],
        "older_than_a_year": [offcut_fields(one) for one in report.old],
        "to_scrap": [{**offcut_fields(one), "why": why} for one, why in report.useless],
    }) + "\n"
