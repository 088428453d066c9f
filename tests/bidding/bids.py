"""Bid files, and where the demo's lie."""

from __future__ import annotations

from pathlib import Path

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"


def written(folder: Path, *lines: str) -> Path:
    path = folder / "bid.csv"
    path.write_text("mark,kind,system,qty,opening,height,alike\n" + "".join(f"{line}\n" for line in lines))
    return path
