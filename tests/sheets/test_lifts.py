"""If these fail, unlike sticks are put into one lift, or the boxes to tick are not the lifts counted."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.planning.sequence import sequenced
from cutplan.plans.plan import Plan, identity, numbered, to_json
from cutplan.running.budget import Budget
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.page import packet_page
from cutplan.sheets.plan import plan_text
from cutplan.shop import Profile, Routing, Shop, Stock
from tests.plans.parsing import from_json

F = Fraction


def random_plan(seed: int, stack: int) -> Plan:
    """Sticks with holes among them, from a rack of offcuts as long as each other whose holes begin elsewhere."""
    chance = random.Random(seed)
    offcuts = tuple(Stock(F(97), F(0), 1, f"T{k}", F(chance.choice([1, 2, 3]))) for k in range(8))
    holed = Profile("holed", "rail", (*offcuts, Stock(F(194), F(30))), F(1, 8), F(1, 2), routing=Routing(F(4), F(2)))
    plain = Profile("plain", "rail", (Stock(F(97), F(9)), Stock(F(97), F(0), 3, "P")), F(1, 8), F(1, 2))
    pieces = [Piece(f"H{k}", "holed", F(40), chance.randint(3, 6), f"G{k}", centred="hole") for k in range(3)]
    pieces += [Piece(f"P{k}", "plain", F(23 + 8 * (k % 2)), chance.randint(5, 12), f"G{k}") for k in range(4)]
    shop = Shop("", "in", "", F(1, 8), None, stack, F(1, 16), {"holed": holed, "plain": plain}, {})
    return sequenced(cut_pieces(pieces, shop, Budget(0.3)))


@pytest.fixture(scope="module")
def plans() -> list[Plan]:
    return [random_plan(seed, 1 + seed % 4) for seed in range(8)]


def alike(plan: Plan) -> dict[int, tuple[object, ...]]:
    """Of every stick by its number: its set-up, and where exactly it is cut."""
    found = {}
    for one in numbered(plan):
        stick = one.stick
        setup = one.profile, stick.length, tuple(sorted(cut.length for cut in stick.cuts))
        for n in range(one.first, one.last + 1):
            found[n] = setup, stick.turned, tuple(cut.start for cut in stick.cuts)
    return found


def boxes(page: str) -> list[list[int]]:
    """The sticks of each box, by what is read beside it."""
    found = []
    for said in re.findall(r'type="checkbox"[^>]*> ([^<]*)</label>', page):
        numbers = [int(n) for n in re.findall(r"\d+", said)]
        found.append(list(range(numbers[0], numbers[1] + 1)) if " to " in said else numbers)
    return found


def test_every_stick_has_its_box_and_those_of_one_box_are_cut_alike(plans: list[Plan]) -> None:
    for plan in plans:
        page = packet_page(plan, Packet("0", "", "a4"))
        found, cut = boxes(page), alike(plan)
        assert sorted(n for box in found for n in box) == sorted(cut)
        assert all(len(box) <= plan.stack and len({cut[n] for n in box}) == 1 for box in found)
        if plan.stack > 1:
            least = sum(-(-many // plan.stack) for many in Counter(cut.values()).values())
            assert len(found) == least  # no fewer lifts hold them
            assert f"sticks in {least} lifts of at most {plan.stack}" in page
            assert len(set(re.findall(r'id="(lift\d+)"', page))) == least


def test_the_counts_of_the_text_are_the_boxes(plans: list[Plan]) -> None:
    some_more = 0
    for plan in plans:
        text, found, cut = plan_text(plan), boxes(packet_page(plan, Packet("0", "", "a4"))), alike(plan)
        if plan.stack == 1:
            assert "lift" not in text
            continue
        said = [int(n) for n in re.findall(r"^Set-up .* in (\d+) lifts? of at most", text, re.M)]
        sticks = Counter(setup for setup, *_ in cut.values())
        lifts = Counter(cut[box[0]][0] for box in found)
        assert said == [lifts[setup] for setup in dict.fromkeys(setup for setup, *_ in cut.values())
                        if sticks[setup] > 1]  # of a single stick nobody needs to be told
        assert f"{len(found)}" == next(line.split()[-1] for line in text.splitlines() if line.startswith("total"))
        by_setup = sum(-(-many // plan.stack) for many in sticks.values())
        assert len(found) >= by_setup
        some_more += len(found) > by_setup
    assert some_more  # holes that begin elsewhere cannot lie in one lift


def test_the_plan_carries_the_stack_and_an_older_one_is_read_as_before(plans: list[Plan]) -> None:
    plan = replace(plans[1], stack=3)
    assert '"stack": 3' in to_json(plan)
    assert from_json(to_json(plan), "plan.json") == plan
    single = replace(plan, stack=1)
    assert "stack" not in to_json(single) and identity(single) != identity(plan)
    assert from_json(to_json(single), "plan.json").stack == 1
