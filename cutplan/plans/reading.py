"""plan.json: a plan written down exactly, and read again with everything that is wrong in it.

Numbers are exact decimals; one with no finite decimal is text, "p/q". Nothing passes through a float. What
follows from the other fields (totals, percentages, status words) must agree with them when a file is read, and its
digest says that nothing was changed since it was written.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import partial
from typing import Any

from cutplan.orders import CENTRINGS, CUT_STICKS, Origin
from cutplan.plans.certificate import check_certificate, numbers_again
from cutplan.plans.changes import report_changes, report_strangers
from cutplan.plans.grounds import grounded
from cutplan.plans.place import A_PLAN, Place, as_number, parsed, shown
from cutplan.plans.plan import FORMAT, VERSION, Plan, plan_fields
from cutplan.plans.records import (
    LYING,
    SOURCES,
    TIERS,
    Cut,
    Demand,
    ProfilePlan,
    SawTime,
    Spare,
    Stick,
    Tier,
    Totals,
    sum_up,
)
from cutplan.plans.writing import proof_fields, totals_fields
from cutplan.problems import Findings, InputProblems
from cutplan.shop import TURNS, UNITS, Angles, Routing, SawRates


def read_json(text: str, found: Findings) -> Plan:
    """The plan in a text, in the text's unit; what is wrong goes to `found`, by its path.

    A plan that is sound but was changed is given back all the same. Raises InputProblems where there is no plan.
    """
    try:
        root = parsed(text, found)
        plan = read_plan(root)
        sound = not found.problems
        if sound:
            report_strangers(root, {**plan_fields(plan), "digest": None})
        report_changes(root)
    except RecursionError:
        found.add(1, "file", f"is nested too deep; {A_PLAN}")
        raise InputProblems(found.problems, found.most) from None
    if not sound:
        found.raise_any()
    return plan


# ---- writing ----


# ---- reading ----


def read_plan(root: Place) -> Plan:
    root.get("format").one_of((FORMAT,))
    version = root.get("version")
    if as_number(version.value) != VERSION:
        version.wrong("a version this cutplan reads", str(VERSION))
    plan = Plan(
        unit=root.get("unit").one_of(UNITS),
        profiles=root.get("profiles").each(read_profile),
        currency=root.get("currency").text(),
        tape=root.get("tape").length(),
        shortest_held=root.get("shortest_held").or_none(Place.number),
        cards=root.maybe("cards", []).each(read_card),
        replaces=root.maybe("replaces", []).each(read_replaced),
        stack=root.maybe("stack", 1).whole(1),
        shortest_clamped=root.maybe("shortest_clamped", None).or_none(Place.length),
        first=root.maybe("first", 1).whole(1),
        rack_changes=root.maybe("rack_changes", 0).whole(0),
        week_changes=root.maybe("week_changes", 0).whole(0),
        shop=root.maybe("shop", "").text(),
        weeks=root.maybe("weeks", []).each(Place.text),
        job=root.maybe("job", "").text(),
        bench=root.maybe("bench", None).or_none(Place.length),
        saw=root.maybe("saw", None).or_none(read_rates),
    )
    report_doubles(root.get("profiles"), "profile", [profile.profile for profile in plan.profiles])
    report_doubles(root.maybe("replaces", []), "plan", [origin.plan for origin in plan.replaces])
    return plan


def read_card(place: Place) -> dict[str, Any]:
    """A layout card, as it stands: who draws it knows what is in it."""
    if not isinstance(place.value, dict):
        place.wrong("an object", "a layout card, an object { ... },")
        return {}
    return place.value


def read_replaced(place: Place) -> Origin:
    cut = place.maybe("cut", "")
    if not isinstance(cut.value, str) or (cut.value and not CUT_STICKS.fullmatch(cut.value)):
        cut.wrong("a list of sticks", 'text like "20-25,31:2"')
        cut = Place("", cut.path, cut.found)
    return Origin(place.get("plan").text(), place.get("after").whole(0), cut.value, place.maybe("last", 0).whole(0))


def report_doubles(entries: Place, key: str, names: Sequence[str]) -> None:
    seen = set()
    for k, name in enumerate(names):
        if name in seen and name:
            path = f"{entries.path}[{k}].{key}"
            entries.found.add(1, path, f"{shown(name)} stands in the list twice; once is right")
        seen.add(name)


def read_profile(place: Place) -> ProfilePlan:
    """One profile; what follows from its other fields is compared only where those were sound."""
    before = len(place.found.problems)
    proof = place.get("proof")
    certificate = proof.get("certificate")
    check_certificate(certificate)
    trims = place.get("head_trim").number(), place.get("tail_trim").number()
    profile = ProfilePlan(
        profile=place.get("profile").text(),
        kerf=place.get("kerf").number(),
        head_trim=trims[0],
        tail_trim=trims[1],
        keep_from=place.get("keep_from").or_none(Place.number),
        one_per_stick=place.get("one_per_stick").flag(),
        demand=place.get("demand").each(read_demand, least=1),
        sticks=place.get("sticks").each(partial(read_stick, trims=trims), least=1),
        totals=read_totals(place.get("totals")),
        tiers=read_tiers(place.get("tiers")),
        certificate=numbers_again(certificate.value) if isinstance(certificate.value, dict) else {},
        routing=place.maybe("routing", None).or_none(read_routing),
        on_hand=place.maybe("on_hand", []).each(read_on_hand),
        most_trim=place.maybe("most_trim", None).or_none(Place.length),
        angles=place.maybe("angles", None).or_none(read_angles),
        saw=place.maybe("saw", None).or_none(read_saw),
        spare=place.maybe("spare", None).or_none(read_spare),
    )
    if len(place.found.problems) > before:
        return profile
    profile = grounded(profile)
    compare(place, profile)
    return profile


def read_rates(place: Place) -> SawRates:
    return SawRates(
        setup_minutes=place.get("setup_minutes").number(),
        cut_seconds=place.get("cut_seconds").number(),
        stick_seconds=place.get("stick_seconds").number(),
        hourly=place.maybe("hourly", None).or_none(Place.number),
    )


def read_saw(place: Place) -> SawTime:
    """A profile's time at the saw; that it follows from the sticks is looked at where the plan is gone through."""
    return SawTime(
        setups=place.get("setups").whole(0),
        lifts=place.get("lifts").whole(0),
        cuts=place.get("cuts").whole(0),
        minutes=place.get("minutes").number(),
        amount=place.maybe("amount", None).or_none(Place.number),
    )


def read_spare(place: Place) -> Spare:
    return Spare(place.get("share").number(), place.get("least").number(), place.get("at_most").number())


def read_routing(place: Place) -> Routing:
    return Routing(place.get("pitch").length(), place.get("first").number())


def read_angles(place: Place) -> Angles:
    return Angles(place.get("face").length(), place.get("may_turn").one_of(TURNS), place.get("step").length())


def read_on_hand(place: Place) -> tuple[Fraction, int]:
    return place.get("length").length(), place.get("qty").whole(0)


def read_demand(place: Place) -> Demand:
    return Demand(
        mark=place.get("mark").text(),
        length=place.get("length").length(),
        qty=place.get("qty").whole(1),
        for_=place.maybe("for", "").text(),
        centred=place.maybe("centred", "").one_of(("", *CENTRINGS)),
        each=place.maybe("each", 1).whole(1),
        left_in=place.maybe("left_in", 0).set_in(),
        right_in=place.maybe("right_in", 0).set_in(),
    )


def read_stick(place: Place, trims: tuple[Fraction, Fraction]) -> Stick:
    """A stick; without trims of its own it has those of its profile."""
    stick = Stick(
        source=place.get("source").one_of(SOURCES),
        tag=place.get("tag").or_none(Place.text),
        length=place.get("length").length(),
        price=place.get("price").number(),
        count=place.get("count").whole(1),
        cuts=place.get("cuts").each(read_cut, least=1),
        offcut=place.get("offcut").number(),
        keep=place.get("keep").flag(),
        first=place.maybe("first", None).or_none(Place.number),
        turned=place.maybe("turned", False).flag(),
        offcut_tags=place.maybe("offcut_tags", []).each(Place.text),
        head_trim=place.maybe("head_trim", trims[0]).number(),
        tail_trim=place.maybe("tail_trim", trims[1]).number(),
    )
    if stick.source == "new" and stick.tag is not None:
        place.get("tag").report("names an offcut, and the stick is new; null is needed")
    if stick.source == "rack" and stick.tag is None:
        place.get("tag").report("is null; the tag of the offcut on the rack is needed")
    return stick


def read_cut(place: Place) -> Cut:
    return Cut(
        mark=place.get("mark").text(),
        length=place.get("length").length(),
        start=place.get("start").number(),
        end=place.get("end").number(),
        centred=place.maybe("centred", "").one_of(("", *CENTRINGS[:2])),
        left_in=place.maybe("left_in", 0).set_in(),
        right_in=place.maybe("right_in", 0).set_in(),
        lies=place.maybe("lies", "").one_of(("", *LYING)),
    )


def read_totals(place: Place) -> Totals:
    return Totals(
        cost=place.get("cost").number(),
        drawn=place.get("drawn").number(),
        pieces=place.get("pieces").number(),
        kerf=place.get("kerf").number(),
        trim=place.get("trim").number(),
        scrap=place.get("scrap").number(),
        kept=place.get("kept").number(),
        patterns=place.get("patterns").whole(0),
        wedges=place.maybe("wedges", 0).number(),
        slope_kerf=place.maybe("slope_kerf", 0).number(),
    )


def read_tiers(place: Place) -> tuple[Tier, ...]:
    tiers = place.each(read_tier)
    if isinstance(place.value, list) and [tier.name for tier in tiers] != list(TIERS):
        right = ", ".join(f'"{name}"' for name in TIERS)
        place.report(f"are not the three aims in their order; {right} are needed")
    return tiers


def read_tier(place: Place) -> Tier:
    return Tier(
        place.get("name").one_of(TIERS), place.get("value").number(), place.get("bound").number()
    )


def compare(place: Place, profile: ProfilePlan) -> None:
    """Reports every figure and word that does not follow from the sticks and the tiers."""
    totals = sum_up(profile.sticks, profile.kerf, profile.one_per_stick)
    for key, value in totals_fields(totals).items():
        place.get("totals").get(key).must_be(value, "the sticks")
    values = (totals.cost, totals.drawn - totals.kept, totals.patterns)
    for k, (tier, value) in enumerate(zip(profile.tiers, values, strict=True)):
        fields = place.get("tiers").value[k]
        here = Place(fields, f"{place.path}.tiers[{k}]", place.found)
        here.get("value").must_be(value, "the sticks")
        here.get("status").must_be(tier.status, "value, bound and what the bound rests on")
        if tier.bound > tier.value:
            here.get("bound").report("is more than the value; no bound is more than what was reached")
    for key, value in proof_fields(profile.tiers[0]).items():
        place.get("proof").get(key).must_be(value, "the first tier")


# ---- what was changed since it was written ----


