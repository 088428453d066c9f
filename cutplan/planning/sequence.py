"""In which order set-ups are cut, so that few gates are half cut at once.

A gate is open from the first stick that gives one of its pieces to the last: its pieces lie about and wait. The order
of set-ups with the fewest open at once is the minimisation of open stacks problem; it is searched as the order in
which the gates are finished. To finish gate c all set-ups with a piece for it are cut, which opens all its neighbours,
the gates it shares a set-up with. With S the gates finished before,

    open(c, S) = |N[S + c] - S|,   N[S] the gates of S and their neighbours,

and the aim is the order with the least greatest open (Chu and Stuckey, CP 2009, LNCS 5732, 242-257). For each k from a
lower bound on, a depth-first search that remembers which S lead nowhere says whether k is enough. Its work is counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, Stick
from cutplan.running.budget import Budget


@dataclass(frozen=True)
class SequenceParams:
    """The search for few open stacks (here: gates that are begun and not finished).

    looks: at a gate that could be finished next, before the best order so far is taken
    gates: that are put in order at most: a table of their neighbours has so many squared places
    """

    looks: int = 2 * 10**6
    gates: int = 3_000


@dataclass(frozen=True)
class SetupOrder:
    """An order of set-ups, by their numbers, the most gates open at once in it, and whether none has fewer."""

    order: tuple[int, ...]
    open: int
    proven: bool


def most_open(setups: Sequence[Collection[Hashable]]) -> int:
    """The most gates open at once when the set-ups are cut in this order."""
    first: dict[Hashable, int] = {}
    last: dict[Hashable, int] = {}
    for k, gates in enumerate(setups):
        for gate in gates:
            first.setdefault(gate, k)
            last[gate] = k
    begin, end = Counter(first.values()), Counter(last.values())
    return max(accumulate(begin[k] - end[k - 1] for k in range(len(setups))), default=0)


def fewest_open(setups: Sequence[Collection[Hashable]], budget: Budget | None = None,
                params: SequenceParams = SequenceParams()) -> SetupOrder:
    """The order of the set-ups with the fewest gates open at once; the one given where it is as good.

    The search ends with the budget, or after so many looks.
    """
    given = most_open(setups)
    least = max((len(set(gates)) for gates in setups), default=0)
    best, best_open = tuple(range(len(setups))), given
    names = {gate: g for g, gate in enumerate(dict.fromkeys(gate for gates in setups for gate in gates))}
    if given == least or len(names) > params.gates or (budget is not None and budget.spent()):
        return SetupOrder(best, given, given == least)
    numbers = [[names[gate] for gate in set(gates)] for gates in setups]
    near = neighbours(numbers, len(names))
    quick = by_finish(numbers, greedy(near))
    if (found := most_open([setups[k] for k in quick])) < best_open:
        best, best_open = quick, found
    left = params.looks
    while best_open > least:
        search = StackSearch(near, best_open - 1, left, budget)
        finish = search.run()
        if finish is None:
            return SetupOrder(best, best_open, search.whole)
        best, left = by_finish(numbers, finish), search.looks
        best_open = most_open([setups[k] for k in best])
    return SetupOrder(best, best_open, True)


def neighbours(setups: Sequence[Sequence[int]], gates: int) -> list[int]:
    """For each gate the bits of those it shares a set-up with, itself included."""
    near = [1 << g for g in range(gates)]
    for setup in setups:
        mask = sum(1 << g for g in setup)
        for g in setup:
            near[g] |= mask
    return near


def greedy(near: Sequence[int]) -> list[int]:
    """An order of finishing: always the gate that opens the fewest more."""
    import numpy as np

    width = (len(near) + 7) // 8
    bits = np.array([np.frombuffer(mask.to_bytes(width, "little"), dtype=np.uint8) for mask in near])
    shares = np.unpackbits(bits, axis=1, count=len(near), bitorder="little")
    opens = shares.sum(axis=1, dtype=np.int64)  # how many more each gate opens
    closed = np.ones(len(near), dtype=bool)
    order: list[int] = []
    for _ in near:
        g = int(opens.argmin())
        opened = np.flatnonzero(shares[g] & closed)
        opens -= shares[:, opened].sum(axis=1, dtype=np.int64)
        closed[opened] = False
        opens[g] = 2 * len(near)  # finished
        order.append(g)
    return order


def by_finish(setups: Sequence[Sequence[int]], finish: Sequence[int]) -> tuple[int, ...]:
    """The set-ups in the order in which the gates need them to be finished, else in their own."""
    place = {g: k for k, g in enumerate(finish)}
    return tuple(sorted(range(len(setups)), key=lambda k: (min((place[g] for g in setups[k]), default=-1), k)))


def sequenced(plan: Plan, budget: Budget | None = None) -> Plan:
    """The plan with each profile's set-ups in an order that leaves few gates half cut; like sticks stay together."""
    return replace(plan, profiles=tuple(in_sequence(profile, budget) for profile in plan.profiles))


def in_sequence(profile: ProfilePlan, budget: Budget | None) -> ProfilePlan:
    setups = list(by_setup(profile).values())
    order = fewest_open(gates_of(profile, setups), budget).order
    return replace(profile, sticks=tuple(stick for k in order for stick in setups[k]))


def by_setup(profile: ProfilePlan) -> dict[object, list[Stick]]:
    """The sticks of each set-up of the saw, in the order of the plan but those that share all their marks together."""
    setups: dict[object, dict[object, list[Stick]]] = {}
    for stick in profile.sticks:
        setups.setdefault(stick.setup, {}).setdefault(stick.places, []).append(stick)
    return {setup: [stick for alike in groups.values() for stick in alike] for setup, groups in setups.items()}


def gates_of(profile: ProfilePlan, setups: Iterable[Sequence[Stick]]) -> list[list[str]]:
    """The gates and bays that each set-up gives pieces for; a piece for none that is named is for itself."""
    named = {entry.mark: entry.for_ or entry.mark for entry in profile.demand}
    return [list(dict.fromkeys(named[cut.mark] for stick in sticks for cut in stick.cuts)) for sticks in setups]


class StackSearch:
    """Whether the gates can be finished with at most k open at once, in so many looks.

    `whole`: the answer no is certain.
    """

    def __init__(self, near: Sequence[int], k: int, looks: int, budget: Budget | None) -> None:
        self.near, self.k, self.looks, self.budget = near, k, looks, budget
        self.dead: set[int] = set()
        self.whole = True

    def run(self) -> list[int] | None:
        """An order of finishing, or None."""
        every = (1 << len(self.near)) - 1
        path: list[int] = []
        stack = [self._next(0, 0)]
        finished, opened = [0], [0]
        while stack:
            if finished[-1] == every:
                return path
            if (g := next(stack[-1], None)) is None:
                stack.pop()
                self.dead.add(finished.pop())
                opened.pop()
                if path:
                    path.pop()
                continue
            now = finished[-1] | 1 << g
            if now in self.dead:
                continue
            if self.looks < 0 or (self.budget is not None and self.budget.spent()):
                self.whole = False
                return None
            path.append(g)
            finished.append(now)
            opened.append(opened[-1] | self.near[g])
            stack.append(self._next(now, opened[-1]))
        return None

    def _next(self, finished: int, opened: int) -> Iterator[int]:
        """The gates that may be finished next, those first that open least; only one where it opens nothing."""
        choices = []
        self.looks -= len(self.near)
        for g, near in enumerate(self.near):
            if finished >> g & 1:
                continue
            if not near & ~opened:
                return iter([g])
            if ((opened | near) & ~finished).bit_count() <= self.k:
                choices.append(((near & ~opened).bit_count(), g))
        return iter([g for _, g in sorted(choices)])
