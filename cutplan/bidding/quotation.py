"""A price for a job, line by line, whose figures add up to the last cent.

Every amount is whole cents. What is for the whole job is shared out over its lines by exact weights, each first rounded
down, and the cents that are left go to the largest remainders (Hamilton's method; Balinski and Young, Fair
Representation, 1982). A line's price is the sum of its shares, so that rows and columns add up.

What is certain is priced as one job, and each line that may not come as a job of its own, from new sticks alone:
its price pays for these, whatever else comes, so that it may be added to the first in any choice of lines. A line that
may come in any number from 0 has a price for each number, of which one at most is added: what its first gate costs,
with a stick and freight of its own, says little of what the next one does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.choices import CERTAIN
from cutplan.bidding.cutting import CutVersions, cut_versions, panels_of
from cutplan.bidding.needs import StickNumbers, length_of
from cutplan.bidding.orders_for import OrderFor, orders_for
from cutplan.bidding.purchases import Wanted, cheapest_purchase, list_prices
from cutplan.orders import Order
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, new_drawn
from cutplan.plans.sawtime import MINUTES
from cutplan.plans.shares import Share, shares
from cutplan.running.budget import Budget
from cutplan.shop import QuoteRates, Shop
from cutplan.takeoff import take_off

COSTS = ("material", "hardware", "saw", "assembly")  # in this order, before markup and tax
AMOUNTS = (*COSTS, "markup", "tax")
FEW = 3  # numbers that a line may come in up to which each has its price; of more the least and the largest have one


@dataclass(frozen=True)
class QuotedLine:
    """What one line of the job is, and what falls on it of each cost; `net` is the length of its pieces by profile.

    `panels` are its gates or bays, `run` the length of railing, its openings together (0: gates). `least` and `most`
    are what its number may turn out to be, where `qty` is the middle of these (0: it is settled).
    """

    mark: str
    kind: str
    system: str
    qty: int
    panels: int
    run: Fraction
    weights: Mapping[str, Fraction] = field(default_factory=dict)
    least: int = 0
    most: int = 0


@dataclass(frozen=True)
class PricedLine:
    """A line with its cents of each of `AMOUNTS`."""

    line: QuotedLine
    cents: Mapping[str, int]

    @property
    def before_tax(self) -> int:
        return self.total - self.cents["tax"]

    @property
    def total(self) -> int:
        return sum(self.cents.values())


@dataclass(frozen=True)
class Option:
    """A line that may not come, priced as a job of its own; `several`: at one of the numbers that it may come in."""

    line: BidLine
    priced: PricedLine
    several: bool = False


@dataclass(frozen=True)
class Quotation:
    """The lines of a job; `percent`: in how many jobs of a hundred its costs are enough (None: it is measured).

    `waste` is the share of the material's length that is no piece, `credit` what was taken off for kept offcuts.
    `options` are in none of these figures. `cut_short`: not all versions were cut that were asked for.
    """

    lines: tuple[PricedLine, ...]
    percent: Fraction | None
    waste: Fraction
    credit: Fraction
    options: tuple[Option, ...] = ()
    cut_short: bool = False

    def sum(self, name: str) -> int:
        return sum(one.cents[name] for one in self.lines)

    @property
    def total(self) -> int:
        return sum(one.total for one in self.lines)


def shared(cents: int, weights: Sequence[Fraction]) -> list[int]:
    """So many cents shared out by weight; equally where all weigh nothing. Ties go to the first."""
    whole = sum(weights, Fraction(0))
    if not whole:
        weights, whole = [Fraction(1)] * len(weights), Fraction(len(weights))
    exact = [cents * weight / whole for weight in weights]
    found = [math.floor(one) for one in exact]
    for k in sorted(range(len(exact)), key=lambda k: (found[k] - exact[k], k))[:cents - sum(found)]:
        found[k] += 1
    return found


def in_cents(amount: Fraction) -> int:
    """To the nearest cent, halves up."""
    return math.floor(100 * amount + Fraction(1, 2))


def priced(lines: Sequence[QuotedLine], costs: Mapping[str, Fraction], rates: QuoteRates) -> list[PricedLine]:
    """The lines with what the job costs, and markup and tax on it, shared out."""
    cents = {name: shared(in_cents(costs[name]), [line.weights[name] for line in lines]) for name in COSTS}
    for name, share in (("markup", rates.markup), ("tax", rates.tax)):
        before = [sum(column[k] for column in cents.values()) for k in range(len(lines))]
        cents[name] = shared(in_cents(share * sum(before) / 100), [Fraction(one) for one in before])
    return [PricedLine(line, {name: cents[name][k] for name in AMOUNTS}) for k, line in enumerate(lines)]


# ---- of a bid ----


@dataclass(frozen=True)
class QuoteBasis:
    """How many versions stand behind a quotation, by which seed, and in how many of 100 it is to be enough."""

    versions: int
    seed: int
    percent: Fraction


def quoted_job(lines: Sequence[BidLine], shop: Shop, rates: QuoteRates, asked: QuoteBasis, budget: Budget) -> Quotation:
    """What is certain as one job, and each line that may not come as a job of its own. Raises as `cut_versions` does.
    """
    certain = [line for line in lines if line.coming == CERTAIN]
    open_ = [(line, qty, len(numbers) > 1) for line in lines if line.coming < CERTAIN
             for numbers in [numbers_of(line)] for qty in numbers]
    options, cut_short, unracked = [], False, without_rack(shop)  # an offcut serves but once
    for k, (line, qty, several) in enumerate(open_):  # these are small, and leave their time to the rest
        own = budget.share(1 + len(open_) - k).beginning(f"{line.mark} by itself: ")
        alone = quoted_alone([replace(line, qty=qty, chance=CERTAIN, group="")], unracked, rates, asked, own)
        options.append(Option(line, alone.lines[0], several))
        cut_short |= alone.cut_short
    made = Quotation((), asked.percent, Fraction(0), Fraction(0))
    if certain:
        made = quoted_alone(certain, shop, rates, asked, budget)
    return replace(made, options=tuple(options), cut_short=made.cut_short or cut_short)


def numbers_of(line: BidLine) -> list[tuple[int, ...]]:
    """The numbers at which a line that may not come is priced: of one that may be none, each that it may be; else its
    range, as of any line."""
    if line.qty[0]:
        return [line.qty]
    some = [n for n in line.qty if n]
    return [(n,) for n in (some if len(some) <= FEW else [some[0], some[-1]])]


def without_rack(shop: Shop) -> Shop:
    """The shop with its new sticks alone."""
    return replace(shop, profiles={name: replace(one, stock=tuple(entry for entry in one.stock if entry.tag is None))
                                   for name, one in shop.profiles.items()})


def quoted_alone(lines: Sequence[BidLine], shop: Shop, rates: QuoteRates, asked: QuoteBasis, budget: Budget
                 ) -> Quotation:
    """Lines that are certain, as a job of their own."""
    cut = cut_versions(lines, shop, asked.versions, asked.seed, budget)
    order, = orders_for(cut, shop, [asked.percent], budget).together
    return replace(quoted_bid(lines, cut, order, shop, rates), cut_short=cut.cut_short)


def quoted_bid(lines: Sequence[BidLine], cut: CutVersions, order: OrderFor, shop: Shop, rates: QuoteRates) -> Quotation:
    """At the chance of an order for the whole job. A line's shares are by its pieces at the middle of its ranges."""
    taken = [middle(line, shop) for line in lines]
    net = {name: sum((own.get(name, Fraction(0)) for _, own, _ in taken), Fraction(0)) for name in order.goods_of}
    goods = order.goods or Fraction(1)
    weighed = []
    for line, own, hardware in taken:
        material = sum((amount * own.get(name, Fraction(0)) / net[name] for name, amount in order.goods_of.items()
                        if net[name]), Fraction(0))
        weighed.append(with_weights(line, material / goods, hardware, sum(own.values(), Fraction(0))))
    credit = cut.together.mean(lambda one: one.credit)
    costs = {"material": order.goods + order.freight - credit, "hardware": order.hardware, "saw": order.sawing,
             "assembly": assembly(order.panels, rates)}
    return Quotation(tuple(priced(weighed, costs, rates)), order.percent, order.of_bought, credit)


def with_weights(line: QuotedLine, material: Fraction, hardware: Fraction, saw: Fraction) -> QuotedLine:
    return replace(line, weights={
        "material": material, "hardware": hardware, "saw": saw, "assembly": Fraction(line.panels)})


def assembly(panels: int, rates: QuoteRates) -> Fraction:
    return panels * rates.assembly_minutes * rates.hourly / MINUTES


def middle(line: BidLine, shop: Shop) -> tuple[QuotedLine, dict[str, Fraction], Fraction]:
    """A line at the middle of its ranges, its number rounded up; its net length by profile, and its hardware."""
    qty = line.qty[len(line.qty) // 2]
    opening, height = (values[len(values) // 2] for values in (line.opening, line.height))
    taken, net, hardware = of_order(line.order(line.mark, qty, opening, height, shop.tape), qty, opening * qty, shop)
    if len(line.qty) > 1:
        taken = replace(taken, least=line.qty[0], most=line.qty[-1])
    return taken, net, hardware


def of_order(order: Order, qty: int, run: Fraction, shop: Shop) -> tuple[QuotedLine, dict[str, Fraction], Fraction]:
    taken = take_off([order], shop)
    net: dict[str, Fraction] = {}
    for piece in taken.pieces:
        net[piece.profile] = net.get(piece.profile, Fraction(0)) + piece.qty * piece.length
    hardware = sum((card.qty * one.count * one.price for card in taken.cards for one in card.hardware
                    if one.price is not None), Fraction(0))
    return QuotedLine(order.mark, order.kind, order.system, qty, panels_of(taken),
                      Fraction(0) if order.kind == "gate" else run), net, hardware


# ---- of a plan ----


def quoted_plan(orders: Sequence[Order], plan: Plan, shop: Shop, rates: QuoteRates) -> Quotation:
    """Of a measured job: what the sticks that its plan draws cost each line, bought as the shop file has them now; what
    is for none of the lines is shared out over all. Raises NoPlan where they cannot be had."""
    drawn = drawn_new(plan)
    bought = cheapest_purchase([Wanted(shop.profiles[name], None, tuple(sorted(own.items())), exchanged=False)
                                for name, own in drawn.items()], shop.suppliers)
    found = shares(at_list_prices(plan, shop))
    paid = goods_of_shares(found, bought.goods)
    lines, hardware_of = [], []
    for order in orders:
        line, _, hardware = of_order(order, order.qty, order.opening * order.qty, shop)
        own = [k for k, one in enumerate(found) if one.for_ == order.mark]
        material = sum((paid[k] - shop.offcut_credit * found[k].kept_worth for k in own), Fraction(0))
        lines.append(with_weights(line, material, hardware, sum((found[k].minutes for k in own), Fraction(0))))
        hardware_of.append(hardware)
    net, waste, saw, kept = (sum((getattr(one, name) for one in found), Fraction(0))
                             for name in ("net", "waste", "sawing", "kept_worth"))
    credit = shop.offcut_credit * kept
    costs = {"material": bought.money - credit, "hardware": sum(hardware_of, Fraction(0)), "saw": saw,
             "assembly": assembly(sum(line.panels for line in lines), rates)}
    waste += all_lengths(bought.sticks) - all_lengths(drawn)  # what a bundle has beyond what is drawn
    share = 100 * waste / (net + waste) if net + waste else Fraction(0)
    return Quotation(tuple(priced(lines, costs, rates)), None, share, credit)


def drawn_new(plan: Plan) -> dict[str, StickNumbers]:
    """The new sticks that a plan draws, by profile and length; those that lay there uncut were bought as well."""
    return {profile.profile: new_drawn(profile) for profile in plan.profiles}


def all_lengths(sticks: Mapping[str, StickNumbers]) -> Fraction:
    return sum(map(length_of, sticks.values()), Fraction(0))


def at_list_prices(plan: Plan, shop: Shop) -> Plan:
    """The plan with each new stick at the lowest price that the shop file has for one of it."""
    def of_profile(one: ProfilePlan) -> ProfilePlan:
        prices = list_prices(shop.profiles[one.profile])
        return replace(one, sticks=tuple(replace(stick, price=prices[stick.length]) if stick.source == "new" else stick
                                         for stick in one.sticks))

    return replace(plan, profiles=tuple(map(of_profile, plan.profiles)))


def goods_of_shares(found: Sequence[Share], goods: Mapping[str, Fraction]) -> list[Fraction]:
    """What each share pays of its profile's goods: by the prices of its sticks, by their lengths where these are 0."""
    weights = [one.cost for one in found]
    for name in {one.profile for one in found}:
        own = [k for k, one in enumerate(found) if one.profile == name]
        if not any(weights[k] for k in own):
            for k in own:
                weights[k] = found[k].net + found[k].waste
    whole: dict[str, Fraction] = {}
    for one, weight in zip(found, weights, strict=True):
        whole[one.profile] = whole.get(one.profile, Fraction(0)) + weight
    return [goods.get(one.profile, Fraction(0)) * weight / whole[one.profile]
            for one, weight in zip(found, weights, strict=True)]
