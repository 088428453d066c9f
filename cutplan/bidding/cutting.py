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
from cutplan.orders import Order, Piece
from cutplan.plans.records import Demand, ProfilePlan
from cutplan.plans.sawtime import lift_minutes
from cutplan.problems import NoPlan, OutOfTime
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers
from cutplan.shop import Profile, SawRates, Shop
from cutplan.takeoff import take_off

Asking = tuple[tuple[Asked, int], ...]


@dataclass(frozen=True)
class BidParams:
    """How much is done for one version of one profile.

    work:  steps times lengths of pieces that its search may take
    steps: a search needs some, however many lengths there are; None: each is cut to its end
    few:   versions, where they are all there are, that are each cut to the end of the search
    """

    work: int = 15_000
    steps: int | None = 150
    few: int = 10


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

    `asked` versions were wanted and `done` cut; `whole`: those done are all there are.
    """

    profiles: tuple[Figures, ...]
    together: Figures
    asked: int
    done: int
    whole: bool

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
    tasks, wanted = tasks_of(lines, drawn, shop, budget, replace(params, steps=None) if to_the_end else params)
    with Workers(budget, len(tasks)) as workers:
        outcomes = workers.each(measure, list(tasks.values()), VersionTask.load, lambda _: 1)
        found = dict(zip(tasks, outcomes, strict=True))
    refuse_none(wanted, found)
    done = [outcomes for outcomes in (complete(version, found) for version in wanted) if outcomes]
    if not done:
        raise OutOfTime("no version of the job was cut in the time there was; give it more with --limit")
    return gathered(done, len(drawn.choices), drawn.whole and len(done) == len(drawn.choices), shop)


def cut_one(lines: Sequence[BidLine], drawn: DrawnVersions, shop: Shop, budget: Budget) -> CutVersions:
    """A job that is known: the plan that `cut` makes, to the last figure."""
    pieces = take_off(orders_of(lines, drawn, drawn.choices[0], shop.tape), shop).pieces
    plan = cut_pieces(pieces, shop, budget)
    return gathered([{one.profile: of_plan(one, shop.offcut_credit) for one in plan.profiles}], 1, True, shop)


def tasks_of(lines: Sequence[BidLine], drawn: DrawnVersions, shop: Shop, budget: Budget, params: BidParams
             ) -> tuple[dict[tuple[str, Asking], VersionTask], list[dict[str, Asking]]]:
    """What is to be cut, each thing once however many versions ask for it, and what each version asks for."""
    tasks: dict[tuple[str, Asking], VersionTask] = {}
    wanted: list[dict[str, Asking]] = []
    seen: dict[tuple[object, ...], tuple[Piece, ...]] = {}
    for turn, choice in enumerate(drawn.choices, start=1):
        if budget.spent() and wanted:
            break
        version = asked_by(orders_of(lines, drawn, choice, shop.tape), shop, seen)
        for name, asking in version.items():
            task = VersionTask(shop.profiles[name], asking, shop.offcut_credit, turn, len(drawn.choices),
                               None if params.steps is None else max(params.steps, params.work // len(asking)),
                               shop.saw, shop.stack)
            tasks.setdefault((name, asking), task)
        wanted.append(version)
        budget.tell(f"version {turn} of {len(drawn.choices)} taken off")
    return tasks, wanted


def asked_by(orders: Sequence[Order], shop: Shop, seen: dict[tuple[object, ...], tuple[Piece, ...]]
             ) -> dict[str, Asking]:
    """What one version asks of each profile; `seen` keeps what gates and bays of a size come to."""
    counts: dict[str, dict[Asked, int]] = {}
    for order in orders:
        size = order.size
        if size not in seen:
            seen[size] = take_off([replace(order, qty=1)], shop).pieces
            refuse_misplaced(seen[size], shop)
        for piece in seen[size]:
            key = asked_of(piece, shop.profiles[piece.profile])
            mine = counts.setdefault(piece.profile, {})
            mine[key] = mine.get(key, 0) + piece.qty * order.qty
    return {name: tuple(sorted(asked.items())) for name, asked in counts.items()}


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
    return replace(of_patterns(job.instance, plan, task.credit, proven), minutes=minutes)


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
    new = sum(stick.count for stick in plan.sticks if stick.source == "new")
    totals = plan.totals
    return Outcome(totals.pieces, totals.drawn, totals.kept, totals.cost, kept * credit, new,
                   sum(stick.count for stick in plan.sticks) - new,
                   Fraction(0) if plan.saw is None else plan.saw.minutes, plan.tiers[0].closed)


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
             found: Mapping[tuple[str, Asking], Outcome | NoPlan | None]) -> dict[str, Outcome]:
    """The outcomes of a version by profile; none where one of them is missing."""
    outcomes = {name: one for name, asking in version.items() if isinstance(one := found[name, asking], Outcome)}
    return outcomes if len(outcomes) == len(version) else {}


def gathered(done: Sequence[Mapping[str, Outcome]], asked: int, whole: bool, shop: Shop) -> CutVersions:
    """Figures of each profile in the shop's order, and together."""
    zero = Fraction(0)
    nothing = Outcome(zero, zero, zero, zero, zero, 0, 0)
    names = [name for name in shop.profiles if any(name in version for version in done)]
    profiles = tuple(Figures(name, tuple(version.get(name, nothing) for version in done), whole) for name in names)
    together = Figures("together", tuple(add(list(version.values())) for version in done), whole)
    return CutVersions(profiles, together, asked, len(done), whole)

