"""All hardware of some weeks, with what it comes to where prices stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from cutplan.printable import plain
from cutplan.sheets.words import Writer, aligned, titled
from cutplan.takeoff.cards import Card
from cutplan.takeoff.hardware import FittingTotal, totals


def totals_of(cards: Iterable[Card]) -> tuple[FittingTotal, ...]:
    return totals((card.qty, card.hardware) for card in cards)


def first_weeks(found: Sequence[FittingTotal], weeks: Sequence[Sequence[Card]]) -> tuple[int, ...]:
    """The first week, from 0, whose cards ask for each thing."""
    return tuple(next((k for k, cards in enumerate(weeks) if any(
        fitting.name == one.name for card in cards for fitting in card.hardware)), 0) for one in found)


def hardware_table(found: Sequence[FittingTotal], write: Writer) -> str:
    """Each thing with its number and its amount; the sum where some have a price, of those alone."""
    return f"{titled('Hardware')}\n{aligned(*hardware_rows(found, write))}"


def hardware_rows(found: Sequence[FittingTotal], write: Writer) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows of that table."""
    priced = [one.amount for one in found if one.amount is not None]
    rows: list[tuple[str, ...]] = [
        (plain(one.name), str(one.count), *([amount_text(one, write)] if priced else [])) for one in found]
    if priced:
        lacking = "" if len(priced) == len(found) else ", of what has a price"
        rows.append((f"total{lacking}", "", write.money(sum(priced, Fraction(0)))))
    return ("hardware", "number", *([write.priced("amount")] if priced else [])), rows


def amount_text(one: FittingTotal, write: Writer) -> str:
    return "no price" if one.amount is None else write.money(one.amount)


def as_json(found: Sequence[FittingTotal]) -> list[dict[str, object]]:
    """As the takeoff and the order carry it; an amount of None is not known."""
    return [{"name": one.name, "count": one.count, "amount": one.amount} for one in found]
