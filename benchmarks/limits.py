"""Whether `cut` keeps its time limit at any size, and how soon a command answers the stop key.

    python -m benchmarks.limits [--limit 4] [--lines 500 2000 20000] [--stops 20]

Weeks of gates and bays, and lists of pieces, of so many lines are cut with the demo shop, each by the command in a
process of its own that writes a plan and a cut list; the limit counts from when the files are read, so what reading
them takes is measured alone and taken off. Then commands are begun and stopped at random times.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

SHOP = Path(__file__).parent.parent / "data" / "demo" / "shop.toml"
READ = "import sys; from cutplan.orders import load_inputs; load_inputs(*sys.argv[1:])"
WEEKS = (30, 300)  # lines of the weeks that are stopped


def week(lines: int, file: Path) -> Path:
    """Gates and bays of both systems."""
    chance = random.Random(lines)
    rows = ["mark,kind,system,qty,opening,height"]
    for k in range(lines):
        kind = chance.choice(["gate", "bay"])
        opening = chance.randint(34 * 16, 52 * 16) if kind == "gate" else chance.randint(40 * 16, 96 * 16)
        system = chance.choice(["lantern", "breakwater"])
        rows.append(f"L{k},{kind},{system},{chance.randint(1, 3)},{opening}/16,{chance.choice([36, 42, 48])}")
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return file


def pieces(lines: int, file: Path) -> Path:
    """Pieces of four profiles, of any length on the tape."""
    chance = random.Random(lines)
    rows = ["mark,profile,length,qty"]
    for k in range(lines):
        profile = chance.choice(["lantern-cap", "box-rail", "square-picket", "box-upright"])
        rows.append(f"P{k},{profile},{chance.randint(20 * 16, 95 * 16)}/16,{chance.randint(1, 4)}")
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return file


def kept(file: Path, limit: float, folder: Path) -> dict[str, object]:
    """One file read alone, then cut."""
    began = time.monotonic()
    subprocess.run([sys.executable, "-c", READ, str(SHOP), str(file)], check=True)
    read = time.monotonic() - began
    began = time.monotonic()
    command("cut", str(file), "--limit", str(limit), "--json", str(folder / "plan.json"),
            "--csv", str(folder / "cuts.csv"), folder=folder).wait()
    after = time.monotonic() - began - read
    return {"file": file.stem, "limit": limit, "reading": round(read, 1), "then": round(after, 1),
            "allowed": round(1.1 * limit + 2, 1), "kept": after <= 1.1 * limit + 2}


def command(name: str, *arguments: str, folder: Path) -> subprocess.Popen[bytes]:
    with (folder / "out.txt").open("wb") as out:
        return subprocess.Popen([sys.executable, "-m", "cutplan", name, *arguments, "--shop", str(SHOP)],
                                stdout=out, stderr=subprocess.DEVNULL)


def stopped(after: float, folder: Path, name: str, *arguments: str) -> tuple[float, int] | None:
    """Seconds from the stop key to the end, and the exit status; None where it had ended before."""
    process = command(name, *arguments, folder=folder)
    time.sleep(after)
    if process.poll() is not None:
        return None
    began = time.monotonic()
    process.send_signal(signal.SIGINT)
    status = process.wait()
    return time.monotonic() - began, status


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--limit", type=float, default=4)
    parser.add_argument("--lines", type=int, nargs="*", default=[500, 2_000, 20_000])
    parser.add_argument("--stops", type=int, default=20)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = [make(n, folder / f"{make.__name__}-{n}.csv") for n in options.lines for make in (pieces, week)
                 if make is pieces or n < 20_000]
        if files:
            print(pd.DataFrame(kept(file, options.limit, folder) for file in files).to_string(index=False))
        print(stops(options.stops, folder))


def stops(many: int, folder: Path) -> str:
    """Commands stopped at random times, a line for each command."""
    chance = random.Random(1)
    small, large = (week(n, folder / f"stop-{n}.csv") for n in WEEKS)
    asked: list[Sequence[str]] = [
        ("cut", str(small), "--limit", "120"), ("cut", str(large), "--limit", "120"),
        ("buy", str(small)), ("lengths", str(small), "--range", "8 ft:24 ft:1 ft"),
    ]
    rows = []
    for one in asked if many else ():
        found = [stopped(chance.uniform(1, 12), folder, *one) for _ in range(many)]
        answers = [answer for answer in found if answer is not None]
        if answers:
            seconds = pd.Series([took for took, _ in answers])
            rows.append({"command": " ".join(Path(word).name for word in one), "stopped": len(answers),
                         "median": round(seconds.median(), 2), "worst": round(seconds.max(), 2),
                         "statuses": sorted({status for _, status in answers})})
    return pd.DataFrame(rows).to_string(index=False)


if __name__ == "__main__":
    main()
