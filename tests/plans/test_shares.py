"""If these fail, gates and bays are charged with more or less waste than their plan has."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import load_inputs
from cutplan.plans.plan import Plan
from cutplan.plans.shares import by_owner, shares, together
from cutplan.takeoff import take_off
from tests.bidding.bids import DEMO


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    week = tmp_path_factory.mktemp("shares") / "week.csv"
    week.write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,2,40,42\nB1,bay,breakwater,2,70,42\n"
                    "G2,gate,lantern,1,44 5/8,42\nB2,bay,lantern,1,61 13/16,36\n")
    shop, work = load_inputs(DEMO / "shop.toml", week)
    return cut_pieces(take_off(work, shop).pieces, shop)  # type: ignore[arg-type]


def test_the_shares_add_up_to_the_plans_totals_exactly(plan: Plan) -> None:
    found = shares(plan)
    for profile in plan.profiles:
        mine = [one for one in found if one.profile == profile.profile]
        totals = profile.totals
        assert sum(one.net for one in mine) == totals.pieces
        assert sum(one.waste for one in mine) == totals.drawn - totals.pieces
        assert sum(one.kept for one in mine) == totals.kept
        assert sum(one.cost for one in mine) == totals.cost
        assert together("", mine).of_bought == totals.waste_percent
    whole = together("together", by_owner(found))
    assert whole.waste == sum(one.totals.drawn - one.totals.pieces for one in plan.profiles)


def test_within_a_stick_waste_is_shared_by_length(plan: Plan) -> None:
    """Worked out again stick by stick and owner by owner."""
    profile = max(plan.profiles, key=lambda one: len({entry.for_ for entry in one.demand}))
    owners = {entry.mark: entry.for_ for entry in profile.demand}
    assert len(set(owners.values())) > 1
    for one in shares(plan):
        if one.profile == profile.profile:
            waste = F(0)
            for stick in profile.sticks:
                pieces = sum(cut.length for cut in stick.cuts)
                mine = sum(cut.length for cut in stick.cuts if owners[cut.mark] == one.for_)
                waste += stick.count * (stick.length - pieces) * mine / pieces
            assert one.waste == waste
