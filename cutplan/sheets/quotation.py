"""A quotation as text, page and tables: for the office with all that is in it, for the customer its prices alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.bidding.bidfile import BidLine
from cutplan.bidding.choices import percent_of
from cutplan.bidding.quotation import AMOUNTS, Option, PricedLine, Quotation, QuotedLine
from cutplan.exactjson import written
from cutplan.lengths import exact_decimal, places
from cutplan.printable import plain
from cutplan.sheets.bid import Block
from cutplan.sheets.choices import instead_of
from cutplan.sheets.listing import Entry, Listing, as_csv, estimate, listing, measure, number
from cutplan.sheets.pages import page
from cutplan.sheets.words import Writer, percent, wrapped

HUNDRED = 100
QUOTED_COLUMNS = ("mark", "kind", "system", "qty", "run", "material", "hardware", "saw", "assembly", "markup", "tax",
                  "total", "if_it_comes", "or", "comes_in")
OFFERED_COLUMNS = ("mark", "kind", "system", "qty", "run", "amount", "tax", "total", "if_it_comes", "or")
FEET = {"in": Fraction(12), "mm": Fraction(3048, 10)}  # of a foot, and of a metre, in the unit
METRES = {"in": Fraction(5000, 127), "mm": Fraction(1000)}
BY_ITS_PLAN = ("Of the measured job: all new sticks that its plan draws, at what these cost to buy as the shop file "
               "has them now, by the bundle and with freight where it says so. Another plan may be cheaper to buy for: "
               "buy --plans writes it.")
QUOTE_FOOT = "Sizes, materials and local rules may change it once the openings are measured."


def blocks(quote: Quotation, customer: bool, write: Writer) -> Iterator[Block]:
    if quote.lines:
        yield lines_block(quote, customer, write)
        yield types_block(quote, write)
    if quote.options:
        yield options_block(quote, customer, write)


@dataclass(frozen=True)
class AmountColumns:
    """The columns of amounts that some lines have; what nothing is asked for is left out."""

    lines: Sequence[PricedLine]
    customer: bool
    write: Writer

    @property
    def shown(self) -> list[str]:
        return [] if self.customer else [name for name in AMOUNTS[:-1] if self.sum(name)]

    @property
    def taxed(self) -> list[str]:
        return ["tax"] if self.sum("tax") else []

    @property
    def headings(self) -> tuple[str, ...]:
        return ("line", "what", "number", *self.shown, *(["price"] if self.customer else []), *self.taxed,
                self.write.priced("total"), "each")

    def sum(self, name: str) -> int:
        return sum(one.cents[name] for one in self.lines)

    def row(self, one: PricedLine) -> tuple[str, ...]:
        amounts = [one.cents[name] for name in self.shown] + ([one.before_tax] if self.customer else [])
        return (plain(one.line.mark), said_of(one), number_said(one.line),
                *(in_hundredths(n) for n in (*amounts, *(one.cents[name] for name in self.taxed), one.total)),
                self.write.money(Fraction(one.total, HUNDRED * one.line.qty)))

    def sums(self) -> tuple[str, ...]:
        whole = sum(one.total for one in self.lines)
        amounts = [self.sum(name) for name in self.shown] + ([whole - self.sum("tax")] if self.customer else [])
        return ("total", "", "", *(in_hundredths(n) for n in (*amounts, *map(self.sum, self.taxed), whole)), "")


def lines_block(quote: Quotation, customer: bool, write: Writer) -> Block:
    """Every line that is certain to come."""
    columns = AmountColumns(quote.lines, customer, write)
    rows = [*map(columns.row, quote.lines), columns.sums()]
    note = ("Each amount is in hundredths, and lines and columns add up exactly. A ~ marks a rounded figure."
            + unsettled_note(quote.lines))
    return Block("Quotation", opening_words(quote, customer, write), columns.headings, rows, note,
                 "ll" + "r" * (len(columns.headings) - 2))


def unsettled_note(lines: Sequence[PricedLine]) -> str:
    one = next((one.line for one in lines if one.line.most), None)
    return "" if one is None else (
        f" A number such as {number_said(one)} is not settled: the total allows for all that it may be, and the line's "
        f"part of it is as for {one.qty}; both change with it.")


def options_block(quote: Quotation, customer: bool, write: Writer) -> Block:
    """Every line that may not come; which of them come instead of each other, and, for the office, how likely each is.
    """
    columns = AmountColumns([one.priced for one in quote.options], customer, write)
    lines = [one.line for one in quote.options]
    grouped = any(line.group for line in lines)
    instead = grouped or any(one.several for one in quote.options)
    rows = [(*columns.row(one.priced)[:-1], *([option_instead_of(one, lines)] if instead else []),
             *([] if customer else [percent_of(one.line.coming)])) for one in quote.options]
    headings = (*columns.headings[:-1], *(["instead of"] if instead else []), *([] if customer else ["comes"]))
    sides = "ll" + "r" * (len(columns.headings) - 3) + ("l" if instead else "") + ("" if customer else "r")
    return Block("If they come", option_words(quote, customer), headings, rows, option_note(quote, customer), sides)


def option_instead_of(one: Option, lines: Sequence[BidLine]) -> str:
    return "another number" if one.several else instead_of(one.line, lines)


def option_or(one: Option) -> str:
    """What rows have in common of which one comes at most; "": it hangs on no other."""
    return f"number of {one.line.mark}" if one.several else one.line.group


def option_note(quote: Quotation, customer: bool) -> str:
    several = any(one.several for one in quote.options)
    return " ".join([
        *(["Of lines that come instead of each other, add one at most."]
          if any(one.line.group for one in quote.options) else []),
        *(["Of a line that has a price for each of several numbers, add the one for the number that comes; for a "
           "number that is not in the table, ask for a price."] if several else []),
        *(["Comes: how likely it is that any of the line comes."] if several and not customer else [])
    ]) + unsettled_note([one.priced for one in quote.options])


def option_words(quote: Quotation, customer: bool) -> str:
    total = ("None of these lines is in the total; add the price of each that comes." if quote.lines else
             "Nothing is certain to come, so there is no total; add the prices of what comes.")
    if customer or quote.percent is None:
        return total
    return (f"{total} Each is priced as a job of its own, with new sticks of its own that are enough in "
            f"{exact_decimal(quote.percent)} such jobs of 100, so its price stands whatever else comes. Cut with the "
            "rest it may come cheaper: once a choice is made, quote that as a bid of its own.")


def opening_words(quote: Quotation, customer: bool, write: Writer) -> str:
    if customer:
        what = "What is certain" if quote.options else "All that is asked for"
        return f"{what} comes to {in_hundredths(quote.total)} {plain(write.currency)}".rstrip() + "."
    chance = (BY_ITS_PLAN if quote.percent is None else
              f"Sticks, hardware, saw and putting together are enough in {exact_decimal(quote.percent)} jobs of 100. "
              "The lines share them as they are at the middle of their ranges, numbers that are open as well.")
    certain = " What may not come is in the last table, and not in this total." if quote.options else ""
    credit = f" {write.money_named(quote.credit)} is taken off for offcuts that go to the rack." if quote.credit else ""
    short = "STOPPED EARLY: this rests on fewer versions than were asked for. " if quote.cut_short else ""
    return f"{short}{chance} {percent(quote.waste)} % of the material is waste, and paid for.{credit}{certain}"


def number_said(line: QuotedLine) -> str:
    return f"{line.qty} of {line.least}..{line.most}" if line.most else str(line.qty)


def said_of(one: PricedLine) -> str:
    return f"{one.line.kind}, {plain(one.line.system)}"


def types_block(quote: Quotation, write: Writer) -> Block:
    """Gates, bays and runs of a system together; railing also by its length."""
    rows = []
    for name in dict.fromkeys(said_of(one) for one in quote.lines):
        own = [one for one in quote.lines if said_of(one) == name]
        many, cents = sum(one.line.qty for one in own), sum(one.total for one in own)
        run = sum((one.line.run for one in own), Fraction(0))
        by_length = [write.money(Fraction(cents, HUNDRED) * unit[write.unit] / run) if run else "-"
                     for unit in (FEET, METRES)]
        rows.append((name, str(many), in_hundredths(cents), write.money(Fraction(cents, HUNDRED * many)), *by_length))
    note = "A number that is not settled counts as in the lines above." if any(
        one.line.most for one in quote.lines) else ""
    return Block("By type", "What does each kind come to, tax included? And one of it, and railing by its length:",
                 ("what", "number", write.priced("total"), "each", "a foot", "a metre"), rows, note)


def in_hundredths(cents: int) -> str:
    return places(Fraction(cents, HUNDRED), 2)


def quote_text(quote: Quotation, customer: bool, write: Writer) -> str:
    return "\n\n".join([*(one.text() for one in blocks(quote, customer, write)), wrapped(QUOTE_FOOT)])


def quote_page(quote: Quotation, customer: bool, name: str, write: Writer) -> str:
    return page("quote.html", title=name, foot=QUOTE_FOOT, blocks=list(blocks(quote, customer, write)))


def quote_csv(quote: Quotation, customer: bool) -> str:
    return as_csv(quote_listing(quote, customer))


def quote_listing(quote: Quotation, customer: bool) -> Listing:
    """A row for each line, amounts in the currency; `total` is empty where the line may not come: its sum is the job's.
    """
    def cells(one: PricedLine, option: Option | None = None) -> Sequence[Entry]:
        amounts = (one.before_tax, one.cents["tax"]) if customer else tuple(one.cents[name] for name in AMOUNTS)
        total = number(Fraction(one.total, HUNDRED))
        coming = () if customer else (estimate(100 * option.line.coming) if option else 100,)
        return (one.line.mark, one.line.kind, one.line.system, one.line.qty, measure(one.line.run or None),
                *(number(Fraction(n, HUNDRED)) for n in amounts),
                *(("", total, option_or(option)) if option else (total, "", "")), *coming)

    rows = [*map(cells, quote.lines), *(cells(one.priced, one) for one in quote.options)]
    return listing("quotation", OFFERED_COLUMNS if customer else QUOTED_COLUMNS, rows)


def quote_json(quote: Quotation, customer: bool, unit: str, currency: str) -> str:
    def fields(one: PricedLine) -> dict[str, object]:
        return {
            "mark": one.line.mark, "kind": one.line.kind, "system": one.line.system, "qty": one.line.qty,
            "run": one.line.run,
            **({"amount": Fraction(one.before_tax, HUNDRED), "tax": Fraction(one.cents["tax"], HUNDRED)} if customer
               else {name: Fraction(one.cents[name], HUNDRED) for name in AMOUNTS}),
            "total": Fraction(one.total, HUNDRED)}

    inside = {} if customer else {"enough_in": quote.percent, "waste_percent_of_bought": quote.waste,
                                  "credit": quote.credit, "stopped_early": quote.cut_short}
    return written({
        "unit": unit, "currency": currency, **inside, "total": Fraction(quote.total, HUNDRED),
        "lines": [fields(one) for one in quote.lines],
        "if_they_come": [{**fields(one.priced), "or": option_or(one) or None,
                          **({} if customer else {"comes_in": 100 * one.line.coming})} for one in quote.options],
    }) + "\n"
