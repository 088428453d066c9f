"""What the checks know of how pieces lie beside each other: a module for each way, and one place that chooses.

These are the twins of cutplan/cutting/arrangement/, written apart from it: no code is shared.
"""

from __future__ import annotations

from cutplan.checking.arrangement.holes import OnHoles
from cutplan.checking.arrangement.plain import Plain
from cutplan.checking.arrangement.protocol import Arrangement
from cutplan.plans.records import ProfilePlan


def arrangement_of(profile: ProfilePlan) -> Arrangement:
    return Plain(profile) if profile.routing is None else OnHoles(profile, profile.routing)
