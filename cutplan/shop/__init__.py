"""The shop file: saw, profiles and the lengths they are sold in, systems (how an opening becomes pieces)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from cutplan import plausible
from cutplan.lengths import exact_decimal, quoted, read_whole
from cutplan.problems import Source
from cutplan.shop.codes import ALL, CodeLimit, read_codes
from cutplan.shop.figures import Degrees, read_degrees
from cutplan.shop.profiles import TURNS, Angles, Profile, Routing, Stock, read_profiles
from cutplan.shop.quoting import QuoteRates, read_quote
from cutplan.shop.sawing import SAW_KEYS, SawRates, read_rates
from cutplan.shop.stock_list import read_stock_list
from cutplan.shop.suppliers import Supplier, read_suppliers, supplier_notes
from cutplan.shop.systems import BayRule, GateRule, Hardware, RunRule, System, read_systems, system_notes
from cutplan.tomllines import Section, load

__all__ = ["TAPES", "TURNS", "UNITS", "Angles", "BayRule", "GateRule", "Hardware", "Profile", "QuoteRates", "Routing",
           "RunRule", "SawRates", "Shop", "Stock", "Supplier", "System", "load_shop", "shop_in"]

UNITS = ("in", "mm")
TAPES = {"in": Fraction(1, 16), "mm": Fraction(1)}


@dataclass(frozen=True)
class Shop:
    """A whole shop file. `unit` is "in" or "mm"; `tape` the division the shop's tapes are read to.

    `shortest_held` is the least length held by hand at the saw; shorter ones are marked "clamp", down to
    `shortest_clamped` (None: a part of the other). `offcut_credit` is the share, 0 to 1, of what a kept offcut cost
    that a bid may count as not lost. `codes` are the limits it wants to be reminded of; `cut_at` and `used_at` the
    temperatures at which rails are cut, and that they see in use (None: not said). `saw` is what work at the saw
    takes, `bench` how long a stick may be that lies on the saw's bench without help (None: not said). `quote` is
    what a quotation adds (None: not said). `suppliers` are what those of the stock ask of an order, where that is
    said, by name.
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
    codes: tuple[CodeLimit, ...] = ALL
    cut_at: Degrees | None = None
    used_at: Degrees | None = None
    suppliers: Mapping[str, Supplier] = field(default_factory=dict)
    saw: SawRates | None = None
    bench: Fraction | None = None
    quote: QuoteRates | None = None


def load_shop(source: Source) -> Shop:
    """The shop file, whole and sound. InputProblems holds everything that is wrong in it."""
    return shop_in(load(source))


def shop_in(root: Section) -> Shop:
    """The shop that a file's values say."""
    root.only("name", "unit", "currency", "tape", "free_centring", "offcut_credit", "saw", "profiles", "systems",
              "codes", "temperature", "suppliers", "quote", "stock")
    root.unit = root.choice("unit", UNITS) or "in"
    saw = root.section("saw")
    saw.only("kerf", "shortest_held", "shortest_clamped", "stack", "bench", *SAW_KEYS)
    kerf = saw.length("kerf", example='"1/8 in"')
    held = saw.length_or_none("shortest_held")
    listed = read_stock_list(root)
    profiles, notes = read_profiles(root, kerf, listed)
    suppliers = read_suppliers(root)
    systems = read_systems(root, profiles)
    cut_at, used_at = read_temperature(root, profiles)
    shop = Shop(
        name=root.text("name"),
        unit=root.unit,
        currency=root.text("currency"),
        kerf=kerf,
        shortest_held=held,
        stack=saw.read("stack", 1, read_stack, ""),
        tape=root.length("tape", TAPES[root.unit], zero_ok=False),
        profiles=profiles,
        systems=systems,
        notes=(*notes, *supplier_notes(suppliers, profiles),
               *(note for system in systems.values() for note in system_notes(system, profiles, root.unit))),
        offcut_credit=read_credit(root),
        shortest_clamped=read_clamped(saw, held),
        codes=read_codes(root),
        cut_at=cut_at,
        used_at=used_at,
        suppliers=suppliers,
        saw=read_rates(saw),
        bench=saw.length_or_none("bench"),
        quote=read_quote(root),
    )
    root.findings.problems += listed.findings.problems
    root.findings.most = listed.findings.most
    root.findings.raise_any()
    return shop


def read_temperature(root: Section, profiles: Mapping[str, Profile]) -> tuple[Degrees | None, Degrees | None]:
    """The temperatures of cutting and of use; both or neither. They and the expansion of profiles need each other."""
    if "temperature" not in root.values:
        for name in [name for name, profile in profiles.items() if profile.expansion]:
            root.report_at(("profiles", name, "expansion"), "says nothing without [temperature]; write what rails are "
                           "cut at and used at, or leave this out")
        return None, None
    tables = root.section("profiles")
    if not any("expansion" in tables.section(name).values for name in profiles):
        root.report("temperature", "says nothing while no profile has an expansion; write that, or leave this out")
    table = root.section("temperature")
    table.only("cutting", "in_use")

    def read(key: str, example: str) -> Degrees | None:
        return table.read(key, None, read_degrees, example)

    return read("cutting", '"50..90 F"'), read("in_use", '"-10..120 F"')


def read_stack(text: str) -> int:
    """How many sticks the saw takes at once. ValueError says what would be right."""
    return plausible.lifted(read_whole(text, 1), quoted(text))


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
