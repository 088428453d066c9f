"""Instances from text files, as a profile without kerf or trim and its demand.

Of one stick length: the number of sizes, the stick, then a "size demand" line for each. Of several: the number of
lengths, a "length available cost" line for each, the number of sizes, then a "size demand" line for each.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import time
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import pandas as pd

from benchmarks.seeded import certified
from cutplan.cutting.tiers import cheapest_plan, finish
from cutplan.plans.records import Demand, ProfilePlan
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock


def read(path: Path) -> tuple[Profile, list[Demand]]:
    """An instance; the one stick of a file with one length is endless and costs 1."""
    rows = [[int(word) for word in line.split()] for line in path.read_text().splitlines() if line.strip()]
    if len(rows[1]) == 1:
        stock, sizes = [Stock(Fraction(rows[1][0]), Fraction(1))], rows[2:]
    else:
        lengths = rows[0][0]
        stock = [Stock(Fraction(length), Fraction(cost), there) for length, there, cost in rows[1 : 1 + lengths]]
        sizes = rows[2 + lengths :]
    profile = Profile(path.stem, "other", tuple(stock), kerf=Fraction(0))
    return profile, [Demand(str(size), Fraction(size), count, "") for size, count in sizes]


def run(path: Path, limit: float) -> dict[str, object]:
    """One instance: bounds, proven or not, whether the certificate alone proves it, seconds to plan it.

    "no plan": it is proven that the sticks there are do not suffice.
    """
    profile, demand = read(path)
    row: dict[str, object] = {"class": path.parent.name, "instance": path.stem}
    began = time.perf_counter()
    try:
        job = cheapest_plan(profile, demand, Budget(limit))
    except NoPlan as nothing:
        said = "no plan" if "stock runs out" in str(nothing) else ""  # else none was found
        return row | {"proven": False, "certified": False, "closed by": said,
                      "seconds": round(time.perf_counter() - began, 3)}
    seconds = time.perf_counter() - began
    plan = finish(job, Budget(0.0))
    cost = plan.tiers[0]
    return row | {
        "lower": int(cost.bound),
        "upper": int(cost.value),
        "proven": cost.closed,
        "certified": certified(plan),
        "closed by": step(plan) if cost.closed else "",
        "seconds": round(seconds, 3),
    }


def step(plan: ProfilePlan) -> str:
    """What closed a plan: the bound at the root, boxes of numbers of sticks, or a search inside of them."""
    if plan.tiers[0].by_search:
        return "search"
    return "boxes" if "stick" in plan.certificate["tree"] else "root"


def by_class(results: pd.DataFrame, **counts: pd.Series) -> str:
    """A line for each class, and one for all, with what else is counted."""
    lines = []
    for name, group in [*results.groupby("class", sort=False), ("all", results)]:
        closed = group["closed by"].value_counts()
        lines.append({
            "class": name,
            "instances": len(group),
            "proven": int(group.proven.sum()),
            **{said: int(count[group.index].sum()) for said, count in counts.items()},
            "certified": int(group.certified.sum()),
            **{f"by {one}": int(closed.get(one, 0)) for one in ("root", "boxes", "search")},
            "no plan": int(closed.get("no plan", 0)),
            "median": round(statistics.median(group.seconds), 3),
            "mean": round(group.seconds.mean(), 3),
            "worst": round(group.seconds.max(), 2),
        })
    return pd.DataFrame(lines).to_string(index=False)


def run_all(paths: Sequence[Path], limit: float) -> pd.DataFrame:
    """A row for each instance; each is told on standard error when it is done."""
    rows = []
    for path in paths:
        rows.append(run(path, limit))
        print(*rows[-1].values(), file=sys.stderr, flush=True)
    return pd.DataFrame(rows)


def parser_of(described: str) -> argparse.ArgumentParser:
    """The options of a run over instances in a folder a class, of a command that is `described`."""
    parser = argparse.ArgumentParser(description=described, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds an instance")
    parser.add_argument("--class", dest="name")
    parser.add_argument("--sample", type=int)
    parser.add_argument("--out", type=Path, required=True)
    return parser


def sampled(paths: Sequence[Path], number: int | None) -> list[Path]:
    """So many of them drawn at random, always the same ones, in their order; None: all."""
    if number is None or number >= len(paths):
        return list(paths)
    return [paths[k] for k in sorted(random.Random(0).sample(range(len(paths)), number))]
