"""The sticks of a profile as they are cut: a bar, what to mark, where they come from, boxes to tick."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from cutplan.plans.numbers import sticks as sticks_said
from cutplan.plans.plan import Numbered, Plan
from cutplan.plans.records import ProfilePlan
from cutplan.sheets.bench.bars import Bar, bar
from cutplan.sheets.clamps import care
from cutplan.sheets.handling import handling_words
from cutplan.sheets.lifts import Group, lifts, numbers, setups
from cutplan.sheets.slopes import lost_to_angles, near_marks, sawn
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
    """Like pieces one after the other: what comes off first, what the saw is set to, how long each is, what it is, how
    it is measured and lies, and what to mind."""

    off: str
    care_off: str
    saw: str
    many: int
    length: Fraction
    mark: str
    how: str
    care: list[str]


@dataclass(frozen=True)
class Sticks:
    """Sticks cut alike, marks included; `lifts` are the boxes of all that lie in one lift with these or after them.

    `again`: they are cut at the places of those before them, so that only what they are for is told anew.
    """

    again: bool
    which: str
    source: str
    sawn_first: bool
    sawn_last: bool
    lifts: list[TickBox]
    boxes: list[TickBox]
    bar: Bar
    minded: list[str]
    begun: str
    runs: list[Run]
    left: LeftOver
    lost: str
    running: list[str]
    near: list[str]
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
    numbers_said = sticks_said(range(entries[0].first, entries[-1].last + 1))
    return StickSection(profile.profile, f"{sentence(numbers_said)} {rule_text(profile, write)}", found)


def sticks_of(plan: Plan, profile: ProfilePlan, group: Group, longest: Fraction, write: Writer) -> Iterable[Sticks]:
    """The entries of a group; the boxes of its lifts stand before the first."""
    boxes = lift_boxes(group, plan.stack) if plan.stack > 1 else []
    told = None
    for k, one in enumerate(group):
        yield sticks(plan, profile, one, told == left_by(one), [] if k else boxes, longest, write)
        told = left_by(one)


def left_by(one: Numbered) -> tuple[object, ...]:
    """What is told of a stick besides its places and what it is for."""
    stick = one.stick
    return stick.source, stick.offcut, stick.keep, stick.tail_trim


def sticks(plan: Plan, profile: ProfilePlan, one: Numbered, again: bool, boxes: list[TickBox], longest: Fraction,
           write: Writer) -> Sticks:
    stick = one.stick
    pieces = list(marked(profile, stick, write.tape))
    begun = "" if profile.routing is None else squaring_words(profile, stick, profile.routing, write)
    return Sticks(
        again=again,
        which=f"Stick {one.first}" if stick.count == 1 else f"Sticks {one.first} to {one.last}, cut alike",
        source="new" if stick.source == "new" else f"from the rack: {stick.tag or ''}",
        sawn_first=profile.begins_sawn(stick), sawn_last=profile.ends_sawn(stick),
        lifts=boxes, boxes=stick_boxes(one) if plan.stack == 1 else [],
        bar=bar(profile, stick, longest, write),
        minded=[sentence(said) for said in handling_words(plan, profile, stick, stick.count, write)],
        begun=sentence(begun),
        runs=list(runs(plan, profile, pieces, write)),
        left=left(profile, stick, care(pieces[-1], plan).behind, write),
        lost=sentence(lost_to_angles(stick, profile, write)),
        running=running_marks(profile, pieces, write), near=near_marks(profile, pieces, write),
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
    cuts = list(zip(pieces, sawn(profile, pieces, write), strict=True))
    found = [list(run) for _, run in groupby(cuts, key=lambda one: (one[0].cut.mark, one[0].cut.length, one[1]))]
    # with holes, each has a first hole of its own; with slopes, the saw may be set anew before each of a run
    found = [part for run in found
             for part in ([[one] for one in run] if profile.routing or run[0][1].anew else [run])]
    for run in found:
        (one, saw), *_ = run
        minded = [word for word in dict.fromkeys(care(each, plan).piece for each, _ in run) if word]
        off, how = (saw.recut, saw.how) if profile.routing is None else (
            off_text(one, write), hole_text(one, write))
        yield Run(off, care(one, plan).off, saw.saw, len(run), one.cut.length, one.cut.mark, how, minded)
