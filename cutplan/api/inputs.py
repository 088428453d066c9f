"""Shops, weeks and pieces from paths, open text files and DataFrames."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from cutplan import orders
from cutplan.orders import Order, Piece
from cutplan.problems import InputProblems, Problem, Source
from cutplan.shop import Shop, load_shop
from cutplan.tables import FrameLike

WorkInput = Source | FrameLike | Order | Piece


def read_shop(source: Source) -> Shop:
    """A shop file: saw, profiles with their stock, systems. Lengths become exact, in the file's own unit.

    Parameters
    ----------
    source
        The path of a TOML file, or one that is open for reading text.

    Raises
    ------
    InputProblems
        Everything that is wrong in it, each with its line and key.
    """
    return load_shop(source)


def read_week(source: Source | FrameLike, shop: Shop) -> tuple[Order, ...]:
    """The gates and bays of a week: columns mark, kind, system, qty, opening, height; all others are carried.

    Parameters
    ----------
    source
        A CSV file (path, or open for reading text) or a DataFrame. Lengths are texts as on a tape, whole numbers or
        Fractions; of a float that is not whole it is asked what it was to be.
    shop
        Whose systems they are, and in whose unit bare numbers are.

    Raises
    ------
    InputProblems
        Everything that is wrong, each with its line and column; a DataFrame's lines count from 2, under its header.
    """
    return orders.load_week(source, shop)


def read_pieces(source: Source | FrameLike, shop: Shop) -> tuple[Piece, ...]:
    """Pieces by length: columns mark, profile, length, qty and, where wanted, for, each, centred. As `read_week`."""
    return orders.load_pieces(source, shop)


def read_all(work: WorkInput | Iterable[WorkInput], shop: Shop) -> tuple[Order | Piece, ...]:
    """What is to be cut together, from files, DataFrames and records. InputProblems as in `read_week`, of all."""
    sources: Sequence[Any] = [work] if alone(work) else [*work]  # type: ignore[misc]
    found: list[Order | Piece] = []
    problems: list[Problem] = []
    for source in sources:
        if isinstance(source, Order | Piece):
            problems += unknown(source, shop)
            found.append(source)
            continue
        try:
            found += orders.load_orders(source, shop)
        except InputProblems as wrong:
            problems += wrong.problems
    problems = problems or orders.clashing(found)
    if problems:
        raise InputProblems(problems)
    return tuple(found)


def alone(work: object) -> bool:
    """Whether this is one file, frame or record, and not several."""
    return isinstance(work, str | Path | FrameLike | Order | Piece) or hasattr(work, "read")


def unknown(entry: Order | Piece, shop: Shop) -> list[Problem]:
    """What a record says that this shop does not have, or that no cut list can."""
    where = entry.file or "work", entry.line or 1
    told = []
    names, column = (shop.systems, "system") if isinstance(entry, Order) else (shop.profiles, "profile")
    if (name := getattr(entry, column)) not in names:
        told.append(Problem(*where, column, f"'{name}' is not a {column} of the shop; known: {', '.join(names)}"))
    if not isinstance(entry.qty, int) or entry.qty < 1:
        told.append(Problem(*where, "qty", f"{entry.qty!r} is not a whole number of at least 1"))
    lengths = ("opening", "height") if isinstance(entry, Order) else ("length",)
    for column in lengths:
        value = getattr(entry, column)
        if isinstance(value, float) or not value > 0:
            told.append(Problem(*where, column, f"{value!r} is no exact length of more than zero; give a Fraction"))
    return told
