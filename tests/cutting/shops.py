"""Small shops and instances for the cutting tests, and a textbook model to hold the cutter against."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.records import ProfilePlan
from cutplan.shop import Profile, Shop, Stock

Entry = tuple[object, object, int | None]


def profile(stock: Iterable[Entry], kerf: object = 0, **rules: object) -> Profile:
    """A rail sold in these (length, price, quantity) entries."""
    entries = tuple(Stock(Fraction(str(length)), Fraction(str(price)), qty) for length, price, qty in stock)
    return Profile("rail", "rail", entries, Fraction(str(kerf)), **rules)  # type: ignore[arg-type]


def shop(rail: Profile) -> Shop:
    return Shop("", "in", "", rail.kerf, None, 1, Fraction(1, 16), {"rail": rail}, {})


def pieces(demand: Mapping[object, int]) -> list[Piece]:
    return [Piece(f"P{length}", "rail", Fraction(str(length)), qty) for length, qty in demand.items()]


def cut(rail: Profile, demand: Mapping[object, int]) -> ProfilePlan:
    """The plan of one profile."""
    return cut_pieces(pieces(demand), shop(rail)).profiles[0]


def patterns(rail: Profile, lengths: list[Fraction], demand: list[int], usable: Fraction) -> list[tuple[int, ...]]:
    """Every way to cut a stick with so much between its trims, by the fit rule alone (no code of the cutter)."""
    found: list[tuple[int, ...]] = []

    def extend(i: int, counts: list[int]) -> None:
        if i == len(lengths):
            if n := sum(counts):
                used = sum(a * length for a, length in zip(counts, lengths, strict=True)) + (n - 1) * rail.kerf
                if used <= usable:
                    found.append(tuple(counts))
            return
        for a in range(demand[i] + 1):
            used = sum(b * length for b, length in zip([*counts, a], lengths, strict=False))
            if used > usable:
                break
            extend(i + 1, [*counts, a])

    extend(0, [])
    return found
