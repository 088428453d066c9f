"""How long a plan keeps the saw busy, from its sticks and the shop's rates; exact.

Each set-up takes its minutes once. The sticks of a set-up that are cut at the same places go under the saw `stack` at a
time: each such lift takes its seconds, and so many more for each cut through it. A stick takes a cut to square it,
unless that end is sawn already, and one for each piece; on holes one more wherever something comes off a new end first,
and of angled ends one more wherever two that meet are unlike.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import replace
from fractions import Fraction

from cutplan.lengths import added
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, SawTime, Stick
from cutplan.shop import SawRates

SECONDS, MINUTES = 60, 60  # of a minute, of an hour


def lifts_of(sticks: Iterable[Stick], stack: int) -> int:
    """How many lifts these sticks are: only those that share all their places can lie in one."""
    if stack == 1:  # whatever they share; and their places take long to look at
        return sum([stick.count for stick in sticks])
    alike: Counter[Hashable] = Counter()
    for stick in sticks:
        alike[stick.places] += stick.count
    return sum(-(-many // stack) for many in alike.values())


def cuts_of(profile: ProfilePlan, stick: Stick) -> int:
    """The cuts through one stick."""
    squared, pieces = int(not profile.begins_sawn(stick)), len(stick.cuts)
    if profile.angles:
        slopes = [Fraction(0), *(-cut.right_in for cut in stick.cuts)]
        return squared + pieces + sum(cut.left_in != slope for cut, slope in zip(stick.cuts, slopes, strict=False))
    if stick.first is None:
        return squared + pieces
    ends = [stick.head_trim, *(cut.end + profile.kerf for cut in stick.cuts)]
    return squared + pieces + sum(cut.start > end for cut, end in zip(stick.cuts, ends, strict=False))


def lift_minutes(rates: SawRates, cuts: int) -> Fraction:
    return (rates.stick_seconds + cuts * rates.cut_seconds) / SECONDS


def amount(rates: SawRates, minutes: Fraction) -> Fraction | None:
    """What so many minutes cost; None where the shop does not say."""
    return None if rates.hourly is None else minutes * rates.hourly / MINUTES


def saw_time(profile: ProfilePlan, rates: SawRates, stack: int) -> SawTime:
    """What a profile's sticks take; `cuts` are cuts through lifts."""
    groups: dict[Hashable, list[Stick]] = {}
    for stick in profile.sticks:
        groups.setdefault(stick.places, []).append(stick)
    lifted = [(lifts_of(group, stack), cuts_of(profile, group[0])) for group in groups.values()]
    setups = len({stick.setup for stick in profile.sticks})
    minutes = setups * rates.setup_minutes + added((lifts, lift_minutes(rates, cuts)) for lifts, cuts in lifted)
    return SawTime(setups, sum(lifts for lifts, _ in lifted), sum(lifts * cuts for lifts, cuts in lifted), minutes,
                   amount(rates, minutes))


def timed(plan: Plan) -> Plan:
    """The plan with each profile's time at the saw, where the shop says what work takes."""
    rates = plan.saw
    if rates is None:
        return plan
    return replace(plan, profiles=tuple(replace(profile, saw=saw_time(profile, rates, plan.stack))
                                        for profile in plan.profiles))


def total_time(plan: Plan) -> SawTime | None:
    """Of all profiles."""
    found = [profile.saw for profile in plan.profiles if profile.saw is not None]
    if plan.saw is None or not found:
        return None
    minutes = sum((one.minutes for one in found), Fraction(0))
    return SawTime(sum(one.setups for one in found), sum(one.lifts for one in found), sum(one.cuts for one in found),
                   minutes, amount(plan.saw, minutes))


def minutes_of_sticks(plan: Plan, profile: ProfilePlan) -> list[Fraction]:
    """The minutes that fall on one stick of each of a profile's entries: its part of its set-up and of its lifts.

    Times their counts they add up to the profile's. None where the plan has no times.
    """
    rates = plan.saw
    if rates is None:
        return []
    in_setup: Counter[Hashable] = Counter()
    alike: Counter[Hashable] = Counter()
    for stick in profile.sticks:
        in_setup[stick.setup] += stick.count
        alike[stick.places] += stick.count
    return [rates.setup_minutes / in_setup[stick.setup]
            + lift_minutes(rates, cuts_of(profile, stick)) * -(-alike[stick.places] // plan.stack) / alike[stick.places]
            for stick in profile.sticks]
