"""Classic one-length instances with known optima: how many end proven, how many with a certificate, and how fast.

    python -m benchmarks.classic --instances DIR --optima CSV --limit 60 [--class NAME] [--sample N] --out CSV

DIR holds a folder a class; each instance is a text file: the number of lengths, the stick's length, then one
"length demand" pair a line. The optima are a CSV with the columns class, instance, optimum.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from fractions import Fraction
from pathlib import Path

import pandas as pd

from cutplan.checking.proof import prove
from cutplan.cutting.tiers import cheapest_plan, finish
from cutplan.plans.records import Demand
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock


def read(path: Path) -> tuple[Profile, list[Demand]]:
    """An instance as a profile of one endless stick of price 1, without kerf or trim, and its demand."""
    rows = [[int(word) for word in line.split()] for line in path.read_text().splitlines() if line.strip()]
    stick = Stock(Fraction(rows[1][0]), Fraction(1))
    profile = Profile(path.stem, "other", (stick,), kerf=Fraction(0))
    return profile, [Demand(str(length), Fraction(length), count, "") for length, count in rows[2:]]


def run(path: Path, limit: float) -> dict[str, object]:
    """One instance: bounds, proven or not, whether the certificate alone proves it, seconds to plan it."""
    profile, demand = read(path)
    began = time.perf_counter()
    job = cheapest_plan(profile, demand, Budget(limit))
    seconds = time.perf_counter() - began
    plan = finish(job, Budget(0.0))
    proved = prove(plan)
    cost = plan.tiers[0]
    return {
        "class": path.parent.name,
        "instance": path.stem,
        "lower": int(cost.bound),
        "upper": int(cost.value),
        "proven": cost.status == "proven",
        "certified": cost.status == "proven" and proved.ok and "by search" not in proved.line,
        "seconds": round(seconds, 3),
    }


def chosen(root: Path, optima: pd.DataFrame, name: str | None, sample: int | None) -> pd.DataFrame:
    """The instances to run: those of one class, or of all; so many drawn at random, always the same ones."""
    if name:
        optima = optima[optima["class"] == name]
    there = [(root / row["class"] / f"{row['instance']}.txt").exists() for _, row in optima.iterrows()]
    optima = optima[there].reset_index(drop=True)
    if sample is not None and sample < len(optima):
        optima = optima.loc[sorted(random.Random(0).sample(range(len(optima)), sample))]
    return optima


def table(results: pd.DataFrame) -> str:
    """A line for each class, and one for all."""
    groups = [*results.groupby("class", sort=False), ("all", results)]
    lines = [{
        "class": name,
        "instances": len(group),
        "proven": int(group.proven.sum()),
        "right": int(((group.lower == group.optimum) & (group.upper == group.optimum)).sum()),
        "wrong": int(((group.lower > group.optimum) | (group.upper < group.optimum)).sum()),
        "certified": int(group.certified.sum()),
        "median": round(statistics.median(group.seconds), 3),
        "mean": round(group.seconds.mean(), 3),
        "worst": round(group.seconds.max(), 2),
    } for name, group in groups]
    return pd.DataFrame(lines).to_string(index=False)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--optima", type=Path, required=True)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds an instance")
    parser.add_argument("--class", dest="name")
    parser.add_argument("--sample", type=int)
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    if not asked.instances.is_dir() or not asked.optima.is_file():
        parser.error(f"{asked.instances} must be a folder and {asked.optima} a file that are there")
    known = chosen(asked.instances, pd.read_csv(asked.optima), asked.name, asked.sample)
    if known.empty:
        parser.error(f"no instance of {asked.optima} is in {asked.instances}")
    rows = []
    for _, row in known.iterrows():
        rows.append(run(asked.instances / row["class"] / f"{row['instance']}.txt", asked.limit))
        print(*rows[-1].values(), file=sys.stderr, flush=True)
    results = pd.DataFrame(rows)
    results.to_csv(asked.out, index=False)
    print(table(results.assign(optimum=known.optimum.to_numpy())))


if __name__ == "__main__":
    main()
