"""The records of a plan, for the optimiser, the audit and the sheets alike. Lengths in the file's unit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from cutplan.shop import Routing


@dataclass(frozen=True)
class Demand:
    """`qty` pieces of one length under one mark.

    `centred` is what a rail's middle must fall on where there are holes: "hole", "space" or "either"; else "".
    """

    mark: str
    length: Fraction
    qty: int
    for_: str = ""
    centred: str = ""


@dataclass(frozen=True)
class Cut:
    """One piece on a stick, from `start` to `end` along the stick, both measured from the end squared first.

    `centred`: what a rail's middle falls on where there are holes, "hole" or "space"; else "".
    """

    mark: str
    length: Fraction
    start: Fraction
    end: Fraction
    centred: str = ""


@dataclass(frozen=True)
class Stick:
    """`count` sticks cut alike, marks included. `price` is one stick's; `offcut` what is left after the last cut.

    A blank that yields one turned piece is trimmed equally at both ends: its `offcut` is the two ends together and
    is never kept. Where there are holes, `first` is how far the first is from the stick's end, and `turned` says that
    the stick was turned end for end before its cuts were measured. `offcut_tags` names the offcuts that are kept, one
    for each stick, where they have names already.
    """

    source: str  # "new" | "rack"
    tag: str | None
    length: Fraction
    price: Fraction
    count: int
    cuts: tuple[Cut, ...]
    offcut: Fraction
    keep: bool
    first: Fraction | None = None
    turned: bool = False
    offcut_tags: tuple[str, ...] = ()

    def first_from_squared(self, pitch: Fraction) -> Fraction:
        """Where the first hole is from the end squared first (0 on a plain stick)."""
        if self.first is None:
            return Fraction(0)
        return (self.length - self.first) % pitch if self.turned else self.first

    def first_of_offcut(self, pitch: Fraction, kerf: Fraction) -> Fraction:
        """Where the first hole of what is left is, from the end that the last cut made."""
        return (self.first_from_squared(pitch) - self.cuts[-1].end - kerf) % pitch

    @property
    def setup(self) -> tuple[Fraction, tuple[Fraction, ...]]:
        """What the saw is set to: the stick's length and its cut lengths, longest first."""
        return self.length, tuple(sorted((cut.length for cut in self.cuts), reverse=True))


@dataclass(frozen=True)
class Totals:
    """drawn = pieces + kerf + trim + scrap + kept; `patterns` counts the different saw set-ups."""

    cost: Fraction
    drawn: Fraction
    pieces: Fraction
    kerf: Fraction
    trim: Fraction
    scrap: Fraction
    kept: Fraction
    patterns: int

    @property
    def waste_percent(self) -> Fraction:
        """100 x (drawn - pieces) / drawn; 0 where nothing is drawn."""
        return 100 * (self.drawn - self.pieces) / self.drawn if self.drawn else Fraction(0)

    @property
    def net_waste_percent(self) -> Fraction:
        """As `waste_percent`, kept offcuts not counted as wasted."""
        return 100 * (self.drawn - self.pieces - self.kept) / self.drawn if self.drawn else Fraction(0)


def middle_hole(cut: Cut, stick: Stick, routing: Routing, head_trim: Fraction) -> int:
    """Which hole a rail's middle is on, or which it comes next after; the first beyond the squaring cut is 1."""
    first = stick.first_from_squared(routing.pitch)
    lost = max(0, math.ceil((head_trim - first) / routing.pitch))
    return math.floor(((cut.start + cut.end) / 2 - first) / routing.pitch) - lost + 1


def slivers(stick: Stick, kerf: Fraction, head_trim: Fraction) -> Fraction:
    """What lies between the pieces of a stick with holes, besides one kerf for each piece."""
    if stick.first is None or not stick.cuts:
        return Fraction(0)
    pieces = sum((cut.length for cut in stick.cuts), Fraction(0))
    return stick.cuts[-1].end - head_trim - pieces - (len(stick.cuts) - 1) * kerf


def sum_up(sticks: Sequence[Stick], kerf: Fraction, head_trim: Fraction, tail_trim: Fraction) -> Totals:
    """Where the length of these sticks goes; the kerfs are the rest."""
    drawn = sum((s.count * s.length for s in sticks), Fraction(0))
    pieces = sum((s.count * cut.length for s in sticks for cut in s.cuts), Fraction(0))
    trims = (head_trim + tail_trim) * sum(s.count for s in sticks)
    kept = sum((s.count * s.offcut for s in sticks if s.keep), Fraction(0))
    scrap = sum((s.count * s.offcut for s in sticks if not s.keep), Fraction(0))
    scrap += sum((s.count * slivers(s, kerf, head_trim) for s in sticks), Fraction(0))
    return Totals(
        cost=sum((s.count * s.price for s in sticks if s.source == "new"), Fraction(0)),
        drawn=drawn,
        pieces=pieces,
        kerf=drawn - pieces - trims - kept - scrap,
        trim=trims,
        scrap=scrap,
        kept=kept,
        patterns=len({s.setup for s in sticks}),
    )


@dataclass(frozen=True)
class Tier:
    """One of the three aims ("cost", "used up", "patterns"): the plan's value and its lower bound.

    `by_search`: the bound rests on a search that went to its end, and not on what the plan file proves.
    """

    name: str
    value: Fraction
    bound: Fraction
    by_search: bool = False

    @property
    def closed(self) -> bool:
        """Whether no plan can be better."""
        return self.bound >= self.value

    @property
    def status(self) -> str:
        if not self.closed:
            return "gap"
        return "search" if self.by_search else "proven"


@dataclass(frozen=True)
class ProfilePlan:
    """The plan of one profile: the rule it was cut by, what was asked, the sticks, and what is proven.

    `certificate` is what `check` needs to prove the bound of the first tier again; its form is in DEVELOPERS.md.
    `on_hand` says of lengths of new stock how many lay there uncut when the plan was made: these need not be bought.
    """

    profile: str
    kerf: Fraction
    head_trim: Fraction
    tail_trim: Fraction
    keep_from: Fraction | None
    one_per_stick: bool
    demand: tuple[Demand, ...]
    sticks: tuple[Stick, ...]
    totals: Totals
    tiers: tuple[Tier, ...]
    certificate: dict[str, Any] = field(default_factory=dict)
    routing: Routing | None = None
    on_hand: tuple[tuple[Fraction, int], ...] = ()


@dataclass(frozen=True)
class Plan:
    """A whole plan. `shortest_held` and `tape` are the shop's, for what the sheets mark and print.

    `cards` are the layout cards of what the pieces are for, as the sheets wrote them: the cutter never looks at them.
    """

    unit: str
    profiles: tuple[ProfilePlan, ...]
    currency: str = ""
    tape: Fraction = Fraction(1, 16)
    shortest_held: Fraction | None = None
    cards: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True)
class Numbered:
    """An entry of a plan's sticks; its first stick is number `first`, counted through the whole plan from 1.

    `profile` and `entry` are its places in the lists of the plan.
    """

    first: int
    profile: int
    entry: int
    stick: Stick

    @property
    def last(self) -> int:
        return self.first + self.stick.count - 1


def numbered(plan: Plan) -> Iterator[Numbered]:
    """The entries of all sticks in the plan's order."""
    first = 1
    for k, profile in enumerate(plan.profiles):
        for s, stick in enumerate(profile.sticks):
            yield Numbered(first, k, s, stick)
            first += stick.count


@dataclass(frozen=True)
class Purchase:
    """New sticks of one length and price that a plan draws, `there` of them uncut when it was made."""

    profile: str
    length: Fraction
    price: Fraction
    drawn: int
    there: int

    @property
    def missing(self) -> int:
        """How many are to be bought."""
        return self.drawn - self.there


def purchases(profile: ProfilePlan) -> list[Purchase]:
    """The new sticks of a profile; what is there of a length goes to its first price first."""
    drawn: dict[tuple[Fraction, Fraction], int] = {}
    for stick in profile.sticks:
        if stick.source == "new":
            key = stick.length, stick.price
            drawn[key] = drawn.get(key, 0) + stick.count
    there = dict(profile.on_hand)
    found = []
    for (length, price), count in drawn.items():
        taken = min(count, there.get(length, 0))
        there[length] = there.get(length, 0) - taken
        found.append(Purchase(profile.profile, length, price, count, taken))
    return found
