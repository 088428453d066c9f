"""If these fail, some versions of a job are likelier than others, or a bid cannot be repeated."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction as F

from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.versions import draw, halton, orders_of, primes

TAPE = F(1, 16)


def line(mark: str, qty: tuple[int, ...], openings: int, alike: bool = False, max_bay: F | None = None) -> BidLine:
    return BidLine(mark, "bay", "lantern", qty, tuple(60 + k * TAPE for k in range(openings)), (F(42),), max_bay, alike)


def test_a_small_job_is_taken_in_every_version_once() -> None:
    drawn = draw([line("A", (1, 2), 1), line("B", (1,), 3)], 200, 1)
    assert drawn.whole
    assert sorted(drawn.choices) == [(a, b) for a in range(2) for b in range(3)]


def test_a_job_without_ranges_has_one_version() -> None:
    assert draw([line("A", (3,), 1)], 200, 1).choices == ((),)


def test_the_same_seed_draws_the_same_and_another_does_not() -> None:
    job = [line("A", (2, 3), 100), line("B", (1,), 200, alike=True)]
    assert draw(job, 50, 7) == draw(job, 50, 7)
    assert draw(job, 50, 7) != draw(job, 50, 8)
    assert draw(job, 80, 7).choices[:50] == draw(job, 50, 7).choices  # stopped early, it is the same bid


def test_each_base_fills_its_range_evenly() -> None:
    """A number of a base b visits each of b equal parts once in every b draws (Owen 2017)."""
    for _, base in zip(range(8), primes(), strict=False):
        found = halton(base, f"any {base}", base, 5 * base)
        for begin in range(0, 5 * base, base):
            assert sorted(found[begin:begin + base]) == list(range(base))
    counts = Counter(halton(3, "x", 7, 7000))
    assert set(counts) == set(range(7)) and max(counts.values()) - min(counts.values()) < 30


def test_openings_are_drawn_each_by_itself_unless_alike() -> None:
    apart, alike = [line("A", (3,), 100)], [line("A", (3,), 100, alike=True)]
    drawn = draw(apart, 20, 1)
    weeks = [orders_of(apart, drawn, choice, TAPE) for choice in drawn.choices]
    assert all(len(week) == 3 and {order.qty for order in week} == {1} for week in weeks)
    assert any(len({order.opening for order in week}) > 1 for week in weeks)
    drawn = draw(alike, 20, 1)
    assert all(len(orders_of(alike, drawn, choice, TAPE)) == 1 for choice in drawn.choices)


def test_a_run_is_drawn_as_a_run() -> None:
    run = [BidLine("R", "bay", "lantern", (2,), (F(300), F(301)), (F(42),), F(96), True)]
    drawn = draw(run, 20, 1)
    first, second = (orders_of(run, drawn, choice, TAPE)[0] for choice in drawn.choices)
    assert (first.qty, first.opening, second.opening) == (8, 75, F(301, 4))


def test_what_the_drawn_versions_call_enough_is_enough_as_often() -> None:
    """Whole sticks of 240: 200 versions say what 80 of 100 jobs need; 4,000 jobs drawn by plain chance
    say whether they do. Over twenty bids the mean is within a point or two of 80 and none is far off."""
    job = [line(f"L{k}", (2, 3), 200) for k in range(4)]
    chance = random.Random(1)

    def waste(openings: list[F]) -> F:
        net = sum(openings, F(0))
        return (-(-net // 240) * 240 - net) / net

    found = []
    for seed in range(20):
        drawn = draw(job, 200, seed)
        said = sorted(waste([order.opening for order in orders_of(job, drawn, choice, TAPE)])
                      for choice in drawn.choices)[159]
        jobs = [waste([60 + chance.randrange(200) * TAPE for _ in job for _ in range(chance.randrange(2, 4))])
                for _ in range(200)]
        found.append(sum(one <= said for one in jobs) / 2)
    assert 77 <= sum(found) / 20 <= 83
    assert min(found) > 65 and max(found) < 92
