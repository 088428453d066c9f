"""How large the proof files of `check --vipr` are, and what they take.

    python -m benchmarks.proofs [--limit 20] [--weeks 0 5 11] [FILE...]

Cuts the demo week, random shop weeks of these seeds, and instances (as in benchmarks/checking.py), writes the proof of
every profile that can be written so, and reads it with the tests' own reader of the format. Processor seconds.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from benchmarks.checking import Work, told
from cutplan.checking.vipr.flow import TooLarge
from cutplan.checking.vipr.proof import why_not, write_proof
from cutplan.cutting import cut_pieces
from cutplan.running.budget import Budget
from tests.checking.test_vipr import Reader


def proofs(name: str, work: Work, limit: float) -> Iterator[dict[str, object]]:
    """A row for each profile of a plan whose proof can be written down."""
    shop, pieces = work
    for profile in cut_pieces(pieces, shop, Budget(limit)).profiles:
        if why_not(profile):
            continue
        row: dict[str, object] = {
            "plan": name, "profile": profile.profile, "sizes": len(profile.demand),
            "cost": float(profile.tiers[0].value), "bound": float(profile.tiers[0].bound)}
        began = time.process_time()
        try:
            file = write_proof(profile)
        except TooLarge:
            yield {**row, "proven": "too large"}
            continue
        written = time.process_time()
        Reader(file.text)
        yield {**row, "proven": float(file.bound), "arcs": file.arcs, "steps": file.rows, "kB": len(file.text) // 1000,
               "written s": round(written - began, 2), "read s": round(time.process_time() - written, 2)}


def main() -> None:
    told(__doc__ or "", 20.0, proofs)


if __name__ == "__main__":
    main()
