"""The records of a plan, for the optimiser, the audit and the sheets alike. Lengths in the file's unit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import astuple, dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Any

from cutplan.ends import lies_of
from cutplan.lengths import Ratio, added
from cutplan.shop import Angles, Routing


@dataclass(frozen=True)
class Demand:
    """`qty` pieces of one length under one mark.

    `centred` is what a rail's middle must fall on where there are holes: "hole", "space" or "either"; else "". Of
    pieces turned from blanks, sets of `each` come from blanks of one length. `left_in` and `right_in` are what its ends
    are set in. `file` and `line` are where it was asked for first.
    """

    mark: str
    length: Fraction
    qty: int
    for_: str = ""
    centred: str = ""
    each: int = 1
    file: str = field(default="", compare=False)
    line: int = field(default=0, compare=False)
    left_in: Fraction = Fraction(0)
    right_in: Fraction = Fraction(0)

    @property
    def lies(self) -> str:
        """How it is asked to lie, as one text."""
        return lies_of(self.centred, self.left_in, self.right_in)

    @property
    def ends(self) -> str:
        """What its ends are set in, as one text; "" where both are square."""
        return lies_of("", self.left_in, self.right_in)

    @property
    def middle(self) -> Fraction:
        """The length halfway up its face."""
        return self.length - (self.left_in + self.right_in) / 2 if self.left_in or self.right_in else self.length


AS_IS, END_FOR_END, OVER, BOTH = "as is", "ends", "over", "both"
LYING = (AS_IS, END_FOR_END, OVER, BOTH)


@dataclass(frozen=True)
class Cut:
    """One piece on a stick, from `start` to `end` along the stick, both measured from the end squared first.

    `centred`: what a rail's middle falls on where there are holes, "hole" or "space"; else "". Of a piece with angled
    ends, `length` is as it was asked for, and all else as it lies: `start` and `end` of the edge on top, what its ends
    are set in, and which way it `lies` (one of LYING: as is, turned end for end, upside down, or both); "" of a square
    piece.
    """

    mark: str
    length: Fraction
    start: Fraction
    end: Fraction
    centred: str = ""
    left_in: Fraction = Fraction(0)
    right_in: Fraction = Fraction(0)
    lies: str = ""

    @property
    def near_start(self) -> Fraction:
        """Where the edge begins that does not lie on top."""
        return self.start + self.left_in

    @property
    def near_end(self) -> Fraction:
        """Where the edge ends that does not lie on top."""
        return self.end - self.right_in

    @property
    def furthest(self) -> Fraction:
        """Where its further corner at its end is."""
        return max(self.end, self.near_end)

    @property
    def upside_down(self) -> bool:
        """Whether the edge that its length is measured along is not the one on top."""
        return self.lies in (OVER, BOTH)

    @property
    def middle(self) -> Fraction:
        """The length halfway up its face."""
        return self.end - self.start - (self.left_in + self.right_in) / 2 if self.lies else self.length

    @property
    def asked_ends(self) -> tuple[Fraction, Fraction]:
        """What its ends are set in as it was asked for."""
        left, right = self.left_in, self.right_in
        if self.lies in (END_FOR_END, BOTH):
            left, right = right, left
        return (-left, -right) if self.upside_down else (left, right)

    @property
    def saw_setting(self) -> tuple[Ratio, ...]:
        """What the saw is set to for it, whichever way it lies: its length and, where not square, its ends."""
        ends = self.asked_ends if self.lies else ()
        return self.length.as_integer_ratio(), *(end.as_integer_ratio() for end in ends)


@dataclass(frozen=True)
class Stick:
    """`count` sticks cut alike, marks included. `price` is one stick's; `offcut` what is in hand after the last cut,
    the stick's raw end included. `head_trim` is what squaring its first end takes, `tail_trim` what is lost at the
    other where nothing is kept: the profile's, but nothing at the sawn ends of an offcut.

    A blank that yields one turned piece is trimmed equally at both ends: its `offcut` is the two ends together, beyond
    their trims and a kerf, and is never kept. Where there are holes, `first` is how far the first is from the stick's
    end, and `turned` says that the stick was turned end for end before its cuts were measured. `offcut_tags` names the
    offcuts that are kept, one for each stick, where they have names already.
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
    head_trim: Fraction = Fraction(0)
    tail_trim: Fraction = Fraction(0)

    def first_from_squared(self, pitch: Fraction) -> Fraction:
        """Where the first hole is from the end squared first (0 on a plain stick)."""
        if self.first is None:
            return Fraction(0)
        return (self.length - self.first) % pitch if self.turned else self.first

    def first_of_offcut(self, pitch: Fraction, kerf: Fraction) -> Fraction:
        """Where the first hole of what is left is, from the end that the last cut made."""
        return (self.first_from_squared(pitch) - self.cuts[-1].end - kerf) % pitch

    @property
    def setup(self) -> Hashable:
        """What the saw is set to: the stick's length, its cut lengths and their angles, in any order."""
        return self.length.as_integer_ratio(), tuple(sorted([cut.saw_setting for cut in self.cuts]))

    @property
    def places(self) -> Hashable:
        """What sticks must share to be cut in one lift: length, squaring cut, holes, which end is first, every cut."""
        marks = [end.as_integer_ratio() for cut in self.cuts for end in (cut.start, cut.end)]
        marks += [end.as_integer_ratio() for cut in self.cuts if cut.lies for end in (cut.left_in, cut.right_in)]
        first = self.first and self.first.as_integer_ratio()
        return self.length.as_integer_ratio(), self.head_trim.as_integer_ratio(), first, self.turned, tuple(marks)


def waste_percent(waste: Fraction, base: Fraction) -> Fraction:
    """The waste in per cent of what is drawn, or of the net length; 0 of nothing."""
    return 100 * waste / base if base else Fraction(0)


@dataclass(frozen=True)
class Totals:
    """drawn = pieces + kerf + trim + scrap + kept; `patterns` counts the different saw set-ups.

    A piece with angled ends counts by its length halfway up its face, which is what it takes of a stick. `wedges` is
    the part of the scrap between unlike ends, `slope_kerf` what kerfs along slopes take more than square ones.
    """

    cost: Fraction
    drawn: Fraction
    pieces: Fraction
    kerf: Fraction
    trim: Fraction
    scrap: Fraction
    kept: Fraction
    patterns: int
    wedges: Fraction = Fraction(0)
    slope_kerf: Fraction = Fraction(0)

    @property
    def waste_percent(self) -> Fraction:
        """100 x (drawn - pieces) / drawn; 0 where nothing is drawn."""
        return waste_percent(self.drawn - self.pieces, self.drawn)

    @property
    def net_waste_percent(self) -> Fraction:
        """As `waste_percent`, kept offcuts not counted as wasted."""
        return waste_percent(self.drawn - self.pieces - self.kept, self.drawn)


def slivers(stick: Stick, kerf: Fraction) -> Fraction:
    """What lies between the pieces of a stick, besides one kerf for each piece: where holes or unlike ends keep them
    apart."""
    if stick.first is None or not stick.cuts:
        return wedges(stick)
    pieces = sum((cut.length for cut in stick.cuts), Fraction(0))
    return stick.cuts[-1].end - stick.head_trim - pieces - (len(stick.cuts) - 1) * kerf


def wedges(stick: Stick) -> Fraction:
    """The scrap between ends that are cut at unlike slopes, halfway up the face; both ends of the stick are square."""
    if not any(cut.lies for cut in stick.cuts):
        return Fraction(0)
    slopes = [Fraction(0), *(slope for cut in stick.cuts for slope in (cut.left_in, -cut.right_in)), Fraction(0)]
    return sum((abs(one - other) / 2 for one, other in zip(slopes[::2], slopes[1::2], strict=True)), Fraction(0))


def gap(one: Cut, other: Cut) -> Fraction:
    """What is between two neighbours along the edge where it is less: the kerf along the steeper slope."""
    return min(other.start - one.end, other.near_start - one.near_end)


def slope_kerf(stick: Stick, kerf: Fraction) -> Fraction:
    """What the kerfs along slopes take more than square ones; of the last as much as is on the usable stick."""
    if not any(cut.lies for cut in stick.cuts):
        return Fraction(0)
    gaps = [gap(one, other) for one, other in pairwise(stick.cuts)]
    taken = stick.length - trimmed(stick) - sum(cut.middle for cut in stick.cuts)
    taken -= scrapped(stick, kerf, turned_blank=False) + (stick.offcut if stick.keep else 0)
    last = taken - sum(gaps)
    return taken - len(gaps) * kerf - min(kerf, last)


def trimmed(stick: Stick) -> Fraction:
    """What is lost at a stick's ends: nothing at the far one where that is part of a kept offcut."""
    return stick.head_trim + (0 if stick.keep else stick.tail_trim)


def scrapped(stick: Stick, kerf: Fraction, turned_blank: bool) -> Fraction:
    """What of a stick is neither piece nor kerf, is no trim and is not kept."""
    if turned_blank:
        return stick.offcut
    left = Fraction(0) if stick.keep else max(Fraction(0), stick.offcut - stick.tail_trim)
    return left + slivers(stick, kerf)


def total(profiles: Iterable[ProfilePlan]) -> Totals:
    """The totals of all profiles; of none nothing."""
    none = Fraction(0)
    every = (Totals(none, none, none, none, none, none, none, patterns=0), *(one.totals for one in profiles))
    return Totals(*(sum(parts) for parts in zip(*map(astuple, every), strict=True)))


def sum_up(sticks: Sequence[Stick], kerf: Fraction, turned_blanks: bool) -> Totals:
    """Where the length of these sticks goes; the kerfs are the rest."""
    drawn = added((s.count, s.length) for s in sticks)
    pieces = added((s.count, cut.middle) for s in sticks for cut in s.cuts)
    trims = added((s.count, trimmed(s)) for s in sticks)
    kept = added((s.count, s.offcut) for s in sticks if s.keep)
    scrap = added((s.count, scrapped(s, kerf, turned_blanks)) for s in sticks)
    return Totals(
        cost=added((s.count, s.price) for s in sticks if s.source == "new"),
        drawn=drawn,
        pieces=pieces,
        kerf=drawn - pieces - trims - kept - scrap,
        trim=trims,
        scrap=scrap,
        kept=kept,
        patterns=len({s.setup for s in sticks}),
        wedges=added((s.count, wedges(s)) for s in sticks),
        slope_kerf=added((s.count, slope_kerf(s, kerf)) for s in sticks),
    )


@dataclass(frozen=True)
class Left:
    """An offcut that is kept: where its first hole is, how many ends are sawn square, how much of its far end has no
    holes; and the slope of the end that the last cut made: how far it is set in over the face, as rise over run."""

    length: Fraction
    first: Fraction | None
    sawn: int
    plain: Fraction = Fraction(0)
    slope: Fraction = Fraction(0)


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
class Spare:
    """What a plan may cost more than need be, so that it has fewer set-ups: `share` of the least.

    `least`: what the cheapest plan found costs; `at_most`: no less than that, and `share` more than the proven least.
    """

    share: Fraction
    least: Fraction
    at_most: Fraction

    @classmethod
    def of(cls, share: Fraction, least: Fraction, bound: Fraction) -> Spare:
        return cls(share, least, max(least, (1 + share) * bound))


@dataclass(frozen=True)
class SawTime:
    """What the saw has to do: set-ups, lifts, cuts through lifts, the minutes these take, and their `amount` of money
    (None: an hour's is not known)."""

    setups: int
    lifts: int
    cuts: int
    minutes: Fraction
    amount: Fraction | None


@dataclass(frozen=True)
class ProfilePlan:
    """The plan of one profile: the rule it was cut by, what was asked, the sticks, and what is proven.

    `certificate` is what `check` needs to prove the bound of the first tier again; its form is in this room's README.
    `angles` is there where pieces with angled ends are asked for.
    `on_hand` says of lengths of new stock how many lay there uncut when the plan was made: these need not be bought.
    `saw` is the time at the saw, where the shop says what work takes; `spare` what may be spent for fewer set-ups
    (None: nothing), and `trade` other plans of the same pieces, each with a spare of its own: told, and not written.
    `faults` says what failed in a later tier as it was made; it is told, and not written down.
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
    most_trim: Fraction | None = None
    angles: Angles | None = None
    saw: SawTime | None = None
    spare: Spare | None = None
    trade: tuple[ProfilePlan, ...] = field(default=(), compare=False)
    faults: tuple[str, ...] = field(default=(), compare=False)

    def begins_sawn(self, stick: Stick) -> bool:
        """Whether the end that is squared first is sawn already, and loses nothing."""
        return stick.head_trim != self.head_trim

    def ends_sawn(self, stick: Stick) -> bool:
        """Whether only the other end is known to be sawn, where more would be lost."""
        return not self.begins_sawn(stick) and stick.tail_trim == 0 < self.tail_trim

    def left_by(self, stick: Stick) -> Left:
        """The offcut that such a stick leaves: its first hole from the end that the last cut made, and its far end."""
        own = stick.tail_trim != self.tail_trim
        sawn = 2 if own and not stick.tail_trim else 1
        if self.angles and stick.cuts and stick.cuts[-1].right_in:  # counted by its shorter edge, and squared again
            return Left(stick.offcut, None, sawn - 1, slope=-stick.cuts[-1].right_in / self.angles.face)
        if self.routing is None or stick.first is None:
            return Left(stick.offcut, None, sawn)
        plain = stick.first - self.routing.pitch if stick.turned else stick.tail_trim if own else Fraction(0)
        return Left(stick.offcut, stick.first_of_offcut(self.routing.pitch, self.kerf), sawn, max(plain, Fraction(0)))


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


def new_drawn(profile: ProfilePlan) -> Counter[Fraction]:
    """How many new sticks of each length a profile draws."""
    drawn: Counter[Fraction] = Counter()
    for stick in profile.sticks:
        if stick.tag is None:
            drawn[stick.length] += stick.count
    return drawn


def purchases(profile: ProfilePlan) -> list[Purchase]:
    """The new sticks of a profile; what is there of a length goes to those that cost nothing, then its first price."""
    drawn: Counter[tuple[Ratio, Ratio]] = Counter()
    for stick in profile.sticks:
        if stick.source == "new":
            drawn[stick.length.as_integer_ratio(), stick.price.as_integer_ratio()] += stick.count
    there = dict(profile.on_hand)
    found = []
    for (ratio, price), count in sorted(drawn.items(), key=lambda one: one[0][1] != (0, 1)):
        length = Fraction(*ratio)
        taken = min(count, there.get(length, 0))
        there[length] = there.get(length, 0) - taken
        found.append(Purchase(profile.profile, length, Fraction(*price), count, taken))
    return found


TIERS = ("cost", "used up", "patterns")
SOURCES = ("new", "rack")
