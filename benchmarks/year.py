"""A year of weeks, cut with a rack and without one: what the rack saves, and how large it gets.

    python -m benchmarks.year [--weeks 50] [--lines 25 40] [--limit 20] [--out CSV]

Each week's plan is made with what lies on the rack and booked on it, through the rack's own file, before the next week
comes. Every thirteenth week what the report lists for scrap is scrapped, and what has lain for a year. Beside it the
same week is cut as if every offcut were thrown away.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Annotated

import pandas as pd
import typer

from benchmarks.shopweeks import demo_week
from cutplan.cutting import cut_pieces
from cutplan.plans.plan import Plan
from cutplan.rack import booking, shelf
from cutplan.rack.claims import known
from cutplan.rack.report import prices, report
from cutplan.rack.store import changing
from cutplan.rack.supply import supply, tagged
from cutplan.running.budget import Budget
from cutplan.sheets.words import aligned
from cutplan.shop import Shop

QUARTER = 13  # weeks


def main(
    weeks: Annotated[int, typer.Option(help="How many weeks.")] = 50,
    lines: Annotated[tuple[int, int], typer.Option(help="The least and most lines of a week.")] = (25, 40),
    limit: Annotated[float, typer.Option(help="Seconds for each plan.")] = 20.0,
    out: Annotated[Path | None, typer.Option(help="Where to write a line for each week.")] = None,
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        rows = []
        for week in range(1, weeks + 1):
            rows.append(one_week(Path(folder) / "rack.db", week, lines, limit))
            print(f"week {week}: {rows[-1]}", file=sys.stderr, flush=True)
    table = pd.DataFrame(rows)
    if out:
        table.to_csv(out, index=False)
    print(summary(table))


def one_week(rack: Path, week: int, lines: tuple[int, int], limit: float) -> dict[str, object]:
    shop, pieces = demo_week(week, lines=lines)
    shop = endless(shop)
    began = time.perf_counter()
    day = (datetime(2026, 1, 5) + timedelta(weeks=week)).strftime("%Y-%m-%dT%H:%M:%SZ")
    with changing(rack, shop.unit) as now:
        found = supply(shop, now)
    plan = cut_pieces(pieces, found.shop, Budget(limit))
    seconds = time.perf_counter() - began
    with changing(rack, clock=lambda: day) as now:
        booked = booking.book(now, known(tagged(plan, now), f"week {week}"))
        if week % QUARTER == 0:
            listed = report(now, shop)
            shelf.scrap(now, sorted({one.tag for one in [*listed.old, *(one for one, _ in listed.useless)]}))
        lying = shelf.offcuts(now)
        per = prices(shop, now.unit)
    without = cut_pieces(pieces, shop, Budget(limit))
    return {
        "week": week,
        "pieces": sum(piece.qty for piece in pieces),
        "cost": float(cost(plan)),
        "without": float(cost(without)),
        "proven": all(profile.tiers[0].status == "proven" for profile in plan.profiles),
        "seconds": round(seconds, 2),
        "used": len(booked.used),
        "kept": len(booked.kept),
        "lying": len(lying),
        "lying_length": float(sum((one.length for one in lying), Fraction(0))),
        "lying_worth": float(sum((one.length * per[one.profile] for one in lying), Fraction(0))),
    }


def endless(shop: Shop) -> Shop:
    """The shop with as many sticks of every length as it likes: a year is too long for nine bars."""
    return replace(shop, profiles={
        name: replace(profile, stock=tuple(replace(entry, qty=None) for entry in profile.stock))
        for name, profile in shop.profiles.items()})


def cost(plan: Plan) -> Fraction:
    return sum((profile.totals.cost for profile in plan.profiles), Fraction(0))


def summary(table: pd.DataFrame) -> str:
    """A row for each quarter, and the year."""
    rows = [row(f"weeks {part['week'].iloc[0]} to {part['week'].iloc[-1]}", part)
            for _, part in table.groupby((table["week"] - 1) // QUARTER)]
    headings = ("", "cost", "without", "saved %", "used", "kept", "on the rack at the end", "most", "worth at the end",
                "proven", "median s")
    return aligned(headings, [*rows, row("total", table)])


def row(name: str, part: pd.DataFrame) -> Sequence[object]:
    spent, without = part["cost"].sum(), part["without"].sum()
    saved = 100 * (without - spent) / without
    return (name, f"{spent:.2f}", f"{without:.2f}", f"{saved:.2f}", part["used"].sum(), part["kept"].sum(),
            part["lying"].iloc[-1], part["lying"].max(), f"{part['lying_worth'].iloc[-1]:.2f}",
            f"{part['proven'].sum()} of {len(part)}", f"{part['seconds'].median():.2f}")


if __name__ == "__main__":
    typer.run(main)
