"""What the benchmarks of one profile's seeded weeks share: their options, their rows, what is said of all of them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable

import pandas as pd

from cutplan.checking.proof import prove
from cutplan.plans.records import ProfilePlan


def run_weeks(described: str, run: Callable[[int, float], dict[str, object]], summary: Callable[[pd.DataFrame], str],
              weeks: int) -> None:
    """Runs a command that is `described`: so many weeks unless it is said, one after the other, then their summary."""
    parser = argparse.ArgumentParser(description=described, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--weeks", type=int, default=weeks)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds a week")
    parser.add_argument("--out", help="a CSV of the weeks")
    options = parser.parse_args()
    rows = []
    for seed in range(options.first_seed, options.first_seed + options.weeks):
        rows.append(run(seed, options.limit))
        print(*rows[-1].values(), file=sys.stderr, flush=True)
    found = pd.DataFrame(rows)
    if options.out:
        found.to_csv(options.out, index=False)
    print(summary(found))


def certified(plan: ProfilePlan) -> bool:
    """Whether the certificate alone proves that no plan is cheaper, as `check` finds it."""
    proved = prove(plan)
    return plan.tiers[0].closed and proved.ok and "by search" not in proved.line


def of_rail(rail: ProfilePlan, seconds: float) -> dict[str, object]:
    """What came of a week's one profile, planned in so many seconds."""
    cost = rail.tiers[0]
    return {
        "sticks": sum(stick.count for stick in rail.sticks),
        "drawn": float(cost.value),
        "bound": float(cost.bound),
        "proven": cost.closed,
        "certified": certified(rail),
        "waste_percent": round(float(rail.totals.waste_percent), 2),
        "seconds": round(seconds, 1),
    }


def known(weeks: pd.DataFrame, longest: float) -> list[str]:
    """How many weeks end proven, how wide the widest gap is, how long they took; `longest` is of sticks, in inches."""
    gap = (weeks.drawn - weeks.bound).max()
    return [
        f"{len(weeks)} weeks: {int(weeks.proven.sum())} proven, {int(weeks.certified.sum())} of them by certificate; "
        f"widest gap {gap:g} in ({gap / longest:.2f} sticks of 20 ft)",
        f"median {weeks.seconds.median():g} s, worst {weeks.seconds.max():g} s; "
        f"{weeks.sticks.mean():.1f} sticks, waste {weeks.waste_percent.mean():.2f} %",
    ]
