"""Which lengths to carry: the set of K that cuts a demand for least, over all sets of K candidates.

Sets are looked at in the order of what they could at best cost (best first). A set's LP is solved for its own sake and
for its duals, which bound all other sets too (bounds.py); what is still promising then is planned by the cutter. Where
the weeks do not lean on each other (one week, all together, or nothing is kept for the rack), the score that orders the
sets is a proven bound, and the search ends when no set left can cost less than the best: then that is proven. Where
offcuts are carried from week to week, what a set costs depends on what each week leaves, and no bound that holds for
every such plan is tight. There sets are ordered by a guess that follows the weeks, so many of them are planned, each
until its weeks have hardly a chance left to be better, and what is proven is the bound of all weeks as one heap:
carrying an offcut is cutting its stick over time, so no plan week by week can be below it.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import combinations
from math import comb

import numpy as np

from cutplan.buying.bounds import Bounds, Ints, Pool, Sums, next_sum
from cutplan.buying.offers import Market, Offer, selling
from cutplan.buying.weeks import left_of
from cutplan.cutting.crew import Crew
from cutplan.cutting.cutter import cheapest_plan, draft, quantities
from cutplan.cutting.effort import Effort
from cutplan.cutting.instance import Instance, Pattern, build
from cutplan.cutting.plan import Demand
from cutplan.problems import NoPlan
from cutplan.shop import Profile

MOST_SETS = 200_000  # that are held against each other
GUESSED = 20_000  # of them with a guess of their own
BATCH = 8  # sets planned at once; not the number of cores, so that the answer is the same on any machine
REFINED = 8  # sets that get LPs of their own before the next batch is planned, where only a guess orders them
LOOKS = 400  # sets planned for each number of lengths, where only a guess orders them
SPREAD = 5  # single lengths whose duals begin a pool


@dataclass(frozen=True)
class Question:
    """What is asked: a market, and the demand of each week (never empty). `weeks` is how long carrying is paid."""

    market: Market
    demand: tuple[tuple[Demand, ...], ...]
    weeks: int

    @property
    def carried(self) -> bool:
        """Whether a week's offcuts may serve the next."""
        profile = self.market.profile
        return len(self.demand) > 1 and profile.keep_from is not None and not profile.one_per_stick

    @cached_property
    def pieces(self) -> Fraction:
        """The length of all pieces."""
        return sum((one.length * one.qty for week in self.demand for one in week), Fraction(0))

    @cached_property
    def count(self) -> int:
        return sum(one.qty for week in self.demand for one in week)


@dataclass(frozen=True)
class Choice:
    """Lengths carried, shortest first, and the plan made with them: `drawn` is how many sticks of each.

    `money` is what the sticks cost, `carrying` what it costs to keep the lengths, all weeks together.
    """

    offers: tuple[Offer, ...]
    drawn: tuple[int, ...]
    money: Fraction
    carrying: Fraction
    pieces: Fraction

    @property
    def cost(self) -> Fraction:
        return self.money + self.carrying

    @property
    def length(self) -> Fraction:
        return sum((offer.length * n for offer, n in zip(self.offers, self.drawn, strict=True)), Fraction(0))

    @property
    def sticks(self) -> int:
        return sum(self.drawn)

    @property
    def waste_percent(self) -> Fraction:
        """Of what is drawn; what lies on the rack after the last week counts as waste."""
        return 100 * (self.length - self.pieces) / self.length


@dataclass(frozen=True)
class Best:
    """The best set of so many lengths that was found, and what is proven: no set and no plan costs less than `bound`.

    `sets` could cut the demand, `looked` of them were planned, or begun and left off as hopeless.
    """

    choice: Choice
    bound: Fraction
    sets: int
    looked: int

    @property
    def proven(self) -> bool:
        return self.bound >= self.choice.cost

    @property
    def gap_percent(self) -> Fraction:
        """By how much of its cost it could at most be beaten."""
        cost = self.choice.cost
        return 100 * max(Fraction(0), cost - self.bound) / cost if cost else Fraction(0)


@dataclass(frozen=True)
class Single:
    """One length alone: its plan, or, where there was no time for one, only what it costs at least.

    `eligible`: whether every piece can be cut from it.
    """

    offer: Offer
    eligible: bool
    choice: Choice | None = None
    bound: Fraction = Fraction(0)


@dataclass(frozen=True)
class Answer:
    """The best set for each number of lengths, every length alone, and today's lengths (or why these cannot do)."""

    question: Question
    best: tuple[Best, ...]
    singles: tuple[Single, ...]
    today: Choice | None
    today_lacks: str = ""


@dataclass(frozen=True)
class Task:
    """A set to be planned: the profile sold in it, and the demand of each week, of which `needs` is about the least.

    Weeks that lean on each other are left off as soon as the set has hardly a chance to stay `below` so much money.
    """

    profile: Profile
    demand: tuple[tuple[Demand, ...], ...]
    carried: bool
    needs: tuple[Fraction, ...] = ()
    below: Fraction | None = None

    def hopeless(self, weeks: int, rack: Profile, drawn: Counter[Fraction]) -> bool:
        """Whether what so many weeks bought, and the needs of the others less what is left for them, is too much.

        What is left is worth as much as it could cut of them if it wasted no more than new stock must.
        """
        if self.below is None:
            return False
        price = {entry.length: entry.price for entry in self.profile.stock if entry.tag is None}
        left = sum((entry.length * (entry.qty or 0) for entry in rack.stock if entry.tag is not None), Fraction(0))
        wanted = sum((one.length * one.qty for week in self.demand[weeks:] for one in week), Fraction(0))
        needs = sum(self.needs[weeks:], Fraction(0))
        bought = sum((price[length] * n for length, n in drawn.items()), Fraction(0))
        return bought + needs * max(Fraction(0), 1 - left / wanted) >= self.below


@dataclass(frozen=True)
class Planned:
    """What a plan draws of each length, and the sum of its weeks' proven bounds in money."""

    drawn: Counter[Fraction]
    bound: Fraction


def plan(task: Task, effort: Effort) -> Planned | None:
    """The weeks one after the other, None where hopeless; the second tier matters only for what is used again."""
    profile, drawn, bound, effort = task.profile, Counter[Fraction](), Fraction(0), effort.quietly()
    for k, demand in enumerate(task.demand):
        share = effort.share(len(task.demand) - k)
        if task.carried and k + 1 < len(task.demand):
            made = draft(profile, demand, share)
            for stick in made.sticks:
                if stick.source == "new":
                    drawn[stick.length] += stick.count
            bound += made.tiers[0].bound
            profile = left_of(profile, made, f"week {k + 1}")
            if task.hopeless(k + 1, profile, drawn):
                return None
        else:
            job = cheapest_plan(profile, demand, share)
            for pattern, n in job.first.plan.items():
                entry = job.instance.stock[pattern.stick][0]
                if entry.tag is None:
                    drawn[entry.length] += n
            bound += job.first.bound * job.instance.coin
    return Planned(drawn, bound)


def heap_of(weeks: Sequence[Sequence[Demand]]) -> tuple[Demand, ...]:
    return tuple(one for week in weeks for one in week)


class Search:
    """One question's pools, plans and best sets. Raises NoPlan where the candidates together cannot cut the demand."""

    def __init__(self, question: Question, effort: Effort, crew: Crew) -> None:
        self.question, self.effort, self.crew = question, effort, crew
        market, heap = question.market, quantities(heap_of(question.demand))
        build(selling(market.profile, market.offers), heap)  # only for what it refuses
        shortest = min(length for length, *_ in heap)
        self.offers = [offer for offer in market.every() if market.profile.longest_piece(offer.stock) >= shortest]
        self.kind = {offer: s for s, offer in enumerate(self.offers)}
        whole = selling(market.profile, self.offers)
        self.heap = Pool(build(whole, heap))
        self.weeks = [self.heap] if len(question.demand) == 1 else [
            Pool(build(whole, quantities(demand))) for demand in question.demand]
        self.coin = self.heap.instance.coin
        self.costs = [stick.cost for stick in self.heap.instance.sticks]
        self.fits = fitting(self.heap.instance)
        self.done: dict[tuple[int, ...], Choice] = {}
        self.proven: dict[tuple[int, ...], int] = {}  # coins, from the cutter

    @property
    def pools(self) -> list[Pool]:
        """Those whose bounds, added up, hold for every plan."""
        return [self.heap] if self.question.carried else self.weeks

    def begin(self) -> None:
        """Duals of all lengths together and of some alone, from which most sets get a good bound."""
        able = [s for s in range(len(self.offers)) if self.fits[:, s].all()]
        some = sorted({able[round(k * (len(able) - 1) / max(1, SPREAD - 1))] for k in range(SPREAD)}) if able else []
        for number, pool in enumerate(dict.fromkeys([self.heap, *self.weeks])):
            self.tell(f"bounds, {number + 1} of {len(self.weeks) + (self.heap not in self.weeks)}")
            few = self.question.carried and pool is self.heap  # a large LP, for a bound that is not tight anyway
            for kinds in [range(len(self.offers)), *([s] for s in some[:: SPREAD - 1 if few else 1])]:
                if not self.effort.spent():
                    pool.solve(list(kinds), self.effort)

    def task(self, kinds: Sequence[int]) -> Task:
        offers = [self.offers[s] for s in kinds]
        return Task(selling(self.question.market.profile, offers), self.question.demand, self.question.carried)

    def plan(self, tasks: dict[tuple[int, ...], Task], effort: Effort) -> None:
        """Plans sets side by side; `done` has the best plan so far of each that was not hopeless."""
        self.crew.effort = effort
        found = self.crew.each(plan, list(tasks.values()), lambda _: 1, lambda _: 2)
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
        self.effort.tell(f"{self.question.market.profile.name}: {text}")


def fitting(instance: Instance) -> np.ndarray:
    """Which pieces fit which lengths: a row for each different answer, a column for each length."""
    kinds = range(len(instance.sticks))
    rows = {tuple(instance.fits(Pattern(s, ((i, 1),))) for s in kinds) for i in range(len(instance.sizes))}
    return np.array(sorted(rows), dtype=bool)


class Field:
    """All sets of K candidates that can cut the demand, with their bounds and their scores, in coins."""

    def __init__(self, search: Search, many: int) -> None:
        self.search = search
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
        tried = [alone[:many], *([*fewer, s] for s in alone[:BATCH] if s not in fewer)]
        found = (places.get(tuple(sorted(kinds))) for kinds in tried)
        return list(dict.fromkeys(i for i in found if i is not None))[:BATCH] if many > 1 else []

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
        found = max(int(self.least[i]), sum(next_sum(costs, need) for need in needs))
        self.least[i] = found
        return found

    def guess(self, i: int, costs: Sequence[int], needs: Sequence[int]) -> int:
        """The weeks in turn: each buys the next sum of prices, and what it has over, if it is long enough, helps on."""
        if not any(costs):
            return 0
        search = self.search
        per = min(cost / float(search.offers[s].length) for cost, s in zip(costs, self.kinds(i), strict=True))
        keep = float(search.question.market.profile.keep_from or 0) * per
        coarse = max(1, max(needs) // 20_000)
        sums = Sums([max(1, round(cost / coarse)) for cost in costs], max(needs) // coarse + 1)
        total = over = 0.0
        for need in needs:
            wanted = max(0.0, need - over)
            bought = coarse * sums.next(round(wanted / coarse))
            total += bought
            left = over + bought - need
            over = left if left >= keep else 0.0
        return round(total)

    def refine(self, i: int, effort: Effort) -> None:
        """The set's own LPs."""
        self.refined.add(i)
        for pool in self.search.weeks:
            if not effort.spent():
                pool.solve(self.kinds(i), effort)

    def tighten(self, i: int, effort: Effort) -> None:
        """As `refine`, for the bound that is claimed."""
        for pool in self.search.pools:
            if not effort.spent():
                pool.solve(self.kinds(i), effort)

    def run(self, best: Choice | None, effort: Effort, every: bool = False) -> Choice | None:
        """The best set; `best` is one to begin with. With `every` all are planned, whatever they can still cost."""
        carried = self.search.question.carried
        known: Ints = np.sum([bounds.coins() for bounds in self.weeks], axis=0)
        first = np.argsort(known, kind="stable")[:GUESSED].tolist()
        if carried and (seeds := self.seeds()):
            best = self.plan(seeds, best, effort)
        queue = [(self.score(i) if carried else int(known[i]), i) for i in first if self.kinds(i) not in
                 self.search.done or not carried]
        heapq.heapify(queue)
        while queue and not effort.spent() and not (carried and not every and self.looked >= LOOKS):
            batch: list[int] = []
            aside: list[tuple[int, int]] = []  # for a later batch
            refined = len(self.refined)
            while queue and len(batch) < BATCH and not effort.spent():
                score, i = heapq.heappop(queue)
                limit = None if best is None or every else round(best.money / self.search.coin)
                if limit is not None and (self.proven(i) if carried else score) >= limit:
                    if carried:
                        continue
                    queue = []
                    break
                if carried and not every and i not in self.refined and len(self.refined) >= refined + REFINED:
                    aside.append((score, i))
                elif (now := self.score(i)) > score:
                    heapq.heappush(queue, (now, i))
                elif i not in self.refined and not every:
                    self.refine(i, effort)
                    heapq.heappush(queue, (max(score, self.score(i)), i))
                else:
                    batch.append(i)
            for entry in aside:
                heapq.heappush(queue, entry)
            best = self.plan(batch, best, effort, every)
        return self.plan([first[0]], None, effort) if best is None else best

    def proven(self, i: int) -> int:
        return max(int(self.least[i]), sum(bounds.at(i) for bounds in self.bounds))

    def plan(self, batch: Sequence[int], best: Choice | None, effort: Effort, every: bool = False) -> Choice | None:
        """Plans some sets; the best of them and of what there was. With `every` also those that cannot be better."""
        few = len(self.sets) <= LOOKS  # then all of them are planned, and to the end
        below = None if best is None or every or few else best.money
        new = {self.kinds(i): self.task(i, below) for i in batch if self.kinds(i) not in self.search.done}
        if new:  # weeks that lean on each other are finished once begun: half a plan says nothing of its set
            self.search.plan(new, self.search.effort if self.search.question.carried else effort)
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

    def task(self, i: int, below: Fraction | None) -> Task:
        """A set to be planned, if weeks lean on each other only as long as it may stay below so much money."""
        task = self.search.task(self.kinds(i))
        if not self.search.question.carried:
            return task
        needs = tuple(bounds.at(i) * self.search.coin for bounds in self.weeks)
        return replace(task, needs=needs, below=below)

    def proven_least(self) -> int:
        """No plan from any of the sets costs less, in coins."""
        return int(self.lower().min())


def choose(question: Question, most: int, effort: Effort) -> Answer:
    """The best sets of 1 to `most` lengths, each length alone and today's; fewer where they are not needed.

    Raises NoPlan where a piece fits none of the candidates, or no set of `most` of them fits all pieces.
    """
    with Crew(effort, BATCH) as crew:
        search = Search(question, effort, crew)
        if search.can(today := search.kinds(question.market.today)):
            search.plan({today: search.task(today)}, effort.share(4))
        search.begin()
        ones = Field(search, 1)
        found: dict[int, tuple[Field, Choice]] = {}
        for many in range(1, min(most, ones.candidates) + 1):
            field = ones if many == 1 else Field(search, many)
            if len(field.sets):
                begin = min([*([widened(search, found[many - 1][1])] if many - 1 in found else []), *field.planned()],
                            key=lambda choice: choice.money, default=None)
                share = effort.share(3) if many == 1 < most else effort.share(most - many + 1)
                made = field.run(begin, share, every=many == 1)
                found |= {many: (field, made)} if made else {}
        if not found:
            raise NoPlan(f"{question.market.profile.name}: no {most} of these lengths can cut every piece together")
        best: list[Best] = []
        for field, choice in found.values():
            if best and best[-1].choice.money < choice.money:
                choice = widened(search, best[-1].choice)
            best.append(settled(search, field, choice))
        return Answer(question, tuple(best), singles(search, ones), *stay(search))


def stay(search: Search) -> tuple[Choice | None, str]:
    """The plan with today's lengths, or why there is none. Lengths too short for any piece are carried too."""
    question, market = search.question, search.question.market
    try:
        build(selling(market.profile, market.today), quantities(heap_of(question.demand)))
    except NoPlan as nothing:
        return None, str(nothing)
    made = search.done[search.kinds(market.today)]
    drawn = dict(zip(made.offers, made.drawn, strict=True))
    return Choice(market.today, tuple(drawn.get(offer, 0) for offer in market.today), made.money,
                  market.carrying * len(market.today) * question.weeks, made.pieces), ""


def widened(search: Search, choice: Choice) -> Choice:
    """The same plan with one more length carried, which it does not draw: what more lengths cost at most."""
    market = search.question.market
    other = max(offer for offer in market.offers if offer in search.kind and offer not in choice.offers)
    drawn = {**dict(zip(choice.offers, choice.drawn, strict=True)), other: 0}
    offers = tuple(sorted(drawn))
    return Choice(offers, tuple(drawn[offer] for offer in offers), choice.money,
                  market.carrying * len(offers) * search.question.weeks, choice.pieces)


def settled(search: Search, field: Field, choice: Choice) -> Best:
    carrying = choice.carrying
    return Best(choice, field.proven_least() * search.coin + carrying, len(field.sets), field.looked)


def singles(search: Search, field: Field) -> tuple[Single, ...]:
    """Every candidate alone."""
    question, found = search.question, []
    lower = {int(kinds[0]): int(bound) for kinds, bound in zip(field.sets, field.lower(), strict=True)}
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
