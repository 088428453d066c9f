"""What plan.json says of each profile."""

from __future__ import annotations

from typing import Any

from cutplan.plans.records import Cut, Demand, ProfilePlan, SawTime, Spare, Stick, Tier, Totals
from cutplan.shop import SawRates


def profile_fields(profile: ProfilePlan) -> dict[str, Any]:
    on_hand = [{"length": length, "qty": qty} for length, qty in profile.on_hand]
    routing = profile.routing and {"pitch": profile.routing.pitch, "first": profile.routing.first}
    angles = profile.angles and {"face": profile.angles.face, "may_turn": profile.angles.may_turn,
                                 "step": profile.angles.step}
    return {
        "profile": profile.profile,
        **({"routing": routing} if routing else {}),
        **({"angles": angles} if angles else {}),
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
        **({} if profile.saw is None else {"saw": saw_fields(profile.saw)}),
        **({} if profile.spare is None else {"spare": spare_fields(profile.spare)}),
        "proof": {**proof_fields(profile.tiers[0]), "certificate": profile.certificate},
        "tiers": [tier_fields(tier) for tier in profile.tiers],
    }


def demand_fields(demand: Demand) -> dict[str, Any]:
    fields = {"mark": demand.mark, "length": demand.length, "qty": demand.qty}
    said = {"for": demand.for_, "centred": demand.centred}
    sets = {"each": demand.each} if demand.each != 1 else {}
    return {**fields, **{key: text for key, text in said.items() if text}, **end_fields(demand), **sets}


def end_fields(piece: Demand | Cut) -> dict[str, Any]:
    """The ends that are not square."""
    ends = {"left_in": piece.left_in, "right_in": piece.right_in}
    return {key: set_in for key, set_in in ends.items() if set_in}


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
             **({"centred": cut.centred} if cut.centred else {}), **end_fields(cut),
             **({"lies": cut.lies} if cut.lies else {})} for cut in stick.cuts
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
        **({"wedges": totals.wedges, "slope_kerf": totals.slope_kerf} if totals.wedges or totals.slope_kerf else {}),
    }


def proof_fields(cost: Tier) -> dict[str, Any]:
    """What `proof` says besides the certificate; it repeats the first tier."""
    return {"status": cost.status, "cost": cost.value, "bound": cost.bound}


def tier_fields(tier: Tier) -> dict[str, Any]:
    return {"name": tier.name, "value": tier.value, "bound": tier.bound, "status": tier.status}


def rates_fields(rates: SawRates) -> dict[str, Any]:
    hourly = {} if rates.hourly is None else {"hourly": rates.hourly}
    return {"setup_minutes": rates.setup_minutes, "cut_seconds": rates.cut_seconds,
            "stick_seconds": rates.stick_seconds, **hourly}


def saw_fields(time: SawTime) -> dict[str, Any]:
    amount = {} if time.amount is None else {"amount": time.amount}
    return {"setups": time.setups, "lifts": time.lifts, "cuts": time.cuts, "minutes": time.minutes, **amount}


def spare_fields(spare: Spare) -> dict[str, Any]:
    return {"share": spare.share, "least": spare.least, "at_most": spare.at_most}
