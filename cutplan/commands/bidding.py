"""bid: what to allow for before a job is measured; and what a measured one wastes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.commands.racking import read_known, supplied
from cutplan.commands.shared import (
    Files,
    FromRack,
    JobName,
    Store,
    Xlsx,
    asked_for,
    check_limit,
    going,
    job_called,
    plainly,
    tell,
    with_stock,
)

if TYPE_CHECKING:
    from cutplan.bidding.quotation import Quotation
    from cutplan.shop import Shop

Outputs = tuple[str | None, str | None, str | None, str | None]  # of --json, --csv, --xlsx and --html


def bid(
    bid: Annotated[str | None, typer.Argument(metavar="BID", help="The bid file: a week with ranges in it.")] = None,
    shop: Annotated[
        str | None, typer.Option("--shop", metavar="SHOP", help="Shop file: saw, profiles, systems.")
    ] = None,
    rack: FromRack = None,
    chance: Annotated[
        float, typer.Option(metavar="PERCENT", help="In how many jobs of 100 the allowance is to be enough.")
    ] = 80.0,
    versions: Annotated[int, typer.Option(min=1, max=100_000, help="How many versions of the job are cut.")] = 200,
    seed: Annotated[int, typer.Option(help="Draws other versions; the same seed draws the same.")] = 1,
    curve: Annotated[bool, typer.Option("--curve", help="Also how waste falls as the job grows.")] = False,
    details: Annotated[
        bool, typer.Option("--details", help="Also waste, sticks, cost and minutes by themselves, and rules of thumb.")
    ] = False,
    quote: Annotated[
        bool, typer.Option("--quote", help="Instead: a quotation at that chance, by the shop's [quote].")
    ] = False,
    customer: Annotated[
        bool, typer.Option("--customer", help="With --quote: prices alone, without what they are made of.")
    ] = False,
    from_plan: Annotated[
        str | None, typer.Option(metavar="PLAN", help="Instead: the waste of each gate and bay of a measured job; "
                                                      "with --quote, WEEK and --shop its quotation.")
    ] = None,
    store: Store = None,
    job_name: JobName = None,
    json: Annotated[str | None, typer.Option(metavar="FILE", help="Write the figures to FILE; - prints.")] = None,
    csv: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write them to FILE for a spreadsheet; - prints.")
    ] = None,
    xlsx: Xlsx = None,
    html: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write a page with pictures to FILE; - prints.")
    ] = None,
    limit: Annotated[float, typer.Option(metavar="SECONDS", help="Cut versions no longer than this.")] = 120.0,
) -> None:
    """The allowance to bid with, from many versions of a job whose openings are not measured yet."""
    with plainly():
        files = Files([bid, *with_stock(shop), from_plan], [rack, store],
                      {"--json": json, "--csv": csv, "--xlsx": xlsx, "--html": html})
        check_limit(limit)
        named = job_called(job_name)
        if named and not store:
            raise typer.BadParameter("--job is the name that the bid has in a store; give --store too")
        if customer and not quote:
            raise typer.BadParameter("--customer is for a quotation; give --quote too")
        if quote and (curve or details or store):
            raise typer.BadParameter("--quote takes no --curve, --details or --store; ask for these by themselves")
        if from_plan is not None and quote:
            if not bid or not shop or rack:
                raise typer.BadParameter("a quotation --from-plan needs its WEEK and --shop SHOP, and no --rack")
            return quoted_from_plan(from_plan, bid, shop, files, customer, (json, csv, xlsx, html))
        if from_plan is not None:
            if bid or shop or rack or store or html or curve:
                raise typer.BadParameter("--from-plan takes no BID and only --json, --csv, --xlsx; give one of them")
            return measured(from_plan, files, json, csv, xlsx)
        if bid is None or shop is None:
            raise typer.BadParameter("give a BID file and --shop SHOP, or --from-plan PLAN")
        if not 0 < chance < 100:
            raise typer.BadParameter(f"--chance {chance:g} is no chance; a number between 0 and 100 is needed")

        from contextlib import nullcontext
        from fractions import Fraction
        from pathlib import Path

        from cutplan.bidding.bidfile import load_bid
        from cutplan.bidding.curve import curves
        from cutplan.bidding.cutting import cut_versions
        from cutplan.bidding.orders_for import orders_for
        from cutplan.bidding.quotation import QuoteBasis, quoted_job
        from cutplan.bidding.remembered import bid_of, remember_bid
        from cutplan.bidding.store import changing, store_refused
        from cutplan.problems import InputProblems
        from cutplan.sheets.bid import Sheet, bid_csv, bid_json, bid_listing, bid_text, chances_with, details_of
        from cutplan.sheets.bidpage import bid_page
        from cutplan.sheets.words import Writer
        from cutplan.sheets.workbook import workbook
        from cutplan.shop import QuoteRates, load_shop

        if problems := [*files.problems(), *(store_refused(store) if store else [])]:
            raise InputProblems(problems)
        loaded = load_shop(shop)
        if rack:
            loaded = supplied(rack, loaded).shop
        job = load_bid(bid, loaded)
        for note in (*loaded.notes, *job.notes):
            tell(note)
        if store and Path(store).exists():  # known to be one before any long work; a new one waits for its figures
            with changing(store, loaded.unit):
                pass
        asked = Fraction(str(chance))
        if quote:
            wanted = QuoteBasis(versions, seed, asked)
            with going(limit) as budget:
                made = quoted_job(job.lines, loaded, loaded.quote or QuoteRates(), wanted, budget)
            return deliver_quote(made, customer, bid, loaded, files, (json, csv, xlsx, html))
        with going(limit) as budget:
            cut = cut_versions(job.lines, loaded, versions, seed, budget)
            orders = orders_for(cut, loaded, chances_with(asked), budget)
            found = curves(job.lines, loaded, cut, seed, asked, budget) if curve else ()
        sheet = Sheet(cut, asked, seed, orders, found, loaded.saw, details, job.lines)
        write = Writer(loaded.unit, loaded.tape, loaded.currency)
        texts = asked_for((json, lambda: bid_json(sheet, loaded.unit, loaded.currency)),
                          (csv, lambda: bid_csv(sheet)),
                          (xlsx, lambda: workbook([bid_listing(sheet), *details_of(sheet)], write.length)),
                          (html, lambda: bid_page(sheet, bid, write)))
        with changing(store, loaded.unit) if store else nullcontext() as db:
            if db is not None:
                said = bid_of(bid, named, rack is not None, cut, orders, asked, loaded)
                remember_bid(db, said, seed, cut.done)
            files.deliver(texts, bid_text(sheet, write))
        if store and not named:
            tell("the bid has no job's name, so no plan will be held against it; name it with --job")
        if cut.cut_short:
            tell(f"stopped early: {cut.done} of {cut.asked} versions were cut")


# ---- what they do ----


def quoted_from_plan(plan: str, week: str, shop: str, files: Files, customer: bool, outputs: Outputs) -> None:
    """The quotation of a measured job."""
    from dataclasses import replace

    from cutplan.bidding.quotation import quoted_plan
    from cutplan.orders import load_week
    from cutplan.planning.tied import AskedOf, untied
    from cutplan.problems import InputProblems, Problem
    from cutplan.shop import QuoteRates, load_shop

    files.refuse()
    loaded, what = load_shop(shop), read_known(plan)
    made = what.plan
    if made.unit != loaded.unit:
        said = f"is {made.unit} and the shop's {loaded.unit}; give a plan of this shop"
        raise InputProblems([Problem(plan, 1, "unit", said)])
    orders = load_week(week, loaded)
    whole = replace(what, plan=replace(made, replaces=()))  # the price is for all of the week, whoever cuts it
    tied = untied(whole, AskedOf(loaded, orders, (week,)))
    if tied.problems:
        raise InputProblems(tied.problems)
    for note in (*loaded.notes, *(f"{plan}: {one.column}: {one.message}; the quotation is at the prices of now"
                                  for one in tied.prices)):
        tell(note)
    quote = quoted_plan(orders, made, loaded, loaded.quote or QuoteRates())
    deliver_quote(quote, customer, week, loaded, files, outputs)


def deliver_quote(quote: Quotation, customer: bool, name: str, shop: Shop, files: Files, outputs: Outputs) -> None:
    from cutplan.sheets.quotation import quote_csv, quote_json, quote_listing, quote_page, quote_text
    from cutplan.sheets.words import Writer
    from cutplan.sheets.workbook import workbook

    json, csv, xlsx, html = outputs
    write = Writer(shop.unit, shop.tape, shop.currency)
    texts = asked_for((json, lambda: quote_json(quote, customer, shop.unit, shop.currency)),
                      (csv, lambda: quote_csv(quote, customer)),
                      (xlsx, lambda: workbook([quote_listing(quote, customer)], write.length)),
                      (html, lambda: quote_page(quote, customer, shop.name or name, write)))
    files.deliver(texts, quote_text(quote, customer, write))
    if quote.cut_short:
        tell("stopped early: not all versions were cut, and the prices rest on those that were")


def measured(plan: str, files: Files, json: str | None, csv: str | None, xlsx: str | None) -> None:
    """The waste of a finished plan on each gate and bay."""
    from cutplan.checking.sound import read_plan
    from cutplan.plans.shares import shares
    from cutplan.sheets.bid import shares_csv, shares_json, shares_listing, shares_text
    from cutplan.sheets.words import Writer
    from cutplan.sheets.workbook import workbook

    files.refuse()
    loaded = read_plan(plan)
    found, write = shares(loaded), Writer(loaded.unit, loaded.tape, loaded.currency)
    texts = asked_for((json, lambda: shares_json(found, loaded.unit, loaded.currency)),
                      (csv, lambda: shares_csv(found)),
                      (xlsx, lambda: workbook([shares_listing(found)], write.length)))
    files.deliver(texts, shares_text(found, write))
