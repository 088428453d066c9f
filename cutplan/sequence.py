"""In which order set-ups are cut, so that few gates are half cut at once.

A gate is open from the first stick that gives one of its pieces to the last: its pieces lie about and wait. The order
of set-ups with the fewest open at once is the minimisation of open stacks problem; it is searched as the order in
which the gates are finished. To finish gate c all set-ups with a piece for it are cut, which opens all its neighbours,
the gates it shares a set-up with. With S the gates finished before,

    open(c, S) = |N[S + c] - S|,   N[S] the gates of S and their neighbours,

and the aim is the order with the least greatest open (Chu and Stuckey, CP 2009, LNCS 5732, 242-257). For each k from a
lower bound on, a depth-first search that remembers which S lead nowhere says whether k is enough.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace

from cutplan.cutting.plan import Plan, ProfilePlan, Stick

STATES = 20_000  # sets of finished gates looked at for one k, before the best order so far is taken


@dataclass(frozen=True)
class Order:
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
    return max((sum(first[gate] <= k <= last[gate] for gate in first) for k in range(len(setups))), default=0)


def fewest_open(setups: Sequence[Collection[Hashable]]) -> Order:
    """The order of the set-ups with the fewest gates open at once; the one given where it is as good."""
    given = most_open(setups)
    names = list(dict.fromkeys(gate for gates in setups for gate in gates))
    bit = {gate: 1 << g for g, gate in enumerate(names)}
    masks = [sum(bit[gate] for gate in set(gates)) for gates in setups]
    near = [bit[gate] for gate in names]
    for g in range(len(names)):
        for mask in masks:
            if mask >> g & 1:
                near[g] |= mask
    least = max((mask.bit_count() for mask in masks), default=0)
    best, best_open = tuple(range(len(setups))), given
    quick = by_finish(masks, greedy(near))
    if (found := most_open([setups[k] for k in quick])) < best_open:
        best, best_open = quick, found
    while best_open > least:
        search = Search(near, best_open - 1)
        finish = search.run()
        if finish is None:
            return Order(best, best_open, search.whole)
        best = by_finish(masks, finish)
        best_open = most_open([setups[k] for k in best])
    return Order(best, best_open, True)


def greedy(near: Sequence[int]) -> list[int]:
    """An order of finishing: always the gate that opens the fewest more."""
    finished, opened = 0, 0
    order: list[int] = []
    while len(order) < len(near):
        g = min((g for g in range(len(near)) if not finished >> g & 1),
                key=lambda g: ((opened | near[g]).bit_count(), g))
        finished |= 1 << g
        opened |= near[g]
        order.append(g)
    return order


def by_finish(masks: Sequence[int], finish: Sequence[int]) -> tuple[int, ...]:
    """The set-ups in the order in which the gates need them to be finished, else in their own."""
    place = {g: k for k, g in enumerate(finish)}
    return tuple(sorted(range(len(masks)), key=lambda k: (
        min((place[g] for g in range(len(finish)) if masks[k] >> g & 1), default=-1), k)))


def sequenced(plan: Plan) -> Plan:
    """The plan with each profile's set-ups in an order that leaves few gates half cut; like sticks stay together."""
    return replace(plan, profiles=tuple(map(in_sequence, plan.profiles)))


def in_sequence(profile: ProfilePlan) -> ProfilePlan:
    setups = list(by_setup(profile).values())
    order = fewest_open([gates(profile, sticks) for sticks in setups]).order
    return replace(profile, sticks=tuple(stick for k in order for stick in setups[k]))


def by_setup(profile: ProfilePlan) -> dict[object, list[Stick]]:
    """The sticks of each set-up of the saw, in the order of the plan but those that share all their marks together."""
    setups: dict[object, dict[object, list[Stick]]] = {}
    for stick in profile.sticks:
        setups.setdefault(stick.setup, {}).setdefault(stick.places, []).append(stick)
    return {setup: [stick for alike in groups.values() for stick in alike] for setup, groups in setups.items()}


def gates(profile: ProfilePlan, sticks: Sequence[Stick]) -> list[str]:
    """The gates and bays that these sticks give pieces for; a piece for none that is named is for itself."""
    named = {entry.mark: entry.for_ or entry.mark for entry in profile.demand}
    return list(dict.fromkeys(named[cut.mark] for stick in sticks for cut in stick.cuts))


class Search:
    """Whether the gates can be finished with at most k open at once. `whole`: the answer no is certain."""

    def __init__(self, near: Sequence[int], k: int) -> None:
        self.near, self.k = near, k
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
            if len(self.dead) > STATES:
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
        for g, near in enumerate(self.near):
            if finished >> g & 1:
                continue
            if not near & ~opened:
                return iter([g])
            if ((opened | near) & ~finished).bit_count() <= self.k:
                choices.append(((near & ~opened).bit_count(), g))
        return iter([g for _, g in sorted(choices)])
