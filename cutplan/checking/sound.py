"""A plan file, read and gone through; and what it proves."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cutplan.checking.audit import audit
from cutplan.checking.proof import Proved
from cutplan.plans.place import findings
from cutplan.plans.places import in_words
from cutplan.plans.plan import Plan
from cutplan.plans.reading import read_json
from cutplan.problems import InputProblems, read_text

DAMAGED = "it is no plan, or was damaged since it was written: take a sound copy of it, or plan again"


def read_plan(file: str | Path) -> Plan:
    """A plan file that is sound and was not altered. InputProblems names everything else by its stick, mark or profile.
    """
    found, text = findings(str(file)), read_text(file, DAMAGED)
    try:
        plan = read_json(text, found)
        for finding in audit(plan):
            place, _, what = finding.partition(": ")
            found.add(1, place, what)
        found.raise_any()
    except InputProblems as wrong:
        raise InputProblems(in_words(wrong.problems, text), wrong.most) from None
    return plan


@dataclass(frozen=True)
class Checked:
    """A sound plan, and what came of each of its profiles."""

    plan: Plan
    proofs: tuple[Proved, ...]

    @property
    def ok(self) -> bool:
        """Whether every bound that the plan states is proven, or named as a search's word."""
        return all(proof.ok for proof in self.proofs)

    def summary(self) -> str:
        """What is proven of each profile, in words."""
        return "\n- ".join(line for proof in self.proofs for line in (proof.line, *proof.others))
