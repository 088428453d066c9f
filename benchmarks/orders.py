"""One order for three weeks of the demo's size: five profiles, two suppliers, bundles, breaks, least orders, freight.

    python -m benchmarks.orders [--orders 5] [--first-seed 0] [--limit 30] [--dated] [--out FILE.csv]
"""

from __future__ import annotations

import argparse
import random
import resource
import sys
import time
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pandas as pd

from benchmarks.shopweeks import demo_week
from cutplan.buying.dates import NO_DATES, Dates
from cutplan.buying.purchase import order
from cutplan.orders import Piece
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock, Supplier

PROFILES = ("lantern-cap", "lantern-base", "lantern-insert", "box-rail", "square-picket")
WEEKS = 3
TODAY = date(2026, 3, 2)
FIRST_DUE = TODAY + timedelta(days=7)


def order_question(seed: int) -> tuple[Shop, list[tuple[Piece, ...]]]:
    """The demo shop's five profiles with most lengths to cut, each length sold by two suppliers at terms of their own;
    and three weeks of 25 to 40 gates and bays."""
    chance = random.Random(seed)
    drawn = [demo_week(WEEKS * seed + k) for k in range(WEEKS)]
    shop = drawn[0][0]
    suppliers = {name: Supplier(name, Fraction(chance.choice([35, 60, 90])), Fraction(chance.choice([1500, 3000])),
                                Fraction(chance.choice([0, 150]))) for name in ("Anchor", "Beacon")}
    profiles = {name: sold_by_two(shop.profiles[name], chance) for name in PROFILES}
    weeks = [tuple(piece for piece in pieces if piece.profile in profiles) for _, pieces in drawn]
    return replace(shop, profiles=profiles, suppliers=suppliers), weeks


def sold_by_two(profile: Profile, chance: random.Random) -> Profile:
    """Prices within 5 % of the demo's, in whole cents; the second supplier needs ten days."""
    stock: list[Stock] = []
    for entry in profile.stock:
        for supplier, days in (("Anchor", 3), ("Beacon", 10)):
            price = Fraction(round(entry.price * chance.randint(950, 1050) / 10), 100)
            breaks = ((20, Fraction(round(price * 96), 100)),) if chance.random() < 0.5 else ()
            stock.append(Stock(entry.length, price, bundle=chance.choice([1, 1, 2, 5]),
                               min_order=chance.choice([1, 1, 4]), breaks=breaks, supplier=supplier, lead_days=days))
    return replace(profile, stock=tuple(stock))


def run(seed: int, limit: float, dated: bool) -> dict[str, object]:
    shop, weeks = order_question(seed)
    dates = Dates(TODAY, tuple(FIRST_DUE + timedelta(days=7 * k) for k in range(WEEKS))) if dated else NO_DATES
    began, before = time.perf_counter(), processor()
    placed = order(weeks, shop, {}, Budget(limit), dates)
    return {
        "seed": seed,
        "pieces": sum(piece.qty for week in weeks for piece in week),
        "money": float(placed.money),
        "bound": float(placed.bound),
        "gap_percent": round(float(100 * (placed.money - placed.bound) / placed.money), 3),
        "seconds": round(time.perf_counter() - began, 1),
        "processor_seconds": round(processor() - before, 1),
    }


def processor() -> float:
    """Seconds of processor that this process and those it has ended took."""
    return sum(one.ru_utime + one.ru_stime for one in map(resource.getrusage, (
        resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--orders", type=int, default=5)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--limit", type=float, default=30.0, help="seconds an order")
    parser.add_argument("--dated", action="store_true", help="each week has its day, which one supplier is late for")
    parser.add_argument("--out", help="a CSV of the orders")
    options = parser.parse_args()
    rows = []
    for seed in range(options.first_seed, options.first_seed + options.orders):
        rows.append(run(seed, options.limit, options.dated))
        print(*rows[-1].values(), file=sys.stderr, flush=True)
    found = pd.DataFrame(rows)
    if options.out:
        found.to_csv(options.out, index=False)
    print(f"{len(found)} orders of three weeks: gap median {found.gap_percent.median():g} %, widest "
          f"{found.gap_percent.max():g} %; worst {found.seconds.max():g} s")


if __name__ == "__main__":
    main()
