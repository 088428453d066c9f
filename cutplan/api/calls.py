"""The commands' work as functions: take off, cut, solve, check. What is no argument is refused here, at the door."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from pathlib import Path

from cutplan.api.inputs import (
    WorkInput,
    no_records,
    no_shop,
    no_shop_nor_file,
    no_work,
    read_all,
    read_shop,
    several,
)
from cutplan.callers import admit, no_listener, no_path
from cutplan.checking.proof import prove
from cutplan.checking.sound import Checked, read_plan
from cutplan.orders import Order, Piece, week_names
from cutplan.planning import solve as solving
from cutplan.planning.racked import on_rack, solve_on_rack
from cutplan.planning.result import Result
from cutplan.problems import Source
from cutplan.running.budget import Budget, no_time, read_share
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff, take_off_all

Limit = float | Budget | None
Listener = Callable[[str], None]
Spared = str | Fraction | None


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
    weeks = several(week)
    admit(week=no_work(weeks), shop=no_shop_nor_file(shop))
    shop = shop if isinstance(shop, Shop) else read_shop(shop)
    return take_off_all(read_all(weeks, shop), shop)


def cut(work: WorkInput | Iterable[WorkInput], shop: Source | Shop, *, limit: Limit = 60.0,
        rack: str | Path | None = None, progress: Listener | None = None, spare: Spared = None) -> Result:
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
    spare
        The share of the least cost that each profile may cost more to have the fewest set-ups, then lifts: "1%" or
        Fraction(1, 100). None: set-ups come last, after cost and length used up.

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
    works = several(work)
    admit(work=no_work(works), shop=no_shop_nor_file(shop), limit=no_limit(limit), progress=no_listener(progress),
          rack="" if rack is None else no_path(rack), spare=no_share(spare))
    shop = shop if isinstance(shop, Shop) else read_shop(shop)
    wanted = read_all(works, shop)
    budget = budget_of(limit, progress)
    if rack is None:
        return solving.solve(wanted, shop, budget, spare=share_of(spare), weeks=week_names(works))
    return solve_on_rack(str(rack), wanted, on_rack(str(rack), wanted, shop, tags=True), budget, tags=True,
                         spare=share_of(spare), weeks=week_names(works))[0]


def solve(work: Sequence[Order | Piece], shop: Shop, budget: Budget | None = None) -> Result:
    """The plan that cuts these records for least cost of stock, then least length used up, then fewest set-ups.

    Parameters
    ----------
    work
        Gates, bays and pieces as `read_week` and `read_pieces` give them, cut together.
    shop
        What `read_shop` made of a shop file.
    budget
        How long to search (None: to the end). Its time counts from when it was made.

    Returns
    -------
    Result

    Raises
    ------
    InputProblems
        Everything that is wrong with the work, each with its file and line.
    NoPlan
        A piece is longer than any stick it could come from, or stock that is limited runs out.
    """
    records = several(work)
    no_budget = "" if isinstance(budget, Budget | None) else f"{budget!r} is no Budget; give Budget(seconds)"
    admit(work=no_records(records), shop=no_shop(shop), budget=no_budget)
    return solving.solve(read_all(records, shop), shop, budget)


def check(plan: str | Path, progress: Listener | None = None) -> Checked:
    """Proves a plan file again by exact arithmetic in whole numbers, without what made it.

    Parameters
    ----------
    plan
        A plan as `Plan.save` or `cutplan cut --json` writes it.
    progress
        Called with each word of progress, many times a second.

    Returns
    -------
    Checked
        The plan, what came of each profile, `ok` and `summary()`.

    Raises
    ------
    InputProblems
        The file is no plan, was altered, or its sticks, sums or offcuts are wrong.
    """
    admit(plan=no_path(plan), progress=no_listener(progress))
    read = read_plan(plan)
    return Checked(read, tuple(prove(profile, progress or (lambda text: None)) for profile in read.profiles))


def no_limit(limit: object) -> str:
    """What is wrong with what is to be a limit."""
    right = "seconds, more than 0, or a Budget"
    return "" if isinstance(limit, Budget) else no_time(limit, right, zero_ok=False)


def no_share(spare: object) -> str:
    """What is wrong with what may be spared."""
    return "" if spare is None else read_share(spare)[1]


def share_of(spare: Spared) -> Fraction | None:
    """The share that a sound argument says."""
    return None if spare is None else read_share(spare)[0]


def budget_of(limit: Limit, progress: Listener | None) -> Budget:
    """The budget that a sound limit and a listener come to."""
    if isinstance(limit, Budget):
        return limit.saying(progress) if progress else limit
    return Budget(limit, progress)
