"""Many versions of a job through the cutter, side by side on the machine's cores.

Of each version only the least cost is looked for, not the order of the cuts, and with a bounded number of steps: a bid
wants hundreds of good plans, not one that is proven. The steps are counted where they are taken (Budget.count), not
timed, so that a bid gives the same figures on any machine. A job that can turn out in one way only is cut as `cut` cuts
it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.bidding.allowance import Figures, Outcome, add
from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.needs import NO_NEED, Need, NeedParams, length_of, need_of
from cutplan.bidding.versions import DrawnVersions, draw, orders_of
from cutplan.cutting import (
    Asked,
    Instance,
    Job,
    Solution,
    asked_of,
    cheapest_plan,
    cut_pieces,
    refuse_misplaced,
    set_ups,
    uses_least,
)
from cutplan.ends import lying
from cutplan.orders import Order
from cutplan.plans.records import Demand, ProfilePlan, new_drawn
from cutplan.plans.sawtime import lift_minutes
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import FOREVER, Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile, SawRates, Shop
from cutplan.takeoff import Takeoff, take_off

Asking = tuple[tuple[Asked, int], ...]


@dataclass(frozen=True)
class BidParams:
    """How much is done for one version of one profile.

    work:  steps times lengths of pieces that its search may take
    many:  lengths of pieces beyond which no more than `first` steps are taken: sticks by the bound are then as good
    steps: a search of fewer lengths needs some; None: each is cut to its end
    few:   versions, where they are all there are, that are each cut to the end of the search
    sizes: of gates and bays that are taken off in one go
    """

    work: int = 4_000
    many: int = 40
    first: int = 2
    steps: int | None = 100
    few: int = 10
    sizes: int = 200


@dataclass(frozen=True)
class VersionTask:
    """One profile of one version, the `turn`-th of so many; its search may take so many steps (None: to its end).

    `saw` and `stack` are the shop's.
    """

    profile: Profile
    asking: Asking
    credit: Fraction
    turn: int
    of: int
    steps: int | None
    saw: SawRates | None = None
    stack: int = 1

    def load(self) -> int:
        return -self.turn  # the workers begin with the greatest load: the versions in their order


@dataclass(frozen=True)
class CutVersions:
    """A bid whose versions were cut: figures by profile and of the whole job.

    `asked` versions were wanted and `done` cut; `whole`: those done are all there are. `askings` are what each version
    asks of each profile, `hardware` what its hardware costs, `panels` its gates and bays; `unpriced` is what of the
    hardware has no price.
    """

    profiles: tuple[Figures, ...]
    together: Figures
    asked: int
    done: int
    whole: bool
    askings: tuple[Mapping[str, Asking], ...] = ()
    hardware: tuple[Fraction, ...] = ()
    panels: tuple[int, ...] = ()
    unpriced: tuple[str, ...] = ()

    @property
    def cut_short(self) -> bool:
        return self.done < self.asked


def cut_versions(lines: Sequence[BidLine], shop: Shop, versions: int, seed: int, budget: Budget | None = None
                 ) -> CutVersions:
    """Draws and cuts the versions with this budget (None: all). What is done by its end is given.

    Raises NoPlan where a version cannot be cut, OutOfTime where the budget ended before any was, InputProblems as
    cutting does.
    """
    return cut_drawn(lines, draw(lines, versions, seed), shop, budget or Budget())


def cut_drawn(lines: Sequence[BidLine], drawn: DrawnVersions, shop: Shop, budget: Budget,
              params: BidParams = BidParams()) -> CutVersions:
    """Cuts versions that are drawn already; see `cut_versions`."""
    if len(drawn.choices) == 1:
        return cut_one(lines, drawn, shop, budget)
    to_the_end = drawn.whole and len(drawn.choices) <= params.few
    jobs = taken_off(lines, drawn, shop, budget, params.sizes)
    tasks = tasks_of(jobs, len(drawn.choices), shop, replace(params, steps=None) if to_the_end else params)
    with Workers(budget, len(tasks)) as workers:
        outcomes = workers.each(measure, list(tasks.values()), VersionTask.load, lambda _: 1)
        found = dict(zip(tasks, outcomes, strict=True))
    refuse_none([job.asking for job in jobs], found)
    cut = [(job, complete(job.asking, found)) for job in jobs]
    done = [(job, outcomes) for job, outcomes in cut if outcomes is not None]
    if not done:
        raise OutOfTime("no version of the job was cut in the time there was; give it more with --limit")
    weights = tuple(weight for weight, (_, outcomes) in zip(drawn.weights, cut, strict=False) if outcomes is not None)
    return gathered(done, len(drawn.choices), drawn.whole and len(done) == len(drawn.choices), shop, weights)


def cut_one(lines: Sequence[BidLine], drawn: DrawnVersions, shop: Shop, budget: Budget) -> CutVersions:
    """A job that is known: the plan that `cut` makes, to the last figure."""
    job = taken_off(lines, drawn, shop, budget, BidParams.sizes)[0]
    plan = cut_pieces(take_off(orders_of(lines, drawn, drawn.choices[0], shop.tape), shop).pieces, shop, budget)
    return gathered([(job, {one.profile: of_plan(one, shop.offcut_credit) for one in plan.profiles})], 1, True, shop)


# ---- takeoff ----


@dataclass(frozen=True)
class TakenJob:
    """What one version asks of each profile, its hardware (so many of one thing, at that price; None: not said), and
    how many gates and bays it is."""

    asking: dict[str, Asking]
    fittings: dict[tuple[str, Fraction | None], int]
    panels: int

    @property
    def hardware(self) -> Fraction:
        return sum((n * price for (_, price), n in self.fittings.items() if price is not None), Fraction(0))


@dataclass(frozen=True)
class SizesTask:
    """Gates and bays of some sizes, one of each."""

    orders: tuple[Order, ...]
    shop: Shop


# the pieces by profile, the hardware with its price, the gates or bays
TakenSize = tuple[tuple[tuple[str, Asked, int], ...], tuple[tuple[str, Fraction | None, int], ...], int]


def taken_off(lines: Sequence[BidLine], drawn: DrawnVersions, shop: Shop, budget: Budget, sizes: int
              ) -> list[TakenJob]:
    """Each version's pieces, by what is asked of a profile; those of a size are taken off once for all."""
    versions = [orders_of(lines, drawn, choice, shop.tape) for choice in drawn.choices]
    first = {order.size: replace(order, qty=1) for orders in versions for order in orders}
    each = list(first.values())
    tasks = [SizesTask(tuple(each[k:k + sizes]), shop) for k in range(0, len(each), sizes)]
    budget.tell(f"{len(each)} sizes of gates and bays to be taken off")
    if len(tasks) == 1:
        found = [take_sizes(tasks[0], budget)]
    else:
        with Workers(budget.until(FOREVER), len(tasks)) as workers:  # nothing can be said without it
            found = workers.each(take_sizes, tasks, lambda _: 0, lambda _: 1)
    taken = dict(zip(first, (size for part in found for size in part), strict=True))
    return [job_of(orders, taken) for orders in versions]


def take_sizes(task: SizesTask, budget: Budget) -> list[TakenSize]:
    return [take_size(order, task.shop) for order in task.orders]


def take_size(order: Order, shop: Shop) -> TakenSize:
    taken = take_off([order], shop)
    refuse_misplaced(taken.pieces, shop)
    return (tuple((piece.profile, asked_of(piece, shop.profiles[piece.profile]), piece.qty) for piece in taken.pieces),
            tuple((one.name, one.price, card.qty * one.count) for card in taken.cards for one in card.hardware),
            panels_of(taken))


def panels_of(taken: Takeoff) -> int:
    """The gates and bays of a takeoff; of a run its bays."""
    return sum(card.qty * (len({part.leaf for part in card.of("top rail")}) if card.kind == "run" else 1)
               for card in taken.cards)


def job_of(orders: Sequence[Order], taken: Mapping[tuple[object, ...], TakenSize]) -> TakenJob:
    counts: dict[str, dict[Asked, int]] = {}
    fittings: dict[tuple[str, Fraction | None], int] = {}
    panels = 0
    for order in orders:
        pieces, things, own = taken[order.size]
        panels += own * order.qty
        for profile, key, qty in pieces:
            mine = counts.setdefault(profile, {})
            mine[key] = mine.get(key, 0) + qty * order.qty
        for name, price, count in things:
            fittings[name, price] = fittings.get((name, price), 0) + count * order.qty
    return TakenJob({name: tuple(sorted(asked.items())) for name, asked in counts.items()}, fittings, panels)


# ---- cutting ----


def tasks_of(jobs: Sequence[TakenJob], versions: int, shop: Shop, params: BidParams
             ) -> dict[tuple[str, Asking], VersionTask]:
    """What is to be cut, each thing once however many versions ask for it."""
    tasks: dict[tuple[str, Asking], VersionTask] = {}
    for turn, job in enumerate(jobs, start=1):
        for name, asking in job.asking.items():
            tasks.setdefault((name, asking), VersionTask(shop.profiles[name], asking, shop.offcut_credit, turn,
                                                         versions, steps_for(len(asking), params), shop.saw,
                                                         shop.stack))
    return tasks


def needs_from(profile: Profile, askings: Sequence[Asking], budget: Budget, params: BidParams = BidParams()
               ) -> list[Need | None]:
    """What each version that asks so would need, were this all the stock of the profile; None where it cannot be cut
    from it, or the budget ends before."""
    first = [asking for asking in dict.fromkeys(askings) if asking]
    tasks = [VersionTask(profile, asking, Fraction(0), turn, len(first), steps_for(len(asking), params))
             for turn, asking in enumerate(first, start=1)]
    with Workers(budget, len(tasks)) as workers:
        outcomes = dict(zip(first, workers.each(measure, tasks, VersionTask.load, lambda _: 1), strict=True))
    found = {asking: one.need for asking, one in outcomes.items() if isinstance(one, Outcome)}
    return [found.get(asking) if asking else NO_NEED for asking in askings]


def steps_for(lengths: int, params: BidParams) -> int | None:
    if params.steps is None:
        return None
    return params.first if lengths > params.many else max(params.steps, params.work // lengths)


def measure(task: VersionTask, budget: Budget) -> Outcome | NoPlan | None:
    """One profile of one version; None where the search was stopped before it was through."""
    if budget.spent():
        return None
    budget.tell(f"cutting version {task.turn} of {task.of}")
    demand = [Demand("", length, qty, each=each, **lying(lies)) for (length, lies, each), qty in task.asking]
    try:
        job = cheapest_in_steps(task.profile, demand, budget, task.steps)
    except NoPlan as nothing:
        return None if budget.spent() else nothing
    proven = job.first.proven
    free = not all(stick.cost for stick in job.instance.sticks)
    plan = frugal(job, budget, task.steps) if free or task.steps is None else job.first.plan
    if budget.spent() and not proven:
        return None
    minutes = Fraction(0) if task.saw is None else patterns_minutes(job.instance, plan, task.saw, task.stack)
    found = replace(of_patterns(job.instance, plan, task.credit, proven), minutes=minutes)
    return of_need(found, need_of(job))


def of_need(found: Outcome, need: Need) -> Outcome:
    """What a version takes by its need: where that rests on the bound, sticks and cost are the bound's, and what is
    kept is less by what is drawn less."""
    if not need.cut_short:
        return replace(found, needs=(need,))
    drawn = length_of(dict(need.numbers))
    kept = max(Fraction(0), found.kept - max(Fraction(0), found.drawn - drawn))
    credit = found.credit * kept / found.kept if found.kept else Fraction(0)
    return replace(found, drawn=max(drawn, found.net), kept=kept, credit=credit, cost=need.cost,
                   sticks=sum(n for _, n in need.numbers), needs=(need,))


def cheapest_in_steps(profile: Profile, demand: Sequence[Demand], budget: Budget, steps: int | None) -> Job:
    """A good plan after few steps; where none is found with the stock there is, one looked for to the end.

    Raises NoPlan.
    """
    try:
        return cheapest_plan(profile, demand, counted(budget, steps))
    except NoPlan:
        return cheapest_plan(profile, demand, counted(budget, None))


def counted(budget: Budget, steps: int | None) -> Budget:
    """For a search of so many steps, which says nothing of itself: a bid has hundreds of them."""
    return budget.quietly() if steps is None else budget.quietly().within(steps)


def frugal(job: Job, budget: Budget, steps: int | None) -> Solution:
    """Of the plans as cheap, one that uses up little: offcuts cost nothing, and are drawn wantonly else."""
    return uses_least(job, counted(budget, steps)).plan


def of_patterns(instance: Instance, plan: Solution, credit: Fraction, proven: bool) -> Outcome:
    """What a plan of the search comes to, before it is laid out."""
    net = drawn = kept = cost = credited = Fraction(0)
    sticks = from_rack = 0
    for pattern, n in plan.items():
        kind, stock = instance.sticks[pattern.stick], instance.stock[pattern.stick][0]
        fill = instance.fill(pattern)
        offcut = kind.length - kind.used(fill)  # 0 where it is not kept
        net += n * sum((a * instance.lengths[i] for i, a in pattern.counts), Fraction(0))
        drawn += n * stock.length
        kept += n * offcut * instance.unit
        cost += n * stock.price
        credited += n * offcut * instance.unit * stock.price / stock.length * credit
        sticks += n if stock.tag is None else 0
        from_rack += n if stock.tag is not None else 0
    return Outcome(net, drawn, kept, cost, credited, sticks, from_rack, proven=proven)


def patterns_minutes(instance: Instance, plan: Solution, rates: SawRates, stack: int) -> Fraction:
    """The minutes at the saw of a plan before it is laid out, its set-ups as they come: each stick squared once."""
    lifts = [(-(-n // stack), 1 + sum(a for _, a in pattern.counts)) for pattern, n in plan.items()]
    return (set_ups(plan, instance) * rates.setup_minutes
            + sum((lifted * lift_minutes(rates, cuts) for lifted, cuts in lifts), Fraction(0)))


def of_plan(plan: ProfilePlan, credit: Fraction) -> Outcome:
    """What a finished plan comes to."""
    kept = sum((s.count * s.offcut * s.price / s.length for s in plan.sticks if s.keep), Fraction(0))
    totals, drawn = plan.totals, new_drawn(plan)
    new = drawn.total()
    need = Need(tuple(sorted(drawn.items())), totals.cost, (), not plan.one_per_stick,
                small=sum(entry.qty for entry in plan.demand) <= NeedParams.few)
    return Outcome(totals.pieces, totals.drawn, totals.kept, totals.cost, kept * credit, new,
                   sum(stick.count for stick in plan.sticks) - new,
                   Fraction(0) if plan.saw is None else plan.saw.minutes, plan.tiers[0].closed, (need,))


def refuse_none(wanted: Sequence[Mapping[str, Asking]],
                found: Mapping[tuple[str, Asking], Outcome | NoPlan | None]) -> None:
    """Raises NoPlan where versions have none, with how many and the first reason of each profile."""
    lacking: dict[str, str] = {}
    versions = 0
    for version in wanted:
        none = [(name, one) for name, asking in version.items()
                if isinstance(one := found[name, asking], NoPlan)]
        versions += bool(none)
        for name, one in none:
            lacking.setdefault(name, str(one))
    if lacking:
        raise NoPlan("\n".join([
            f"{versions} of {len(wanted)} versions of this job cannot be cut; narrow the ranges or add stock:",
            *lacking.values()]))


def complete(version: Mapping[str, Asking],
             found: Mapping[tuple[str, Asking], Outcome | NoPlan | None]) -> dict[str, Outcome] | None:
    """The outcomes of a version by profile; None where one of them is missing."""
    outcomes = {name: one for name, asking in version.items() if isinstance(one := found[name, asking], Outcome)}
    return outcomes if len(outcomes) == len(version) else None


def gathered(done: Sequence[tuple[TakenJob, Mapping[str, Outcome]]], asked: int, whole: bool, shop: Shop,
             weights: tuple[int, ...] = ()) -> CutVersions:
    """Figures of each profile in the shop's order, and together."""
    zero = Fraction(0)
    nothing = Outcome(zero, zero, zero, zero, zero, 0, 0)
    outcomes = [version for _, version in done]
    names = [name for name in shop.profiles if any(name in version for version in outcomes)]
    profiles = tuple(Figures(name, tuple(version.get(name, nothing) for version in outcomes), whole, weights)
                     for name in names)
    together = Figures("together", tuple(add([nothing, *version.values()]) for version in outcomes), whole, weights)
    unpriced = dict.fromkeys(name for job, _ in done for name, price in job.fittings if price is None)
    return CutVersions(profiles, together, asked, len(done), whole, tuple(job.asking for job, _ in done),
                       tuple(job.hardware for job, _ in done), tuple(job.panels for job, _ in done), tuple(unpriced))
