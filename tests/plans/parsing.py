"""A plan's text read as a command reads its file, without the audit."""

from __future__ import annotations

from cutplan.plans.place import findings
from cutplan.plans.plan import Plan
from cutplan.plans.reading import read_json


def from_json(text: str, file: str) -> Plan:
    """InputProblems names everything wrong by its path in `file`."""
    found = findings(file)
    plan = read_json(text, found)
    found.raise_any()
    return plan
