"""If these break, pickets and gaps no longer add up to the clear width, or a better layout was missed."""

from __future__ import annotations

import random
from fractions import Fraction as F

import pytest

from cutplan.takeoff.pickets import best_centring, nearest_fit, plain_layout, routed_layouts

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


def test_nearest_fit_is_the_smallest_change() -> None:
    """All good stretches end on sixteenths here, so a walk in sixteenths must find the same."""
    misfits = 0
    for _ in range(300):
        width = sixteenths(0, 2) + F(1, 16)
        pitch, clear = width + sixteenths(1, 4), sixteenths(1, 30)
        low = RNG.randint(0, 40) * pitch / 40 // F(1, 16) * F(1, 16)
        high = min(low + sixteenths(0, 1), pitch - F(1, 16))

        def good(wanted: F, width: F = width, pitch: F = pitch, low: F = low, high: F = high) -> bool:
            layouts = routed_layouts(wanted, F(0), width, pitch)
            return wanted > 0 and best_centring(layouts, low, high) is not None

        if low > high or good(clear):
            continue
        misfits += 1
        walk = (sign * F(k, 16) for k in range(1, 1000) for sign in (-1, 1))
        assert nearest_fit(clear, width, pitch, low, high) == next(c for c in walk if good(clear + c))
    assert misfits > 50


def test_no_clear_width_will_do() -> None:
    assert nearest_fit(F(30), F(1), F(5), min_end_gap=F(3), max_gap=F(2)) is None


def symmetric(marks: tuple[F, ...], rail: F) -> bool:
    return [rail - mark for mark in reversed(marks)] == list(marks)
