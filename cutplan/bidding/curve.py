"""How waste falls as a job grows: the same job several times over, and the line through what that gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.bidding.allowance import Figures, Outcome
from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.cutting import CutVersions, cut_versions
from cutplan.bidding.versions import copies
from cutplan.plans.records import waste_percent
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Shop


@dataclass(frozen=True)
class CurveParams:
    """How often over the job is cut, 1 first, and how many versions of each."""

    times: tuple[int, ...] = (1, 2, 4, 8)
    versions: int = 40


@dataclass(frozen=True)
class CurvePoint:
    """The job `times` over: mean net length and mean waste in % of it, and what is enough in so many of a hundred."""

    times: int
    net: Fraction
    mean: Fraction
    enough: Fraction
    versions: int


@dataclass(frozen=True)
class Curve:
    """The points of one profile, or of the whole job, and the line mean waste = `floor` + `small` / times.

    `floor` is what stays in the largest job (kerf, trims, lengths that do not go up), `small` what a single job adds
    because its last sticks are not filled; both in % of the net length.
    """

    name: str
    points: tuple[CurvePoint, ...]
    floor: Fraction
    small: Fraction

    def at(self, times: Fraction) -> Fraction:
        return self.floor + self.small / times


def curves(lines: Sequence[BidLine], shop: Shop, once: CutVersions, seed: int, chance: Fraction,
           budget: Budget, params: CurveParams = CurveParams()) -> tuple[Curve, ...]:
    """A curve for each profile and for the whole job; of fewer points where the time runs out."""
    found = [(1, once)]
    for k, times in enumerate(params.times[1:], start=1):
        if found[-1][1].cut_short:  # time is up, or the stop key was struck
            break
        if budget.spent():
            break
        own = budget.share(len(params.times) - k).beginning(f"the job {times} times over: ")
        try:
            cut = cut_versions(copies(lines, times), shop, min(params.versions, once.asked), seed, own)
        except NoPlan:  # out of time, or of stock for so many jobs: the curve ends before
            break
        found.append((times, cut))
    names = range(len(once.profiles))
    return tuple(fitted([(times, figures(cut, k)) for times, cut in found], chance) for k in (*names, None))


def figures(cut: CutVersions, k: int | None) -> Figures:
    return cut.together if k is None else cut.profiles[k]


def fitted(found: Sequence[tuple[int, Figures]], chance: Fraction) -> Curve:
    """The points, and the line through them in 1/times by least squares, exactly."""
    zero = Fraction(0)
    points = tuple(point(times, one, chance) for times, one in found)
    xs, ys = [Fraction(1, one.times) for one in points], [one.mean for one in points]
    n, x, y = len(points), sum(xs, zero), sum(ys, zero)
    spread = n * sum((one * one for one in xs), zero) - x * x
    small = (n * sum((a * b for a, b in zip(xs, ys, strict=True)), zero) - x * y) / spread if spread else zero
    return Curve(found[0][1].name, points, (y - small * x) / n, small)


def point(times: int, one: Figures, chance: Fraction) -> CurvePoint:
    net = one.mean(lambda outcome: outcome.net)
    waste = one.mean(lambda outcome: outcome.waste)
    return CurvePoint(times, net, waste_percent(waste, net), one.enough(percent_of_net, chance).value,
                 len(one.outcomes))


def percent_of_net(outcome: Outcome) -> Fraction:
    return outcome.of_net
