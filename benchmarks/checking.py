"""How long `check` takes beside the `cut` that made the plan, in processor time.

    python -m benchmarks.checking [--limit 60] [--weeks 0 5 11] [FILE...]

Cuts the demo week, random shop weeks of these seeds, and instances (see benchmarks/instances.py). Every plan is then
checked by the command itself, in a process of its own.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import pandas as pd

from benchmarks import instances, shopweeks
from cutplan.cutting import cut_pieces
from cutplan.orders import Order, Piece, load_inputs
from cutplan.plans.plan import Plan, to_json
from cutplan.running.budget import Budget
from cutplan.shop import Shop
from cutplan.takeoff import take_off

DEMO = Path(__file__).parent.parent / "data" / "demo"
Work = tuple[Shop, Sequence[Piece]]


def read(path: Path) -> Work:
    """An instance as a shop of one profile, and its pieces."""
    profile, demand = instances.read(path)
    shop = Shop("", "mm", "", Fraction(0), None, 1, Fraction(1), {profile.name: profile}, {})
    return shop, [Piece(entry.mark, profile.name, entry.length, entry.qty) for entry in demand]


def demo() -> Work:
    shop, orders = load_inputs(str(DEMO / "shop.toml"), str(DEMO / "week.csv"))
    return shop, take_off([order for order in orders if isinstance(order, Order)], shop).pieces


def spent() -> float:
    """Processor seconds of this process and of those it has waited for."""
    usages = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def run(name: str, work: Work, limit: float) -> dict[str, object]:
    """One plan: how large its certificate is, what it took to find it and to check it."""
    shop, pieces = work
    began, before = time.perf_counter(), spent()
    plan = cut_pieces(pieces, shop, Budget(limit))
    cut, cut_spent = time.perf_counter() - began, spent() - before
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "plan.json"
        file.write_text(to_json(plan), encoding="utf-8")
        size, before = file.stat().st_size, spent()
        done = subprocess.run([sys.executable, "-m", "cutplan", "check", str(file)], capture_output=True, check=False)
    return {
        "plan": name,
        "pieces": sum(piece.qty for piece in pieces),
        "sizes": len({(piece.profile, piece.length) for piece in pieces}),
        "kB": size // 1000,
        **certificate(plan),
        "cut s": round(cut, 1),
        "cut, processor s": round(cut_spent, 1),
        "check, processor s": round(spent() - before, 2),
        "right": done.returncode == 0,
    }


def certificate(plan: Plan) -> dict[str, int]:
    """The leaves of all its trees, and how many of their duals are different."""
    found = [list(leaves(profile.certificate["tree"])) for profile in plan.profiles]
    return {
        "leaves": sum(map(len, found)),
        "duals": sum(len({str(leaf["duals"]) for leaf in tree}) for tree in found),
    }


def leaves(node: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if "stick" in node:
        yield from leaves(node["below"])
        yield from leaves(node["above"])
    else:
        yield node


def told(described: str, limit: float, rows_of: Callable[[str, Work, float], Iterable[dict[str, object]]]) -> None:
    """Runs a command that is `described`, with so many seconds a plan unless it is said: a table of their rows."""
    parser = argparse.ArgumentParser(description=described, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE")
    parser.add_argument("--weeks", nargs="*", type=int, default=[0, 5, 11], metavar="SEED")
    parser.add_argument("--limit", type=float, default=limit, help="seconds a plan")
    asked = parser.parse_args()
    if missing := [str(path) for path in asked.files if not path.is_file()]:
        parser.error(f"no such file: {', '.join(missing)}")
    work = [("demo week", demo()), *((f"shop week {seed}", shopweeks.shop_week(seed)) for seed in asked.weeks),
            *((path.stem, read(path)) for path in asked.files)]
    rows = []
    for name, given in work:
        for row in rows_of(name, given, asked.limit):
            rows.append(row)
            print(*row.values(), file=sys.stderr, flush=True)
    print(pd.DataFrame(rows).to_string(index=False))


def main() -> None:
    told(__doc__ or "", 60.0, lambda name, work, limit: [run(name, work, limit)])


if __name__ == "__main__":
    main()
