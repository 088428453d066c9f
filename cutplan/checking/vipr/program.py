"""One profile's integer program: which sticks, which sizes, and the flow of patterns between them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from cutplan.checking.arrangement.protocol import StickKind
from cutplan.checking.kinds import asked_for, kind_of
from cutplan.checking.proof import common
from cutplan.checking.vipr.flow import ArcFlow, flow
from cutplan.plans.records import ProfilePlan


@dataclass(frozen=True)
class Program:
    """Sizes from the longest with their demand; kinds of stick with their room and how many a plan can draw at most.

    Rooms are in the flow's steps. The variables are z, how often each kind is drawn, and then f, how often each arc is
    used. `coin` is what all prices are whole multiples of (1 where nothing has a price).
    """

    profile: ProfilePlan
    sizes: tuple[Fraction, ...]
    demand: tuple[int, ...]
    kinds: tuple[StickKind, ...]
    rooms: tuple[int, ...]
    most: tuple[int, ...]
    coin: Fraction
    flow: ArcFlow

    @classmethod
    def of(cls, profile: ProfilePlan, step: Callable[[], None]) -> Program:
        """Raises TooLarge where the flow is."""
        asked = {length: number for (length, _), number in asked_for(profile).items()}
        sizes = sorted(asked, reverse=True)
        demand = [asked[size] for size in sizes]
        there = stock_of(profile, sum(demand))
        to_one = math.lcm(*((size + profile.kerf).denominator for size in sizes))
        rooms = [max(0, math.floor((kind[0] - sum(kind[4]) + profile.kerf) * to_one)) for kind in there]
        graph = flow([int((size + profile.kerf) * to_one) for size in sizes], demand, rooms, step)
        return cls(profile, tuple(sizes), tuple(demand), tuple(there), tuple(rooms), tuple(there.values()),
                   common([kind[1] for kind in there]) or Fraction(1), graph)

    @property
    def cost(self) -> Fraction:
        """What the plan costs."""
        return self.profile.tiers[0].value

    def prices(self) -> list[Fraction]:
        """What a stick of each kind costs."""
        return [kind[1] for kind in self.kinds]

    def coins(self) -> list[int]:
        """The same in coins."""
        return [int(price / self.coin) for price in self.prices()]

    def solution(self) -> list[tuple[int, int]]:
        """The plan: the variables that are not 0, and what they are."""
        found: Counter[int] = Counter()
        shapes = {(length, price, new, trims): k for k, (length, price, new, _, trims) in enumerate(self.kinds)}
        for stick in self.profile.sticks:
            alike, trims = (stick.length, stick.price, stick.source == "new"), (stick.head_trim, stick.tail_trim)
            # an offcut whose one sawn end may come last may lie the other way round, too
            turned = (self.profile.head_trim, Fraction(0))
            k = shapes[*alike, trims if (*alike, trims) in shapes else turned]
            cut = Counter(piece.length for piece in stick.cuts)
            found[k] += stick.count
            for arc in self.flow.path([cut[size] for size in self.sizes], self.rooms[k]):
                found[len(self.kinds) + arc] += stick.count
        return sorted(found.items())


def stock_of(profile: ProfilePlan, pieces: int) -> dict[StickKind, int]:
    """How many of each kind of stick a plan can draw: what is there, and each carries a piece at least."""
    there: dict[StickKind, int] = {}
    for entry in profile.certificate["stock"]:
        kind = kind_of(profile, entry, entry["tag"] is None)
        there[kind] = min(pieces, there.get(kind, 0) + (pieces if entry["qty"] is None else int(entry["qty"])))
    return there
