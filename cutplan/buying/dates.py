"""By when each week's sticks must be there, and which sales come in time for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from cutplan.lengths import quoted
from cutplan.orders import Order, Piece
from cutplan.problems import Problem
from cutplan.shop import Stock

DUE = "due"  # a column of the week
SEVEN_DAYS = timedelta(days=7)


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


NO_DATES = Dates()


def read_date(text: str) -> date:
    """A day as 2026-03-09. ValueError says what is wrong."""
    try:
        if len(text.strip()) != 10:
            raise ValueError
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"{quoted(text)} is no day; write year, month and day, such as 2026-03-09") from None


def due_of(work: Sequence[Sequence[Order | Piece]], start: date | None, today: date, found: list[Problem]
           ) -> tuple[date, ...]:
    """By when each week's sticks must be there: the earliest day in its column `due`, else its turn from `start` on.

    Empty where no day is said. What is wrong is added to `found`.
    """
    own = [[one for entry in week if (one := due_in(entry, found)) is not None] for week in work]
    if start is None and not any(own):
        return ()
    days: list[date] = []
    told: date | None = None  # the beginning that was found fault with, once for all weeks
    for k, (week, said) in enumerate(zip(work, own, strict=True)):
        first = week[0] if week else None
        file, line = (first.file, first.line) if first is not None else ("", 1)
        if not said and start is None:
            found.append(Problem(file, line, DUE, "says no day, where another week does; write one, or give --start"))
            continue
        day, at = min(said) if said else ((start or today) + k * SEVEN_DAYS, line)
        if day < today:
            file, at, where = (file, at, DUE) if said else ("command line", 1, "--start")
            if said or start != told:
                found.append(Problem(file, at, where, f"{day} is before the day of the order, {today}: nothing ordered "
                                     "then comes in time; give a later day, or with --today the day when you order"))
            told = told if said else start
        elif days and day < days[-1]:
            found.append(Problem(file, at, DUE, f"{day} is before {days[-1]}, by when the week before is due; give the "
                                 "weeks in the order in which they are cut"))
        days.append(day)
    return tuple(days)


def due_in(entry: Order | Piece, found: list[Problem]) -> tuple[date, int] | None:
    """The day in a line's column `due`, with the line."""
    text = entry.extra.get(DUE, "").strip() if isinstance(entry, Order) else ""
    if not text:
        return None
    try:
        return read_date(text), entry.line
    except ValueError as error:
        found.append(Problem(entry.file, entry.line, DUE, str(error)))
        return None


def together(due: Sequence[date]) -> tuple[date, ...]:
    """By when all must be there where all weeks are cut as one."""
    return (min(due),) if due else ()
