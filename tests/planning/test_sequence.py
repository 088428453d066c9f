"""If these fail, more gates lie half cut about the shop than need to, or the count of them is wrong."""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from cutplan.planning.sequence import fewest_open, most_open

# Published instance of the minimisation of open stacks: rows are gates, columns set-ups; optimum 5.
ROWS = [
    "0000100100", "0010010001", "1001000001", "1010101100", "0000000110",
    "0000101010", "0000001000", "0100000100", "0001001000", "0100000010",
]  # fmt: skip


def test_the_published_instance_has_its_optimum() -> None:
    setups = [[g for g, row in enumerate(ROWS) if row[k] == "1"] for k in range(10)]
    found = fewest_open(setups)
    assert found.open == most_open([setups[k] for k in found.order]) == 5 and found.proven


@pytest.mark.parametrize("seed", range(60))
def test_it_is_the_least_of_all_orders(seed: int) -> None:
    chance = random.Random(seed)
    setups = [[g for g in range(7) if chance.random() < 0.35] for _ in range(chance.randint(1, 7))]
    found = fewest_open(setups)
    assert sorted(found.order) == list(range(len(setups))) and found.proven
    assert found.open == most_open([setups[k] for k in found.order])
    assert found.open == min(most_open(order) for order in permutations(setups))


def test_an_order_that_is_as_good_stays() -> None:
    setups = [["A"], ["B"], ["C"]]
    assert fewest_open(setups).order == (0, 1, 2)


def test_a_gate_is_open_from_its_first_stick_to_its_last() -> None:
    assert most_open([["A"], ["B"], ["A"]]) == 2
    assert most_open([["A"], ["A"], ["B"]]) == 1
    assert most_open([]) == 0 and most_open([[], []]) == 0


def test_many_gates_are_no_burden() -> None:
    chance = random.Random(1)
    setups = [[g for g in range(60) if chance.random() < 0.05] for _ in range(60)]
    assert fewest_open(setups).open <= most_open(setups)


def test_a_plan_in_sequence_is_the_same_plan_with_like_sticks_together() -> None:
    from collections import Counter
    from dataclasses import replace

    from cutplan.checking.audit import audit
    from cutplan.cutting import cut_pieces
    from cutplan.planning.sequence import by_setup, gates_of, sequenced
    from cutplan.running.budget import Budget
    from tests.cutting.shops import pieces, profile, shop

    chance = random.Random(3)
    asked = [replace(piece, for_=f"G{k % 9}") for k, piece in
             enumerate(pieces({length: chance.randint(1, 3) for length in chance.sample(range(20, 70), 25)}))]
    plan = cut_pieces(asked, shop(profile([(144, 20, None), (192, 26, None)], kerf="1/8")), Budget(10))
    ordered = sequenced(plan)
    (before,), (after,) = plan.profiles, ordered.profiles
    assert Counter(before.sticks) == Counter(after.sticks) and not audit(ordered)
    runs = [stick.setup for k, stick in enumerate(after.sticks) if not k or after.sticks[k - 1].setup != stick.setup]
    assert len(runs) == len(set(runs))
    counts = [most_open(gates_of(one, by_setup(one).values())) for one in (before, after)]
    assert counts[1] <= counts[0]
