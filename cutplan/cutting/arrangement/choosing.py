"""Which arrangement a profile has: the one place that asks."""

from __future__ import annotations

from cutplan.cutting.arrangement.angles.building import AngledProfile
from cutplan.cutting.arrangement.holes.building import RoutedProfile
from cutplan.cutting.arrangement.plain import PlainProfile
from cutplan.cutting.arrangement.protocol import Arranger
from cutplan.shop import Profile


def arranger_of(profile: Profile) -> Arranger:
    if profile.routing is not None:
        return RoutedProfile(profile, profile.routing)
    return PlainProfile(profile) if profile.angles is None else AngledProfile(profile, profile.angles)
