"""If these break, a week no longer becomes the pieces its allowances ask for, or a misfit slips by."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from workshop import PLAIN, ROUTED, order, shop

from cutplan.lengths import written
from cutplan.orders import Order
from cutplan.problems import InputProblems, Problem
from cutplan.shop import Shop
from cutplan.takeoff import take_off
from cutplan.takeoff.cards import Card


def problems(*orders: Order, at: Shop | None = None) -> tuple[Problem, ...]:
    with pytest.raises(InputProblems) as caught:
        take_off(orders, at or shop())
    return caught.value.problems


def wide(card: Card) -> F:
    """What is squared, across."""
    (left, _), (right, _), *_ = card.squared[0]
    return right - left


def test_pieces_of_a_gate() -> None:
    """By hand: 38 1/2 - 1/2 - 3/8 = 37 5/8 wide, less 2 x 1/8 = 37 3/8 of rail, less 2 x 1 7/8 = 33 5/8
    clear; 6 pickets leave (33 5/8 - 7 1/2) / 7 = 3 41/56, 5 would leave 4 11/48, wider than 3 15/16."""
    taken = take_off([order("gate", F(77, 2), 36, qty=2, mark="G01", line=7)], shop())
    assert [(p.mark, p.profile, p.length, p.qty) for p in taken.pieces] == [
        ("G01 top rail", "cap", F(299, 8), 2),
        ("G01 bottom rail", "base", F(299, 8), 2),
        ("G01 insert", "bar", F(295, 8), 4),
        ("G01 picket", "turned", F(249, 8), 12),
        ("G01 upright", "stile", F(36), 4),
    ]
    assert {(p.for_, p.file, p.line) for p in taken.pieces} == {("G01", "week.csv", 7)}
    (card,) = taken.cards
    assert wide(card) == F(301, 8) and (card.layout.clear, card.layout.gap) == (F(269, 8), 3 + F(41, 56))
    assert card.turned
    assert card.hanging and card.hanging.hinges == (F(15, 4), 33)


def test_pieces_of_a_bay() -> None:
    """By hand: 71 1/4 - 2 x 1/8 + 2 x 1 = 73 of rail, 71 1/4 clear; bays have no uprights and no hinges."""
    taken = take_off([order("bay", F(285, 4), 36, qty=3)], shop())
    assert [(p.mark, p.length, p.qty) for p in taken.pieces] == [
        ("A1 top rail", 73, 3),
        ("A1 bottom rail", 73, 3),
        ("A1 insert", F(145, 2), 6),
        ("A1 picket", F(125, 4), 39),
    ]
    (card,) = taken.cards
    assert (wide(card), card.layout.clear, card.hidden) == (73, F(285, 4), F(7, 8))
    assert (card.of("upright"), card.hanging) == ([], None)


def test_no_pickets_where_the_clear_width_is_a_gap() -> None:
    taken = take_off([order("bay", 3)], shop())
    assert [p.mark for p in taken.pieces] == ["A1 top rail", "A1 bottom rail", "A1 insert"]
    assert taken.cards[0].layout.gap == 3


def test_hinges_unknown_without_the_faces_of_the_rails() -> None:
    (card,) = take_off([order("gate", F(75, 2), system="routed")], shop()).cards
    assert card.hanging and card.hanging.hinges is None
    assert (card.of("insert", "upright"), card.turned) == ([], False)


def test_every_problem_of_the_week_is_told() -> None:
    found = problems(
        order("gate", 4, 4, line=2),
        order("bay", 60),
        order("gate", F(21, 4), 4, line=4),
        order("bay", 60, 4, line=5),
    )
    assert [(p.line, p.column) for p in found] == [
        (2, "height"),
        (2, "opening"),
        (4, "height"),
        (5, "height"),
    ]


def test_what_would_be_right_is_right() -> None:
    """A gate needs 1/2 + 3/8 + 2 x 1/8 + 2 x 1 7/8 = 4 7/8 in before anything
    shows, and 1 above, 2 below and faces of 2 and 1 3/4 = 6 3/4 in before its rails lie apart."""
    height, opening = problems(order("gate", 4, 4))
    assert "leaves -2 3/4 in of room between the rails; more than 6 3/4 in is needed" in height.message
    assert "leaves -7/8 in of clear width; more than 4 7/8 in is needed" in opening.message
    take_off([order("gate", F(79, 16), F(109, 16))], shop())


def test_insert_that_is_nothing() -> None:
    system = replace(PLAIN, insert_short=F(70))
    (found,) = problems(order("bay", 60), at=shop(system))
    assert found.column == "opening"
    assert "of insert; more than 68 1/4 in is needed" in found.message


def test_pickets_wider_than_the_clear_width() -> None:
    """5 in pickets, gaps to 1 in: 2 in clear takes no picket, and none leaves too wide a gap. By hand: 1 in
    clear or less, or 5 in or more, which in a gate is 4 7/8 in more of opening, and in a bay the opening."""
    system = replace(PLAIN, picket_width=F(5), max_gap=F(1))
    for kind, allowances in (("gate", F(39, 8)), ("bay", F(0))):
        (found,) = problems(order(kind, 2 + allowances), at=shop(system))
        assert found.column == "opening"
        for opening, words in ((1 + allowances, "at most {} in"), (5 + allowances, "at least {} in")):
            assert words.format(written(opening, "in")) in found.message
            assert take_off([order(kind, opening)], shop(system)).cards[0].layout.gap >= 0


def test_routed_rail_that_neither_centring_fits() -> None:
    """Clear 27 1/2 in at a 5 in pitch leaves 1/2 in or 3 in; from 1 to 2 in is wanted, so 1 in more or
    2 in less is needed: 1 in more, or a latch gap 1 in narrower."""
    system = replace(ROUTED, max_gap=F(2))
    (found,) = problems(order("gate", F(75, 2), system="routed"), at=shop(system))
    assert found.column == "opening"
    assert "3 in centred on a hole and 1/2 in centred on a space" in found.message
    assert found.message.endswith("an opening 1 in wider would do, or a latch gap 1 in narrower")
    assert take_off([order("gate", F(77, 2), system="routed")], shop(system)).cards[0].layout.end_gap == 1


def test_latch_gap_is_not_asked_to_vanish() -> None:
    system = replace(ROUTED, max_gap=F(2), gate=replace(ROUTED.gate, latch_gap=F(1, 2)))
    (found,) = problems(order("gate", 37, system="routed"), at=shop(system))
    assert found.message.endswith("an opening 1 in wider would do")


def test_end_gap_limits_that_exclude_each_other() -> None:
    system = replace(ROUTED, min_end_gap=F(5, 2), max_gap=F(2))
    (found,) = problems(order("gate", F(75, 2), system="routed"), at=shop(system))
    assert "no opening would do" in found.message


def test_two_routed_rails_of_different_pitch() -> None:
    (found,) = problems(
        order("gate", F(75, 2), system="routed"), at=shop(replace(ROUTED, top_rail="holed-wide"))
    )
    assert found.column == "system"
    assert "5 in apart" in found.message and "6 in" in found.message


def test_one_routed_rail_sets_the_pitch() -> None:
    (card,) = take_off(
        [order("gate", F(75, 2), system="routed")], shop(replace(ROUTED, top_rail="cap"))
    ).cards
    assert card.layout.gap == F(7, 2)


def test_holes_closer_than_pickets_are_wide() -> None:
    found = problems(order("bay", 60, system="routed"), at=shop(replace(ROUTED, picket_width=F(6))))
    assert "system" in {problem.column for problem in found}


def test_system_that_is_not_there_or_not_made_so() -> None:
    found = problems(
        order("bay", 60, system="plian"), order("gate", 60, line=3), at=shop(replace(PLAIN, gate=None))
    )
    assert [problem.column for problem in found] == ["system", "system"]
    assert "did you mean 'plain'?" in found[0].message
    assert "[systems.plain.gate]" in found[1].message


def test_millimetres_are_written_as_millimetres() -> None:
    (found,) = problems(order("gate", F(6, 5)), at=shop(replace(PLAIN, insert=None), unit="mm"))
    assert "1.2 mm leaves -3.675 mm of clear width; more than 4.875 mm is needed" in found.message
