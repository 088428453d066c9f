"""Suppliers: what each asks of an order beside the price of its sticks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cutplan.lengths import quoted
from cutplan.problems import nearest
from cutplan.shop.profiles import Profile
from cutplan.tomllines import ZERO, Section


@dataclass(frozen=True)
class Supplier:
    """What an order costs beside its sticks: a fixed `freight`, none once they come to `free_from` (None: never);
    and the least that they must come to, `minimum`."""

    name: str
    freight: Fraction = ZERO
    free_from: Fraction | None = None
    minimum: Fraction = ZERO


def read_suppliers(root: Section) -> dict[str, Supplier]:
    """The [suppliers.NAME] tables, by name; none need be there."""
    tables = root.section("suppliers")
    return {name: read_supplier(name, tables.section(name)) for name in tables.values}


def read_supplier(name: str, table: Section) -> Supplier:
    table.only("freight", "free_from", "minimum")
    if not name.strip():
        table.report_at(table.keys, "is no name of a supplier; write one, such as [suppliers.harbour]")
    freight = table.money("freight", ZERO)
    free_from = table.money("free_from", ZERO) if "free_from" in table.values else None
    if free_from is not None and "freight" not in table.values:
        table.report("free_from", "says nothing without freight; write what is paid until then, or leave this out")
    return Supplier(name, freight, free_from, table.money("minimum", ZERO))


def supplier_notes(suppliers: Mapping[str, Supplier], profiles: Mapping[str, Profile]) -> Iterator[str]:
    """Names that stand in stock or in a table of suppliers and not in the other, where there is any such table."""
    named = dict.fromkeys(entry.supplier for one in profiles.values() for entry in one.stock if entry.supplier)
    for name in [name for name in named if suppliers and name not in suppliers]:
        near = nearest(name, [other for other in suppliers if other not in named])
        asked = f"; was it to be {quoted(near)}?" if near else ""
        yield (f"supplier {quoted(name)}: has no [suppliers] table, so no freight and no minimum are reckoned with "
               f"there{asked}")
    for name in [name for name in suppliers if name not in named]:
        yield f"supplier {quoted(name)}: no stock of the shop file is bought there"
