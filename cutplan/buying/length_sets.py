"""All sets of so many lengths, bounded without a plan, and the search among them."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from math import comb

import numpy as np

from cutplan.buying.bounds import Bounds, Sums, next_sum
from cutplan.buying.offers import Offer, selling
from cutplan.buying.question import Choice, Question, Single
from cutplan.buying.set_plan import Trial, heap_of, plan
from cutplan.cutting import DualPool, Instance, instance_of
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.sums import Ints

MOST_SETS = 200_000  # that are held against each other

@dataclass(frozen=True)
class SetSearchParams:
    """The search among sets of lengths.

    guessed: sets with a guess of their own
    batch:   sets planned at once; not the number of cores, so that the answer is the same on any machine
    refined: sets that get LPs of their own before the next batch is planned, where only a guess orders them
    looks:   sets planned for each number of lengths, where only a guess orders them
    spread:  single lengths whose duals begin a pool
    sums:    coins up to which a bound is rounded up to a sum of prices
    coarse:  steps in which a guess reckons what a week needs
    """

    guessed: int = 20_000
    batch: int = 8
    refined: int = 8
    looks: int = 400
    spread: int = 5
    sums: int = 4_000_000
    coarse: int = 20_000


class LengthSearch:
    """One question's pools, plans and best sets. Raises NoPlan where the candidates together cannot cut the demand."""

    def __init__(self, question: Question, budget: Budget, workers: Workers,
                 params: SetSearchParams = SetSearchParams()) -> None:
        self.question, self.budget, self.workers, self.params = question, budget, workers, params
        market, heap = question.market, heap_of(question.demand)
        instance_of(selling(market.profile, market.offers), heap)  # only for what it refuses
        shortest = min(one.length for one in heap)
        self.offers = [offer for offer in market.every() if market.profile.longest_piece(offer.stock) >= shortest]
        self.kind = {offer: s for s, offer in enumerate(self.offers)}
        whole = selling(market.profile, self.offers)
        self.heap = DualPool(instance_of(whole, heap))
        self.weeks = [self.heap] if len(question.demand) == 1 else [
            DualPool(instance_of(whole, demand)) for demand in question.demand]
        self.coin = self.heap.instance.coin
        self.costs = [stick.cost for stick in self.heap.instance.sticks]
        self.fits = fitting(self.heap.instance)
        self.done: dict[tuple[int, ...], Choice] = {}
        self.proven: dict[tuple[int, ...], int] = {}  # coins, from the cutter

    @property
    def pools(self) -> list[DualPool]:
        """Those whose bounds, added up, hold for every plan."""
        return [self.heap] if self.question.carried else self.weeks

    def begin(self) -> None:
        """Duals of all lengths together and of some alone, from which most sets get a good bound."""
        able = [s for s in range(len(self.offers)) if self.fits[:, s].all()]
        spread = self.params.spread
        some = sorted({able[round(k * (len(able) - 1) / max(1, spread - 1))] for k in range(spread)}) if able else []
        for number, pool in enumerate(dict.fromkeys([self.heap, *self.weeks])):
            self.tell(f"bounds, {number + 1} of {len(self.weeks) + (self.heap not in self.weeks)}")
            few = self.question.carried and pool is self.heap  # a large LP, for a bound that is not tight anyway
            for kinds in [range(len(self.offers)), *([s] for s in some[:: spread - 1 if few else 1])]:
                if not self.budget.spent():
                    pool.solve(list(kinds), self.budget)

    def task(self, kinds: Sequence[int]) -> Trial:
        offers = [self.offers[s] for s in kinds]
        return Trial(selling(self.question.market.profile, offers), self.question.demand, self.question.carried)

    def plan(self, tasks: dict[tuple[int, ...], Trial], budget: Budget) -> None:
        """Plans sets side by side; `done` has the best plan so far of each that was not hopeless."""
        self.workers.budget = budget
        found = self.workers.each(plan, list(tasks.values()), lambda _: 1, lambda _: 2)
        for kinds, planned in zip(tasks, found, strict=True):
            if planned is not None:
                self.done[kinds] = self.choice(kinds, planned.drawn)
                if not self.question.carried:
                    self.proven[kinds] = int(planned.bound / self.coin)

    def choice(self, kinds: Sequence[int], drawn: Counter[Fraction]) -> Choice:
        offers = tuple(sorted(self.offers[s] for s in kinds))
        counts = tuple(drawn[offer.length] for offer in offers)
        money = sum((offer.price * n for offer, n in zip(offers, counts, strict=True)), Fraction(0))
        carrying = self.question.market.carrying * len(offers) * self.question.weeks
        return Choice(offers, counts, money, carrying, self.question.pieces)

    def kinds(self, offers: Sequence[Offer]) -> tuple[int, ...]:
        """Those that any piece can be cut from, by their places among all lengths."""
        return tuple(sorted(self.kind[offer] for offer in offers if offer in self.kind))

    def can(self, kinds: Sequence[int]) -> bool:
        """Whether these lengths can cut every piece."""
        return bool(self.fits[:, list(kinds)].any(axis=1).all())

    def tell(self, text: str) -> None:
        self.budget.tell(f"{self.question.market.profile.name}: {text}")


def fitting(instance: Instance) -> np.ndarray:
    """Which pieces fit which lengths: a row for each different answer, a column for each length."""
    kinds = range(len(instance.sticks))
    rows = {tuple(instance.gives(s, i) for s in kinds) for i in range(len(instance.sizes))}
    return np.array(sorted(rows), dtype=bool)


class LengthSets:
    """All sets of K candidates that can cut the demand, with their bounds and their scores, in coins."""

    def __init__(self, search: LengthSearch, many: int) -> None:
        self.search, self.params = search, search.params
        own = sorted(search.kind[offer] for offer in search.question.market.offers if offer in search.kind)
        self.candidates = len(own)
        sets = np.array(list(combinations(own, many)), dtype=np.int64).reshape(-1, many)
        able = np.ones(len(sets), dtype=bool)
        for row in search.fits:
            able &= row[sets].any(axis=1)
        self.sets: Ints = sets[able]
        self.bounds = [Bounds(pool, self.sets) for pool in search.pools]
        self.weeks = [Bounds(pool, self.sets) for pool in search.weeks] if search.question.carried else self.bounds
        self.least = np.zeros(len(self.sets), dtype=np.int64)  # what else is proven of a set
        self.refined: set[int] = set()
        self.looked = 0

    def kinds(self, i: int) -> tuple[int, ...]:
        return tuple(int(s) for s in self.sets[i])

    def seeds(self) -> list[int]:
        """Sets that people would try: the lengths that are best alone, and the best so far with one of these added."""
        many, done = self.sets.shape[1], self.search.done
        places = {self.kinds(i): i for i in range(len(self.sets))}
        alone = sorted((kinds[0] for kinds in done if len(kinds) == 1), key=lambda s: done[s,].money)
        fewer = min((kinds for kinds in done if len(kinds) == many - 1), key=lambda k: done[k].money, default=())
        tried = [alone[:many], *([*fewer, s] for s in alone[:self.params.batch] if s not in fewer)]
        found = (places.get(tuple(sorted(kinds))) for kinds in tried)
        return list(dict.fromkeys(i for i in found if i is not None))[:self.params.batch] if many > 1 else []

    def planned(self) -> list[Choice]:
        """Plans there are already: today's, where these are so many of the candidates."""
        offers = set(self.search.question.market.offers)
        return [choice for kinds, choice in self.search.done.items()
                if len(kinds) == self.sets.shape[1] and offers.issuperset(choice.offers)]

    def lower(self) -> Ints:
        """The proven bound of every set."""
        found: Ints = np.maximum(self.least, np.sum([bounds.coins() for bounds in self.bounds], axis=0))
        return found

    def score(self, i: int) -> int:
        """What orders the sets: a bound rounded up to sums of prices, or a guess where offcuts are carried."""
        costs = [self.search.costs[s] for s in self.kinds(i)]
        needs = [bounds.at(i) for bounds in self.weeks]
        if self.search.question.carried:
            return self.guess(i, costs, needs)
        found = max(int(self.least[i]), sum(next_sum(costs, need, self.params.sums) for need in needs))
        self.least[i] = found
        return found

    def guess(self, i: int, costs: Sequence[int], needs: Sequence[int]) -> int:
        """The weeks in turn: each buys the next sum of prices, and what it has over, if it is long enough, helps on."""
        if not any(costs):
            return 0
        search = self.search
        per = min(cost / float(search.offers[s].length) for cost, s in zip(costs, self.kinds(i), strict=True))
        keep = float(search.question.market.profile.keep_from or 0) * per
        coarse = max(1, max(needs) // self.params.coarse)
        sums = Sums([max(1, round(cost / coarse)) for cost in costs], max(needs) // coarse + 1)
        total = over = 0.0
        for need in needs:
            wanted = max(0.0, need - over)
            bought = coarse * sums.next(round(wanted / coarse))
            total += bought
            left = over + bought - need
            over = left if left >= keep else 0.0
        return round(total)

    def refine(self, i: int, budget: Budget) -> None:
        """The set's own LPs."""
        self.refined.add(i)
        for pool in self.search.weeks:
            if not budget.spent():
                pool.solve(self.kinds(i), budget)

    def tighten(self, i: int, budget: Budget) -> None:
        """As `refine`, for the bound that is claimed."""
        for pool in self.search.pools:
            if not budget.spent():
                pool.solve(self.kinds(i), budget)

    def run(self, best: Choice | None, budget: Budget, every: bool = False) -> Choice | None:
        """The best set; `best` is one to begin with. With `every` all are planned, whatever they can still cost."""
        carried = self.search.question.carried
        known: Ints = np.sum([bounds.coins() for bounds in self.weeks], axis=0)
        first = np.argsort(known, kind="stable")[:self.params.guessed].tolist()
        if carried and (seeds := self.seeds()):
            best = self.plan(seeds, best, budget)
        queue = [(self.score(i) if carried else int(known[i]), i) for i in first if self.kinds(i) not in
                 self.search.done or not carried]
        heapq.heapify(queue)
        while queue and not budget.spent() and not (carried and not every and self.looked >= self.params.looks):
            batch: list[int] = []
            aside: list[tuple[int, int]] = []  # for a later batch
            refined = len(self.refined) + self.params.refined
            while queue and len(batch) < self.params.batch and not budget.spent():
                score, i = heapq.heappop(queue)
                limit = None if best is None or every else round(best.money / self.search.coin)
                if limit is not None and (self.proven(i) if carried else score) >= limit:
                    if carried:
                        continue
                    queue = []
                    break
                if carried and not every and i not in self.refined and len(self.refined) >= refined:
                    aside.append((score, i))
                elif (now := self.score(i)) > score:
                    heapq.heappush(queue, (now, i))
                elif i not in self.refined and not every:
                    self.refine(i, budget)
                    heapq.heappush(queue, (max(score, self.score(i)), i))
                else:
                    batch.append(i)
            for entry in aside:
                heapq.heappush(queue, entry)
            best = self.plan(batch, best, budget, every)
        return self.plan([first[0]], None, budget) if best is None else best

    def proven(self, i: int) -> int:
        return max(int(self.least[i]), sum(bounds.at(i) for bounds in self.bounds))

    def plan(self, batch: Sequence[int], best: Choice | None, budget: Budget, every: bool = False) -> Choice | None:
        """Plans some sets; the best of them and of what there was. With `every` also those that cannot be better."""
        few = len(self.sets) <= self.params.looks  # then all of them are planned, and to the end
        below = None if best is None or every or few else best.money
        new = {self.kinds(i): self.task(i, below) for i in batch if self.kinds(i) not in self.search.done}
        if new:  # weeks that lean on each other are finished once begun: half a plan says nothing of its set
            self.search.plan(new, self.search.budget if self.search.question.carried else budget)
        for i in batch:
            kinds = self.kinds(i)
            self.looked += 1
            self.least[i] = max(int(self.least[i]), self.search.proven.get(kinds, 0))
            made = self.search.done.get(kinds)
            if made is not None and (best is None or made.money < best.money):
                best = made
        if best is not None:
            self.search.tell(f"{self.looked} of {len(self.sets)} sets of {self.sets.shape[1]} planned, "
                             f"best so far {float(best.cost):.2f}")
        return best

    def task(self, i: int, below: Fraction | None) -> Trial:
        """A set to be planned, if weeks lean on each other only as long as it may stay below so much money."""
        task = self.search.task(self.kinds(i))
        if not self.search.question.carried:
            return task
        needs = tuple(bounds.at(i) * self.search.coin for bounds in self.weeks)
        return replace(task, needs=needs, below=below)

    def proven_least(self) -> int:
        """No plan from any of the sets costs less, in coins."""
        return int(self.lower().min())


def singles(search: LengthSearch, sets: LengthSets) -> tuple[Single, ...]:
    """Every candidate alone."""
    question, found = search.question, []
    lower = {int(kinds[0]): int(bound) for kinds, bound in zip(sets.sets, sets.lower(), strict=True)}
    for offer in question.market.offers:
        kind = search.kind.get(offer)
        if kind is None or kind not in lower:
            found.append(Single(offer, False))
        else:
            bound = lower[kind] * search.coin + question.market.carrying * question.weeks
            found.append(Single(offer, True, search.done.get((kind,)), bound))
    return tuple(found)


def sets_of(candidates: int, many: int) -> int:
    """How many sets of so many candidates there are."""
    return comb(candidates, many)
