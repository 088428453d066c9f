"""Which lengths to carry, and a length from the mill: a page that stands alone, with curves."""

from __future__ import annotations

from fractions import Fraction

from cutplan.buying.mill import Mill
from cutplan.buying.question import LengthsAnswer
from cutplan.sheets.chart import Axis, Chart, Series, svg
from cutplan.sheets.pages import page
from cutplan.sheets.stock_lengths import (
    LengthsReport,
    cost_heading,
    cost_of,
    how_words,
    lengths_of,
    mill_table,
    mill_words,
    set_table,
    single_table,
    summary,
)
from cutplan.sheets.words import Writer, percent

LENGTHS_FOOT = "cutplan does arithmetic on the demand it was given; the weeks to come may want other pieces."
WASTE = Axis("waste, % of what is drawn", zero=True)


def lengths_page(report: LengthsReport, write: Writer, shop: str) -> str:
    return page(
        "lengths.html", title=f"{shop}: which lengths to stock", foot=LENGTHS_FOOT, notes=how_words(report),
        answers=[answer_fields(one, write, report.weeks_a_year) for one in report.answers],
        mills=[mill_fields(one, write) for one in report.mills])


def answer_fields(answer: LengthsAnswer, write: Writer, weeks_a_year: int | None = None) -> dict[str, object]:
    """What the template shows of one profile; no curve where too few lengths make one."""
    curved = sum(single.eligible for single in answer.singles) > 2
    return {"name": answer.question.market.profile.name, "summary": summary(answer, write, weeks_a_year),
            "trade_off": svg(trade_off(answer, write)), "sets": set_table(answer, write),
            "curve": svg(single_curve(answer, write)) if curved else "", "singles": single_table(answer, write)}


def mill_fields(mill: Mill, write: Writer) -> dict[str, object]:
    return {"name": mill.question.market.profile.name, "summary": mill_words(mill, write),
            "curve": svg(mill_curve(mill, write)), "points": mill_table(mill, write)}


def trade_off(answer: LengthsAnswer, write: Writer) -> Chart:
    question, best = answer.question, answer.best
    points = tuple((Fraction(len(one.choice.offers)), one.choice.cost) for one in best)
    notes = tuple(f"{lengths_of(one.choice, write)}: {cost_of(question, one.choice.cost, write)}" for one in best)
    bounds = tuple((Fraction(len(one.choice.offers)), one.bound) for one in best)
    series = [Series("best set found", points, mark="circle", notes=notes)]
    if any(not one.proven for one in best):
        series.append(Series("no set can cost less", bounds, dashes="5 4"))
    if answer.today:
        today = (Fraction(len(answer.today.offers)), answer.today.cost)
        series.append(Series("today's lengths", (today,), line=False, mark="square",
                             notes=(f"{lengths_of(answer.today, write)}: "
                                    f"{cost_of(question, answer.today.cost, write)}",)))
    return Chart("Cost against the number of lengths carried", Axis("lengths carried", whole=True),
                 Axis(f"{cost_heading(question, write)} (does not begin at 0)"), tuple(series))


def along(length: Fraction, write: Writer) -> Fraction:
    """A stick's length in the unit of the axis: feet, or metres."""
    return length / 12 if write.unit == "in" else length / 1000


def length_axis(write: Writer) -> Axis:
    return Axis(f"length of the stick, {'ft' if write.unit == 'in' else 'm'}")


def single_curve(answer: LengthsAnswer, write: Writer) -> Chart:
    able = [(single.offer.length, single.choice.waste_percent) for single in answer.singles if single.choice]
    points = tuple((along(length, write), waste) for length, waste in able)
    notes = tuple(f"{write.spoken(length)}: {percent(waste)} %" for length, waste in able)
    return Chart("Waste of each length alone", length_axis(write), WASTE,
                 (Series("planned", points, mark="circle", notes=notes),))


def mill_curve(mill: Mill, write: Writer) -> Chart:
    """What must be wasted at every length, and what the plans waste where they were made; the best stands out."""
    bound = tuple((along(point.length, write), point.least_waste) for point in mill.points)
    plans = [(point, point.choice) for point in mill.points if point.choice and point.choice.offers != mill.best.offers]
    series = [Series("no plan wastes less", bound)]
    if plans:
        series.append(Series("planned", tuple((along(p.length, write), choice.waste_percent) for p, choice in plans),
                             line=False, mark="circle",
                             notes=tuple(f"{write.spoken(p.length)}: {percent(c.waste_percent)} %" for p, c in plans)))
    best = mill.best.offers[0].length
    series.append(Series(f"least waste: {write.spoken(best)}", ((along(best, write), mill.best.waste_percent),),
                         line=False, mark="square"))
    return Chart("Waste against the length of the stick", length_axis(write), WASTE, tuple(series))
