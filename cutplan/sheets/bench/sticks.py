"""The sticks of a profile as they are cut: a bar, the marks on the tape, where they come from, boxes to tick."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby

from cutplan.cutting.plan import Cut, Numbered, Plan, ProfilePlan, Stick, middle_hole
from cutplan.sheets.bench.bars import bar
from cutplan.sheets.bench.html import length, set_fractions, text
from cutplan.sheets.clamps import needs_clamp, remainders
from cutplan.sheets.plan import rule_text
from cutplan.sheets.words import Writer, counted


def profile_section(plan: Plan, number: int, entries: Sequence[Numbered], write: Writer) -> str:
    """One profile, on a page of its own."""
    profile = plan.profiles[number]
    longest = max(one.stick.length for one in entries)
    setups = [list(group) for _, group in groupby(entries, key=lambda one: one.stick.setup)]
    parts = [setup(plan, profile, k, len(setups), group, longest, write) for k, group in enumerate(setups, start=1)]
    return (f'<section class="profile p{number}"><h2>{text(profile.profile)}</h2>'
            f'<p class="rule">{set_fractions(text(rule_text(profile, write)))}</p>{"".join(parts)}</section>')


def setup(plan: Plan, profile: ProfilePlan, number: int, of: int, entries: Sequence[Numbered], longest: Fraction,
          write: Writer) -> str:
    """The sticks cut to the same lengths; the saw's stops stand as they are for all of them."""
    sticks = sum(one.stick.count for one in entries)
    head = f'<h3>Set-up {number} of {of}: {counted(sticks, "stick")} of {length(entries[0].stick.length, write)}</h3>'
    parts = [entry(plan, profile, one, longest, write) for one in entries]
    return f'<div class="setup"><div class="first">{head}{parts[0]}</div>{"".join(parts[1:])}</div>'


def entry(plan: Plan, profile: ProfilePlan, one: Numbered, longest: Fraction, write: Writer) -> str:
    """Sticks cut alike, marks included."""
    stick = one.stick
    which = f"Stick {one.first}" if stick.count == 1 else f"Sticks {one.first} to {one.last}, cut alike"
    source = "new" if stick.source == "new" else f"from the rack: {text(stick.tag or '')}"
    if profile.begins_sawn(stick):
        source += " &middot; <b>its sawn end first</b>"
    turn = " &middot; <b>turn it end for end</b>" if stick.turned else ""
    return (f'<div class="stick"><p class="head"><b>{which}</b> &middot; {source}{turn}{boxes(one)}</p>'
            f"{bar(profile, stick, longest, write)}{marks(plan, profile, stick, write)}"
            f"{left(plan, profile, stick, write)}</div>")


def boxes(one: Numbered) -> str:
    """A box for each stick."""
    return '<span class="boxes">' + "".join(
        f'<label><input type="checkbox" id="stick{n}" aria-label="stick {n} is cut"> {n}</label>'
        for n in range(one.first, one.last + 1)) + "</span>"


def marks(plan: Plan, profile: ProfilePlan, stick: Stick, write: Writer) -> str:
    """Where the tape reads at each cut; like pieces in a row under one name."""
    runs = [list(run) for _, run in groupby(stick.cuts, key=lambda cut: (cut.mark, cut.length))]
    return f'<ol class="cuts">{"".join(run_of(plan, profile, stick, run, write) for run in runs)}</ol>'


def run_of(plan: Plan, profile: ProfilePlan, stick: Stick, run: Sequence[Cut], write: Writer) -> str:
    """Like pieces one after the other: their marks on the tape, and what they are."""
    at = " ".join(f'<b class="at">{place(profile, stick, cut, write)}</b>' for cut in run)
    clamp = ' <em class="clamp">clamp</em>' if needs_clamp(run[0].length, plan.shortest_held) else ""
    many = f"{len(run)} &times; " if len(run) > 1 else ""
    holes = ""
    if profile.routing is not None:
        holes = ": " + ", ".join(middle(profile, stick, cut) for cut in run)
    return (f"<li>{at} <span class=\"what\">{many}<b>{length(run[0].length, write)}</b> {text(run[0].mark)}</span>"
            f"{holes}{clamp}</li>")


def place(profile: ProfilePlan, stick: Stick, cut: Cut, write: Writer) -> str:
    """The tape at the end of a piece; at its beginning too where it does not begin at the last cut."""
    if profile.one_per_stick or profile.routing is not None:
        return f"{length(cut.start, write)} to {length(cut.end, write)}"
    return length(cut.end, write)


def middle(profile: ProfilePlan, stick: Stick, cut: Cut) -> str:
    assert profile.routing is not None
    hole = middle_hole(cut, stick, profile.routing)
    return f"middle on hole {hole}" if cut.centred == "hole" else f"middle between holes {hole} and {hole + 1}"


def left(plan: Plan, profile: ProfilePlan, stick: Stick, write: Writer) -> str:
    """What is left, and where it goes."""
    rest = [part for part in remainders(profile, stick) if part]
    if not rest:
        return '<p class="left">Nothing is left.</p>'
    clamp = ' <em class="clamp">clamp</em>' if any(needs_clamp(part, plan.shortest_held) for part in rest) else ""
    tags = f": write <b>{text(' '.join(stick.offcut_tags))}</b> on it" if stick.offcut_tags else ""
    holes = ""
    if stick.keep and profile.routing is not None:
        first = length(stick.first_of_offcut(profile.routing.pitch, profile.kerf), write)
        holes = f", its first hole {first} from the new end"
    fate = f"<b>keep</b>{tags}{holes}" if stick.keep else "scrap"
    return f'<p class="left">Left {" and ".join(length(part, write) for part in rest)}: {fate}{clamp}</p>'
