"""The shop file: saw, profiles and the lengths they are sold in, systems (how an opening becomes pieces)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction

from cutplan import plausible
from cutplan.lengths import exact_decimal, quoted, written
from cutplan.problems import Source, suggest
from cutplan.tomllines import ZERO, Section, load

UNITS = ("in", "mm")
TAPES = {"in": Fraction(1, 16), "mm": Fraction(1)}
KINDS = ("rail", "picket", "insert", "upright", "other")
PARTS = {
    "top_rail": "rail", "bottom_rail": "rail", "picket": "picket", "insert": "insert", "upright": "upright",
}  # fmt: skip
OPTIONAL_PARTS = ("insert", "upright")
# What a hole may be wider than its picket, so that this goes in: 1/8 in or as much in mm. Common practice, no source.
PLAY = {"in": Fraction(1, 8), "mm": Fraction(127, 40)}


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
    `priced`: whether the shop file says what it costs.
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
class Profile:
    """A profile: what it is, the saw's losses on it, the lengths it is sold in. Lengths in the file's unit.

    `most_trim` is the most that a blank may lose at each end (None: as much as need be).
    `face` is the height of the profile's side seen in the opening (optional; hinge heights need it of rails).
    `price_per_length` is the money for one unit of length, for lengths that have no price of their own (None: not
    known). `carrying` is what it costs a week to keep one more length in stock.
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

    def trims(self, entry: Stock) -> tuple[Fraction, Fraction]:
        """What a stick of this stock loses at the end squared first, and at the other."""
        return (self.head_trim if entry.head_trim is None else entry.head_trim,
                self.tail_trim if entry.tail_trim is None else entry.tail_trim)

    def may_turn(self, entry: Stock) -> bool:
        """Whether either end of such a stick may be squared first: not where one of the two is sawn already."""
        head, tail = self.trims(entry)
        as_new, both_sawn = (head, tail) == (self.head_trim, self.tail_trim), head == tail == 0 < self.tail_trim
        return as_new or both_sawn

    def longest_piece(self, entry: Stock) -> Fraction:
        """The longest piece that a stick of this stock yields; not above zero where the trims leave nothing."""
        if self.one_per_stick:  # trimmed equally at both ends, so the larger trim counts twice
            return entry.length - 2 * max(self.trims(entry))
        return entry.length - sum(self.trims(entry))

    def offcut(self, tag: str, length: Fraction, first: Fraction | None = None, sawn: int = 0,
               plain: Fraction = ZERO) -> Stock:
        """An offcut as stock that costs nothing; `sawn` of its ends are sawn, and no holes are in its last `plain`.

        With one end sawn that is squared first; a plain one lies the other way round where that loses less. A blank is
        turned down at both ends alike, sawn or not.
        """
        entry = Stock(length, ZERO, 1, tag, first)
        if not sawn or self.one_per_stick:
            return entry
        if sawn == 1 and self.routing is None and self.head_trim < self.tail_trim:
            return replace(entry, tail_trim=ZERO)
        return replace(entry, head_trim=ZERO, tail_trim=max(ZERO if sawn == 2 else self.tail_trim, plain))


@dataclass(frozen=True)
class GateRule:
    """Allowances of a gate; rail = opening - latch_gap - hinge_gap - 2 x upright_wall."""

    latch_gap: Fraction
    hinge_gap: Fraction
    upright_wall: Fraction
    rail_insertion: Fraction
    picket_trim: Fraction


@dataclass(frozen=True)
class BayRule:
    """Allowances of a bay; rail = opening - 2 x end_clearance + 2 x rail_insertion."""

    end_clearance: Fraction
    rail_insertion: Fraction

    @property
    def hidden(self) -> Fraction:
        """How much of each rail end the post hides."""
        return self.rail_insertion - self.end_clearance


@dataclass(frozen=True)
class System:
    """How an opening becomes pieces: the profile of each part (by name), the picket rule and the allowances.

    `above_top_rail` and `below_bottom_rail` (optional, 0) are the parts of the height above the top rail
    and below the bottom rail; they place the hinges. `free_centring`: the cutter may choose what a routed rail's middle
    falls on, where either would do. `plugged`: a routed rail may leave holes open, which get plugs.
    """

    name: str
    top_rail: str
    bottom_rail: str
    picket: str
    picket_width: Fraction
    max_gap: Fraction
    min_end_gap: Fraction
    insert: str | None = None
    upright: str | None = None
    insert_short: Fraction = Fraction(0)
    picket_allowance: Fraction = Fraction(0)
    above_top_rail: Fraction = Fraction(0)
    below_bottom_rail: Fraction = Fraction(0)
    gate: GateRule | None = None
    bay: BayRule | None = None
    free_centring: bool = False
    plugged: bool = False


@dataclass(frozen=True)
class Shop:
    """A whole shop file. `unit` is "in" or "mm"; `tape` the division the shop's tapes are read to.

    `shortest_held` is the least length held by hand at the saw; shorter ones are marked "clamp", down to
    `shortest_clamped` (None: a part of the other). `offcut_credit` is the share, 0 to 1, of what a kept offcut cost
    that a bid may count as not lost.
    """

    name: str
    unit: str
    currency: str
    kerf: Fraction
    shortest_held: Fraction | None
    stack: int
    tape: Fraction
    profiles: Mapping[str, Profile]
    systems: Mapping[str, System]
    notes: tuple[str, ...] = ()
    offcut_credit: Fraction = Fraction(0)
    shortest_clamped: Fraction | None = None


def load_shop(source: Source) -> Shop:
    """The shop file, whole and sound. InputProblems holds everything that is wrong in it."""
    return shop_of(load(source))


def shop_of(root: Section) -> Shop:
    """The shop that a file's values say."""
    root.only("name", "unit", "currency", "tape", "free_centring", "offcut_credit", "saw", "profiles", "systems")
    root.unit = root.choice("unit", UNITS) or "in"
    saw = root.section("saw")
    saw.only("kerf", "shortest_held", "shortest_clamped", "stack")
    kerf = saw.length("kerf", example='"1/8 in"')
    held = saw.length_or_none("shortest_held")
    profiles, notes = read_profiles(root, kerf)
    systems = read_systems(root, profiles)
    shop = Shop(
        name=root.text("name"),
        unit=root.unit,
        currency=root.text("currency"),
        kerf=kerf,
        shortest_held=held,
        stack=saw.whole("stack", 1, least=1),
        tape=root.length("tape", TAPES[root.unit], zero_ok=False),
        profiles=profiles,
        systems=systems,
        notes=(*notes, *(note for system in systems.values() for note in gap_notes(system, profiles, root.unit))),
        offcut_credit=read_credit(root),
        shortest_clamped=read_clamped(saw, held),
    )
    root.findings.raise_any()
    return shop


def read_credit(root: Section) -> Fraction:
    """What share of its price a kept offcut counts in a bid; 0 where nothing is said."""
    credit = root.money("offcut_credit", Fraction(0))
    if root.sound("offcut_credit") and credit > 1:
        said = f"{exact_decimal(credit)} is more than an offcut costs"
        root.report("offcut_credit", f"{said}; write a share from 0 to 1, such as 0.5")
    return credit


def read_clamped(saw: Section, held: Fraction | None) -> Fraction | None:
    """The least that the shop's clamps take, which is at most what a hand must have; None where nothing is said."""
    clamped = saw.length_or_none("shortest_clamped")
    if clamped is not None and held is None:
        saw.report("shortest_clamped", "says nothing without shortest_held; write that too, or leave this out")
    elif clamped is not None and held is not None and saw.sound("shortest_clamped", "shortest_held") and clamped > held:
        saw.report("shortest_clamped", f"is more than shortest_held, {exact_decimal(held)}; write at most that")
    return clamped


def read_profiles(root: Section, saw_kerf: Fraction) -> tuple[dict[str, Profile], tuple[str, ...]]:
    """The profiles by name, and what is to be said of their prices."""
    tables = root.section("profiles")
    if not tables.values and not tables.reported:
        root.report("profiles", "there is none; write a table such as [profiles.rail] with kind and stock")
    profiles: dict[str, Profile] = {}
    notes: list[str] = []
    for name in tables.values:
        table = tables.section(name)
        entries = table.entries("stock", '[ { length = "16 ft", price = 41.20 } ]')
        profiles[name] = read_profile(name, table, entries, saw_kerf)
        notes += price_notes(profiles[name])
    return profiles, tuple(notes)


def read_profile(name: str, table: Section, entries: Sequence[Section], saw_kerf: Fraction) -> Profile:
    """One profile; `entries` are the tables of its stock. Trims must leave something of each length."""
    table.only(
        "kind", "stock", "kerf", "head_trim", "tail_trim", "keep_from", "one_per_stick", "most_trim", "routing", "face",
        "price_per_length", "carrying",
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
    )


def read_stock(entry: Section, per_length: Fraction | None) -> Stock:
    """A length for sale; without a price it costs what the profile costs by length, or else its length."""
    entry.only("length", "price", "qty", "bundle", "min_order", "price_breaks")
    length = entry.length("length", example='"16 ft"', zero_ok=False)
    price = entry.money("price", length if per_length is None else length * per_length)
    return Stock(length, price, entry.whole_or_none("qty", least=0), bundle=entry.whole("bundle", 1, least=1),
                 min_order=entry.whole("min_order", 0, least=0), breaks=read_breaks(entry, price),
                 priced="price" in entry.values or per_length is not None)


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


def read_systems(root: Section, profiles: Mapping[str, Profile]) -> dict[str, System]:
    """The systems by name; there may be none, in a shop that only cuts pieces."""
    tables, free = root.section("systems"), root.flag("free_centring")
    return {name: read_system(name, tables.section(name), profiles, free) for name in tables.values}


def read_system(name: str, table: Section, profiles: Mapping[str, Profile], free_centring: bool) -> System:
    """One system; what the whole shop says of centring holds where it does not say otherwise."""
    table.only(
        *PARTS, "picket_width", "max_gap", "min_end_gap", "insert_short", "picket_allowance",
        "above_top_rail", "below_bottom_rail", "free_centring", "plugged", "gate", "bay",
    )  # fmt: skip
    system = System(
        name=name,
        top_rail=read_part(table, "top_rail", profiles) or "",
        bottom_rail=read_part(table, "bottom_rail", profiles) or "",
        picket=read_part(table, "picket", profiles) or "",
        insert=read_part(table, "insert", profiles),
        upright=read_part(table, "upright", profiles),
        picket_width=table.length("picket_width", example='"1 1/4 in"', zero_ok=False),
        max_gap=table.length("max_gap", example='"3 15/16 in"', zero_ok=False),
        min_end_gap=table.length("min_end_gap"),
        insert_short=table.length("insert_short"),
        picket_allowance=table.length("picket_allowance"),
        above_top_rail=table.length("above_top_rail"),
        below_bottom_rail=table.length("below_bottom_rail"),
        gate=GateRule(**allowances(table.section("gate"), GateRule)) if "gate" in table.values else None,
        bay=read_bay(table.section("bay")) if "bay" in table.values else None,
        free_centring=table.flag("free_centring") if "free_centring" in table.values else free_centring,
        plugged=table.flag("plugged"),
    )
    check_system(system, table, profiles)
    return system


def read_part(table: Section, part: str, profiles: Mapping[str, Profile]) -> str | None:
    """The name of the profile a part is cut from: a known one, and of the part's kind or of kind "other"."""
    if part in OPTIONAL_PARTS and part not in table.values:
        return None
    name = table.text(part, example='"the name of a profile"')
    if not table.sound(part) or not profiles:
        return name
    if name not in profiles:
        table.report(part, f"{quoted(name)} is not a profile; {suggest(name, profiles)}")
    elif profiles[name].kind not in (PARTS[part], "other", ""):  # "": reported already
        fault = f'profile {quoted(name)} is of kind "{profiles[name].kind}"'
        table.report(part, f'{fault}; one of kind "{PARTS[part]}" or "other" is needed')
    return name


def read_bay(table: Section) -> BayRule:
    """The allowances of a bay; its rails must reach the posts."""
    bay = BayRule(**allowances(table, BayRule))
    if table.sound("end_clearance", "rail_insertion") and bay.hidden < 0:
        insertion = exact_decimal(bay.rail_insertion)
        table.report("end_clearance", f"is more than rail_insertion ({insertion}), so that the rails would not reach "
                     f"their posts; write at most {insertion}, or a deeper rail_insertion")
    return bay


def allowances(table: Section, rule: type[GateRule] | type[BayRule]) -> dict[str, Fraction]:
    """Every allowance of a gate or bay; those left out are 0."""
    names = [field.name for field in fields(rule)]
    table.only(*names)
    return {name: table.length(name) for name in names}


def check_system(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """What only shows when several keys are seen together."""
    if table.sound("picket_width") and "picket_width" in table.values and (
            doubt := plausible.width(system.picket_width, table.unit)):
        table.report("picket_width", doubt)
    if table.sound("min_end_gap", "max_gap") and system.min_end_gap > system.max_gap:
        table.report("min_end_gap", "is wider than max_gap, so no layout fits; write a smaller one")
    routings = [profiles[rail].routing for rail in (system.top_rail, system.bottom_rail) if rail in profiles]
    pitches = {routing.pitch for routing in routings if routing}
    check_holes(system, table, profiles)
    if len(pitches) > 1:
        text = " and ".join(map(exact_decimal, sorted(pitches)))
        table.report("bottom_rail", f"the rails' holes have two pitches ({text}); choose rails of one pitch")


def check_holes(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """That pickets fill the holes of routed rails but for some play, and that there are holes where some get plugs."""
    rails = {name: profiles[name] for name in (system.top_rail, system.bottom_rail) if name in profiles}
    routings = {name: rail.routing for name, rail in rails.items() if rail.routing is not None}
    if system.plugged and table.sound("top_rail", "bottom_rail") and rails and not routings:
        table.report("plugged", "neither rail has holes, so there is nothing to plug; leave it out, or choose a rail "
                     "with routing")
    for name, routing in routings.items():
        play = PLAY[table.unit]
        hole = routing.hole if routing.hole is not None and routing.hole < routing.pitch else ZERO  # else said already
        if table.sound("picket_width") and hole > system.picket_width + play:
            table.report("picket_width", f"every picket would stand in an open slot: the holes of {quoted(name)} are "
                         f"{exact_decimal(hole)} wide; write at least {exact_decimal(hole - play)}, or "
                         "a smaller hole")


def gap_notes(system: System, profiles: Mapping[str, Profile], unit: str) -> Iterator[str]:
    """Says that the holes of a system's rails stand further apart than its widest gap allows."""
    routings = [profiles[name].routing for name in (system.top_rail, system.bottom_rail) if name in profiles]
    for pitch in sorted({routing.pitch for routing in routings if routing}):
        gap = pitch - system.picket_width
        if gap > system.max_gap > 0:
            yield (f"system {system.name}: its rails' holes leave {written(gap, unit)} {unit} between pickets, more "
                   f"than its max_gap, {written(system.max_gap, unit)} {unit}")
