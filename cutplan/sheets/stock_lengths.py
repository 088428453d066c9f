"""Which lengths to carry, and a length from the mill: as text, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.buying.mill import Mill
from cutplan.buying.question import BestSet, Choice, LengthsAnswer, Question, Single
from cutplan.exactjson import written
from cutplan.lengths import listed
from cutplan.printable import plain
from cutplan.sheets.listing import Entry, Listing, as_csv, listing, measure, number, several, yes_or_no
from cutplan.sheets.words import Cell, Writer, aligned, bulleted, counted, percent, titled, wrapped

ROWS = ("profile", "what", "lengths", "sticks", "drawn", "cost", "bound", "waste_percent", "carrying", "planned")
WORTH_IT = Fraction(1)  # percent of the cost that one more length must save to be named first, where carrying is free
ORDINALS = {2: "second", 3: "third", 4: "fourth", 5: "fifth"}


@dataclass(frozen=True)
class LengthsReport:
    """All that was asked: for each profile what to carry, and what to have made, where that was asked."""

    answers: tuple[LengthsAnswer, ...]
    mills: tuple[Mill, ...]
    together: bool
    stopped: bool = False
    weeks_a_year: int | None = None


# ---- words ----


def lengths_of(choice: Choice, write: Writer) -> str:
    return listed([write.spoken(offer.length) for offer in choice.offers])


def cost_of(question: Question, amount: Fraction, write: Writer) -> str:
    """Money, or the length that stands for it."""
    if question.market.in_money:
        return write.money_named(amount)
    return f"{write.length(amount)} {write.unit}"


def bare_cost(question: Question, amount: Fraction, write: Writer) -> str:
    return write.money(amount) if question.market.in_money else write.length(amount)


def cost_heading(question: Question, write: Writer) -> str:
    return write.priced("cost") if question.market.in_money else f"drawn, {write.unit}"


def recommended(answer: LengthsAnswer) -> int:
    """Which of the best sets is named first: the cheapest, or before it one that the next hardly improves on; but one
    that saves against today's, where there is one."""
    k, best = worthwhile(answer), answer.best
    if answer.today is not None and best[k].choice.cost >= answer.today.cost:
        return min(range(len(best)), key=lambda k: (best[k].choice.cost, k))
    return k


def worthwhile(answer: LengthsAnswer) -> int:
    best = answer.best
    if answer.question.market.carrying:
        return min(range(len(best)), key=lambda k: (best[k].choice.cost, k))
    for k in range(len(best) - 1):
        if saving(best[k].choice, best[-1].choice) < WORTH_IT:
            return k
    return len(best) - 1


def saving(one: Choice, other: Choice) -> Fraction:
    """By how many percent of the first the other is cheaper."""
    return 100 * (one.cost - other.cost) / one.cost if one.cost else Fraction(0)


def summary(answer: LengthsAnswer, write: Writer, weeks_a_year: int | None = None) -> str:
    """What it costs to stay, and what to do, in a few sentences."""
    k = recommended(answer)
    best, question = answer.best[k], answer.question
    said = [f"{plain(question.market.profile.name)}: {stay_words(answer, write)}"]
    if answer.today is not None and best.choice.cost >= answer.today.cost:
        if answer.today.offers == best.choice.offers:
            said.append("These are the best lengths that were found: stay.")
        else:
            said.append(f"Stay: the best that was found, {choice_words(question, best.choice, write)}, saves nothing.")
    else:
        saved = saving_words(answer, best.choice, write, weeks_a_year)
        said.append(f"Carry {choice_words(question, best.choice, write)}{saved}"
                    + (f"; {next_words(best.choice, answer.best[k + 1].choice)}." if k + 1 < len(answer.best) else "."))
    return " ".join([*said, proof_words(question, best, write), *unsold_words(question, best.choice, write),
                     *edge_words(question, best.choice, write)])


def stay_words(answer: LengthsAnswer, write: Writer) -> str:
    """What today's lengths cost."""
    if answer.today is None:
        return f"today's lengths cannot cut it ({plain(answer.today_lacks)})."
    drawn = "" if answer.question.market.in_money else " drawn"
    cost, waste = cost_of(answer.question, answer.today.cost, write), percent(answer.today.waste_percent)
    return f"to stay with {lengths_of(answer.today, write)} costs {cost}{drawn}, {waste} % waste."


def choice_words(question: Question, choice: Choice, write: Writer) -> str:
    drawn = "" if question.market.in_money else " drawn"
    return (f"{lengths_of(choice, write)}: {cost_of(question, choice.cost, write)}{drawn}, "
            f"{percent(choice.waste_percent)} % waste")


def saving_words(answer: LengthsAnswer, choice: Choice, write: Writer, weeks_a_year: int | None) -> str:
    """What it saves against staying: in these weeks, and in a year of such."""
    if answer.today is None:
        return ""
    question, saved = answer.question, answer.today.cost - choice.cost
    said = f", {cost_of(question, saved, write)} less"
    if weeks_a_year is None:
        return said
    yearly = saved / question.weeks * weeks_a_year
    return f"{said}, {cost_of(question, yearly, write)} in a year of {weeks_a_year} such weeks"


def unsold_words(question: Question, choice: Choice, write: Writer) -> list[str]:
    """Which of the lengths advised have no terms of sale yet, so that no freight is in what they cost."""
    new = question.market.unsold(choice.offers)
    if not new:
        return []
    are, they = ("is", "it is") if len(new) == 1 else ("are", "they are")
    return [f"{listed([write.spoken(offer.length) for offer in new])} {are} not in the shop file: {they} reckoned "
            "singly at price_per_length, without freight, bundle or minimum; ask for the terms first."]


def edge_words(question: Question, choice: Choice, write: Writer) -> list[str]:
    """Where the best lies at the end of what was asked for, and better may lie beyond."""
    edge = question.market.edge(choice.offers)
    if not edge:
        return []
    ends = {question.market.offers[0]: "shortest", question.market.offers[-1]: "longest"}
    which = listed([f"{write.spoken(offer.length)} is the {ends[offer]}" for offer in edge])
    return [f"{which} of the lengths asked for: beyond it may lie a better one."]


def next_words(choice: Choice, other: Choice) -> str:
    number = len(other.offers)
    which = f"a {ORDINALS[number]} length" if number in ORDINALS else f"length number {number}"
    saved = saving(choice, other)
    if saved > 0:
        return f"{which} saves {percent(saved)} % more"
    return f"{which} costs {percent(-saved)} % more" if saved else f"{which} saves nothing"


def proof_words(question: Question, best: BestSet, write: Writer) -> str:
    many = counted(len(best.choice.offers), "length")
    sets = f"{best.sets} sets of {many}" if best.sets > 1 else "the only set there is"
    if best.proven:
        dearer = "an order" if question.market.under_terms else "a plan"
        return f"Proven by search, the best of {sets}: none has {dearer} that costs less."
    least = cost_of(question, best.bound, write)
    why = ("; offcuts are carried from week to week, and what that can save at most is not known exactly"
           if question.carried else "")
    looked = f"{best.looked} of {sets} were tried" if best.sets > 1 else f"it is {sets}"
    return (f"Not proven best: {looked}, and none can cost less than {least}, "
            f"{percent(best.gap_percent)} % below{why}.")


def mill_words(mill: Mill, write: Writer) -> str:
    name = plain(mill.question.market.profile.name)
    best = mill.best
    said = (f"{name}: of all single lengths asked for, {write.spoken(best.offers[0].length)} wastes least: "
            f"{percent(best.waste_percent)} % of {counted(best.sticks, 'stick')}.")
    said = " ".join([said, *edge_words(mill.question, best, write)])
    if mill.proven:
        return said + " Proven by search: none of them can waste less."
    return said + f" Not proven: none can waste less than {percent(mill.least_waste)} %."


def how_words(report: LengthsReport) -> list[str]:
    """How the figures are to be read."""
    questions = [answer.question for answer in report.answers] + [mill.question for mill in report.mills]
    notes = ["Waste is the share of what is drawn that is not pieces; what lies on the rack at the end is counted as "
             "waste."]
    weeks = max(question.weeks for question in questions)
    if weeks > 1:
        notes.append(f"{weeks} weeks, cut together as one heap." if report.together else
                     f"{weeks} weeks, cut one after the other; offcuts kept from one serve the next.")
    if any(not question.market.in_money for question in questions):
        notes.append("Where no prices are known, the length drawn stands for the cost.")
    if any(one.market.carrying for one in questions):
        notes.append(f"Keeping a length in stock is paid for {counted(weeks, 'week')}.")
    if any(one.market.under_terms for one in questions):
        notes.append("The cost is that of one order for all weeks at the terms of the shop file, with its freight; a "
                     "stick's price in the tables is the lowest that they allow.")
    if any(one.market.unsold(one.market.offers) for one in questions):
        notes.append("Lengths that the shop file does not have are reckoned singly at price_per_length, without "
                     "freight, bundle or minimum.")
    if report.answers:
        notes.append("How many sticks of a length are left (qty) is no limit here.")
    if report.stopped:
        notes.append("The search was ended early; more time may find better lengths.")
    return notes


# ---- text ----


def lengths_text(report: LengthsReport, write: Writer) -> str:
    """The summaries first, then the tables of each profile."""
    sums = [summary(answer, write, report.weeks_a_year) for answer in report.answers]
    sums += [mill_words(one, write) for one in report.mills]
    parts = ["\n".join(wrapped(one) for one in sums)]
    for answer in report.answers:
        title = titled(f"{plain(answer.question.market.profile.name)}: lengths to carry")
        parts.append(f"{title}\n{aligned(*set_table(answer, write), 'lrrrrl')}")
        parts.append(f"Each length alone\n{aligned(*single_table(answer, write), 'lrrrrl')}")
    for mill in report.mills:
        title = titled(f"{plain(mill.question.market.profile.name)}: a length from the mill")
        parts.append(f"{title}\n{aligned(*mill_table(mill, write), 'lrrl')}\n{wrapped(mill_note(mill))}")
    return "\n\n".join([*parts, bulleted(how_words(report))])


def set_table(answer: LengthsAnswer, write: Writer) -> tuple[Sequence[str], list[Sequence[Cell]]]:
    question = answer.question
    headings = ("lengths", "sticks", cost_heading(question, write), "waste %", "saves %", "proven")
    rows: list[Sequence[Cell]] = []
    for k, best in enumerate(answer.best):
        saved = percent(saving(answer.best[k - 1].choice, best.choice)) if k else ""
        rows.append((drawn_words(best.choice, write), *figures(question, best.choice, write), saved, proof_mark(best)))
    if answer.today:
        rows.append((f"today: {drawn_words(answer.today, write)}", *figures(question, answer.today, write), "", ""))
    return headings, rows


def figures(question: Question, choice: Choice, write: Writer) -> tuple[Cell, ...]:
    return choice.sticks, bare_cost(question, choice.cost, write), percent(choice.waste_percent)


def drawn_words(choice: Choice, write: Writer) -> str:
    counted = zip(choice.offers, choice.drawn, strict=True)
    return ", ".join(f"{n} x {write.spoken(offer.length)}" for offer, n in counted)


def proof_mark(best: BestSet) -> str:
    return "yes" if best.proven else f"within {percent(best.gap_percent)} %"


def single_table(answer: LengthsAnswer, write: Writer) -> tuple[Sequence[str], list[Sequence[Cell]]]:
    question = answer.question
    headings = ("length", "a stick", "sticks", cost_heading(question, write), "waste %", "")
    return headings, [single_row(question, single, write) for single in answer.singles]


def single_row(question: Question, single: Single, write: Writer) -> Sequence[Cell]:
    start = write.spoken(single.offer.length), bare_cost(question, single.offer.price, write)
    if not single.eligible:
        return (*start, "", "", "", "too short for some pieces")
    if single.choice is None:
        return (*start, "", bare_cost(question, single.bound, write), "", "at least; not planned")
    return (*start, *figures(question, single.choice, write), "")


def mill_table(mill: Mill, write: Writer) -> tuple[Sequence[str], list[Sequence[Cell]]]:
    """The best ten lengths, by what they waste; where bounds are not sharp, those with a plan first."""
    carried = mill.question.carried
    points = sorted(mill.points, key=lambda point: (carried and point.choice is None, point.waste, point.length))[:10]
    rows: list[Sequence[Cell]] = []
    for point in points:
        sticks, said = (point.choice.sticks, "") if point.choice else ("", "at least; not planned")
        rows.append((write.spoken(point.length), sticks, percent(point.waste), said))
    return ("length", "sticks", "waste %", ""), rows


def mill_note(mill: Mill) -> str:
    asked = counted(len(mill.points) + mill.too_short, "length")
    short = f", {mill.too_short} of them too short for some piece" if mill.too_short else ""
    return f"The least of {asked}{short}; --html draws the whole curve."


# ---- for other programs ----


def lengths_csv(report: LengthsReport) -> str:
    return as_csv(lengths_listing(report))


def lengths_listing(report: LengthsReport) -> Listing:
    return listing("lengths", ROWS, [*answer_rows(report), *mill_rows(report)])


def answer_rows(report: LengthsReport) -> Iterator[Sequence[Entry]]:
    for answer in report.answers:
        name = answer.question.market.profile.name
        for best in answer.best:
            yield listed_row(name, "best", best.choice, best.choice.cost, best.bound)
        for single in answer.singles:
            if single.eligible:
                yield (listed_row(name, "single", single.choice, single.choice.cost, single.bound) if single.choice
                       else (name, "single", measure(single.offer.length), "", "", "", number(single.bound), "", "",
                             "no"))
        if answer.today:
            yield listed_row(name, "today", answer.today, answer.today.cost, None)


def mill_rows(report: LengthsReport) -> Iterator[Sequence[Entry]]:
    for mill in report.mills:
        name = mill.question.market.profile.name
        for point in mill.points:
            if point.choice:
                yield listed_row(name, "mill", point.choice, point.choice.length, point.least)
            else:
                yield (name, "mill", measure(point.length), "", "", "", number(point.least), "", "", "no")


def listed_row(name: str, what: str, choice: Choice, cost: Fraction, bound: Fraction | None) -> Sequence[Entry]:
    drawn = choice.drawn[0] if len(choice.drawn) == 1 else " ".join(map(str, choice.drawn))
    return (name, what, several(offer.length for offer in choice.offers), drawn, measure(choice.length), number(cost),
            number(bound), number(round(choice.waste_percent, 4)), number(choice.carrying), yes_or_no(True))


def lengths_json(report: LengthsReport, unit: str, currency: str) -> str:
    """Lengths and money exactly; percentages to four decimals."""
    return written({
        "unit": unit, "currency": currency, "together": report.together,
        "profiles": [answer_fields(answer) for answer in report.answers],
        "mill": [mill_fields(mill) for mill in report.mills],
    }) + "\n"


def answer_fields(answer: LengthsAnswer) -> dict[str, object]:
    return {
        "profile": answer.question.market.profile.name, "weeks": answer.question.weeks,
        "in_money": answer.question.market.in_money,
        "best": [{**choice_fields(best.choice), "bound": best.bound, "proven": best.proven, "sets": best.sets,
                  "planned": best.looked} for best in answer.best],
        "singles": [{"length": single.offer.length, "price": single.offer.price, "eligible": single.eligible,
                     "bound": single.bound, "plan": choice_fields(single.choice) if single.choice else None}
                    for single in answer.singles],
        "today": choice_fields(answer.today) if answer.today else None,
        "today_lacks": answer.today_lacks,
    }


def mill_fields(mill: Mill) -> dict[str, object]:
    return {
        "profile": mill.question.market.profile.name, "best": choice_fields(mill.best), "bound": mill.bound,
        "proven": mill.proven,
        "curve": [{"length": point.length, "least_drawn": point.least,
                   "drawn": point.choice.length if point.choice else None,
                   "waste_percent": round(point.waste, 4)} for point in mill.points],
    }


def choice_fields(choice: Choice) -> dict[str, object]:
    return {"lengths": [offer.length for offer in choice.offers], "prices": [offer.price for offer in choice.offers],
            "sticks": list(choice.drawn), "drawn": choice.length, "cost": choice.cost, "carrying": choice.carrying,
            "waste_percent": round(choice.waste_percent, 4)}
