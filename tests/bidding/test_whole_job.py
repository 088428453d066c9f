"""If these fail, an order for a whole job is dearer than it need be, or not enough as often as it says."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction as F
from itertools import product
from pathlib import Path

import pytest

from cutplan.bidding.bidfile import load_bid
from cutplan.bidding.cutting import Asking, CutVersions, cut_versions
from cutplan.bidding.orders_for import orders_for
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, Stock, Supplier
from tests.bidding.bids import written
from tests.sweeps import sweep

CHANCES = [F(50), F(80), F(95)]


# ---- a model of its own: every order there can be, every way to cut ----


def fits(profile: Profile, pieces: tuple[F, ...], sticks: tuple[F, ...]) -> bool:
    """Whether pieces, the longest first, can be laid on sticks; a kerf between pieces, the trims at the ends."""
    rooms = [length - profile.head_trim - profile.tail_trim + profile.kerf for length in sticks]

    def lay(k: int, last: int) -> bool:
        if k == len(pieces):
            return True
        tried = set()
        begin = last if k and pieces[k] == pieces[k - 1] else 0  # of pieces alike the later lie no further to the left
        for s in range(begin, len(rooms)):
            if rooms[s] >= pieces[k] + profile.kerf and rooms[s] not in tried:
                tried.add(rooms[s])
                rooms[s] -= pieces[k] + profile.kerf
                if lay(k + 1, s):
                    return True
                rooms[s] += pieces[k] + profile.kerf
        return False

    return lay(0, 0)


def enough(profile: Profile, asking: Asking, order: dict[F, int]) -> bool:
    pieces = tuple(sorted((length for (length, _, _), qty in asking for _ in range(qty)), reverse=True))
    sticks = tuple(length for length, n in sorted(order.items()) for _ in range(n))
    if sum(pieces, F(0)) > sum(sticks, F(0)):
        return False
    return fits(profile, pieces, sticks)


def purchases(profile: Profile, most: int) -> Iterator[tuple[dict[F, int], dict[str, F]]]:
    """Every order of up to so many sticks an entry: sticks by length, money by supplier."""
    choices = [[n for n in range(0, max(most, entry.bundle * 2, entry.min_order) + 1, entry.bundle)
                if n == 0 or n >= entry.min_order] for entry in profile.stock]
    for numbers in product(*choices):
        sticks: dict[F, int] = {}
        money: dict[str, F] = {}
        for entry, n in zip(profile.stock, numbers, strict=True):
            if n:
                each = min([entry.price, *(price for least, price in entry.breaks if n >= least)])
                sticks[entry.length] = sticks.get(entry.length, 0) + n
                money[entry.supplier] = money.get(entry.supplier, F(0)) + n * each
        yield sticks, money


def rated(profile: Profile, cut: CutVersions, most: int) -> set[tuple[tuple[tuple[str, F], ...], int]]:
    """Orders by what they cost at each supplier, and for which versions they are enough, as bits."""
    known: dict[tuple[tuple[F, int], ...], int] = {}
    found = set()
    for sticks, money in purchases(profile, most):
        key = tuple(sorted(sticks.items()))
        if key not in known:
            known[key] = sum(1 << j for j, version in enumerate(cut.askings)
                             if profile.name not in version or enough(profile, version[profile.name], sticks))
        if known[key]:
            found.add((tuple(sorted(money.items())), known[key]))
    return found


def cheapest(shop: Shop, cut: CutVersions, weight: int, most: int) -> F:
    """What the cheapest order with hardware costs that is enough in versions of so much weight."""
    weights = cut.together.weighing.weights
    parts = [rated(shop.profiles[one.name], cut, most) for one in cut.profiles]
    best = None
    for chosen in product(*parts):
        serves = (1 << cut.done) - 1
        for _, bits in chosen:
            serves &= bits
        reached, beside = 0, None
        for j in sorted((j for j in range(cut.done) if serves >> j & 1), key=lambda j: cut.hardware[j]):
            if reached >= weight:
                break
            reached, beside = reached + weights[j], cut.hardware[j]
        if reached < weight or beside is None:
            continue
        by_supplier: dict[str, F] = {}
        for money, _ in chosen:
            for name, amount in money:
                by_supplier[name] = by_supplier.get(name, F(0)) + amount
        total, allowed = beside, True
        for name, amount in by_supplier.items():
            supplier = shop.suppliers.get(name, Supplier(name))
            allowed &= amount >= supplier.minimum
            total += amount + (0 if supplier.free_from is not None and amount >= supplier.free_from
                               else supplier.freight)
        if allowed and (best is None or total < best):
            best = total
    assert best is not None
    return best


def sold(shop: Shop, seed: int) -> Shop:
    """The demo's shop, its rails and pickets as two suppliers sell them, in ways drawn by chance."""
    chance = random.Random(seed)

    def entries(lengths: list[int], each: float) -> tuple[Stock, ...]:
        found = []
        for length in chance.sample(lengths, 2):
            price = F(round(length * each * chance.uniform(0.8, 1.2), 2)).limit_denominator(100)
            bundle = chance.choice([1, 1, 2, 3])
            breaks = ((4, price * F(4, 5)),) if bundle == 1 and chance.random() < 0.4 else ()
            found.append(Stock(F(length), price, bundle=bundle, breaks=breaks, min_order=chance.choice([0, 0, 2]),
                               supplier=chance.choice(["quay", "yard"])))
        return tuple(found)

    profiles = dict(shop.profiles)
    for name, lengths, each in (("box-rail", [132, 168, 240], 0.13), ("square-picket", [96, 120, 192], 0.04),
                                ("box-upright", [120, 144, 240], 0.2)):
        profiles[name] = replace(profiles[name], stock=entries(lengths, each))
    return replace(shop, profiles=profiles, saw=None, suppliers={
        "quay": Supplier("quay", F(chance.choice([0, 18, 35])), chance.choice([None, F(60)])),
        "yard": Supplier("yard", F(chance.choice([0, 22])), None, F(chance.choice([0, 30])))})


@pytest.mark.parametrize("seed", sweep(3, 30))
def test_no_order_is_cheaper_and_enough_as_often(seed: int, shop: Shop, tmp_path: Path) -> None:
    """Beside every order there can be, on jobs of which all versions are cut: bundles, breaks, freight and the like."""
    terms = sold(shop, seed)
    chance = random.Random(seed)
    job = load_bid(written(tmp_path, f"A,gate,breakwater,1,{chance.choice(('38', '38..39'))},42,",
                           f"B,gate,breakwater,{chance.choice(('0..1', '1'))},{chance.choice((26, 30))},42,"), terms)
    cut = cut_versions(job.lines, terms, 40, 1)
    assert cut.whole
    for one in orders_for(cut, terms, CHANCES, Budget()).together:
        least = cheapest(terms, cut, cut.together.weighing.rank(one.percent), 6)
        assert one.money == least, (one.percent, dict(one.sticks))
        assert one.later <= one.money
