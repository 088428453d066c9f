"""A TOML file whose every value knows its line.

tomllib says what a file holds but not where; a second, smaller pass over the text finds the line of each key.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, time
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from cutplan import plausible
from cutplan.lengths import exact_decimal, quoted, read_length, read_money, read_number, read_rate, read_whole
from cutplan.printable import can_be_printed, where_unprintable
from cutplan.problems import Findings, InputProblems, Problem, Source, name_of, read_text, suggest

Keys = tuple[str | int, ...]  # the keys that lead to a value, and places in lists counted from 0
T = TypeVar("T")
ZERO = Fraction(0)
EXACTLY = "give a text such as '34 7/8', a whole number or a Fraction"


class Number(str):
    """The exact text of a TOML number with decimals, never a float on the way."""


def load(source: Source) -> Section:
    """The whole file as one section. InputProblems where it cannot be read or is not TOML."""
    path = name_of(source)
    text = read_text(source).replace("\r\n", "\n")
    try:
        values = tomllib.loads(text, parse_float=lambda number: Number(number.replace("_", "").lstrip("+")))
        lines = Locator(text).locate()
    except (ValueError, RecursionError) as error:
        raise InputProblems([syntax_problem(path, text, str(error))]) from None
    root = Section(values, (), Findings(path), lines)
    refuse_unprintable(root, values, ())
    return root


def refuse_unprintable(root: Section, value: Any, keys: Keys) -> None:
    """Reports every name and text with a character that no sheet can print, such as one that steers a terminal."""
    if isinstance(value, dict):
        for key, part in value.items():
            if not can_be_printed(key):
                root.report_at((*keys, key), "is a name with a character that cannot be printed; leave it out "
                                             f"({where_unprintable(key)})")
            refuse_unprintable(root, part, (*keys, key))
    elif isinstance(value, list):
        for place, part in enumerate(value):
            refuse_unprintable(root, part, (*keys, place))
    elif isinstance(value, str) and not can_be_printed(value):
        root.report_at(keys, f"has a character that cannot be printed; leave it out ({where_unprintable(value)})")


def syntax_problem(file: str, text: str, message: str) -> Problem:
    at = re.search(r"at line (\d+)", message)
    line = int(at[1]) if at else text.rstrip().count("\n") + 1
    fault = re.sub(r" *\(at .*\)$", "", message)
    return Problem(file, line, "file", f'is not TOML here ({fault}); write lines like kerf = "1/8 in"')


@dataclass
class Section:
    """One table of the file, read key by key; what is wrong goes to `findings`.

    A value that cannot be read comes back as its default (or a stand-in), so that the caller goes on and
    finds the rest; `sound` says whether keys were read well. Bare numbers are lengths in `unit`; with a `decimal_comma`
    texts may have one.
    """

    values: dict[str, Any]
    keys: Keys
    findings: Findings
    lines: dict[Keys, int]
    unit: str = "in"
    reported: bool = False  # the table itself is wrong: its missing keys are no news
    failed: set[str] = field(default_factory=set)
    decimal_comma: bool = False

    def report(self, key: str, message: str) -> None:
        """A problem with one key of this table, on its line or, where it is missing, the table's."""
        self.failed.add(key)
        self.report_at((*self.keys, key), message)

    def report_at(self, keys: Keys, message: str) -> None:
        """A problem with what these keys of the file lead to."""
        column = dotted(keys)
        while keys and keys not in self.lines:
            keys = keys[:-1]
        self.findings.add(self.lines.get(keys, 1), column, message)

    def sound(self, *keys: str) -> bool:
        """Whether nothing was wrong with these keys so far."""
        return not self.reported and self.failed.isdisjoint(keys)

    def only(self, *known: str) -> None:
        """Reports every key that is not one of these."""
        for key in self.values:
            if key not in known:
                self.report(key, f"is not a key of this table; {suggest(key, known)}")

    def missing(self, key: str, example: str) -> bool:
        """Whether a key is missing; it is reported where there is an example of what to write."""
        if key in self.values:
            return False
        if example and not self.reported and key not in self.failed:
            self.report(key, f"is missing; write {key} = {example}")
        return True

    def read(self, key: str, default: T, convert: Callable[[str], T], example: str) -> T:
        """What `convert` makes of the text of a number or of a text in quotes."""
        if self.missing(key, example):
            return default
        value = self.values[key]
        if isinstance(value, float):
            self.report(key, f"is the float {value!r}, which is not exact; {EXACTLY}")
            return default
        if isinstance(value, Decimal) and not value.is_finite():
            self.report(key, f"{value} is no number; {EXACTLY}")
            return default
        if isinstance(value, Fraction | Decimal):
            value = exact_decimal(Fraction(value))
        if isinstance(value, bool) or not isinstance(value, str | int):
            self.report(key, f"is {kind_of(value)}; write a number, or a text in quotes")
            return default
        try:
            return convert(str(value))
        except ValueError as error:
            self.report(key, str(error))
            return default

    def length(
        self, key: str, default: Fraction = ZERO, *, example: str = "", zero_ok: bool = True
    ) -> Fraction:
        """A length in the file's unit; required where there is an example."""
        value = self.values.get(key)
        if isinstance(value, Fraction) and value > 0:  # from Python, however fine
            return self.read(key, default, lambda text: plausible.length(value, self.unit, quoted(text)), example)
        return self.read(key, default, lambda text: read_length(
            text, self.unit, zero_ok=zero_ok, decimal_comma=self.decimal_comma), example)

    def length_or_none(self, key: str) -> Fraction | None:
        """A length more than zero, or None where the key is missing."""
        return self.length(key, zero_ok=False) if key in self.values else None

    def money(self, key: str, default: Fraction) -> Fraction:
        return self.read(key, default, lambda text: read_money(text, decimal_comma=self.decimal_comma), "")

    def duration(self, key: str, unit: str) -> Fraction:
        """A time in minutes or seconds; 0 where the key is missing."""
        return self.read(key, ZERO, lambda text: plausible.duration(read_number(text), unit, quoted(text)), "")

    def rate_or_none(self, key: str) -> Fraction | None:
        """Money for one unit of length of the file, or None where the key is missing."""
        if key not in self.values:
            return None
        return self.read(key, ZERO, lambda text: read_rate(text, self.unit), "")

    def whole(self, key: str, default: int, least: int, most: int = plausible.MOST_WHOLE) -> int:
        return self.read(key, default, lambda text: read_whole(
            text, least, most=most, decimal_comma=self.decimal_comma), "")

    def whole_or_none(self, key: str, least: int) -> int | None:
        return self.whole(key, least, least) if key in self.values else None

    def text(self, key: str, default: str = "", *, example: str = "") -> str:
        if self.missing(key, example):
            return default
        value = self.values[key]
        if not isinstance(value, str) or isinstance(value, Number):
            self.report(key, f"is {kind_of(value)}; write a text in quotes")
            return default
        return value

    def texts(self, key: str, example: str) -> tuple[str, ...]:
        """A list of texts; required."""
        if self.missing(key, example):
            return ()
        value = self.values[key]
        texts = isinstance(value, list) and all(isinstance(one, str) and not isinstance(one, Number) for one in value)
        if not texts:
            self.report(key, f"is not a list of texts; write {key} = {example}")
            return ()
        return tuple(value)

    def lengths(self, key: str, example: str) -> tuple[Fraction, ...]:
        """A list of lengths above zero in the file's unit; none where the key is missing."""
        if key not in self.values:
            return ()
        value = self.values[key]
        if not isinstance(value, list) or not value:
            self.report(key, f"is not a list of lengths; write {key} = {example}")
            return ()
        part = self.part({str(place): one for place, one in enumerate(value)}, (key,), False)
        found = tuple(part.length(str(place), zero_ok=False) for place in range(len(value)))
        self.failed.update({key} if part.failed else ())
        return found

    def choice(self, key: str, choices: tuple[str, ...]) -> str:
        """One of a few words; required. Empty where it is not one of them."""
        word = self.text(key, example=" or ".join(f'"{choice}"' for choice in choices))
        if self.sound(key) and word not in choices:
            self.report(key, f"{quoted(word)} is unknown; {suggest(word, choices)}")
            return ""
        return word

    def flag(self, key: str) -> bool:
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            self.report(key, f"is {kind_of(value)}; write true or false")
            return False
        return value

    def section(self, key: str) -> Section:
        """The table under a key; an empty one where there is none."""
        value = self.values.get(key, {})
        wrong = not isinstance(value, dict)
        if wrong:
            self.report(key, f"is {kind_of(value)}; write a table, [{dotted((*self.keys, key))}]")
        return self.part({} if wrong else value, (key,), wrong)

    def entries(self, key: str, example: str) -> list[Section]:
        """The tables of a list; a required, non-empty one."""
        if self.missing(key, example):
            return []
        value = self.values[key]
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value) or not value:
            fault = "is an empty list" if value == [] else "is not a list of tables"
            self.report(key, f"{fault}; write {key} = {example}")
            return []
        return [self.part(entry, (key, place), False) for place, entry in enumerate(value)]

    def part(self, values: dict[str, Any], keys: Keys, reported: bool) -> Section:
        return Section(values, (*self.keys, *keys), self.findings, self.lines, self.unit, reported,
                       decimal_comma=self.decimal_comma)


def kind_of(value: object) -> str:
    """A word for a TOML value."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | Number):
        return "a number"
    if isinstance(value, str):
        return "a text"
    if isinstance(value, date | time):
        return "a date or time"
    return "a table" if isinstance(value, dict) else "a list" if isinstance(value, list) else type(value).__name__


def dotted(keys: Keys) -> str:
    """profiles.rail.stock[1].length: places in lists counted from 1, odd names in quotes."""
    path = ""
    for key in keys:
        if isinstance(key, int):
            path += f"[{key + 1}]"
        else:
            path += ("." if path else "") + (key if re.fullmatch(r"[\w-]+", key) else f'"{key}"')
    return path


class Locator:
    """Finds the line of every key and list entry. The text is known to be good TOML, with \\n line ends."""

    SPACE = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
    STRING = re.compile(
        r'"""(?:\\[\s\S]|[^\\])*?"{3,5}|\'\'\'[\s\S]*?\'{3,5}|"(?:\\.|[^"\\])*"|\'[^\']*\'',
    )
    BARE = re.compile(r"[A-Za-z0-9_-]+")
    SCALAR = re.compile(r"[^,\]}#\n]*")

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Keys, int] = {}
        self.seen_to = (0, 1)  # a place in the text and its line, so that lines are counted once

    def locate(self) -> dict[Keys, int]:
        counts: dict[Keys, int] = {}  # tables so far in each [[list of tables]]
        table: Keys = ()
        self.skip()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header(counts)
            else:
                self.pair(table)
            self.skip()
        return self.lines

    def header(self, counts: dict[Keys, int]) -> Keys:
        """[a.b] or [[a.b]]: the table that the lines below belong to."""
        line = self.line()
        listed = self.text.startswith("[[", self.at)
        self.at += 2 if listed else 1
        names = self.key()
        self.at += 2 if listed else 1
        keys: Keys = ()
        for place, name in enumerate(names):
            keys = (*keys, name)
            if listed and place == len(names) - 1:
                counts[keys] = counts.get(keys, 0) + 1
            self.lines.setdefault(keys, line)
            if keys in counts:
                keys = (*keys, counts[keys] - 1)
        self.lines[keys] = line
        return keys

    def pair(self, table: Keys) -> None:
        """key = value"""
        line = self.line()
        keys = table
        for name in self.key():
            keys = (*keys, name)
            self.lines.setdefault(keys, line)
        self.at += 1  # the equals sign
        self.value(keys)

    def key(self) -> list[str]:
        """A dotted key; ends on what follows it."""
        names = []
        while True:
            self.skip()
            if match := self.STRING.match(self.text, self.at):
                names.append(str(tomllib.loads(f"name = {match[0]}")["name"]))
            else:
                match = self.BARE.match(self.text, self.at)
                assert match, "good TOML has a key here"
                names.append(match[0])
            self.at = match.end()
            self.skip()
            if self.text[self.at] != ".":
                return names
            self.at += 1

    def value(self, keys: Keys) -> None:
        self.skip()
        if self.text[self.at] == "[":
            self.items("]", lambda place: self.item((*keys, place)))
        elif self.text[self.at] == "{":
            self.items("}", lambda _: self.pair(keys))
        else:
            match = self.STRING.match(self.text, self.at) or self.SCALAR.match(self.text, self.at)
            assert match, "a scalar may be anything"
            self.at = match.end()

    def item(self, keys: Keys) -> None:
        self.lines[keys] = self.line()
        self.value(keys)

    def items(self, end: str, read: Callable[[int], None]) -> None:
        """What stands between brackets, with commas between."""
        self.at += 1
        self.skip()
        place = 0
        while self.text[self.at] != end:
            read(place)
            place += 1
            self.skip()
            if self.text[self.at] == ",":
                self.at += 1
                self.skip()
        self.at += 1

    def skip(self) -> None:
        match = self.SPACE.match(self.text, self.at)
        assert match, "space may be empty"
        self.at = match.end()

    def line(self) -> int:
        place, line = self.seen_to
        self.seen_to = (self.at, line + self.text.count("\n", place, self.at))
        return self.seen_to[1]
