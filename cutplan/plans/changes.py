"""What in a plan file was altered since it was written, or was never cutplan's."""

from __future__ import annotations

from typing import Any

from cutplan.exactjson import scalar
from cutplan.plans.digest import MISSING, Difference, differences, digest
from cutplan.plans.place import Place, shown


def report_strangers(place: Place, fields: Any) -> None:
    """Reports every key that the same plan would not be written with."""
    if isinstance(place.value, dict) and isinstance(fields, dict):
        for key in place.value:
            if key in fields:
                report_strangers(place.get(key), fields[key])
            else:
                place.get(key).report("is not part of a plan; nothing but what cutplan writes is right")
    elif isinstance(place.value, list) and isinstance(fields, list):
        for k, (value, part) in enumerate(zip(place.value, fields, strict=True)):
            report_strangers(Place(value, f"{place.path}[{k}]", place.found), part)


def report_changes(root: Place) -> None:
    """Reports where the plan is not what its digest says.

    Its `whole` tells which of the two was changed: where that is right, the plan is as it was written. A digest
    without it is taken for the changed one.
    """
    stated = root.get("digest")
    if not isinstance(stated.value, dict):
        stated.wrong("an object", "the digest that cutplan cut --json writes")
        return
    right = digest({key: value for key, value in root.value.items() if key != "digest"})
    changed = list(differences(stated.value, right))
    as_written = stated.value.get("whole", right["whole"]) == right["whole"]
    if as_written or [change.path for change in changed] == ["whole"]:
        for change in changed:
            root.found.add(1, f"digest.{change.path}", misstated(change))
        return
    known = {"whole", *(problem.column for problem in root.found.problems)}
    for change in changed:
        if change.path not in known:
            root.found.add(1, change.path, f"{how_changed(change)}; the plan as cutplan wrote it is needed")


def how_changed(change: Difference) -> str:
    before, now = change.written, change.right
    if before is MISSING:
        return "was added after the plan was written (no digest covers it)"
    if now is MISSING:
        return "was taken out after the plan was written (its digest is still there)"
    if isinstance(before, list) and isinstance(now, list):
        if len(before) != len(now):
            return f"has {len(now)} entries, and had {len(before)} when the plan was written (by its digest)"
        return "has its entries in another order than when the plan was written (by their digests)"
    return "was changed after the plan was written (its digest differs)"


def misstated(change: Difference) -> str:
    """What is wrong with a digest whose plan is as it was written."""
    if change.written is MISSING:
        return f"is missing; {in_digest(change.right)} is needed"
    if change.right is MISSING:
        return "stands for no part of the plan; nothing is needed here"
    return f"{shown(change.written)} does not agree with the plan; {in_digest(change.right)} would be right"


def in_digest(part: Any) -> str:
    return scalar(part) if isinstance(part, str) else "a digest for each part, in the plan's order,"
