"""If these fail, a gate that may not come is bid as if it did, two come that stand for each other, or an order is
called enough more often than it is."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction as F
from functools import cache
from itertools import accumulate, product
from pathlib import Path

import pytest

from cutplan.bidding.allowance import Figures, Outcome
from cutplan.bidding.bidfile import BidLine, load_bid
from cutplan.bidding.choices import read_chance
from cutplan.bidding.cutting import cut_versions
from cutplan.bidding.orders_for import OrderFor, orders_for
from cutplan.bidding.versions import DrawnVersions, copies, draw, orders_of
from cutplan.cutting import cheapest_plan
from cutplan.orders import Order, load_week
from cutplan.plans.records import Demand
from cutplan.problems import InputProblems, NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop
from cutplan.takeoff import take_off

TAPE = F(1, 16)
HEAD = "mark,kind,system,qty,opening,height,alike,chance,or\n"
Made = tuple[tuple[str, F, F], ...]  # every gate and bay of a version: its line's mark, its opening, its height


def written(folder: Path, *lines: str) -> Path:
    path = folder / "bid.csv"
    path.write_text(HEAD + "".join(f"{line}\n" for line in lines))
    return path


def read(folder: Path, shop: Shop, *lines: str) -> tuple[BidLine, ...]:
    return load_bid(written(folder, *lines), shop).lines


# ---- what is written ----


@pytest.mark.parametrize("text, share", [
    ("60 %", F(3, 5)), ("60%", F(3, 5)), ("100 %", F(1)), ("12.5 %", F(1, 8)), ("33 1/3 %", F(1, 3)),
    ("0.01%", F(1, 10_000)),
])
def test_a_chance_is_read_exactly(text: str, share: F) -> None:
    assert read_chance(text) == share
    assert read_chance("12,5 %", comma=True) == F(1, 8)


@pytest.mark.parametrize("text, said", [
    ("0 %", "take the line out"), ("100.5 %", "100 % at most"), ("-5 %", "more than 0 %"), ("60", "as 60 %"),
    ("0.6", "as 60 %"), ("often", "as 60 %"), ("some %", "as 60 %"), ("%", "as 60 %"),
])
def test_what_is_no_chance_is_said_with_what_would_be_right(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_chance(text)


def test_what_the_columns_say(shop: Shop, tmp_path: Path) -> None:
    lines = read(tmp_path, shop, "A,gate,lantern,1,40,42,,,", "B,gate,lantern,1..2,40,42,,60 %,",
                 "C,gate,lantern,1,41,42,,,Front", "D,gate,lantern,1,42,42,,,front ", "E,gate,lantern,1,43,42,,,FRONT",
                 "F,bay,lantern,1,43,42,,50 %,yard", "G,bay,lantern,1,44,42,,20%,yard", "H,bay,lantern,0..3,44,42,,,")
    assert [line.chance for line in lines] == [1, F(3, 5), F(1, 3), F(1, 3), F(1, 3), F(1, 2), F(1, 5), 1]
    assert [line.group for line in lines] == ["", "", "Front", "Front", "Front", "yard", "yard", ""]
    assert [line.coming for line in lines] == [1, F(3, 5), F(1, 3), F(1, 3), F(1, 3), F(1, 2), F(1, 5), F(3, 4)]


def test_every_problem_is_told_at_once_with_its_line_and_column(shop: Shop, tmp_path: Path) -> None:
    path = written(
        tmp_path, "A,gate,lantern,0..2,40,42,,60 %,",  # how often it does not come is said twice
        "B,gate,lantern,1,40,42,,0 %,", "C,gate,lantern,1,40,42,,101 %,", "D,gate,lantern,1,40,42,,,alone",
        "E,gate,lantern,1,40,42,,50 %,mixed", "F,gate,lantern,1,40,42,,,mixed", "G,gate,lantern,0..1,40,42,,70 %,much",
        "H,gate,lantern,1,40x,42,,50 %,much", "I,gate,lantern,1,40,42,,soon,bad", "J,gate,lantern,1,40,42,,50 %,bad")
    with pytest.raises(InputProblems) as wrong:
        load_bid(path, shop)
    assert Counter((one.line, one.column) for one in wrong.value.problems) == Counter([
        (2, "qty"), (3, "chance"), (4, "chance"), (5, "or"), (7, "chance"), (8, "qty"), (9, "opening"), (9, "chance"),
        (10, "chance")])


@pytest.mark.parametrize("column, cell", [("chance", "60 %"), ("or", "front")])
def test_a_week_has_no_chances(column: str, cell: str, shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "week.csv"
    rows = f"mark,kind,system,qty,opening,height,{column}\nA,gate,lantern,1,40,42,\nB,gate,lantern,1,40,42,{cell}\n"
    path.write_text(rows)
    with pytest.raises(InputProblems) as wrong:
        load_week(path, shop)
    assert [(one.line, one.column) for one in wrong.value.problems] == [(3, column)]
    assert "is for bids" in wrong.value.problems[0].message
    path.write_text(rows.replace(cell, ""))
    assert len(load_week(path, shop)) == 2


# ---- which versions there are ----


def invented(seed: int, most_openings: int = 2) -> list[BidLine]:
    """A small job of certain lines, lines with a chance, and groups."""
    chance = random.Random(seed)
    groups: dict[str, list[F]] = {}
    for name in chance.sample(("x", "y"), chance.randint(0, 2)):
        parts = [chance.randint(1, 5) for _ in range(chance.randint(3, 4))]
        groups[name] = [F(part, sum(parts)) for part in parts[:-1]]  # the last part: none of them
        if chance.random() < 0.5:
            groups[name][-1] += F(parts[-1], sum(parts))
    kinds = [("", F(1)), ("", F(chance.randint(1, 9), 10)),
             *((name, share) for name, shares in groups.items() for share in shares)]
    chance.shuffle(kinds)
    return [BidLine(
        f"L{k}", "bay", "lantern", chance.choice(((1,), (2,), (1, 2), (0, 1)) if share == 1 else ((1,), (1, 2))),
        tuple(60 + j * TAPE for j in range(chance.randint(1, most_openings))),
        tuple(F(36 + j) for j in range(chance.randint(1, 2))), None, chance.random() < 0.5, chance=share, group=name)
        for k, (name, share) in enumerate(kinds)]


def every_version(lines: list[BidLine]) -> dict[Made, F]:
    """Each version with its chance, by plain enumeration of what may be: which of all lines come at all, then what each
    of these comes to."""
    found: dict[Made, F] = {}
    for come in product((False, True), repeat=len(lines)):
        likely = F(1)
        for name in {line.group for line in lines if line.group}:
            own = [(line, yes) for line, yes in zip(lines, come, strict=True) if line.group == name]
            there = [line for line, yes in own if yes]
            likely *= (0 if len(there) > 1 else there[0].chance if there else 1 - sum(line.chance for line, _ in own))
        for line, yes in zip(lines, come, strict=True):
            likely *= 1 if line.group else line.chance if yes else 1 - line.chance
        if not likely:
            continue
        ways = [way for line, yes in zip(lines, come, strict=True) if yes for way in [forms(line)]]
        for parts in product(*ways):
            made = tuple(sorted(one for part, _ in parts for one in part))
            share = likely
            for _, each in parts:
                share *= each
            found[made] = found.get(made, F(0)) + share
    return found


def forms(line: BidLine) -> list[tuple[Made, F]]:
    found = []
    for qty in line.qty:
        for height in line.height:
            for openings in product(line.opening, repeat=1 if line.alike else qty):
                each = openings * qty if line.alike else openings
                found.append((tuple((line.mark, one, height) for one in each),
                              F(1, len(line.qty) * len(line.height) * len(line.opening) ** len(openings))))
    return found


def made_of(orders: list[Order]) -> Made:
    return tuple(sorted((order.mark.split(".")[0], order.opening, order.height) for order in orders
                        for _ in range(order.qty)))


def weights_of(drawn: DrawnVersions) -> tuple[int, ...]:
    return drawn.weights or (1,) * len(drawn.choices)


@pytest.mark.parametrize("seed", range(24))
def test_few_versions_are_all_there_are_each_with_its_chance(seed: int) -> None:
    lines = invented(seed)
    drawn = draw(lines, 10**6, seed)
    weights = weights_of(drawn)
    found: dict[Made, F] = {}
    for choice, weight in zip(drawn.choices, weights, strict=True):
        made = made_of(orders_of(lines, drawn, choice, TAPE))
        found[made] = found.get(made, F(0)) + F(weight, sum(weights))
    assert drawn.whole and found == every_version(lines)
    assert len(set(drawn.choices)) == len(drawn.choices)
    assert draw(lines, len(drawn.choices), seed).whole and not draw(lines, len(drawn.choices) - 1, seed).whole


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("versions", [60, 10**6])
def test_of_a_group_one_line_comes_in_every_version(versions: int, seed: int) -> None:
    """And none or one where its chances leave something to none of them; all that is certain comes in each."""
    lines = invented(seed)
    drawn = draw(lines, versions, seed)
    for choice in drawn.choices:
        marks = {order.mark.split(".")[0] for order in orders_of(lines, drawn, choice, TAPE)}
        assert {line.mark for line in lines if line.coming == 1} <= marks
        for name in {line.group for line in lines if line.group}:
            own = [line for line in lines if line.group == name]
            come = len(marks & {line.mark for line in own})
            assert come == 1 if sum(line.chance for line in own) == 1 else come <= 1


def test_where_there_are_many_each_comes_as_often_as_it_is_likely() -> None:
    """Beside plain drawing: the share of a line is nearer to its chance than 400 plain draws would be (whose standard
    deviation is at least 2 points here), two lines that have nothing to do with each other come together as often as
    the product says, and any first part is as fair."""
    wide = tuple(60 + k * TAPE for k in range(50))
    kinds = (("A", F(3, 5), ""), ("B", F(1, 4), ""), ("C", F(1, 2), "x"), ("D", F(3, 10), "x"), ("E", F(1), ""),
             ("F", F(1, 3), "y"), ("G", F(2, 3), "y"))
    lines = [BidLine(mark, "bay", "lantern", (1,), wide, (F(42),), None, True, chance=share, group=group)
             for mark, share, group in kinds]
    for seed in range(5):
        drawn = draw(lines, 400, seed)
        assert not drawn.whole and not drawn.weights
        weeks = [{order.mark for order in orders_of(lines, drawn, choice, TAPE)} for choice in drawn.choices]
        for part in (weeks, weeks[:200]):
            for line in lines:
                assert abs(sum(line.mark in week for week in part) / len(part) - line.chance) < 0.02
            for one, other in (("A", "B"), ("A", "C"), ("B", "F"), ("D", "G")):
                both = [line.chance for line in lines if line.mark in (one, other)]
                assert abs(sum({one, other} <= week for week in part) / len(part) - both[0] * both[1]) < 0.05
    assert draw(lines, 80, 3) == draw(lines, 80, 3) and draw(lines, 80, 3).choices == draw(lines, 400, 3).choices[:80]


def test_what_the_drawn_versions_call_enough_is_enough_for_fresh_jobs() -> None:
    """200 versions say how many sticks of 240 are enough in 80 of 100; jobs drawn by plain chance say whether they are.
    The steps of whole sticks are blurred by many lines."""
    lines = [replace(one, opening=tuple(50 + k * TAPE for k in range(300)), alike=False)
             for seed in range(4) for one in copies(invented(seed), 1)]
    lines = [replace(one, mark=f"M{k}", group=one.group and f"{one.group}{k // 8}") for k, one in enumerate(lines)]
    groups: dict[str, F] = {}
    for one in lines:
        groups[one.group] = groups.get(one.group, F(0)) + one.chance
    assert all(whole <= 1 for name, whole in groups.items() if name)
    chance = random.Random(1)

    def fresh() -> F:
        net, left = F(0), {name: F(chance.randrange(10**6), 10**6) for name in groups}
        for one in lines:
            place = left[one.group] if one.group else F(chance.randrange(10**6), 10**6)
            left[one.group] = left[one.group] - one.chance if one.group else F(0)
            if 0 <= place < one.chance:
                net += sum((chance.choice(one.opening) for _ in range(chance.choice(one.qty))), F(0))
        return net

    jobs = [fresh() for _ in range(1500)]
    found = []
    for seed in range(10):
        drawn = draw(lines, 200, seed)
        nets = sorted(sum((order.opening * order.qty for order in orders_of(lines, drawn, choice, TAPE)), F(0))
                      for choice in drawn.choices)
        found.append(100 * sum(one <= nets[160] for one in jobs) / len(jobs))
    assert 78 <= sum(found) / len(found) <= 83
    assert min(found) > 72 and max(found) < 88


def test_the_job_several_times_over_has_groups_of_its_own_each_time() -> None:
    lines = [BidLine("A", "bay", "lantern", (1,), (F(60),), (F(42),), chance=F(1, 2), group="x"),
             BidLine("B", "bay", "lantern", (1,), (F(61),), (F(42),), chance=F(1, 2), group="x")]
    twice = copies(lines, 2)
    drawn = draw(twice, 100, 1)
    marks = Counter("".join(sorted(order.mark for order in orders_of(twice, drawn, choice, TAPE)))
                    for choice in drawn.choices)
    assert drawn.whole and marks == {"AA": 1, "AB": 2, "BB": 1}


# ---- what is enough how often ----


@pytest.mark.parametrize("seed", range(10))
def test_a_version_that_is_likelier_counts_as_so_many(seed: int) -> None:
    chance = random.Random(seed)
    weights = tuple(chance.randint(1, 6) for _ in range(12))
    outcomes = tuple(Outcome(F(10), F(10 + chance.randint(0, 9)), F(0), F(0), F(0), 1, 0) for _ in weights)
    repeated = tuple(one for one, weight in zip(outcomes, weights, strict=True) for _ in range(weight))
    weighed, plain = Figures("rail", outcomes, True, weights), Figures("rail", repeated, True)
    assert weighed.mean(lambda one: one.waste) == plain.mean(lambda one: one.waste)
    for percent in range(1, 100):
        assert weighed.enough(lambda one: one.of_net, F(percent)) == plain.enough(lambda one: one.of_net, F(percent))
        assert weighed.chance(lambda one: one.of_net, F(percent)) == plain.chance(lambda one: one.of_net, F(percent))
        assert weighed.to_add(F(percent)) == plain.to_add(F(percent))


def test_some_of_few_versions_that_are_not_alike_are_no_sample_with_a_known_spread() -> None:
    """Stopped early: a fresh job may be as heavy as the heaviest cut, and how far off a figure may be is not said."""
    outcomes = tuple(Outcome(F(10), F(10 + k), F(0), F(0), F(0), 1, 0) for k in range(4))
    figures = Figures("rail", outcomes, False, (5, 1, 2, 2))
    for percent, value in ((33, 0), (34, 10), (40, 10), (41, 20), (53, 20), (66, 30), (99, 30)):
        found = figures.enough(lambda one: one.of_net, F(percent))
        assert (found.value, found.low, found.high) == (value, None, None), percent


JOBS = [
    ("A,bay,breakwater,1,70,42,,,", "B,gate,breakwater,1,40,42,,30 %,", "C,bay,breakwater,2,80,42,,45 %,x",
     "D,gate,breakwater,2,44,42,,40 %,x"),
    ("A,gate,breakwater,1..2,38,42,,60 %,", "B,bay,breakwater,1,60..60 1/16,42,yes,,x", "C,bay,breakwater,3,75,42,,,x",
     "D,gate,breakwater,1,48,42,,,x"),
]


@pytest.mark.parametrize("job", JOBS)
def test_every_order_is_enough_as_often_as_it_says_exactly(job: tuple[str, ...], shop: Shop, tmp_path: Path) -> None:
    """By plain enumeration with its chances, each version cut from the order's very sticks; and what is enough if it is
    measured first is the least sum that so likely versions do not exceed."""
    lines = read(tmp_path, shop, *job)
    chances = [F(n) for n in (31, 50, 80, 95)]
    cut = cut_versions(lines, shop, 200, 1)
    orders = orders_for(cut, shop, chances, Budget())
    versions = [(asked_by(made, lines, shop), share) for made, share in every_version(list(lines)).items()]
    assert cut.whole and sum(share for _, share in versions) == 1
    costs = sorted((sum((cost_of(shop.profiles[name], own) for name, own in asked.items()), F(0)), share)
                   for asked, share in versions)
    assert cut.together.mean(lambda one: one.cost) == sum(cost * share for cost, share in costs)
    upto = list(accumulate(share for _, share in costs))
    for k, percent in enumerate(chances):
        enough = next(cost for likely, (cost, _) in zip(upto, costs, strict=True) if 100 * likely >= percent)
        assert orders.together[k].later == enough
        for order in (orders.together[k], *(own[k] for own in orders.profiles)):
            likely = sum((share for asked, share in versions if serves(order, asked, shop)), F(0))
            assert 100 * likely >= percent, (order.name, percent)


Lengths = tuple[tuple[F, int], ...]  # of pieces, and how many


def asked_by(made: Made, lines: tuple[BidLine, ...], shop: Shop) -> dict[str, Lengths]:
    """What a version asks of each profile."""
    own = {line.mark: line for line in lines}
    found: dict[str, Counter[F]] = {}
    for k, (mark, opening, height) in enumerate(made):
        order = Order(f"{mark}.{k}", own[mark].kind, own[mark].system, 1, opening, height)
        for piece in take_off([order], shop).pieces:
            found.setdefault(piece.profile, Counter())[piece.length] += piece.qty
    return {name: tuple(sorted(counts.items())) for name, counts in found.items()}


@cache
def cost_of(profile: Profile, asked: Lengths) -> F:
    """The least that new sticks cost from which these pieces can be cut."""
    job = cheapest_plan(profile, [Demand("", length, qty, "") for length, qty in asked], Budget())
    assert job.first.proven
    return job.first.value * job.instance.coin


@cache
def can_be_cut(profile: Profile, asked: Lengths) -> bool:
    try:
        cost_of(profile, asked)
    except NoPlan:
        return False
    return True


def serves(order: OrderFor, asked: dict[str, Lengths], shop: Shop) -> bool:
    """Whether a version can be cut from the sticks of an order and no others."""
    for name in asked.keys() & order.sticks.keys():
        entries = {entry.length: entry for entry in shop.profiles[name].stock}
        stock = tuple(replace(entries[length], qty=n) for length, n in order.sticks[name].items() if n)
        if not can_be_cut(replace(shop.profiles[name], stock=stock), asked[name]):
            return False
    return True


def test_a_seldom_gate_is_not_in_an_order_and_a_likely_one_is(shop: Shop, tmp_path: Path) -> None:
    """The upright of the one gate there is: bought as soon as more is asked than the chance that it is not there."""
    lines = read(tmp_path, shop, "A,gate,breakwater,1,40,42,,30 %,")
    orders = orders_for(cut_versions(lines, shop, 50, 1), shop, [F(69), F(70), F("70.1"), F(99)], Budget())
    upright = next(own for own in orders.profiles if own[0].name == "box-upright")
    assert [one.number for one in upright] == [0, 0, 1, 1]
