"""Set-ups of shop weeks: how many a plan has, how many every plan as good has, and what --spare 1% more would save.

    python -m benchmarks.setups [--weeks 12] [--first-seed 0] [--limit 60] [--spare 1%] [--out FILE.csv]
"""

from __future__ import annotations

import argparse
import time
from fractions import Fraction

import pandas as pd

from benchmarks import shopweeks
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.plans.grounds import least_setups
from cutplan.running.budget import Budget, read_share

Row = dict[str, object]


def run_week(seed: int, limit: float, spare: Fraction | None) -> list[Row]:
    """A row for each profile: its set-ups, their bound and what of it is certified; the same of the dearer plan."""
    shop, pieces = shopweeks.shop_week(seed)
    began = time.process_time()
    plan = cut_pieces(pieces, shop, Budget(limit), trade=() if spare is None else (spare,))
    seconds = time.process_time() - began
    rows: list[Row] = []
    for profile in plan.profiles:
        row: Row = {
            "seed": seed, "profile": profile.profile, "setups": profile.totals.patterns,
            "bound": int(profile.tiers[2].bound), "certified": min(least_setups(profile), profile.totals.patterns),
            "cost": float(profile.totals.cost), "right": prove(profile).ok, "faults": len(profile.faults),
            "seconds": seconds,
        }
        for dearer in profile.trade:
            row |= {"spared_setups": dearer.totals.patterns, "spared_bound": int(dearer.tiers[2].bound),
                    "spared_cost": float(dearer.totals.cost), "spared_right": prove(dearer).ok}
        rows.append(row)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--weeks", type=int, default=12)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--limit", type=float, default=60)
    parser.add_argument("--spare")
    parser.add_argument("--out")
    given = parser.parse_args()
    rows: list[Row] = []
    for seed in range(given.first_seed, given.first_seed + given.weeks):
        rows += run_week(seed, given.limit, read_share(given.spare)[0] if given.spare else None)
        print(pd.DataFrame(rows[-9:]).to_string(index=False), flush=True)
    found = pd.DataFrame(rows)
    if given.out:
        found.to_csv(given.out, index=False)
    print(f"{len(found)} profiles; closed {(found.bound >= found.setups).sum()}, right {found.right.sum()}, "
          f"faults {found.faults.sum()}")
    print(found.drop(columns=["seed", "profile", "right", "faults", "seconds"]).sum().to_string())


if __name__ == "__main__":
    main()
