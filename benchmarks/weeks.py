"""Random shop weeks: cutplan beside first-fit decreasing and, with --models, a textbook model in two solvers.

    python -m benchmarks.weeks [--kind shop|demo] [--weeks 100] [--first-seed 0] [--limit 60]
                               [--models] [--model-limit 60] [--scale K | --scale-pair] [--out FILE.csv]
"""

from __future__ import annotations

import argparse
import sys
import time
from fractions import Fraction
from pathlib import Path

import pandas as pd

from benchmarks import assignment, firstfit, shopweeks
from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.plans.plan import Plan
from cutplan.running.budget import Budget

WEEKS = {"shop": shopweeks.shop_week, "demo": shopweeks.demo_week}
PAIR = (1, 10)

Row = dict[str, object]
Costs = dict[str, Fraction]  # by profile


def run_week(kind: str, seed: int, scale: int, limit: float, model_limit: float | None) -> Row:
    """One week by every method; `model_limit` None leaves the models out."""
    shop, pieces = WEEKS[kind](seed, scale)
    began = time.perf_counter()
    plan = cut_pieces(pieces, shop, Budget(limit))
    seconds = time.perf_counter() - began
    row: Row = {"kind": kind, "seed": seed, "scale": scale, "pieces": sum(piece.qty for piece in pieces)}
    row |= of_plan(plan, seconds)
    asked = firstfit.tasks(shop, pieces)
    began = time.perf_counter()
    plain = {task.profile: firstfit.cost(firstfit.first_fit_decreasing(task)) * task.coin for task in asked}
    row["first_fit_seconds"] = round(time.perf_counter() - began, 4)
    row["first_fit_cost"] = float(sum(plain.values()))
    wrong = contradictions(plan, "first_fit", plain, {})
    for name, solve in assignment.MODELS.items() if model_limit is not None else ():
        began = time.perf_counter()
        answers = assignment.solve_all(solve, asked, model_limit or 0.0)
        row[f"{name}_seconds"] = round(time.perf_counter() - began, 2)
        costs = {task.profile: cost_of(task, answers[task.profile], plain) for task in asked}
        bounds = {task.profile: answers[task.profile].bound * task.coin for task in asked}
        row |= {
            f"{name}_cost": float(sum(costs.values())),
            f"{name}_bound": float(sum(bounds.values())),
            f"{name}_proven": all(answer.proven for answer in answers.values()),
            f"{name}_no_plan": sum(answer.sticks is None for answer in answers.values()),
        }
        wrong += contradictions(plan, name, costs, bounds)
    return row | {"wrong": "; ".join(wrong)}


def of_plan(plan: Plan, seconds: float) -> Row:
    """Cutplan's own columns: cost, bound, each tier proven in every profile or not, audit and proof right."""
    cost, used, patterns = zip(*(profile.tiers for profile in plan.profiles), strict=True)
    proofs = [prove(profile) for profile in plan.profiles]
    return {
        "cost": float(sum(tier.value for tier in cost)),
        "bound": float(sum(tier.bound for tier in cost)),
        "proven": all(tier.status == "proven" for tier in cost),
        "used_proven": all(tier.status == "proven" for tier in used),
        "profiles": len(used),
        "profiles_used_proven": sum(tier.closed for tier in used),  # by search, too
        "patterns_proven": all(tier.status == "proven" for tier in patterns),
        "right": not audit(plan) and all(proof.ok for proof in proofs),
        "by_search": sum("by search" in proof.line for proof in proofs),
        "seconds": round(seconds, 2),
    }


def cost_of(task: firstfit.Task, answer: assignment.Answer, plain: Costs) -> Fraction:
    """What the model's plan of a profile costs; where it found none, first-fit's plan stands in."""
    return plain[task.profile] if answer.sticks is None else firstfit.cost(answer.sticks) * task.coin


def contradictions(plan: Plan, method: str, costs: Costs, bounds: Costs) -> list[str]:
    """Where a method's plan costs less than cutplan's bound, or its bound is above cutplan's cost."""
    found = []
    for profile in plan.profiles:
        name, tier = profile.profile, profile.tiers[0]
        cost, bound = costs[name], bounds.get(name, Fraction(0))
        if cost < tier.bound:
            found.append(f"{method} cuts {name} for {float(cost)}, below the bound {float(tier.bound)}")
        if bound > tier.value:
            found.append(f"{method} bounds {name} by {float(bound)}, above the cost {float(tier.value)}")
    return found


def summary(results: pd.DataFrame) -> str:
    """A line for each method and scale; gaps are to cutplan's bound, in percent."""
    prefixes = {"cutplan": "", **{name: f"{name}_" for name in ("first_fit", *assignment.MODELS)}}
    lines = []
    for scale, weeks in results.groupby("scale"):
        for name, prefix in prefixes.items():
            if f"{prefix}cost" not in weeks:
                continue
            over = 100 * (weeks[f"{prefix}cost"] / weeks.bound - 1)
            seconds = weeks[f"{prefix}seconds"]
            lines.append({
                "scale": scale,
                "method": name,
                "weeks": len(weeks),
                "cost proven": weeks[f"{prefix}proven"].sum() if f"{prefix}proven" in weeks else "",
                "cost over bound, mean %": f"{over.mean():.3f}",
                "widest %": f"{over.max():.3f}",
                "median s": f"{seconds.median():.2f}",
                "worst s": f"{seconds.max():.2f}",
            })
    return pd.DataFrame(lines).to_string(index=False)


def remarks(results: pd.DataFrame) -> list[str]:
    """What the table has no column for."""
    said = []
    for scale, weeks in results.groupby("scale"):
        said.append(
            f"scale {scale}: {weeks.pieces.min()} to {weeks.pieces.max()} pieces; cutplan: length used up "
            f"proven {weeks.used_proven.sum()} "
            f"({weeks.profiles_used_proven.sum()} of {weeks.profiles.sum()} profiles, by search too), "
            f"set-ups proven {weeks.patterns_proven.sum()}, "
            f"audit and proof right {weeks.right.sum()} of {len(weeks)}, "
            f"profiles proven by search {weeks.by_search.sum()}"
        )
        said += [
            f"scale {scale}: {name} found no plan for {none} profiles; first-fit's stands in"
            for name in assignment.MODELS if f"{name}_no_plan" in weeks
            if (none := weeks[f"{name}_no_plan"].sum())
        ]
    bad = results[results.wrong != ""]
    said.append(f"wrong: {len(bad)}")
    said += [f"  seed {week.seed}, scale {week.scale}: {week.wrong}" for week in bad.itertuples()]
    return said


def ratios(results: pd.DataFrame) -> list[str]:
    """How much longer the larger quantities of the same pieces take: the ratio of the medians."""
    medians = results.groupby("scale").median(numeric_only=True)
    least, most = PAIR
    return [
        f"{column}: median {large:.3g} at {most}x, {small:.3g} at {least}x, ratio {large / small:.2f}"
        for column in results if column.endswith("seconds")
        for small, large in [(medians.loc[least, column], medians.loc[most, column])]
    ]


def arguments() -> argparse.Namespace:
    as_written = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=as_written)
    parser.add_argument("--kind", choices=WEEKS, default="shop", help="shop: 2,000 pieces or more")
    parser.add_argument("--weeks", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--limit", type=float, default=60.0, help="cutplan's seconds a week")
    parser.add_argument("--models", action="store_true", help="the textbook model too")
    parser.add_argument("--model-limit", type=float, default=60.0, help="seconds a week for each of them")
    scale = parser.add_mutually_exclusive_group()
    scale.add_argument("--scale", type=int, default=1, help="every quantity so many times")
    scale.add_argument("--scale-pair", action="store_true", help="each week at 1x and at 10x")
    parser.add_argument("--out", type=Path, help="a line for each week and scale, as CSV")
    return parser.parse_args()


def main() -> None:
    asked = arguments()
    model_limit = asked.model_limit if asked.models else None
    rows = []
    for seed in range(asked.first_seed, asked.first_seed + asked.weeks):
        for scale in PAIR if asked.scale_pair else (asked.scale,):
            rows.append(run_week(asked.kind, seed, scale, asked.limit, model_limit))
            print(rows[-1], file=sys.stderr, flush=True)
            if asked.out:  # after each week, so that a run that is broken off is not lost
                pd.DataFrame(rows).to_csv(asked.out, index=False)
    results = pd.DataFrame(rows)
    print(summary(results))
    print(*remarks(results), *(ratios(results) if asked.scale_pair else ()), sep="\n")


if __name__ == "__main__":
    main()
