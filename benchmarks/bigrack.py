"""A rack of very many offcuts: what its commands take, each as a whole process.

    python -m benchmarks.bigrack [--offcuts 20000] [--one PROFILE] [--runs 3]

Random offcuts of 24 to 200 in, in sixteenths, over the demo shop's profiles (or all of one), and the demo week.
"""

from __future__ import annotations

import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from cutplan.rack import shelf
from cutplan.rack.store import changing
from cutplan.shop import load_shop

DATA = Path(__file__).parent.parent / "data" / "demo"


def main(
    offcuts: Annotated[int, typer.Option(help="How many offcuts.")] = 20_000,
    one: Annotated[str, typer.Option(help="All of this profile.")] = "",
    runs: Annotated[int, typer.Option(help="How often each command is run.")] = 3,
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        rack, plan = f"{folder}/rack.db", f"{folder}/plan.json"
        fill(rack, offcuts, one)
        shown = one or "box-rail"
        cut = ["cut", str(DATA / "week.csv"), "--shop", str(DATA / "shop.toml"), "--rack", rack, "--json", plan]
        timed("rack show " + shown, ["rack", "show", shown, "--rack", rack], runs)
        timed("rack show " + shown + " --json -", ["rack", "show", shown, "--rack", rack, "--json", "-"], runs)
        timed("rack show", ["rack", "show", "--rack", rack], runs)
        timed("rack report", ["rack", "report", "--rack", rack, "--shop", str(DATA / "shop.toml")], runs)
        timed("cut", cut, runs)
        for profile in json.loads(Path(plan).read_text(encoding="utf-8"))["profiles"]:
            tiers = [f"{tier['name']} {tier['value']} / {tier['bound']}" for tier in profile["tiers"][:2]]
            print(f"    {profile['profile']}: {', '.join(tiers)}")
        timed("check", ["check", plan], 1)
        timed("book", ["book", plan, "--rack", rack], 1)


def fill(rack: str, offcuts: int, one: str) -> None:
    chance = random.Random(0)
    names = [one] if one else [name for name, profile in load_shop(DATA / "shop.toml").profiles.items()
                               if not profile.one_per_stick]
    with changing(rack, "in") as now:
        for _ in range(offcuts):
            shelf.add(now, chance.choice(names), Fraction(chance.randint(24 * 16, 200 * 16), 16))


def timed(what: str, words: list[str], runs: int) -> None:
    seconds = []
    for _ in range(runs):
        began = time.perf_counter()
        done = subprocess.run([sys.executable, "-m", "cutplan", *words], capture_output=True, text=True, check=False)
        seconds.append(time.perf_counter() - began)
        assert done.returncode == 0, done.stderr
    print(f"{what}: median {statistics.median(seconds):.2f} s of {runs}", flush=True)


if __name__ == "__main__":
    typer.run(main)
