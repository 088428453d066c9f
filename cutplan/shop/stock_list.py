"""The lengths that profiles are sold in, in a table of their own beside the shop file: what `stock` names.

A row is an entry of its profile's stock: the columns have the names that the keys have in the shop file.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from cutplan.problems import Findings, InputProblems, read_text, suggest
from cutplan.tables import Row, Table, fit_to_print, read_table
from cutplan.tomllines import Section
from cutplan.workbooks import DATED, DateText

REQUIRED, PRICE_BREAKS = ("profile", "length"), "price_breaks"
STOCK_KEYS = ("length", "price", "qty", "bundle", "min_order", PRICE_BREAKS, "supplier", "code", "lead_days")
BREAK = re.compile(r"(.+?) at (.+)", re.IGNORECASE)


@dataclass(frozen=True)
class StockList:
    """The entries of a list by profile, and what is wrong in it; `sound`: it could be read."""

    name: str = ""
    findings: Findings = field(default_factory=lambda: Findings(""))
    entries: dict[str, list[Section]] = field(default_factory=dict)
    sound: bool = True

    def of(self, profile: str) -> list[Section]:
        return self.entries.get(profile, [])

    def refuse_strange(self, profiles: Iterable[str]) -> None:
        """Reports each line of a profile that the shop file has not."""
        names = list(profiles)
        for name in self.entries.keys() - set(names):
            for entry in self.entries[name]:
                entry.report("profile", f"'{name}' is not a profile of the shop file; {suggest(name, names)}")


def list_in(folder: str, name: str) -> str:
    """The list's path; its name in the shop file counts from the folder of that."""
    return os.path.join(folder, name)


def list_of_shop(path: str) -> str | None:
    """The path of the list that a shop file names; None where it names none, or cannot be read."""
    try:
        name = tomllib.loads(read_text(path)).get("stock")
    except (InputProblems, ValueError, RecursionError):
        return None
    return list_in(os.path.dirname(path), name) if isinstance(name, str) and name.strip() else None


def read_stock_list(root: Section) -> StockList:
    """The list that the shop file names; an empty one where it names none, or it cannot be read at all."""
    name = root.text("stock").strip()
    if not name:
        if "stock" in root.values and root.sound("stock"):
            root.report("stock", 'names no file; write the name of a list of stock lengths, such as "stock.xlsx"')
        return StockList(sound="stock" not in root.values)
    path = list_in(os.path.dirname(root.findings.file), name)
    try:
        table = read_table(path)
    except InputProblems as wrong:
        root.findings.problems += wrong.problems
        return StockList(name, sound=False)
    table = table.expect(REQUIRED, [key for key in STOCK_KEYS if key not in REQUIRED], closed=False)
    found = StockList(name, table.findings)
    for row in table.rows:
        entry = entry_of(table, row, root.unit)
        profile = " ".join(str(entry.values.pop("profile", "")).split())
        if profile:
            found.entries.setdefault(profile, []).append(entry)
        elif entry.sound("profile") and "profile" in table.names:
            entry.report("profile", "is empty; write the name of a profile of the shop file")
    return found


def entry_of(table: Table, row: Row, unit: str) -> Section:
    """A row as an entry of a profile's stock, whose keys are its columns."""
    cells = {name: cell for name, cell in zip(table.names, row.cells, strict=False)
             if name in ("profile", *STOCK_KEYS) and cell and fit_to_print(cell)}
    entry = Section(dict[str, Any](cells), (), table.findings, {(): row.line}, unit, "length" not in table.names,
                    decimal_comma=table.comma)
    for name, cell in cells.items():
        if isinstance(cell, DateText):
            entry.report(name, f"is '{cell}'; {DATED}")
            del entry.values[name]
    if breaks := entry.values.pop(PRICE_BREAKS, ""):
        try:
            entry.values[PRICE_BREAKS] = breaks_of(breaks)
        except ValueError as error:
            entry.report(PRICE_BREAKS, str(error))
    return entry


def breaks_of(cell: str) -> list[dict[str, str]]:
    """Price breaks as a cell has them: 50 at 39.00; 100 at 37.50. ValueError says what would be right."""
    found = []
    for part in filter(None, map(str.strip, cell.split(";"))):
        match = BREAK.fullmatch(part)
        if match is None:
            raise ValueError(f"'{part}' is no price from a number on; write it like 50 at 39.00; 100 at 37.50")
        found.append({"from": match[1], "price": match[2]})
    return found
