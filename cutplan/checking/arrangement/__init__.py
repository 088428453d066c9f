"""What the checks know of how pieces lie beside each other: a module for each way, and one place that chooses.

These are the twins of cutplan/cutting/arrangement/, written apart from it: no code is shared.
"""

from __future__ import annotations

from fractions import Fraction

from cutplan.checking.arrangement.angles import AngledTwin
from cutplan.checking.arrangement.holes import OnHolesTwin
from cutplan.checking.arrangement.plain import PlainTwin
from cutplan.checking.arrangement.protocol import PieceKind, StickKind, Twin
from cutplan.ends import ends_in
from cutplan.plans.records import ProfilePlan


def arrangement_of(profile: ProfilePlan) -> Twin:
    if profile.routing is not None:
        return OnHolesTwin(profile, profile.routing)
    return PlainTwin(profile) if profile.angles is None else AngledTwin(profile, profile.angles)


def takes_at_least(profile: ProfilePlan, asked: PieceKind) -> Fraction:
    """What a piece takes of its stick at least, whatever lies beside it: the length halfway up its face, and a kerf."""
    left, right = ends_in(asked[1])
    return asked[0] - (left + right) / 2 + profile.kerf


def shortened(profile: ProfilePlan, kind: StickKind, by: Fraction) -> StickKind:
    """A kind of stick that is shorter by at most so much, its holes where they were from either end."""
    if profile.routing is not None:
        by -= by % profile.routing.pitch
    return kind[0] - max(Fraction(0), by), *kind[1:]
