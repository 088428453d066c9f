"""A quotation as text, page and tables: for the office with all that is in it, for the customer its prices alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutplan.bidding.quotation import AMOUNTS, PricedLine, Quotation
from cutplan.exactjson import written
from cutplan.lengths import exact_decimal, places
from cutplan.printable import plain
from cutplan.sheets.bid import Block
from cutplan.sheets.listing import Entry, Listing, as_csv, listing, measure, number
from cutplan.sheets.pages import page
from cutplan.sheets.words import Writer, percent, wrapped

HUNDRED = 100
QUOTED_COLUMNS = ("mark", "kind", "system", "qty", "run", "material", "hardware", "saw", "assembly", "markup", "tax",
                  "total")
OFFERED_COLUMNS = ("mark", "kind", "system", "qty", "run", "amount", "tax", "total")
FEET = {"in": Fraction(12), "mm": Fraction(3048, 10)}  # of a foot, and of a metre, in the unit
METRES = {"in": Fraction(5000, 127), "mm": Fraction(1000)}
QUOTE_FOOT = "Sizes, materials and local rules may change it once the openings are measured."


def blocks(quote: Quotation, customer: bool, write: Writer) -> Iterator[Block]:
    yield lines_block(quote, customer, write)
    yield types_block(quote, write)


def lines_block(quote: Quotation, customer: bool, write: Writer) -> Block:
    """Every line; a column of what nothing is asked for is left out."""
    shown = [] if customer else [name for name in AMOUNTS[:-1] if quote.sum(name)]
    taxed = ["tax"] if quote.sum("tax") else []
    rows = []
    for one in quote.lines:
        amounts = [one.cents[name] for name in shown] + ([one.before_tax] if customer else [])
        rows.append((plain(one.line.mark), said_of(one), str(one.line.qty),
                     *(in_hundredths(n) for n in (*amounts, *(one.cents[name] for name in taxed), one.total)),
                     write.money(Fraction(one.total, HUNDRED * one.line.qty))))
    sums = [quote.sum(name) for name in shown] + ([quote.total - quote.sum("tax")] if customer else [])
    rows.append(("total", "", "", *(in_hundredths(n) for n in (*sums, *map(quote.sum, taxed), quote.total)), ""))
    headings = ("line", "what", "number", *shown, *(["price"] if customer else []), *taxed, write.priced("total"),
                "each")
    note = "Each amount is in hundredths, and lines and columns add up exactly. A ~ marks a rounded figure."
    return Block("Quotation", opening_words(quote, customer, write), headings, rows, note,
                 "ll" + "r" * (len(headings) - 2))


def opening_words(quote: Quotation, customer: bool, write: Writer) -> str:
    if customer:
        return f"All that is asked for comes to {in_hundredths(quote.total)} {plain(write.currency)}".rstrip() + "."
    chance = ("Of the measured job, by its plan." if quote.percent is None else
              f"Sticks, hardware and saw are enough in {exact_decimal(quote.percent)} jobs of 100. Lines are taken at "
              "the middle of their ranges, and so is a number that is open.")
    credit = f" {write.money_named(quote.credit)} is taken off for offcuts that go to the rack." if quote.credit else ""
    return f"{chance} {percent(quote.waste)} % of the material is waste, and paid for.{credit}"


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
    return Block("By type", "What does each kind come to, tax included? And one of it, and railing by its length:",
                 ("what", "number", write.priced("total"), "each", "a foot", "a metre"), rows)


def in_hundredths(cents: int) -> str:
    return places(Fraction(cents, HUNDRED), 2)


def quote_text(quote: Quotation, customer: bool, write: Writer) -> str:
    return "\n\n".join([*(one.text() for one in blocks(quote, customer, write)), wrapped(QUOTE_FOOT)])


def quote_page(quote: Quotation, customer: bool, name: str, write: Writer) -> str:
    return page("quote.html", title=name, foot=QUOTE_FOOT, blocks=list(blocks(quote, customer, write)))


def quote_csv(quote: Quotation, customer: bool) -> str:
    return as_csv(quote_listing(quote, customer))


def quote_listing(quote: Quotation, customer: bool) -> Listing:
    """A row for each line, amounts in the currency."""
    def cells(one: PricedLine) -> Sequence[Entry]:
        amounts = (one.before_tax, one.cents["tax"]) if customer else tuple(one.cents[name] for name in AMOUNTS)
        return (one.line.mark, one.line.kind, one.line.system, one.line.qty, measure(one.line.run or None),
                *(number(Fraction(n, HUNDRED)) for n in (*amounts, one.total)))

    return listing("quotation", OFFERED_COLUMNS if customer else QUOTED_COLUMNS, map(cells, quote.lines))


def quote_json(quote: Quotation, customer: bool, unit: str, currency: str) -> str:
    inside = {} if customer else {"enough_in": quote.percent, "waste_percent_of_bought": quote.waste,
                                  "credit": quote.credit}
    return written({"unit": unit, "currency": currency, **inside, "total": Fraction(quote.total, HUNDRED), "lines": [{
        "mark": one.line.mark, "kind": one.line.kind, "system": one.line.system, "qty": one.line.qty,
        "run": one.line.run,
        **({"amount": Fraction(one.before_tax, HUNDRED), "tax": Fraction(one.cents["tax"], HUNDRED)} if customer else
           {name: Fraction(one.cents[name], HUNDRED) for name in AMOUNTS}),
        "total": Fraction(one.total, HUNDRED)} for one in quote.lines]}) + "\n"
