"""The kinds of stick and of piece that a certificate speaks of, and what a pattern on a kind is worth at most."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from cutplan.checking.arrangement import arrangement_of
from cutplan.checking.arrangement.protocol import PieceKind, Pulse, StickKind
from cutplan.plans.records import ProfilePlan


def asked_for(profile: ProfilePlan) -> dict[PieceKind, int]:
    """How many pieces of each kind."""
    found: dict[PieceKind, int] = {}
    for entry in profile.demand:
        key = entry.length, entry.lies
        found[key] = found.get(key, 0) + entry.qty
    return found


def kind_of(profile: ProfilePlan, entry: Mapping[str, Any], new: bool) -> StickKind:
    """The kind of stick that an entry names; at its ends it loses what the entry says, else what the profile does."""
    trims = (Fraction(entry.get("head_trim", profile.head_trim)), Fraction(entry.get("tail_trim", profile.tail_trim)))
    return Fraction(entry["length"]), Fraction(entry["price"]), new, Fraction(entry.get("first", 0)), trims


def best_on_kinds(profile: ProfilePlan, duals: Mapping[PieceKind, int], demand: Mapping[PieceKind, int],
                  floors: Mapping[StickKind, int], step: Pulse) -> dict[StickKind, int]:
    """The best value of a pattern on a stick of each kind, or the kind's floor where that is more."""
    if profile.one_per_stick:
        return {kind: best_of_one(profile, kind, duals) for kind in floors}
    return arrangement_of(profile).best_on_kinds(duals, demand, floors, step)


def best_of_one(profile: ProfilePlan, kind: StickKind, duals: Mapping[PieceKind, int]) -> int:
    """The most that one piece is worth of those that the stick may be turned to."""
    length, trims = kind[0], kind[4]
    room = length - 2 * max(trims)
    least = Fraction(0) if profile.most_trim is None else length - 2 * profile.most_trim
    return max((pi for (piece, _), pi in duals.items() if least <= piece <= room), default=0)
