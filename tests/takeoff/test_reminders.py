"""If these break, an opening near a published limit goes by without a word, or a reminder seems to decide."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from cutplan.shop.codes import ALL
from cutplan.takeoff.pickets import PicketLayout
from cutplan.takeoff.reminders import reminders

SPHERE = "2018 IRC R312.1.3)"  # 2018 IRC R312.1.3: a 4 in sphere shall not pass
GUARD = "2018 IRC R312.1.1"  # 2018 IRC R312.1.2: at least 36 in
STAIR = "IRC R312.1.2, exceptions"  # at second hand: at least 34 in
COMMERCIAL = "IBC 1015.3"  # from memory: at least 42 in
POOL = "AG105.2(1)"  # IRC Appendix G AG105.2(1): at least 48 in


def layout(gap: F | int, end_gap: F | int | None = None, centred: str = "gap") -> PicketLayout:
    return PicketLayout(F(60), 10, F(gap if end_gap is None else end_gap), F(gap), (F(0),) * 10, centred)


def lines(kind: str, height: F | int, set_out: PicketLayout, max_gap: F | int = 4, unit: str = "in",
          below: F | int = 0, tops: F | int | None = None) -> tuple[str, ...]:
    figures = {"gap": set_out.widest, "space below": F(below), "height": F(height),
               "rail tops": None if tops is None else F(tops)}
    return reminders(kind, figures, set_out, F(max_gap), ALL, unit)


def printed(
    kind: str = "bay",
    height: F | int = 60,
    gap: F | int = 3,
    end_gap: F | int | None = None,
    unit: str = "in",
    below: F | int = 0,
    tops: F | int | None = None,
) -> str:
    return "\n".join(lines(kind, height, layout(gap, end_gap), 4, unit, below, tops))


def test_nothing_near_nothing_said() -> None:
    assert lines("bay", 45, layout(3)) == ()


def test_four_inches_exactly_is_out() -> None:
    """2018 IRC R312.1.3: "shall not pass" is strict."""
    near = "; the widest gap here is not within that"
    assert SPHERE not in printed(gap=F(55, 16))
    assert SPHERE in printed(gap=F(7, 2)) and near not in printed(gap=F(7, 2))
    assert near not in printed(gap=F(63, 16)).splitlines()[0]
    assert near in printed(gap=4).splitlines()[0]
    assert near in printed(gap=9)


def test_the_end_gap_counts() -> None:
    assert SPHERE in printed(gap=2, end_gap=4)


@pytest.mark.parametrize(
    ("limit", "kind", "heights", "not_heights"),
    [
        (GUARD, "gate", (34, 36, 38), (33, 39)),
        (GUARD, "bay", (20, 34, 36, 38), (39,)),
        (STAIR, "bay", (20, 34), (37,)),
        (STAIR, "gate", (), (34,)),
        (COMMERCIAL, "gate", (40, 42, 44), (39, 45)),
        (COMMERCIAL, "bay", (40, 42, 44), (39, 45)),
        (POOL, "gate", (46, 48, 50, 60, 72), (45,)),
        (POOL, "bay", (46, 48, 50, 60, 72), (45,)),
        ("AG105.2(8)", "gate", (48,), (45,)),
        ("AG105.2(8)", "bay", (), (48,)),
    ],
)
def test_heights_near_a_limit(
    limit: str, kind: str, heights: tuple[int, ...], not_heights: tuple[int, ...]
) -> None:
    assert all(limit in printed(kind, height) for height in heights)
    assert not any(limit in printed(kind, height) for height in not_heights)


def test_height_at_the_limit_is_in() -> None:
    """2018 IRC R312.1.2: at least 36 in is inclusive."""
    assert "the height here is less" in printed("gate", F(575, 16))
    assert "the height here is less" not in printed("gate", 36)


def test_millimetres_convert_exactly() -> None:
    """1 in = 25.4 mm exactly (NIST SP 811)."""
    assert "a 101.6 mm sphere" in printed(gap=100, unit="mm")
    assert "at least 914.4 mm high" in printed(height=F(9144, 10), gap=50, unit="mm")
    assert "is not within that" not in printed(gap=F(10159, 100), height=1100, unit="mm")
    assert "is not within that" in printed(gap=F(1016, 10), height=1100, unit="mm")


def test_holes_wider_apart_than_the_systems_gap() -> None:
    (line,) = lines("bay", 45, layout(F(13, 4), 2, "hole"), 3)
    assert "3 1/4 in between pickets" in line and "3 in" in line


def test_every_reminder_leaves_the_decision_to_others() -> None:
    found = printed("gate", 48, 5, below=5, tops=40).splitlines() + printed("bay", 36, 5).splitlines()
    assert all(line.endswith("Local codes and licensed practice decide.") for line in found)
    assert not any(word in line.lower() for line in found for word in ("complian", "safe"))
    assert not any("{" in line for line in found)


def test_figures_from_memory_say_so() -> None:
    assert "IBC 1015.3 and 1015.4, figures not checked against its text" in printed(height=42)


def test_each_limits_words_hold_its_value() -> None:
    assert all("{" + str(limit.value) + "}" in limit.words for limit in ALL)


def test_rail_tops_decide_which_gap_governs_at_a_pool() -> None:
    """IRC Appendix G AG105.2(3), (4), seen: tops less than 45 in apart: 1 3/4 in; 45 in or more: 4 in."""
    close, far, unknown = (printed(height=60, gap=3, tops=tops) for tops in (F(719, 16), 45, None))
    assert "AG105.2(3)" in close and "AG105.2(4)" not in close
    assert "no gap over 1 3/4 in; the widest gap here is not within that" in close
    assert "AG105.2(4)" in far and "AG105.2(3)" not in far and "not within that" not in far
    assert "AG105.2(3)" in unknown and "AG105.2(4)" in unknown and "not within that" not in unknown
    assert "no gap over 4 in; the widest gap here is not within that" in printed(height=60, gap=F(65, 16), tops=46)


def test_the_space_under_the_bottom_rail_is_measured() -> None:
    """2018 IRC R312.1.3, seen: a 4 in sphere shall not pass; ISPSC 305.2.1, from memory: at most 2 in at a pool."""
    assert "under a guard's bottom rail" not in printed(height=45, below=3)
    assert "pass. Local" in printed(height=45, below=F(7, 2))
    assert "sphere shall not pass; the space below is wider than that here" in printed(height=45, below=4)
    assert "solid surface; the space below" in printed(height=48, below=F(33, 16))
    assert "solid surface; the space below" not in printed(height=48, below=2)


def test_the_drop_is_measured_level() -> None:
    """2018 IRC R312.1.1, seen: more than 30 in at any point within 36 in, horizontally."""
    assert "more than 30 in at any place within 36 in, measured level" in printed(height=36)
