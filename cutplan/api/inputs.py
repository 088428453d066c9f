"""Shops, weeks and pieces from paths, open text files and DataFrames."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from cutplan import orders
from cutplan.callers import admit, script_line
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
    admit(source=no_file(source))
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
    admit(source="" if isinstance(source, FrameLike) else no_file(source), shop=no_shop(shop))
    return orders.load_week(source, shop)


def read_pieces(source: Source | FrameLike, shop: Shop) -> tuple[Piece, ...]:
    """Pieces by length: columns mark, profile, length, qty and, where wanted, for, each, centred. As `read_week`."""
    admit(source="" if isinstance(source, FrameLike) else no_file(source), shop=no_shop(shop))
    return orders.load_pieces(source, shop)


def read_all(work: Sequence[Any], shop: Shop) -> tuple[Order | Piece, ...]:
    """What is to be cut together, from files, DataFrames and records. InputProblems as in `read_week`, of all."""
    found: list[Order | Piece] = []
    problems: list[Problem] = []
    for source in work:
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


def several(work: object) -> list[Any]:
    """The files, frames and records that are given, alone or together."""
    alone = isinstance(work, str | bytes | Path | FrameLike | Order | Piece | Mapping) or hasattr(work, "read")
    return [*work] if isinstance(work, Iterable) and not alone else [work]


# ---- what is wrong with an argument; "" for nothing ----


def no_file(value: object) -> str:
    """With what is to be a path, or a file that is open for reading text."""
    if isinstance(value, str | Path):
        return ""
    if not callable(read := getattr(value, "read", None)):
        return f"{value!r} is no file; give a path, or a file that is open for reading text"
    try:
        return "" if isinstance(read(0), str) else "is open for reading bytes; open it for reading text"
    except (OSError, ValueError) as error:
        return f"cannot be read ({error}); give a file that is open for reading text"


def no_shop(value: object) -> str:
    return "" if isinstance(value, Shop) else f"{value!r} is no shop; give what read_shop made of one"


def no_shop_nor_file(value: object) -> str:
    fault = "" if isinstance(value, Shop) else no_file(value)
    return f"{fault}, or what read_shop made of one" if fault else ""


def no_work(sources: Sequence[object]) -> str:
    """With what is to be files, frames and records."""
    wrong = [fault for one in sources if not isinstance(one, FrameLike | Order | Piece) and (fault := no_file(one))]
    if wrong:
        return f"{wrong[0]}, a DataFrame, or records"
    return "" if sources else "is empty; give at least one file, DataFrame or record"


def no_records(sources: Sequence[object]) -> str:
    wrong = [one for one in sources if not isinstance(one, Order | Piece)]
    if wrong:
        return f"{wrong[0]!r} is no record; give what read_week or read_pieces made of a file, or call cut"
    return "" if sources else "is empty; give at least one record"


def unknown(entry: Order | Piece, shop: Shop) -> list[Problem]:
    """What a record says that this shop does not have, or that no cut list can."""
    where = (entry.file, entry.line or 1) if entry.file else script_line()
    told = []
    names, column = (shop.systems, "system") if isinstance(entry, Order) else (shop.profiles, "profile")
    if (name := getattr(entry, column)) not in [*names]:
        told.append(Problem(*where, column, f"{name!r} is not a {column} of the shop; known: {', '.join(names)}"))
    if not isinstance(entry.mark, str) or not entry.mark:
        told.append(Problem(*where, "mark", f"{entry.mark!r} is no text; write what it is to be called"))
    if not is_whole(entry.qty) or entry.qty < 1:
        told.append(Problem(*where, "qty", f"{entry.qty!r} is not a whole number of at least 1"))
    lengths = ("opening", "height") if isinstance(entry, Order) else ("length",)
    for column in lengths:
        value = getattr(entry, column)
        if not (isinstance(value, Fraction) or is_whole(value)) or not value > 0:
            told.append(Problem(*where, column, f"{value!r} is no exact length of more than zero; give a Fraction"))
    return told


def is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)
