"""Charts as SVG, drawn to scale: lines and marks that tell apart without colour, axes with their units.

The SVG has no script and asks nothing of the network; its letters are the page's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from markupsafe import Markup

from cutplan.sheets.pages import part

CHART_WIDTH, CHART_HEIGHT = 720, 380
MARGIN_LEFT, MARGIN_RIGHT, MARGIN_TOP, MARGIN_BOTTOM = 84, 24, 20, 86  # margins for the axes' words and the legend
TICKS = 7  # about so many on an axis

Point = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Series:
    """Points of one kind, in order: a line through them (`dashes`: "" for a full one), a mark at each, or both.

    `mark` is "circle", "square", "diamond", "cross" or "" for none. `notes` say of each point what a reader sees who
    rests the pointer on it.
    """

    name: str
    points: tuple[Point, ...]
    line: bool = True
    dashes: str = ""
    mark: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Axis:
    """What is measured, with its unit. `whole`: ticks at whole numbers only. `zero`: the axis begins at 0."""

    label: str
    whole: bool = False
    zero: bool = False


@dataclass(frozen=True)
class Chart:
    """A chart; `label` says in a sentence what it shows, for those who cannot see it."""

    label: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]


@dataclass(frozen=True)
class Scale:
    """Where the numbers from `low` to `high` lie on the sheet."""

    low: Fraction
    high: Fraction
    first: int
    last: int
    step: Fraction

    def at(self, number: Fraction) -> float:
        share = (number - self.low) / (self.high - self.low)
        return round(float(self.first + share * (self.last - self.first)), 2)

    def ticks(self) -> list[Fraction]:
        begin, end = math.ceil(self.low / self.step), math.floor(self.high / self.step)
        return [k * self.step for k in range(begin, end + 1)]


def scale(axis: Axis, numbers: Sequence[Fraction], first: int, last: int) -> Scale:
    """From the tick at or below the least number to the one at or above the greatest."""
    low, high = min(numbers), max(numbers)
    if axis.zero:
        low = min(low, Fraction(0))
    if low == high:
        low, high = low - 1, high + 1
    step = nice((high - low) / TICKS, axis.whole)
    return Scale(math.floor(low / step) * step, math.ceil(high / step) * step, first, last, step)


def nice(rough: Fraction, whole: bool) -> Fraction:
    """The least of 1, 2, 5, 10, ... (or their tenths and hundredths) that is not below."""
    power = Fraction(10) ** math.floor(math.log10(rough))
    step = next(n * power for n in (1, 2, 5, 10, 20) if n * power >= rough)
    return max(step, Fraction(1)) if whole else step


@dataclass(frozen=True)
class DrawnCurve:
    """A series on the sheet, or its sample at the foot: a line's points or path ("": none), and outlines with notes."""

    name: str
    line: str
    dashes: str
    mark: str
    marks: tuple[tuple[str, str], ...]
    at: int = 0


def svg(chart: Chart) -> Markup:
    """The chart as an SVG element."""
    points = [point for series in chart.series for point in series.points]
    if not points:
        return Markup()
    across = scale(chart.x, [x for x, _ in points], MARGIN_LEFT, CHART_WIDTH - MARGIN_RIGHT)
    up = scale(chart.y, [y for _, y in points], CHART_HEIGHT - MARGIN_BOTTOM, MARGIN_TOP)
    return part(
        "chart.html", chart=chart, width=CHART_WIDTH, height=CHART_HEIGHT, left=MARGIN_LEFT,
        right=CHART_WIDTH - MARGIN_RIGHT, top=MARGIN_TOP, bottom=CHART_HEIGHT - MARGIN_BOTTOM,
        across=[(across.at(x), short(x)) for x in across.ticks()],
        up=[(up.at(y), short(y)) for y in up.ticks()], series=[drawn(one, across, up) for one in chart.series],
        legend=list(legend(chart.series)))


def drawn(series: Series, across: Scale, up: Scale) -> DrawnCurve:
    places = [(across.at(x), up.at(y)) for x, y in series.points]
    line = " ".join(f"{x},{y}" for x, y in places) if series.line and len(places) > 1 else ""
    notes = (*series.notes, *[""] * (len(places) - len(series.notes)))
    marks = [(outline(series.mark, x, y), note) for (x, y), note in zip(places, notes, strict=True) if series.mark]
    return DrawnCurve(series.name, line, series.dashes, series.mark, tuple(marks))


def outline(mark: str, x: float, y: float) -> str:
    """A mark about 9 wide around a point."""
    if mark == "square":
        return f"M{x - 4:.2f} {y - 4:.2f}h8v8h-8z"
    if mark == "diamond":
        return f"M{x:.2f} {y - 6:.2f}l6 6l-6 6l-6 -6z"
    if mark == "cross":
        return f"M{x - 5:.2f} {y - 5:.2f}l10 10m0 -10l-10 10"
    return f"M{x - 4:.2f} {y:.2f}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z"


def legend(series: Sequence[Series]) -> Iterator[DrawnCurve]:
    """A sample of each and its name, side by side at the foot."""
    at, y = MARGIN_LEFT, CHART_HEIGHT - 20
    for one in series:
        marks = ((outline(one.mark, at + 13, y), ""),) if one.mark else ()
        yield DrawnCurve(one.name, f"M{at} {y}h26" if one.line else "", one.dashes, one.mark, marks, at + 33)
        at += 50 + round(6.6 * len(one.name))


def short(number: Fraction) -> str:
    """A tick's number, with as few decimals as it needs."""
    return f"{float(number):.6f}".rstrip("0").rstrip(".")
