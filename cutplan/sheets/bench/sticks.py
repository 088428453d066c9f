"""The sticks of a profile as they are cut: a bar, what to mark, where they come from, boxes to tick."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import groupby

from cutplan.plans.records import Numbered, Plan, ProfilePlan, Stick
from cutplan.sheets.bench.bars import bar
from cutplan.sheets.bench.html import length, set_fractions, text
from cutplan.sheets.clamps import care
from cutplan.sheets.lifts import Group, lifts, numbers, setups
from cutplan.sheets.plan import off_words, rule_text, sticks_said
from cutplan.sheets.squaring import shortage_words, squaring_words
from cutplan.sheets.tape import Marked, marked, middle_words, squared_end
from cutplan.sheets.words import Writer


def profile_section(plan: Plan, number: int, entries: Sequence[Numbered], write: Writer) -> str:
    """One profile, on a page of its own."""
    profile = plan.profiles[number]
    longest = max(one.stick.length for one in entries)
    found = setups(entries)
    parts = [setup(plan, profile, f"Set-up {k} of {len(found)}", groups, longest, write)
             for k, groups in enumerate(found, start=1)]
    return (f'<section class="profile p{number}"><h2>{text(profile.profile)}</h2>'
            f'<p class="rule">{set_fractions(text(rule_text(profile, write)))}</p>{"".join(parts)}</section>')


def setup(plan: Plan, profile: ProfilePlan, title: str, groups: Sequence[Group], longest: Fraction,
          write: Writer) -> str:
    """The sticks cut to the same lengths; the saw's stops stand as they are for all of them."""
    head = f"<h3>{title}: {set_fractions(sticks_said(groups, plan.stack, write))}</h3>"
    parts = []
    for group in groups:
        boxed = lift_boxes(group, plan.stack) if plan.stack > 1 else ""
        first, *others = (entry(plan, profile, one, longest, write) for one in group)
        parts += [boxed + first, *others]
    return f'<div class="setup"><div class="first">{head}{parts[0]}</div>{"".join(parts[1:])}</div>'


def entry(plan: Plan, profile: ProfilePlan, one: Numbered, longest: Fraction, write: Writer) -> str:
    """Sticks cut alike, marks included."""
    stick = one.stick
    which = f"Stick {one.first}" if stick.count == 1 else f"Sticks {one.first} to {one.last}, cut alike"
    source = "new" if stick.source == "new" else f"from the rack: {text(stick.tag or '')}"
    if profile.begins_sawn(stick):
        source += " &middot; <b>its sawn end first</b>"
    boxed = stick_boxes(one) if plan.stack == 1 else ""
    pieces = list(marked(profile, stick, write.tape))
    return (f'<div class="stick"><p class="head"><b>{which}</b> &middot; {source}{boxed}</p>'
            f"{bar(profile, stick, longest, write)}{begun(profile, stick, write)}{cuts(plan, profile, pieces, write)}"
            f"{left(plan, profile, stick, pieces[-1], write)}{running(profile, pieces, write)}"
            f"{short(profile, stick, write)}</div>")


def begun(profile: ProfilePlan, stick: Stick, write: Writer) -> str:
    """Which end of a stick with holes is squared, and by how much."""
    if profile.routing is None:
        return ""
    said = squaring_words(profile, stick, profile.routing, lambda one: length(one, write))
    return f'<p class="left">{said[0].upper()}{said[1:]}.</p>'


def short(profile: ProfilePlan, stick: Stick, write: Writer) -> str:
    """That the last piece may come out short, where it may."""
    said = set_fractions(text(shortage_words(profile, stick, write)))
    return f'<p class="left">{said[0].upper()}{said[1:]}.</p>' if said else ""


def stick_boxes(one: Numbered) -> str:
    """A box for each stick."""
    return boxes((f"stick{n}", f"stick {n} is cut", str(n)) for n in range(one.first, one.last + 1))


def lift_boxes(group: Group, stack: int) -> str:
    """A box for each lift."""
    every = lifts(group, stack)
    named = ((f"lift{lift[0]}", f"the lift of {numbers(lift)} is cut", numbers(lift)) for lift in every)
    return f'<div class="lifts">Lifts, by the numbers of their sticks: {boxes(named)}</div>'


def boxes(named: Iterable[tuple[str, str, str]]) -> str:
    """Boxes to tick, each with its id, what it says, and what is read beside it."""
    return '<span class="boxes">' + "".join(
        f'<label><input type="checkbox" id="{id_}" aria-label="{says}"> {beside}</label>'
        for id_, says, beside in named) + "</span>"


def cuts(plan: Plan, profile: ProfilePlan, pieces: Sequence[Marked], write: Writer) -> str:
    """What to mark from each new end, in large figures; like pieces in a row under one name."""
    runs = [list(run) for _, run in groupby(pieces, key=lambda one: (one.cut.mark, one.cut.length))]
    if profile.routing is not None:  # each has a first hole of its own
        runs = [[one] for run in runs for one in run]
    return f'<ol class="cuts">{"".join(run_of(plan, run, write) for run in runs)}</ol>'


def run_of(plan: Plan, run: Sequence[Marked], write: Writer) -> str:
    """Like pieces one after the other: how long each is, what it is, and what to mind."""
    one, careful = run[0], care(run[0], plan)
    many = f"{len(run)} &times; " if len(run) > 1 else ""
    off = off_words(one, set_fractions(write.reading(one.reading, one.off)), minded(careful.off))
    return (f'<li>{off}<span class="what">{many}<b class="own">{length(one.cut.length, write)}</b> '
            f"{text(one.cut.mark)}</span>{holes(one, write)}{mindful(plan, run)}</li>")


def mindful(plan: Plan, run: Sequence[Marked]) -> str:
    """What is said of any of these pieces, once."""
    return "".join(minded(word) for word in dict.fromkeys(care(one, plan).piece for one in run))


def minded(word: str) -> str:
    return f' <em class="care">{word}</em>' if word else ""


def holes(one: Marked, write: Writer) -> str:
    if one.holes is None:
        return ""
    first = f"first hole {length(one.holes.first, write)} from the new end"
    return f": {first}, {middle_words(one.cut.centred, one.holes.middle)}"


def running(profile: ProfilePlan, pieces: Sequence[Marked], write: Writer) -> str:
    """Where the pieces end on a tape held at 0, to check by; where one begins too, if something is cut off before."""
    if profile.one_per_stick:
        return ""
    said = [f"{length(one.start, write)} to {length(one.end, write)}" if one.off else length(one.end, write)
            for one in pieces]
    return f'<p class="running">Running marks from 0: {", ".join(said)}</p>'


def left(plan: Plan, profile: ProfilePlan, stick: Stick, last: Marked, write: Writer) -> str:
    """What is left behind the last piece, and where it goes."""
    careful = minded(care(last, plan).behind)
    if profile.one_per_stick:
        end = length(squared_end(profile, stick), write)
        return f'<p class="left">Take <b>{end}</b> off each end: scrap{careful}</p>'
    if not stick.offcut:
        return '<p class="left">Nothing is left.</p>'
    tags = f": write <b>{text(' '.join(stick.offcut_tags))}</b> on it" if stick.offcut_tags else ""
    first = ""
    if stick.keep and profile.routing is not None:
        hole = length(stick.first_of_offcut(profile.routing.pitch, profile.kerf), write)
        first = f", its first hole {hole} from the new end"
    fate = f"<b>keep</b>{tags}{first}" if stick.keep else "scrap"
    return f'<p class="left">Left {length(stick.offcut, write)}: {fate}{careful}</p>'
