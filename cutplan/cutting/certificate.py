"""Writing down what proves the bound on cost, for `check` to prove again (see cutplan.checking.proof)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from cutplan.cutting.arrangement.choosing import arranger_of
from cutplan.cutting.exact.branch_and_bound import BoxNode, Optimum, proven_alone, proven_by
from cutplan.cutting.exact.verdict import PairProof, Refuted
from cutplan.cutting.lp import bounds
from cutplan.cutting.lp.setup_bound import SetupBound
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import Objective, cheapest
from cutplan.ends import lying
from cutplan.shop import Profile, Stock


def proven_cost(instance: Instance, first: Optimum, cost: int) -> int:
    """The least cost, in coins, that the tree of a search proves, for a plan of this cost: what may be stated."""
    return min(first.bound, proven_by(cheapest(instance), first.root, cost, searches=True))


def write(profile: Profile, instance: Instance, first: Optimum, cost: int, bound: int,
          setups: SetupBound | None = None) -> dict[str, Any]:
    """The stock the bound speaks of, the tree of boxes with each leaf's duals, and the multipliers for the set-ups.

    `cost` and `bound` in coins: the plan's own, and what is stated of it.
    """
    arranger = arranger_of(profile)
    return {
        "stock": [
            {"length": entry.length, "price": entry.price, "qty": entry.qty, "tag": entry.tag,
             **arranger.told(entry), **own_trims(profile, entry)}
            for entry in profile.stock
        ],
        "coin": instance.coin,
        "tree": Tree(profile, instance, cost, bound).branch(first.root, None),
        **({} if setups is None else {"setups": multipliers(profile, instance, setups)}),
    }


def multipliers(profile: Profile, instance: Instance, setups: SetupBound) -> dict[str, Any]:
    """What proves a bound on set-ups; `limits` stand in the order of the stock, 0 for what nothing can be cut from."""
    duals = setups.duals
    limits = {entry: duals.limits[s] for s, group in enumerate(instance.stock) for entry in group}
    return {
        "scale": duals.scale, "unit": instance.unit, "cost": duals.cost, "used": duals.used,
        "duals": dual_fields(instance, duals.sizes), "limits": [limits.get(entry, 0) for entry in profile.stock],
    }


def dual_fields(instance: Instance, duals: Sequence[int]) -> list[dict[str, Any]]:
    """What a piece of each length and way of lying is worth, where that is something."""
    return [{"length": length, "value": pi, **lying(lies)}
            for (length, lies), pi in by_asked(instance, duals).items() if pi]


@dataclass(frozen=True)
class Tree:
    """Writes the boxes that prove `bound` of a plan of this `cost`."""

    profile: Profile
    instance: Instance
    cost: int
    bound: int

    @cached_property
    def objective(self) -> Objective:
        return cheapest(self.instance)

    def branch(self, box: BoxNode, above: bounds.Bound | None) -> dict[str, Any]:
        """One box: how it was split, or the duals that bound it (those of the boxes above where it has none).

        A plan found after a box was split may have made the split needless: the fewer leaves, the sooner it is checked.
        """
        dual = box.dual or above
        if box.split is None or box.below is None or box.above is None or self.proves(box, dual):
            return self.leaf(box, dual)
        s, at = box.split
        if self.instance.sticks[s].emergency:  # a plan has none of these
            return self.branch(box.below, dual)
        return {
            "stick": kind(self.profile, self.instance.stock[s][0]),
            "at_most": at,
            "below": self.branch(box.below, dual),
            "above": self.branch(box.above, dual),
        }

    def proves(self, box: BoxNode, dual: bounds.Bound | None, cover: bool = True) -> bool:
        return proven_alone(self.objective, box, self.cost, dual, cover) >= self.bound

    def leaf(self, box: BoxNode, dual: bounds.Bound | None) -> dict[str, Any]:
        """The duals, where any are needed; where they prove less than is stated, the proof over pairs, or what
        another search proved."""
        instance = self.instance
        written: dict[str, Any] = {"scale": 1, "duals": []} if dual is None or self.proves(box, None) else {
            "scale": dual.duals.scale,
            "duals": dual_fields(instance, dual.duals.sizes),
        }
        if self.proves(box, dual):
            return written if self.proves(box, dual, cover=False) else {**written, "cover": True}
        if box.pairs is not None:
            written["pairs"] = pairs_fields(box.pairs)
        elif box.searched is not None:
            written["search"] = min(box.searched, self.cost) * instance.coin
        return written


def pairs_fields(proof: PairProof) -> dict[str, Any]:
    """Why so many sticks are not enough: the nodes of the tree, each before its halves."""
    return {"sticks": proof.sticks, "nodes": [
        {"duals": list(node.worths), "rows": [{"weights": list(map(list, weights)), "dual": dual}
                                              for weights, dual in node.rows]}
        if isinstance(node, Refuted) else {"pair": list(node)} for node in proof.nodes]}


def by_asked(instance: Instance, duals: Sequence[int]) -> dict[tuple[Fraction, str], int]:
    """The dual of each length and way of lying, which is the same however many pieces belong together."""
    return dict(zip(zip(instance.lengths, instance.lies, strict=True), duals, strict=True))


def kind(profile: Profile, stock: Stock) -> dict[str, Any]:
    """What tells one stick type from another."""
    said = {"length": stock.length, "price": stock.price, "source": "new" if stock.tag is None else "rack"}
    return {**said, **arranger_of(profile).told(stock), **own_trims(profile, stock)}


def own_trims(profile: Profile, stock: Stock) -> dict[str, Fraction]:
    """The trims that are not the profile's."""
    said = zip(("head_trim", "tail_trim"), profile.trims(stock), (profile.head_trim, profile.tail_trim), strict=True)
    return {key: trim for key, trim, usual in said if trim != usual}
