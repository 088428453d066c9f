"""If this fails, `cut` has come to do much more for each line of a large order after its time limit is over, so that it
keeps the limit no longer: the same is made twice, or piece by piece in fractions where whole numbers would do.

Calls are counted, not seconds: they are the same on any machine, however busy.
"""

from __future__ import annotations

import cProfile
import pstats
import random
from collections.abc import Callable
from concurrent.futures import Executor, Future
from fractions import Fraction as F
from functools import partial
from typing import Any

from cutplan.orders import Piece
from cutplan.planning.solve import solve
from cutplan.plans.plan import Plan, to_json
from cutplan.running.budget import Budget
from cutplan.sheets.csvout import cuts_csv
from cutplan.sheets.plan import plan_text
from cutplan.shop import Profile, Shop, Stock

LINES = 2_000
# calls for each line that are allowed: a tenth to a quarter more than were made when this was written
SOLVING = 800
WRITING: dict[Callable[[Plan], str], int] = {to_json: 280, cuts_csv: 330, plan_text: 490}


def calls(make: Any) -> tuple[Any, int]:
    """What is made, and how many calls of functions that took."""
    counter = cProfile.Profile()
    made = counter.runcall(make)
    return made, pstats.Stats(counter).total_calls  # type: ignore[attr-defined]


def a_large_order() -> tuple[list[Piece], Shop]:
    """Lengths of a tape, each asked for a few times by different marks, from sticks of three lengths."""
    chance = random.Random(0)
    stock = tuple(Stock(F(feet * 12), F(feet)) for feet in (16, 20, 24))
    bar = Profile("bar", "bar", stock, F(1, 8), F(1, 2), keep_from=F(36))
    pieces = [Piece(f"P{k}", "bar", F(chance.randint(160, 640), 8), chance.randint(1, 4)) for k in range(LINES)]
    return pieces, Shop("shop", "in", "", F(1, 8), F(12), 1, F(1, 16), {"bar": bar}, {})


class Here(Executor):
    """All work is done here and at once, where it can be counted."""

    def submit(self, work: Callable[..., Any], /, *about: Any, **named: Any) -> Future[Any]:
        done: Future[Any] = Future()
        done.set_result(work(*about, **named))
        return done


def test_a_plan_without_time_to_search_takes_few_calls_a_line() -> None:
    pieces, shop = a_large_order()
    solve(pieces[:9], shop, Budget(0, workers=Here()))  # loads what every plan needs
    result, made = calls(lambda: solve(pieces, shop, Budget(0, workers=Here())))
    assert made < SOLVING * LINES
    for write, allowed in WRITING.items():
        _, written = calls(partial(write, result.plan))
        assert written < allowed * LINES, write.__name__
