"""Writing down what proves the bound on cost, for `check` to prove again (see cutplan.cutting.proof)."""

from __future__ import annotations

from typing import Any

from cutplan.cutting.instance import Instance
from cutplan.cutting.optimise import Optimum
from cutplan.shop import Profile


def write(profile: Profile, instance: Instance, first: Optimum) -> dict[str, Any]:
    """The duals of the LP bound, the stock it speaks of, and whether a search proved more than they do."""
    written: dict[str, Any] = {
        "stock": [
            {"length": entry.length, "price": entry.price, "qty": entry.qty, "tag": entry.tag}
            for entry in profile.stock
        ],
        "scale": 1,
        "duals": [],
        "search": first.searched,
    }
    if first.dual is not None:
        duals = first.dual.duals
        written["scale"] = duals.scale
        written["coin"] = instance.coin
        written["duals"] = [
            {"length": length, "value": pi} for length, pi in zip(instance.lengths, duals.sizes, strict=True) if pi
        ]
    return written
