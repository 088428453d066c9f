"""What a plan may be cut from when there is a rack: the shop's stock, the free offcuts, the sticks that are there."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import islice

from cutplan.lengths import exact_decimal, factor
from cutplan.plans.plan import Plan, identity
from cutplan.plans.records import ProfilePlan
from cutplan.problems import nearest
from cutplan.rack import register, rules, shelf
from cutplan.rack.shelf import Counted, Offcut
from cutplan.rack.store import Rack
from cutplan.rack.tags import tags_apart
from cutplan.shop import Profile, Shop, Stock

SHOP_FILE, LAST_PLAN = "the shop file", "the last plan on this rack"  # what says how a profile is sold


@dataclass(frozen=True)
class Supply:
    """The shop with the rack's offcuts in its stock; by profile, which new lengths are there; what is to be said."""

    shop: Shop
    on_hand: Mapping[str, tuple[tuple[Fraction, int], ...]]
    notes: tuple[str, ...]


def supply(shop: Shop, rack: Rack, remembered: bool = False, own: Collection[str] = ()) -> Supply:
    """What there is to cut from. Offcuts and sticks held for a plan are left out, but for one's `own` plans, whose rest
    this is for.

    `remembered`: the shop is no file, but what the rack knows of the profiles that are asked for.
    """
    inward = factor(rack.unit, shop.unit)
    offcuts: dict[str, list[Offcut]] = {}
    for one in shelf.offcuts(rack, own=own):
        offcuts.setdefault(one.profile, []).append(one)
    counts: dict[str, list[Counted]] = {}
    for count in shelf.counts(rack, own=own):
        counts.setdefault(count.profile, []).append(count)
    profiles, on_hand = {}, {}
    notes: list[str] = []
    for name, profile in shop.profiles.items():
        free = [one for one in offcuts.get(name, []) if usable(profile, one, inward)]
        there = {count.length * inward: count for count in counts.get(name, [])}
        notes += profile_notes(profile, offcuts.get(name, []), there, LAST_PLAN if remembered else SHOP_FILE)
        profiles[name] = replace(profile, stock=(
            *(limited(entry, there.get(entry.length)) for entry in profile.stock),
            *(as_stock(profile, one, inward) for one in free)))
        sold = dict.fromkeys(entry.length for entry in profile.stock)
        on_hand[name] = tuple((length, there[length].free) for length in sold if length in there)
    held = [row["profile"] for row in rack.all("SELECT DISTINCT profile FROM holds")]
    counted = [name for name, there in counts.items() if any(one.qty for one in there)]
    notes += () if remembered else strange_notes(shop, {*offcuts, *counted, *held})
    return Supply(replace(shop, profiles=profiles), on_hand, tuple(notes))


def usable(profile: Profile, offcut: Offcut, inward: Fraction) -> bool:
    """Whether an offcut may be planned with: free, longer than its trims, its holes known where it has any."""
    holes_known = profile.routing is None or offcut.first is not None
    return holes_known and not offcut.held and profile.longest_piece(as_stock(profile, offcut, inward)) > 0


def as_stock(profile: Profile, offcut: Offcut, inward: Fraction) -> Stock:
    """An offcut as stock of its profile; `inward` of the profile's unit make one of the rack's."""
    first = None if offcut.first is None else offcut.first * inward
    return profile.offcut(offcut.tag, offcut.length * inward, first, offcut.sawn, offcut.plain * inward)


def limited(entry: Stock, count: Counted | None) -> Stock:
    """A stock length of which there is only so much: what the rack counts is newer than what the shop file says."""
    return entry if entry.qty is None or count is None else replace(entry, qty=count.free)


def profile_notes(profile: Profile, offcuts: Sequence[Offcut], there: Mapping[Fraction, Counted],
                  known_by: str) -> Iterator[str]:
    """What of the rack is not planned with, and why; `known_by` says which lengths the profile is sold in."""
    if blind := [one.tag for one in offcuts if profile.routing is not None and one.first is None]:
        yield (f"{profile.name}: left on the rack, because it was never said where their first hole is: "
               f"{', '.join(blind)}")
    if held := [one for one in offcuts if one.held]:
        names = ", ".join(sorted({one.held for one in held}))
        yield f"{profile.name}: offcuts left alone, held for {names}: {len(held)}"
    sold = {entry.length: entry for entry in profile.stock}
    for length, count in there.items():
        text = f"{profile.name} {exact_decimal(length)}"
        entry = sold.get(length)
        if entry is not None and count.held:
            yield f"{text}: {min(count.held, count.qty)} of {count.qty} left alone, on hold for plans"
        if entry is None and count.qty:
            yield f"{text}: {count.qty} are counted, but {known_by} does not list this length; they are not used"
        elif entry is not None and entry.qty is not None and entry.qty != count.free:
            yield f"{text}: the rack has {count.free} free, {known_by} says {entry.qty}; the rack's number is taken"


def strange_notes(shop: Shop, names: Collection[str]) -> Iterator[str]:
    """What of these profiles of the rack the shop file does not have."""
    for name in sorted(set(names) - set(shop.profiles)):
        asked = f"; was it to be {near}?" if (near := nearest(name, shop.profiles)) else ""
        yield f"{name}: is on the rack, but the shop file has no such profile; nothing of it is used{asked}"


def on_hand_first(found: Supply) -> Supply:
    """The same, with the counted sticks as stock that costs nothing: a plan then cuts what is there before it buys."""
    profiles = {}
    for name, profile in found.shop.profiles.items():
        there = dict(found.on_hand.get(name, ()))
        bought = (entry for entry in profile.stock
                  if entry.tag is not None or entry.qty is None or not there.get(entry.length))
        free = (Stock(length, Fraction(0), n) for length, n in there.items() if n)
        profiles[name] = replace(profile, stock=(*free, *bought))
    return replace(found, shop=replace(found.shop, profiles=profiles))


def with_on_hand(plan: Plan, found: Supply) -> Plan:
    """The plan, which then says what need not be bought."""
    return replace(plan, profiles=tuple(
        replace(profile, on_hand=found.on_hand.get(profile.profile, ())) for profile in plan.profiles))


def tagged(plan: Plan, rack: Rack) -> Plan:
    """The plan with a new tag for each offcut it keeps, to be written on at the saw; the rack learns its rules."""
    return tagged_in_turn([plan], rack)[0]


def tagged_in_turn(plans: Sequence[Plan], rack: Rack) -> list[Plan]:
    """As `tagged`, of plans of which each may cut offcuts that those before it keep: these go by their new tags too."""
    for plan in plans:
        rules.learn(rack, plan)
    found = with_tags(plans, partial(shelf.new_tags, rack))
    return [replace(plan, rack_changes=rack.changes + 1,
                    week_changes=register.week_changes(rack, [one.plan for one in plan.replaces])) for plan in found]


def tagged_apart(plans: Sequence[Plan]) -> list[Plan]:
    """As `tagged_in_turn`, without a rack, and to be booked on any."""
    free = tags_apart(" ".join(map(identity, plans)))
    return with_tags(plans, lambda qty: list(islice(free, qty)))


def with_tags(plans: Sequence[Plan], new_tags: Callable[[int], list[str]]) -> list[Plan]:
    names: dict[tuple[str, str], str] = {}
    return [replace(plan, profiles=tuple(tagged_profile(one, new_tags, names) for one in plan.profiles))
            for plan in plans]


def tagged_profile(profile: ProfilePlan, new_tags: Callable[[int], list[str]], names: dict[tuple[str, str], str]
                   ) -> ProfilePlan:
    """`names` are the new tags of offcuts that had other names, by profile."""
    def known(tag: str | None) -> str | None:
        return tag and names.get((profile.profile, tag), tag)

    stock = [{**entry, "tag": known(entry["tag"])} for entry in profile.certificate.get("stock", ())]
    sticks = []
    for stick in profile.sticks:
        tags = tuple(new_tags(stick.count)) if stick.keep else ()
        names |= dict(zip([(profile.profile, old) for old in stick.offcut_tags], tags, strict=False))
        sticks.append(replace(stick, tag=known(stick.tag), offcut_tags=tags))
    return replace(profile, sticks=tuple(sticks), certificate={**profile.certificate, "stock": stock})
