"""What a search that decides comes back with."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.cutting.patterns import Solution


@dataclass(frozen=True)
class Verdict:
    """A plan as good as was asked for, or None; then `proven` says whether there is none."""

    plan: Solution | None
    proven: bool
