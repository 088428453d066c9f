"""What a search that decides comes back with."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.cutting.heuristics.first_fit import Plan


@dataclass(frozen=True)
class Verdict:
    """A plan as good as was asked for, or None; then `proven` says whether there is none."""

    plan: Plan | None
    proven: bool
