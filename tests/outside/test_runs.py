"""If this breaks, a run is set out with other bays or posts than plain arithmetic gives."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise

import pytest

from cutplan.orders import Order
from cutplan.shop import BayRule, Profile, RunRule, Shop, Stock, System
from cutplan.takeoff import take_off


def run(length: int, ends: str, post: int, max_bay: int) -> tuple[list[F], list[F], list[F]]:
    """The bays, the left faces of the posts, and the lengths that posts are cut to."""
    stock = (Stock(F(240), F(240)),)
    profiles = {name: Profile(name, kind, stock, F(1, 8)) for name, kind in (
        ("rail", "rail"), ("picket", "picket"), ("post", "post"))}
    rule = RunRule("post", F(post), F(max_bay), F(40), F(24))
    system = System("s", "rail", "rail", "picket", F(1), F(4), F(0), bay=BayRule(F(0), F(1)), run=rule)
    shop = Shop("", "in", "", F(1, 8), None, 1, F(1, 16), profiles, {"s": system})
    (card,) = take_off([Order("R", "run", "s", 1, F(length), F(40), ends=ends)], shop).cards
    bays = [rail.length - 2 for rail in card.of("top rail")]  # 1 hidden at each end
    return bays, [part.left + shift for part in card.of("post") for shift in part.shifts], [
        part.length for part in card.of("post")]


def test_a_run_of_720() -> None:
    """Computed from R = 720, p = 5, B = 96: 8 bays of 85 5/8 and 7 posts between walls; with end posts 8 of 84 3/8 and
    9 posts, whose centres are 715 / 8 = 89 3/8 apart."""
    bays, posts, cut = run(720, "walls", 5, 96)
    assert bays == [F(685, 8)] * 8 and len(posts) == 7 and cut == [64]
    bays, posts, _ = run(720, "posts", 5, 96)
    assert bays == [F(675, 8)] * 8 and len(posts) == 9
    assert {after - before for before, after in pairwise(posts)} == {F(715, 8)}


@pytest.mark.parametrize(("length", "ends", "bays"), [
    (96, "walls", 1), (97, "walls", 2), (197, "walls", 2), (198, "walls", 3), (106, "posts", 1), (107, "posts", 2),
    (207, "posts", 2), (208, "posts", 3),
])  # fmt: skip
def test_a_bay_more_only_where_it_is_needed(length: int, ends: str, bays: int) -> None:
    """By hand, posts of 5 and bays up to 96: k bays reach 96 k + 5 (k - 1) between walls, 10 more with end posts."""
    assert len(run(length, ends, 5, 96)[0]) == bays
