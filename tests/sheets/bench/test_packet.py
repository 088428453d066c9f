"""If these fail, a packet sends somebody for the wrong sticks, packs too little, or loses what was ticked."""

from __future__ import annotations

import html
import io
import json
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from pypdf import PdfReader

from cutplan.lengths import read_length
from cutplan.orders import Order, Origin, Piece, load_orders
from cutplan.planning.result import Result
from cutplan.planning.solve import solve
from cutplan.plans.plan import Plan, identity, numbered
from cutplan.running.budget import Budget
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.labels import labels
from cutplan.sheets.bench.page import packet_page
from cutplan.shop import load_shop
from cutplan.takeoff.cards import Card
from tests.commands import good
from tests.sheets.bench.browser import Browser
from tests.sheets.bench.test_page import needs_browser
from tests.takeoff.workshop import PLAIN, shop

F = Fraction
DEMO = Path(__file__).parents[3] / "data" / "demo"
WEEK = [Order("G1", "gate", "plain", 2, F(38), F(42), extra={"where": "<b>Mole</b>"}),
        Order("G2", "gate", "plain", 1, F(51), F(42)), Order("B1", "bay", "plain", 3, F(70), F(42)),
        Piece("spare rail", "cap", F(30), 4), Piece("G2 stop", "cap", F(11), 2, "G2")]


@pytest.fixture(scope="module")
def made() -> tuple[Plan, tuple[Card, ...]]:
    result = solve(WEEK, replace(shop(PLAIN), name="Tarn & Sons", stack=2), Budget(5))
    return replace(result.plan, weeks=("monday",)), result.takeoff.cards


def packet(plan: Plan, cards: tuple[Card, ...] = (), only: tuple[str, ...] = ()) -> str:
    page = packet_page(plan, Packet(identity(plan), "2026-03-02", "letter", only), cards)
    return re.sub(r"<sup>(\d+)</sup>&#8260;<sub>(\d+)</sub>", r"\1/\2", page).replace("&#8239;", " ")


def plain(part: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", part)).split())


def packed(page: str) -> Counter[tuple[str, str, Fraction]]:
    """Owner, profile and length of every piece that the packing list has."""
    found: Counter[tuple[str, str, Fraction]] = Counter()
    for owner, lines in re.findall(r'<article class="packed"><h3>([^<]+?) ?<.*?<ul>(.*?)</ul>', page, re.S):
        for line in re.findall(r"<li>(.*?)</li>", lines, re.S):
            piece = re.search(r"(\d+) &times; <b>(.*?)</b>.*<small>(.*?)</small>", line, re.S)
            if piece:
                length = read_length(plain(piece[2]).replace(" /", "/"), "in")
                found[owner, piece[3], length] += int(piece[1])
    return found


def test_what_lies_together_is_what_the_sticks_give(made: tuple[Plan, tuple[Card, ...]]) -> None:
    """Counted again off the sticks; and the hardware of all that a card is for."""
    plan, cards = made
    cut: Counter[tuple[str, str, Fraction]] = Counter()
    for profile in plan.profiles:
        for stick in profile.sticks:
            for piece in stick.cuts:
                owner = piece.mark.split()[0] if piece.mark != "spare rail" else "For no gate or bay"
                cut[owner, profile.profile, piece.length] += stick.count
    page = packet(plan, cards)
    assert packed(page) == cut
    assert "&lt;b&gt;Mole" in page and "<b>Mole" not in page
    ids = re.findall(r'type="checkbox" id="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_the_cover_says_whose_it_is_and_what_to_pull(made: tuple[Plan, tuple[Card, ...]]) -> None:
    plan, cards = made
    page = packet(plan, cards)
    assert f"monday, made on 2026-03-02. Plan {identity(plan)[:4]}." in page and "Tarn &amp; Sons" in page
    rows = re.findall(r"<tr><td>(.*?)</td><td>([\d /]+?)(?: \(.*?\))?</td><td>(\d+)</td><td>(\d+)</td></tr>",
                      page.replace('<span class="fr">', "").replace("</span>", ""))
    pulled = {(profile, F(length)): int(sticks) for profile, length, sticks, _ in rows}
    drawn: Counter[tuple[str, Fraction]] = Counter()
    for one in numbered(plan):
        drawn[plan.profiles[one.profile].profile, one.stick.length] += one.stick.count
    assert pulled == drawn
    pieces = sum(one.stick.count * len(one.stick.cuts) for one in numbered(plan))
    assert f"{pieces} pieces from {sum(drawn.values())} sticks" in page
    head = f"Tarn \\26 \\20 Sons \\b7 monday \\b7 made 2026-03-02 \\b7 plan {identity(plan)[:4]}"
    assert re.sub(r"\\20 | ", "", head) in re.sub(r"\\20 | ", "", page)


def test_one_saw_of_two_has_its_own_sticks_alone_under_their_numbers(made: tuple[Plan, tuple[Card, ...]]) -> None:
    plan, cards = made
    whole = packet(plan, cards)
    names = [profile.profile for profile in plan.profiles]
    parts = [packet(plan, cards, (name,)) for name in names]
    ticked = [sorted(int(n) for said in re.findall(r'data-sticks="([\d,]+)"', page) for n in said.split(","))
              for page in (whole, *parts)]
    assert ticked[0] == sorted(n for part in ticked[1:] for n in part) == list(range(1, len(ticked[0]) + 1))
    told = [{one.profile for one in labels(plan, only=only)} for only in ((), *((name,) for name in names))]
    assert told == [set(names), *({name} for name in names)]
    for name, part in zip(names, parts, strict=True):
        assert f"This packet is for one saw: {name} alone." in part and "Packing list" not in part
        assert all(f"<h2>{other}</h2>" not in part for other in names if other != name)


def test_a_newer_packet_says_which_it_replaces(made: tuple[Plan, tuple[Card, ...]]) -> None:
    later = replace(made[0], replaces=(Origin("9c1d5e7f00000000", 12), Origin("aaaa5e7f00000000", 0)))
    page = packet(later)
    assert "It replaces plan 9c1d from stick 13 on" in page and "It replaces plan aaaa: take those papers" in page
    assert "replaces plan" not in packet(made[0])


# Saves the ticks, and gives the name of the file and what is in it, as the link has them.
SAVED = ("(function(){let kept;HTMLAnchorElement.prototype.click=function(){kept=[this.download,this.href]};"
         "document.querySelector('.ticks .save').click();return kept})()")


@needs_browser
def test_what_is_ticked_can_be_handed_on(made: tuple[Plan, tuple[Card, ...]], tmp_path: Path) -> None:
    """The lifts of two sticks each that were ticked, also after the page was loaded again."""
    file = tmp_path / "monday.html"
    plan, cards = made
    file.write_text(packet_page(plan, Packet(identity(plan), "", "letter"), cards), encoding="utf-8")
    with Browser() as browser:
        browser.open(file)
        lifts = browser.evaluate("[...document.querySelectorAll('input[data-sticks]')].map(e => e.dataset.sticks)")
        browser.evaluate("[0, 2].forEach(k => document.querySelectorAll('input[data-sticks]')[k].click())")
        browser.evaluate("document.querySelector('.packed input').click()")
        browser.reload()
        name, href = browser.evaluate(SAVED)
        told = browser.evaluate("document.querySelector('.ticks').textContent")
        text = browser.evaluate(f"decodeURIComponent({json.dumps(href)}.split(',').slice(1).join(','))")
        browser.evaluate("document.querySelector('.ticks .copy').click()")
        assert browser.evaluate("document.querySelectorAll('textarea').length") == 0
    sticks = sorted(int(n) for k in (0, 2) for n in lifts[k].split(","))
    assert json.loads(text) == {"format": "cutplan ticks", "version": 1, "plan": identity(plan), "sticks": sticks}
    assert name == "monday-ticks.json" and f"{len(sticks)} sticks ticked" in told


@needs_browser
def test_what_is_ticked_on_the_page_is_what_is_booked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the plan to its packet, ticked in a browser and saved as the page names it, to the rack; and once more."""
    monkeypatch.chdir(tmp_path)
    demo = Path(__file__).resolve().parents[3] / "data" / "demo"
    good("cut", demo / "pieces.csv", "--shop", demo / "shop.toml", "--rack", "rack.db", "--json", "monday.json",
         "--limit", "5")
    good("sheets", "monday.json", "--out", "monday.html")
    ticked: set[int] = set()
    for ticks in ([1, 3], [0]):
        with Browser() as browser:
            browser.open(tmp_path / "monday.html")
            lifts = browser.evaluate("[...document.querySelectorAll('input[data-sticks]')].map(e => e.dataset.sticks)")
            for k in ticks:
                browser.evaluate(f"document.querySelectorAll('input[data-sticks]')[{k}].click()")
            name, href = browser.evaluate(SAVED)
            text = browser.evaluate(f"decodeURIComponent({json.dumps(href)}.split(',').slice(1).join(','))")
        Path(name).write_text(text)
        good("book", "monday.json", "--ticked", name)
        ticked |= {int(n) for k in ticks for n in lifts[k].split(",")}
        (plan,) = json.loads(good("rack", "plans", "--json", "-"))["plans"]
        assert set(plan["cut"]) == ticked
    assert "nothing is booked now" in good("book", "monday.json", "--ticked", name)


NEARLY_BLANK = 350  # characters


@pytest.fixture(scope="module")
def demo() -> Result:
    """To the end of the search, so that it is the same on a busy machine."""
    return solve(load_orders(DEMO / "week.csv", None), load_shop(DEMO / "shop.toml"), Budget(120))


@needs_browser
@pytest.mark.parametrize("paper", ["letter", pytest.param("a4", marks=pytest.mark.slow)])
def test_a_weeks_packet_has_few_pages_none_nearly_blank(paper: str, demo: Result, tmp_path: Path) -> None:
    """29 lines of the demo: thirty pages at most, read back from the PDF; each gate and bay is whole on its page."""
    file = tmp_path / "demo.html"
    file.write_text(packet_page(demo.plan, Packet(identity(demo.plan), "", paper), demo.takeoff.cards),
                    encoding="utf-8")
    with Browser() as browser:
        browser.open(file)
        pages = [page.extract_text() for page in PdfReader(io.BytesIO(browser.pdf())).pages]
    assert len(pages) <= 30
    assert min(map(len, pages)) > NEARLY_BLANK
    for card in demo.takeoff.cards:
        heads = [k for k, said in enumerate(pages) if re.search(rf"\b{card.mark}: (gate|bay|run), ", said)]
        assert len(heads) == 1
    for said in pages:
        lines = [line.strip() for line in said.splitlines() if line.strip() and not line.startswith("page ")]
        assert lines[-1] not in {profile.profile for profile in demo.plan.profiles}
        assert not lines[-1].startswith(("Set-up", "Kerf", "Reminders of codes", "Packing list", "Before you build"))
