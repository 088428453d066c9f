"""Profiles: what they are, what the saw loses on them, and the lengths they are sold in."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from cutplan import plausible
from cutplan.lengths import exact_decimal
from cutplan.shop.figures import Expansion, read_expansion, read_weight_per_length
from cutplan.shop.stock_list import STOCK_KEYS, StockList
from cutplan.tomllines import ZERO, Section

MOST_LEAD = 1_000  # days that anybody waits for a stick; more is a slip of the keyboard
KINDS = ("rail", "picket", "insert", "upright", "brace", "post", "other")
TURNS = ("none", "ends", "over", "both")
KERF_STEP = {"in": Fraction(1, 1024), "mm": Fraction(1, 40)}  # to which a kerf along a slope is rounded up


@dataclass(frozen=True)
class Stock:
    """A length one can draw sticks of. Lengths in the file's unit.

    `price` is the money for one stick, or the length where the shop file gives none; rack offcuts cost 0.
    `qty` is how many there are (None: any number). `tag` names a rack offcut (None: new stock). `first` is where
    an offcut has its first hole, from the end that is squared first unless it is turned (None: as new stock has).
    `head_trim` and `tail_trim` are what an offcut loses at the two ends where that is not what its profile's sticks do
    (None: as they do): nothing at an end that is sawn already, more at one without holes.
    A supplier may sell by the `bundle`, take no order under `min_order`, and ask less for each stick of a larger order:
    `breaks` are (from so many, price), the fewest first.
    `priced`: whether the shop file says what it costs. `supplier` is where it is bought ("": not said), `code` what it
    is called there, and `lead_days` how many days after the order it comes.
    """

    length: Fraction
    price: Fraction
    qty: int | None = None
    tag: str | None = None
    first: Fraction | None = None
    bundle: int = 1
    min_order: int = 0
    breaks: tuple[tuple[int, Fraction], ...] = ()
    priced: bool = field(default=True, compare=False)
    head_trim: Fraction | None = None
    tail_trim: Fraction | None = None
    supplier: str = ""
    code: str = ""
    lead_days: int = 0

    def each(self, ordered: int) -> Fraction:
        """What each stick of an order of so many costs."""
        return next((price for least, price in reversed(self.breaks) if ordered >= least), self.price)


@dataclass(frozen=True)
class Routing:
    """Holes already in a rail: the pitch between centres, and the first one's from the factory end.

    `hole` is how wide each is along the rail (None: as a picket is); the takeoff alone asks for it.
    """

    pitch: Fraction
    first: Fraction
    hole: Fraction | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Angles:
    """What counts where ends are not square: the `face` that the saw crosses, how a piece `may_turn` as it lies on the
    stick (one of TURNS: end for end, upside down), and the `step` to whose whole multiples a kerf along a slope is
    rounded up."""

    face: Fraction
    may_turn: str
    step: Fraction

    def kerf_along(self, kerf: Fraction, set_in: Fraction) -> Fraction:
        """What the saw takes along a piece where its cut is set in so far over the face; rounded up where irrational.

        Its square is k = kerf^2 (1 + (set_in/face)^2).
        """
        square = kerf ** 2 * (1 + (set_in / self.face) ** 2)
        root = Fraction(math.isqrt(square.numerator), math.isqrt(square.denominator))
        if root ** 2 == square:
            return root
        steps = math.ceil(square / self.step ** 2)
        return (math.isqrt(steps - 1) + 1) * self.step


@dataclass(frozen=True)
class Profile:
    """A profile: what it is, the saw's losses on it, the lengths it is sold in. Lengths in the file's unit.

    `most_trim` is the most that a blank may lose at each end (None: as much as need be).
    `face` is the height of the profile's side seen in the opening (optional; hinge heights need it of rails).
    `may_turn` (one of TURNS) and `kerf_step` are of pieces with angled ends: see `Angles`.
    `price_per_length` is the money for one unit of length, for lengths that have no price of their own (None: not
    known). `carrying` is what it costs a week to keep one more length in stock. `expansion` is how it moves with the
    weather, `weight` the kilograms of one unit of length (None: not known).
    """

    name: str
    kind: str
    stock: tuple[Stock, ...]
    kerf: Fraction
    head_trim: Fraction = Fraction(0)
    tail_trim: Fraction = Fraction(0)
    keep_from: Fraction | None = None
    one_per_stick: bool = False
    most_trim: Fraction | None = None
    routing: Routing | None = None
    face: Fraction | None = None
    price_per_length: Fraction | None = None
    carrying: Fraction = Fraction(0)
    expansion: Expansion | None = None
    weight: Fraction | None = None
    may_turn: str = "none"
    kerf_step: Fraction = KERF_STEP["in"]

    @property
    def angles(self) -> Angles | None:
        """What counts where ends are not square; None where pieces of this profile have none."""
        if self.face is None or self.routing is not None or self.one_per_stick:
            return None
        return Angles(self.face, self.may_turn, self.kerf_step)

    def trims(self, entry: Stock) -> tuple[Fraction, Fraction]:
        """What a stick of this stock loses at the end squared first, and at the other."""
        return (self.head_trim if entry.head_trim is None else entry.head_trim,
                self.tail_trim if entry.tail_trim is None else entry.tail_trim)

    def either_end_first(self, entry: Stock) -> bool:
        """Whether either end of such a stick may be squared first: not where one of the two is sawn already."""
        head, tail = self.trims(entry)
        as_new, both_sawn = (head, tail) == (self.head_trim, self.tail_trim), head == tail == 0 < self.tail_trim
        return as_new or both_sawn

    def sawn_last(self, entry: Stock) -> bool:
        """Whether it is an offcut whose one sawn end may come last, where squaring the other loses less than its tail
        trim. It may come first as well, and does wherever that trim is left. (Not where shorter offcuts than the trim
        are kept: there it always comes last.)"""
        offcut = entry.tag is not None and entry.head_trim is None
        kept = self.keep_from is None or self.keep_from >= self.tail_trim
        return offcut and kept and entry.tail_trim == 0 < self.head_trim < self.tail_trim

    def longest_piece(self, entry: Stock) -> Fraction:
        """The longest piece that a stick of this stock yields; not above zero where the trims leave nothing."""
        if self.one_per_stick:  # trimmed equally at both ends, so the larger trim counts twice
            return entry.length - 2 * max(self.trims(entry))
        return entry.length - sum(self.trims(entry))

    def offcut(self, tag: str, length: Fraction, first: Fraction | None = None, sawn: int = 0,
               plain: Fraction = ZERO) -> Stock:
        """An offcut as stock that costs nothing; `sawn` of its ends are sawn, and no holes are in its last `plain`.

        With one end sawn that is squared first; a plain one may lie the other way round where that loses less (see
        `sawn_last`). A blank is turned down at both ends alike, sawn or not.
        """
        entry = Stock(length, ZERO, 1, tag, first)
        if not sawn or self.one_per_stick:
            return entry
        if sawn == 1 and self.routing is None and self.head_trim < self.tail_trim:
            return replace(entry, tail_trim=ZERO)
        return replace(entry, head_trim=ZERO, tail_trim=max(ZERO if sawn == 2 else self.tail_trim, plain))


def read_profiles(root: Section, saw_kerf: Fraction, listed: StockList) -> tuple[dict[str, Profile], tuple[str, ...]]:
    """The profiles by name, with the lengths that are `listed` elsewhere, and what is to be said of their prices."""
    tables = root.section("profiles")
    if not tables.values and not tables.reported:
        root.report("profiles", "there is none; write a table such as [profiles.rail] with kind and stock")
    profiles: dict[str, Profile] = {}
    notes: list[str] = []
    for name in tables.values:
        table = tables.section(name)
        profiles[name] = read_profile(name, table, [*own_stock(table, listed, name), *listed.of(name)], saw_kerf)
        notes += price_notes(profiles[name])
    listed.refuse_strange(profiles)
    return profiles, tuple(notes)


def own_stock(table: Section, listed: StockList, name: str) -> list[Section]:
    """The entries of a profile's stock in the shop file; it needs none where others are listed."""
    if "stock" in table.values or (listed.sound and not listed.name):
        return table.entries("stock", '[ { length = "16 ft", price = 41.20 } ]')
    if not listed.of(name) and listed.sound:
        table.report("stock", f"is missing, and {listed.name} has no line of this profile; write one there, or stock = "
                     '[ { length = "16 ft", price = 41.20 } ] here')
    return []


def read_profile(name: str, table: Section, entries: Sequence[Section], saw_kerf: Fraction) -> Profile:
    """One profile; `entries` are the tables of its stock. Trims must leave something of each length."""
    table.only(
        "kind", "stock", "kerf", "head_trim", "tail_trim", "keep_from", "one_per_stick", "most_trim", "routing", "face",
        "price_per_length", "carrying", "expansion", "weight_per_length", "may_turn",
    )  # fmt: skip
    head, tail = table.length("head_trim"), table.length("tail_trim")
    turned = table.flag("one_per_stick")
    lost = 2 * max(head, tail) if turned else head + tail  # a turned blank is trimmed equally at both ends
    if turned and "routing" in table.values:
        table.report("routing", "a blank that gives one turned piece has no holes to cut by; leave out one of the two")
    most_trim = table.length_or_none("most_trim")
    if most_trim is not None and table.sound("most_trim", "head_trim", "tail_trim"):
        if not turned:
            table.report("most_trim", "only blanks that give one turned piece have it; leave it out, or write "
                         "one_per_stick = true")
        elif 2 * most_trim < lost:
            table.report("most_trim", f"is less than the trims, {exact_decimal(lost / 2)}; write at least that")
    refuse_turning(table)
    per_length = table.rate_or_none("price_per_length")
    stock = tuple(read_stock(entry, per_length) for entry in entries)
    for entry, stick in zip(entries, stock, strict=True):
        if table.sound("head_trim", "tail_trim") and entry.sound("length") and stick.length <= lost:
            said = f"the trims take {exact_decimal(lost)} {table.unit} and leave nothing"
            entry.report("length", f"{said}; a longer stick is needed")
    return Profile(
        name=name,
        kind=table.choice("kind", KINDS),
        stock=stock,
        kerf=table.length("kerf", saw_kerf),
        head_trim=head,
        tail_trim=tail,
        keep_from=table.length_or_none("keep_from"),
        one_per_stick=turned,
        most_trim=most_trim,
        routing=read_routing(table.section("routing")) if "routing" in table.values else None,
        face=table.length_or_none("face"),
        price_per_length=per_length,
        carrying=table.money("carrying", Fraction(0)),
        expansion=table.read("expansion", None, read_expansion, ""),
        weight=read_profile_weight(table),
        may_turn=table.choice("may_turn", TURNS) if "may_turn" in table.values else "none",
        kerf_step=KERF_STEP[table.unit],
    )


def refuse_turning(table: Section) -> None:
    """Reports `may_turn` where no piece of the profile can have angled ends."""
    if "may_turn" not in table.values:
        return
    if "routing" in table.values or table.flag("one_per_stick"):
        table.report("may_turn", "speaks of pieces with angled ends, which cannot be cut from routed rails or from "
                     "blanks; leave it out")
    elif "face" not in table.values:
        table.report("may_turn", "speaks of pieces with angled ends, which need the profile's face; write face too, or "
                     "leave it out")


def read_profile_weight(table: Section) -> Fraction | None:
    """The kilograms of one unit of length, or None where the key is missing."""
    if "weight_per_length" not in table.values:
        return None
    return table.read("weight_per_length", ZERO, lambda text: read_weight_per_length(text, table.unit), "")


def read_stock(entry: Section, per_length: Fraction | None) -> Stock:
    """A length for sale; without a price it costs what the profile costs by length, or else its length."""
    entry.only(*STOCK_KEYS)
    length = entry.length("length", example='"16 ft"', zero_ok=False)
    price = entry.money("price", length if per_length is None else length * per_length)
    return Stock(length, price, entry.whole_or_none("qty", least=0), bundle=entry.whole("bundle", 1, least=1),
                 min_order=entry.whole("min_order", 0, least=0), breaks=read_breaks(entry, price),
                 priced="price" in entry.values or per_length is not None, supplier=read_name(entry, "supplier"),
                 code=read_name(entry, "code"), lead_days=read_lead(entry))


def read_name(entry: Section, key: str) -> str:
    """A name or a number that stands for one; empty where the key is missing."""
    if key not in entry.values:
        return ""
    name = entry.read(key, "", str.strip, "")
    if entry.sound(key) and not name:
        entry.report(key, "is empty; write it, or leave it out")
    return name


def read_lead(entry: Section) -> int:
    days = entry.whole("lead_days", 0, least=0)
    if days > MOST_LEAD:
        entry.report("lead_days", f"{days} days are more than {MOST_LEAD}; check the number")
        return 0
    return days


def read_breaks(entry: Section, price: Fraction) -> tuple[tuple[int, Fraction], ...]:
    """The price breaks of a length: each from more sticks on than the last, and cheaper."""
    if "price_breaks" not in entry.values:
        return ()
    breaks: list[tuple[int, Fraction]] = []
    for table in entry.entries("price_breaks", "[ { from = 50, price = 39.00 } ]"):
        table.only("from", "price")
        table.missing("from", "50")
        table.missing("price", "39.00")
        least, each = table.whole("from", 1, least=1), table.money("price", price)
        before = breaks[-1] if breaks else (1, price)
        if table.sound("from") and breaks and least <= before[0]:
            table.report("from", f"{least} is not more than the break before; write the breaks from few to many")
        if table.sound("price") and each >= before[1]:
            table.report("price", f"is not less than {exact_decimal(before[1])} before; a break makes it cheaper")
        breaks.append((least, each))
    return tuple(breaks)


def price_notes(profile: Profile) -> Iterator[str]:
    """Says that a profile mixes prices with lengths that cost their length."""
    unpriced = [entry for entry in profile.stock if not entry.priced]
    if 0 < len(unpriced) < len(profile.stock):
        said = "1 stock length has" if len(unpriced) == 1 else f"{len(unpriced)} stock lengths have"
        yield f"profile {profile.name}: {said} no price; the length counts as the price, beside real ones"


def read_routing(table: Section) -> Routing:
    table.only("pitch", "first", "hole")
    routing = Routing(
        pitch=table.length("pitch", example='"4 3/4 in"', zero_ok=False),
        first=table.length("first", example='"2 3/8 in"'),
        hole=table.length_or_none("hole"),
    )
    if table.sound("pitch") and (doubt := plausible.width(routing.pitch, table.unit)):
        table.report("pitch", doubt)
    if routing.hole is not None and table.sound("pitch", "hole") and routing.hole >= routing.pitch:
        table.report("hole", f"holes that wide meet at a pitch of {exact_decimal(routing.pitch)}; write a smaller one")
    return routing
