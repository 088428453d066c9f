"""Places in a plan file in words of the trade, for whoever books it and never saw the file: sticks, marks, cuts."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from cutplan.plans.numbers import sticks
from cutplan.problems import Problem

STEP = re.compile(r"(\w+)(?:\[(\d+)\])?")
CALLED = {"profiles": "profile", "demand": "mark", "cards": "mark"}  # what an entry of a list is called by


def in_words(problems: Iterable[Problem], text: str) -> list[Problem]:
    """The problems of a plan file, whose text this is: each with the stick, mark or profile for its place."""
    try:
        fields = json.loads(text)
    except (ValueError, RecursionError):
        fields = None
    return [replace(one, column=", ".join(words(one.column, fields)) or one.column) for one in problems]


def words(path: str, fields: Any) -> Iterator[str]:
    """The words for each step of a path; those of a profile are left out before its sticks, which have numbers."""
    here, k = fields, None
    for key, index in STEP.findall(path):
        if key == "profiles" and index:
            k = int(index)
            if ".sticks[" in path:
                here = entry(entry(here, key), k)
                continue
        here = entry(here, key)
        if not index:
            yield key.replace("_", " ")
            continue
        here = entry(here, int(index))
        if key == "sticks" and k is not None:
            yield stick_words(fields, k, int(index))
        elif key in CALLED:
            name = entry(here, CALLED[key])
            yield name if isinstance(name, str) and name else f"{key} {int(index) + 1}"
        else:
            yield f"{key.removesuffix('s')} {int(index) + 1}"


def entry(value: Any, key: str | int) -> Any:
    """A part of a file that may be anything; None where it is not there."""
    try:
        return value[key]
    except (KeyError, IndexError, TypeError):
        return None


def stick_words(fields: Any, k: int, s: int) -> str:
    """The numbers of an entry of sticks, as they are printed; its place in the file where its counts are no numbers."""
    profiles = [entry(one, "sticks") or [] for one in (entry(fields, "profiles") or [])]
    first = entry(fields, "first")
    first = first if isinstance(first, int) else 1
    try:
        before = sum(one["count"] for each in profiles[:k] for one in each) + sum(
            one["count"] for one in profiles[k][:s])
        return sticks(range(first + before, first + before + max(1, min(int(profiles[k][s]["count"]), 10**6))))
    except (KeyError, IndexError, TypeError, ValueError):
        return f"entry {s + 1} of the sticks"
