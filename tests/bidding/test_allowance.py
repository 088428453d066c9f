"""If these fail, an allowance is called enough that is not, or the two bases are mixed up."""

from __future__ import annotations

from fractions import Fraction as F
from math import comb

import pytest

from cutplan.bidding.allowance import BOUGHT, NET, RULES, Figures, Outcome, add, flat, interval, of_bought, of_net, rank


def outcome(net: int, drawn: int, cost: int = 0, sticks: int = 1) -> Outcome:
    return Outcome(F(net), F(drawn), F(0), F(cost), F(0), sticks, 0)


@pytest.mark.parametrize("net, percent, base, buy, rounded", [
    (F(500), 10, NET, F(550), 550),  # US Army correspondence course EN0069A, table 4-1
    (F(46), 5, NET, F("48.3"), 49),  # a dealer's rule
    (F(106) / F("5.5"), 15, BOUGHT, F(106) / F("5.5") / F("0.85"), 23),  # US Army correspondence course EN01136
    (F(100), 15, NET, F(115), 115), (F(100), 15, BOUGHT, F(100) / F("0.85"), 118),
])
def test_the_published_rules_come_out(net: F, percent: int, base: str, buy: F, rounded: int) -> None:
    assert flat(net, F(percent), base) == buy
    assert -(-buy // 1) == rounded


def test_the_two_bases() -> None:
    assert round(float(of_net(F(15))), 1) == 17.6
    assert of_bought(of_net(F(15))) == 15
    one = outcome(85, 100)
    assert (one.of_bought, one.of_net) == (15, of_net(F(15)))


def test_every_rule_names_its_source_and_base() -> None:
    assert {rule.base for rule in RULES} == {NET, BOUGHT}
    assert all(rule.source for rule in RULES)


def test_enough_is_the_least_that_so_many_do_not_exceed() -> None:
    figures = Figures("rail", tuple(outcome(100, 100 + k) for k in range(1, 11)), True)
    for percent, value in ((50, 5), (80, 8), (81, 9), (95, 10), (1, 1)):
        assert figures.enough(lambda one: one.of_net, F(percent)).value == value
        assert figures.chance(lambda one: one.of_net, F(value)) >= percent
    assert figures.enough(lambda one: one.of_net, F(80)).low == 8  # all versions: nothing is off


def test_the_interval_is_the_binomial_one() -> None:
    """Against sums of exact binomial chances; for 95 of 100 twenty versions are too few to know an upper end."""
    for count, percent in ((200, 80), (200, 95), (50, 50), (20, 80)):
        p = F(percent, 100)
        chances = [comb(count, k) * p**k * (1 - p)**(count - k) for k in range(count + 1)]
        low, high = interval(count, F(percent))
        assert low and sum(chances[:low]) <= F(25, 1000) < sum(chances[:low + 1])
        assert high and sum(chances[:high]) >= F(975, 1000) > sum(chances[:high - 1])
        assert sum(chances[low:high]) >= F(95, 100)
        assert low <= rank(count, F(percent), False) <= high
    assert interval(20, F(95))[1] is None


@pytest.mark.parametrize("count, percent", [(1, 50), (10, 80), (19, 95), (200, 80), (200, 95)])
def test_of_draws_the_figure_is_enough_for_a_fresh_one(count: int, percent: int) -> None:
    """The k-th of n draws from a continuous law is enough for another with chance k / (n + 1): all ranks of the fresh
    one among them are as likely. The least k is taken for which that is what was asked."""
    k = rank(count, F(percent), False)
    enough = [sum(fresh <= k for fresh in range(1, count + 2)) for k in (k - 1, k)]
    assert enough[0] * 100 < percent * (count + 1) <= enough[1] * 100


def test_all_profiles_together() -> None:
    both = add([outcome(10, 12, 5, 2), outcome(20, 25, 7, 1)])
    assert (both.net, both.drawn, both.cost, both.sticks) == (30, 37, 12, 3)
