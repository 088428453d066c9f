"""A value in a plan file with the path to it, and what is wrong with it."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, TypeVar

from cutplan.damage import LONGEST_NUMBER
from cutplan.exactjson import scalar
from cutplan.plans.digest import MISSING
from cutplan.printable import can_be_printed, where_unprintable
from cutplan.problems import Findings, InputProblems

T = TypeVar("T")
LARGEST_EXPONENT = 300
MOST_TOLD = 100  # problems
A_PLAN = "a plan written by cutplan cut --json is needed"
RATIO = re.compile(r"(-?[0-9]+)/([0-9]+)")


def findings(file: str) -> Findings:
    """For what is wrong in a plan file, which a program may have made: no list that nobody reads to its end."""
    return Findings(file, MOST_TOLD)


BROKEN = object()  # below something already reported


@dataclass(frozen=True)
class Place:
    """A value in the file and the path to it. A reader reports what is wrong, and then gives a stand-in."""

    value: Any
    path: str
    found: Findings

    def report(self, message: str) -> None:
        self.found.add(1, self.path or "file", message)

    def wrong(self, what: str, right: str) -> None:
        """Says that the value is missing or not `what`, and what would be right."""
        if self.value is MISSING:
            self.report(f"is missing; {right} is needed")
        elif self.value is not BROKEN:
            self.report(f"{shown(self.value)} is not {what}; {right} is needed")

    def get(self, key: str) -> Place:
        """The value under a key of an object."""
        path = f"{self.path}.{key}" if self.path else key
        if isinstance(self.value, dict):
            return Place(self.value.get(key, MISSING), path, self.found)
        self.wrong("an object", "an object { ... }")
        return Place(BROKEN, path, self.found)

    def maybe(self, key: str, default: Any) -> Place:
        """As `get`, for a key that need not be there."""
        place = self.get(key)
        return place if place.value is not MISSING else Place(default, place.path, self.found)

    def each(self, read: Callable[[Place], T], least: int = 0) -> tuple[T, ...]:
        """What `read` makes of every entry of a list of at least so many."""
        if not isinstance(self.value, list):
            self.wrong("a list", "a list [ ... ]")
            return ()
        if len(self.value) < least:
            self.report(f"has {len(self.value)} entries; at least {least} is needed")
        return tuple(
            read(Place(value, f"{self.path}[{k}]", self.found)) for k, value in enumerate(self.value)
        )

    def number(self) -> Fraction:
        """Zero or more."""
        number = as_number(self.value)
        if number is None:
            self.wrong("a number", 'a decimal like 34.875 or text like "104/3"')
            return Fraction(0)
        if number < 0:
            self.report(f"{shown(self.value)} is negative; zero or more is needed")
        return number

    def set_in(self) -> Fraction:
        """Any number: an end may be set in, or reach beyond."""
        number = as_number(self.value)
        if number is None:
            self.wrong("a number", 'a decimal like 1.525 or text like "-104/3"')
        return number or Fraction(0)

    def length(self) -> Fraction:
        """More than zero."""
        length = self.number()
        if length == 0 and as_number(self.value) is not None:
            self.report("is zero; more than zero is needed")
        return length

    def whole(self, least: int) -> int:
        number = as_number(self.value)
        if number is None or number.denominator != 1 or number < least:
            self.wrong(f"a whole number of at least {least}", f"a whole number of at least {least}")
            return least
        return int(number)

    def text(self) -> str:
        if not isinstance(self.value, str):
            self.wrong("text", 'text in quotes, like "G1 picket",')
            return ""
        if not self.value.isascii() and any("\ud800" <= letter <= "\udfff" for letter in self.value):
            self.report("holds half of a character; whole characters are needed")
        elif not can_be_printed(self.value):
            hidden = where_unprintable(self.value)
            self.report(f"has a character that cannot be printed ({hidden}); text without it is needed")
        return self.value

    def one_of(self, words: Sequence[str]) -> str:
        if self.value not in words:
            right = " or ".join(f'"{word}"' for word in words)
            self.wrong(right, right)
            return words[0]
        return str(self.value)

    def flag(self) -> bool:
        if not isinstance(self.value, bool):
            self.wrong("true or false", "true or false")
        return self.value is True

    def or_none(self, read: Callable[[Place], T]) -> T | None:
        return None if self.value is None else read(self)

    def must_be(self, right: Any, reason: str) -> None:
        """Reports a value that does not follow from the rest of the file."""
        same = self.value == right if isinstance(right, str) else as_number(self.value) == right
        if same:
            return
        if self.value is MISSING:
            self.report(f"is missing; {scalar(right)} is needed")
        else:
            said = f"{shown(self.value)} does not agree with {reason}"
            self.report(f"{said}; {scalar(right)} would be right")


def shown(value: Any) -> str:
    """The value as it stands in a file, cut where it is long."""
    if isinstance(value, dict | list):
        return "a list" if isinstance(value, list) else "an object"
    text = scalar(value)
    return text if len(text) <= 40 else text[:37] + "..."


def as_number(value: Any) -> Fraction | None:
    """The number a value stands for; None where it is not one."""
    if isinstance(value, int | Fraction) and not isinstance(value, bool):
        return Fraction(value)
    if isinstance(value, str) and len(value) <= LONGEST_NUMBER:
        match = RATIO.fullmatch(value)
        if match and int(match[2]):
            return Fraction(int(match[1]), int(match[2]))
    return None


def parsed(text: str, found: Findings) -> Place:
    """The whole file. InputProblems where it is not JSON."""

    def whole_object(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
        pairs = list(pairs)
        fields = dict(pairs)
        if len(fields) < len(pairs):
            for key, often in Counter(key for key, _ in pairs).items():
                if often > 1:
                    found.add(1, "file", f"the key {shown(key)} stands twice in one object; once is right")
        return fields

    def exactly(read: Callable[[str], T | None]) -> Callable[[str], T | str]:
        """Reads a number; one that cannot be is reported, and stays text."""

        def number(text: str) -> T | str:
            value = read(text)
            if value is None:
                found.add(1, "file", f"{text[:37]} is no number to reckon with; a decimal like 34.875 is needed")
            return text if value is None else value

        return number

    try:
        value = json.loads(
            text,
            parse_float=exactly(decimal),
            parse_int=exactly(whole),
            parse_constant=exactly(constant),
            object_pairs_hook=whole_object,
        )
    except json.JSONDecodeError as error:
        found.add(error.lineno, "file", f"is not JSON at character {error.colno} ({error.msg}); {A_PLAN}")
        raise InputProblems(found.problems, found.most) from None
    return Place(value, "", found)


def decimal(text: str) -> Fraction | None:
    """The decimal exactly; None where it is absurdly long or large."""
    exponent = text.lower().partition("e")[2]
    if len(text) > LONGEST_NUMBER or len(exponent) > 5 or abs(int(exponent or 0)) > LARGEST_EXPONENT:
        return None
    return Fraction(text)


def whole(text: str) -> int | None:
    return int(text) if len(text) <= LONGEST_NUMBER else None


def constant(_: str) -> None:
    """NaN and Infinity, which Python takes for numbers, and JSON does not."""
