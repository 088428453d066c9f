"""A bid's allowance and the shares of a measured job, as text, CSV and JSON.

What is enough is rounded up, so that it stays enough; means are rounded to the nearest.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.bidding.allowance import (
    BOUGHT,
    NET,
    RULES,
    Enough,
    Figures,
    Outcome,
    Rule,
    of_net,
    rule_chance,
)
from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.curve import Curve
from cutplan.bidding.cutting import CutVersions
from cutplan.bidding.needs import StickNumbers
from cutplan.bidding.orders_for import OrderFor, OrdersFor
from cutplan.exactjson import written
from cutplan.lengths import exact_decimal, places
from cutplan.plans.sawtime import MINUTES
from cutplan.plans.shares import Share, by_owner, together
from cutplan.printable import plain
from cutplan.sheets.choices import CHOICE_ANSWERS, CHOICE_HEADINGS, choice_fields, choice_rows, choice_words
from cutplan.sheets.listing import Entry, Listing, as_csv, estimate, listing, measure, number
from cutplan.sheets.words import Cell, Writer, aligned, bulleted, counted, percent, titled, wrapped
from cutplan.shop import SawRates

USUAL = (Fraction(50), Fraction(80), Fraction(95))
BIDS = ("profile", "enough_in", "net", "percent_to_add", "percent_of_bought", "length", "sticks", "order",
        "sticks_money", "freight", "hardware", "saw_minutes", "saw_money", "money", "money_if_measured_first",
        "versions", "may_not_come")
DETAILS = ("profile", "enough_in", "waste_percent_of_net", "low", "high", "waste_percent_of_bought", "sticks",
           "sticks_wasted", "sticks_money", "percent_to_add_to_mean_net", "versions")
SHARES = ("for", "profile", "net", "waste", "kept", "waste_percent_of_net", "waste_percent_of_bought", "cost")
SAW_MINUTES, SAW_AMOUNT = "saw_minutes", "saw_amount"  # columns where the shop says what work at the saw takes
BASES = {NET: "of net", BOUGHT: "of what is bought"}



def chances_with(chance: Fraction) -> list[Fraction]:
    """Those that are always told, and the one asked for."""
    return sorted({*USUAL, chance})


@dataclass(frozen=True)
class Sheet:
    """What is printed of a bid: the cut versions, the chance asked for, and, where wanted, the curves.

    `orders` are for its `chances`. `saw` is what work at the saw takes, where the shop says it. `details`: whether more
    than the orders is wanted. `lines` are the bid's.
    """

    cut: CutVersions
    chance: Fraction
    seed: int
    orders: OrdersFor
    curves: tuple[Curve, ...] = ()
    saw: SawRates | None = None
    details: bool = False
    lines: Sequence[BidLine] = ()

    @property
    def chances(self) -> list[Fraction]:
        return chances_with(self.chance)

    def title(self, one: Figures | Curve) -> str:
        """What people read in front of the figures of a profile, or of the whole job."""
        whole = one is self.cut.together or one in self.curves[-1:]
        return "total" if whole else plain(one.name)

    @property
    def all(self) -> tuple[Figures, ...]:
        return (*self.cut.profiles, self.cut.together)


def up(number: Fraction, count: int = 2) -> str:
    """With so many decimals, rounded up."""
    return places(Fraction(math.ceil(number * 10**count), 10**count), count)


def waste_of_net(one: Outcome) -> Fraction:
    return one.of_net


def waste_of_bought(one: Outcome) -> Fraction:
    return one.of_bought


def sticks(one: Outcome) -> int:
    return one.sticks


def wasted_sticks(one: Outcome) -> Fraction:
    return one.in_sticks


def cost(one: Outcome) -> Fraction:
    return one.cost


def minutes(one: Outcome) -> Fraction:
    return one.minutes


# ---- a bid as tables ----


@dataclass(frozen=True)
class Block:
    """A table with its title, what it answers, and what else is to be known of it."""

    title: str
    answers: str
    headings: tuple[str, ...]
    rows: Sequence[Sequence[Cell]]
    note: str = ""
    sides: str = ""

    def text(self) -> str:
        parts = [titled(self.title), wrapped(self.answers), "", aligned(self.headings, self.rows, self.sides)]
        return "\n".join([*parts, *([wrapped(self.note)] if self.note else [])])


def bid_text(sheet: Sheet, write: Writer) -> str:
    """The orders; with `details`, all else that was found."""
    parts = [wrapped(how_many(sheet)), *(block.text() for block in order_blocks(sheet, write))]
    if sheet.details:
        parts += [block.text() for block in detail_blocks(sheet, write)]
    parts += [curve_block(sheet).text()] if sheet.curves else []
    return "\n\n".join([*parts, f"{titled('How to read this')}\n{bulleted(reading(sheet))}"])


def how_many(sheet: Sheet) -> str:
    """How many versions stand behind the figures, and whether that is all that was asked for."""
    cut = sheet.cut
    if cut.whole and cut.done == 1:
        return "Nothing in this job is open: it was cut once, and the figures are its plan's."
    if cut.whole:
        each = "each as often as it is likely" if cut.together.weights else "each once"
        given = "the ranges are right" if all(line.certain for line in sheet.lines) else "ranges and chances are right"
        return (f"All {cut.done} versions that this job may turn out to be were cut, and count {each}: the chances are "
                f"exact, as far as {given}.")
    said = f"{cut.done} versions of this job were cut (seed {sheet.seed})."
    if cut.cut_short:
        said = f"STOPPED EARLY: {cut.done} of {cut.asked} versions were cut (seed {sheet.seed}); figures so far."
    return said


def chances_of_sheet(sheet: Sheet) -> tuple[str, ...]:
    return tuple(f"{exact_decimal(p)} of 100" for p in sheet.chances)


def order_blocks(sheet: Sheet, write: Writer) -> Iterator[Block]:
    """What to order for each profile and for the whole job, and the whole job's money."""
    orders = sheet.orders
    rows = [order_row(one, write) for own in (*orders.profiles, orders.together) for one in own]
    yield Block(
        "What to order",
        "Which sticks are enough, and what do they cost? All figures of a line are of one order: the job can be cut "
        "from it in so many cases of 100, as it may turn out. Net is the mean length of the pieces; net and "
        "what is to be added to it make the length of the order.",
        ("profile", "enough in", f"mean net, {write.unit}", "add, %", "order", f"length, {write.unit}",
         write.priced("amount"), "measured first"), rows,
        "The amount of a profile is what its sticks alone cost; freight and what a supplier asks at least are the "
        "whole order's, and in the total, as are hardware and the saw. The two tables below say what is in it. "
        "Measured first: the amount that is enough as often if you order once the openings are measured. For the total "
        "that can be much less, for what one profile then needs more, another needs less."
        + shorter_note(sheet) + unknown_note(sheet), "llrrlrrr")
    yield Block(
        "The whole job's order",
        "Which sticks are enough for all profiles at once, and cost the least together? Each line above is enough for "
        "its own profile alone: one by one they may be enough for all less often, or dearer to buy.",
        ("profile", *chances_of_sheet(sheet)),
        [(plain(name), *(sticks_of(one.sticks.get(name, {}), write) for one in orders.together))
         for name in names(sheet)],
        sides="l" * (1 + len(sheet.chances)))
    kinds = money_kinds(sheet)
    yield Block(
        "What the whole job costs",
        "What is enough for all that is bought" + (" and for the saw" if "saw" in kinds else "") + "?",
        ("enough in", *(write.priced(kind) for kind in kinds), write.priced("total"), "measured first"),
        [(f"{exact_decimal(one.percent)} of 100", *(up(kinds[kind](one)) for kind in kinds), up(one.money),
          up(one.later)) for one in orders.together],
        "".join([f"{', '.join(map(plain, sheet.cut.unpriced))}: no price in the shop file, and not in these sums. "
                 if sheet.cut.unpriced else "",
                 "Labour beside the saw, markup and tax are not in it."]))
    if rows := list(choice_rows(sheet.lines)):
        yield Block("Lines that may not come", CHOICE_ANSWERS, CHOICE_HEADINGS, rows, sides="llrrl")


def money_kinds(sheet: Sheet) -> dict[str, Callable[[OrderFor], Fraction]]:
    """What the job's money is made of, as far as the shop file says any of it."""
    kinds: dict[str, Callable[[OrderFor], Fraction]] = {"sticks": lambda one: one.goods}
    if any(one.freight for one in sheet.orders.together):
        kinds["freight"] = lambda one: one.freight
    if any(one.hardware for one in sheet.orders.together):
        kinds["hardware"] = lambda one: one.hardware
    if any(one.sawing for one in sheet.orders.together):
        kinds["saw"] = lambda one: one.sawing
    return kinds


def names(sheet: Sheet) -> list[str]:
    return [figures.name for figures in sheet.cut.profiles]


def order_row(one: OrderFor, write: Writer) -> tuple[str, ...]:
    whole = len(one.sticks) != 1 or one.name not in one.sticks
    said = f"{counted(one.number, 'stick')}, below" if whole else sticks_of(one.sticks[one.name], write)
    return ("total" if whole else plain(one.name), f"{exact_decimal(one.percent)} of 100", write.at_most(one.net),
            up(one.to_add), said, write.length(one.length), up(one.money), up(one.later))


def sticks_of(sticks: StickNumbers, write: Writer) -> str:
    """5 x 240 + 1 x 96: the longest first."""
    said = [f"{n} x {write.length(length)}" for length, n in sorted(sticks.items(), reverse=True) if n]
    return " + ".join(said) or "nothing"


def shorter_note(sheet: Sheet) -> str:
    if all(one.to_add >= 0 for own in (*sheet.orders.profiles, sheet.orders.together) for one in own):
        return ""
    return (" Less than 0 is to be added where the job asks for less than its mean so often, for lines that may not "
            "come, or come in several numbers, or for what lies on the rack.")


def unknown_note(sheet: Sheet) -> str:
    short = dict.fromkeys(exact_decimal(one.percent) for own in (*sheet.orders.profiles, sheet.orders.together)
                          for one in own if not one.known)
    if not short:
        return ""
    return (f" There are too few versions to know what is enough in {' or '.join(sorted(short))} of 100: the largest "
            "order of them stands there; take more --versions.")


# ---- all else ----


def detail_blocks(sheet: Sheet, write: Writer) -> Iterator[Block]:
    yield from waste_blocks(sheet)
    yield sticks_block(sheet)
    yield cost_block(sheet, write)
    yield from minutes_blocks(sheet, write)
    yield unmeasured_block(sheet, write)
    yield rules_block(sheet)


def waste_blocks(sheet: Sheet) -> Iterator[Block]:
    """The waste on both bases, and how far the asked-for figure could be off."""
    note = (f"Enough in so many jobs of 100. From, to: how far off the figure for {exact_decimal(sheet.chance)} "
            "could be; the true one lies there in 95 bids of 100. A - says that it takes more versions to know.")
    exact = ("Enough in so many jobs of 100, rounded up to the hundredth. All versions were cut, so no figure hangs on "
             f"which were drawn: from and to are the figure for {exact_decimal(sheet.chance)} again.")
    for title, answers, figure in (
            ("Waste, in % of the net length", "How much does the saw waste? Each version is measured against its own "
             "net length, once that is known; do not put these figures on the mean net length. It is the waste of "
             "sticks bought singly: what terms of sale make of it is in the orders above.", waste_of_net),
            ("The same waste, in % of what is bought", "The same, as a share of what is drawn.", waste_of_bought)):
        rows = []
        for one in sheet.all:
            found = [up(one.enough(figure, p).value) for p in sheet.chances]
            rows.append((sheet.title(one), *found, *ends(one.enough(figure, sheet.chance))))
        yield Block(title, answers, ("profile", *chances_of_sheet(sheet), "from", "to"), rows,
                    exact if sheet.cut.whole else note)


def ends(found: Enough) -> tuple[str, str]:
    """The ends of the interval; "-" where more versions would be needed to know it."""
    return ("-" if found.low is None else percent(found.low), "-" if found.high is None else up(found.high))


def mean_length(one: Figures, write: Writer) -> str:
    return write.length(one.mean(lambda outcome: outcome.net))


def sticks_block(sheet: Sheet) -> Block:
    """Whole sticks to buy, and how many of them are waste."""
    rows = [(sheet.title(one), places(one.mean(sticks), 1),
             *(exact_decimal(one.enough(sticks, p).value) for p in sheet.chances),
             up(one.enough(wasted_sticks, sheet.chance).value, 1)) for one in sheet.all]
    note = (f"The last column is the waste counted in sticks, enough in {exact_decimal(sheet.chance)} of 100: a small "
            "job is whole sticks, whatever the per cent.")
    if any(one.mean(lambda outcome: outcome.from_rack) for one in sheet.cut.profiles):
        note += " Offcuts taken from the rack are not counted as sticks to buy, but their waste is counted."
    return Block("Sticks to buy", "How many sticks, whatever their lengths, will the measured job take?",
                 ("profile", "mean", *chances_of_sheet(sheet), "wasted of them"), rows, note)


def cost_block(sheet: Sheet, write: Writer) -> Block:
    """What new sticks cost, and apart from it what is kept for the rack."""
    headings = ("profile", write.priced("mean"), *chances_of_sheet(sheet), f"mean kept, {write.unit}", "mean credit")
    rows = [(sheet.title(one), write.money(one.mean(cost)), *(up(one.enough(cost, p).value) for p in sheet.chances),
             mean_kept(one, write), write.money(one.mean(lambda outcome: outcome.credit))) for one in sheet.all]
    note = ("Single sticks at their prices, without bundles, breaks and freight. Kept offcuts go to the rack and are "
            "not lost. The credit is their price at the shop's offcut_credit; it is taken off neither the cost nor the "
            "waste.")
    answers = "What will the sticks of the measured job cost, and what of that goes to the rack?"
    return Block("Cost of new sticks", answers, headings, rows, note)


def minutes_blocks(sheet: Sheet, write: Writer) -> Iterator[Block]:
    """The time at the saw; nothing where the shop does not say what work takes."""
    if sheet.saw is None:
        return
    hourly = sheet.saw.hourly
    headings = ("profile", "mean", *chances_of_sheet(sheet),
                *(() if hourly is None else (write.priced("mean"), f"{exact_decimal(sheet.chance)} of 100")))
    rows = []
    for one in sheet.all:
        row = [write.money(one.mean(minutes)), *(up(one.enough(minutes, p).value) for p in sheet.chances)]
        if hourly is not None:
            enough = one.enough(minutes, sheet.chance).value
            row += [write.money(one.mean(minutes) * hourly / MINUTES), up(enough * hourly / MINUTES)]
        rows.append((sheet.title(one), *row))
    note = ("Versions are cut for the least cost of stock, and their set-ups are as they come: these are the minutes "
            "of such plans, and cut looks for fewer set-ups.") if not (sheet.cut.whole and sheet.cut.done == 1) else ""
    yield Block("Minutes at the saw", "How long will the saw be busy?", headings, rows, note)


def mean_kept(one: Figures, write: Writer) -> str:
    return write.length(one.mean(lambda outcome: outcome.kept))


def unmeasured_block(sheet: Sheet, write: Writer) -> Block:
    """What to add to the mean net length so that wider openings are covered too."""
    rows = [(sheet.title(one), mean_length(one, write), *(up(one.to_add(p)) for p in sheet.chances))
            for one in sheet.all]
    note = ("It covers waste, and that openings may come out wider or more than their mean. It may be below the waste "
            "where half the jobs come out smaller.")
    return Block("To add to the mean net length if you order once it is measured, in %",
                 "How much length will the measured job draw, against its mean net length?",
                 ("profile", f"mean net, {write.unit}", *chances_of_sheet(sheet)), rows, note)


def rules_block(sheet: Sheet) -> Block:
    """Rules of thumb beside this shop's figure."""
    at = sheet.chances.index(sheet.chance)
    orders = [own[at] for own in (*sheet.orders.profiles, sheet.orders.together)]
    rows = [(sheet.title(one), f"{up(order.to_add)} %", *(
        f"enough in {percent_whole(rule_chance(one, rule))}" for rule in RULES))
        for one, order in zip(sheet.all, orders, strict=True)]
    sources = [f"{rule_name(rule)} ({exact_decimal_of(both(rule))} of net): {rule.source}." for rule in RULES]
    sources.append("No published figure for railing or fence profiles was found: these are rules for other goods.")
    return Block("Beside rules of thumb",
                 "Would a flat allowance on the mean net length have been as long as what the measured jobs drew?",
                 ("profile", f"here, {exact_decimal(sheet.chance)} of 100", *(rule_name(rule) for rule in RULES)), rows,
                 " ".join(sources))


def rule_name(rule: Rule) -> str:
    return f"{exact_decimal(rule.percent)} % {BASES[rule.base]}"


def both(rule: Rule) -> Fraction:
    """A rule in per cent of the net length."""
    return rule.percent if rule.base == NET else of_net(rule.percent)


def exact_decimal_of(number: Fraction) -> str:
    return f"{places(number, 1)} %"


def percent_whole(number: Fraction) -> str:
    """Rounded down: what is enough in 99.6 of 100 is not enough in 100."""
    return str(math.floor(number))


def curve_block(sheet: Sheet) -> Block:
    """How the waste falls as the job grows."""
    times = [point.times for point in sheet.curves[-1].points]
    headings = ("profile", *(f"x {n}" for n in times), "line: always", "and over times")
    rows = [(sheet.title(one), *(percent(point.mean) for point in one.points), percent(one.floor), percent(one.small))
            for one in sheet.curves]
    note = (f"Mean waste in % of the net length, with the job so many times over (the larger ones from at most "
            f"{sheet.curves[-1].points[-1].versions} versions). The line through the figures is: waste = always + "
            "over / times. What is always there is kerfs, trims and lengths that do not go up; the rest is last "
            "sticks.")
    return Block("How waste falls as the job grows", "How much of the waste is there because the job is small?",
                 headings, rows, note)


def reading(sheet: Sheet) -> Iterator[str]:
    """The assumptions."""
    order = sheet.orders.together[sheet.chances.index(sheet.chance)]
    yield (f"Say which base you mean: {up(order.to_add)} % of net (total) is {percent(order.of_bought)} % of what is "
           "bought, and 15 % of what is bought is 17.6 % of net.")
    yield ("Every mark of the tape within a range counts as equally likely; the openings of a line are drawn each by "
           "itself unless the column alike says yes, its height and number once.")
    if any(choice_rows(sheet.lines)):
        yield ("A line that does not come counts as nothing, in means as well. An order that is enough often enough "
               "may hold all of a line that comes often, and nothing of one that seldom does.")
    yield ("Waste is all that is drawn and is no piece: kerfs, trims, scrap, and what is kept. A spoiled piece, a "
           "wrong measure or a bent stick is not in it.")
    short = sum(need.cut_short for one in sheet.cut.together.outcomes for need in one.needs)
    if short:
        total = sum(len(figures.outcomes) for figures in sheet.cut.profiles)
        yield (f"Large versions are not cut to the end: for {short} of {total} plans sticks and cost are the least "
               "that no plan can be below. Of 30 such that were cut to the end, 28 cost exactly that, and two 0.6 and "
               "0.9 % more.")


# ---- a bid as CSV and JSON ----


def bid_csv(sheet: Sheet) -> str:
    return as_csv(bid_listing(sheet))


def bid_listing(sheet: Sheet) -> Listing:
    """A row for each profile and chance: one order, to which all its figures belong."""
    orders = sheet.orders
    return listing("bid", BIDS, (order_cells(one, sheet) for own in (*orders.profiles, orders.together) for one in own))


def order_cells(one: OrderFor, sheet: Sheet) -> Sequence[Entry]:
    whole = any(one is each for each in sheet.orders.together)
    minutes = None if one.minutes is None else raised(one.minutes)
    rest: Sequence[Entry] = (number(one.freight), number(one.hardware), estimate(minutes), estimate(raised(one.sawing)))
    return (one.name, number(one.percent), estimate(raised(one.net)), estimate(raised(one.to_add)),
            estimate(raised(one.of_bought)), measure(one.length), one.number, order_words(one.sticks, whole),
            number(one.goods), *(rest if whole else ("",) * len(rest)), estimate(raised(one.money)),
            estimate(raised(one.later)), sheet.cut.done, choice_words(sheet.lines))


def raised(figure: Fraction) -> Fraction:
    """In six decimals, rounded up: what is enough stays so, and so do the products of such figures."""
    return Fraction(math.ceil(figure * 10**6), 10**6)


def order_words(sticks: Mapping[str, StickNumbers], whole: bool) -> str:
    """5 x 240 + 1 x 96, of each profile."""
    return "; ".join((f"{name}: " if whole else "") + (" + ".join(
        f"{n} x {in_decimals(length)}" for length, n in sorted(own.items(), reverse=True) if n) or "nothing")
        for name, own in sticks.items())


def in_decimals(length: Fraction) -> str:
    exact = exact_decimal(length)
    return places(length, 6) if "/" in exact else exact


def details_of(sheet: Sheet) -> list[Listing]:
    """What is behind the orders, where that is wanted."""
    return [detail_listing(sheet)] if sheet.details else []


def detail_listing(sheet: Sheet) -> Listing:
    """A row for each profile and chance: what the measured job will take, each figure by itself."""
    rows: list[Sequence[Entry]] = []
    for one in sheet.all:
        for p in sheet.chances:
            found = one.enough(waste_of_net, p)
            rows.append((
                one.name, number(p), estimate(found.value), estimate(found.low), estimate(found.high),
                estimate(one.enough(waste_of_bought, p).value), number(one.enough(sticks, p).value),
                estimate(one.enough(wasted_sticks, p).value), estimate(one.enough(cost, p).value),
                estimate(one.to_add(p)), len(one.outcomes),
                *(() if sheet.saw is None else (estimate(one.enough(minutes, p).value),))))
    return listing("details", (*DETAILS, *(() if sheet.saw is None else (SAW_MINUTES,))), rows)


def bid_json(sheet: Sheet, unit: str, currency: str) -> str:
    """All figures, exact; a number without a finite decimal is a text "p/q"."""
    return written({
        "unit": unit, "currency": currency, "seed": sheet.seed, "versions_asked": sheet.cut.asked,
        "versions_cut": sheet.cut.done, "stopped_early": sheet.cut.cut_short, "all_versions": sheet.cut.whole,
        "chance": sheet.chance, "may_not_come": choice_fields(sheet.lines),
        "orders": [order_fields(one) for own in (*sheet.orders.profiles, sheet.orders.together) for one in own],
        "profiles": [figures_fields(one, sheet) for one in sheet.cut.profiles],
        "together": figures_fields(sheet.cut.together, sheet),
        "curves": [{
            "profile": one.name, "always": one.floor, "over_times": one.small,
            "points": [{"times": point.times, "net": point.net, "mean_percent_of_net": point.mean,
                        "enough_percent_of_net": point.enough, "versions": point.versions} for point in one.points],
        } for one in sheet.curves],
    }) + "\n"


def order_fields(one: OrderFor) -> dict[str, object]:
    return {
        "profile": one.name, "in": one.percent, "net": one.net, "percent_to_add": one.to_add,
        "percent_of_bought": one.of_bought, "length": one.length,
        "sticks": [{"profile": name, "length": length, "number": n} for name, own in one.sticks.items()
                   for length, n in own.items()],
        "sticks_money": one.goods, "freight": one.freight, "hardware": one.hardware, "saw_minutes": one.minutes,
        "saw_money": one.sawing, "money": one.money, "money_if_measured_first": one.later, "known": one.known,
    }


def figures_fields(one: Figures, sheet: Sheet) -> dict[str, object]:
    return {
        "profile": one.name,
        "mean": {
            "net": one.mean(lambda outcome: outcome.net), "drawn": one.mean(lambda outcome: outcome.drawn),
            "kept": one.mean(lambda outcome: outcome.kept), "sticks": one.mean(sticks), "cost": one.mean(cost),
            "credit": one.mean(lambda outcome: outcome.credit),
            **({} if sheet.saw is None else {SAW_MINUTES: one.mean(minutes)}),
        },
        "enough": [{
            "in": p, "percent_of_net": interval_fields(one.enough(waste_of_net, p)),
            "percent_of_bought": interval_fields(one.enough(waste_of_bought, p)),
            "sticks": one.enough(sticks, p).value, "sticks_wasted": one.enough(wasted_sticks, p).value,
            "cost": one.enough(cost, p).value, "percent_to_add_to_mean_net": one.to_add(p),
            **({} if sheet.saw is None else {SAW_MINUTES: one.enough(minutes, p).value}),
        } for p in sheet.chances],
        "rules": [{"percent": rule.percent, "base": rule.base, "source": rule.source,
                   "enough_in": rule_chance(one, rule)} for rule in RULES],
        "proven": sum(outcome.proven for outcome in one.outcomes),
    }


def interval_fields(found: Enough) -> dict[str, Fraction | None]:
    return {"value": found.value, "low": found.low, "high": found.high}


# ---- a measured job ----


def shares_text(found: Sequence[Share], write: Writer) -> str:
    """The waste of a plan on each gate and bay, then by profile."""
    timed, paid = any(one.minutes for one in found), any(one.sawing for one in found)
    headings = ("for", f"net, {write.unit}", "waste", "of it kept", "% of net", "% of bought", write.priced("cost"),
                *(["saw, min"] if timed else []), *([write.priced("saw")] if paid else []))
    owners = by_owner(found)
    whole = together("total", owners)
    profiles = [together(name, [one for one in found if one.profile == name])
                for name in dict.fromkeys(one.profile for one in found)]
    parts = []
    for title, rows in (("gate and bay", owners), ("profile", profiles)):
        parts.append(f"{titled(f'Waste of each {title}')}\n" + aligned(headings, [
            (plain(one.for_), *map(write.length, (one.net, one.waste, one.kept)), percent(one.of_net),
             percent(one.of_bought), write.money(one.cost), *([write.money(one.minutes)] if timed else []),
             *([write.money(one.sawing)] if paid else [])) for one in (*rows, whole)]))
    what = "what is kept of it, its price and its time at the saw" if timed else "what is kept of it and its price"
    note = (f"The waste of each stick, {what} are shared out among its pieces by their "
            "length; the shares add up to the plan's totals exactly.")
    return "\n\n".join([write.legend(), *parts, wrapped(note)])


def shares_csv(found: Sequence[Share]) -> str:
    return as_csv(shares_listing(found))


def shares_listing(found: Sequence[Share]) -> Listing:
    timed = any(one.minutes for one in found)
    return listing("shares", (*SHARES, *((SAW_MINUTES, SAW_AMOUNT) if timed else ())), (
        (one.for_, one.profile, measure(one.net), measure(one.waste), measure(one.kept), estimate(one.of_net),
         estimate(one.of_bought), number(one.cost),
         *((estimate(one.minutes), estimate(one.sawing)) if timed else ())) for one in found))


def shares_json(found: Sequence[Share], unit: str, currency: str) -> str:
    timed = any(one.minutes for one in found)
    return written({
        "unit": unit, "currency": currency,
        "shares": [{"for": one.for_, "profile": one.profile, "net": one.net, "waste": one.waste, "kept": one.kept,
                    "cost": one.cost, **({SAW_MINUTES: one.minutes, SAW_AMOUNT: one.sawing} if timed else {})}
                   for one in found]}) + "\n"
