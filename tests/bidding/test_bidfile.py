"""If these fail, a bid is reckoned from other openings than the estimator wrote."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise
from pathlib import Path

import pytest

from cutplan.bidding.bidfile import divided, load_bid, read_quantities, read_values
from cutplan.problems import InputProblems
from cutplan.shop import Shop
from tests.bidding.bids import written


@pytest.mark.parametrize("text, first, last, count", [
    ("72 in", 72, 72, 1), ("36 in..48 in", 36, 48, 193), ("36..48", 36, 48, 193), ("36..48 in", 36, 48, 193),
    ("72 in +/- 2 in", 70, 74, 65), ("72 ± 1/8", F(575, 8), F(577, 8), 5), ("3 ft .. 3' 1\"", 36, 37, 17),
    ("36..36.01", 36, 36, 1),
])
def test_a_range_is_every_mark_of_the_tape_from_end_to_end(
        shop: Shop, text: str, first: int, last: int, count: int) -> None:
    found = read_values(text, shop)
    assert (found[0], found[-1], len(found)) == (first, last, count)
    assert all(b - a == shop.tape for a, b in pairwise(found))


@pytest.mark.parametrize("text, said", [
    ("48..36", "runs backwards"), ("3..4 ft", "write it at both"), ("1..2..3", "more than two ends"),
    ("2 in +/- 2 in", "goes down to nothing"), ("1 in..900 ft", "marks of the tape"), ("2..4 kg", "a mass"),
    ("9 +/- 1 +/- 1", "more than one tolerance"), ("", "is empty"),
])
def test_what_cannot_be_a_range_is_said_with_what_would_be_right(shop: Shop, text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said.replace("+", r"\+")):
        read_values(text, shop)


def test_quantities() -> None:
    assert read_quantities("3") == (3,)
    assert read_quantities("2..4") == (2, 3, 4)
    assert read_quantities("0..2") == (0, 1, 2)
    for wrong in ("0", "0..0", "4..2", "1..2..3", "2.5", "1..9999"):
        with pytest.raises(ValueError):
            read_quantities(wrong)


def test_a_run_becomes_as_few_equal_bays_as_are_not_too_wide(shop: Shop) -> None:
    """300 ft by 8 ft: 37 bays would be 97.3 in wide, 38 are 94.7, set out to the mark below."""
    bays, opening = divided(F(3600), F(96), shop.tape)
    assert bays == 38
    assert opening <= F(3600, 38) < opening + shop.tape
    assert F(3600, bays - 1) > 96
    assert divided(F(96), F(96), shop.tape) == (1, 96)
    assert divided(F(1, 40), F(96), shop.tape) == (1, F(1, 40))


def test_every_problem_of_the_file_is_named_with_its_line_and_column(shop: Shop, tmp_path: Path) -> None:
    path = written(tmp_path, "A,gate,breakwater,4..2,48..36,42,", "A,gat,breakwatr,0,36 +/- 40,4x,maybe",
               'B,gate,lantern,1,"run = 30 ft, max_bay = 8 ft",42,', 'C,bay,lantern,1,"run = 30 ft, bay 8",42,')
    with pytest.raises(InputProblems) as wrong:
        load_bid(path, shop)
    places = {(one.line, one.column) for one in wrong.value.problems}
    assert places == {(2, "qty"), (2, "opening"), (3, "mark"), (3, "kind"), (3, "system"), (3, "qty"), (3, "opening"),
                      (3, "height"), (3, "alike"), (4, "opening"), (5, "opening")}


def test_openings_that_nothing_fits_are_left_out_and_said(shop: Shop, tmp_path: Path) -> None:
    """A bay of 1/16 in has no rail at all: where a whole line is so it is a problem, else what is left is drawn."""
    some = load_bid(written(tmp_path, "A,gate,lantern,1,2..40,42,"), shop)
    assert some.lines[0].opening[0] > 2 and some.lines[0].opening[-1] == 40
    assert "left out" in some.notes[0]
    with pytest.raises(InputProblems) as wrong:
        load_bid(written(tmp_path, "A,gate,lantern,1,1..2,42,"), shop)
    assert {one.column for one in wrong.value.problems} == {"opening"}
