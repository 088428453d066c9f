"""The packing list: what lies together when a gate or bay is cut, counted off the sticks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.plans.plan import Plan
from cutplan.sheets.slopes import ends_text
from cutplan.sheets.words import Writer
from cutplan.takeoff.cards import Card

Kind = tuple[str, str, Fraction, str]  # a piece's mark, profile, length and angled ends


@dataclass(frozen=True)
class PackedLine:
    """So many like pieces, or so many of one thing that is screwed on (then of no length and no profile)."""

    id: str
    count: int
    length: Fraction | None
    what: str
    profile: str


@dataclass(frozen=True)
class Packed:
    """What is for one line of the week, or for none of them (no mark); `about` says what that is."""

    mark: str
    about: str
    lines: tuple[PackedLine, ...]


def packing(plan: Plan, cards: Sequence[Card], write: Writer) -> list[Packed]:
    """In the order of the cards, then what is for no gate or bay with one."""
    pieces: dict[str, Counter[Kind]] = {card.mark: Counter() for card in cards}
    for profile in plan.profiles:
        owners = {entry.mark: entry.for_ for entry in profile.demand}
        for stick in profile.sticks:
            for cut in stick.cuts:
                found = pieces.setdefault(owners.get(cut.mark, ""), Counter())
                ends = ends_text(*cut.asked_ends, profile.angles, write) if profile.angles else ""
                found[cut.mark, profile.profile, cut.length, ends] += stick.count
    of_card = {card.mark: card for card in cards}
    return [Packed(owner, about(of_card.get(owner)), tuple(lines(k, owner, found, of_card.get(owner))))
            for k, (owner, found) in enumerate(pieces.items()) if found]


def about(card: Card | None) -> str:
    if card is None:
        return ""
    return " \u00b7 ".join([f"{card.kind}, {card.system}, {card.qty} to make", *(said for _, said in card.remarks)])


def lines(k: int, owner: str, found: Counter[Kind], card: Card | None) -> Iterator[PackedLine]:
    """The pieces, then what is screwed on, of all that the card is for; each with a name for its box."""
    entries: list[tuple[int, Fraction | None, str, str]] = [
        (count, length, ", ".join(filter(None, (mark.removeprefix(owner).strip() or mark, ends))), profile)
        for (mark, profile, length, ends), count in found.items()]
    entries += [(card.qty * one.count, None, one.name, "") for one in card.hardware] if card else []
    for n, (count, length, what, profile) in enumerate(entries):
        yield PackedLine(f"packed{k}-{n}", count, length, what, profile)
