"""What fewer set-ups would cost: plans that may be dearer by so much, side by side, as a table and as a picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, SawTime
from cutplan.plans.sawtime import amount, lifts_of, saw_time
from cutplan.printable import plain
from cutplan.sheets.chart import Axis, Chart, Series, svg
from cutplan.sheets.pages import page
from cutplan.sheets.words import Writer, aligned, of_weeks, percent, titled, wrapped

TRADED = tuple(Fraction(share, 400) for share in (0, 1, 2, 4, 8))  # 0, 0.25, 0.5, 1 and 2 % more than the least
TRADE_FOOT = "Set-ups take time, and time costs money: what is right for your shop is for you to say."
CAPTION = ("Set-ups that were found for so much more money, and how many every plan has that costs no more. The nearer "
           "they are, the less is left to find.")


TradeTable = tuple[tuple[str, ...], list[tuple[str, ...]]]  # headings, rows


@dataclass(frozen=True)
class TradePoint:
    """What plans come to that may cost this share more than the least. `least` is of set-ups; `time` where it is known.

    `amount`: material and time together (None: an hour's money is not known).
    """

    share: Fraction
    cost: Fraction
    setups: int
    least: int
    lifts: int
    time: SawTime | None
    amount: Fraction | None


def points_of(plan: Plan, profiles: Sequence[ProfilePlan]) -> list[TradePoint]:
    """The points of some profiles together; none where a search for one of them did not come to an end."""
    return [point_of(plan, alike) for alike in zip(*(profile.trade for profile in profiles), strict=False)]


def point_of(plan: Plan, profiles: Sequence[ProfilePlan]) -> TradePoint:
    cost = sum((one.totals.cost for one in profiles), Fraction(0))
    time, money = None, None
    if plan.saw is not None:
        times = [saw_time(one, plan.saw, plan.stack) for one in profiles]
        minutes = sum((one.minutes for one in times), Fraction(0))
        time = SawTime(sum(one.setups for one in times), sum(one.lifts for one in times),
                       sum(one.cuts for one in times), minutes, amount(plan.saw, minutes))
        money = None if time.amount is None else cost + time.amount
    return TradePoint(
        profiles[0].spare.share if profiles[0].spare else Fraction(0), cost,
        sum(one.totals.patterns for one in profiles), sum(int(one.tiers[2].bound) for one in profiles),
        sum(lifts_of(one.sticks, plan.stack) for one in profiles), time, money)


def trade_text(plan: Plan, write: Writer) -> Iterator[str]:
    """The table of all profiles together and one of each; nothing where no trade was asked for."""
    if not (points := points_of(plan, plan.profiles)):
        return
    parts = [aligned(*trade_table(points, plan, write)), wrapped(best_words(points, write))]
    yield "\n".join([titled("What fewer set-ups would cost"), *filter(None, parts)])
    if len(plan.profiles) > 1:
        yield "\n\n".join(f"{plain(one.profile)}\n{aligned(*trade_table(points_of(plan, [one]), plan, write))}"
                          for one in plan.profiles)


def trade_table(points: Sequence[TradePoint], plan: Plan, write: Writer) -> TradeTable:
    """Headings and rows, one for each share."""
    lifted = plan.stack > 1
    timed, paid = plan.saw is not None, plan.saw is not None and plan.saw.hourly is not None
    headings = ("may cost more, %", write.priced("material"), "set-ups", "at least", *(["lifts"] if lifted else []),
                *(["saw, min"] if timed else []), *(["saw", "together"] if paid else []))
    rows = []
    for one in points:
        time = [] if one.time is None else [write.money(one.time.minutes)]
        money = [] if one.time is None or one.time.amount is None or one.amount is None else [
            write.money(one.time.amount), write.money(one.amount)]
        rows.append((percent(100 * one.share), write.money(one.cost), str(one.setups), str(one.least),
                     *([str(one.lifts)] if lifted else []), *time, *money))
    return headings, rows


def best_words(points: Sequence[TradePoint], write: Writer) -> str:
    """Which of the points costs least in all, where an hour's money is known; the least spared of those alike."""
    least = ("At least: every plan of each profile that costs no more has so many set-ups. Of plans with as few, those "
             "with fewer lifts are taken.")
    if any(one.amount is None for one in points):
        return least
    best = min(points, key=lambda one: (one.amount or Fraction(0), one.share))
    named = write.money_named(best.amount or Fraction(0))
    return f"{least} Least in all, material and time at the saw together: {percent(100 * best.share)} %, {named}."


def trade_page(plan: Plan) -> str:
    """The same as a page with a picture."""
    write = Writer(plan.unit, plan.tape, plan.currency)
    points = points_of(plan, plan.profiles)
    return page(
        "trade.html", title=of_weeks("What fewer set-ups would cost", plan.weeks), foot=TRADE_FOOT, caption=CAPTION,
        best=best_words(points, write) if points else "No plans with fewer set-ups were looked for: there was no time.",
        chart=svg(trade_chart(points, write)), whole=trade_table(points, plan, write),
        profiles=[(one.profile, trade_table(points_of(plan, [one]), plan, write))
                  for one in plan.profiles if one.trade])


def bound_steps(points: Sequence[TradePoint]) -> Iterator[tuple[Fraction, Fraction]]:
    """Between two shares the bound of the larger one holds: plans that may cost less are among those that may cost it.
    """
    before = None
    for one in points:
        if before is not None:
            yield 100 * before.share, Fraction(one.least)
        yield 100 * one.share, Fraction(one.least)
        before = one


def trade_chart(points: Sequence[TradePoint], write: Writer) -> Chart:
    """Set-ups against what the material costs, found and at least."""
    notes = tuple(f"{percent(100 * one.share)} % more: {one.setups} set-ups, {write.money_named(one.cost)}"
                  for one in points)
    return Chart(
        "Set-ups of plans that may cost more than the least, and the fewest there can be at that price",
        Axis("may cost more than the least, %"), Axis("set-ups", whole=True, zero=True),
        (Series("found", tuple((100 * one.share, Fraction(one.setups)) for one in points), line=False,
                mark="circle", notes=notes),
         Series("no plan has fewer", tuple(bound_steps(points)), dashes="5 4")))
