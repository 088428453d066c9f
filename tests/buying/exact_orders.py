"""Small shops with all terms of sale, and the least that their weeks cost by a model of its own.

The model lists what can happen to each stick, week by week, by the fit rule alone, and every number of sticks that may
be ordered; it shares no code with the buyer's. It knows plain sticks with a trim at the head alone.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from ortools.sat.python import cp_model

from cutplan.orders import Piece
from cutplan.shop import Profile, Shop, Stock, Supplier

F = Fraction
Demand = Mapping[int, int]  # how many pieces of a length
Weeks = Sequence[Mapping[str, Demand]]  # for each week the demand of each profile


def shop_of(profiles: Mapping[str, Profile], suppliers: Sequence[Supplier] = ()) -> Shop:
    return Shop("", "in", "USD", F(1, 8), None, 1, F(1, 16), profiles, {},
                suppliers={one.name: one for one in suppliers})


def rail(name: str, stock: Sequence[Stock], **rules: object) -> Profile:
    return Profile(name, "rail", tuple(stock), **{"kerf": F(1, 8), "head_trim": F(1, 2), **rules})  # type: ignore[arg-type]


def pieces_of(week: Mapping[str, Demand]) -> list[Piece]:
    return [Piece(f"{name} {length}", name, F(length), qty) for name, demand in week.items()
            for length, qty in demand.items()]


def random_case(seed: int) -> tuple[Shop, Weeks, dict[str, list[tuple[Fraction, int]]], list[int]]:
    """A shop, its weeks, what is on hand, and how many days after the order each week begins."""
    chance = random.Random(seed)
    suppliers = [Supplier(name, F(chance.choice([0, 15, 40])), chance.choice([None, F(chance.randint(60, 250))]),
                          F(chance.choice([0, 0, 50, 120]))) for name in ("north", "south")]
    profiles, there = {}, {}
    for name in ["rail", "upright"][:chance.choice([1, 1, 2])]:
        stock = []
        for length in chance.sample([72, 96, 120], chance.randint(1, 2)):
            for _ in range(chance.randint(1, 3)):
                price = F(chance.randint(length - 10, length + 10), 4)
                least = chance.randint(3, 8)
                breaks = ((least, price * F(9, 10)), (least + chance.randint(2, 6), price * F(8, 10)))
                stock.append(Stock(F(length), price, bundle=chance.choice([1, 1, 2, 5]),
                                   min_order=chance.choice([0, 0, 4]), breaks=chance.choice([(), breaks]),
                                   qty=chance.choice([None, None, 6]), supplier=chance.choice(["north", "south"]),
                                   lead_days=chance.choice([0, 0, 0, 10])))
        stock.append(Stock(F(120), F(60)))  # so that there always is an order
        profiles[name] = rail(name, stock, keep_from=chance.choice([None, F(24), F(40)]))
        there[name] = [(F(length), chance.choice([0, 0, 2])) for length in {int(entry.length) for entry in stock}]
    number = chance.choice([1, 2, 2, 3])
    weeks = [{name: {length: chance.randint(1, 4) for length in chance.sample(range(18, 70), chance.randint(1, 3))}
              for name in profiles} for _ in range(number)]
    return shop_of(profiles, suppliers), weeks, there, [7 * k for k in range(number)]


def histories(one: Profile, length: Fraction, first: int, weeks: Sequence[Demand]
              ) -> Iterator[tuple[tuple[int, int, int], ...]]:
    """What can be cut from a stick in the weeks from `first` on: (week, length, how many), by the saw's rule alone."""
    def cuts(room: Fraction, demand: Demand) -> Iterator[tuple[tuple[int, int], ...]]:
        """Ways to cut some pieces from so much, a kerf between them."""
        for counts in product(*(range(min(qty, int(room // size)) + 1) for size, qty in demand.items())):
            taken = [(size, n) for size, n in zip(demand, counts, strict=True) if n]
            number = sum(counts)
            if number and sum(size * n for size, n in taken) + (number - 1) * one.kerf <= room:
                yield tuple(taken)

    def go_on(week: int, left: Fraction, trim: Fraction) -> Iterator[tuple[tuple[int, int, int], ...]]:
        """`left` is in hand, of which squaring takes `trim`."""
        yield ()
        for k in range(week, len(weeks)):
            for taken in cuts(left - trim, weeks[k]):
                used = trim + sum((size + one.kerf) * n for size, n in taken)
                own = tuple((k, size, n) for size, n in taken)
                offcut = left - used
                if one.keep_from is not None and offcut >= one.keep_from and k + 1 < len(weeks):
                    for rest in go_on(k + 1, offcut, F(0)):
                        yield (*own, *rest)
                else:
                    yield own

    yield from {found for found in go_on(first, length, one.head_trim) if found}


def fullest(found: Iterable[tuple[tuple[int, int, int], ...]]) -> list[tuple[tuple[int, int, int], ...]]:
    """Those to which no piece can be added: more pieces than asked for do no harm."""
    kept: list[dict[tuple[int, int], int]] = []
    for one in sorted(found, key=lambda history: -sum(n for *_, n in history)):
        counts = {(week, size): n for week, size, n in one}
        if not any(all(more.get(key, 0) >= n for key, n in counts.items())
                   and min(more)[0] == min(counts)[0] for more in kept):
            kept.append(counts)
    return [tuple((*key, n) for key, n in counts.items()) for counts in kept]


def least_money(one: Shop, weeks: Weeks, there: Mapping[str, Sequence[tuple[Fraction, int]]], days: Sequence[int]
                ) -> Fraction:
    """What the cheapest order costs."""
    model = cp_model.CpModel()
    scale = 400
    money = []
    goods: dict[str, list[object]] = {}
    used: dict[str, list[object]] = {}
    most = sum(n for week in weeks for demand in week.values() for n in demand.values()) + 14
    for name, profile in one.profiles.items():
        demand = [week.get(name, {}) for week in weeks]
        made: dict[tuple[int, int], list[object]] = {}
        ready: dict[tuple[Fraction, int], list[object]] = {}
        for number, entry in enumerate(profile.stock):
            first = next((k for k, day in enumerate(days) if entry.lead_days <= day), None)
            if first is None:
                continue
            on_hand = dict(there[name]).get(entry.length, 0)
            left = most if entry.qty is None else max(0, entry.qty - on_hand)
            sizes = [n for n in range(0, left + 1, entry.bundle) if n == 0 or n >= entry.min_order]
            chosen = {n: model.new_bool_var(f"{name} {number} {n}") for n in sizes}
            model.add_exactly_one(chosen.values())
            worth = {n: min([entry.price, *(each for least, each in entry.breaks if n >= least)]) * n for n in sizes}
            assert all((amount * scale).denominator == 1 for amount in worth.values())
            goods.setdefault(entry.supplier, []).append(sum(int(worth[n] * scale) * yes for n, yes in chosen.items()))
            used.setdefault(entry.supplier, []).append(1 - chosen[0])
            ready.setdefault((entry.length, first), []).append(sum(n * yes for n, yes in chosen.items()))
        drawn: dict[tuple[Fraction, int], list[object]] = {}
        for length in {entry.length for entry in profile.stock}:
            for first in range(len(weeks)):
                for k, history in enumerate(fullest(histories(profile, length, first, demand))):
                    if min(week for week, _, _ in history) == first:
                        x = model.new_int_var(0, most, f"{name} {length} {first} {k}")
                        drawn.setdefault((length, first), []).append(x)
                        for week, size, n in history:
                            made.setdefault((week, size), []).append(n * x)
            for week in range(len(weeks)):
                come = [n for (own, first), ns in ready.items() if own == length and first <= week for n in ns]
                gone = [x for (own, first), xs in drawn.items() if own == length and first <= week for x in xs]
                model.add(sum(gone) <= sum(come) + dict(there[name]).get(length, 0))
        for week, own in enumerate(demand):
            for size, n in own.items():
                model.add(sum(made[week, size]) >= n)
    for name, amounts in goods.items():
        supplier = one.suppliers.get(name) or Supplier(name)
        amount, any_, free = sum(amounts), model.new_bool_var(""), model.new_bool_var("")
        for yes in used[name]:
            model.add(any_ >= yes)
        model.add(amount >= int(supplier.minimum * scale)).only_enforce_if(any_)
        model.add(amount >= int((supplier.free_from or 0) * scale)).only_enforce_if(free)
        model.add(free == 0) if supplier.free_from is None else None
        paid = model.new_bool_var("")
        model.add(paid >= any_ - free)
        money += [amount, int(supplier.freight * scale) * paid]
    model.minimize(sum(money))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return F(round(solver.objective_value), scale)
