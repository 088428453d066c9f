"""What is asked of the buyer's commands: candidate lengths as people write them, and the demand of each profile."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.buying.offers import Market
from cutplan.buying.question import Question
from cutplan.cutting import demand_of
from cutplan.lengths import exact_decimal, quoted, read_length
from cutplan.orders import Piece

MOST_LENGTHS = 2_000
MILL_STEPS = {"in": Fraction(1), "mm": Fraction(10)}


def read_list(text: str, unit: str) -> tuple[Fraction, ...]:
    """The lengths of a list like "8 ft,10 ft,12 ft". ValueError says what is wrong."""
    found: list[Fraction] = []
    for part in text.split(","):
        length = read_length(part, unit)
        if length in found:
            raise ValueError(f"has {quoted(part.strip())} twice; once is right")
        found.append(length)
    return tuple(sorted(found))


def read_range(text: str, unit: str, step: Fraction | None = None) -> tuple[Fraction, ...]:
    """The lengths of a range like "8 ft:24 ft:6 in": from, to and step, which may be left out where one is given.

    A length of 0 is left out. ValueError says what is wrong.
    """
    right = "write it like 8 ft:24 ft:6 in" if step is None else "write it like 0 in:288 in"
    parts = text.split(":")
    if len(parts) != 3 and not (len(parts) == 2 and step is not None):
        raise ValueError(f"{quoted(text)} is not a range; {right}")
    low, high = read_length(parts[0], unit, zero_ok=True), read_length(parts[1], unit)
    by = read_length(parts[2], unit) if len(parts) == 3 else step
    assert by is not None
    if low > high:
        raise ValueError(f"{quoted(text)} ends before it begins; {right}")
    if (high - low) / by >= MOST_LENGTHS:
        raise ValueError(f"{quoted(text)} is more than {MOST_LENGTHS} lengths; a longer step is needed, "
                         f"{exact_decimal(Fraction(-(-(high - low) // (MOST_LENGTHS - 1))))} {unit} or more")
    lengths = (low + k * by for k in range(int((high - low) / by) + 1))
    return tuple(length for length in lengths if length)


def question(market: Market, weeks: Sequence[Sequence[Piece]], together: bool) -> Question | None:
    """The question for one profile; None where nothing of it is wanted. `together`: all weeks as one heap."""
    heaps = [[piece for week in weeks for piece in week]] if together else weeks
    demand = [tuple(demand_of(pieces, market.profile)) for pieces in heaps]
    wanted = tuple(week for week in demand if week)
    return Question(market, wanted, len(weeks)) if wanted else None
