"""What the checks know of how pieces lie beside each other: a module for each way, and one place that chooses.

These are the twins of cutplan/cutting/arrangement/, written apart from it: no code is shared.
"""

from __future__ import annotations

from cutplan.checking.arrangement.angles import AngledTwin
from cutplan.checking.arrangement.holes import OnHolesTwin
from cutplan.checking.arrangement.plain import PlainTwin
from cutplan.checking.arrangement.protocol import Twin
from cutplan.plans.records import ProfilePlan


def arrangement_of(profile: ProfilePlan) -> Twin:
    if profile.routing is not None:
        return OnHolesTwin(profile, profile.routing)
    return PlainTwin(profile) if profile.angles is None else AngledTwin(profile, profile.angles)
