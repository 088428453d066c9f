"""From a week of gates and railing bays to pieces, and from pieces to the best way to cut them, with proof.

    import cutplan as cp

    result = cp.cut("week.csv", "shop.toml", limit=60)
    print(result.summary())
    result.plan.save("plan.json")

`Model` builds a shop and its pieces in Python; `cut` takes files, DataFrames and records. All lengths are exact.
"""

from __future__ import annotations

TYPE_CHECKING = False  # typing and importlib take longer to load than all the command needs to hear the stop key
if TYPE_CHECKING:
    from typing import Any

    from cutplan.api.calls import check, cut, solve, take_off
    from cutplan.api.inputs import read_pieces, read_shop, read_week
    from cutplan.api.model import Model
    from cutplan.checking.sound import Checked
    from cutplan.planning.result import Result
    from cutplan.plans.plan import Plan
    from cutplan.problems import InputProblems, NoPlan
    from cutplan.running.budget import Budget
    from cutplan.shop import Profile, Shop

__all__ = [
    "Budget", "Checked", "InputProblems", "Model", "NoPlan", "Plan", "Profile", "Result", "Shop",
    "check", "cut", "read_pieces", "read_shop", "read_week", "solve", "take_off",
]  # fmt: skip

ROOMS = {  # where each name lives; loaded when it is first asked for, so that the command line starts at once
    "Budget": "running.budget", "Checked": "checking.sound", "InputProblems": "problems", "Model": "api.model",
    "NoPlan": "problems", "Plan": "plans.plan", "Profile": "shop", "Result": "planning.result", "Shop": "shop",
    "check": "api.calls", "cut": "api.calls", "read_pieces": "api.inputs", "read_shop": "api.inputs",
    "read_week": "api.inputs", "solve": "api.calls", "take_off": "api.calls",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in ROOMS:
        raise AttributeError(f"module 'cutplan' has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(f"cutplan.{ROOMS[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
