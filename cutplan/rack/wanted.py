"""Plan files that a rack still goes by, and that must not be lost under another file."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from cutplan.database import is_there
from cutplan.plans.numbers import sticks
from cutplan.plans.plan import FORMAT
from cutplan.problems import InputProblems, Problem
from cutplan.rack.claims import done
from cutplan.rack.register import name_of, successor
from cutplan.rack.store import Rack, reading


def lost(target: str, racks: Sequence[str]) -> Iterator[Problem]:
    """Why a file may not be written over: it is a plan that one of these racks goes by."""
    plan = fingerprint_in(target)
    for path in racks if plan else ():
        with suppress(InputProblems), reading(path) as rack:  # what is no sound rack is told elsewhere
            if why := gone_by(rack, plan):
                yield Problem(target, 1, "file", f"is a plan {why}, and would be lost; give another name")


def fingerprint_in(path: str) -> str:
    """The fingerprint of the plan in a file; "" where it holds none."""
    if not is_there(path):
        return ""
    try:
        said = json.loads(Path(path).read_bytes())
        return str(said["digest"]["whole"]) if said["format"] == FORMAT else ""
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ""


def gone_by(rack: Rack, plan: str) -> str:
    """What a rack goes by a plan for; "" for nothing that could not be planned anew."""
    if gone := done(rack, plan).gone:
        return f"of which {sticks(gone)} {'is' if len(gone) == 1 else 'are'} booked in {rack.path}"
    if rack.one("SELECT 1 FROM holds WHERE plan = ?", plan):
        return f"for which {rack.path} holds what it needs"
    if by := successor(rack, plan):
        return f"that goes on if {by.name} is taken back"
    if row := rack.one("SELECT plan FROM replaced WHERE by = ?", plan):
        return f"that took the place of {name_of(rack, row['plan'])}"
    return ""
