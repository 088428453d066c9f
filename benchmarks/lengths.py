"""Which lengths to carry for a quarter: how long the answer takes, its gap, and what it saves over an easier choice.

    python -m benchmarks.lengths [--weeks 13] [--choose 3] [--limit 60] [--profile NAME ...] [--together]

Weeks of the demo's kind, candidates 8 ft to 24 ft by 6 in at one price a foot. The easier choice takes the lengths that
waste least each for itself; it is cut by the same planner.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from fractions import Fraction
from typing import Annotated

import typer

from benchmarks.shopweeks import demo_week
from cutplan.buying.candidates import question
from cutplan.buying.offers import Market, market
from cutplan.buying.question import LengthsAnswer, Question
from cutplan.buying.stock_lengths import choose
from cutplan.orders import Piece
from cutplan.running.budget import Budget
from cutplan.sheets.words import aligned
from cutplan.shop import Profile

PER_LENGTH = Fraction(258, 1200)  # money for an inch
CANDIDATES = tuple(Fraction(6 * k) for k in range(16, 49))
PROFILES = ["lantern-cap", "box-rail", "square-picket"]


def main(
    weeks: Annotated[int, typer.Option(help="How many weeks.")] = 13,
    choose_: Annotated[int, typer.Option("--choose", help="How many lengths.")] = 3,
    limit: Annotated[float, typer.Option(help="Seconds for each answer.")] = 60.0,
    profile: Annotated[list[str] | None, typer.Option(help="Profiles.")] = None,
    together: Annotated[bool, typer.Option("--together", help="All weeks as one.")] = False,
) -> None:
    rows: list[list[object]] = []
    for name in profile or PROFILES:
        shop = demo_week(1)[0]
        cut = by_the_foot(shop.profiles[name])
        work = [demo_week(seed)[1] for seed in range(1, weeks + 1)]
        rows += measured(cut, work, choose_, limit, together)
        print(f"{name} done", file=sys.stderr, flush=True)
    headings = ("profile", "lengths", "chosen, ft", "cost", "waste %", "gap %", "planned", "least single waste, ft",
                "cost", "dearer %", "seconds")
    cells = [[f"{cell:.2f}" if isinstance(cell, float) else cell for cell in row] for row in rows]
    print(aligned(headings, cells, "lrlrrrrlrrr"))


def by_the_foot(profile: Profile) -> Profile:
    stock = tuple(replace(entry, price=entry.length * PER_LENGTH, qty=None) for entry in profile.stock)
    return replace(profile, stock=stock, price_per_length=PER_LENGTH, carrying=Fraction(0))


def measured(profile: Profile, work: list[tuple[Piece, ...]], most: int, limit: float,
             together: bool) -> list[list[object]]:
    began = time.perf_counter()
    answer = choose(asked(market(profile, CANDIDATES), work, together), most, Budget(limit))
    seconds = time.perf_counter() - began
    rows: list[list[object]] = []
    for best in answer.best:
        lengths = easier(answer, len(best.choice.offers))
        other = choose(asked(market(profile, lengths), work, together), len(lengths), Budget(limit / 2)).best[-1].choice
        dearer = 100 * (other.cost - best.choice.cost) / best.choice.cost
        rows.append([profile.name, len(lengths), feet([offer.length for offer in best.choice.offers]),
                     float(best.choice.cost), float(best.choice.waste_percent), float(best.gap_percent), best.looked,
                     feet(lengths), float(other.cost), float(dearer), seconds])
    return rows


def asked(offered: Market, work: list[tuple[Piece, ...]], together: bool) -> Question:
    found = question(offered, work, together)
    assert found is not None, "every demo week has pieces of every profile"
    return found


def easier(answer: LengthsAnswer, many: int) -> list[Fraction]:
    """The lengths of least waste each for itself."""
    planned = [single for single in answer.singles if single.choice]
    planned.sort(key=lambda single: single.choice.waste_percent if single.choice else 0)
    return sorted(single.offer.length for single in planned[:many])


def feet(lengths: list[Fraction]) -> str:
    return " ".join(f"{float(length / 12):g}" for length in lengths)


if __name__ == "__main__":
    typer.run(main)
