"""plan.json: a plan written down exactly, and read again with everything that is wrong in it.

Numbers are exact decimals; one with no finite decimal is text, "p/q". Nothing passes through a float. What
follows from the other fields (totals, percentages, status words) must agree with them when a file is read, and its
digest says that nothing was changed since it was written.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Any, TypeVar

from cutplan.cutting.digest import MISSING, Difference, differences, digest, scalar, text
from cutplan.cutting.grounds import grounded
from cutplan.cutting.plan import Cut, Demand, Plan, ProfilePlan, Stick, Tier, Totals, sum_up
from cutplan.orders import CENTRINGS, Origin
from cutplan.problems import Findings, InputProblems
from cutplan.shop import UNITS, Routing
from cutplan.unprintable import printable, where

T = TypeVar("T")
Trims = tuple[Fraction | None, Fraction | None]  # at the end squared first and at the other; None: the profile's
Kind = tuple[Fraction, Fraction, str, Fraction, Trims]  # length, price, source, first hole, trims

FORMAT, VERSION = "cutplan plan", 1
TIERS = ("cost", "used up", "patterns")
SOURCES = ("new", "rack")
LINE = 100  # characters: what fits is written on one line
LONGEST_NUMBER = 1000  # characters; a longer one is a slip or a trick
LARGEST_EXPONENT = 300
MOST_TOLD = 100  # problems
A_PLAN = "a plan written by cutplan cut --json is needed"
RATIO = re.compile(r"(-?[0-9]+)/([0-9]+)")
TEXT_IN_CERTIFICATE = ("tag",)  # what is text there even where it looks like "p/q"


def to_json(plan: Plan) -> str:
    """The plan as text, in the plan's unit. `from_json` gives the same plan back."""
    fields = plan_fields(plan)
    return written({**fields, "digest": digest(fields)}) + "\n"


def from_json(text: str, file: str) -> Plan:
    """The plan in a text, in the text's unit. InputProblems names everything wrong by its path in `file`."""
    found = findings(file)
    plan = read_json(text, found)
    found.raise_any()
    return plan


def findings(file: str) -> Findings:
    """For what is wrong in a plan file, which a program may have made: no list that nobody reads to its end."""
    return Findings(file, MOST_TOLD)


def read_json(text: str, found: Findings) -> Plan:
    """As `from_json`, for who has more to find: a plan that is sound but was changed is given back all the same."""
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


def identity(plan: Plan) -> str:
    """The fingerprint of the whole plan, by which it is known again."""
    return str(digest(plan_fields(plan))["whole"])


# ---- writing ----


def plan_fields(plan: Plan) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "version": VERSION,
        "unit": plan.unit,
        "currency": plan.currency,
        "tape": plan.tape,
        "shortest_held": plan.shortest_held,
        **({"shortest_clamped": plan.shortest_clamped} if plan.shortest_clamped is not None else {}),
        **({"stack": plan.stack} if plan.stack != 1 else {}),
        "profiles": [profile_fields(profile) for profile in plan.profiles],
        **({"cards": list(plan.cards)} if plan.cards else {}),
        **({"replaces": [{"plan": one.plan, "after": one.after} for one in plan.replaces]} if plan.replaces else {}),
    }


def profile_fields(profile: ProfilePlan) -> dict[str, Any]:
    on_hand = [{"length": length, "qty": qty} for length, qty in profile.on_hand]
    routing = profile.routing and {"pitch": profile.routing.pitch, "first": profile.routing.first}
    return {
        "profile": profile.profile,
        **({"routing": routing} if routing else {}),
        "kerf": profile.kerf,
        "head_trim": profile.head_trim,
        "tail_trim": profile.tail_trim,
        "keep_from": profile.keep_from,
        "one_per_stick": profile.one_per_stick,
        **({} if profile.most_trim is None else {"most_trim": profile.most_trim}),
        **({"on_hand": on_hand} if on_hand else {}),
        "demand": [demand_fields(demand) for demand in profile.demand],
        "sticks": [stick_fields(stick, profile) for stick in profile.sticks],
        "totals": totals_fields(profile.totals),
        "proof": {**proof_fields(profile.tiers[0]), "certificate": profile.certificate},
        "tiers": [tier_fields(tier) for tier in profile.tiers],
    }


def demand_fields(demand: Demand) -> dict[str, Any]:
    fields = {"mark": demand.mark, "length": demand.length, "qty": demand.qty}
    said = {"for": demand.for_, "centred": demand.centred}
    sets = {"each": demand.each} if demand.each != 1 else {}
    return {**fields, **{key: text for key, text in said.items() if text}, **sets}


def stick_fields(stick: Stick, profile: ProfilePlan) -> dict[str, Any]:
    """A stick's own trims stand there where they are not the profile's."""
    return {
        "source": stick.source,
        "tag": stick.tag,
        "length": stick.length,
        "price": stick.price,
        "count": stick.count,
        **({} if stick.head_trim == profile.head_trim else {"head_trim": stick.head_trim}),
        **({} if stick.tail_trim == profile.tail_trim else {"tail_trim": stick.tail_trim}),
        **({} if stick.first is None else {"first": stick.first, "turned": stick.turned}),
        "cuts": [
            {"mark": cut.mark, "length": cut.length, "start": cut.start, "end": cut.end,
             **({"centred": cut.centred} if cut.centred else {})} for cut in stick.cuts
        ],
        "offcut": stick.offcut,
        "keep": stick.keep,
        **({"offcut_tags": list(stick.offcut_tags)} if stick.offcut_tags else {}),
    }


def totals_fields(totals: Totals) -> dict[str, Any]:
    return {
        "cost": totals.cost,
        "drawn": totals.drawn,
        "pieces": totals.pieces,
        "kerf": totals.kerf,
        "trim": totals.trim,
        "scrap": totals.scrap,
        "kept": totals.kept,
        "waste_percent": round(totals.waste_percent, 10),
        "net_waste_percent": round(totals.net_waste_percent, 10),
        "patterns": totals.patterns,
    }


def proof_fields(cost: Tier) -> dict[str, Any]:
    """What `proof` says besides the certificate; it repeats the first tier."""
    return {"status": cost.status, "cost": cost.value, "bound": cost.bound}


def tier_fields(tier: Tier) -> dict[str, Any]:
    return {"name": tier.name, "value": tier.value, "bound": tier.bound, "status": tier.status}


def written(value: Any, indent: str = "") -> str:
    """JSON of dicts, lists, text, Fractions, whole numbers, flags and None; short parts stay on one line."""
    deeper = indent + "  "
    kind = type(value)
    if kind is dict:
        parts = [f"{text(key)}: {written(part, deeper)}" for key, part in value.items()]
        opening, closing = "{", "}"
    elif kind is list or kind is tuple:
        parts = [written(part, deeper) for part in value]
        opening, closing = "[", "]"
    else:
        return scalar(value)
    line = opening + ", ".join(parts) + closing
    if len(indent) + len(line) <= LINE and "\n" not in line:
        return line
    return f"{opening}\n{deeper}" + f",\n{deeper}".join(parts) + f"\n{indent}{closing}"


# ---- reading ----

BROKEN = object()  # below something already reported


@dataclass(frozen=True)
class Place:
    """A value in the file and the path to it. A reader reports what is wrong, and then gives a stand-in."""

    value: Any
    path: str
    found: Findings

    def report(self, message: str) -> None:
        self.found.add(1, self.path or "file", message)

    def wrong(self, what: str, right: str) -> None:
        """Says that the value is missing or not `what`, and what would be right."""
        if self.value is MISSING:
            self.report(f"is missing; {right} is needed")
        elif self.value is not BROKEN:
            self.report(f"{shown(self.value)} is not {what}; {right} is needed")

    def get(self, key: str) -> Place:
        """The value under a key of an object."""
        path = f"{self.path}.{key}" if self.path else key
        if isinstance(self.value, dict):
            return Place(self.value.get(key, MISSING), path, self.found)
        self.wrong("an object", "an object { ... }")
        return Place(BROKEN, path, self.found)

    def maybe(self, key: str, default: Any) -> Place:
        """As `get`, for a key that need not be there."""
        place = self.get(key)
        return place if place.value is not MISSING else Place(default, place.path, self.found)

    def each(self, read: Callable[[Place], T], least: int = 0) -> tuple[T, ...]:
        """What `read` makes of every entry of a list of at least so many."""
        if not isinstance(self.value, list):
            self.wrong("a list", "a list [ ... ]")
            return ()
        if len(self.value) < least:
            self.report(f"has {len(self.value)} entries; at least {least} is needed")
        return tuple(
            read(Place(value, f"{self.path}[{k}]", self.found)) for k, value in enumerate(self.value)
        )

    def number(self) -> Fraction:
        """Zero or more."""
        number = as_number(self.value)
        if number is None:
            self.wrong("a number", 'a decimal like 34.875 or text like "104/3"')
            return Fraction(0)
        if number < 0:
            self.report(f"{shown(self.value)} is negative; zero or more is needed")
        return number

    def length(self) -> Fraction:
        """More than zero."""
        length = self.number()
        if length == 0 and as_number(self.value) is not None:
            self.report("is zero; more than zero is needed")
        return length

    def whole(self, least: int) -> int:
        number = as_number(self.value)
        if number is None or number.denominator != 1 or number < least:
            self.wrong(f"a whole number of at least {least}", f"a whole number of at least {least}")
            return least
        return int(number)

    def text(self) -> str:
        if not isinstance(self.value, str):
            self.wrong("text", 'text in quotes, like "G1 picket",')
            return ""
        if not self.value.isascii() and any("\ud800" <= letter <= "\udfff" for letter in self.value):
            self.report("holds half of a character; whole characters are needed")
        elif not printable(self.value):
            self.report(f"has a character that cannot be printed ({where(self.value)}); text without it is needed")
        return self.value

    def one_of(self, words: Sequence[str]) -> str:
        if self.value not in words:
            right = " or ".join(f'"{word}"' for word in words)
            self.wrong(right, right)
            return words[0]
        return str(self.value)

    def flag(self) -> bool:
        if not isinstance(self.value, bool):
            self.wrong("true or false", "true or false")
        return self.value is True

    def or_none(self, read: Callable[[Place], T]) -> T | None:
        return None if self.value is None else read(self)

    def must_be(self, right: Any, reason: str) -> None:
        """Reports a value that does not follow from the rest of the file."""
        same = self.value == right if isinstance(right, str) else as_number(self.value) == right
        if same:
            return
        if self.value is MISSING:
            self.report(f"is missing; {scalar(right)} is needed")
        else:
            said = f"{shown(self.value)} does not agree with {reason}"
            self.report(f"{said}; {scalar(right)} would be right")


def shown(value: Any) -> str:
    """The value as it stands in a file, cut where it is long."""
    if isinstance(value, dict | list):
        return "a list" if isinstance(value, list) else "an object"
    text = scalar(value)
    return text if len(text) <= 40 else text[:37] + "..."


def as_number(value: Any) -> Fraction | None:
    """The number a value stands for; None where it is not one."""
    if isinstance(value, int | Fraction) and not isinstance(value, bool):
        return Fraction(value)
    if isinstance(value, str) and len(value) <= LONGEST_NUMBER:
        match = RATIO.fullmatch(value)
        if match and int(match[2]):
            return Fraction(int(match[1]), int(match[2]))
    return None


def parsed(text: str, found: Findings) -> Place:
    """The whole file. InputProblems where it is not JSON."""

    def whole_object(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
        pairs = list(pairs)
        fields = dict(pairs)
        if len(fields) < len(pairs):
            for key, often in Counter(key for key, _ in pairs).items():
                if often > 1:
                    found.add(1, "file", f"the key {shown(key)} stands twice in one object; once is right")
        return fields

    def exactly(read: Callable[[str], T | None]) -> Callable[[str], T | str]:
        """Reads a number; one that cannot be is reported, and stays text."""

        def number(text: str) -> T | str:
            value = read(text)
            if value is None:
                found.add(1, "file", f"{text[:37]} is no number to reckon with; a decimal like 34.875 is needed")
            return text if value is None else value

        return number

    try:
        value = json.loads(
            text,
            parse_float=exactly(decimal),
            parse_int=exactly(whole),
            parse_constant=exactly(constant),
            object_pairs_hook=whole_object,
        )
    except json.JSONDecodeError as error:
        found.add(error.lineno, "file", f"is not JSON at character {error.colno} ({error.msg}); {A_PLAN}")
        raise InputProblems(found.problems, found.most) from None
    return Place(value, "", found)


def decimal(text: str) -> Fraction | None:
    """The decimal exactly; None where it is absurdly long or large."""
    exponent = text.lower().partition("e")[2]
    if len(text) > LONGEST_NUMBER or len(exponent) > 5 or abs(int(exponent or 0)) > LARGEST_EXPONENT:
        return None
    return Fraction(text)


def whole(text: str) -> int | None:
    return int(text) if len(text) <= LONGEST_NUMBER else None


def constant(_: str) -> None:
    """NaN and Infinity, which Python takes for numbers, and JSON does not."""


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
    return Origin(place.get("plan").text(), place.get("after").whole(0))


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
    )
    if len(place.found.problems) > before:
        return profile
    profile = grounded(profile)
    compare(place, profile)
    return profile


def read_routing(place: Place) -> Routing:
    return Routing(place.get("pitch").length(), place.get("first").number())


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


def check_certificate(place: Place) -> None:
    """Reports what keeps the certificate from being understood; what it proves is not judged here."""
    place.get("coin").length()
    kinds = set(place.get("stock").each(read_kind, least=1))
    check_box(place.get("tree"), kinds)


def read_kind(place: Place) -> Kind:
    """What tells a stock entry from others."""
    place.get("qty").or_none(lambda qty: qty.whole(0))
    tag = place.get("tag").or_none(Place.text)
    if tag is not None and as_number(place.get("price").value):
        place.get("price").report(f"{shown(place.value['price'])} is asked for an offcut from the rack; 0 is needed")
    return kind_of(place, "new" if tag is None else "rack")


def kind_of(place: Place, source: str) -> Kind:
    head, tail = (place.maybe(key, None).or_none(Place.number) for key in ("head_trim", "tail_trim"))
    first = place.maybe("first", 0).number()
    return place.get("length").length(), place.get("price").number(), source, first, (head, tail)


def check_box(place: Place, kinds: Collection[Kind]) -> None:
    """One box of the tree: split in two by the number of sticks of a kind, or bounded by duals."""
    if isinstance(place.value, dict) and "stick" in place.value:
        stick = place.get("stick")
        if kind_of(stick, stick.get("source").one_of(SOURCES)) not in kinds:
            stick.report("is not in the certificate's stock; one of those is needed")
        place.get("at_most").whole(0)
        check_box(place.get("below"), kinds)
        check_box(place.get("above"), kinds)
    else:
        place.get("scale").whole(1)
        place.get("duals").each(check_dual)
        place.maybe("search", 0).number()


def check_dual(place: Place) -> None:
    place.get("length").length()
    place.get("value").whole(0)
    place.maybe("centred", "").one_of(("", *CENTRINGS))


def numbers_again(value: Any, key: str = "") -> Any:
    """A certificate with its "p/q" texts turned back into numbers."""
    if isinstance(value, dict):
        return {name: numbers_again(part, name) for name, part in value.items()}
    if isinstance(value, list):
        return [numbers_again(part, key) for part in value]
    number = as_number(value) if isinstance(value, str) and key not in TEXT_IN_CERTIFICATE else None
    return value if number is None else number


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


def report_strangers(place: Place, fields: Any) -> None:
    """Reports every key that the same plan would not be written with."""
    if isinstance(place.value, dict) and isinstance(fields, dict):
        for key in place.value:
            if key in fields:
                report_strangers(place.get(key), fields[key])
            else:
                place.get(key).report("is not part of a plan; nothing but what cutplan writes is right")
    elif isinstance(place.value, list) and isinstance(fields, list):
        for k, (value, part) in enumerate(zip(place.value, fields, strict=True)):
            report_strangers(Place(value, f"{place.path}[{k}]", place.found), part)


def report_changes(root: Place) -> None:
    """Reports where the plan is not what its digest says.

    Its `whole` tells which of the two was changed: where that is right, the plan is as it was written. A digest
    without it is taken for the changed one.
    """
    stated = root.get("digest")
    if not isinstance(stated.value, dict):
        stated.wrong("an object", "the digest that cutplan cut --json writes")
        return
    right = digest({key: value for key, value in root.value.items() if key != "digest"})
    changed = list(differences(stated.value, right))
    as_written = stated.value.get("whole", right["whole"]) == right["whole"]
    if as_written or [change.path for change in changed] == ["whole"]:
        for change in changed:
            root.found.add(1, f"digest.{change.path}", misstated(change))
        return
    known = {"whole", *(problem.column for problem in root.found.problems)}
    for change in changed:
        if change.path not in known:
            root.found.add(1, change.path, f"{how_changed(change)}; the plan as cutplan wrote it is needed")


def how_changed(change: Difference) -> str:
    before, now = change.written, change.right
    if before is MISSING:
        return "was added after the plan was written (no digest covers it)"
    if now is MISSING:
        return "was taken out after the plan was written (its digest is still there)"
    if isinstance(before, list) and isinstance(now, list):
        if len(before) != len(now):
            return f"has {len(now)} entries, and had {len(before)} when the plan was written (by its digest)"
        return "has its entries in another order than when the plan was written (by their digests)"
    return "was changed after the plan was written (its digest differs)"


def misstated(change: Difference) -> str:
    """What is wrong with a digest whose plan is as it was written."""
    if change.written is MISSING:
        return f"is missing; {in_digest(change.right)} is needed"
    if change.right is MISSING:
        return "stands for no part of the plan; nothing is needed here"
    return f"{shown(change.written)} does not agree with the plan; {in_digest(change.right)} would be right"


def in_digest(part: Any) -> str:
    return scalar(part) if isinstance(part, str) else "a digest for each part, in the plan's order,"
