"""How each profile on the rack is cut, as the last plan or shop file said: so that one piece can be cut again."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from cutplan.exactjson import written
from cutplan.lengths import exact_decimal, factor
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan
from cutplan.rack.store import Rack
from cutplan.shop import Profile, Routing, Stock


def learn(rack: Rack, plan: Plan) -> None:
    """Remembers by what rule each profile of a plan was cut, what its new sticks cost and how short a piece was."""
    for profile in plan.profiles:
        pieces = [entry.length * factor(plan.unit, rack.unit) for entry in profile.demand]
        if (before := shortest(rack, profile.profile)) is not None:
            pieces.append(before)
        rule = rule_of(profile, plan.unit)
        if profile.angles is None and (angles := angles_before(rack, profile.profile, plan.unit)):
            rule["angles"] = angles  # this plan had no piece with angled ends, and so does not tell
        rack.do("INSERT INTO rules (profile, rule, shortest) VALUES (?,?,?) ON CONFLICT (profile) "
                "DO UPDATE SET rule = excluded.rule, shortest = excluded.shortest",
                profile.profile, written(rule), exact_decimal(min(pieces)))


def shortest(rack: Rack, profile: str) -> Fraction | None:
    """The shortest piece that any plan cut of a profile; None where there was no plan."""
    row = rack.one("SELECT shortest FROM rules WHERE profile = ?", profile)
    return None if row is None else Fraction(row["shortest"])


def rule_of(profile: ProfilePlan, unit: str) -> dict[str, Any]:
    routing, angles = profile.routing, profile.angles
    new = {(Fraction(entry["length"]), Fraction(entry["price"])) for entry in profile.certificate["stock"]
           if entry["tag"] is None}
    return {
        "unit": unit,
        "kerf": profile.kerf,
        "head_trim": profile.head_trim,
        "tail_trim": profile.tail_trim,
        "keep_from": profile.keep_from,
        "one_per_stick": profile.one_per_stick,
        **({} if profile.most_trim is None else {"most_trim": profile.most_trim}),
        "routing": routing and {"pitch": routing.pitch, "first": routing.first},
        **({"angles": {"face": angles.face, "may_turn": angles.may_turn, "step": angles.step}} if angles else {}),
        "stock": [{"length": length, "price": price} for length, price in sorted(new)
                  if price or not any(one == length and other for one, other in new)],  # what was there cost nothing
    }


def angles_before(rack: Rack, name: str, unit: str) -> dict[str, Any] | None:
    """What counted when pieces of the profile with angled ends were last cut, in this unit; None where none were."""
    known = rule(rack, name)
    if known is None or known.face is None:
        return None
    outward = factor(rack.unit, unit)
    return {"face": known.face * outward, "may_turn": known.may_turn, "step": known.kerf_step * outward}


def rule(rack: Rack, name: str) -> Profile | None:
    """The profile as it was last cut, in the rack's unit; None where no plan of it was ever seen."""
    row = rack.one("SELECT rule FROM rules WHERE profile = ?", name)
    if row is None:
        return None
    said = json.loads(row["rule"], parse_float=Fraction, parse_int=Fraction)
    inward = factor(said["unit"], rack.unit)

    def length(value: Any) -> Fraction:
        return Fraction(value) * inward

    angles = said.get("angles")
    turning = {"face": length(angles["face"]), "may_turn": angles["may_turn"],
               "kerf_step": length(angles["step"])} if angles else {}
    routing = said["routing"] and Routing(length(said["routing"]["pitch"]), length(said["routing"]["first"]))
    return Profile(
        name=name,
        kind="other",
        stock=tuple(Stock(length(entry["length"]), Fraction(entry["price"])) for entry in said["stock"]),
        kerf=length(said["kerf"]),
        head_trim=length(said["head_trim"]),
        tail_trim=length(said["tail_trim"]),
        keep_from=None if said["keep_from"] is None else length(said["keep_from"]),
        one_per_stick=said["one_per_stick"],
        most_trim=length(said["most_trim"]) if "most_trim" in said else None,
        routing=routing,
        **turning,
    )
