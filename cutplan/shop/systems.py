"""Systems: which profile each part of an opening is cut from, the rules of its pickets, and its allowances."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from cutplan import plausible
from cutplan.lengths import exact_decimal, quoted, written
from cutplan.problems import suggest
from cutplan.shop.figures import read_weight
from cutplan.shop.profiles import Profile
from cutplan.tomllines import ZERO, Section, dotted

# the kinds of profile that each part may be cut from, besides "other"
PARTS = {
    "top_rail": ("rail",), "bottom_rail": ("rail",), "mid_rail": ("rail",), "picket": ("picket",),
    "insert": ("insert",), "upright": ("upright",), "brace": ("brace", "rail", "upright", "picket"),
    "post": ("post", "upright"),
}  # fmt: skip
OPTIONAL_PARTS = ("insert", "upright", "mid_rail", "brace")
AT_MID_RAIL = ("through", "between")
BRACES = ("bottom hinge", "top hinge")
PER = ("gate", "leaf", "bay", "rail end", "picket", "post", "run")
MOST_INSERTS = 20  # in one rail; nobody means more
MADE_AS = {"gate": ("gate",), "leaf": ("gate",), "bay": ("bay", "run"), "post": ("run",), "run": ("run",)}
RAILS = ("top rail", "mid rail", "bottom rail")
# What a hole may be wider than its picket, so that this goes in: 1/8 in or as much in mm. Common practice, no source.
PLAY = {"in": Fraction(1, 8), "mm": Fraction(127, 40)}


@dataclass(frozen=True)
class GateRule:
    """Allowances of a gate; see takeoff.gate for what is made of them. Lengths in the file's unit.

    `meeting_gap` is between two leaves. `ground_clearance` is from the finished ground to the uprights' feet.
    `latch_height` is from the ground (None: not said), and so are `hinges_at`, the heights of the hinges' middles; none
    of these: a hinge each at the inner edges of the rails. `thickness` is the leaf's, front to back (None: as its
    uprights are wide). A leaf wider than `widest_leaf` or heavier than `heaviest_leaf` (kg) gets a caution.
    """

    latch_gap: Fraction
    hinge_gap: Fraction
    upright_wall: Fraction
    rail_insertion: Fraction
    picket_trim: Fraction
    ground_clearance: Fraction = ZERO
    meeting_gap: Fraction = ZERO
    latch_height: Fraction | None = None
    hinges_at: tuple[Fraction, ...] = ()
    thickness: Fraction | None = None
    widest_leaf: Fraction | None = None
    heaviest_leaf: Fraction | None = None


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
class RunRule:
    """A run of bays with posts of its own; see takeoff.runs. Lengths in the file's unit.

    `post` is the profile that posts are cut from, each `post_above` + `post_below` the ground long and `post_width`
    wide as seen. No bay is wider than `max_bay`.
    """

    post: str
    post_width: Fraction
    max_bay: Fraction
    post_above: Fraction
    post_below: Fraction


@dataclass(frozen=True)
class Hardware:
    """What is screwed on: so many (`qty`) for each thing that `per` names, one of PER.

    `price` is the money for one (None: not said), `pilot` the drill for its screws and `note` what else is to be said,
    both as written.
    """

    name: str
    per: str
    qty: int
    price: Fraction | None = None
    pilot: str = ""
    note: str = ""


@dataclass(frozen=True)
class System:
    """How an opening becomes pieces: the profile of each part (by name), the picket rule and the allowances.

    `above_top_rail` and `below_bottom_rail` (optional, 0) are the parts of the height above the top rail
    and below the bottom rail. `mid_rails_at` are the heights of the mid rails' middles above the ground, rising;
    `pickets_at_mid_rail` says whether pickets go "through" them or stand "between". `brace_from` is the corner of a
    leaf that its brace begins at. `inserts_in` is how many inserts each kind of rail gets. `free_centring`: the cutter
    may choose what a routed rail's middle falls on, where either would do. `plugged`: a routed rail may leave holes
    open, which get plugs. `assembly` is how a gate or bay is put together, step by step (none: the usual way).
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
    run: RunRule | None = None
    free_centring: bool = False
    plugged: bool = False
    mid_rail: str | None = None
    mid_rails_at: tuple[Fraction, ...] = ()
    pickets_at_mid_rail: str = "through"
    brace: str | None = None
    brace_from: str = "bottom hinge"
    inserts_in: Mapping[str, int] = field(default_factory=lambda: dict.fromkeys(RAILS, 1))
    hardware: tuple[Hardware, ...] = ()
    assembly: tuple[str, ...] = ()

    @property
    def rails(self) -> tuple[str, ...]:
        """The profiles of its rails, each once."""
        return tuple(dict.fromkeys(name for name in (self.top_rail, self.mid_rail, self.bottom_rail) if name))


def read_systems(root: Section, profiles: Mapping[str, Profile]) -> dict[str, System]:
    """The systems by name; there may be none, in a shop that only cuts pieces."""
    tables, free = root.section("systems"), root.flag("free_centring")
    return {name: read_system(name, tables.section(name), profiles, free) for name in tables.values}


def read_system(name: str, table: Section, profiles: Mapping[str, Profile], free_centring: bool) -> System:
    """One system; what the whole shop says of centring holds where it does not say otherwise."""
    table.only(
        *(part for part in PARTS if part != "post"), "picket_width", "max_gap", "min_end_gap", "insert_short",
        "picket_allowance", "above_top_rail", "below_bottom_rail", "free_centring", "plugged", "mid_rails_at",
        "pickets_at_mid_rail", "brace_from", "inserts_in", "hardware", "assembly", "gate", "bay", "run",
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
        gate=read_gate(table.section("gate")) if "gate" in table.values else None,
        bay=read_bay(table.section("bay")) if "bay" in table.values else None,
        run=read_run(table.section("run"), profiles) if "run" in table.values else None,
        free_centring=table.flag("free_centring") if "free_centring" in table.values else free_centring,
        plugged=table.flag("plugged"),
        mid_rail=read_part(table, "mid_rail", profiles),
        mid_rails_at=table.lengths("mid_rails_at", '["20 in"]'),
        pickets_at_mid_rail=optional_choice(table, "pickets_at_mid_rail", AT_MID_RAIL),
        brace=read_part(table, "brace", profiles),
        brace_from=optional_choice(table, "brace_from", BRACES),
        inserts_in=read_inserts(table),
        hardware=read_hardware(table),
        assembly=read_steps(table),
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
    elif profiles[name].kind not in (*PARTS[part], "other", ""):  # "": reported already
        fault = f'profile {quoted(name)} is of kind "{profiles[name].kind}"'
        kinds = ", ".join(f'"{kind}"' for kind in PARTS[part])
        table.report(part, f'{fault}; one of kind {kinds} or "other" is needed')
    return name


def optional_choice(table: Section, key: str, choices: tuple[str, ...]) -> str:
    """One of a few words; the first of them where the key is missing."""
    return table.choice(key, choices) if key in table.values else choices[0]


def read_gate(table: Section) -> GateRule:
    """Every allowance of a gate; lengths left out are 0."""
    lengths = ("latch_gap", "hinge_gap", "upright_wall", "rail_insertion", "picket_trim", "ground_clearance",
               "meeting_gap")
    table.only(*lengths, "latch_height", "hinges_at", "thickness", "widest_leaf", "heaviest_leaf")
    hinges = table.lengths("hinges_at", '["8 in", "30 in"]')
    if table.sound("hinges_at") and list(hinges) != sorted(set(hinges)):
        table.report("hinges_at", "must rise from the lowest hinge to the highest; write each height once, in order")
    return GateRule(
        **{name: table.length(name) for name in lengths},
        latch_height=table.length_or_none("latch_height"),
        hinges_at=hinges,
        thickness=table.length_or_none("thickness"),
        widest_leaf=table.length_or_none("widest_leaf"),
        heaviest_leaf=table.read("heaviest_leaf", None, read_weight, ""),
    )


def read_bay(table: Section) -> BayRule:
    """The allowances of a bay, 0 where left out; its rails must reach the posts."""
    table.only("end_clearance", "rail_insertion")
    bay = BayRule(table.length("end_clearance"), table.length("rail_insertion"))
    if table.sound("end_clearance", "rail_insertion") and bay.hidden < 0:
        insertion = exact_decimal(bay.rail_insertion)
        table.report("end_clearance", f"is more than rail_insertion ({insertion}), so that the rails would not reach "
                     f"their posts; write at most {insertion}, or a deeper rail_insertion")
    return bay


def read_run(table: Section, profiles: Mapping[str, Profile]) -> RunRule:
    """The posts of a run, and how far apart they may stand."""
    table.only("post", "post_width", "max_bay", "post_above", "post_below")
    rule = RunRule(
        post=read_part(table, "post", profiles) or "",
        post_width=table.length("post_width", example='"4 in"', zero_ok=False),
        max_bay=table.length("max_bay", example='"8 ft"', zero_ok=False),
        post_above=table.length("post_above", example='"38 in"', zero_ok=False),
        post_below=table.length("post_below"),
    )
    if table.sound("post_width") and "post_width" in table.values and (
            doubt := plausible.width(rule.post_width, table.unit)):
        table.report("post_width", doubt)
    return rule


def read_inserts(system: Section) -> dict[str, int]:
    """How many inserts each kind of rail gets: one, unless the system's table of them says another number."""
    names = {rail.partition(" ")[0]: rail for rail in RAILS}
    table = system.section("inserts_in")
    table.only(*names)
    if "inserts_in" in system.values and "insert" not in system.values:
        system.report("inserts_in", "says nothing without insert; write the profile it is cut from, or leave this out")
    elif "mid" in table.values and "mid_rail" not in system.values:
        table.report("mid", "says nothing without mid_rail; leave it out")
    return {rail: table.whole(name, 1, least=0, most=MOST_INSERTS) for name, rail in names.items()}


def read_steps(table: Section) -> tuple[str, ...]:
    example = '["Weld the frame.", "Hang the pickets in it."]'
    steps = table.texts("assembly", example) if "assembly" in table.values else ()
    if not all(step.strip() for step in steps):
        table.report("assembly", "has an empty step; write what is to be done, or leave it out")
    return steps


def read_hardware(table: Section) -> tuple[Hardware, ...]:
    if "hardware" not in table.values:
        return ()
    entries = table.entries("hardware", '[ { name = "hinge", per = "leaf", qty = 2 } ]')
    found = [read_fitting(entry) for entry in entries]
    for entry, one in zip(entries, found, strict=True):
        check_counted(entry, one.per, table)
    seen: dict[tuple[str, str], int] = {}
    for place, (entry, one) in enumerate(zip(entries, found, strict=True), start=1):
        first = seen.setdefault((one.name, one.per), place)
        if first != place and entry.sound("name", "per"):
            entry.report("name", f"{quoted(one.name)} per {one.per} is number {first} already; add the two up")
    return tuple(found)


def read_fitting(entry: Section) -> Hardware:
    entry.only("name", "per", "qty", "price", "pilot", "note")
    entry.missing("qty", "2")
    name = entry.values.get("name")
    if isinstance(name, str) and not name.strip():
        entry.report("name", 'is empty; write what it is called, such as "hinge"')
    return Hardware(
        name=entry.text("name", example='"hinge"'),
        per=entry.choice("per", PER),
        qty=entry.whole("qty", 1, least=1),
        price=entry.money("price", ZERO) if "price" in entry.values else None,
        pilot=entry.text("pilot"),
        note=entry.text("note"),
    )


def check_counted(entry: Section, per: str, table: Section) -> None:
    """That the system makes something of what an entry of its hardware is counted by."""
    kinds = MADE_AS.get(per, ())
    if entry.sound("per") and kinds and not any(kind in table.values for kind in kinds):
        needed = " or ".join(f"[{dotted((*table.keys, kind))}]" for kind in kinds)
        entry.report("per", f"counts each {per}, and this system makes none; write {needed}, or leave the entry out")


def check_system(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """What only shows when several keys are seen together."""
    if table.sound("picket_width") and "picket_width" in table.values and (
            doubt := plausible.width(system.picket_width, table.unit)):
        table.report("picket_width", doubt)
    if table.sound("min_end_gap", "max_gap") and system.min_end_gap > system.max_gap:
        table.report("min_end_gap", "is wider than max_gap, so no layout fits; write a smaller one")
    routings = [profiles[rail].routing for rail in system.rails if rail in profiles]
    pitches = {routing.pitch for routing in routings if routing}
    check_holes(system, table, profiles)
    check_mid_rails(system, table, profiles)
    check_brace(system, table, profiles)
    check_weight(system, table, profiles)
    check_run(system, table)
    if len(pitches) > 1:
        text = " and ".join(map(exact_decimal, sorted(pitches)))
        table.report("bottom_rail", f"the rails' holes have two pitches ({text}); choose rails of one pitch")


def check_holes(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """That pickets fill the holes of routed rails but for some play, and that there are holes where some get plugs."""
    rails = {name: profiles[name] for name in system.rails if name in profiles}
    routings = {name: rail.routing for name, rail in rails.items() if rail.routing is not None}
    if system.plugged and table.sound("top_rail", "bottom_rail") and rails and not routings:
        table.report("plugged", "no rail has holes, so there is nothing to plug; leave it out, or choose a rail "
                     "with routing")
    for name, routing in routings.items():
        play = PLAY[table.unit]
        hole = routing.hole if routing.hole is not None and routing.hole < routing.pitch else ZERO  # else said already
        if table.sound("picket_width") and hole > system.picket_width + play:
            table.report("picket_width", f"every picket would stand in an open slot: the holes of {quoted(name)} are "
                         f"{exact_decimal(hole)} wide; write at least {exact_decimal(hole - play)}, or "
                         "a smaller hole")


def check_mid_rails(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """That mid rails have a profile, heights that rise, and faces wherever a length hangs on them."""
    for key in ("mid_rails_at", "pickets_at_mid_rail"):
        if key in table.values and system.mid_rail is None:
            table.report(key, "says nothing without mid_rail; write the profile it is cut from, or leave this out")
    if system.mid_rail is None:
        return
    if "mid_rails_at" not in table.values:
        table.report("mid_rails_at", 'is missing; write the heights of their middles, such as mid_rails_at = ["20 in"]')
    elif table.sound("mid_rails_at") and list(system.mid_rails_at) != sorted(set(system.mid_rails_at)):
        table.report("mid_rails_at", "must rise from the lowest to the highest; write each height once, in order")
    face = profiles[system.mid_rail].face if system.mid_rail in profiles else None
    close = [over for under, over in pairwise(system.mid_rails_at) if face is not None and over - under <= face]
    if close and face is not None and table.sound("mid_rails_at"):
        table.report("mid_rails_at", f"has a mid rail at {exact_decimal(close[0])} that meets the one below it; each "
                     f"is {exact_decimal(face)} high, so write heights further apart")
    between = system.pickets_at_mid_rail == "between"
    why = "the pickets between them depend on it" if between else "it says where the rail's edges are"
    for part in ("mid_rail", *(("top_rail", "bottom_rail") if between else ())):
        face_needed(table, part, getattr(system, part), profiles, why)


def check_brace(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """That a brace has a frame to brace, whose inner corners are known."""
    if system.brace is None:
        if "brace_from" in table.values:
            table.report("brace_from", "says nothing without brace; write the profile it is cut from, or leave it out")
        return
    if "gate" not in table.values:
        table.report("brace", f"only gates have one; write [systems.{system.name}.gate], or leave it out")
    for part in ("brace", "top_rail", "bottom_rail"):
        face_needed(table, part, getattr(system, part), profiles, "the brace goes from corner to corner of the frame")


def check_weight(system: System, table: Section, profiles: Mapping[str, Profile]) -> None:
    """That a leaf can be weighed where there is a heaviest one."""
    names = (*system.rails, system.picket, system.insert, system.upright, system.brace)
    weights = [profiles[name].weight for name in names if name and name in profiles]
    if system.gate and system.gate.heaviest_leaf is not None and weights and set(weights) == {None}:
        table.section("gate").report("heaviest_leaf", "says nothing while no profile of the system has a "
                                     "weight_per_length; write those, or leave this out")


def check_run(system: System, table: Section) -> None:
    """That the bays of a run are said how to make, and that rails do not meet inside its posts."""
    if system.run is None:
        return
    if system.bay is None:
        table.report("run", f"is made of bays; write [systems.{system.name}.bay] too")
    elif system.run.post_width and 2 * system.bay.hidden > system.run.post_width:
        wide, deep = exact_decimal(system.run.post_width), exact_decimal(system.bay.hidden)
        table.report("run", f"the rails of two bays would meet inside a post {wide} wide, each {deep} in it; write a "
                     "wider post, or a smaller rail_insertion")


def face_needed(table: Section, part: str, name: str, profiles: Mapping[str, Profile], why: str) -> None:
    if table.sound(part) and name in profiles and profiles[name].face is None:
        table.report(part, f"profile {quoted(name)} says no face, and {why}; write it in [profiles.{name}]")


def system_notes(system: System, profiles: Mapping[str, Profile], unit: str) -> Iterator[str]:
    """What is odd about a system, but can be made."""
    yield from gap_notes(system, profiles, unit)
    yield from width_notes(system, profiles, unit)


def width_notes(system: System, profiles: Mapping[str, Profile], unit: str) -> Iterator[str]:
    """Says that a part is placed wider or narrower than its profile's face is."""
    placed = [("picket", system.picket, "picket_width", system.picket_width)]
    if system.gate and system.upright:
        across = system.gate.upright_wall + system.gate.rail_insertion
        placed.append(("upright", system.upright, "upright_wall and rail_insertion together", across))
    if system.run:
        placed.append(("post", system.run.post, "post_width", system.run.post_width))
    for part, name, keys, wide in placed:
        face = profiles[name].face if name in profiles else None
        if face is not None and face != wide:
            yield (f"system {system.name}: its {part} {name} has a face of {written(face, unit)} {unit}, and is placed "
                   f"as if it were {written(wide, unit)} {unit} wide, by {keys}")


def gap_notes(system: System, profiles: Mapping[str, Profile], unit: str) -> Iterator[str]:
    """Says that the holes of a system's rails stand further apart than its widest gap allows."""
    routings = [profiles[name].routing for name in system.rails if name in profiles]
    for pitch in sorted({routing.pitch for routing in routings if routing}):
        gap = pitch - system.picket_width
        if gap > system.max_gap > 0:
            yield (f"system {system.name}: its rails' holes leave {written(gap, unit)} {unit} between pickets, more "
                   f"than its max_gap, {written(system.max_gap, unit)} {unit}")
