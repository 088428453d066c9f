"""One profile in whole numbers, and the plainest way to cut it: first-fit decreasing.

Nothing of cutplan.cutting is used here, so that what it is compared with does not share its mistakes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from cutplan.orders import Piece
from cutplan.shop import Profile, Shop


@dataclass(frozen=True)
class Kind:
    """Sticks of one length and price: the room on one, its price, how many there are (None: any number)."""

    room: int
    price: int
    there: int | None


@dataclass(frozen=True)
class Task:
    """One profile's pieces and sticks; sizes and rooms with a kerf added, prices in coins of `coin`.

    Sizes decrease. A set of pieces fits on a stick where the sum of their sizes is at most its room.
    """

    profile: str
    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    kinds: tuple[Kind, ...]
    coin: Fraction
    one_per_stick: bool

    @property
    def pieces(self) -> int:
        return sum(self.demands)


Stick = tuple[int, ...]  # how many of each size
Sticks = dict[Kind, list[Stick]]


def tasks(shop: Shop, pieces: tuple[Piece, ...]) -> list[Task]:
    """A task for each profile that is needed."""
    needed = {piece.profile for piece in pieces}
    return [task(profile, pieces) for name, profile in shop.profiles.items() if name in needed]


def task(profile: Profile, pieces: tuple[Piece, ...]) -> Task:
    demand: dict[Fraction, int] = {}
    for piece in pieces:
        if piece.profile == profile.name:
            demand[piece.length] = demand.get(piece.length, 0) + piece.qty
    lost = profile.head_trim + profile.tail_trim
    if profile.one_per_stick:
        lost = 2 * max(profile.head_trim, profile.tail_trim)  # a turned blank is trimmed equally at both ends
    rooms = [stock.length - lost + profile.kerf for stock in profile.stock]
    unit = math.lcm(*(x.denominator for x in (*rooms, profile.kerf, *demand)))
    coin = Fraction(1, math.lcm(*(stock.price.denominator for stock in profile.stock)))
    there: dict[tuple[int, int], int | None] = {}
    for stock, room in zip(profile.stock, rooms, strict=True):
        key = int(room * unit), int(stock.price / coin)
        had = there.get(key, 0)
        there[key] = None if had is None or stock.qty is None else had + stock.qty
    lengths = sorted(demand, reverse=True)
    return Task(
        profile.name,
        tuple(int((length + profile.kerf) * unit) for length in lengths),
        tuple(demand[length] for length in lengths),
        tuple(Kind(room, price, qty) for (room, price), qty in there.items()),
        coin,
        profile.one_per_stick,
    )


def cost(sticks: Sticks) -> int:
    """In coins."""
    return sum(kind.price * len(cut) for kind, cut in sticks.items())


def first_fit_decreasing(task: Task) -> Sticks:
    """Each profile from the one endless length that comes out cheapest; nothing is drawn from the rack.

    Turned pickets, one from a blank, each come from the cheapest blank: the best plan there is.
    """
    if task.one_per_stick:
        return cheapest_blanks(task)
    endless = [kind for kind in task.kinds if kind.there is None and kind.room >= task.sizes[0]]
    return min(({kind: fill(task, kind)} for kind in endless), key=cost)


def cheapest_blanks(task: Task) -> Sticks:
    sticks: Sticks = {}
    for i, (size, demand) in enumerate(zip(task.sizes, task.demands, strict=True)):
        fitting = (kind for kind in task.kinds if kind.there is None and kind.room >= size)
        kind = min(fitting, key=lambda kind: kind.price)
        sticks.setdefault(kind, []).extend([one_piece(task, i)] * demand)
    return sticks


def one_piece(task: Task, i: int) -> Stick:
    return tuple(int(k == i) for k in range(len(task.sizes)))


def fill(task: Task, kind: Kind) -> list[Stick]:
    """First-fit decreasing of all that fits on one kind of stick; pieces of one size are dealt together."""
    rooms: list[int] = []
    cuts: list[list[int]] = []
    for i, (size, left) in enumerate(zip(task.sizes, task.demands, strict=True)):
        if size > kind.room:
            continue
        for k, room in enumerate(rooms):
            if n := min(left, room // size):
                rooms[k] -= n * size
                cuts[k][i] = n
                left -= n
        for n in shares(left, kind.room // size):
            rooms.append(kind.room - n * size)
            cuts.append([0] * len(task.sizes))
            cuts[-1][i] = n
    return [tuple(cut) for cut in cuts]


def shares(pieces: int, most: int) -> Iterator[int]:
    """So many pieces to new sticks, as many on each as fit."""
    while pieces:
        yield min(pieces, most)
        pieces -= min(pieces, most)


def fault(task: Task, sticks: Sticks) -> str:
    """What is wrong with these sticks, or nothing."""
    for kind, cut in sticks.items():
        if kind.there is not None and len(cut) > kind.there:
            return "more sticks than there are"
        for stick in cut:
            if sum(a * size for a, size in zip(stick, task.sizes, strict=True)) > kind.room:
                return "a stick too full"
    made = tuple(sum(stick[i] for cut in sticks.values() for stick in cut) for i in range(len(task.sizes)))
    return "" if made == task.demands else "not the pieces asked for"
