"""The commands' work as functions: take off, cut."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from cutplan.api.inputs import WorkInput, read_all, read_shop
from cutplan.planning import solve as solving
from cutplan.planning.racked import on_rack, solve_on_rack
from cutplan.planning.result import Result
from cutplan.problems import Source
from cutplan.running.budget import Budget, refuse_no_time
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff, take_off_all

Limit = float | Budget | None
Listener = Callable[[str], None]


def take_off(week: WorkInput | Iterable[WorkInput], shop: Source | Shop) -> Takeoff:
    """Every piece of a week's gates and bays, and a layout card for each line.

    Parameters
    ----------
    week
        A week file, a DataFrame, or records; or some of them.
    shop
        A shop file, or what `read_shop` made of one.

    Raises
    ------
    InputProblems
        What is wrong with the inputs, and what does not fit its opening, each with file and line.
    """
    shop = shop if isinstance(shop, Shop) else read_shop(shop)
    return take_off_all(read_all(week, shop), shop)


def cut(work: WorkInput | Iterable[WorkInput], shop: Source | Shop, *, limit: Limit = 60.0,
        rack: str | Path | None = None, progress: Listener | None = None) -> Result:
    """What `cutplan cut` does: take off, centre, cut, put in sequence, audit.

    Parameters
    ----------
    work
        Week files, pieces files, DataFrames or records, cut together.
    shop
        A shop file, or what `read_shop` made of one.
    limit
        Seconds to search at most, counted from when everything is read; a `Budget` of your own; None: to the end.
    rack
        A rack's file, whose free offcuts and counted sticks are stock too; kept offcuts get their tags from it.
    progress
        Called with each word of progress, in the thread that called.

    Returns
    -------
    Result

    Raises
    ------
    InputProblems
        Everything that is wrong in the inputs, each with file, line and column.
    NoPlan
        A piece is longer than any stick it could come from, or stock that is limited runs out.
    """
    shop = shop if isinstance(shop, Shop) else read_shop(shop)
    wanted = read_all(work, shop)
    budget = budget_of(limit, progress)
    if rack is None:
        return solving.solve(wanted, shop, budget)
    return solve_on_rack(str(rack), wanted, on_rack(str(rack), wanted, shop, tags=True), budget, tags=True)[0]


def budget_of(limit: Limit, progress: Listener | None) -> Budget:
    """The budget that a limit and a listener come to. InputProblems for a limit that is no time."""
    if isinstance(limit, Budget):
        return limit.saying(progress) if progress else limit
    refuse_no_time(limit, "cutplan", "limit", "seconds, more than 0, or a Budget", zero_ok=False)
    return Budget(limit, progress)
