"""Writing down what proves the bound on cost, for `check` to prove again (see cutplan.cutting.proof)."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from cutplan.cutting.instance import Instance, first_hole
from cutplan.cutting.optimise import Box, Optimum
from cutplan.shop import Profile, Stock


def write(profile: Profile, instance: Instance, first: Optimum) -> dict[str, Any]:
    """The stock the bound speaks of, and the tree of boxes with each leaf's duals."""
    return {
        "stock": [
            {"length": entry.length, "price": entry.price, "qty": entry.qty, "tag": entry.tag,
             **({"first": first_hole(profile, entry)} if profile.routing else {}), **own_trims(profile, entry)}
            for entry in profile.stock
        ],
        "coin": instance.coin,
        "tree": branch(profile, instance, first.root, None),
    }


def branch(profile: Profile, instance: Instance, box: Box, above: Box | None) -> dict[str, Any]:
    """One box: how it was split, or the duals that bound it (those of the box above where it has none)."""
    if box.split is not None and box.below is not None and box.above is not None:
        s, at = box.split
        return {
            "stick": kind(profile, instance.stock[s][0]),
            "at_most": at,
            "below": branch(profile, instance, box.below, box),
            "above": branch(profile, instance, box.above, box),
        }
    leaf = box if box.dual is not None else above
    if leaf is None or leaf.dual is None:
        return {"scale": 1, "duals": []}
    duals = leaf.dual.duals
    written: dict[str, Any] = {
        "scale": duals.scale,
        "duals": [
            {"length": length, "value": pi, **({"centred": centred} if centred else {})}
            for (length, centred), pi in by_asked(instance, duals.sizes).items() if pi
        ],
    }
    if box.searched is not None:
        written["search"] = box.searched * instance.coin
    return written


def by_asked(instance: Instance, duals: Sequence[int]) -> dict[tuple[Fraction, str], int]:
    """The dual of each length and centring, which is the same however many pieces belong together."""
    return dict(zip(zip(instance.lengths, instance.centred, strict=True), duals, strict=True))


def kind(profile: Profile, stock: Stock) -> dict[str, Any]:
    """What tells one stick type from another."""
    said = {"length": stock.length, "price": stock.price, "source": "new" if stock.tag is None else "rack"}
    first = {"first": first_hole(profile, stock)} if profile.routing else {}
    return {**said, **first, **own_trims(profile, stock)}


def own_trims(profile: Profile, stock: Stock) -> dict[str, Fraction]:
    """The trims that are not the profile's."""
    said = zip(("head_trim", "tail_trim"), profile.trims(stock), (profile.head_trim, profile.tail_trim), strict=True)
    return {key: trim for key, trim, usual in said if trim != usual}
