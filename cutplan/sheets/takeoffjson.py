"""The takeoff as JSON: every placed part of every opening with its corners, enough to measure it all again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cutplan import exactjson
from cutplan.sheets.hardware import as_json, totals_of
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff
from cutplan.takeoff.assembly import Outline, Part
from cutplan.takeoff.cards import Card
from cutplan.takeoff.hanging import Hanging, gaps_beside


def takeoff_json(taken: Takeoff, shop: Shop) -> str:
    """Lengths in the shop's unit, exact: x from the left post's face at the top of the opening, y up from the finished
    ground, along a rake from where it is at that face. Parts and hardware of an opening are those of one; the hardware
    at the end is that of all."""
    return exactjson.written({
        "unit": shop.unit,
        "openings": [opening(card) for card in taken.cards],
        "hardware": as_json(totals_of(taken.cards)),
    }) + "\n"


def opening(card: Card) -> Mapping[str, Any]:
    """One line of the week; `squared` are the corners between which its diagonals go, leaf by leaf."""
    layout = card.layout
    return {
        "mark": card.mark, "kind": card.kind, "system": card.system, "qty": card.qty,
        **({"rake": card.rake} if card.rake else {}),
        "parts": [placed(card, part, outline) for part in card.parts for outline in part.outlines()],
        "squared": card.squared,
        "gap": layout.gap, "end_gap": layout.end_gap, "wide_end_gap": layout.wide_end_gap,
        "hidden": card.hidden, "marks": layout.marks, "plugs": card.plugs,
        **(hung(card, card.hanging) if card.hanging else {}),
        "hardware": [{"name": one.name, "count": one.count} for one in card.hardware],
    }  # fmt: skip


def hung(card: Card, one: Hanging) -> Mapping[str, Any]:
    """How a gate hangs; `beside` are the gaps beside and between its leaves, at the narrow and at the wide end."""
    return {
        "hinge_side": one.side, "hinges": one.hinges, "hinges_by_rails": one.by_rails, "latch": one.latch,
        "thickness": one.thickness, "clear_below": one.foot, "fall": one.fall, "low_side": one.low_side or None,
        "beside": gaps_beside(card.opening, card.opening_bottom, card.squared),
    }  # fmt: skip


def placed(card: Card, part: Part, outline: Outline) -> Mapping[str, Any]:
    """One placed part; `bay` counts those of a run; `place`, `sized`, `left_in` and `right_in` are said where they say
    something."""
    return {
        "part": part.part, "profile": part.profile, "leaf": part.leaf if card.kind == "gate" else None,
        **({"bay": part.leaf} if card.kind == "run" and part.leaf else {}), "length": part.length,
        **({"place": part.place} if part.place else {}), **({} if part.sized else {"sized": False}),
        **({"left_in": part.left_in, "right_in": part.right_in} if part.left_in or part.right_in else {}),
        "outline": outline,
    }  # fmt: skip
