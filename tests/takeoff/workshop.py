"""Records for the takeoff's tests: an invented shop with one plain and one routed system."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from typing import Any

from cutplan.orders import Order
from cutplan.shop import BayRule, GateRule, Profile, Routing, Shop, Stock, System


def profile(name: str, kind: str, **changes: Any) -> Profile:
    return Profile(name, kind, (Stock(F(240), F(240)),), F(1, 8), **changes)


PROFILES = (
    profile("cap", "rail", face=F(2)),
    profile("base", "rail", face=F(7, 4)),
    profile("holed", "rail", routing=Routing(F(5), F(5, 2))),
    profile("holed-wide", "rail", routing=Routing(F(6), F(3))),
    profile("turned", "picket", one_per_stick=True),
    profile("square", "picket"),
    profile("bar", "insert"),
    profile("stile", "upright"),
)

PLAIN = System(
    name="plain",
    top_rail="cap",
    bottom_rail="base",
    picket="turned",
    picket_width=F(5, 4),
    max_gap=F(63, 16),
    min_end_gap=F(1),
    insert="bar",
    upright="stile",
    insert_short=F(1, 2),
    picket_allowance=F(19, 4),
    above_top_rail=F(1),
    below_bottom_rail=F(2),
    gate=GateRule(F(1, 2), F(3, 8), F(1, 8), F(15, 8), F(1, 8)),
    bay=BayRule(F(1, 8), F(1)),
)
ROUTED = replace(
    PLAIN,
    name="routed",
    top_rail="holed",
    bottom_rail="holed",
    picket="square",
    picket_width=F(3, 2),
    insert=None,
    upright=None,
    gate=GateRule(F(1), F(1), F(1, 4), F(15, 4), F(0)),
)


def shop(*systems: System, unit: str = "in") -> Shop:
    return Shop(
        name="Kettle Lane Gates",
        unit=unit,
        currency="USD",
        kerf=F(1, 8),
        shortest_held=None,
        stack=1,
        tape=F(1, 16),
        profiles={profile.name: profile for profile in PROFILES},
        systems={system.name: system for system in systems or (PLAIN, ROUTED)},
    )


def order(kind: str, opening: F | int, height: F | int = 40, system: str = "plain", **changes: Any) -> Order:
    given = {"mark": "A1", "qty": 1, "file": "week.csv", "line": 2} | changes
    return Order(kind=kind, system=system, opening=F(opening), height=F(height), **given)
