"""Weeks one after the other: what one leaves on the rack is there for the next."""

from __future__ import annotations

from dataclasses import replace

from cutplan.plans.records import ProfilePlan
from cutplan.shop import Profile


def offcut_name(profile: str, week: str, place: int, k: int) -> str:
    """What the offcut of the k-th stick of an entry is called before a rack gives it a tag; none of another profile is
    called so."""
    return f"{profile}, {week}, {place}.{k}"


def left_of(profile: Profile, plan: ProfilePlan, name: str) -> Profile:
    """The profile after a plan: the offcuts it used are gone, those it kept are there, named after the week.

    New stock stays as it is: whoever has only so many sticks of a length counts them.
    """
    used = {stick.tag for stick in plan.sticks if stick.tag is not None}
    kept = []
    for number, stick in enumerate(plan.sticks, start=1):
        if stick.keep:
            left = plan.left_by(stick)
            kept += [profile.offcut(offcut_name(profile.name, name, number, k), left.length, left.first, left.sawn,
                                    left.plain) for k in range(1, stick.count + 1)]
    return replace(profile, stock=(*(entry for entry in profile.stock if entry.tag not in used), *kept))
