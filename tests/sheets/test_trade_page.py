"""If these fail, the page of what fewer set-ups would cost is wider than a telephone, or tells two bounds of one thing.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.running.budget import Budget
from cutplan.sheets.plan import plan_text
from cutplan.sheets.trade import TRADED, trade_page
from cutplan.shop import Profile, SawRates, Shop, Stock
from tests.sheets.bench.browser import Browser
from tests.sheets.bench.test_page import needs_browser


@pytest.fixture(scope="module")
def traded() -> Plan:
    rail = Profile("rail", "rail", (Stock(F(192), F("4200.35")), Stock(F(144), F("3300.20"))), F(1, 8), F(1, 2))
    shop = Shop("", "in", "USD", F(1, 8), None, 3, F(1, 16), {"rail": rail}, {},
                saw=SawRates(F(7, 2), F(17), F(25), F("4200.75")))
    pieces = [Piece(f"P{k}", "rail", F(231 + 53 * k, 8), 3 + k % 3, "G1") for k in range(6)]
    plan = cut_pieces(pieces, shop, Budget(20), trade=TRADED)
    return replace(plan, weeks=("monday",))


@needs_browser
def test_the_page_is_no_wider_than_what_it_is_read_on(traded: Plan, tmp_path: Path) -> None:
    file = tmp_path / "trade.html"
    file.write_text(trade_page(traded), encoding="utf-8")
    with Browser() as browser:
        for width in (390, 768, 1280):
            browser.open(file, width)
            assert browser.evaluate("document.documentElement.scrollWidth") <= width
        assert "What fewer set-ups would cost: monday" in browser.evaluate("document.title")


def test_one_bound_is_told_of_the_set_ups(traded: Plan) -> None:
    """No row of the table has a larger bound than what is said of the plan itself, which may cost no more than any."""
    (profile,) = traded.profiles
    text = plan_text(traded)
    rows = re.findall(r"^\d\.\d\d +[~\d.]+ +(\d+) +(\d+) ", text, re.M)
    assert len(rows) == len(TRADED)
    told = re.search(r"- (\d+) set-ups: (?:proven|not proven, could at most be (\d+) fewer)", text)
    assert told is not None and int(told[1]) == profile.totals.patterns
    assert int(told[1]) - int(told[2] or 0) >= max(int(least) for _, least in rows)
