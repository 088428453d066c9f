"""If these break, pickets and gaps no longer add up to the clear width, or a better layout was missed."""

from __future__ import annotations

import random
from fractions import Fraction as F

import pytest

from cutplan.takeoff.pickets import EndGaps, RailHoles, nearest_fit, plain_layout, routed_layouts

RNG = random.Random()


@pytest.fixture(autouse=True)
def same_draws_every_time() -> None:
    RNG.seed(20240611)


def sixteenths(low: int, high: int) -> F:
    return F(RNG.randint(16 * low, 16 * high), 16)


def test_plain_layouts_add_up_and_are_the_fewest() -> None:
    for _ in range(400):
        insertion, width = sixteenths(0, 3), sixteenths(0, 2) + F(1, 16)
        max_gap = width + sixteenths(0, 3)
        clear = sixteenths(1, 120)
        layout = plain_layout(clear + 2 * insertion, insertion, width, max_gap)
        fewest = next(n for n in range(2000) if (clear - n * width) / (n + 1) <= max_gap)
        assert layout.count == fewest == len(layout.marks)
        assert layout.count * width + (layout.count + 1) * layout.gap == clear
        picket_edges = [mark + side * width / 2 for mark in layout.marks for side in (-1, 1)]
        edges = [insertion, *picket_edges, insertion + clear]
        assert {b - a for a, b in zip(edges[::2], edges[1::2], strict=True)} == {layout.gap}
        assert symmetric(layout.marks, clear + 2 * insertion)


def test_routed_layouts_have_every_picket_that_fits() -> None:
    for _ in range(100):
        insertion, width = sixteenths(0, 3), sixteenths(0, 2) + F(1, 16)
        pitch, clear = width + sixteenths(1, 4), sixteenths(1, 120)
        rail = clear + 2 * insertion
        layouts = routed_layouts(rail, insertion, width, pitch)
        for layout, offset in zip(layouts, (F(0), F(1, 2)), strict=True):
            holes = [rail / 2 + (k + offset) * pitch for k in range(-62, 62)]
            fits = [h for h in holes if h - width / 2 >= insertion and h + width / 2 <= rail - insertion]
            assert list(layout.marks) == fits
            assert layout.count == len(fits)
            assert layout.end_gap == (fits[0] - width / 2 - insertion if fits else clear)
            assert symmetric(layout.marks, rail)


def will_do(clear: int, width: int, pitch: int, hole: int, ends: tuple[int, int], plugged: bool) -> bool:
    """Whether a rail of this clear width can be centred, by setting pickets in the holes from the middle outwards.

    All in thirty-seconds, and even, so that halves are whole.
    """
    for first in (0, pitch // 2):
        one_side = range(first, clear // 2 + 2 * pitch, pitch)
        pickets = [at for at in one_side if at + width // 2 <= clear // 2]
        empty = [at for at in one_side[len(pickets):] if at - hole // 2 < clear // 2]
        end_gap = clear // 2 - pickets[-1] - width // 2 if pickets else clear
        if clear > 0 and ends[0] <= end_gap <= ends[1] and (plugged or not empty):
            return True
    return False


def test_nearest_fit_is_the_smallest_change() -> None:
    """All good stretches end on sixteenths here, so a walk in sixteenths must find the same."""
    misfits, none = 0, 0
    for _ in range(600):
        width = 2 * RNG.randint(1, 32)
        pitch, clear = width + 2 * RNG.randint(1, 64), 2 * RNG.randint(16, 480)
        low = 2 * RNG.randint(0, pitch // 2)
        high = min(low + 2 * RNG.randint(0, 16), pitch - 2)
        hole, plugged = RNG.choice((width, min(width + 4, pitch - 2), 2)), RNG.random() < 0.3
        if low > high or will_do(clear, width, pitch, hole, (low, high), plugged):
            continue
        misfits += 1
        walk = (sign * k for k in range(2, 1000, 2) for sign in (-1, 1))
        nearest = next((c for c in walk if will_do(clear + c, width, pitch, hole, (low, high), plugged)), None)
        holes, ends = RailHoles(F(pitch, 32), F(hole, 32)), EndGaps(F(low, 32), F(high, 32), plugged)
        told = nearest_fit(F(clear, 32), F(width, 32), holes, ends)
        assert (None if told is None else 32 * told) == nearest
        none += nearest is None
    assert misfits > 150 and none


def test_no_clear_width_will_do() -> None:
    assert nearest_fit(F(30), F(1), RailHoles(F(5), F(1)), EndGaps(F(3), F(2))) is None


def symmetric(marks: tuple[F, ...], rail: F) -> bool:
    return [rail - mark for mark in reversed(marks)] == list(marks)
