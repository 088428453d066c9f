"""A bid as one page that stands alone: the allowance, how likely each figure is to be enough, how waste falls."""

from __future__ import annotations

from fractions import Fraction

from cutplan.bidding.allowance import Figures
from cutplan.bidding.curve import Curve
from cutplan.lengths import exact_decimal
from cutplan.sheets.bid import Sheet, detail_blocks, how_many, order_blocks, reading, up, waste_of_net
from cutplan.sheets.chart import Axis, Chart, Series, svg
from cutplan.sheets.pages import page
from cutplan.sheets.words import Writer

BID_FOOT = ("Ranges are yours, and so is the bid: the page says what the cutting would take, "
            "not what the site will bring.")
STEPS = 40  # of the curve's line between its first and last point


def bid_page(sheet: Sheet, bid: str, write: Writer) -> str:
    """The page; `bid` is the name of the bid file."""
    many = sheet.cut.done > 1
    return page(
        "bid.html", title=f"Allowance for {bid}", foot=BID_FOOT, how_many=how_many(sheet),
        orders=list(order_blocks(sheet, write)), details=list(detail_blocks(sheet, write)),
        whole=svg(likely(sheet.cut.together, "the whole job")) if many else "",
        each=[(svg(likely(one, one.name)), one.name) for one in sheet.cut.profiles] if many else (),
        curves=[(svg(falling(curve, sheet)), caption(curve, sheet)) for curve in reversed(sheet.curves)],
        reading=list(reading(sheet)))


def likely(one: Figures, name: str) -> Chart:
    """In how many of 100 versions so much waste is enough: a staircase."""
    found: dict[Fraction, Fraction] = {}
    for upto, value in one.weighing.in_order([waste_of_net(outcome) for outcome in one.outcomes]):
        found[value] = Fraction(100 * upto, one.weighing.total)
    levels = [Fraction(0), *found.values()]
    steps = [(value, level) for k, value in enumerate(found) for level in levels[k:k + 2]]
    marked = tuple((one.enough(waste_of_net, p).value, p) for p in (Fraction(50), Fraction(80), Fraction(95)))
    notes = tuple(f"{up(value)} % is enough in {p} of 100" for value, p in marked)
    return Chart(
        f"In how many of 100 jobs a waste allowance is enough, for {name}",
        Axis("waste, % of the net length", zero=True), Axis("enough in so many jobs of 100", zero=True),
        (Series("versions cut", tuple(steps)),
         Series("enough in 50, 80 and 95", marked, line=False, mark="circle", notes=notes)))


def falling(curve: Curve, sheet: Sheet) -> Chart:
    """Waste over the number of jobs, with the line through the means."""
    last = curve.points[-1].times
    places = [1 + Fraction((last - 1) * k, STEPS) for k in range(STEPS + 1)] if last > 1 else [Fraction(1)]
    return Chart(
        f"Waste of {sheet.title(curve)} as the job is made several times over",
        Axis("the job so many times over", whole=True), Axis("waste, % of the net length", zero=True),
        (Series(f"enough in {exact_decimal(sheet.chance)} of 100",
                tuple((Fraction(point.times), point.enough) for point in curve.points), dashes="7 4", mark="square"),
         Series("mean", tuple((Fraction(point.times), point.mean) for point in curve.points), line=False,
                mark="circle"),
         Series("line through the means", tuple((times, curve.at(times)) for times in places), dashes="2 3")))


def caption(curve: Curve, sheet: Sheet) -> str:
    return f"{sheet.title(curve)}: always {up(curve.floor)} %, and {up(curve.small)} % over the number of jobs"
