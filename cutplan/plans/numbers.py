"""Sets of stick numbers, as people write them: 3, 7 to 12."""

from __future__ import annotations

import re
from collections.abc import Iterable

STRETCH = re.compile(r"([0-9]{1,9})(?: *- *([0-9]{1,9}))?")
MOST_NUMBERED = 10**6  # sticks; no plan has as many


def runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """The numbers as stretches without a gap, each by its first and last, rising."""
    found: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if found and found[-1][1] == number - 1:
            found[-1] = found[-1][0], number
        else:
            found.append((number, number))
    return found


def spanned(stretches: Iterable[tuple[int, int]]) -> frozenset[int]:
    """The numbers of some stretches, each by its first and last."""
    return frozenset(number for first, last in stretches for number in range(first, last + 1))


def stretches(numbers: Iterable[int]) -> list[str]:
    """Each stretch in words: 3, 7 to 12."""
    return [str(first) if first == last else f"{first} to {last}" for first, last in runs(numbers)]


def said(numbers: Iterable[int]) -> str:
    """In words: 3, 7 to 12 and 20."""
    parts = stretches(numbers)
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if parts[1:] else parts)


def sticks(numbers: Iterable[int]) -> str:
    """As `said`, after the word for it: stick 3, or sticks 7 to 12."""
    numbers = set(numbers)
    return f"stick{'' if len(numbers) == 1 else 's'} {said(numbers)}"


def read_numbers(text: str) -> frozenset[int]:
    """The numbers of a text such as 3,7-12. ValueError says what would be right."""
    stretches = []
    for part in text.split(","):
        match = STRETCH.fullmatch(part.strip())
        if match is None:
            raise ValueError(f"{text[:40]!r} are no stick numbers; write them like 3,7-12")
        first, last = int(match[1]), int(match[2] or match[1])
        if last < first:
            raise ValueError(f"{part.strip()} runs backwards; write the smaller number first, like 7-12")
        if last - first >= MOST_NUMBERED:
            raise ValueError(f"{part.strip()} is more sticks than any plan has; write them like 3,7-12")
        stretches.append((first, last))
    return spanned(stretches)
