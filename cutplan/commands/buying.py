"""buy: what to order for the weeks ahead."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from cutplan.commands.planning import all_taken
from cutplan.commands.racking import is_new, supplied
from cutplan.commands.shared import (
    Csv,
    Files,
    FromRack,
    ShopFile,
    Xlsx,
    asked_for,
    check_limit,
    going,
    plainly,
    tell,
    with_stock,
)

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from cutplan.buying.dates import Dates
    from cutplan.orders import Order, Piece
    from cutplan.problems import Problem
    from cutplan.shop import Shop

Value = TypeVar("Value")
Weeks = Annotated[
    list[str], typer.Argument(metavar="WEEK...", help="Week files or lists of pieces, in the order they are cut.")
]


def buy(
    weeks: Weeks,
    shop: ShopFile,
    rack: FromRack = None,
    together: Annotated[
        bool, typer.Option("--together", help="Cut all weeks as one, not each after the other.")
    ] = False,
    weekly: Annotated[bool, typer.Option("--weekly", help="One order for each week, not one for all.")] = False,
    without: Annotated[
        list[str] | None, typer.Option(metavar="SUPPLIER", help="Buy nothing there, and say what that costs.")
    ] = None,
    start: Annotated[
        str | None, typer.Option(metavar="DATE", help="When the first week begins; the others follow week by week.")
    ] = None,
    today: Annotated[
        str | None, typer.Option(metavar="DATE", help="The day of the order, which lead times count from; today.")
    ] = None,
    budget: Annotated[
        str | None, typer.Option(metavar="AMOUNT", help="Spend no more, and say for which gates that is enough.")
    ] = None,
    plans: Annotated[
        str | None, typer.Option(metavar="DIR", help="Write each week's plan into DIR, a new or empty folder.")
    ] = None,
    sheets: Annotated[
        str | None, typer.Option(metavar="DIR", help="Write a sheet for each supplier into DIR, a new or empty folder.")
    ] = None,
    json: Annotated[str | None, typer.Option(metavar="FILE", help="Write the order to FILE as JSON; - prints.")] = None,
    csv: Csv = None,
    xlsx: Xlsx = None,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Look no longer for a cheaper order than this.")
    ] = 60.0,
) -> None:
    """What to order for these weeks: the cheapest order over all entries and suppliers, at their terms and freight."""
    with plainly():
        files = Files([*with_stock(shop), *weeks], [rack], {"--json": json, "--csv": csv, "--xlsx": xlsx},
                      [plans, sheets])
        check_limit(limit)
        if weekly and together:
            raise typer.BadParameter("--weekly and --together contradict each other; give one of them")
        if weekly and without:
            raise typer.BadParameter("--without compares one order for all weeks; leave --weekly out")
        if budget is not None and (weekly or without):
            raise typer.BadParameter("--budget is for one order from all suppliers; leave --weekly and --without out")

        from cutplan.buying.plans import week_file, week_plans
        from cutplan.buying.purchase import asked, bought
        from cutplan.buying.terms import never_met
        from cutplan.buying.within import affordable
        from cutplan.orders import origins, week_names
        from cutplan.plans.plan import to_json
        from cutplan.problems import InputProblems, Problem
        from cutplan.sheets.buying import OrderSheet, Without, order_csv, order_json, order_listing, order_text
        from cutplan.sheets.hardware import first_weeks, totals_of
        from cutplan.sheets.order_sheets import supplier_sheets
        from cutplan.sheets.words import Writer
        from cutplan.sheets.workbook import workbook

        options = BuyOptions(start, today, tuple(without or ()), budget)
        loaded, work, dates = load(shop, weeks, options, files)
        if rack and is_new(rack):
            right = "look at its name; leave --rack out if nothing is on hand, or say what is with cutplan rack count"
            raise InputProblems([Problem(rack, 1, "file", f"there is no rack here; {right}")])
        for note in never_met(loaded):
            tell(note)
        on_hand = {}
        if rack:
            found = supplied(rack, loaded, [entry for week in work for entry in week])
            loaded, on_hand = found.shop, dict(found.on_hand)
        for note in loaded.notes:
            tell(note)
        with going(limit) as time:
            taken = [all_taken(week, loaded, time.share(2 * len(work))) for week in work]
            question = asked([one.pieces for one in taken], loaded, on_hand, dates, together, weekly, bool(plans))
            cards = [one.cards for one in taken]
            within, made, whole = None, [], None
            if options.amount is not None:
                within = affordable(question, options.amount, time)
                made = [within.order] if within.order is not None else []
                cards = [tuple(card for card in own if card.mark in within.now) for own in cards]
            else:
                made, whole = bought(question, options.without, time)
            rests = [origins(week) for week in work]
            done = week_plans(made, cards, loaded, time, rack, week_names(weeks), rests) if plans and made else []
        hardware = totals_of(card for own in cards for card in own)
        sheet = OrderSheet(tuple(made), hardware, first_weeks(hardware, cards),
                           Without(options.without, whole.money, whole.bound) if whole is not None else None, within)
        write = Writer(loaded.unit, loaded.tape, loaded.currency)
        texts = asked_for((json, lambda: order_json(sheet, loaded.unit, loaded.currency)),
                          (csv, lambda: order_csv(sheet)),
                          (xlsx, lambda: workbook([order_listing(sheet)], write.length)))
        folders: dict[str, dict[str, str | bytes]] = {}
        if plans:
            folders[plans] = {week_file(k): to_json(plan) for k, plan in enumerate(done, start=1)}
        if sheets:
            folders[sheets] = supplier_sheets(sheet, loaded, dates, write)
        files.deliver(texts, order_text(sheet, write), folders)


class BuyOptions:
    """What the options say; `check` finds what is wrong in them."""

    def __init__(self, start: str | None, today: str | None, without: tuple[str, ...], budget: str | None) -> None:
        self.start, self.today, self.without, self.budget = start, today, without, budget
        self.amount: Fraction | None = None

    def dates(self, work: Sequence[Sequence[Order | Piece]], problems: list[Problem]) -> Dates:
        from datetime import date

        from cutplan.buying.dates import Dates, due_of

        first = self.day("--start", self.start, problems)
        today = self.day("--today", self.today, problems) or date.today()
        return Dates(today, due_of(work, first, today, problems))

    def day(self, option: str, text: str | None, problems: list[Problem]) -> date | None:
        from cutplan.buying.dates import read_date

        return read(option, text, read_date, problems)

    def check(self, shop: Shop, problems: list[Problem]) -> None:
        from cutplan.lengths import read_money
        from cutplan.problems import Problem, suggest

        self.amount = read("--budget", self.budget, read_money, problems)
        named = {entry.supplier for profile in shop.profiles.values() for entry in profile.stock if entry.supplier}
        for name in self.without:
            if name not in named:
                right = suggest(name, sorted(named)) if named else "the shop file names none"
                problems.append(Problem("command line", 1, "--without", f"'{name}' sells nothing here; {right}"))


def read(option: str, text: str | None, convert: Callable[[str], Value], problems: list[Problem]
                ) -> Value | None:
    """What an option says; what is wrong with it is added to the problems."""
    from cutplan.problems import Problem

    try:
        return None if text is None else convert(text)
    except ValueError as error:
        problems.append(Problem("command line", 1, option, str(error)))
        return None


def load(shop: str, weeks: Sequence[str], options: BuyOptions, files: Files
         ) -> tuple[Shop, Sequence[Sequence[Order | Piece]], Dates]:
    """Shop, weeks and their days. InputProblems holds what is wrong in any of them, and in the options."""
    from cutplan.orders import read_files, rests_taken
    from cutplan.problems import InputProblems

    problems = files.problems()
    loaded, work, others = read_files(shop, weeks)
    problems += [*others, *rests_taken([entry for week in work for entry in week])]
    dates = options.dates(work, problems)
    if loaded is not None:
        options.check(loaded, problems)
    if loaded is None or problems:
        raise InputProblems(problems)
    return loaded, work, dates
