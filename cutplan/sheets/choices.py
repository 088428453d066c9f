"""Lines of a bid that may not come, and lines that come instead of each other, as rows, words and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.choices import percent_of
from cutplan.bidding.versions import blocks
from cutplan.printable import plain

CHOICE_HEADINGS = ("line", "what", "number", "comes", "instead of")
NO_LINE = "none"
CHOICE_ANSWERS = ("Which lines are not certain to come, and how likely is each? A line comes or not whatever the "
                  "others do, but of lines that come instead of each other no two come at once.")


def uncertain(lines: Sequence[BidLine]) -> list[tuple[list[BidLine], Fraction]]:
    """The lines of each group and each other line that may not come, with the chance that none of a group does."""
    found = []
    for block in blocks(lines):
        own = [lines[k] for k in block]
        if any(line.coming < 1 for line in own):
            found.append((own, 1 - sum((line.chance for line in own), Fraction(0)) if own[0].group else Fraction(0)))
    return found


def choice_rows(lines: Sequence[BidLine]) -> Iterator[tuple[str, ...]]:
    for own, none in uncertain(lines):
        for line in own:
            yield (plain(line.mark), f"{line.kind}, {plain(line.system)}", number_of(line), percent_of(line.coming),
                   instead_of(line, lines))
        if none:
            yield (NO_LINE, "", "", percent_of(none), " or ".join(plain(one.mark) for one in own))


def instead_of(line: BidLine, lines: Sequence[BidLine]) -> str:
    """The other lines of its group."""
    others = [one for one in lines if line.group and one.group == line.group and one != line]
    return " or ".join(plain(one.mark) for one in others) or "-"


def number_of(line: BidLine) -> str:
    return "..".join(map(str, dict.fromkeys((line.qty[0], line.qty[-1]))))


def choice_words(lines: Sequence[BidLine]) -> str:
    """In one cell: E02 (60 %); E03 (50 %) or E04 (50 %)."""
    said = []
    for own, none in uncertain(lines):
        each = [(line.mark, line.coming) for line in own] + ([(NO_LINE, none)] if none else [])
        said.append(" or ".join(f"{mark} ({percent_of(chance)})" for mark, chance in each))
    return "; ".join(said)


def choice_fields(lines: Sequence[BidLine]) -> list[dict[str, object]]:
    """`comes_in`: in so many of 100."""
    return [{"mark": line.mark, "comes_in": 100 * line.coming, "or": line.group or None}
            for own, _ in uncertain(lines) for line in own]
