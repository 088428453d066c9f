"""Tags for offcuts: short, quick to write with a marker, and a slip in one is noticed.

A tag is a number in base 13 and a check letter. The thirteen letters and digits are those that a quick hand keeps
apart: of each of 0 O D Q, 1 I L, 2 Z, 5 S, 8 B, 6 G 9, U V Y, M N H and A 4 at most one is used. There are no vowels,
so no tag is a word. The check letter is a sum of the others weighted by powers of 2, which is a primitive root modulo
13: one letter read wrong changes it, and so do two that have changed places, in a tag of up to six letters.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator

LETTERS = "CFHJKPRTWX347"
BASE = len(LETTERS)
SHORTEST = 3  # letters, check letter included
APART = 6  # letters of the tags that are given without a rack, which no rack comes to by itself


def tag_of(number: int) -> str:
    """The tag of a number from 0 on; no two numbers have the same."""
    digits = []
    length = SHORTEST - 1
    while number >= BASE**length:  # first all tags of three letters, then all of four, ...
        number -= BASE**length
        length += 1
    for _ in range(length):
        number, digit = divmod(number, BASE)
        digits.append(digit)
    digits.reverse()
    return "".join(LETTERS[digit] for digit in [*digits, check(digits)])


def tags_apart(key: str) -> Iterator[str]:
    """Tags for offcuts of plans that are made without a rack: they begin where the `key`, such as a plan's fingerprint,
    says, so that those of two plans hardly ever meet on one."""
    many = BASE ** (APART - 1)
    shorter = sum(BASE**length for length in range(SHORTEST - 1, APART - 1))
    first = int.from_bytes(hashlib.sha256(key.encode()).digest()[:8], "big")
    return (tag_of(shorter + (first + k) % many) for k in range(many))


def number_of(tag: str) -> int:
    """The number that a tag stands for."""
    number = 0
    for letter in tag[:-1]:
        number = number * BASE + LETTERS.index(letter)
    for length in range(SHORTEST - 1, len(tag) - 1):  # as many come before it as there are shorter ones
        number += BASE ** abs(length)
    return number


def check(digits: Collection[int]) -> int:
    return sum(digit << place for place, digit in enumerate(digits, start=1)) % BASE


def tidy(text: str) -> str:
    """A tag as it was typed, in capitals and without spaces or dashes."""
    return "".join(letter for letter in text.upper() if letter not in " -.")


def is_tag(text: str) -> bool:
    """Whether the text is a tag, its check letter included."""
    if len(text) < SHORTEST or any(letter not in LETTERS for letter in text):
        return False
    *digits, last = map(LETTERS.index, text)
    return check(digits) == last


def nearest_tags(text: str, known: Collection[str]) -> list[str]:
    """The known tags that differ from the text in one letter, or in two that have changed places."""
    return sorted(tag for tag in known if len(tag) == len(text) and one_slip(tag, text))


def one_slip(one: str, other: str) -> bool:
    apart = [k for k, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
    if len(apart) == 2:
        j, k = apart
        return one[j] == other[k] and one[k] == other[j]
    return len(apart) == 1
