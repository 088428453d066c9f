"""If these fail, a bound is called proven by a table that is too small, that overflowed, or that never ends."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence

import pytest

from cutplan.checking.arrangement.knapsack import Item, ProofTableParams, best_values, reckoned_in

LIMIT = ProofTableParams.limit


def best_by_trying(items: Sequence[Item], room: int) -> int:
    """The best value, by trying every number of every item."""
    if room < 0 or not items:
        return 0
    first, rest = items[0], items[1:]
    return max(a * first.worth + best_by_trying(rest, room - a * first.size)
               for a in range(min(first.copies, room // first.size) + 1))


def random_items(chance: random.Random) -> list[Item]:
    return [Item(chance.randint(1, 40), chance.randint(0, 60), chance.randint(0, 4))
            for _ in range(chance.randint(0, 6))]


def random_floors(chance: random.Random) -> dict[int, int]:
    return {chance.randint(-5, 100): chance.randint(-20, 150) for _ in range(chance.randint(1, 4))}


def right(items: Sequence[Item], floors: Mapping[int, int]) -> dict[int, int]:
    return {room: max(floor, best_by_trying(items, room)) for room, floor in floors.items()}


@pytest.mark.parametrize("dense", [10**9, ProofTableParams.dense, 0.01], ids=["table", "both", "pairs"])
@pytest.mark.parametrize("kind", ["64 bits", "any size"])
def test_the_best_values_are_those_of_trying_everything(dense: float, kind: str) -> None:
    params = ProofTableParams(dense=dense, limit=0 if kind == "any size" else LIMIT)
    for seed in range(200):
        chance = random.Random(seed)
        items, floors = random_items(chance), random_floors(chance)
        assert best_values(items, floors, params=params) == right(items, floors), (items, floors)


@pytest.mark.parametrize("dense", [0.01, 10**9], ids=["pairs", "table"])
def test_numbers_around_the_limit_are_reckoned_without_overflow(dense: float) -> None:
    """Worths of which some fit 64 bits and some do not; both kinds of numbers occur, and no sum is wrong."""
    params = ProofTableParams(dense=dense)
    kinds = set()
    for seed in range(200):
        chance = random.Random(seed)
        near = 1 << chance.randint(50, 70)
        items = [Item(item.size, item.worth * near // 50 + chance.randint(0, 3), 1 + item.copies)
                 for item in random_items(chance)] or [Item(1, near, 1)]
        floors = {room: floor * near // 50 for room, floor in random_floors(chance).items()}
        dearest = max((item for item in items if item.worth), key=lambda item: item.worth / item.size, default=None)
        if dearest and max(floors) > 0:
            kinds.add(reckoned_in(dearest, max(floors), LIMIT)[0].kind)
        assert best_values(items, floors, params=params) == right(items, floors), (items, floors)
    assert kinds == {"i", "O"}


def test_64_bits_are_used_only_where_plain_integers_show_that_no_sum_can_pass_the_limit() -> None:
    for seed in range(500):
        chance = random.Random(seed)
        dearest = Item(chance.randint(1, 2 ** chance.randint(1, 40)), chance.randint(1, 2 ** chance.randint(1, 75)), 1)
        largest = chance.randint(dearest.size, dearest.size * 2 ** chance.randint(0, 25))
        kind, finer = reckoned_in(dearest, largest, LIMIT)
        most = -(-dearest.worth * finer // dearest.size) * largest
        assert finer >= 1
        assert kind.kind == "O" or 4 * most < LIMIT
        assert kind.kind == "i" or 4 * (dearest.worth + dearest.size) * largest // dearest.size >= LIMIT - 4 * largest


def test_sizes_rounded_down_give_values_that_are_never_too_small() -> None:
    params = ProofTableParams(pairs=5, positions=30)
    larger = 0
    for seed in range(300):
        chance = random.Random(seed)
        items, floors = random_items(chance), random_floors(chance)
        found = best_values(items, floors, params=params)
        assert all(found[room] >= value for room, value in right(items, floors).items()), (items, floors)
        larger += found != right(items, floors)
    assert larger  # else nothing was rounded


def test_a_finer_step_never_proves_less_than_a_coarser_one() -> None:
    """What the cutter proves with sizes rounded to a step of its own, coarser ones, the proof must come to as well."""
    for seed in range(300):
        chance = random.Random(seed)
        items, floors = random_items(chance), random_floors(chance)
        found = []
        for positions in (256, 40, 20, 6):
            found.append(best_values(items, floors, params=ProofTableParams(pairs=0, positions=positions)))
        for finer, coarser in itertools.pairwise(found):
            assert all(finer[room] <= coarser[room] for room in floors), (items, floors)


def test_very_fine_units_come_to_an_end() -> None:
    """A hundred lengths without a common unit, on sticks of 10^15: pairs would be without number."""
    chance = random.Random(0)
    items = [Item(chance.randint(10**13, 10**14), chance.randint(10**6, 10**9), 3) for _ in range(12)]
    floors = {10**15: 0}
    found = best_values(items, floors)
    dearest = max(item.worth / item.size for item in items)
    assert 0 < found[10**15] <= dearest * 1.01 * 10**15
