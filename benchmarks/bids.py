"""Whether a bid's allowance holds, and how long a bid takes; by hand, see benchmarks/README.md.

Orders: of each of some bids the order that is to be enough in 80 jobs of 100. In how many fresh ones, drawn by plain
chance and cut to the end, it is: each profile's pieces are cut from its sticks; the money for later is as much as the
job's own cheapest order costs. Whole sticks make whole steps: jobs that need exactly so much stand on the step, and
"less" counts those that need less, and 80 lies between the two by right.

Coverage: for each of some bids, as many jobs as versions are drawn by plain chance, apart from the bid's own versions,
and cut to the end of the search. The allowance "enough in 80 of 100" should be enough in about 80 of 100 of them.
"""

from __future__ import annotations

import argparse
import random
import resource
import time
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import pandas as pd

from cutplan.bidding.allowance import Outcome
from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.cutting import Asking, BidParams, cut_drawn, cut_versions
from cutplan.bidding.enough import can_be_cut
from cutplan.bidding.needs import StickNumbers, at_least
from cutplan.bidding.orders_for import orders_for
from cutplan.bidding.purchases import list_prices
from cutplan.bidding.versions import DrawnVersions, unknowns
from cutplan.ends import lying
from cutplan.plans.records import Demand
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Shop, load_shop

CHANCE = Fraction(80)
TO_THE_END = BidParams(work=0, many=10**6, steps=1_500)  # nearly all are proven before
FIGURES = {"% of net": lambda one: one.of_net, "% of bought": lambda one: one.of_bought,
           "sticks": lambda one: one.sticks, "money": lambda one: one.cost}


def invented(lines: int, seed: int, shop: Shop) -> tuple[BidLine, ...]:
    """A bid on the five profiles of the demo shop's lantern system: gates and bays of ranges and tolerances."""
    chance = random.Random(seed)
    found = []
    for k in range(lines):
        gate = chance.random() < 0.4
        middle = Fraction(chance.randrange(34 * 4, 52 * 4) if gate else chance.randrange(50 * 4, 88 * 4), 4)
        spread = Fraction(chance.choice((1, 2, 4)))
        steps = int(2 * spread / shop.tape)
        most = chance.randrange(1, 5)
        qty = tuple(range(most, most + chance.choice((1, 1, 1, 2)) ))
        found.append(BidLine(
            f"L{k + 1}", "gate" if gate else "bay", "lantern", qty,
            tuple(middle - spread + j * shop.tape for j in range(steps + 1)), (Fraction(chance.choice((36, 42))),),
            line=k + 2))
    return tuple(found)


def by_chance(lines: tuple[BidLine, ...], jobs: int, seed: int) -> DrawnVersions:
    """Jobs that the bid knows nothing of."""
    chance = random.Random(f"jobs {seed}")
    open_ = unknowns(lines)
    return DrawnVersions(open_, tuple(tuple(chance.randrange(one.values) for one in open_) for _ in range(jobs)), False)


def coverage(shop: Shop, bids: int, lines: int, versions: int, jobs: int) -> pd.DataFrame:
    """In how many of 100 jobs the allowance was enough: a row for each profile, a column for each figure."""
    rows = []
    for seed in range(bids):
        job = invented(lines, seed, shop)
        bid = cut_versions(job, shop, versions, seed)
        real = cut_drawn(job, by_chance(job, jobs, seed), shop, Budget(None), BidParams(steps=None))
        for said, was in zip((*bid.profiles, bid.together), (*real.profiles, real.together), strict=True):
            row: dict[str, object] = {"bid": seed, "profile": said.name}
            for name, figure in FIGURES.items():
                row[name] = float(was.chance(figure, said.enough(figure, CHANCE).value))
                row[f"{name}, over"] = 100 * share_of(said.outcomes, figure, said.enough(figure, CHANCE).value)
            rows.append(row)
        print(f"bid {seed}", flush=True)
    return pd.DataFrame(rows)


def orders(shop: Shop, bids: int, lines: int, versions: int, jobs: int) -> pd.DataFrame:
    """In how many of 100 jobs the order was enough: a row for each profile and bid."""
    rows = []
    for seed in range(bids):
        job = invented(lines, seed, shop)
        said = cut_versions(job, shop, versions, seed)
        found = orders_for(said, shop, [CHANCE], Budget())
        real = cut_drawn(job, by_chance(job, jobs, seed), shop, Budget(None), TO_THE_END)
        whole = [True] * jobs
        for (order,), was in zip(found.profiles, real.profiles, strict=True):
            profile, sticks = shop.profiles[was.name], order.sticks[was.name]
            fits = [fits_on(profile, real.askings[j].get(was.name, ()), one, sticks)
                    for j, one in enumerate(was.outcomes)]
            rows.append({"bid": seed, "profile": was.name, "cut from": share(fits),
                         "length": share(one.drawn <= order.length for one in was.outcomes),
                         "less length": share(one.drawn < order.length for one in was.outcomes),
                         "money": share(one.cost <= order.later for one in was.outcomes),
                         "less": share(one.cost < order.later for one in was.outcomes)})
            own = found.together[0].sticks.get(was.name, {})
            whole = [yes and fits_on(profile, real.askings[j].get(was.name, ()), one, own)
                     for j, (yes, one) in enumerate(zip(whole, was.outcomes, strict=True))]
        money = [one.cost + hardware for one, hardware in zip(real.together.outcomes, real.hardware, strict=True)]
        later = found.together[0].later
        rows.append({"bid": seed, "profile": "together", "cut from": share(whole),
                     "length": share(one.drawn <= found.together[0].length for one in real.together.outcomes),
                     "less length": share(one.drawn < found.together[0].length for one in real.together.outcomes),
                     "money": share(one <= later for one in money), "less": share(one < later for one in money)})
        plans = [one for figures in real.profiles for one in figures.outcomes]
        print(f"bid {seed}: {sum(one.proven for one in plans)} of {len(plans)} plans proven the cheapest", flush=True)
    return pd.DataFrame(rows)


def share(flags: Iterable[bool]) -> float:
    found = list(flags)
    return 100 * sum(found) / len(found)


def fits_on(profile: Profile, asking: Asking, was: Outcome, sticks: StickNumbers) -> bool:
    """Whether a job that was cut to the end can be cut from an order."""
    need, price = was.need, list_prices(profile)
    if at_least(sticks, dict(need.numbers), not profile.one_per_stick):
        return True
    if profile.one_per_stick or sum(n * price[length] for length, n in sticks.items()) < need.cost:
        return False
    demand = [Demand("", length, qty, each=each, **lying(lies)) for (length, lies, each), qty in asking]
    return can_be_cut(profile, demand, sticks, Budget(), 2_000)


def share_of(outcomes: tuple[Outcome, ...], figure: object, value: Fraction) -> float:
    """The share of the bid's own versions that are at the value or below: over 80 where many are equal."""
    return sum(figure(one) <= value for one in outcomes) / len(outcomes)  # type: ignore[operator]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--what", choices=("speed", "coverage", "orders"), default="speed")
    parser.add_argument("--shop", default=str(Path(__file__).parent.parent / "data/demo/shop.toml"))
    parser.add_argument("--versions", type=int, default=200)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--lines", type=int, default=40)
    parser.add_argument("--bids", type=int, default=1)
    parser.add_argument("--out")
    wanted = parser.parse_args()
    shop = load_shop(wanted.shop)
    if wanted.what == "speed":
        job = invented(wanted.lines, 1, shop)
        begun = time.monotonic()
        cut = cut_versions(job, shop, wanted.versions, 1)
        orders_for(cut, shop, [Fraction(50), CHANCE, Fraction(95)], Budget())
        seconds = time.monotonic() - begun
        plans = [one for figures in cut.profiles for one in figures.outcomes]
        work = sum(resource.getrusage(who).ru_utime + resource.getrusage(who).ru_stime
                   for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        print(f"{wanted.lines} lines, {len(cut.profiles)} profiles, {cut.done} versions: {seconds:.1f} s, {work:.1f} s "
              f"of processor time, {sum(one.proven for one in plans)} of {len(plans)} plans proven the cheapest")
        return
    if wanted.what == "orders":
        found = orders(shop, wanted.bids, wanted.lines, wanted.versions, wanted.jobs)
        if wanted.out:
            found.to_csv(wanted.out, index=False)
        print(found.groupby("profile", sort=False).mean(numeric_only=True).drop(columns="bid").round(1).to_string())
        return
    found = coverage(shop, wanted.bids, wanted.lines, wanted.versions, wanted.jobs)
    if wanted.out:
        found.to_csv(wanted.out, index=False)
    print(found.groupby("profile", sort=False).mean(numeric_only=True).drop(columns="bid").round(1).to_string())
    print(found.groupby("profile", sort=False)[list(FIGURES)].agg(["min", "max"]).to_string())


if __name__ == "__main__":
    main()
