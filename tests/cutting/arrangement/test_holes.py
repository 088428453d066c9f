"""Rails with holes: a plan that misses a hole, or that a shorter order would beat, is found here."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction as F
from itertools import permutations, product

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.cutting.arrangement.holes.placing import End, Holes, rail
from cutplan.cutting.arrangement.holes.pricing import chains
from cutplan.orders import Piece
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import ProfilePlan
from cutplan.problems import InputProblems, NoPlan
from cutplan.shop import Profile, Routing, Shop, Stock
from tests.plans.parsing import from_json
from tests.sweeps import sweep

Rail = tuple[F, str]


def shop_of(profile: Profile) -> Shop:
    return Shop("Test shop", "in", "", F(1, 8), None, 1, F(1, 16), {profile.name: profile}, {})


def planned(profile: Profile, rails: Sequence[Rail]) -> ProfilePlan:
    pieces = [Piece(f"r{k}", profile.name, length, 1, centred=centred) for k, (length, centred) in enumerate(rails)]
    plan = cut_pieces(pieces, shop_of(profile))
    assert audit(plan) == []
    proved = prove(plan.profiles[0])
    assert proved.ok, proved.line
    return plan.profiles[0]


def ends_at(profile: Profile, stick: F, first: F, order: Sequence[Rail], trims: tuple[F, F] | None = None) -> F | None:
    """Where the last of these rails ends when each is cut as far to the left as it can be; None: beyond the stick."""
    assert profile.routing is not None
    head, tail = trims or (profile.head_trim, profile.tail_trim)
    pitch, at, end = profile.routing.pitch, head, F(0)
    for length, centred in order:
        middle = first + (pitch / 2 if centred == "space" else 0)
        start = middle - length / 2
        start += -((start - at) // pitch) * pitch
        end = start + length
        at = end + profile.kerf
    return end if end <= stick - tail else None


def orders(rails: Sequence[Rail]) -> Iterator[tuple[Rail, ...]]:
    """Every order and every centring that is allowed."""
    choices = [[(length, word) for word in (("hole", "space") if centred == "either" else (centred,))]
               for length, centred in rails]
    return (order for chosen in product(*choices) for order in permutations(chosen))


def fits(profile: Profile, stick: F, rails: Sequence[Rail]) -> bool:
    """Every order, both ends of the stick, every centring that is allowed."""
    assert profile.routing is not None
    first, pitch = profile.routing.first, profile.routing.pitch
    return any(
        ends_at(profile, stick, hole, order) is not None
        for order in orders(rails) for hole in (first % pitch, (stick - first) % pitch)
    )


def least_cost(profile: Profile, rails: Sequence[Rail]) -> F | None:
    """The cheapest way to split the rails over sticks, by trying every set of them."""
    whole = (1 << len(rails)) - 1
    price: dict[int, F] = {}
    for chosen in range(1, whole + 1):
        some = [rail for k, rail in enumerate(rails) if chosen >> k & 1]
        prices = [stock.price for stock in profile.stock
                  if sum(length for length, _ in some) <= stock.length and fits(profile, stock.length, some)]
        if prices:
            price[chosen] = min(prices)
    least: dict[int, F] = {0: F(0)}
    for done in range(whole + 1):
        if done not in least or done == whole:
            continue
        next_one = (~done & whole) & -(~done & whole)
        for chosen, cost in price.items():
            if chosen & next_one and not chosen & done:
                reached = least[done] + cost
                if reached < least.get(done | chosen, reached + 1):
                    least[done | chosen] = reached
    return least.get(whole)


def a_case(seed: int) -> tuple[Profile, list[Rail]]:
    chance = random.Random(seed)
    pitch = chance.choice([F(4), F(19, 4), F(5), F(9, 2)])
    first = chance.choice([pitch / 2, F(1), F(17, 8), F(3), pitch])
    stock = (Stock(F(chance.choice([96, 101, 120])), F(10)), Stock(F(chance.choice([144, 147])), F(14)))
    profile = Profile("rail", "rail", stock, F(1, 8), head_trim=F(chance.choice([0, 1]), 2),
                      tail_trim=F(chance.choice([0, 3]), 8), routing=Routing(pitch, first))
    words = chance.choice([("hole",), ("hole", "space"), ("hole", "space", "either")])
    rails = [(F(chance.randrange(16 * 9, 16 * 60), 16), chance.choice(words))
             for _ in range(chance.randint(3, 6 if "either" in words else 7))]
    return profile, rails


@pytest.mark.parametrize("seed", sweep(20, 40))
def test_no_order_and_no_position_beats_the_plan(seed: int) -> None:
    profile, rails = a_case(seed)
    plan = planned(profile, rails)
    assert profile.routing is not None
    assert plan.tiers[0].closed
    assert plan.totals.cost == least_cost(profile, rails)
    for stick in plan.sticks:
        for cut in stick.cuts:
            from_head = profile.routing.first if not stick.turned else (stick.length - profile.routing.first)
            shift = profile.routing.pitch / 2 if cut.centred == "space" else 0
            assert ((cut.start + cut.end) / 2 - from_head - shift) % profile.routing.pitch == 0
            assert cut.start >= profile.head_trim and cut.end <= stick.length - profile.tail_trim


Sawn = tuple[Stock, int]  # an offcut, and how many of its ends are sawn


def least_used_of(profile: Profile, stick: F, first: F, sawn: int, rails: Sequence[Rail]) -> F | None:
    """The least length of one stick that is used up by these rails; None where they do not fit.

    It may be turned unless one end alone is sawn: where trims tell that.
    """
    assert profile.routing is not None and profile.keep_from is not None
    pitch = profile.routing.pitch
    trims = (F(0) if sawn else profile.head_trim, F(0) if sawn == 2 else profile.tail_trim)
    usual = profile.head_trim, profile.tail_trim
    ends = (first, (stick - first) % pitch) if trims == usual or (trims == (0, 0) and usual[1]) else (first,)
    found = [end for order in orders(rails) for hole in ends
             if (end := ends_at(profile, stick, hole, order, trims)) is not None]
    left = [stick - end - profile.kerf for end in found]
    kept = [one for one in left if one >= profile.keep_from]
    return stick - max(kept, default=F(0)) if found else None


def best_with_offcuts(profile: Profile, offcuts: Sequence[Sawn], rails: Sequence[Rail]) -> tuple[F, F]:
    """The least cost and with it the least length used up, by trying every set of rails on every stick."""
    assert profile.routing is not None
    sticks = [(stock, -1, 0) for stock in profile.stock if stock.tag is None]
    sticks += [(stock, k, sawn) for k, (stock, sawn) in enumerate(offcuts)]
    whole = (1 << len(rails)) - 1
    ways: list[tuple[int, int, F, F]] = []  # rails, the offcut they take, cost and length used up
    for chosen in range(1, whole + 1):
        some = [rail for k, rail in enumerate(rails) if chosen >> k & 1]
        for stock, k, sawn in sticks:
            first = profile.routing.first if stock.first is None else stock.first
            if sum(length for length, _ in some) <= stock.length and (
                    used := least_used_of(profile, stock.length, first, sawn, some)) is not None:
                ways.append((chosen, 1 << k if k >= 0 else 0, stock.price, used))
    best = {(0, 0): (F(0), F(0))}
    for done in range(whole):
        for taken in range(1 << len(offcuts)):
            if (done, taken) not in best:
                continue
            cost, length = best[done, taken]
            next_one = (~done & whole) & -(~done & whole)
            for chosen, offcut, price, used in ways:
                if chosen & next_one and not chosen & done and not offcut & taken:
                    key, reached = (done | chosen, taken | offcut), (cost + price, length + used)
                    best[key] = min(best.get(key, reached), reached)
    return min(value for (done, _), value in best.items() if done == whole)


@pytest.mark.parametrize("seed", sweep(12, 30))
def test_no_order_beats_a_plan_with_sawn_offcuts_in_cost_or_in_length(seed: int) -> None:
    chance = random.Random(seed)
    profile, rails = a_case(seed)
    profile = replace(profile, keep_from=F(chance.choice([2, 10, 30])), tail_trim=F(chance.choice([0, 3, 16]), 8))
    assert profile.routing is not None
    offcuts = []
    for k in range(2):
        first, sawn = F(chance.randrange(0, 16 * 4), 16), chance.choice([0, 1, 1, 2])
        offcuts.append((profile.offcut(f"A{k}", F(chance.randint(30, 90)), first, sawn), sawn))
    profile = replace(profile, stock=(*profile.stock, *(stock for stock, _ in offcuts)))
    plan = planned(profile, rails[:5])
    cost, used = best_with_offcuts(profile, offcuts, rails[:5])
    assert plan.tiers[0].status == "proven" and plan.totals.cost == cost
    assert plan.tiers[1].bound <= used <= plan.tiers[1].value
    if plan.tiers[1].status == "proven":
        assert plan.tiers[1].value == used


@pytest.mark.parametrize("seed", sweep(2, 10))
def test_holes_a_sixteenth_apart_are_as_good_as_none(seed: int) -> None:
    """All lengths are in sixteenths of an inch, and so is the kerf."""
    chance = random.Random(seed)
    rails = [(F(chance.randrange(16 * 20, 16 * 70), 16), "either") for _ in range(15)]
    stock = (Stock(F(192), F(41)), Stock(F(240), F(50)))
    plain = Profile("rail", "rail", stock, F(1, 8), head_trim=F(1, 2))
    holed = Profile("rail", "rail", stock, F(1, 8), head_trim=F(1, 2), routing=Routing(F(1, 16), F(0)))
    without = planned(plain, [(length, "") for length, _ in rails])
    assert planned(holed, rails).totals.cost == without.totals.cost
    assert without.tiers[0].closed


@pytest.mark.parametrize("seed", range(60))
def test_pitches_and_paths_say_exactly_what_fits(seed: int) -> None:
    """The knapsack's table against the best of all orders, for every set of up to five rails."""
    chance = random.Random(seed)
    pitch, kerf, n = 2 * chance.randint(3, 12), 2 * chance.randint(0, 2), chance.randint(1, 5)
    rails = tuple((rail(i, chance.randint(pitch // 2 + 1, 2 * pitch), pitch, chance.random() < 0.5),) for i in range(n))
    holes = Holes(pitch, kerf, rails)
    end = End(chance.randint(-pitch, pitch), chance.choice([0, 0, 3]), chance.randint(5 * pitch, 14 * pitch))
    for chosen in range(1, 1 << n):
        some = [i for i in range(n) if chosen >> i & 1]
        fits = holes.place((end,), tuple((i, 1) for i in some)) is not None
        (found,) = chains(holes, [((end,), end.most, 0)], [i in some for i in range(n)], [1] * n)
        assert (found.best() == len(some)) == fits


def test_an_offcut_keeps_its_holes() -> None:
    """Two offcuts of one length whose holes lie differently: the rail only fits where it can be centred."""
    kept = (Stock(F(40), F(0), 1, "A1", F(1)), Stock(F(40), F(0), 1, "A2", F(7, 2)), Stock(F(192), F(9)))
    profile = Profile("rail", "rail", kept, F(0), routing=Routing(F(5), F(5, 2)))
    plan = planned(profile, [(F(39), "hole")])  # the middle can be from 19 1/2 to 20 1/2: A1 has holes at 1, 6, .. 21
    (stick,) = plan.sticks
    assert stick.source == "new"  # A2: 3 1/2, .. 18 1/2, 23 1/2, and turned 1 1/2, .. 16 1/2, 21 1/2
    plan = planned(profile, [(F(38), "hole")])  # from 19 to 21: A1 alone, at 21 or, turned, at 19
    assert [stick.tag for stick in plan.sticks] == ["A1"]


def test_the_plain_end_of_a_stick_is_not_used() -> None:
    """Holes that begin 30 in from one end: no rail reaches into what would lack a picket's hole."""
    profile = Profile("rail", "rail", (Stock(F(192), F(9)),), F(1, 8), routing=Routing(F(5), F(30)))
    plan = planned(profile, [(F(40), "hole")] * 4)
    assert sum(stick.count for stick in plan.sticks) == 2
    assert all((cut.start if not stick.turned else 192 - cut.end) >= 25 for stick in plan.sticks for cut in stick.cuts)


def test_a_plain_end_takes_length_where_the_holes_take_none() -> None:
    """Holes from 9 in on, 4 apart: rails of 8 in stand side by side on them, but only in 36 of the 41 in."""
    profile = Profile("rail", "rail", (Stock(F(41), F(9)),), F(0), routing=Routing(F(4), F(9)))
    rails = [(F(8), "hole")] * 5
    assert sum(stick.count for stick in planned(profile, rails).sticks) == 2
    assert sum(stick.count for stick in planned(profile, rails[1:]).sticks) == 1


def test_a_rail_that_no_hole_lets_fit_is_named() -> None:
    profile = Profile("rail", "rail", (Stock(F(40), F(9)),), F(0), routing=Routing(F(5), F(5, 2)))
    with pytest.raises(NoPlan, match="39 centred on a hole"):
        planned(profile, [(F(39), "hole")])
    with pytest.raises(InputProblems, match="shorter than the holes"):
        planned(profile, [(F(5), "hole")])


def test_a_changed_centring_is_found() -> None:
    profile = Profile("rail", "rail", (Stock(F(192), F(9)),), F(1, 8), routing=Routing(F(5), F(5, 2)))
    plan = planned(profile, [(F(40), "hole"), (F(50), "space")])
    (stick,) = plan.sticks
    moved = replace(stick, cuts=(*stick.cuts[:-1], replace(stick.cuts[-1], start=stick.cuts[-1].start + 1,
                                                           end=stick.cuts[-1].end + 1)))
    assert any("after a hole" in text for text in audit(Plan("in", (replace(plan, sticks=(moved,)),))))
    other = replace(stick, cuts=tuple(replace(cut, centred="hole") for cut in stick.cuts))
    assert any("asked for centred" in text for text in audit(Plan("in", (replace(plan, sticks=(other,)),))))


def test_a_routed_plan_is_read_as_it_was_written() -> None:
    profile = Profile("rail", "rail", (Stock(F(192), F(9)),), F(1, 8), routing=Routing(F(19, 4), F(19, 8)))
    pieces = [Piece("a", "rail", F(35), 3, centred="hole"), Piece("b", "rail", F(281, 4), 2, centred="either")]
    plan = cut_pieces(pieces, shop_of(profile))
    assert from_json(to_json(plan), "plan.json") == plan


def test_nothing_is_centred_where_there_are_no_holes() -> None:
    profile = Profile("rail", "rail", (Stock(F(192), F(9)),), F(1, 8))
    plan = planned(profile, [(F(40), ""), (F(50), "")])
    (stick,) = plan.sticks
    centred = replace(stick, cuts=tuple(replace(cut, centred="hole") for cut in stick.cuts))
    asked = tuple(replace(entry, centred="hole") for entry in plan.demand)
    found = audit(Plan("in", (replace(plan, sticks=(centred,), demand=asked),)))
    assert len(found) == 4 and all("no holes to centre on" in text for text in found)
