"""Fingerprints of the parts of a plan, so that one changed after it was written is told, and where.

A fingerprint is taken of values, not of their layout. It catches slips and edits by hand; against somebody who makes
new fingerprints stands the proof itself.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from cutplan.exactjson import canonical

DIGITS = 16  # of a fingerprint, hexadecimal: enough for slips
# What is divided further; anything else, however deep, has one fingerprint.
DIVIDED: dict[str, Any] = {
    "profiles": [
        {"demand": [None], "sticks": [None], "tiers": [None], "proof": {"certificate": {"stock": [None]}}}
    ]
}
MISSING = object()  # a part that is not there


def digest(fields: dict[str, Any]) -> dict[str, Any]:
    """The fingerprints of a plan's parts, under the plan's own keys, and `whole` over all of them."""
    parts = divided(fields, DIVIDED)
    return {"whole": fingerprint(parts), **parts}


def divided(value: Any, parts: Any) -> Any:
    """A fingerprint, or one for each of the parts the value is divided into."""
    if isinstance(value, dict) and isinstance(parts, dict):
        return {key: divided(part, parts.get(key)) for key, part in value.items()}
    if isinstance(value, list) and isinstance(parts, list):
        return [divided(part, parts[0]) for part in value]
    return fingerprint(value)


def fingerprint(value: Any) -> str:
    return hashlib.sha256(canonical(value).encode("ascii")).hexdigest()[:DIGITS]


@dataclass(frozen=True)
class Difference:
    """A place where two digests differ: what was written there, and what would be right for the plan as it is."""

    path: str
    written: Any
    right: Any


def differences(written: Any, right: Any, path: str = "") -> Iterator[Difference]:
    """Where two digests differ, as narrow as can be said; a list with other entries differs as a whole."""
    if written == right:
        return
    if isinstance(written, dict) and isinstance(right, dict):
        for key in written | right:
            place = f"{path}.{key}" if path else key
            yield from differences(written.get(key, MISSING), right.get(key, MISSING), place)
    elif isinstance(written, list) and isinstance(right, list) and same_entries_changed(written, right):
        for k, (before, now) in enumerate(zip(written, right, strict=True)):
            yield from differences(before, now, f"{path}[{k}]")
    else:
        yield Difference(path, written, right)


def same_entries_changed(written: list[Any], right: list[Any]) -> bool:
    """Whether entries were changed where they stand: none added, none taken out, not merely put in another order."""
    return len(written) == len(right) and sorted(map(canonical, written)) != sorted(map(canonical, right))
