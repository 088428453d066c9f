"""If these fail, a customer is quoted figures that do not add up, or the wrong gate pays."""

from __future__ import annotations

import csv
import io
import itertools
import json
import random
import re
from collections import Counter
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.bidding.quotation import COSTS, QuotedLine, priced, shared
from cutplan.shop import QuoteRates
from tests.bidding.bids import DEMO
from tests.commands import good, run

HEAD = "mark,kind,system,qty,opening,height\n"
QUOTE = "\n[quote]\nmarkup = 0.35\ntax = 0.0825\nassembly_minutes = 45\nhourly = 42\n"


def test_cents_are_shared_out_to_the_last_each_within_one_of_its_exact_share() -> None:
    for seed in range(500):
        chance = random.Random(seed)
        weights = [F(chance.randrange(0, 10**6), chance.randrange(1, 97)) for _ in range(chance.randrange(1, 40))]
        cents = chance.randrange(0, 10**7)
        found = shared(cents, weights)
        assert sum(found) == cents
        whole = sum(weights)
        assert not whole or all(abs(n - cents * weight / whole) < 1 for n, weight in zip(found, weights, strict=True))


def test_no_line_gains_by_having_a_smaller_remainder() -> None:
    assert shared(10, [F(1), F(1), F(1)]) == [4, 3, 3]
    assert shared(100, [F(50, 3), F(1, 3), F(83)]) == [17, 0, 83]
    assert shared(-7, [F(1), F(1)]) == [-3, -4]  # a credit is shared out as well
    assert shared(5, [F(0), F(0)]) == [3, 2]


def test_every_quotation_adds_up_to_the_cent() -> None:
    """500 random jobs: each column comes to the job's own cost, rounded to the cent; markup and tax to theirs of what
    stands before them, and every line to its parts."""
    for seed in range(500):
        chance = random.Random(seed)

        def amount(most: int, chance: random.Random = chance) -> F:
            return F(chance.randrange(most), chance.choice((1, 3, 7, 100, 640)))

        lines = [QuotedLine(f"L{k}", "gate", "s", 1, 1, F(0), {name: amount(999) for name in COSTS})
                 for k in range(chance.randrange(1, 30))]
        costs = {name: amount(10**6) for name in COSTS}
        rates = QuoteRates(amount(90) / 100, amount(20) / 100)
        found = priced(lines, costs, rates)
        sums = {name: sum(one.cents[name] for one in found) for name in found[0].cents}
        for name in COSTS:
            assert abs(sums[name] - 100 * costs[name]) <= F(1, 2)
        before = sum(sums[name] for name in COSTS)
        assert abs(sums["markup"] - rates.markup * before) <= F(1, 2)
        assert abs(sums["tax"] - rates.tax * (before + sums["markup"])) <= F(1, 2)
        assert sum(one.total for one in found) == sum(sums.values())


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text((DEMO / "shop.toml").read_text().replace("stack = 1\n", "stack = 1\nhourly = 38\n"
                                 "setup_minutes = 3\ncut_seconds = 20\n") + QUOTE)
    Path("bid.csv").write_text(HEAD + "G1,gate,lantern,2,40..41,42\nB1,bay,breakwater,1..3,70,42\n")
    Path("week.csv").write_text(HEAD + "G1,gate,lantern,2,40 1/2,42\nB1,bay,breakwater,3,70,42\n")
    return "shop.toml"


def rows_of(path: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(Path(path).read_text())))


def test_a_bid_is_quoted_at_a_chance_and_the_customer_sees_prices_alone(shop: str) -> None:
    words = ("bid", "bid.csv", "--shop", shop, "--versions", "8", "--quote")
    said = good(*words, "--csv", "quote.csv", "--html", "quote.html", "--json", "quote.json")
    inside, page = rows_of("quote.csv"), Path("quote.html").read_text()
    whole = json.loads(Path("quote.json").read_text())
    good("bid", "bid.csv", "--shop", shop, "--versions", "8", "--json", "bid.json")
    order = next(one for one in json.loads(Path("bid.json").read_text())["orders"]
                 if one["profile"] == "together" and one["in"] == 80)
    for name, key in (("hardware", "hardware"), ("saw", "saw_money")):
        assert abs(sum(F(row[name]) for row in inside) - F(str(order[key]))) <= F(1, 200)
    material = sum(F(row["material"]) for row in inside)
    assert abs(material - F(str(order["sticks_money"])) + F(str(whole["credit"]))) <= F(1, 200)
    assert sum(F(row["assembly"]) for row in inside) == (2 + 3) * 45 * F(42, 60)  # all of 1..3 bays
    for row in inside:
        assert F(row["total"]) == sum(F(row[name]) for name in (*COSTS, "markup", "tax"))
    offered = good(*words, "--customer", "--csv", "offer.csv", "--html", "offer.html")
    assert [row["total"] for row in rows_of("offer.csv")] == [row["total"] for row in inside]
    for word in ("markup", "assembly", "waste", "hardware", "jobs of 100", "rack"):
        assert word not in offered and word not in Path("offer.html").read_text() and word in said + page
    assert set(rows_of("offer.csv")[0]) == {"mark", "kind", "system", "qty", "run", "amount", "tax", "total",
                                            "if_it_comes", "or"}


def test_a_measured_job_is_quoted_by_its_plan_and_kept_offcuts_are_credited(shop: str) -> None:
    good("cut", "week.csv", "--shop", shop, "--json", "plan.json", "--limit", "5")
    plan = json.loads(Path("plan.json").read_text())
    good("bid", "week.csv", "--from-plan", "plan.json", "--shop", shop, "--quote", "--csv", "quote.csv")
    rows = rows_of("quote.csv")
    cost = sum(F(str(one["totals"]["cost"])) for one in plan["profiles"])
    credit = sum(F(str(stick["count"])) * F(str(stick["price"])) * F(str(stick["offcut"])) / F(str(stick["length"])) / 2
                 for one in plan["profiles"] for stick in one["sticks"] if stick["keep"])  # offcut_credit is 0.5
    assert abs(sum(F(row["material"]) for row in rows) - (cost - credit)) <= F(1, 200)
    each = 2 * F("13.40") + F("21.50") + 16 * F("0.12")
    assert [F(row["hardware"]) for row in rows] == [2 * each, 0]


SOLD = """\
name = "Quay Lane Gates"
unit = "in"
currency = "GBP"
offcut_credit = 0.5

[saw]
kerf = "1/8 in"

[profiles.tube]
kind = "rail"
keep_from = "24 in"
stock = [
    { length = "120 in", price = 18.00, supplier = "Ness" },
    { length = "120 in", price = 15.50, supplier = "Orme", bundle = 3 },
    { length = "240 in", price = 33.00, supplier = "Orme", price_breaks = [ { from = 2, price = 28.00 } ] },
]

[profiles.bar]
kind = "picket"
stock = [
    { length = "120 in", price = 4.40, supplier = "Ness" },
    { length = "240 in", price = 8.10, supplier = "Orme", min_order = 2 },
]

[suppliers.Ness]
freight = 21
free_from = 90

[suppliers.Orme]
freight = 34
minimum = 60

[systems.plain]
top_rail = "tube"
bottom_rail = "tube"
picket = "bar"
picket_width = "3/4 in"
max_gap = "4 in"
picket_allowance = "5 in"

[systems.plain.bay]
end_clearance = "1/8 in"
rail_insertion = "3/4 in"
"""
TERMS = {  # of each entry: profile, length, supplier, sold by, no fewer than, and the price of one of so many
    "Ness": [("tube", 120, 1, 1, lambda n: F(18)), ("bar", 120, 1, 1, lambda n: F("4.4"))],
    "Orme": [("tube", 120, 3, 1, lambda n: F("15.5")), ("tube", 240, 1, 1, lambda n: F(28 if n >= 2 else 33)),
             ("bar", 240, 1, 2, lambda n: F("8.1"))],
}
FREIGHT = {"Ness": (21, 90, 0), "Orme": (34, None, 60)}  # free from, and the least order


def least_for(drawn: dict[tuple[str, int], int]) -> F:
    """What just these sticks cost at least, by trying all numbers of all entries up to some more than are drawn."""
    entries = [(supplier, *entry) for supplier, own in TERMS.items() for entry in own]
    options = [[n for n in range(drawn.get((profile, length), 0) + 7) if n % by == 0 and (n == 0 or n >= least)]
               for _, profile, length, by, least, _ in entries]
    best = None
    for numbers in itertools.product(*options):
        had: Counter[tuple[str, int]] = Counter()
        owed: Counter[str] = Counter()
        for (supplier, profile, length, _, _, each), n in zip(entries, numbers, strict=True):
            had[profile, length] += n
            owed[supplier] += n * each(n)  # type: ignore[assignment]  # exact money
        if any(had[key] < n for key, n in drawn.items()):
            continue
        money = F(0)
        for supplier, goods in owed.items():
            freight, free, minimum = FREIGHT[supplier]
            if 0 < goods < minimum:
                break
            money += goods + (0 if goods == 0 or (free is not None and goods >= free) else freight)
        else:
            best = money if best is None else min(best, money)
    assert best is not None
    return best


def material_of(path: str) -> F:
    whole = json.loads(Path(path).read_text())
    return sum((F(str(one["material"])) for one in whole["lines"]), F(str(whole["credit"])))


def test_a_plan_is_quoted_at_what_its_sticks_cost_to_buy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside all ways to buy them; and a plan that buy wrote beside the money of its order."""
    monkeypatch.chdir(tmp_path)
    Path("terms.toml").write_text(SOLD)
    for number, opening in ((1, "50"), (2, "66")):
        Path("week.csv").write_text(HEAD + f"B1,bay,plain,{number},{opening},40\nB2,bay,plain,1,44 1/2,36\n")
        quoting = ("bid", "week.csv", "--shop", "terms.toml", "--quote", "--json", "quote.json", "--from-plan")
        good("cut", "week.csv", "--shop", "terms.toml", "--json", "plan.json", "--limit", "5")
        good(*quoting, "plan.json")
        drawn: Counter[tuple[str, int]] = Counter()
        for profile in json.loads(Path("plan.json").read_text())["profiles"]:
            for stick in profile["sticks"]:
                drawn[profile["profile"], int(F(str(stick["length"])))] += stick["count"]
        assert abs(material_of("quote.json") - least_for(drawn)) <= F(1, 100)
        good("buy", "week.csv", "--shop", "terms.toml", "--plans", f"plans{number}", "--json", "order.json", "--limit",
             "8")
        good(*quoting, f"plans{number}/week-1.json")
        assert abs(material_of("quote.json") - F(str(json.loads(Path("order.json").read_text())["money"]))) <= F(1, 100)


def test_a_plan_of_another_week_is_refused_and_other_prices_are_told(shop: str) -> None:
    good("cut", "week.csv", "--shop", shop, "--json", "plan.json", "--limit", "5")
    Path("other.csv").write_text(HEAD + "G1,gate,lantern,2,40 1/2,42\nB1,bay,breakwater,7,88,42\n")
    words = ("--from-plan", "plan.json", "--quote", "--csv", "quote.csv")
    result = run("bid", "other.csv", "--shop", shop, *words)
    assert result.exit_code == 2 and not Path("quote.csv").exists()
    assert "other.csv:3: mark: B1 top rail" in result.stderr and "asked for" in result.stderr
    assert "G1" not in result.stderr
    good("bid", "week.csv", "--shop", shop, *words)
    before = rows_of("quote.csv")
    prices = re.findall(r"price = ([\d.]+)", Path(shop).read_text())
    Path("dear.toml").write_text(re.sub(r"( length = .*?price = )([\d.]+)", lambda m: f"{m[1]}{2 * float(m[2])}",
                                        Path(shop).read_text()))
    result = run("bid", "week.csv", "--shop", "dear.toml", *words)
    assert prices and result.exit_code == 0 and "when it was planned, and costs" in result.stderr
    paid = [sum(F(row["material"]) for row in rows) for rows in (before, rows_of("quote.csv"))]
    assert abs(paid[1] - 2 * paid[0]) <= F(2, 100)


def test_quoting_needs_what_it_is_made_of(shop: str) -> None:
    good("cut", "week.csv", "--shop", shop, "--json", "plan.json", "--limit", "5")
    Path("other.csv").write_text(HEAD + "X9,gate,lantern,1,40,42\n")
    for words in (("bid.csv", "--shop", shop, "--customer"), ("--from-plan", "plan.json", "--quote"),
                  ("bid.csv", "--shop", shop, "--quote", "--details"),
                  ("other.csv", "--from-plan", "plan.json", "--shop", shop, "--quote")):
        assert run("bid", *words).exit_code == 2
    for line, said in (("markup = 35", "a share, not per cent"), ("hourly = 9", "says nothing without")):
        Path("wrong.toml").write_text((DEMO / "shop.toml").read_text() + f"\n[quote]\n{line}\n")
        assert said in run("bid", "bid.csv", "--shop", "wrong.toml", "--quote").stderr
