"""If these fail, `check` proves more than is true, needs the optimiser to prove it, or lets an altered plan pass."""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cutplan.checking.arrangement import plain
from cutplan.checking.audit import audit
from cutplan.checking.proof import Claim, prove
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import ProfilePlan, Tier
from tests.cutting.shops import cut, patterns, profile
from tests.cutting.test_against_others import best_by_model, random_case
from tests.sweeps import sweep


def with_tree(plan: ProfilePlan, tree: dict[str, object]) -> ProfilePlan:
    return replace(plan, certificate={**plan.certificate, "tree": tree})


def any_leaf(plan: ProfilePlan, chance: random.Random) -> dict[str, object]:
    """Duals of no merit."""
    coin = plan.certificate["coin"]
    duals = [{"length": d.length, "value": chance.randint(0, int(d.length * 300 / coin))} for d in plan.demand]
    return {"scale": 1000, "duals": duals, **({"cover": True} if chance.random() < 0.5 else {})}


def any_split(plan: ProfilePlan, chance: random.Random, below: dict[str, object],
              above: dict[str, object]) -> dict[str, object]:
    """Two boxes, by the number of sticks of any kind."""
    entry = chance.choice(plan.certificate["stock"])
    kind = {key: value for key, value in entry.items() if key not in ("qty", "tag")}
    kind["source"] = "rack" if entry["tag"] else "new"
    return {"stick": kind, "at_most": chance.randint(0, 3), "below": below, "above": above}


@pytest.mark.parametrize("seed", sweep(16, 40))
def test_no_certificate_proves_more_than_the_optimum(seed: int) -> None:
    """Any duals, over any split: the bound stays at or below the optimum of a separate model."""
    rail, demand = random_case(seed)
    best = best_by_model(rail, demand, "cost")
    if best is None:
        pytest.skip("there is no plan")
    plan = cut(rail, demand)
    chance = random.Random(seed)
    for _ in range(10):
        tree = any_split(plan, chance, any_leaf(plan, chance), any_leaf(plan, chance))
        assert Claim(with_tree(plan, chance.choice([any_leaf(plan, chance), tree]))).bound() * 100 <= best


def leaf_by_trying(plan: ProfilePlan, leaf: dict[str, Any], limits: dict[Fraction, tuple[int, int]],
                   prices: dict[Fraction, Fraction]) -> Fraction:
    """What a leaf proves, from every pattern and every number of sticks."""
    cost, coin, scale = plan.tiers[0].value, plan.certificate["coin"], leaf["scale"]
    if any(low > high for low, high in limits.values()):
        return cost
    demand = {entry.length: entry.qty for entry in plan.demand}
    worth = {entry["length"]: entry["value"] for entry in leaf["duals"]}
    floor = Fraction(0)
    if worth.keys() <= demand.keys() and min(worth.values(), default=0) >= 0:
        total = Fraction(sum(demand[length] * pi for length, pi in worth.items()))
        lengths = list(demand)
        for stick, (low, high) in limits.items():
            rail = profile([(stick, 1, None)], plan.kerf)
            best = max((sum(a * worth.get(length, 0) for a, length in zip(pattern, lengths, strict=True))
                        for pattern in patterns(rail, lengths, list(demand.values()), stick)), default=0)
            excess = best - scale * prices[stick] / coin
            total -= max(low * excess, high * excess)
        floor = total * coin / scale
    sums = {Fraction(0)}
    for stick, (low, high) in limits.items():
        sums = {so_far + n * prices[stick] for so_far in sums for n in range(low, high + 1)}
    least = min(sums)  # sticks that have to be drawn count even where the duals are no duals
    return min([cost, *(total for total in sums if total >= floor)]) if floor or least >= cost else Fraction(0)


def tree_by_trying(plan: ProfilePlan, node: dict[str, Any], limits: dict[Fraction, tuple[int, int]],
                   prices: dict[Fraction, Fraction]) -> Fraction:
    if "stick" not in node:
        return leaf_by_trying(plan, node, limits, prices)
    stick, at = node["stick"]["length"], node["at_most"]
    low, high = limits[stick]
    return min(tree_by_trying(plan, node["below"], {**limits, stick: (low, min(high, at))}, prices),
               tree_by_trying(plan, node["above"], {**limits, stick: (max(low, at + 1), high)}, prices))


def random_tree(chance: random.Random, plan: ProfilePlan, prices: dict[Fraction, Fraction],
                depth: int) -> dict[str, Any]:
    """Good duals, bad ones and absurd ones, over any splits."""
    if depth and chance.random() < 0.7:
        length, price = chance.choice(list(prices.items()))
        return {"stick": {"length": length, "price": price, "source": "new"}, "at_most": chance.randint(0, 3),
                "below": random_tree(chance, plan, prices, depth - 1),
                "above": random_tree(chance, plan, prices, depth - 1)}
    scale = chance.choice([1, 10, 10**13, 10**20])
    per = min(price / length for length, price in prices.items()) / plan.certificate["coin"] * scale
    worths = {d.length: int(d.length * per * Fraction(chance.choice([80, 95, 100, 103, 120]), 100))
              for d in plan.demand if chance.random() < 0.9}
    if chance.random() < 0.1:
        worths[Fraction(17, 3)] = 1  # of nothing that is asked for
    if worths and chance.random() < 0.1:
        worths[min(worths)] = -1
    return {"scale": scale, "duals": [{"length": length, "value": value} for length, value in worths.items()]}


@pytest.mark.parametrize("seed", range(25))
def test_any_certificate_proves_what_trying_everything_gives_and_no_more(seed: int) -> None:
    chance = random.Random(seed)
    prices = {Fraction(length): Fraction(chance.randint(60, 120), chance.choice([10, 100]))
              for length in chance.sample(range(40, 100), chance.choice([1, 2, 3]))}
    rail = profile([(length, price, None) for length, price in prices.items()], chance.choice([0, "1/8"]))
    plan = cut(rail, {Fraction(chance.randint(60, 300), 8): chance.randint(1, 3) for _ in range(chance.randint(1, 3))})
    cost, pieces = plan.tiers[0].value, sum(entry.qty for entry in plan.demand)
    limits = {length: (0, min(pieces, int(cost // price))) for length, price in prices.items()}
    for _ in range(15):
        tree = random_tree(chance, plan, prices, 3)
        right = tree_by_trying(plan, tree, limits, prices)
        claimed = cost * chance.randint(0, 20) / 20
        for stated in (cost, claimed):
            stating = replace(plan, tiers=(Tier("cost", cost, stated), *plan.tiers[1:]))
            shown = Claim(with_tree(stating, tree)).bound()
            assert shown <= right
            assert (shown >= stated) == (right >= stated)
            assert shown == right or stated < cost


def test_progress_is_told_for_each_part_of_the_proof() -> None:
    plan = cut(profile([(100, 1, None), (90, "0.95", None)]), {45: 97, 36: 610, 31: 395, 14: 211})
    told: list[str] = []
    leaf = {"scale": 1, "duals": [{"length": entry.length, "value": 1} for entry in plan.demand]}
    kind = {"length": Fraction(90), "price": Fraction("0.95"), "source": "new"}
    prove(with_tree(plan, {"stick": kind, "at_most": 3, "below": leaf, "above": leaf}), told.append)
    assert {"rail: checking the proof, part 1 of 2", "rail: checking the proof, part 2 of 2"} <= set(told)


def test_boxes_that_share_duals_are_worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many tables as there are different duals, for a tree with hundreds of leaves."""
    plan = cut(profile([(100, 1, None), (90, "0.95", None)]), {45: 97, 36: 610, 31: 395, 14: 211})
    tables: list[object] = []
    whole = plain.best_values
    monkeypatch.setattr(plain, "best_values", lambda *given: tables.append(given) or whole(*given))
    leaf = {"scale": 1000, "duals": [{"length": entry.length, "value": int(entry.length * 9)} for entry in plan.demand]}
    kind = {"length": Fraction(90), "price": Fraction("0.95"), "source": "new"}
    tree: dict[str, Any] = leaf
    for at in range(300):
        tree = {"stick": kind, "at_most": 300 - at, "below": tree, "above": leaf}
    prove(with_tree(plan, tree))
    assert 1 <= len(tables) <= 2  # roughly and, where that is not enough, exactly


def test_a_bound_that_the_duals_do_not_give_is_refused() -> None:
    plan = cut(profile([(100, 1, None)]), {45: 97, 36: 610, 31: 395, 14: 211})
    weaker = with_tree(plan, {"scale": 1, "duals": []})
    assert prove(plan).ok
    assert not prove(weaker).ok


def test_every_number_of_a_stick_that_is_altered_is_found() -> None:
    rail = profile([(120, "24.80", None), (192, "38.90", 5)], "1/8", keep_from=Fraction(30))
    plan = cut(rail, {36: 8, 42: 12})
    stick = plan.sticks[0]
    for change in (
        {"count": stick.count + 1}, {"length": stick.length + 1}, {"price": stick.price - 1},
        {"offcut": stick.offcut + 1}, {"keep": not stick.keep}, {"cuts": stick.cuts[1:]},
        {"cuts": (replace(stick.cuts[0], start=stick.cuts[0].start + 1), *stick.cuts[1:])},
        {"cuts": (replace(stick.cuts[0], mark="another"), *stick.cuts[1:])},
    ):
        altered = replace(plan, sticks=(replace(stick, **change), *plan.sticks[1:]))
        assert audit(Plan("in", (altered,))), change


@pytest.mark.parametrize("sawn", [0, 1, 2])
@pytest.mark.parametrize(("head", "tail"), [("0", "3/4"), ("0", "0"), ("1/2", "0"), ("1/4", "3/4"), ("0", "1/4")])
def test_trims_that_no_sawn_end_explains_are_found(sawn: int, head: str, tail: str) -> None:
    """Of trims of 1/2 and 3/4 a sawn end loses nothing, be it squared first or last; new stock has no sawn end."""
    rail = profile([(120, "24.80", None)], "1/8", head_trim=Fraction(1, 2), tail_trim=Fraction(3, 4))
    rail = replace(rail, stock=(*rail.stock, rail.offcut("CCC", Fraction(80), sawn=sawn)))
    plan = cut(rail, {70: 2})
    right = {0: ("1/2", "3/4"), 1: ("1/2", "0"), 2: ("0", "0")}[sawn]
    assert not audit(Plan("in", (plan,)))
    for s, stick in enumerate(plan.sticks):
        trims = {"head_trim": Fraction(head), "tail_trim": Fraction(tail)}
        cuts = tuple(replace(cut, start=trims["head_trim"], end=trims["head_trim"] + cut.length) for cut in stick.cuts)
        left = stick.length - cuts[-1].end - rail.kerf
        forged = replace(stick, cuts=cuts, offcut=left, **trims)
        stock = [{**entry, **trims} if entry["tag"] == stick.tag else entry for entry in plan.certificate["stock"]]
        altered = replace(plan, sticks=(*plan.sticks[:s], forged, *plan.sticks[s + 1:]),
                          certificate={**plan.certificate, "stock": stock})
        allowed = stick.tag is not None and (head, tail) in (right, ("0", "3/4"), ("1/2", "0"), ("0", "0"))
        faults = [text for text in audit(Plan("in", (altered,))) if "totals" not in text]
        assert bool(faults) != allowed, (stick.source, faults)
        unlisted = replace(altered, certificate=plan.certificate)  # the stock is not as the sticks say
        turned_round = sawn == 1 and stick.tag is not None and (head, tail) in (("0", "3/4"), ("1/2", "0"))
        if not turned_round and (stick.head_trim, stick.tail_trim) != (forged.head_trim, forged.tail_trim):
            assert any("the stock has" in text for text in audit(Plan("in", (unlisted,))))


def test_a_bound_above_the_plan_is_found() -> None:
    plan = cut(profile([(100, 1, None)]), {45: 3})
    altered = replace(plan, tiers=(Tier("cost", plan.tiers[0].value, plan.tiers[0].value + 1), *plan.tiers[1:]))
    assert audit(Plan("in", (altered,)))


def test_check_loads_no_solver(tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    file.write_text(to_json(Plan("in", (cut(profile([(100, 1, None)], "1/8"), {45: 9, 31: 4}),))))
    code = (
        "import sys; from cutplan.cli import app\n"
        f"try: app(['check', {str(file)!r}])\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        "loaded = {'ortools', 'pandas', 'numpy', 'cutplan.cutting'} & sys.modules.keys() - {'numpy'}\n"
        "assert not loaded, loaded\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "no plan is cheaper" in done.stdout
