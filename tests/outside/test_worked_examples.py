"""If these fail, the cutter no longer finds the published optimum of a textbook cutting-stock example, or no longer
proves it. Kerf 0 and no trim; where a source prints only its data, the optimum was re-solved elsewhere by full
pattern enumeration with an independent solver."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.plans.plan import Plan
from tests.cutting.shops import cut, profile

PAPER = {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
         2140: 16, 2150: 18, 2200: 20}


def one(length: object) -> list[tuple[object, object, None]]:
    """One stock length, each stick costing 1."""
    return [(length, 1, None)]


def by_length(*lengths: int) -> list[tuple[object, object, None]]:
    """Several stock lengths, cost = length."""
    return [(length, length, None) for length in lengths]


EXAMPLES = [
    # Chvatal, Linear Programming (1983), ch. 13; also the NEOS guide
    pytest.param(one(100), {45: 97, 36: 610, 31: 395, 14: 211}, 453, id="Chvatal"),
    # printed elsewhere with 35 for 36: the optimum is the same
    pytest.param(one(100), {45: 97, 35: 610, 31: 395, 14: 211}, 453, id="Chvatal misprint"),
    pytest.param(one(5600), PAPER, 73, id="Wikipedia, Cutting stock problem"),
    pytest.param(one(110), {20: 48, 45: 35, 50: 24, 55: 10, 75: 8}, 47, id="Fourer, Gay, Kernighan, AMPL"),
    pytest.param(one(17), {3: 25, 5: 20, 9: 15}, 19, id="Winston, Operations Research, boards"),
    pytest.param(one(40), {8: 90, 12: 111, 16: 55, 20: 30}, 89, id="MathWorks documentation, solver-based"),
    pytest.param(one(10), {7: 2, 5: 2, 3: 4}, 4, id="MiniZinc benchmarks, cutstock"),
    pytest.param(one(25), {7: 5000, 9: 1200, 11: 300}, 2167, id="textbook lumber exercise, 11 ft"),
    pytest.param(one(25), {7: 700, 9: 1200, 10: 300}, 775, id="textbook lumber exercise, 10 ft"),
    pytest.param(one(20), {3: 50, 4: 25, 8: 15, 10: 70}, 54, id="textbook lumber exercise, 20 ft"),
    pytest.param(one(240), dict.fromkeys(["72.16", "71.64", "68.94", "45.46", "44.13"], 241), 322,
                 id="steel bars, 2008 (exact decimals)"),
    pytest.param(by_length(20, 25, 40), {16: 2, 12: 3, 5: 5}, 100, id="steel beams"),
    pytest.param(by_length(100, 80, 55), {45: 150, 30: 200, 18: 175}, 16575, id="spreadsheet solver example"),
    # from memory, re-solved
    pytest.param([(5, 6, None), (6, 7, None), (9, 10, None)], {2: 20, 3: 10, 4: 20}, 170,
                 id="Gilmore and Gomory 1961"),
    pytest.param(one("7.4"), {"2.9": 100, "2.1": 100, "1.5": 100}, 90, id="after Kantorovich"),
    pytest.param(one(100), {48: 1, 42: 2, 36: 3, 30: 2, 27: 1, 24: 1, 19: 1}, 4, id="OR-Tools bin packing"),
    # the LP over patterns within the demand is 23/11, with any patterns 259/132
    pytest.param(one(132), {44: 2, 33: 3, 12: 6}, 3, id="optimum above the rounded-up LP"),
]


@pytest.mark.parametrize(("stock", "demand", "optimum"), EXAMPLES)
def test_published_optimum_is_found_and_proven(
    stock: list[tuple[object, object, None]], demand: dict[object, int], optimum: int
) -> None:
    plan = cut(profile(stock), demand)
    assert plan.totals.cost == optimum
    assert plan.tiers[0].bound == optimum
    assert not audit(Plan("in", (plan,)))
    assert prove(plan).ok


def test_paper_rolls_need_ten_patterns() -> None:
    """Wikipedia, "Cutting stock problem": 73 rolls, waste 0.401 %; that 10 patterns do: memory, re-proved."""
    plan = cut(profile(one(5600)), PAPER)
    assert round(float(plan.totals.waste_percent), 3) == 0.401
    assert plan.totals.patterns == 10


def test_steel_beams_are_one_short_and_two_long() -> None:
    plan = cut(profile(by_length(20, 25, 40)), {16: 2, 12: 3, 5: 5})
    drawn = sorted(stick.length for stick in plan.sticks for _ in range(stick.count))
    assert drawn == [20, 40, 40]


@pytest.mark.parametrize(
    ("stick", "piece", "kerf", "count", "left"),
    [
        # US Army Engineer course EN0069A, lesson 4: kerf ignored there
        (120, 28, 0, 4, 8), (144, 28, 0, 5, 4),
        # the same with a kerf of 1/8 in (arithmetic)
        (120, 28, "1/8", 4, "15/2"), (144, 28, "1/8", 5, "27/8"),
        # EN01136, lesson 5: 5 ft 1 in from 10 ft leaves 4 ft 11 in; with the kerf 4 ft 10 7/8 in (arithmetic)
        (120, 61, 0, 1, 59), (120, 61, "1/8", 1, "471/8"),
    ],
)
def test_army_left_overs(stick: int, piece: int, kerf: object, count: int, left: object) -> None:
    plan = cut(profile(one(stick), kerf), {piece: count})
    assert plan.totals.cost == 1
    assert plan.sticks[0].offcut == Fraction(str(left))


def test_nine_three_foot_pieces_from_ten_foot_sticks() -> None:
    """EN0069A, lesson 4: three 10 ft sticks (3 ft left in all) beat five 8 ft (13 ft left)."""
    plan = cut(profile(by_length(120, 96)), {36: 9})
    assert [(s.length, s.count) for s in plan.sticks] == [(120, 3)]
    assert plan.totals.scrap == 36


@pytest.mark.parametrize(("usable", "piece", "kerf"), [(192, 28, "1/8"), (240, "34.875", "3/32"), (96, 7, "1/4")])
def test_equal_pieces_by_the_formula(usable: int, piece: object, kerf: object) -> None:
    """n = floor((S + k) / (p + k)) equal pieces come from a usable length S."""
    n = (usable + Fraction(str(kerf))) // (Fraction(str(piece)) + Fraction(str(kerf)))
    assert cut(profile(one(usable), kerf), {piece: n}).totals.cost == 1
    assert cut(profile(one(usable), kerf), {piece: n + 1}).totals.cost == 2
