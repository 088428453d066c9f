"""If these fail, a plain floor lies above what can be done, or a bound that only a search vouches for is
called proven."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.checking.proof import prove
from cutplan.plans.grounds import counted_setups, grounded, least_setups, least_used
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import ProfilePlan
from cutplan.problems import InputProblems
from cutplan.sheets.bench.cover import known_of_cost
from cutplan.sheets.plan import proof_text
from cutplan.sheets.words import Writer
from tests.commands import run
from tests.cutting.renewed import renewed
from tests.cutting.shops import cut, patterns, profile
from tests.cutting.test_against_others import best_by_model, random_case
from tests.plans.parsing import from_json
from tests.sweeps import sweep


@pytest.mark.parametrize("seed", sweep(24, 60))
def test_no_plain_floor_lies_above_the_optimum(seed: int) -> None:
    """Against a separate model of the length used up, and the most lengths that any pattern cuts."""
    rail, demand = random_case(seed)
    cheapest = best_by_model(rail, demand, "cost")
    if cheapest is None:
        pytest.skip("no plan at all")
    plan = cut(rail, demand)
    used = best_by_model(rail, demand, "used up", cheapest)
    assert used is not None
    assert least_used(plan) * 768 <= used
    lengths = [F(str(length)) for length in demand]
    together = max(sum(map(bool, one)) for entry in rail.stock
                   for one in patterns(rail, lengths, [1] * len(lengths), entry.length - sum(rail.trims(entry))))
    assert counted_setups(plan) == -(-len(lengths) // together) <= least_setups(plan) <= plan.totals.patterns


def test_where_nothing_can_be_kept_one_length_at_one_price_proves_what_is_used_up() -> None:
    plan = cut(profile([(100, 1, None)], "1/8"), {45: 9, 31: 4})
    assert plan.tiers[1].status == "proven"
    assert prove(plan).others[0] == "600 used up: proven: no plan of this cost uses up less"


def claimed(plan: ProfilePlan, bound: F) -> ProfilePlan:
    """The same plan with duals that prove nothing, and a search's word for the bound instead."""
    tree = {"scale": 1, "duals": [], "search": bound}
    return grounded(replace(plan, certificate={**plan.certificate, "tree": tree}))


def test_a_claim_by_search_has_words_and_a_status_of_its_own(tmp_path: Path) -> None:
    plan = cut(profile([(100, 10, None)]), {45: 97, 36: 61, 31: 39, 14: 21})
    assert plan.tiers[0].status == "proven"
    forged = claimed(plan, plan.tiers[0].value)
    file = tmp_path / "plan.json"
    file.write_text(to_json(Plan("in", (forged,))))
    fields = json.loads(file.read_text())["profiles"][0]
    assert fields["proof"]["status"] == fields["tiers"][0]["status"] == "search"
    checked = run("check", file)
    assert checked.exit_code == 0
    first = checked.stdout.splitlines()[1]
    proven, claim = first.split("; by search, not checked here: ")
    assert proven.endswith("nothing is proven of its cost"), "duals of nothing prove nothing"
    assert claim == "no plan is cheaper"
    write = Writer("in", F(1, 16), "")
    assert "proven by search, no plan is cheaper" in proof_text([forged], write)
    assert known_of_cost([plan]).startswith("Proven: ")
    assert known_of_cost([plan, forged]).startswith("Proven by search: ")


@pytest.mark.parametrize("where", ["proof", "tiers"])
def test_a_claim_by_search_that_calls_itself_proven_is_refused(where: str) -> None:
    plan = cut(profile([(100, 10, None)]), {45: 97, 36: 61, 31: 39, 14: 21})
    fields = json.loads(to_json(Plan("in", (claimed(plan, plan.tiers[0].value),))))
    place = fields["profiles"][0][where]
    (place if where == "proof" else place[0])["status"] = "proven"
    with pytest.raises(InputProblems, match='"search" would be right'):
        from_json(renewed(fields), "plan.json")


@pytest.mark.parametrize("tier", [1, 2])
def test_a_later_tier_that_calls_a_search_proven_is_refused(tier: int) -> None:
    """The value stated as the bound, with nothing in the file that proves it."""
    plan = cut(profile([(100, 10, None), (70, 7, None)], keep_from=F(20)), {45: 9, 36: 6, 31: 3, 14: 2})
    tiers = [*plan.tiers]
    tiers[tier] = replace(tiers[tier], bound=tiers[tier].value)
    forged = grounded(replace(plan, tiers=tuple(tiers)))
    assert forged.tiers[tier].status == "search"
    fields = json.loads(to_json(Plan("in", (forged,))))
    fields["profiles"][0]["tiers"][tier]["status"] = "proven"
    with pytest.raises(InputProblems, match='"search" would be right'):
        from_json(renewed(fields), "plan.json")
    assert "by search, not checked here" in prove(forged).others[tier - 1]


def test_an_offcut_that_costs_something_is_refused() -> None:
    plan = cut(profile([(100, 10, None)]), {45: 9})
    stock = [*plan.certificate["stock"], {"length": F(60), "price": F(1), "qty": 1, "tag": "CCC"}]
    priced = replace(plan, certificate={**plan.certificate, "stock": stock})
    with pytest.raises(InputProblems, match=r"stock\[1\].price: 1 is asked for an offcut"):
        from_json(to_json(Plan("in", (priced,))), "plan.json")
