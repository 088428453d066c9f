"""Random weeks, the same for the same seed: over the demo shop, and over invented shops with a rack."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from cutplan.orders import Order, Piece
from cutplan.shop import Profile, Shop, Stock, load_shop
from cutplan.takeoff import take_off

Week = tuple[Shop, tuple[Piece, ...]]

SHOP = Path(__file__).parent.parent / "data" / "demo" / "shop.toml"
FEET = (10, 12, 16, 20, 24)  # every one long enough for the rails of the widest bay
OFFCUTS = 30
FEWEST, MOST = 2_000, 2_600
WIDEST_LINE = 140  # more pieces than six bays of the widest opening come to


def demo_week(seed: int, scale: int = 1, lines: tuple[int, int] = (25, 40)) -> Week:
    """So many lines over the demo shop's systems, quantities 1 to 4; all quantities times `scale`."""
    shop = load_shop(SHOP)
    chance = random.Random(seed)
    orders = [random_order(chance, shop, line, 4) for line in range(chance.randint(*lines))]
    return shop, take_off(times(orders, scale), shop).pieces


def shop_week(seed: int, scale: int = 1) -> Week:
    """An invented shop, and lines for it until the week has 2,000 pieces or more, and never more than 2,600.

    With `scale` every quantity is that many times as large; shop, rack and openings are the same.
    """
    chance = random.Random(seed)
    shop = random_shop(chance)
    enough = chance.randint(FEWEST, MOST - WIDEST_LINE)
    orders: list[Order] = []
    pieces = 0
    while pieces < enough:
        orders.append(random_order(chance, shop, len(orders), 6))
        pieces += sum(piece.qty for piece in take_off(orders[-1:], shop).pieces)
    return shop, take_off(times(orders, scale), shop).pieces


def times(orders: list[Order], scale: int) -> tuple[Order, ...]:
    return tuple(replace(order, qty=order.qty * scale) for order in orders)


def random_order(chance: random.Random, shop: Shop, line: int, most: int) -> Order:
    """Gates 34 to 52 in wide, bays 40 to 96 in, in sixteenths; 36, 42 or 48 in high; up to `most` of them."""
    kind = chance.choice(["gate", "bay", "bay"])
    least, widest = (34, 52) if kind == "gate" else (40, 96)
    opening = Fraction(chance.randint(least * 16, widest * 16), 16)
    height = Fraction(chance.choice([36, 42, 48]))
    system = chance.choice(sorted(shop.systems))
    return Order(f"{kind[0].upper()}{line}", kind, system, chance.randint(1, most), opening, height)


def random_shop(chance: random.Random) -> Shop:
    """The demo shop's systems and trims; every profile in three endless lengths; thirty offcuts on the rack.

    Turned pickets keep their three blanks, at drawn prices.
    """
    shop = load_shop(SHOP)
    profiles = {name: resold(profile, chance) for name, profile in shop.profiles.items()}
    cut = [name for name, profile in profiles.items() if not profile.one_per_stick]
    for tag in range(1, OFFCUTS + 1):
        offcut = Stock(Fraction(chance.randint(24 * 8, 120 * 8), 8), Fraction(0), 1, f"R{tag:02}")
        name = chance.choice(cut)
        profiles[name] = replace(profiles[name], stock=(*profiles[name].stock, offcut))
    return replace(shop, profiles=profiles)


def resold(profile: Profile, chance: random.Random) -> Profile:
    """The profile in three lengths, any number of each."""
    lengths = [12 * feet for feet in sorted(chance.sample(FEET, 3))]
    if profile.one_per_stick:
        lengths = [int(stock.length) for stock in profile.stock]
    return replace(profile, stock=tuple(priced(lengths, chance)))


def priced(inches: list[int], chance: random.Random) -> Iterator[Stock]:
    """Each length has its own price a foot, within 5 % of the profile's; whole cents."""
    cents_a_foot = chance.randint(100, 300)
    for length in inches:
        cents = round(Fraction(cents_a_foot * length * chance.randint(950, 1050), 12 * 1000))
        yield Stock(Fraction(length), Fraction(cents, 100))
