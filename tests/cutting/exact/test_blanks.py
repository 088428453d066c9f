"""If this fails, two turnings stand side by side in one gate, a picket is turned down further than it may be, or a plan
of blanks is called the best that is not."""

from __future__ import annotations

import csv
import json
import math
import random
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction as F
from itertools import product
from pathlib import Path

import pytest

from cutplan.bidding.cutting import Outcome, VersionTask, job_of, measure, take_size
from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.orders import Order, Piece
from cutplan.plans.plan import Plan, to_json
from cutplan.problems import NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import GateRule, Profile, Shop, Stock, System
from tests.commands import good, run
from tests.plans.parsing import from_json
from tests.sweeps import rounds

DEMO = Path(__file__).resolve().parents[3] / "data" / "demo"
Blank = tuple[int, int, int | None]  # length, price, how many (None: as many as are wanted)
Set = tuple[str, int, int, int]  # mark, length, pieces of a gate, gates


def shop(blanks: Sequence[Blank], trim: int = 1, most_trim: int | None = None) -> Shop:
    stock = tuple(
        entry for k, (length, price, qty) in enumerate(blanks)
        for entry in ([Stock(F(length), F(price), qty)] if price else
                      [Stock(F(length), F(0), 1, f"T{k}-{n}") for n in range(qty or 0)]))
    profile = Profile("turned", "picket", stock, F(1, 8), F(trim), F(0), one_per_stick=True,
                      most_trim=None if most_trim is None else F(most_trim))
    return Shop("", "in", "", F(1, 8), None, 1, F(1, 16), {"turned": profile}, {})


def pieces(sets: Sequence[Set]) -> list[Piece]:
    return [Piece(mark, "turned", F(length), each * gates, mark, each=each) for mark, length, each, gates in sets]


def ways(blanks: Sequence[Blank], sets: Sequence[Set], trim: int, most_trim: int | None
         ) -> Iterator[tuple[int, int, int]]:
    """Cost, length drawn and set-ups of every way to give each gate's pieces a length; cheap sticks go first."""
    lengths = sorted({length for length, _, _ in blanks})
    gates = [(length, each) for _, length, each, several in sets for _ in range(several)]
    fitting = [[blank for blank in lengths
                if blank - length >= 2 * trim and (most_trim is None or blank - length <= 2 * most_trim)]
               for length, _ in gates]
    for way in product(*fitting):
        wanted: Counter[int] = Counter()
        for blank, (_, each) in zip(way, gates, strict=True):
            wanted[blank] += each
        cost = 0
        for blank, pieces in wanted.items():
            for _, price, qty in sorted((one for one in blanks if one[0] == blank), key=lambda one: one[1]):
                some = pieces if qty is None else min(pieces, qty)
                cost, pieces = cost + some * price, pieces - some
            if pieces:
                break
        else:
            setups = {(blank, length) for blank, (length, _) in zip(way, gates, strict=True)}
            yield cost, sum(blank * n for blank, n in wanted.items()), len(setups)


def one_length_each(plan: Plan, sets: Sequence[Set]) -> bool:
    """Whether the sticks of each mark can be dealt to its gates so that no gate has blanks of two lengths."""
    made: dict[str, Counter[F]] = {}
    for stick in plan.profiles[0].sticks:
        made.setdefault(stick.cuts[0].mark, Counter())[stick.length] += stick.count
    return all(n % each == 0 for mark, _, each, _ in sets for n in made[mark].values())


@pytest.mark.parametrize("often", rounds(60, 150))
def test_every_plan_is_as_good_as_the_best_of_all_ways(often: int) -> None:
    chance = random.Random(5)
    planned = refused = searched = 0
    for _ in range(often):
        trim, most_trim = chance.choice((0, 1)), chance.choice((None, None, 3, 4))
        blanks: list[Blank] = [(length, chance.choice((0, 4, 5, 6)), chance.choice((None, 0, 3, 5, 8, 12)))
                               for length in chance.sample((33, 36, 36, 39, 42), chance.randint(1, 4))]
        blanks = [(length, price, qty if price else qty or 4) for length, price, qty in blanks]
        sets: list[Set] = [(f"G{k}", chance.choice((30, 31, 34)), chance.choice((1, 2, 3, 5)), chance.randint(1, 2))
                           for k in range(chance.randint(1, 3))]
        best = min(ways(blanks, sets, trim, most_trim), default=None)
        try:
            plan = cut_pieces(pieces(sets), shop(blanks, trim, most_trim))
        except NoPlan:
            refused += 1
            assert best is None
            continue
        planned += 1
        (profile,) = plan.profiles
        assert best is not None and tuple(tier.value for tier in profile.tiers) == best
        assert tuple(tier.bound for tier in profile.tiers) == best
        assert one_length_each(plan, sets)
        again = from_json(to_json(plan), "plan.json")
        assert again == plan and not audit(again)
        assert prove(profile).ok
        searched += "by search" in prove(profile).line
    assert planned > often / 2 and refused > often / 15 and 0 < searched < planned / 3


def test_a_set_is_not_torn_for_a_cheaper_plan() -> None:
    """By hand: five short blanks are left. Five of the six pickets from them and one from 42 would cost 25, not 30."""
    (profile,) = cut_pieces(pieces([("G1", 31, 6, 1)]), shop([(36, 4, 5), (42, 5, None)])).profiles
    assert [(stick.length, stick.count) for stick in profile.sticks] == [(42, 6)]
    assert (profile.tiers[0].value, profile.tiers[0].bound) == (30, 30)


def test_pieces_for_nothing_are_free_one_by_one() -> None:
    free = Piece("P1", "turned", F(31), 6)
    (profile,) = cut_pieces([free], shop([(36, 4, 5), (42, 5, None)])).profiles
    assert profile.tiers[0].value == 25
    (bound,) = cut_pieces([replace(free, for_="the mole")], shop([(36, 4, 5), (42, 5, None)])).profiles
    assert bound.tiers[0].value == 30


def test_no_plan_says_why() -> None:
    for blanks, most_trim, words in (
        ([(36, 4, 5), (42, 5, 5)], None, "the stock runs out: 1 more of 36 would be needed; 5 of 36 are left for G1 "
         r"\(6 of 31\); all of one opening come from blanks of one length$"),
        ([(36, 4, 2), (42, 5, 3)], None, "the stock runs out: 3 more of 42 would be needed; 3 of 42 are left"),
        ([(36, 4, 2), (42, 5, None)], 3, "the stock runs out: 4 more of 36 would be needed; 2 of 36 are left"),
        ([(36, 4, 0), (42, 5, None)], 3, "the stock runs out: 6 more of 36 would be needed; none of 36 is left"),
        ([(42, 5, None)], 3, "31: every blank .* would lose more at each end than most_trim allows, 3"),
        ([(30, 5, None)], None, "longer than 28"),
    ):
        with pytest.raises(NoPlan, match=f"^turned: .*{words}"):
            cut_pieces(pieces([("G1", 31, 6, 1)]), shop(blanks, most_trim=most_trim))


def fewest_more(blanks: Sequence[Blank], sets: Sequence[Set], trim: int, most_trim: int | None) -> int | None:
    """How many blanks must be added for every gate to have its own, of all ways to give each gate a length.

    Only new blanks are added; for a piece that no new blank is right for, the longest offcut that is. None: no blank
    is right for a piece, however many there are.
    """
    def right(blank: int, length: int) -> bool:
        return blank - length >= 2 * trim and (most_trim is None or blank - length <= 2 * most_trim)

    lengths = {length for length, _, _ in blanks}
    added = {length for length, price, _ in blanks if price}
    fitting = {length: [blank for blank in lengths if right(blank, length)] for _, length, _, _ in sets}
    if not all(fitting.values()):
        return None
    lacking = {max(own) for own in fitting.values() if not added & set(own)}
    there: dict[int, float] = dict.fromkeys(lengths, 0)
    for length, _, qty in blanks:
        there[length] += math.inf if qty is None else qty
    gates = [(length, each) for _, length, each, several in sets for _ in range(several)]
    found = []
    for way in product(*(fitting[length] for length, _ in gates)):
        wanted: Counter[int] = Counter()
        for blank, (_, each) in zip(way, gates, strict=True):
            wanted[blank] += each
        short = {blank: n - there[blank] for blank, n in wanted.items() if n > there[blank]}
        if short.keys() <= added | lacking:
            found.append(int(sum(short.values())))
    return min(found)


LEFT = re.compile(r"(none|\d+) of (\d+) (?:is|are) left for (.*)")
GATE = re.compile(r"(G\d+) \((?:(\d+) x )?(\d+) of (\d+), week.csv:(\d+)\)")


@pytest.mark.parametrize("often", rounds(60, 150))
def test_a_shortage_is_the_fewest_blanks_of_a_length_that_serves_and_names_who_goes_without(often: int) -> None:
    chance = random.Random(11)
    short = several = unproven = 0
    for _ in range(often):
        trim, most_trim = chance.choice((0, 1)), chance.choice((None, 2, 3, 4))
        blanks: list[Blank] = [(length, chance.choice((0, 4, 5, 6)), chance.choice((None, 0, 2, 3, 5, 7)))
                               for length in chance.sample((33, 36, 36, 39, 42), chance.randint(1, 4))]
        blanks = [(length, price, qty if price else qty or 4) for length, price, qty in blanks]
        sets: list[Set] = [(f"G{k}", chance.choice((30, 31, 34)), chance.choice((1, 2, 3, 5)), chance.randint(1, 2))
                           for k in range(chance.randint(1, 3))]
        asked = [replace(piece, file="week.csv", line=k) for k, piece in enumerate(pieces(sets), start=2)]
        fewest = fewest_more(blanks, sets, trim, most_trim)
        if not fewest:
            continue
        with pytest.raises(NoPlan, match=r"^turned: the stock runs out: ") as none:
            cut_pieces(asked, shop(blanks, trim, most_trim))
        said, *why = str(none.value).split("; ")
        more = {int(length): int(n) for n, length in re.findall(r"(\d+) more of (\d+)", said)}
        assert re.fullmatch(r"turned: the stock runs out: (\d+ more of \d+(, | and | would be needed$))+", said)
        assert sum(more.values()) == fewest
        assert not [length for length, _, qty in blanks if qty is None and length in more]
        cut_pieces(asked, shop([*blanks, *((length, 5, n) for length, n in more.items())], trim, most_trim))
        for line in [one for one in why if not one.startswith("all of")]:
            match = LEFT.fullmatch(line)
            assert match
            left, blank, lacking = int(match[1].replace("none", "0")), int(match[2]), 0
            for mark, n, each, length, row in GATE.findall(match[3]):
                assert sets[int(row) - 2][:3] == (mark, int(length), int(each)) and left < int(each)
                assert int(n or 1) <= sets[int(row) - 2][3]
                assert blank - int(length) >= 2 * trim and blank - int(length) <= 2 * (most_trim or 99)
                lacking += int(n or 1) * int(each)
            assert lacking - left == more.pop(blank)
        assert not more
        short, several = short + 1, several + (" and " in said)
        with pytest.raises(NoPlan) as hasty:
            cut_pieces(asked, shop(blanks, trim, most_trim), Budget(0))
        low, high = bounds(str(hasty.value).split("; ")[0])
        assert low <= fewest <= high
        unproven += low < high
    assert short > often / 3 and several > often / 60 and unproven > often / 60


def bounds(said: str) -> tuple[int, int]:
    """From how many to how many more blanks a refusal names."""
    if span := re.search(r"(\d+) to (\d+) more", said):
        return int(span[1]), int(span[2])
    named = sum(map(int, re.findall(r"(\d+) more of", said)))
    return 0 if "no plan was found" in said else named, named


def test_what_a_plan_file_may_not_say() -> None:
    plan = cut_pieces(pieces([("G1", 31, 3, 2)]), shop([(36, 4, None), (42, 5, None)], most_trim=3))
    (profile,) = plan.profiles
    (stick,) = profile.sticks
    five = replace(stick, count=5)
    cut = replace(stick.cuts[0], start=F(11, 2), end=F(73, 2))
    torn = replace(stick, count=1, length=F(42), price=F(5), cuts=(cut,), offcut=F(79, 8))
    found = audit(replace(plan, profiles=(replace(profile, sticks=(five, torn)),)))
    assert any("5 from blanks of 36 and 1 from blanks of 42; 3 from blanks of one length would be right" in one
               for one in found)
    assert any("5.5 is lost at each end; at most 3 would be right" in one for one in found)
    for wrong in (replace(profile, demand=(replace(profile.demand[0], each=4),)),
                  replace(profile, one_per_stick=False)):
        assert any("each" in one for one in audit(replace(plan, profiles=(wrong,))))


WEEK = (
    "mark,kind,system,qty,opening,height\nG1,gate,lantern,2,38 1/2,36\nB1,bay,lantern,3,71 1/4,36\n"
    "G2,gate,lantern,1,44 5/8,36\n"
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo shop with only so many blanks of 36 in: of the week's 58 pickets 50 could come from them, one by one."""
    monkeypatch.chdir(tmp_path)
    shop = (DEMO / "shop.toml").read_text(encoding="utf-8")
    short = '{ length = "36 in", price = 4.15'
    assert shop.count(short) == 1
    (tmp_path / "shop.toml").write_text(shop.replace(short, short + ", qty = 50"), encoding="utf-8")
    (tmp_path / "week.csv").write_text(WEEK, encoding="utf-8")
    return tmp_path


def pickets(path: Path) -> dict[str, Counter[F]]:
    """How many pickets of each mark come from each length, in a plan file."""
    made: dict[str, Counter[F]] = {}
    for profile in json.loads(path.read_text(encoding="utf-8"))["profiles"]:
        for stick in profile["sticks"] if profile["profile"] == "lantern-picket" else ():
            made.setdefault(stick["cuts"][0]["mark"], Counter())[F(str(stick["length"]))] += stick["count"]
    return made


def test_a_week_and_its_list_of_pieces_keep_the_pickets_of_a_gate_together(folder: Path) -> None:
    """By hand: of 2 x 6, 3 x 13 and 7 pickets 3 x 13 + 7 are the most that 50 blanks give to whole gates and bays."""
    good("takeoff", "week.csv", "--shop", "shop.toml", "--csv", "pieces.csv")
    for file in ("week.csv", "pieces.csv"):
        good("cut", file, "--shop", "shop.toml", "--json", "plan.json", "--limit", "20")
        good("check", "plan.json")
        made = pickets(folder / "plan.json")
        each = {"G1 picket": 6, "B1 picket": 13, "G2 picket": 7}
        assert made.keys() == each.keys()
        assert not [mark for mark, n in each.items() if any(count % n for count in made[mark].values())]
        assert sum(lengths[F(36)] for lengths in made.values()) == 46


def test_what_is_left_of_a_gate_stays_together_and_says_where_the_others_came_from(folder: Path) -> None:
    good("cut", "week.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "plan.json", "--limit", "20")
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    first = 1
    for profile in plan["profiles"]:
        for stick in profile["sticks"]:
            if stick["cuts"][0]["mark"] == "B1 picket" and stick["length"] == 36:
                break
            first += stick["count"]
        else:
            continue
        break
    good("book", "plan.json", "--through", str(first + 3))
    result = run("rest", "plan.json", "--csv", "rest.csv")
    assert "B1 picket: some are cut; take the 9 of 31 1/4 that stand beside them from blanks of 36 too" in result.stderr
    rows = list(csv.DictReader((folder / "rest.csv").open(encoding="utf-8")))
    (row,) = [row for row in rows if row["mark"] == "B1 picket"]
    assert (row["qty"], row["each"]) == ("35", "35")


def test_bids_cut_blanks_by_the_same_rule() -> None:
    """A gate of six pickets, and five short blanks: a bid must reckon with six long ones, 30 and not 25."""
    made = shop([(36, 4, 5), (42, 5, None)])
    rail = Profile("rail", "rail", (Stock(F(240), F(1)),), F(1, 8))
    system = System("s", "rail", "rail", "turned", F(5, 4), F(63, 16), F(1), picket_allowance=F(5),
                    gate=GateRule(F(1, 2), F(3, 8), F(1, 8), F(15, 8), F(0)))
    made = replace(made, profiles={**made.profiles, "rail": rail}, systems={"s": system})
    order = Order("G1", "gate", "s", 1, F(77, 2), F(36))
    asked = job_of([order], {order.size: take_size(order, made)}).asking
    assert asked["turned"] == (((F(31), "", 6), 6),)
    outcome = measure(VersionTask(made.profiles["turned"], asked["turned"], F(0), 1, 1, 10**6), Budget())
    assert isinstance(outcome, Outcome) and outcome.cost == 30


def test_all_pieces_that_no_blank_gives_are_told_at_once() -> None:
    """Blanks of 42 1/4 that may lose 2 1/2 at each end: 37 1/4 is the shortest piece, and none is longer than they."""
    one = Profile("post", "turned", (Stock(F("42.25"), F(9)),), F(1, 8), head_trim=F(5, 8), tail_trim=F(1, 8),
                  one_per_stick=True, most_trim=F("2.5"))
    shop = Shop("", "in", "", F(1, 8), None, 1, F(1, 16), {"post": one}, {})
    wanted = [Piece(f"P{length}", "post", F(length), 1) for length in ("47.375", "34.5", "40")]
    with pytest.raises(NoPlan) as none:
        cut_pieces(wanted, shop)
    too_long, too_short = str(none.value).splitlines()
    assert too_long.startswith("post: 47.375: longer than") and too_short.startswith("post: 34.5: every blank that is")
