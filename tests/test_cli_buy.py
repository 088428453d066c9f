"""If these fail, the buyer's command says what it did not find out, or takes what it should refuse."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.commands import good, run

SHOP = """name = "Tide Mill Gates"
unit = "in"
currency = "USD"
[saw]
kerf = "1/8 in"
[suppliers.near]
freight = 15
free_from = 200
[suppliers.far]
minimum = 30
[profiles.rail]
kind = "rail"
stock = [
  { length = 100, price = 10, supplier = "near", code = "R-100" },
  { length = 100, price = 9, bundle = 5, supplier = "far", code = 4711, lead_days = 9 },
  { length = 120, price = 14, supplier = "near" },
]
"""
HEAD = "mark,profile,length,qty\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP, encoding="utf-8")
    Path("a.csv").write_text(f"{HEAD}A,rail,95,4\n", encoding="utf-8")
    Path("b.csv").write_text(f"{HEAD}B,rail,90,5\n", encoding="utf-8")
    return tmp_path


def flat(text: str) -> str:
    return " ".join(text.split())


def test_one_order_and_one_for_each_week() -> None:
    """By hand: nine sticks, ten bought by fives at 9.00 are 90.00; week by week 45.00 each."""
    said = flat(good("buy", "a.csv", "b.csv", "--shop", "shop.toml"))
    assert "Order for 90.00 USD; sticks that cost 9.00 USD are left over." in said
    assert "90.00 USD: proven by search, no order for these pieces is cheaper" in said
    assert "far: sticks 90.00 USD, freight 0.00 USD, together 90.00 USD" in said
    said = flat(good("buy", "a.csv", "b.csv", "--shop", "shop.toml", "--weekly"))
    assert "2 orders for 90.00 USD" in said and "Nothing is proven of the sum" in said
    assert "cannot" not in run("buy", "a.csv", "b.csv", "--shop", "shop.toml", "--together").stdout


def test_the_spreadsheet_names_the_supplier_and_his_code() -> None:
    rows = list(csv.DictReader(io.StringIO(good("buy", "a.csv", "--shop", "shop.toml", "--csv", "-"))))
    assert [(row["supplier"], row["code"], row["ordered"]) for row in rows] == [
        ("near", "R-100", "0"), ("far", "4711", "5"), ("near", "", "0")]


def test_what_a_supplier_is_worth() -> None:
    """By hand: four at 10.00 and freight 15.00 are 55.00, with the other five at 9.00 are 45.00."""
    said = flat(good("buy", "a.csv", "--shop", "shop.toml", "--without", "far", "--json", "order.json"))
    assert "without far; with all suppliers the order costs 45.00 USD, so far saves 10.00 USD" in said
    assert "Order for 55.00 USD" in said
    assert json.loads(Path("order.json").read_text())["without"] == {"suppliers": ["far"], "money": 45, "bound": 45}
    result = run("buy", "a.csv", "--shop", "shop.toml", "--without", "nearr")
    assert result.exit_code == 2 and "--without: 'nearr' sells nothing here; did you mean 'near'?" in result.stderr


def test_what_must_be_there_by_when_decides_who_serves() -> None:
    words = ("buy", "a.csv", "b.csv", "--shop", "shop.toml", "--today", "2026-03-02")
    said = flat(good(*words, "--start", "2026-03-09"))  # by hand: 4 x 10.00 + 15.00, then 5 x 9.00
    assert "Order for 100.00 USD" in said
    assert "Order for 90.00 USD" in flat(good(*words, "--start", "2026-03-11"))
    for bad, told in ((("--start", "2026-02-30"), "no day; write year, month and day"),
                      (("--start", "2026-03-01"), "2026-03-01 is before the day of the order, 2026-03-02")):
        result = run(*words, *bad)
        assert result.exit_code == 2 and told in result.stderr


def test_a_beginning_before_the_day_of_the_order_is_told_once_and_of_the_command_line() -> None:
    result = run("buy", "a.csv", "b.csv", "--shop", "shop.toml", "--today", "2026-03-20", "--start", "2026-03-02")
    assert result.exit_code == 2 and len(result.stderr.strip().splitlines()) == 1
    assert result.stderr.startswith("command line:1: --start: 2026-03-02 is before the day of the order, 2026-03-20: ")


def test_a_rack_that_is_not_there_is_told_before_anything_is_ordered() -> None:
    result = run("buy", "a.csv", "--shop", "shop.toml", "--rack", "typo.db", "--plans", "plans")
    assert result.exit_code == 2 and not Path("typo.db").exists() and not Path("plans").exists()
    assert "typo.db:1: file: there is no rack here; look at its name; leave --rack out" in result.stderr


def test_terms_that_no_order_can_meet_are_told(here: Path) -> None:
    """By hand: 5 left by tens or from 10 on; 5 x 9 are less than a minimum of 50; a break from 6 on of 5."""
    Path("shop.toml").write_text(
        'unit = "in"\n[saw]\nkerf = 0\n[suppliers.small]\nminimum = 50\n[suppliers.fair]\nminimum = 45\n'
        '[profiles.rail]\nkind = "rail"\nstock = [\n'
        '{ length = 110, price = 9, bundle = 10, qty = 5, supplier = "tens" },\n'
        '{ length = 111, price = 9, min_order = 10, qty = 5 },\n'
        '{ length = 112, price = 9, qty = 5, supplier = "small" },\n'
        '{ length = 113, price = 9, qty = 5, supplier = "fair" }, { length = 114, price = 30 },\n'
        '{ length = 115, price = 9, qty = 5, price_breaks = [ { from = 6, price = 8 } ] } ]\n')
    told = [line for line in run("buy", "a.csv", "--shop", "shop.toml").stderr.splitlines() if ": " in line]
    for line in ("rail 110 from tens: 5 are left, and it is sold by 10: none of them can be ordered",
                 "rail 111: 5 are left, and it is sold from 10 on: none of them can be ordered",
                 "rail 115: 5 can be ordered at most, and none at the price from 6 on",
                 "supplier small: all that is left there comes to 45, less than the minimum, 50: nothing can be "
                 "ordered there"):
        assert line in told, line
    assert not any("fair" in line for line in told)


def test_a_weeks_own_days_are_read_and_what_is_wrong_in_them_told(here: Path) -> None:
    system = """[systems.plain]
top_rail = "rail"
bottom_rail = "rail"
picket = "bar"
picket_width = "1 in"
max_gap = "4 in"
picket_allowance = "4 in"
[systems.plain.bay]
end_clearance = 0
rail_insertion = 0
"""
    bar = '[profiles.bar]\nkind = "picket"\nstock = [ { length = 100, price = 2 } ]\n'
    Path("shop.toml").write_text(SHOP + bar + system, encoding="utf-8")
    head = "mark,kind,system,qty,opening,height,due\n"
    Path("w1.csv").write_text(f"{head}A,bay,plain,1,72,36,2026-03-20\nB,bay,plain,1,70,36,2026-03-18\n")
    Path("w2.csv").write_text(f"{head}C,bay,plain,1,72,36,2026-03-17\n")
    Path("w3.csv").write_text(f"{head}D,bay,plain,1,72,36,soon\nE,bay,plain,1,70,36,\n")
    Path("w4.csv").write_text(f"{head}F,bay,plain,1,72,36,\n")
    words = ("--shop", "shop.toml", "--today", "2026-03-02")
    assert "proven" in good("buy", "w1.csv", *words)
    result = run("buy", "w1.csv", "w2.csv", "w3.csv", *words)
    assert result.exit_code == 2
    assert "w2.csv:2: due: 2026-03-17 is before 2026-03-18, by when the week before is due" in result.stderr
    assert "w3.csv:2: due: 'soon' is no day" in result.stderr
    result = run("buy", "w1.csv", "w4.csv", *words)
    assert result.exit_code == 2 and "w4.csv:2: due: says no day, where another week does" in result.stderr
    result = run("buy", "w1.csv", "--shop", "shop.toml", "--today", "2026-03-19")
    assert result.exit_code == 2 and "w1.csv:3: due: 2026-03-18 is before the day of the order" in result.stderr


BAD = """name = "x"
unit = "in"
currency = "USD"
[saw]
kerf = 0
[suppliers.near]
freight = -3
[suppliers.far]
free_from = 50
least = 4
[profiles.rail]
kind = "rail"
stock = [
  { length = 96, price = 20, supplier = "", lead_days = -1 },
  { length = 97, price = 20, supplier = 7.5, code = true, lead_days = 5000 },
]
"""


def test_every_wrong_figure_of_a_supplier_is_named_with_its_line() -> None:
    Path("bad.toml").write_text(BAD, encoding="utf-8")
    result = run("buy", "a.csv", "--shop", "bad.toml")
    assert result.exit_code == 2
    for told in ("bad.toml:7: suppliers.near.freight:", "bad.toml:9: suppliers.far.free_from: says nothing without",
                 "bad.toml:10: suppliers.far.least: is not a key",
                 "bad.toml:14: profiles.rail.stock[1].supplier: is empty",
                 "bad.toml:14: profiles.rail.stock[1].lead_days:", "bad.toml:15: profiles.rail.stock[2].code:",
                 "bad.toml:15: profiles.rail.stock[2].lead_days: 5000 days are more"):
        assert told in result.stderr, told


def test_a_supplier_without_a_table_is_told() -> None:
    Path("shop.toml").write_text(SHOP.replace('"near"', '"nearr"'), encoding="utf-8")
    said = flat(run("buy", "a.csv", "--shop", "shop.toml").stderr)
    assert "supplier 'nearr': has no [suppliers] table" in said and "was it to be 'near'?" in said
    assert "supplier 'near': no stock of the shop file is bought there" in said
