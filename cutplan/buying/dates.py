"""By when each week's sticks must be there, and which sales come in time for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from cutplan.shop import Stock

WEEK = timedelta(days=7)


@dataclass(frozen=True)
class Dates:
    """The day of the order, and the day each week's sticks must be there; without days nothing comes too late."""

    today: date | None = None
    due: tuple[date, ...] = ()

    def ready(self, entry: Stock, weeks: int) -> int | None:
        """The first week that such sticks come in time for; None where they come too late for all."""
        if not self.due or self.today is None:
            return 0
        comes = self.today + timedelta(days=entry.lead_days)
        return next((k for k in range(weeks) if comes <= self.due[k]), None)

    def of(self, week: int) -> Dates:
        """Those of one week alone."""
        return Dates(self.today, self.due[week:week + 1])


def in_turn(first: date, weeks: int) -> tuple[date, ...]:
    """The first days of weeks that follow one another."""
    return tuple(first + k * WEEK for k in range(weeks))


def read_date(text: str) -> date:
    """A day as 2026-03-09. ValueError says what is wrong."""
    try:
        if len(text.strip()) != 10:
            raise ValueError
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"'{text}' is no day; write year, month and day, such as 2026-03-09") from None


def together(due: Sequence[date]) -> tuple[date, ...]:
    """By when all must be there where all weeks are cut as one."""
    return (min(due),) if due else ()
