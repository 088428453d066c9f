"""If these break, pickets are set out otherwise than published layouts and plain arithmetic set them out."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from cutplan.takeoff.pickets import EndGaps, PicketLayout, RailHoles, centrings, plain_layout, routed_layouts


def plain(clear: F | int, width: F | int, max_gap: F | int) -> PicketLayout:
    return plain_layout(F(clear), F(0), F(width), F(max_gap))


@pytest.mark.parametrize(
    ("clear", "width", "max_gap", "count", "gap"),
    [
        (120, 1, 4, 24, F(384, 100)),  # Fine Homebuilding forum: 24 pickets, 25 spaces
        (101, 2, 4, 17, F(67, 18)),  # a homebuilding how-to: 17 pickets
        (72, F(3, 2), 4, 13, F(375, 100)),  # a how-to: 13 pickets, 52.5/14
        (72, F(3, 2), F(99, 32), 15, F(99, 32)),  # at second hand: 15 pickets, 49 1/2 in / 16 = 3 3/32
        (52, F(3, 2), 4, 9, F(385, 100)),  # published with 10 pickets, which are more than are needed
    ],
)
def test_published_layouts(clear: F | int, width: F | int, max_gap: F | int, count: int, gap: F) -> None:
    layout = plain(clear, width, max_gap)
    assert (layout.count, layout.gap, layout.end_gap) == (count, gap, gap)


def test_published_marks_on_centre() -> None:
    """Journal of Light Construction: 102 3/8 in divided into 26 spaces of 3 15/16 in on centre, exactly."""
    width, step = F(3, 4), F(63, 16)
    layout = plain(F(819, 8) - width, width, step - width)
    assert [mark + width / 2 for mark in layout.marks] == [k * step for k in range(1, 26)]


def test_four_inches_exactly_is_the_fewest_pickets() -> None:
    """Arithmetic: 26 in, 1 1/2 in pickets, 4 in gaps. A sphere of 4 in that must not pass would need 5."""
    layout = plain(26, F(3, 2), 4)
    assert (layout.count, layout.gap) == (4, 4)
    assert (26 + F(3, 2)) // (F(3, 2) + 4) == 5


def test_known_bad_layout_that_does_not_add_up() -> None:
    """Published: 75 in, 2 in wide, "15 pickets, 3 in". 15 x 2 + 16 x 3 = 78, not 75."""
    layout = plain(75, 2, 3)
    assert layout.count == 15
    assert 15 * 2 + 16 * layout.gap == 75


def test_known_bad_layout_that_drifts() -> None:
    """Published: 96 in, the gap rounded up to 2 3/4 in; over the rail that drifts 1/4 in (arithmetic)."""
    layout = plain(96, F(3, 2), F(11, 4))
    assert layout.count * F(3, 2) + (layout.count + 1) * F(11, 4) - 96 == F(1, 4)
    assert layout.marks[-1] == 96 - layout.marks[0]


def test_holes_centred_either_way() -> None:
    """Home Maintenance column: an end mark nearer the post than half a pitch: shift by half a pitch.

    72 in, pitch 5 in: the end marks are 1 in from the posts on a hole, 3 1/2 in on a space (arithmetic).
    """
    layouts = routed_layouts(F(72), F(0), F(3, 2), F(5))
    on_hole, on_space = layouts
    assert (on_hole.marks[0], on_hole.marks[-1]) == (1, 71)
    assert (on_space.marks[0], on_space.marks[-1]) == (F(7, 2), F(137, 2))
    assert centrings(layouts, RailHoles(F(5), F(3, 2)), EndGaps(F(1), F(4)))[0] == on_space


def test_picket_in_the_middle_where_a_space_leaves_slivers() -> None:
    """Common practice, no source: 35 in rails hidden 3 3/4 in at each end, 1 1/2 in pickets at 5 in."""
    layouts = routed_layouts(F(35), F(15, 4), F(3, 2), F(5))
    on_hole, on_space = layouts
    assert (on_hole.end_gap, on_space.end_gap) == (3, F(1, 2))
    assert centrings(layouts, RailHoles(F(5), F(3, 2)), EndGaps(F(1), F(4)))[0] == on_hole
    assert on_hole.marks[on_hole.count // 2] == F(35, 2)
