"""If these fail, the page of curves misleads the eye, breaks in a browser, or lets a typed name run wild in it."""

from __future__ import annotations

import re
from fractions import Fraction
from html.parser import HTMLParser

import pytest

from cutplan.buying.mill import mill
from cutplan.buying.stock_lengths import choose
from cutplan.running.budget import Budget
from cutplan.sheets.chart import Axis, Chart, Series, svg
from cutplan.sheets.stock_lengths import LengthsReport, lengths_text, summary
from cutplan.sheets.stock_lengths_page import lengths_page
from cutplan.sheets.words import Writer
from tests.buying.test_stock_lengths import profile, question

WRITE = Writer("in", Fraction(1, 16), "USD")
VOID = {"meta"}


class Reader(HTMLParser):
    """Every tag is closed, in order; `found` are the tags, `text` what is read."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append(tag)
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert not reader.open
    return reader


@pytest.fixture(scope="module")
def report() -> LengthsReport:
    cut = profile({96: 96, 120: 120, 144: 144})
    weeks = question(cut, {36: 9, 50: 4})
    one = mill(question(cut, {36: 9, 50: 4}, lengths=range(1, 145), by_length=True), Budget(30))
    return LengthsReport((choose(weeks, 2, Budget(30)),), (one,), False)


def test_the_page_is_whole_and_asks_nothing_of_the_network(report: LengthsReport) -> None:
    page = lengths_page(report, WRITE, "Skellan Quay")
    reader = read(page)
    assert reader.found.count("svg") == 3
    assert not {"script", "link", "img", "iframe", "object", "a"} & set(reader.found)
    assert not re.search(r"https?:|url\((?!#)|@import|javascript", page, re.I)
    assert "length of the stick, ft" in reader.text and "waste, % of what is drawn" in reader.text


def test_what_was_typed_is_only_read(report: LengthsReport) -> None:
    name = "<script>alert('x')</script> & \"Sons\""
    reader = read(lengths_page(report, WRITE, name))
    assert "script" not in reader.found
    assert name in reader.text
    wild = Chart(name, Axis(name), Axis(name), (Series(name, ((Fraction(0), Fraction(1)), (Fraction(2), Fraction(3))),
                                                       mark="circle", notes=(name, name)),))
    assert "script" not in read(svg(wild)).found


def test_points_are_in_proportion() -> None:
    points = tuple((Fraction(x), Fraction(y)) for x, y in ((1, 10), (2, 14), (4, 11), (7, 31)))
    drawn = svg(Chart("", Axis("x"), Axis("y"), (Series("s", points),)))
    match = re.search(r'<polyline[^>]* points="([^"]+)"', drawn)
    assert match
    places = [tuple(map(float, place.split(","))) for place in match[1].split()]
    across = (places[3][0] - places[0][0]) / 6
    up = (places[0][1] - places[3][1]) / 21
    assert across > 0 and up > 0
    for (x, y), (px, py) in zip(points, places, strict=True):
        assert px == pytest.approx(places[0][0] + across * (float(x) - 1), abs=0.02)
        assert py == pytest.approx(places[0][1] - up * (float(y) - 10), abs=0.02)


def test_ticks_stand_where_their_numbers_are() -> None:
    points = ((Fraction(0), Fraction(0)), (Fraction(10), Fraction(5)))
    drawn = svg(Chart("", Axis("x"), Axis("y"), (Series("s", points),)))
    ticks = {float(text): float(x) for x, text in
             re.findall(r'<text x="([\d.]+)" y="[\d.]+" text-anchor="middle">([\d.]+)</text>', drawn)}
    match = re.search(r'points="([\d.]+),[\d.]+ ([\d.]+),', drawn)
    assert match and ticks[0] == float(match[1]) and ticks[10] == float(match[2])


@pytest.mark.parametrize("points", [((1, 5),), ((1, 5), (2, 5)), ((3, 0), (3, 0))])
def test_a_chart_of_little_is_still_one(points: tuple[tuple[int, int], ...]) -> None:
    series = Series("s", tuple((Fraction(x), Fraction(y)) for x, y in points), mark="diamond")
    assert "svg" in read(svg(Chart("", Axis("x", whole=True), Axis("y", zero=True), (series,)))).found


def test_the_summary_comes_first_in_plain_words(report: LengthsReport) -> None:
    said = summary(report.answers[0], WRITE)
    assert said.startswith("rail: to stay with 8 ft, 10 ft and 12 ft costs ")
    assert "% waste" in said
    assert lengths_text(report, WRITE).startswith("rail: to stay with ")
