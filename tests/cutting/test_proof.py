"""If these fail, `check` proves more than is true, needs the optimiser to prove it, or lets an altered plan pass."""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.cutting.audit import audit
from cutplan.cutting.plan import Plan, ProfilePlan, Tier
from cutplan.cutting.planfile import to_json
from cutplan.cutting.proof import Claim, prove
from tests.cutting.shops import cut, profile
from tests.cutting.test_against_others import best_by_model, random_case


def with_tree(plan: ProfilePlan, tree: dict[str, object]) -> ProfilePlan:
    return replace(plan, certificate={**plan.certificate, "tree": tree})


@pytest.mark.parametrize("seed", [s for s in range(40) if best_by_model(*random_case(s), "cost") is not None])
def test_no_certificate_proves_more_than_the_optimum(seed: int) -> None:
    """Any duals, over any split: the bound stays at or below the optimum of a separate model."""
    rail, demand = random_case(seed)
    best = best_by_model(rail, demand, "cost")
    assert best is not None
    plan = cut(rail, demand)
    chance = random.Random(seed)
    coin = plan.certificate["coin"]

    def leaf() -> dict[str, object]:
        duals = [{"length": d.length, "value": chance.randint(0, int(d.length * 300 / coin))} for d in plan.demand]
        return {"scale": 1000, "duals": duals}

    for _ in range(10):
        entry = chance.choice(plan.certificate["stock"])
        kind = {key: value for key, value in entry.items() if key not in ("qty", "tag")}
        kind["source"] = "rack" if entry["tag"] else "new"
        tree = {"stick": kind, "at_most": chance.randint(0, 3), "below": leaf(), "above": leaf()}
        assert Claim(with_tree(plan, chance.choice([leaf(), tree]))).bound() * 100 <= best


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
    """Of trims of 1/2 and 3/4 a sawn end loses nothing; new stock has no sawn end, and nothing else is between."""
    rail = profile([(120, "24.80", None)], "1/8", head_trim=Fraction(1, 2), tail_trim=Fraction(3, 4))
    rail = replace(rail, stock=(*rail.stock, rail.offcut("CCC", Fraction(80), sawn=sawn)))
    plan = cut(rail, {70: 2})
    right = {0: ("1/2", "3/4"), 1: ("0", "3/4"), 2: ("0", "0")}[sawn]
    assert not audit(Plan("in", (plan,)))
    for s, stick in enumerate(plan.sticks):
        trims = {"head_trim": Fraction(head), "tail_trim": Fraction(tail)}
        cuts = tuple(replace(cut, start=trims["head_trim"], end=trims["head_trim"] + cut.length) for cut in stick.cuts)
        left = stick.length - cuts[-1].end - rail.kerf
        forged = replace(stick, cuts=cuts, offcut=left, **trims)
        stock = [{**entry, **trims} if entry["tag"] == stick.tag else entry for entry in plan.certificate["stock"]]
        altered = replace(plan, sticks=(*plan.sticks[:s], forged, *plan.sticks[s + 1:]),
                          certificate={**plan.certificate, "stock": stock})
        allowed = stick.tag is not None and (head, tail) in (right, ("0", "3/4"), ("0", "0"))
        faults = [text for text in audit(Plan("in", (altered,))) if "totals" not in text]
        assert bool(faults) != allowed, (stick.source, faults)
        unlisted = replace(altered, certificate=plan.certificate)  # the stock is not as the sticks say
        if (stick.head_trim, stick.tail_trim) != (forged.head_trim, forged.tail_trim):
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
        "loaded = {'ortools', 'numpy', 'pandas'} & sys.modules.keys()\n"
        "assert not loaded, loaded\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "no plan is cheaper" in done.stdout
