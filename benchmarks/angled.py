"""Weeks of frames and stair rails: how many end proven, and what first fit would have cost instead.

    python -m benchmarks.angled [--weeks 60] [--first-seed 0] [--limit 60] [--out FILE.csv]

Each week has 500 pieces of 120 lengths from 16 ft and 20 ft sticks: 30 frames with mitred ends, and the rails of stairs
of three slopes, plumb at both ends. They may lie on the stick in any way. The other way is first fit: each piece, the
longest first, goes on the first 20 ft stick on which the best nesting of all that is there has room for it; sticks that
16 ft would do for are 16 ft. Cost is the length drawn; the limit is for that aim alone, on one core.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from fractions import Fraction

import pandas as pd

from benchmarks.seeded import known, of_rail, run_weeks
from cutplan.checking.arrangement.angles import AngledTwin
from cutplan.checking.arrangement.leaning import LeaningShape, Losses
from cutplan.checking.audit import audit
from cutplan.cutting.problem.demand import demand_of
from cutplan.cutting.tiers import cheapest_plan, finish
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock

F = Fraction
FACE, KERF, TRIM = F(2), F(1, 8), F(1, 2)
LENGTHS = (F(192), F(240))
FRAMES, FLIGHTS, PIECES = 30, 20, 500  # flights of each slope
STAIRS = (F(61, 80), F(7, 11), F(1, 2))  # 7 5/8 in 10, 7 in 11, 6 in 12
FRAME_SIDES, STAIR_RAILS = (18, 60), (30, 96)  # inches


def shop() -> Shop:
    rail = Profile("rail", "rail", tuple(Stock(length, length) for length in LENGTHS), KERF, head_trim=TRIM, face=FACE,
                   may_turn="both")
    return Shop("Angled weeks", "in", "", KERF, None, 1, F(1, 16), {"rail": rail}, {})


def week(seed: int) -> list[Piece]:
    """The pieces of one week, two of each and then two more at a time: 120 different lengths, in sixteenths."""
    chance = random.Random(seed)
    lengths = [F(n, 16) for n in chance.sample(range(16 * FRAME_SIDES[0], 16 * FRAME_SIDES[1]), 2 * FRAMES)]
    ends = [(FACE, FACE)] * len(lengths)
    free = sorted({F(n, 16) for n in range(16 * STAIR_RAILS[0], 16 * STAIR_RAILS[1])} - set(lengths))
    for slope in STAIRS:
        for length in chance.sample(free, FLIGHTS):
            free.remove(length)
            lengths.append(length)
            ends.append((-FACE * slope, FACE * slope))
    qty = [2] * len(lengths)
    while sum(qty) < PIECES:
        qty[chance.randrange(len(qty))] += 2
    return [Piece(f"P{k}", "rail", length, many, left_in=left, right_in=right)
            for k, (length, many, (left, right)) in enumerate(zip(lengths, qty, ends, strict=True))]


def first_fit(rail: ProfilePlan) -> Fraction:
    """The length that first fit draws, with the best nesting of each stick: by the checker's own rule of it."""
    assert rail.angles is not None
    twin = AngledTwin(rail, rail.angles)
    unit = twin.unit
    ends = sorted({(int(one.left_in * unit), int(one.right_in * unit)) for one in rail.demand})
    kerfs = {abs(end): int(twin.kerf(F(abs(end), unit)) * unit) for pair in ends for end in pair}
    losses = Losses([LeaningShape(k, twin.ways(*pair)) for k, pair in enumerate(ends)], kerfs)
    pieces = sorted(((one.middle, ends.index((int(one.left_in * unit), int(one.right_in * unit))))
                     for one in rail.demand for _ in range(one.qty)), reverse=True)
    sticks: list[tuple[Fraction, Counter[int]]] = []

    def taken(middles: Fraction, counts: Counter[int]) -> Fraction:
        return TRIM + middles + F(losses.of(tuple(counts[k] for k in range(len(ends)))), unit)

    for middle, shape in pieces:
        for k, (middles, counts) in enumerate(sticks):
            more = counts + Counter([shape])
            if middles + middle < max(LENGTHS) and taken(middles + middle, more) <= max(LENGTHS):
                sticks[k] = middles + middle, more
                break
        else:
            sticks.append((middle, Counter([shape])))
    return sum((min(length for length in LENGTHS if taken(*stick) <= length) for stick in sticks), F(0))


def run(seed: int, limit: float) -> dict[str, object]:
    profile = shop().profiles["rail"]
    began, work = time.perf_counter(), time.process_time()
    job = cheapest_plan(profile, demand_of(week(seed), profile), Budget(limit))
    seconds, work = time.perf_counter() - began, time.process_time() - work
    rail = finish(job, Budget(0.0))
    if wrong := audit(Plan("in", (rail,))):
        raise AssertionError(f"week {seed}: {wrong}")
    return {
        "seed": seed,
        **of_rail(rail, seconds),
        "work": round(work, 1),
        "first_fit": float(first_fit(rail)),
    }


def summary(weeks: pd.DataFrame) -> str:
    longest = float(max(LENGTHS))
    more = (weeks.first_fit - weeks.drawn) / longest
    return "\n".join([
        *known(weeks, longest),
        f"first fit, each stick nested as well as it can be: {more.mean():.2f} sticks of 20 ft more "
        f"({100 * (weeks.first_fit / weeks.drawn - 1).mean():.1f} %)",
    ])


if __name__ == "__main__":
    run_weeks(__doc__, run, summary, 60)
