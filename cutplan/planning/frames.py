"""A plan as pandas DataFrames: floats to reckon with, and beside each length a column `..._text` as the tape reads it.

The exact values stay in the plan's records. pandas is loaded only here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any

import pandas as pd

from cutplan.lengths import show
from cutplan.plans import records
from cutplan.plans.plan import Plan, numbered
from cutplan.plans.shares import shares

STICK_COLUMNS = ("profile", "first", "last", "count", "source", "tag", "length", "price", "pieces", "offcut", "keep")
CUT_COLUMNS = ("profile", "first", "last", "count", "cut", "mark", "for", "length", "start", "end", "centred")
PURCHASE_COLUMNS = ("profile", "length", "price", "drawn", "on_hand", "to_buy", "amount")
OPENING_COLUMNS = ("for", "profile", "net", "waste", "kept", "cost")
SAW_COLUMNS = ("saw_minutes", "saw_amount")  # where the shop says what work at the saw takes
END_COLUMNS = ("left_in", "right_in", "lies")  # where any piece of the plan has angled ends
LENGTH_COLUMNS = ("length", "start", "end", "offcut", "net", "waste", "kept", "left_in", "right_in")


def sticks(plan: Plan) -> pd.DataFrame:
    """The entries of sticks cut alike, in the plan's order: sticks `first` to `last`, counted through the plan."""
    return frame(plan, STICK_COLUMNS, (
        (plan.profiles[one.profile].profile, one.first, one.last, one.stick.count, one.stick.source, one.stick.tag,
         one.stick.length, one.stick.price, len(one.stick.cuts), one.stick.offcut, one.stick.keep)
        for one in numbered(plan)))


def cuts(plan: Plan) -> pd.DataFrame:
    """The cuts of each entry in their order; `start` and `end` from the stick's own end, as in plan.json."""
    angled = any(profile.angles for profile in plan.profiles)
    return frame(plan, (*CUT_COLUMNS, *(END_COLUMNS if angled else ())), all_cuts(plan))


def all_cuts(plan: Plan) -> Iterator[tuple[Any, ...]]:
    for one in numbered(plan):
        profile = plan.profiles[one.profile]
        opening = {entry.mark: entry.for_ for entry in profile.demand}
        for j, cut in enumerate(one.stick.cuts, start=1):
            yield (profile.profile, one.first, one.last, one.stick.count, j, cut.mark, opening[cut.mark], cut.length,
                   cut.start, cut.end, cut.centred, cut.left_in, cut.right_in, cut.lies)


def purchases(plan: Plan) -> pd.DataFrame:
    """What to buy: sticks drawn, those of them that are on hand, and what the rest costs."""
    return frame(plan, PURCHASE_COLUMNS, (
        (one.profile, one.length, one.price, one.drawn, one.there, one.missing, one.missing * one.price)
        for profile in plan.profiles for one in records.purchases(profile)))


def by_opening(plan: Plan) -> pd.DataFrame:
    """The pieces, waste and cost that fall on each gate and bay, and on each mark that is for none; see `shares`."""
    columns = OPENING_COLUMNS if plan.saw is None else (*OPENING_COLUMNS, *SAW_COLUMNS)
    return frame(plan, columns, (
        (one.for_, one.profile, one.net, one.waste, one.kept, one.cost, one.minutes, one.sawing)
        for one in shares(plan)))


def frame(plan: Plan, columns: Iterable[str], rows: Iterable[Iterable[Any]]) -> pd.DataFrame:
    """Fractions as floats, each length as the tape reads it beside it."""
    table = [list(row) for row in rows]
    made: dict[str, list[Any]] = {}
    for k, column in enumerate(columns):
        values = [row[k] for row in table]
        made[column] = [float(value) if isinstance(value, Fraction) else value for value in values]
        if column in LENGTH_COLUMNS:
            made[f"{column}_text"] = [show(value, plan.unit, plan.tape) for value in values]
    return pd.DataFrame(made)
