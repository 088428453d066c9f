"""If these fail, what was ordered is not enough to cut by, or the plans that go with an order cannot be cut."""

from __future__ import annotations

import csv
import io
import json
import random
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import openpyxl
import pytest

from cutplan.buying.plans import week_plans
from cutplan.buying.purchase import order
from cutplan.orders import Piece
from cutplan.planning.ordered import ordered
from cutplan.planning.racked import on_rack
from cutplan.planning.solve import solve
from cutplan.plans.records import purchases
from cutplan.problems import NoPlan
from cutplan.rack import booking, shelf
from cutplan.rack.claims import known
from cutplan.rack.store import changing, reading
from cutplan.rack.supply import Supply, on_hand_first, supply, tagged, with_on_hand
from cutplan.running.budget import Budget
from tests.buying.exact_orders import F, pieces_of, random_case
from tests.commands import good, run
from tests.sweeps import sweep


def week_of(seed: int) -> list[Piece]:
    """A larger week than the exact model could take: up to a hundred pieces of up to ten lengths, in eighths."""
    chance = random.Random(seed)
    return [Piece(f"P{k}", "rail", F(chance.randint(8 * 14, 8 * 80), 8), chance.randint(1, 10))
            for k in range(chance.randint(1, 10))]


@pytest.mark.parametrize("seed", sweep(5, 100))
def test_a_rack_with_what_was_ordered_is_enough_to_cut_from(seed: int) -> None:
    """Nothing is left to buy, whatever the terms of sale made the buyer take."""
    shop, *_ = random_case(seed)
    one = shop.profiles["rail"]
    pieces = week_of(seed)
    made = order([pieces], shop, {}, Budget(20))
    there: dict[Fraction, int] = {}
    for line in made.profiles[0].lines:
        there[line.stock.length] = there.get(line.stock.length, 0) + line.ordered
    found = on_hand_first(Supply(shop, {one.name: tuple(there.items())}, ()))
    plan = with_on_hand(solve(pieces, found.shop, Budget(20)).plan, found)
    assert plan.profiles[0].totals.cost == 0
    assert not any(purchase.missing for purchase in purchases(plan.profiles[0]))


@pytest.mark.parametrize("seed", sweep(6, 100))
def test_weeks_cut_in_turn_by_an_order_never_ask_for_more(seed: int, tmp_path: Path) -> None:
    """Random terms, weeks, offcuts and sticks on hand: one order, its sticks counted, each week cut by it, and before
    each a rush cut from what the order leaves."""
    shop, weeks, there, _ = random_case(seed)
    chance, rack = random.Random(seed), str(tmp_path / "rack.db")
    with changing(rack, "in") as open_rack:
        for name, profile in shop.profiles.items():
            for length, qty in there[name]:
                shelf.count(open_rack, name, length, qty)
            if profile.keep_from is not None:
                shelf.add(open_rack, name, F(chance.randint(30, 70)), chance.randint(0, 2))
    with reading(rack) as open_rack:
        found = supply(shop, open_rack)
    work = [pieces_of(week) for week in weeks]
    made = order(work, found.shop, found.on_hand, Budget(20), tidy=True)
    written = week_plans([made], [()] * len(work), shop, Budget(5), rack)
    plans = [known(plan, f"week-{k}") for k, plan in enumerate(written, start=1)]
    with changing(rack, "in") as open_rack:
        for one in made.profiles:
            for line in one.lines:
                shelf.count(open_rack, one.profile, line.stock.length, line.ordered, more=True)
    for pieces in work:
        rush = ordered(rack, plans, [Piece("RUSH", "rail", F(20), 1)], shop)
        assert rush.plan is None
        asked = on_rack(rack, [], shop, False, True, rush.set_aside)
        with suppress(NoPlan):
            hasty = with_on_hand(solve([Piece("RUSH", "rail", F(20), 1)], asked.shop, Budget(5)).plan, asked)
            if not any(one.missing for profile in hasty.profiles for one in purchases(profile)):
                with changing(rack, "in") as open_rack:
                    booking.book(open_rack, known(tagged(hasty, open_rack), "rush"))
        mine = ordered(rack, plans, pieces, shop)
        assert mine.plan is not None and not mine.notes
        assert not any(one.missing for profile in mine.plan.plan.profiles for one in purchases(profile))
        with changing(rack, "in") as open_rack:
            booking.book(open_rack, mine.plan)
    assert not ordered(rack, plans, work[0], shop).others


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def rows(file: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(Path(file).read_text(encoding="utf-8"))))


def test_counted_sticks_are_cut_before_any_is_bought(here: Path) -> None:
    """By hand: the dear length that is there serves, though the other would cost less; one more is bought."""
    Path("shop.toml").write_text('unit = "in"\n[saw]\nkerf = 0\n[profiles.rail]\nkind = "rail"\n'
                                 'stock = [ { length = 100, price = 10 }, { length = 120, price = 30 } ]\n')
    Path("week.csv").write_text("mark,profile,length,qty\nA,rail,90,3\n")
    good("rack", "count", "rail", "120", "2", "--shop", "shop.toml", "--rack", "rack.db")
    words = ("cut", "week.csv", "--shop", "shop.toml", "--json", "plan.json")
    good(*words, "--rack", "rack.db")
    assert {stick["length"] for stick in json.loads(Path("plan.json").read_text())["profiles"][0]["sticks"]} == {100}
    good(*words, "--rack", "rack.db", "--use-on-hand")
    sticks = json.loads(Path("plan.json").read_text())["profiles"][0]["sticks"]
    assert sorted((stick["length"], stick["price"], stick["count"]) for stick in sticks) == [(100, 10, 1), (120, 0, 2)]
    assert "proven: no plan is cheaper" in good("check", "plan.json")
    good("book", "plan.json", "--rack", "rack.db")
    result = run(*words, "--use-on-hand")
    assert result.exit_code == 2 and "--use-on-hand needs the rack" in " ".join(result.stderr.split())


def test_the_plans_of_an_order_are_sound_and_can_be_booked_one_after_the_other(here: Path) -> None:
    """Weeks that leave offcuts for each other, from a rack that has what was ordered and nothing else."""
    shop = ('unit = "in"\n[saw]\nkerf = "1/8 in"\n[profiles.rail]\nkind = "rail"\nkeep_from = 20\nhead_trim = 1\n'
            'stock = [ { length = 120, price = 10 } ]\n')
    Path("shop.toml").write_text(shop)
    for name, length in (("a", 60), ("b", 50), ("c", 30)):
        Path(f"{name}.csv").write_text(f"mark,profile,length,qty\n{name},rail,{length},3\n")
    good("rack", "add", "rail", "25", "--shop", "shop.toml", "--rack", "rack.db")
    words = ("buy", "a.csv", "b.csv", "c.csv", "--shop", "shop.toml", "--rack", "rack.db")
    said = good(*words, "--plans", "plans", "--csv", "order.csv")
    assert "proven by search, no order for these pieces is cheaper" in said
    (row,) = rows("order.csv")
    good("rack", "count", "rail", "120", row["ordered"], "--shop", "shop.toml", "--rack", "rack.db")
    used = 0
    for k in (1, 2, 3):
        good("check", f"plans/week-{k}.json")
        good("book", f"plans/week-{k}.json", "--rack", "rack.db")
        used += sum(stick["source"] == "rack" for stick in
                    json.loads(Path(f"plans/week-{k}.json").read_text())["profiles"][0]["sticks"])
    assert used >= 3
    result = run(*words, "--plans", "plans")
    assert result.exit_code == 2 and "plans:1: file: is a folder with something in it" in result.stderr


@pytest.mark.parametrize("how", [(), ("--weekly",), ("--together",)])
def test_plans_made_without_a_rack_can_be_booked_once_what_was_ordered_is_counted(how: tuple[str, ...], here: Path
                                                                                ) -> None:
    """Two profiles that keep offcuts for the week to come; on a rack that has offcuts of its own."""
    Path("shop.toml").write_text('unit = "in"\n[saw]\nkerf = "1/8 in"\n' + "".join(
        f'[profiles.{name}]\nkind = "rail"\nkeep_from = 24\nstock = [ {{ length = 240, price = 20 }} ]\n'
        for name in ("rail", "post")))
    for week, length in (("a", 140), ("b", 90)):
        Path(f"{week}.csv").write_text(f"mark,profile,length,qty\nR{week},rail,{length},3\nP{week},post,{length},2\n")
    good("buy", "a.csv", "b.csv", "--shop", "shop.toml", "--plans", "plans", "--csv", "order.csv", *how)
    good("rack", "add", "rail", "25", "--qty", "5", "--shop", "shop.toml", "--rack", "rack.db")
    ordered: dict[str, int] = {}
    for row in rows("order.csv"):
        ordered[row["profile"]] = ordered.get(row["profile"], 0) + int(row["ordered"])
    for name, qty in ordered.items():
        good("rack", "count", name, "240", str(qty), "--shop", "shop.toml", "--rack", "rack.db")
    plans = sorted(Path("plans").iterdir())
    assert len(plans) == (1 if how == ("--together",) else 2)
    for plan in plans:
        said = good("check", str(plan))
        assert "no plan costs less than 0" not in said
        if "costs 0.00" not in said:
            assert ", for sticks that are all on hand; " in said
        good("book", str(plan), "--rack", "rack.db")
    assert "is sound" in good("rack", "check", "--rack", "rack.db")


JOINT = """unit = "in"
[saw]
kerf = "1/8 in"
[profiles.bar]
kind = "rail"
keep_from = 20
stock = [ { length = 100, price = 10, bundle = 5, supplier = "A" },
          { length = 100, price = 12, qty = 3, supplier = "B" },
          { length = 120, price = 11, min_order = 6, supplier = "A" },
          { length = 200, price = 25, bundle = 2, supplier = "B" } ]
[suppliers.A]
freight = 10
free_from = 55
[suppliers.B]
freight = 6
"""


GATES = """unit = "in"
currency = "USD"
[saw]
kerf = "1/8 in"
[profiles.cap]
kind = "rail"
stock = [ { length = 240, price = 20, supplier = "Slow" } ]
[profiles.bar]
kind = "picket"
stock = [ { length = 240, price = 10, supplier = "Slow" } ]
[suppliers.Slow]
freight = 25.5
[systems.lantern]
top_rail = "cap"
bottom_rail = "cap"
picket = "bar"
picket_width = "1 in"
max_gap = "3 7/8 in"
picket_allowance = "4 in"
[systems.lantern.gate]
latch_gap = "1/2 in"
hinge_gap = "1/2 in"
upright_wall = "1/8 in"
rail_insertion = "1 in"
[[systems.lantern.hardware]]
name = "hinge"
per = "leaf"
qty = 2
price = 3
[[systems.lantern.hardware]]
name = "latch"
per = "gate"
qty = 1
"""


def test_cut_takes_the_plan_that_was_ordered_for(here: Path) -> None:
    """Weeks of which the second lacks sticks where the first is cut without regard to it; a week that nobody ordered
    for; plans of another shop file; a plan whose sticks are gone."""
    Path("shop.toml").write_text(JOINT)
    Path("w.csv").write_text("mark,profile,length,qty\nA1,bar,48,11\nA2,bar,62,5\nA3,bar,33,4\n")
    Path("w2.csv").write_text("mark,profile,length,qty\nB1,bar,48,5\nB2,bar,95,3\n")
    on = ("--shop", "shop.toml", "--rack", "rack.db")
    good("rack", "add", "bar", "70", "--qty", "2", *on)
    good("rack", "count", "bar", "200", "2", *on)
    said = good("buy", "w.csv", "w2.csv", *on, "--plans", "plans", "--csv", "o.csv")
    assert "each by its plan of --plans: then what is ordered is enough" in " ".join(said.split())
    for row in rows("o.csv"):
        good("rack", "count", "bar", row["length"], row["ordered"], "--more", *on)
    words = (*on, "--plans", "plans")
    for week in ("w", "w2"):
        result = run("cut", f"{week}.csv", *words, "--json", f"{week}.json")
        assert result.exit_code == 0 and "nothing is to be bought" in " ".join(result.stderr.split())
        assert "It keeps to the rules" in good("check", f"{week}.json", f"{week}.csv", "--shop", "shop.toml")
        good("book", f"{week}.json", "--rack", "rack.db")
    again = run("cut", "w.csv", *words)
    assert again.exit_code == 0 and "is of just these pieces" in " ".join(again.stderr.split())
    for wrong, told in ((("--plans", "none", "--rack", "rack.db"), "holds no plans of an order"),
                        (("--plans", "plans"), "--plans needs the rack"),
                        ((*words[2:], "--trade"), "leave --spare and --trade out")):
        result = run("cut", "w.csv", "--shop", "shop.toml", *wrong)
        assert result.exit_code == 2 and told in " ".join(result.stderr.replace("│", " ").split())


def test_sticks_that_were_there_for_nothing_are_of_this_shop_too(here: Path) -> None:
    Path("shop.toml").write_text('unit = "in"\n[saw]\nkerf = 0\n[profiles.rail]\nkind = "rail"\n'
                                 'stock = [ { length = 100, price = 10 }, { length = 120, price = 30 } ]\n')
    Path("week.csv").write_text("mark,profile,length,qty\nA,rail,90,3\n")
    good("rack", "count", "rail", "120", "2", "--shop", "shop.toml", "--rack", "rack.db")
    good("cut", "week.csv", "--shop", "shop.toml", "--json", "p.json", "--rack", "rack.db", "--use-on-hand")
    assert "the prices of shop.toml" in good("check", "p.json", "week.csv", "--shop", "shop.toml")
    Path("shop.toml").write_text(Path("shop.toml").read_text().replace("price = 10", "price = 9"))
    assert "cost 10 when it was planned, and costs 9 now" in run("check", "p.json", "--shop", "shop.toml").stderr


def test_a_rush_that_leaves_the_last_of_a_length_alone_is_of_this_shop(here: Path) -> None:
    """A length of which there is only so much, all of it another week's, was one to choose from none the less."""
    Path("own.toml").write_text('unit = "in"\n[saw]\nkerf = "1/8 in"\n[profiles.bar]\nkind = "rail"\nstock = ['
                                '{ length = "12 ft", price = 19.30 }, { length = "20 ft", price = 31.10, qty = 9 } ]\n')
    Path("w.csv").write_text("mark,profile,length,qty\nP1,bar,230,1\n")
    Path("r.csv").write_text("mark,profile,length,qty\nR1,bar,100,1\n")
    good("buy", "w.csv", "--shop", "own.toml", "--plans", "of-w", "--limit", "3")
    good("rack", "count", "bar", "20 ft", "1", "--shop", "own.toml", "--rack", "own.db")
    good("cut", "r.csv", "--shop", "own.toml", "--rack", "own.db", "--plans", "of-w", "--limit", "3", "--json",
         "r.json")
    good("book", "r.json", "--rack", "own.db", "--shop", "own.toml", "--week", "r.csv")


@pytest.mark.parametrize("held", [False, True])
def test_a_rush_that_buys_its_own_stick_draws_none_that_was_ordered_for_a_week(held: bool, here: Path) -> None:
    Path("own.toml").write_text('unit = "in"\n[saw]\nkerf = "1/8 in"\n[profiles.bar]\nkind = "rail"\nstock = ['
                                '{ length = "10 ft", price = 10.00 } ]\n')
    Path("w.csv").write_text("mark,profile,length,qty\nP1,bar,110,1\n")
    Path("r.csv").write_text("mark,profile,length,qty\nR1,bar,100,1\n")
    rack = ("--rack", "draws.db")
    good("buy", "w.csv", "--shop", "own.toml", "--plans", "week", "--limit", "3")
    good("rack", "count", "bar", "10 ft", "1", "--shop", "own.toml", *rack)
    if held:
        good("hold", "week/week-1.json", *rack)
        good("cut", "r.csv", "--shop", "own.toml", *rack, "--json", "r.json", "--limit", "3")
    else:
        good("cut", "r.csv", "--shop", "own.toml", *rack, "--plans", "week", "--json", "r.json", "--limit", "3")
    good("book", "r.json", *rack)
    result = run("cut", "w.csv", "--shop", "own.toml", *rack, "--plans", "week", "--limit", "3")
    assert "the plan that was ordered for; nothing is to be bought" in result.stderr
    good("book", "week/week-1.json", *rack)


def test_two_prices_of_one_length_are_of_this_shop(here: Path) -> None:
    """Sticks on hand come before those that are bought, of which the dearer ones are as much of the shop file."""
    Path("own.toml").write_text('unit = "in"\n[saw]\nkerf = "1/8 in"\n[profiles.bar]\nkind = "rail"\nstock = ['
                                '{ length = "10 ft", price = 10.00 }, { length = "10 ft", price = 11.00, qty = 4 } ]\n')
    Path("w.csv").write_text("mark,profile,length,qty\nP1,bar,110,5\n")
    good("rack", "count", "bar", "10 ft", "2", "--shop", "own.toml", "--rack", "two.db")
    good("cut", "w.csv", "--shop", "own.toml", "--rack", "two.db", "--use-on-hand", "--json", "b.json", "--limit", "3")
    good("check", "b.json", "w.csv", "--shop", "own.toml")
    Path("own.toml").write_text(Path("own.toml").read_text().replace("10.00", "9.00"))
    assert run("check", "b.json", "w.csv", "--shop", "own.toml").exit_code == 2


def test_the_sheets_of_an_order(here: Path) -> None:
    """One for each supplier, without empty lines, the freight with it; by hand 12 x 9.00, and 4 x 5.00 + 7.00."""
    Path("shop.toml").write_text(
        'name = "Tide Mill Gates"\nunit = "in"\ncurrency = "USD"\n[saw]\nkerf = 0\n'
        '[suppliers."Oak & Sons"]\nfreight = 7\n'
        '[profiles.rail]\nkind = "rail"\nstock = [ { length = "20 ft", price = 9, supplier = "Cooper", code = "C20", '
        'bundle = 6 }, { length = "20 ft", price = 19, supplier = "Oak & Sons" } ]\n'
        '[profiles.post]\nkind = "post"\n'
        'stock = [ { length = 100, price = 5, supplier = "Oak & Sons", code = "=P" } ]\n')
    Path("week.csv").write_text("mark,profile,length,qty\nA,rail,230,11\nB,post,90,4\n")
    good("buy", "week.csv", "--shop", "shop.toml", "--today", "2026-03-02", "--start", "2026-03-09", "--sheets", "out")
    names = {f"{name}.{end}" for name in ("cooper", "oak-sons") for end in ("txt", "csv", "xlsx", "html")}
    assert {path.name for path in Path("out").iterdir()} == names
    text = Path("out/cooper.txt").read_text()
    for told in ("Tide Mill Gates", "Cooper", "2026-03-02", "C20", "20 ft", "12", "2 of 6", "108.00", "2026-03-09"):
        assert told in text and told in Path("out/cooper.html").read_text(), told
    (row,) = rows("out/cooper.csv")
    assert (row["length"], row["sticks"], row["bundles"], row["amount"]) == ("240", "12", "2", "108")
    assert '<td class="words">rail</td>' in Path("out/cooper.html").read_text()
    assert (row["item"], row["unit"], row["length_said"], row["bundle"]) == ("sticks", "in", "20 ft", "6")
    post, freight = rows("out/oak-sons.csv")
    assert (post["code"], post["amount"], freight["amount"]) == ("'=P", "20", "7")
    assert (post["bundle"], post["bundles"]) == ("", "")
    assert (freight["item"], freight["profile"], freight["sticks"]) == ("freight", "", "")
    for name in ("cooper", "oak-sons"):
        ((*head, _), *lines) = openpyxl.load_workbook(f"out/{name}.xlsx").active.iter_rows(values_only=True)
        plain = rows(f"out/{name}.csv")
        assert head == list(plain[0]) and len(lines) == len(plain)
        for line, row in zip(lines, plain, strict=True):
            told = ["" if cell is None else str(cell) for cell in line[:len(head)]]
            assert told == [cell.removeprefix("'") for cell in row.values()]
    assert "27.00" in Path("out/oak-sons.txt").read_text() and "freight" in Path("out/oak-sons.txt").read_text()


@pytest.mark.parametrize("dated", [False, True])
@pytest.mark.parametrize("how", [(), ("--weekly",)])
def test_every_line_of_every_sheet_says_by_when(how: tuple[str, ...], dated: bool, here: Path) -> None:
    """Of several weeks, one order or one each, hardware too, which has a total of what has a price."""
    Path("shop.toml").write_text(GATES)
    for k, name in enumerate(("a", "b")):
        due = (",due", f",2026-03-{10 + 7 * k}") if dated else ("", "")
        Path(f"{name}.csv").write_text(f"mark,kind,system,qty,opening,height{due[0]}\n"
                                       f"{name}1,gate,lantern,1,{40 + k},40{due[1]}\n")
    good("buy", "a.csv", "b.csv", "--shop", "shop.toml", "--today", "2026-03-01", "--sheets", "out", *how)
    sheets = [path for path in Path("out").iterdir() if path.suffix == ".csv"]
    assert len(sheets) == (3 if how else 2)
    for sheet in sheets:
        for row in rows(str(sheet)):
            by = ("2026-03-10", "2026-03-17") if dated else ("week 1", "week 2")
            assert row.get("item") == "freight" or row["needed_by"] in by, (sheet, row)
        assert "needed by" in sheet.with_suffix(".txt").read_text()
    told = [line.split() for line in Path("out/hardware.txt").read_text().splitlines()]
    assert [line[:2] for line in told if line[:1] == ["hinge"]] == [["hinge", "4"]]
    assert any(line[0] == "total," and line[-1] == "12.00" for line in told if line)


def test_what_the_hardware_comes_to_is_said_of_what_has_a_price(here: Path) -> None:
    Path("week.csv").write_text("mark,kind,system,qty,opening,height\nG,gate,lantern,1,40,40\n")
    Path("shop.toml").write_text(GATES)
    said = " ".join(good("buy", "week.csv", "--shop", "shop.toml").split())
    assert "Sticks, freight and hardware, of which some has no price, come to" in said
    Path("shop.toml").write_text(GATES.replace("price = 3\n", ""))
    said = " ".join(good("buy", "week.csv", "--shop", "shop.toml").split())
    assert "; what the hardware costs is not said." in said and "Sticks and freight come to" in said


@pytest.mark.parametrize("seed", range(6))
def test_a_budget_buys_for_as_many_gates_as_an_order_can(seed: int) -> None:
    """Beside an order for every number of them."""
    from cutplan.buying.dates import Dates
    from cutplan.buying.purchase import asked
    from cutplan.buying.within import affordable

    chance = random.Random(seed)
    shop, weeks, there, _ = random_case(seed)
    work = [pieces_of(week) for week in weeks]
    lines = [(k, piece) for k, week in enumerate(work) for piece in week]
    marks = list(dict.fromkeys(piece.mark for _, piece in lines))
    costs = [order([[piece for piece in week if piece.mark in marks[:n]] for week in work], shop, there).money
             for n in range(1, len(marks) + 1)]
    amount = chance.choice(costs) + chance.choice([-1, 0, 1])
    found = affordable(asked(work, shop, there, Dates(), False, False), amount, Budget(60))
    number = max((n for n, cost in enumerate(costs, start=1) if cost <= amount), default=0)
    assert found.now == tuple(marks[:number]) and found.wait == tuple(marks[number:]) and found.proven
    assert found.order is None if not number else found.order is not None and found.order.money == costs[number - 1]


def test_a_budget_is_told_by_gates(here: Path) -> None:
    Path("shop.toml").write_text('unit = "in"\ncurrency = "USD"\n[saw]\nkerf = 0\n[profiles.rail]\nkind = "rail"\n'
                                 'stock = [ { length = 100, price = 10 } ]\n')
    Path("week.csv").write_text("mark,profile,length,qty,for\nA,rail,90,2,G1\nB,rail,95,1,G2\nC,rail,91,1,G1\n")
    said = " ".join(good("buy", "week.csv", "--shop", "shop.toml", "--budget", "35", "--json", "o.json").split())
    assert "35.00 USD is enough for sticks and freight of G1: these can be cut. To wait: G2." in said
    assert "Order for 30.00 USD" in said and json.loads(Path("o.json").read_text())["budget"]["wait"] == ["G2"]
    said = " ".join(good("buy", "week.csv", "--shop", "shop.toml", "--budget", "5").split())
    assert "5.00 USD is not enough for the first, G1." in said
    result = run("buy", "week.csv", "--shop", "shop.toml", "--budget", "much")
    assert result.exit_code == 2 and "--budget: " in result.stderr


@pytest.mark.parametrize("dated", [False, True])
def test_an_order_for_one_week_says_by_when_too(dated: bool, here: Path) -> None:
    Path("shop.toml").write_text(GATES)
    due = (",due", ",2026-03-10") if dated else ("", "")
    Path("a.csv").write_text(f"mark,kind,system,qty,opening,height{due[0]}\na1,gate,lantern,1,40,40{due[1]}\n")
    good("buy", "a.csv", "--shop", "shop.toml", "--today", "2026-03-01", "--sheets", "out")
    sheets = [path for path in Path("out").iterdir() if path.suffix == ".csv"]
    assert len(sheets) == 2  # one of sticks, one of hardware
    for sheet in sheets:
        assert {row["needed_by"] for row in rows(str(sheet)) if row.get("item") != "freight"} == {
            "2026-03-10" if dated else "week 1"}


def test_orders_week_by_week_have_plans_that_lean_on_each_other_too(here: Path) -> None:
    """The second week cuts what the first keeps, by its name there."""
    Path("shop.toml").write_text('unit = "in"\n[saw]\nkerf = 0\n[profiles.rail]\nkind = "rail"\nkeep_from = 20\n'
                                 'stock = [ { length = 100, price = 10 } ]\n')
    for name, length in (("a", 60), ("b", 40), ("c", 60), ("d", 40)):
        Path(f"{name}.csv").write_text(f"mark,profile,length,qty\n{name},rail,{length},2\n")
    good("buy", *(f"{name}.csv" for name in "abcd"), "--shop", "shop.toml", "--weekly", "--plans", "plans")
    kept: set[str] = set()
    for k in (1, 2, 3, 4):
        good("check", f"plans/week-{k}.json")
        sticks = json.loads(Path(f"plans/week-{k}.json").read_text())["profiles"][0]["sticks"]
        assert {stick["tag"] for stick in sticks if stick["tag"]} <= kept
        assert (k % 2 == 0) == any(stick["tag"] for stick in sticks)
        kept |= {tag for stick in sticks for tag in stick.get("offcut_tags", ())}
