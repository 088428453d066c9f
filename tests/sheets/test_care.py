"""If these fail, a sheet tells a hand to hold or clamp what cannot be held, or leaves unsaid that it cannot."""

from __future__ import annotations

import csv
import io
import random
import re
from dataclasses import replace
from fractions import Fraction

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.plan import Plan, identity, to_json
from cutplan.running.budget import Budget
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.page import packet_page
from cutplan.sheets.csvout import cuts_csv
from cutplan.sheets.plan import saw_text
from cutplan.shop import Profile, Routing, Shop, Stock
from tests.plans.parsing import from_json

F = Fraction
HELD = F(12)
CLAMPED = F(4)  # a third of it, as the README says, where the shop does not; common practice, no source
SAID = (None, F(7), F(2), F(12))  # by the shop
WORDS = ("clamp", "let it fall", "hand saw")


def random_plan(seed: int, clamped: Fraction | None = None) -> Plan:
    """Short pieces and short sticks, so that the last cut often leaves little on both sides."""
    chance = random.Random(seed)
    rail = Profile("rail", "rail", tuple(Stock(F(n), F(n)) for n in chance.sample(range(20, 90), 3)), F(1, 8), F(1, 2))
    blank = Profile("blank", "picket", (Stock(F(24), F(1)), Stock(F(40), F(2))), F(1, 8), one_per_stick=True)
    holed = Profile("holed", "rail", (Stock(F(97), F(9)),), F(1, 8), F(1, 2), routing=Routing(F(4), F(2)))
    pieces = [Piece(f"R{k}", "rail", F(chance.randint(8, 150), 8), chance.randint(1, 3)) for k in range(6)]
    pieces += [Piece(f"B{k}", "blank", F(chance.randint(8, 300), 8), 1) for k in range(3)]
    pieces += [Piece(f"H{k}", "holed", F(chance.randint(40, 300), 8), 1, centred="hole") for k in range(3)]
    return cut_pieces(pieces, Shop("", "in", "", F(1, 8), HELD, 1, F(1, 16),
                                   {one.name: one for one in (rail, blank, holed)}, {}, shortest_clamped=clamped),
                      Budget(0.3))


@pytest.fixture(scope="module")
def plans() -> list[Plan]:
    return [random_plan(seed, SAID[seed % len(SAID)]) for seed in range(16)]


def test_at_every_cut_one_part_can_be_held_or_it_is_said_that_none_can(plans: list[Plan]) -> None:
    """By the lengths of the two parts that each cut makes, and the words of the cut list beside them."""
    seen = dict.fromkeys(WORDS, 0)
    for k, plan in enumerate(plans):
        least = SAID[k % len(SAID)] or CLAMPED
        left = {(p.profile, str(k)): (p.kerf, s) for p in plan.profiles for k, s in enumerate(p.sticks, start=1)}
        for row in csv.DictReader(io.StringIO(cuts_csv(plan))):
            kerf, stick = left[row["profile"], row["stick"]]
            piece, last = F(row["length"]), int(row["cut"]) == len(stick.cuts)
            behind = max(F(0), F(row["stock_length"]) - F(row["squared_off"]) - F(row["end"]) - kerf)
            parts = {"piece": piece, "cut off": F(row["cut_off"]), **({"remainder": behind} if last else {})}
            said = {part: word for word, column in zip(WORDS, ("clamp", "let_fall", "hand_saw"), strict=True)
                    for part in row[column].split(" and ") if part}
            assert said.keys() <= parts.keys()
            for part, word in said.items():
                seen[word] += 1
                assert 0 < parts[part] < HELD
                assert word != "clamp" or parts[part] >= least  # no clamp takes less
            for part, length in parts.items():
                dust = length == 0 or (part == "cut off" and length <= kerf)  # the blade takes it, nothing falls
                assert (part in said) != (dust or length >= HELD) or part == "piece"
                assert part in said or dust or length >= HELD  # nothing short goes unsaid
            held = max(piece, behind) >= least
            assert held != ("hand saw" in said.values())
            assert held or said["piece"] == "hand saw"
            assert said.get("remainder") != "clamp" or said["piece"] == "let it fall"  # only what is held is clamped
    assert min(seen.values()) > 3


def test_the_plan_carries_what_the_shop_says_and_nothing_where_it_says_nothing(plans: list[Plan]) -> None:
    for plan, said in zip(plans, SAID, strict=False):
        text = to_json(plan)
        assert from_json(text, "plan.json") == plan and plan.shortest_clamped == said
        assert ("shortest_clamped" in text) == (said is not None)
    assert len({identity(replace(plans[0], shortest_clamped=said)) for said in SAID}) == len(SAID)


def test_the_text_and_the_page_say_it_as_often_as_the_cut_list(plans: list[Plan]) -> None:
    for plan in plans:
        rows = list(csv.DictReader(io.StringIO(cuts_csv(plan))))
        page = packet_page(plan, Packet("0", "", "a4")).split('class="profile"', 1)[1]
        text = " ".join(saw_text(plan).split("At the saw")[0].split())
        for word, column in zip(WORDS, ("clamp", "let_fall", "hand_saw"), strict=True):
            asked = any(row[column] for row in rows)
            assert asked == (f'<em class="care">{word}</em>' in page)
            assert asked == bool(re.search(rf"(, |\(){word}", text))
