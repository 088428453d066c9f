"""The sticks of a profile as they are cut: a bar, what to mark, where they come from, boxes to tick."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from cutplan.plans.plan import Numbered, Plan
from cutplan.plans.records import ProfilePlan
from cutplan.sheets.bench.bars import Bar, bar
from cutplan.sheets.clamps import care
from cutplan.sheets.lifts import Group, lifts, numbers, setups
from cutplan.sheets.squaring import shortage_words, squaring_words
from cutplan.sheets.steps import LeftOver, hole_text, left, off_text, rule_text, running_marks, sticks_text
from cutplan.sheets.tape import Marked, marked
from cutplan.sheets.words import Writer


@dataclass(frozen=True)
class TickBox:
    """A box to tick, what it says is cut, what is read beside it, and the numbers of its sticks."""

    id: str
    says: str
    beside: str
    sticks: tuple[int, ...]


@dataclass(frozen=True)
class Run:
    """Like pieces one after the other: what comes off first, how long each is, what it is, and what to mind."""

    off: str
    care_off: str
    many: int
    length: Fraction
    mark: str
    hole: str
    care: list[str]


@dataclass(frozen=True)
class Sticks:
    """Sticks cut alike, marks included; `lifts` are the boxes of all that lie in one lift with these or after them."""

    which: str
    source: str
    sawn_first: bool
    sawn_last: bool
    lifts: list[TickBox]
    boxes: list[TickBox]
    bar: Bar
    begun: str
    runs: list[Run]
    left: LeftOver
    running: list[str]
    short: str


@dataclass(frozen=True)
class Setup:
    """The sticks cut to the same lengths; the saw's stops stand as they are for all of them."""

    number: int
    said: str
    sticks: list[Sticks]


@dataclass(frozen=True)
class StickSection:
    """One profile, on a page of its own."""

    name: str
    rule: str
    setups: list[Setup]


def section(plan: Plan, profile: ProfilePlan, entries: Sequence[Numbered], write: Writer) -> StickSection:
    longest = max(one.stick.length for one in entries)
    found = [Setup(k, sticks_text(groups, plan.stack, write),
                   [one for group in groups for one in sticks_of(plan, profile, group, longest, write)])
             for k, groups in enumerate(setups(entries), start=1)]
    return StickSection(profile.profile, rule_text(profile, write), found)


def sticks_of(plan: Plan, profile: ProfilePlan, group: Group, longest: Fraction, write: Writer) -> Iterable[Sticks]:
    """The entries of a group; the boxes of its lifts stand before the first."""
    boxes = lift_boxes(group, plan.stack) if plan.stack > 1 else []
    for k, one in enumerate(group):
        yield sticks(plan, profile, one, [] if k else boxes, longest, write)


def sticks(plan: Plan, profile: ProfilePlan, one: Numbered, boxes: list[TickBox], longest: Fraction,
           write: Writer) -> Sticks:
    stick = one.stick
    pieces = list(marked(profile, stick, write.tape))
    begun = "" if profile.routing is None else squaring_words(profile, stick, profile.routing, write)
    return Sticks(
        which=f"Stick {one.first}" if stick.count == 1 else f"Sticks {one.first} to {one.last}, cut alike",
        source="new" if stick.source == "new" else f"from the rack: {stick.tag or ''}",
        sawn_first=profile.begins_sawn(stick), sawn_last=profile.ends_sawn(stick),
        lifts=boxes, boxes=stick_boxes(one) if plan.stack == 1 else [],
        bar=bar(profile, stick, longest, write), begun=sentence(begun), runs=list(runs(plan, profile, pieces, write)),
        left=left(profile, stick, care(pieces[-1], plan).behind), running=running_marks(profile, pieces, write),
        short=sentence(shortage_words(profile, stick, write)))


def sentence(said: str) -> str:
    return f"{said[0].upper()}{said[1:]}." if said else ""


def stick_boxes(one: Numbered) -> list[TickBox]:
    return [TickBox(f"stick{n}", f"stick {n}", str(n), (n,)) for n in range(one.first, one.last + 1)]


def lift_boxes(group: Group, stack: int) -> list[TickBox]:
    return [TickBox(f"lift{lift[0]}", f"the lift of {numbers(lift)}", numbers(lift), lift)
            for lift in lifts(group, stack)]


def runs(plan: Plan, profile: ProfilePlan, pieces: Sequence[Marked], write: Writer) -> Iterable[Run]:
    """What to mark from each new end; like pieces in a row under one name."""
    found = [list(run) for _, run in groupby(pieces, key=lambda one: (one.cut.mark, one.cut.length))]
    if profile.routing is not None:  # each has a first hole of its own
        found = [[one] for run in found for one in run]
    for run in found:
        one = run[0]
        minded = [word for word in dict.fromkeys(care(each, plan).piece for each in run) if word]
        hole = "" if profile.routing is None else hole_text(one, write)
        yield Run(off_text(one, write), care(one, plan).off, len(run), one.cut.length, one.cut.mark, hole, minded)
