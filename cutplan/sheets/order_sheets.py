"""The order as sheets to send: one for each supplier, as text, as a table for a spreadsheet and in a workbook, and as a
page to print."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from cutplan.buying.dates import Dates
from cutplan.buying.order import OrderLine, PlacedOrder, ProfileOrder, SupplierBill
from cutplan.printable import plain
from cutplan.sheets.buying import OrderSheet
from cutplan.sheets.hardware import hardware_rows
from cutplan.sheets.listing import Entry, Listing, as_csv, listing, measure, number
from cutplan.sheets.pages import page
from cutplan.sheets.words import Writer, aligned, titled, wrapped
from cutplan.sheets.workbook import workbook
from cutplan.shop import Shop

SHEET = ("shop", "date", "supplier", "item", "code", "profile", "length", "unit", "length_said", "sticks", "bundle",
         "bundles", "each", "amount", "needed_by")
HARDWARE_SHEET = ("shop", "date", "hardware", "number", "amount", "needed_by")
STICKS, FREIGHT = "sticks", "freight"  # what a row of the table is for
NAME = re.compile(r"[^A-Za-z0-9]+")


@dataclass(frozen=True)
class SupplierSheet:
    """What one supplier is asked for: his lines, each with the profile it is of and by when it is needed."""

    shop: str
    day: date
    bill: SupplierBill
    lines: tuple[tuple[str, OrderLine, str], ...]
    week: int | None

    @property
    def file(self) -> str:
        """A name for its files, of letters that any disk takes."""
        name = NAME.sub("-", self.bill.supplier).strip("-").lower() or "order"
        return name if self.week is None else f"{name}-week-{self.week}"


def supplier_sheets(sheet: OrderSheet, shop: Shop, dates: Dates, write: Writer) -> dict[str, str | bytes]:
    """What is in the files of all sheets, by their names; hardware has a sheet of its own."""
    day = dates.today or date.today()
    files: dict[str, str | bytes] = {}

    def add(name: str, text: str, cells: Listing, html: str) -> None:
        number, free = 2, name
        while f"{free}.txt" in files:  # two suppliers whose names differ in signs alone
            free, number = f"{name}-{number}", number + 1
        files.update({f"{free}.txt": text + "\n", f"{free}.csv": as_csv(cells),
                      f"{free}.xlsx": workbook([cells], write.length), f"{free}.html": html})

    for order in sheet.orders:
        for bill in order.bills:
            one = SupplierSheet(shop.name, day, bill, tuple(lines_of(order, bill.supplier)),
                                order.weeks[0] if sheet.weekly else None)
            add(one.file, sheet_text(one, write), sheet_listing(one, write), sheet_page(one, write))
    if sheet.hardware:
        add("hardware", *hardware_sheet(sheet, shop, dates, write))
    return files


def lines_of(order: PlacedOrder, supplier: str) -> Iterator[tuple[str, OrderLine, str]]:
    for one in order.profiles:
        for line in one.lines:
            if line.ordered and line.stock.supplier == supplier:
                yield one.profile, line, needed_by(order, one, line)


def needed_by(order: PlacedOrder, one: ProfileOrder, line: OrderLine) -> str:
    """The first week that cuts new sticks of the length and that these come in time for: its day, else its number."""
    first = line.ready or 0
    weeks = [k for k, plan in enumerate(one.weeks) if k >= first and plan is not None
             and any(stick.tag is None and stick.length == line.stock.length for stick in plan.sticks)]
    week = min(weeks, default=first)
    return due_text(order.dates, week, order.weeks[week])


def due_text(dates: Dates, week: int, number: int) -> str:
    """The day of a week, from 0, where days are known; else its number."""
    return dates.due[week].isoformat() if dates.due else f"week {number}"


def bundles_text(line: OrderLine) -> str:
    if line.stock.bundle == 1:
        return ""
    return f"{line.ordered // line.stock.bundle} of {line.stock.bundle}"


def table_of(one: SupplierSheet, write: Writer) -> tuple[tuple[str, ...], list[tuple[str, ...]], str]:
    """Headings, rows and sides; columns that nothing stands in are left out."""
    headings = ("code", "profile", f"length, {write.unit}", "sticks", "bundles", write.priced("each"),
                write.priced("amount"), "needed by")
    rows: list[tuple[str, ...]] = [
        (plain(line.stock.code), plain(profile), write.stock(line.stock.length), str(line.ordered),
         bundles_text(line), write.money(line.each), write.money(line.money), by) for profile, line, by in one.lines]
    used = [k for k in range(len(headings)) if any(row[k] for row in rows)]
    sums = {"sticks": one.bill.goods, "freight": one.bill.freight, "total": one.bill.money}
    shown = list(sums.items()) if one.bill.freight else [("total", one.bill.goods)]
    rows += [tuple(name if k == used[0] else write.money(amount) if k == 6 else "" for k in range(len(headings)))
             for name, amount in shown]
    sides = "lllrrrrl"
    return (tuple(headings[k] for k in used), [tuple(row[k] for k in used) for row in rows],
            "".join(sides[k] for k in used))


def heading(one: SupplierSheet) -> str:
    who = [f"from {plain(one.shop)}"] if one.shop else []
    who += [f"to {plain(one.bill.supplier)}"] if one.bill.supplier else []
    week = [] if one.week is None else [f"for week {one.week}"]
    return ", ".join([" ".join(["Order", *who]), one.day.isoformat(), *week])


def sheet_text(one: SupplierSheet, write: Writer) -> str:
    return "\n\n".join([titled("Order"), wrapped(heading(one)), aligned(*table_of(one, write))])


def sheet_listing(one: SupplierSheet, write: Writer) -> Listing:
    """A row for each line of the order, and one for the freight, if any; sticks that are sold singly have no bundle."""
    head = one.shop, one.day.isoformat(), one.bill.supplier
    rows: list[Sequence[Entry]] = []
    for profile, line, by in one.lines:
        stock = line.stock
        bundles: tuple[Entry, Entry] = (stock.bundle, line.ordered // stock.bundle) if stock.bundle > 1 else ("", "")
        rows.append((*head, STICKS, stock.code, profile, measure(stock.length), write.unit, write.spoken(stock.length),
                     line.ordered, *bundles, number(line.each), number(line.money), by))
    if one.bill.freight:
        rows.append((*head, FREIGHT, *[""] * 9, number(one.bill.freight), ""))
    return listing("order", SHEET, rows)


def sheet_page(one: SupplierSheet, write: Writer) -> str:
    headings, rows, sides = table_of(one, write)
    return page("order.html", title="Order", heading=heading(one), headings=headings, rows=rows, sides=sides,
                foot=plain(one.shop))


def hardware_sheet(sheet: OrderSheet, shop: Shop, dates: Dates, write: Writer) -> tuple[str, Listing, str]:
    """The hardware of all weeks, of which the shop file names no supplier: text, table and page."""
    day = (dates.today or date.today()).isoformat()
    who = f"{plain(shop.name)}, {day}" if shop.name else day
    by = [due_text(dates, week, week + 1) for week in sheet.hardware_weeks]
    headings, rows = hardware_rows(sheet.hardware, write)
    sides = "l" + "r" * (len(headings) - 1) + "l"
    headings = (*headings, "needed by")
    rows = [(*row, own) for row, own in zip(rows, [*by, ""], strict=False)]
    text = "\n\n".join([titled("Hardware"), wrapped(who), aligned(headings, rows, sides)])
    cells = listing("hardware", HARDWARE_SHEET, (
        (shop.name, day, one.name, one.count, number(one.amount), own)
        for one, own in zip(sheet.hardware, by, strict=True)))
    return text, cells, page("order.html", title="Hardware", heading=who, headings=headings, rows=rows,
                             sides=sides, foot=plain(shop.name))
