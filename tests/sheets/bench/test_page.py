"""If these fail, somebody cuts from a page that is wrong, cut off, or cannot be read."""

from __future__ import annotations

import io
import re
import time
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path

import pytest
from pypdf import PdfReader

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.planning.sequence import sequenced
from cutplan.plans.plan import Plan, numbered
from cutplan.rack.store import changing
from cutplan.rack.supply import tagged
from cutplan.running.budget import Budget
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.page import packet_page
from tests.rack.workshop import SHOP
from tests.sheets.bench.browser import FOUND, Browser

F = Fraction
NASTY = ('<b>', '"><script>alert(1)</script>', "a & b 'c'", "</style><img src=x onerror=alert(2)>")

needs_browser = pytest.mark.skipif(FOUND is None, reason="there is no chromium on this machine")


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    pieces = [Piece(f"G{k} picket", "rail", F(75 + 13 * k, 4), 3 + k % 4, f"G{k}") for k in range(1, 16)]
    pieces += [Piece(mark, "bar", F(101 + k, 8), 5, "G1") for k, mark in enumerate(NASTY)]
    pieces += [Piece("H rail", "holed", F(80 + k), 2, f"G{k}") for k in range(3)]
    made = sequenced(cut_pieces(pieces, SHOP, Budget(20)))
    with changing(tmp_path_factory.mktemp("rack") / "rack.db") as rack:
        return tagged(made, rack)


@pytest.fixture(scope="module")
def page(plan: Plan) -> str:
    return packet_page(replace(plan, weeks=("monday",)), Packet("0123456789abcdef", "", "letter"))


class Parsed(HTMLParser):
    """The page's elements and its text; fails on one that is not closed."""

    VOID = ("meta", "rect", "circle", "line", "input", "img")

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.said: list[str] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def test_what_was_typed_is_printed_as_typed_and_nothing_of_it_is_obeyed(page: str) -> None:
    parsed = Parsed(page)
    said = " ".join("".join(parsed.said).split())
    assert all(mark in said for mark in NASTY)
    assert Counter(tag for tag, _ in parsed.tags)["script"] == 1  # the page's own
    assert not any(tag in ("img", "iframe", "link", "object") or "onerror" in attrs for tag, attrs in parsed.tags)


def test_nothing_is_fetched(page: str) -> None:
    assert not re.search(r"https?:|//[a-z]|@import|url\((?!#)", page)


def test_every_piece_is_drawn_once_and_to_scale(plan: Plan, page: str) -> None:
    """Against the plan: shares of the bar to a two-hundredth of a pixel on a page of 1,100."""
    bars = re.findall(r'<svg class="bar" style="width:([\d.]+)%".*?</svg>', page, re.S)
    bodies = re.findall(r'<svg class="bar".*?</svg>', page, re.S)
    entries = list(numbered(plan))
    assert len(bars) == len(entries)
    for one, width, body in zip(entries, bars, bodies, strict=True):
        longest = max(other.stick.length for other in entries if other.profile == one.profile)
        scale = 1100 * float(width) / 100
        assert abs(scale - float(1100 * one.stick.length / longest)) < 0.5
        drawn = [(float(x), float(w)) for x, w in re.findall(r'"piece" x="([\d.]+)%" width="([\d.]+)%"', body)]
        assert len(drawn) == len(one.stick.cuts)
        for (x, w), cut in zip(drawn, one.stick.cuts, strict=True):
            assert abs(x / 100 * scale - float(1100 * cut.start / longest)) < 0.5
            assert abs(w / 100 * scale - float(1100 * cut.length / longest)) < 0.5
        assert ('class="kept"' in body) == one.stick.keep


def test_every_mark_on_the_tape_tag_and_middle_is_there(plan: Plan, page: str) -> None:
    said = re.sub(r"<[^>]+>", "", page.replace("&#8239;", " ").replace("&#8260;", "/"))
    for one in numbered(plan):
        many = f"Sticks {one.first} to {one.last}, cut alike"
        assert (f"Stick {one.first}" if one.stick.count == 1 else many) in said
        for tag in one.stick.offcut_tags:
            assert re.search(rf"keep: write [A-Z0-9 ]*{tag}", said)
    assert "middle on hole" in said or "middle between holes" in said
    boxes = re.findall(r'type="checkbox" id="stick(\d+)"', page)
    assert boxes == [str(n) for one in numbered(plan) for n in range(one.first, one.last + 1)]


def test_four_hundred_sticks_are_quick_and_light() -> None:
    pieces = [Piece(f"G{k}", "rail", F(300 + k, 4), 4, f"G{k}") for k in range(100)]
    made = cut_pieces(pieces, SHOP, Budget(5))
    began = time.process_time()
    text = packet_page(made, Packet("0", "", "a4"))
    assert sum(one.stick.count for one in numbered(made)) >= 400
    assert time.process_time() - began < 3 and len(text.encode()) < 5_000_000


@pytest.fixture(scope="module")
def file(page: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "monday.html"
    path.write_text(page, encoding="utf-8")
    return path


@needs_browser
@pytest.mark.parametrize("width", [1280, 768, 390])
def test_in_a_browser_nothing_is_fetched_wrong_or_cut_off(file: Path, width: int) -> None:
    with Browser() as browser:
        browser.open(file, width)
        said = [one for one in browser.events if one["method"] in ("Runtime.exceptionThrown", "Log.entryAdded",
                                                                   "Runtime.consoleAPICalled")]
        asked = [one["params"]["request"]["url"] for one in browser.events
                 if one["method"] == "Network.requestWillBeSent"]
        assert said == [] and asked == [file.as_uri()]
        assert browser.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert browser.evaluate(OVERLAPS) == []
        assert browser.evaluate("document.querySelectorAll('.bar text').length > 0")
        assert browser.evaluate(ZEROS) == []
        sizes = browser.evaluate("[...document.querySelectorAll('body *')].filter(e => !e.closest('.own'))"
                                 ".map(e => parseFloat(getComputedStyle(e).fontSize))")
        assert browser.evaluate("parseFloat(getComputedStyle(document.querySelector('.own')).fontSize)") > max(sizes)
        small = browser.evaluate(
            "[...document.querySelectorAll('.cuts *,.bar text,.left')].filter(e => e.tagName != 'SUP' && "
            "e.tagName != 'SUB' && parseFloat(getComputedStyle(e).fontSize) < 15.9).length")
        assert small == 0  # 12 pt are 16 px


# Sticks whose 0 is not wholly in sight, or does not stand free above the bar and below what is written over it.
ZEROS = """[...document.querySelectorAll('.rod')].filter(function(rod){
var zero=rod.querySelector('b.zero').getBoundingClientRect(),bar=rod.querySelector('.bar').getBoundingClientRect(),
head=rod.previousElementSibling.getBoundingClientRect();
return !(zero.width>8&&zero.height>8&&zero.left>=bar.left-1&&zero.right<=innerWidth&&zero.bottom<=bar.top+1&&
zero.top>=head.bottom-1)}).map(rod=>rod.parentElement.textContent)"""
OVERLAPS = """(function(){
var found=[],shown=e=>getComputedStyle(e).display!=='none';
document.querySelectorAll('.bar').forEach(function(bar){
  var box=bar.getBoundingClientRect(),last=-1e9;
  [...bar.querySelectorAll('text')].filter(shown).forEach(function(t){
    var b=t.getBoundingClientRect();
    if(b.left<box.left-1||b.right>box.right+1||b.left<last-1)found.push(t.textContent);
    last=b.right})});
document.querySelectorAll('.cuts li,.head,.left,h2,h3,td').forEach(function(e){
  if(e.scrollWidth>e.clientWidth+1&&e.clientWidth)found.push(e.textContent)});
return found})()"""


@needs_browser
def test_a_tick_survives_a_reload_and_belongs_to_its_plan(file: Path, page: str, tmp_path: Path) -> None:
    with Browser() as browser:
        browser.open(file)
        browser.evaluate("document.getElementById('stick2').click()")
        browser.reload()
        ticked = "[...document.querySelectorAll('input:checked')].map(e => e.id)"
        assert browser.evaluate(ticked) == ["stick2"]
        other = tmp_path / "other.html"
        other.write_text(page.replace("0123456789abcdef", "fedcba9876543210"), encoding="utf-8")
        browser.open(other)
        assert browser.evaluate(ticked) == []


@needs_browser
def test_printed_no_stick_is_split_and_each_page_says_where_it_belongs(plan: Plan, file: Path) -> None:
    with Browser() as browser:
        browser.open(file)
        pages = [page.extract_text() for page in PdfReader(io.BytesIO(browser.pdf())).pages]
    heads = 0
    for number, said in enumerate(pages, start=1):
        begun = re.findall(r"Sticks? \d+(?: to \d+, cut alike)? ·", said)
        ended = re.findall(r"(?:Left .*?: (?:keep|scrap)|Nothing is left)", said, re.S)
        assert len(begun) == len(ended)
        heads += len(begun)
        assert "monday" in said and f"page {number} of {len(pages)}" in " ".join(said.split())
    assert heads == len(list(numbered(plan))) and len(pages) > 3
    for profile in plan.profiles:
        assert any(profile.profile in said for said in pages[1:])
