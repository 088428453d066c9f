"""lengths: which stock lengths are worth carrying, and which to have made."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.planning import all_taken
from cutplan.commands.shared import (
    Csv,
    Files,
    Json,
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
    from cutplan.buying.offers import Market
    from cutplan.buying.question import Question
    from cutplan.orders import Order, Piece
    from cutplan.problems import Findings
    from cutplan.running.budget import Budget
    from cutplan.sheets.stock_lengths import LengthsReport
    from cutplan.shop import Shop

Candidates = tuple[Fraction, ...]


def lengths(
    weeks: Annotated[list[str], typer.Argument(metavar="WEEK...", help="Week files or lists of pieces, in order.")],
    shop: ShopFile,
    choose: Annotated[
        int | None, typer.Option(metavar="K", help="How many lengths to carry at most; 2 unless said.")
    ] = None,
    from_: Annotated[
        str | None, typer.Option("--from", metavar="LENGTHS", help='Candidates, such as "8 ft,10 ft,12 ft".')
    ] = None,
    range_: Annotated[
        str | None, typer.Option("--range", metavar="FROM:TO:STEP", help='Candidates, such as "8 ft:24 ft:6 in".')
    ] = None,
    mill: Annotated[
        str | None, typer.Option(metavar="FROM:TO", help='The best length to have made, such as "0 in:288 in".')
    ] = None,
    profile: Annotated[str | None, typer.Option(metavar="NAME", help="Only this profile.")] = None,
    together: Annotated[bool, typer.Option("--together", help="Cut all weeks as one, not in turn.")] = False,
    weeks_a_year: Annotated[
        int | None, typer.Option(metavar="N", min=1, max=53, help="Say what a choice saves in a year of N such weeks.")
    ] = None,
    limit: Annotated[float, typer.Option(metavar="SECONDS", help="Look no longer than this.")] = 60.0,
    json: Json = None,
    csv: Csv = None,
    xlsx: Xlsx = None,
    html: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write a page with the curves to FILE; - prints.")
    ] = None,
) -> None:
    """Find which lengths to carry: the best one, two, up to K, beside today's; or the best one to have made."""
    with plainly():
        files = Files([*with_stock(shop), *weeks],
                      outputs={"--json": json, "--csv": csv, "--xlsx": xlsx, "--html": html})
        check_limit(limit)
        from cutplan.sheets.stock_lengths import lengths_csv, lengths_json, lengths_listing, lengths_text
        from cutplan.sheets.stock_lengths_page import lengths_page
        from cutplan.sheets.words import Writer
        from cutplan.sheets.workbook import workbook

        asked = LengthOptions(choose, from_, range_, mill, profile, together)
        loaded, work = load(shop, weeks, asked, files)
        with going(limit) as budget:
            report = replace(answered(loaded, work, asked, budget), weeks_a_year=weeks_a_year)
        write = Writer(loaded.unit, loaded.tape, loaded.currency)
        texts = asked_for((json, lambda: lengths_json(report, loaded.unit, loaded.currency)),
                          (csv, lambda: lengths_csv(report)),
                          (xlsx, lambda: workbook([lengths_listing(report)], write.length)),
                          (html, lambda: lengths_page(report, write, loaded.name)))
        files.deliver(texts, lengths_text(report, write))


class LengthOptions:
    """What the options say. `check` finds what is wrong in them; `candidates` and `from_mill` are the lengths read."""

    def __init__(self, choose: int | None, from_: str | None, range_: str | None, mill: str | None,
                 profile: str | None, together: bool) -> None:
        self.choose, self.from_, self.range_, self.mill = choose, from_, range_, mill
        self.profile, self.together = profile, together
        self.candidates: Candidates | None = None
        self.from_mill: Candidates = ()

    @property
    def carries(self) -> bool:
        """Whether it is asked what to carry: always, unless a mill length alone is."""
        return self.mill is None or not (self.choose is None and self.from_ is None and self.range_ is None)

    def most(self, market: Market) -> int:
        return min(2 if self.choose is None else self.choose, len(market.offers))

    def check(self, unit: str, shop: Shop | None, found: Findings) -> None:
        from cutplan.buying.candidates import MILL_STEPS, read_list, read_range

        def read(option: str, text: str | None, convert: Callable[[str], Candidates]) -> Candidates | None:
            try:
                return None if text is None else convert(text)
            except ValueError as error:
                found.add(1, option, str(error))
                return None

        if self.from_ is not None and self.range_ is not None:
            found.add(1, "--range", "is given beside --from; choose one of the two")
        listed = read("--from", self.from_, lambda text: read_list(text, unit))
        ranged = read("--range", self.range_, lambda text: read_range(text, unit))
        self.candidates = listed if listed is not None else ranged
        self.from_mill = read("--mill", self.mill, lambda text: read_range(text, unit, MILL_STEPS[unit])) or ()
        if self.choose is not None and self.choose < 1:
            found.add(1, "--choose", f"{self.choose} is no number of lengths; 1 or more is needed")
        if shop is not None:
            self.check_profile(shop, found)

    def check_profile(self, shop: Shop, found: Findings) -> None:
        from cutplan.buying.length_sets import MOST_SETS, sets_of
        from cutplan.problems import suggest

        if self.profile is not None and self.profile not in shop.profiles:
            right = suggest(self.profile, shop.profiles)
            found.add(1, "--profile", f"'{self.profile}' is not in the shop file; {right}")
        elif self.carries and self.choose is not None and self.choose >= 1 and not found.problems:
            names = [self.profile] if self.profile else list(shop.profiles)
            own = max(len({entry.length for entry in shop.profiles[name].stock}) for name in names)
            there = own if self.candidates is None else len(self.candidates)
            if self.choose > there:
                found.add(1, "--choose", f"{self.choose} is more than the candidates, of which there are {there}; "
                                         "choose fewer, or give more with --from or --range")
            elif sets_of(there, self.choose) > MOST_SETS:
                found.add(1, "--choose", f"{self.choose} of {there} are {sets_of(there, self.choose)} sets, more than "
                                         f"{MOST_SETS}; choose fewer, or make the step longer")


# ---- what it does ----


def load(shop: str, weeks: Sequence[str], asked: LengthOptions, files: Files
         ) -> tuple[Shop, Sequence[Sequence[Order | Piece]]]:
    """Shop and weeks, and the options checked. InputProblems holds what is wrong in any of them."""
    from cutplan.orders import read_files
    from cutplan.problems import Findings, InputProblems

    found = Findings("command line")
    problems = files.problems()
    loaded, work, others = read_files(shop, weeks)
    asked.check(loaded.unit if loaded else "in", loaded, found)
    problems += [*others, *found.problems]
    if loaded is None or problems:
        raise InputProblems(problems)
    return loaded, work


def answered(shop: Shop, work: Sequence[Sequence[Order | Piece]], asked: LengthOptions, budget: Budget
             ) -> LengthsReport:
    """Every profile's answer, one after the other. Raises NoPlan for all that cannot be cut."""
    from cutplan.buying.mill import mill
    from cutplan.buying.stock_lengths import choose
    from cutplan.cutting import refuse_misplaced
    from cutplan.problems import NoPlan
    from cutplan.sheets.stock_lengths import LengthsReport

    weeks = [all_taken(week, shop, budget.share(2 * len(work))).pieces for week in work]
    for pieces in weeks:
        refuse_misplaced(pieces, shop)
    carry, make = questions(shop, weeks, asked)
    answers, mills, lacking = [], [], []
    for k, (question, most) in enumerate(carry):
        try:
            answers.append(choose(question, most, budget.share(len(carry) + len(make) - k)))
        except NoPlan as nothing:
            lacking.append(str(nothing))
    for k, question in enumerate(make):
        try:
            mills.append(mill(question, budget.share(len(make) - k)))
        except NoPlan as nothing:
            lacking.append(str(nothing))
    if lacking:
        raise NoPlan("\n".join(dict.fromkeys(lacking)))
    return LengthsReport(tuple(answers), tuple(mills), asked.together, budget.spent())


def questions(shop: Shop, weeks: Sequence[Sequence[Piece]], asked: LengthOptions
              ) -> tuple[list[tuple[Question, int]], list[Question]]:
    """What to carry, with how many lengths at most, and what to have made, profile by profile."""
    from cutplan.buying.candidates import question
    from cutplan.buying.offers import market
    from cutplan.problems import InputProblems, Problem

    carry: list[tuple[Question, int]] = []
    make: list[Question] = []
    for profile in shop.profiles.values():
        if asked.profile not in (None, profile.name):
            continue
        offered = market(profile, asked.candidates, suppliers=shop.suppliers)
        if asked.carries and (found := question(offered, weeks, asked.together)):
            note_prices(offered)
            carry.append((found, asked.most(offered)))
        made = market(profile, asked.from_mill, True)
        if asked.from_mill and (found := question(made, weeks, asked.together)):
            make.append(found)
    if not carry and not make:
        option, what = ("--profile", asked.profile) if asked.profile else ("file", "any profile")
        raise InputProblems([Problem("command line", 1, option, f"nothing of {what} is asked for in these weeks")])
    return carry, make


def note_prices(market: Market) -> None:
    """Says why money is not compared, where only some lengths have a price."""
    from cutplan.lengths import exact_decimal

    if market.unpriced:
        known = ", ".join(map(exact_decimal, market.unpriced[:3])) + (", ..." if len(market.unpriced) > 3 else "")
        tell(f"profile {market.profile.name}: no price is known of {known}, so lengths are compared by what is drawn; "
             "write price_per_length in the shop file to compare by money")
    elif not market.in_money and market.profile.carrying:
        tell(f"profile {market.profile.name}: without prices carrying is left out")
