"""Whether a line of a bid comes at all: by a chance of its own, or as one line of a group instead of the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal, quoted, read_number, rounded_decimal
from cutplan.tables import Reader

CERTAIN = Fraction(1)
CHANCE_FORM = "write it in per cent, as 60 %"


@dataclass(frozen=True)
class LineChoice:
    """What one row says: the name of its group ("": none), and its chance (None: not said, or not to be read)."""

    row: Reader
    group: str
    chance: Fraction | None

    @property
    def said(self) -> bool:
        return bool(self.row.text("chance"))

    @property
    def open(self) -> bool:
        """Whether the line may not come."""
        return bool(self.group) or (self.said and self.chance != CERTAIN)


def read_choice(row: Reader, names: dict[str, str]) -> LineChoice:
    """One row's; a group is known by its name in any case, and called as it was written first."""
    group = row.text("or")
    chance = row.read("chance", lambda text: read_chance(text, row.table.comma)) if row.text("chance") else None
    return LineChoice(row, names.setdefault(group.lower(), group), chance)


def read_chance(text: str, comma: bool = False) -> Fraction:
    """The share of 1 that "60 %" means, more than 0 and at most 1. ValueError says what would be right."""
    if not text.endswith("%"):
        raise ValueError(f"{quoted(text)} is no chance; {CHANCE_FORM}")
    try:
        percent = read_number(text[:-1].rstrip(), decimal_comma=comma, needed="more than 0 %")
    except ValueError as error:
        raise ValueError(f"{error}; {CHANCE_FORM}") from None
    if not percent:
        raise ValueError(f"{quoted(text)} never comes; take the line out, or write more than 0 %")
    if percent > 100:
        raise ValueError(f"{quoted(text)} is more than certain; write 100 % at most")
    return percent / 100


def chances_of(choices: Sequence[LineChoice]) -> list[Fraction]:
    """The chance of each row, in their order; reports what is wrong with groups.

    Without one a line is certain, and those of a group are as likely as each other.
    """
    groups: dict[str, list[LineChoice]] = {}
    for choice in choices:
        groups.setdefault(choice.group, []).append(choice)
    for name, own in groups.items():
        if name:
            check_group(name, own)
    return [choice.chance or (Fraction(1, len(groups[choice.group])) if choice.group else CERTAIN)
            for choice in choices]


def check_group(name: str, own: Sequence[LineChoice]) -> None:
    called = f"group {quoted(name)}"
    if len(own) == 1:
        own[0].row.report("or", f"is alone in {called}; give the lines it is instead of the same name, or empty the "
                          "cell, and say by chance how often it comes")
        return
    lacking = [one for one in own if not one.said]
    if len(lacking) < len(own):
        for one in lacking:
            one.row.report("chance", f"is empty, and other lines of {called} have one; give each of them its chance, "
                           "or none of them where they are as likely")
    whole = sum((one.chance for one in own if one.chance), Fraction(0))
    if whole > 1:
        own[-1].row.report("chance", f"those of {called} come to {percent_of(whole)} together; no two of its lines "
                           "come at once, so 100 % at most")


def percent_of(share: Fraction) -> str:
    """A share of 1 in per cent; after "~" where that is rounded."""
    exact = exact_decimal(100 * share)
    return f"{rounded_decimal(100 * share) if '/' in exact else exact} %"
