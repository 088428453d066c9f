"""A hundred random weeks of the demo shop's kind: how many end with every profile's cost proven, and how long it takes.

    python -m benchmarks.weeks [--weeks 100] [--limit 60] [--first-seed 0] [--out FILE.csv]
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

from cutplan.cutting import cut_pieces
from cutplan.cutting.audit import audit
from cutplan.cutting.proof import prove
from cutplan.orders import Order, Piece
from cutplan.shop import Shop, load_shop
from cutplan.takeoff import take_off

SHOP = Path(__file__).parent.parent / "data" / "demo" / "shop.toml"


def random_week(shop: Shop, seed: int) -> tuple[Piece, ...]:
    """25 to 40 lines over the shop's systems: gates 34 to 52 in wide, bays 40 to 96 in, 36, 42 or 48 in high."""
    chance = random.Random(seed)
    orders = []
    for line in range(chance.randint(25, 40)):
        kind = chance.choice(["gate", "bay", "bay"])
        least, most = (34, 52) if kind == "gate" else (40, 96)
        opening = Fraction(chance.randint(least * 16, most * 16), 16)
        height = Fraction(chance.choice([36, 42, 48]))
        system = chance.choice(sorted(shop.systems))
        orders.append(Order(f"{kind[0].upper()}{line}", kind, system, chance.randint(1, 4), opening, height))
    return take_off(tuple(orders), shop).pieces


def first_fit_decreasing(shop: Shop, pieces: tuple[Piece, ...]) -> Fraction:
    """Cost of the plainest method: each profile from the one endless length that comes out cheapest."""
    total = Fraction(0)
    for name, profile in shop.profiles.items():
        lengths = sorted((p.length for p in pieces if p.profile == name for _ in range(p.qty)), reverse=True)
        costs = []
        for stock in profile.stock:
            usable = stock.length - profile.head_trim - profile.tail_trim
            if stock.qty is not None or (lengths and lengths[0] > usable):
                continue
            rooms: list[Fraction] = []
            for length in lengths:
                k = next((k for k, room in enumerate(rooms) if length <= room), None)
                if k is None or profile.one_per_stick:
                    rooms.append(usable - length - profile.kerf)
                else:
                    rooms[k] -= length + profile.kerf
            costs.append(len(rooms) * stock.price)
        total += min(costs)
    return total


def run_week(shop: Shop, seed: int, limit: float) -> dict[str, object]:
    """One week: cost, the bound, proven or not, checked or not, seconds."""
    pieces = random_week(shop, seed)
    began = time.perf_counter()
    plan = cut_pieces(pieces, shop, limit)
    seconds = time.perf_counter() - began
    first = [profile.tiers[0] for profile in plan.profiles]
    return {
        "seed": seed,
        "pieces": sum(piece.qty for piece in pieces),
        "cost": float(sum(tier.value for tier in first)),
        "bound": float(sum(tier.bound for tier in first)),
        "proven": all(tier.status == "proven" for tier in first),
        "used_proven": all(profile.tiers[1].status == "proven" for profile in plan.profiles),
        "patterns_proven": all(profile.tiers[2].status == "proven" for profile in plan.profiles),
        "right": not audit(plan) and all(prove(profile).ok for profile in plan.profiles),
        "by_search": sum("by search" in prove(profile).line for profile in plan.profiles),
        "first_fit": float(first_fit_decreasing(shop, pieces)),
        "seconds": round(seconds, 2),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--weeks", type=int, default=100)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds a week")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    shop = load_shop(SHOP)
    rows = []
    for seed in range(asked.first_seed, asked.first_seed + asked.weeks):
        rows.append(run_week(shop, seed, asked.limit))
        print(rows[-1], file=sys.stderr, flush=True)
    table = pd.DataFrame(rows)
    if asked.out:
        table.to_csv(asked.out, index=False)
    print(f"weeks {len(table)}, pieces {table.pieces.min()} to {table.pieces.max()}")
    print(f"cost proven {table.proven.sum()}, length used up proven {table.used_proven.sum()}, "
          f"set-ups proven {table.patterns_proven.sum()}, audit and proof right {table.right.sum()}")
    print(f"seconds: median {statistics.median(table.seconds):.2f}, worst {table.seconds.max():.2f}")
    print(f"widest gap {100 * (table.cost / table.bound - 1).max():.3f} %, "
          f"profiles proven by search {table.by_search.sum()}")
    print(f"first-fit decreasing costs {100 * (table.first_fit / table.cost - 1).mean():.2f} % more on average")


if __name__ == "__main__":
    main()
