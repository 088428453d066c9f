"""What a quotation adds to what a job costs."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import exact_decimal
from cutplan.tomllines import ZERO, Section

MOST_MARKUP, MOST_TAX = 10, 1  # shares; beyond, somebody wrote per cent


@dataclass(frozen=True)
class QuoteRates:
    """Shares of what stands before them, markup first and then tax, and what it takes to put a gate or bay together.

    `assembly_minutes` are for each gate and each bay, `hourly` the amount for an hour of it.
    """

    markup: Fraction = ZERO
    tax: Fraction = ZERO
    assembly_minutes: Fraction = ZERO
    hourly: Fraction = ZERO


def read_quote(root: Section) -> QuoteRates | None:
    """The [quote] table; None where there is none."""
    if "quote" not in root.values:
        return None
    table = root.section("quote")
    table.only("markup", "tax", "assembly_minutes", "hourly")
    for one, other in (("assembly_minutes", "hourly"), ("hourly", "assembly_minutes")):
        if one in table.values and other not in table.values:
            table.report(one, f"says nothing without {other}; write both, or leave this out")
    return QuoteRates(read_part(table, "markup", MOST_MARKUP, "0.35"), read_part(table, "tax", MOST_TAX, "0.0825"),
                      table.money("assembly_minutes", ZERO), table.money("hourly", ZERO))


def read_part(table: Section, key: str, most: int, example: str) -> Fraction:
    found = table.money(key, ZERO)
    if table.sound(key) and found > most:
        table.report(key, f"{exact_decimal(found)} is a share, not per cent; write it such as {example}")
    return found
