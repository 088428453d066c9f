"""From pieces and stock to a plan, and its proof. Knows nothing of gates: it would serve any shop that cuts lengths.

All that other rooms may use of it stands here. `cut_pieces` is the whole way; the rest is for those who plan often and
want less of each plan:

- what is asked of a profile: `refuse_misplaced`, `refuse_hopeless`, `demand_of`, `asked_of`, `quantities`
- its problem in whole numbers: `instance_of`, or `build_instance` where nobody is named for what cannot be had; its
  patterns by what they are worth are `Instance.price`'s, for each `Use` of a stick
- plans: `cheapest_plan` (the first tier), `uses_least` (then the second), `finish` (then all others), `draft` (one to
  compare by), `least_cost` (the first tier of an instance), `as_given` (one made elsewhere, in the shop's terms)
- how many set-ups a plan is: `set_ups`; what sticks must be worth to be enough at all: `worths_of_sticks`
- whole numbers by CP-SAT, with counted work: `solved`
- bounds of many sets of lengths, without a plan: `DualPool`
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cutplan.cutting.arrangement.protocol import Asked, Priced, Use
    from cutplan.cutting.exact.cpsat import solved
    from cutplan.cutting.lp.pool import DualPool
    from cutplan.cutting.lp.worths import worths_of_sticks
    from cutplan.cutting.patterns import Counts, Pattern, Solution
    from cutplan.cutting.problem.demand import (
        asked_of,
        demand_of,
        instance_of,
        quantities,
        refuse_hopeless,
        refuse_misplaced,
    )
    from cutplan.cutting.problem.instance import Instance, build_instance
    from cutplan.cutting.setup import set_ups
    from cutplan.cutting.tiers import (
        CuttingParams,
        Job,
        as_given,
        cheapest_plan,
        draft,
        finish,
        least_cost,
        uses_least,
    )
    from cutplan.orders import Piece
    from cutplan.plans.plan import Plan
    from cutplan.running.budget import Budget
    from cutplan.shop import Shop

__all__ = [
    "Asked", "Counts", "CuttingParams", "DualPool", "Instance", "Job", "Pattern", "Priced", "Solution", "Use",
    "as_given", "asked_of", "build_instance", "cheapest_plan", "cut_pieces", "demand_of", "draft", "finish",
    "instance_of", "least_cost", "quantities", "refuse_hopeless", "refuse_misplaced", "set_ups", "solved",
    "uses_least", "worths_of_sticks",
]  # fmt: skip

PLACES = {  # where each name lives; loaded when it is first asked for, because the solvers take their time to load
    "arrangement.protocol": ("Asked", "Priced", "Use"), "exact.cpsat": ("solved",), "setup": ("set_ups",),
    "lp.pool": ("DualPool",), "lp.worths": ("worths_of_sticks",),
    "patterns": ("Counts", "Pattern", "Solution"),
    "problem.demand": ("asked_of", "demand_of", "instance_of", "quantities", "refuse_hopeless", "refuse_misplaced"),
    "problem.instance": ("Instance", "build_instance"),
    "tiers": ("CuttingParams", "Job", "as_given", "cheapest_plan", "draft", "finish", "least_cost", "uses_least"),
}


def cut_pieces(pieces: Sequence[Piece], shop: Shop, budget: Budget | None = None,
               params: CuttingParams | None = None, *, spare: Fraction | None = None,
               trade: Sequence[Fraction] = ()) -> Plan:
    """The best plan found for these pieces with this budget (None: to the end), and what is proven of it.

    `params`: what the methods are set to (None: as ever). `spare`: the share of the least cost that each profile may
    cost more to have fewer set-ups (None: set-ups come last); `trade`: the shares of other plans to compare with, which
    each profile's plan then has with it.
    Raises NoPlan where a piece is longer than any stick yields or the stock runs out, InputProblems for a profile
    that cannot be cut.
    """
    from cutplan.cutting.profiles import cut_profiles
    from cutplan.cutting.tiers import CuttingParams, SawAims
    from cutplan.running.budget import Budget

    return cut_profiles(pieces, shop, budget or Budget(), params or CuttingParams(),
                        SawAims(shop.stack, spare, tuple(trade)))


def __getattr__(name: str) -> Any:
    for place, names in PLACES.items():
        if name in names:
            globals()[name] = value = getattr(import_module(f"cutplan.cutting.{place}"), name)
            return value
    raise AttributeError(f"module 'cutplan.cutting' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
