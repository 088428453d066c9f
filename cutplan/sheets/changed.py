"""A week that changed, in words: which cut pieces still serve, which go to the rack, what is still to be cut."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.planning.serving import Served, Serves
from cutplan.printable import plain
from cutplan.rack.shelf import Offcut
from cutplan.sheets.rack import WRITE_THEM, offcut_table, writer
from cutplan.sheets.words import Writer, aligned, counted, titled, wrapped
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff


def served_text(served: Served, shop: Shop) -> str:
    """Lengths in the shop's unit."""
    write = Writer(shop.unit, shop.tape)
    as_cut = sum(one.qty for one in served.serves if one.cut == one.now)
    still = sum(piece.qty for piece in served.still)
    parts = [f"{titled('What is cut already')}\n" + wrapped(
        f"{counted(as_cut, 'piece')} {'serves' if as_cut == 1 else 'serve'} as cut; "
        f"{counted(still, 'piece')} {'is' if still == 1 else 'are'} still to be cut, by the plan below.")]
    if other := [one for one in served.serves if one.cut != one.now]:
        rows = [(one.qty, plain(one.cut.mark), write.length(one.cut.length), plain(one.now.mark),
                 write.length(one.now.length), how(one, write)) for one in other]
        headings = ("qty", "was cut as", f"length, {shop.unit}", "is now", f"length, {shop.unit}", "to do")
        parts.append(f"{titled('Serves otherwise: write the new mark on it')}\n{aligned(headings, rows, 'rlrlrl')}")
    if served.over:
        gone = [(one.qty, plain(one.cut.mark), plain(one.cut.profile), write.length(one.cut.length),
                 "to the rack" if one.kept else "scrap") for one in served.over]
        goes = ("qty", "was cut as", "profile", f"length, {shop.unit}", "goes")
        parts.append(f"{titled('Serves nothing any more')}\n{aligned(goes, gone, 'rllrl')}")
    return "\n\n".join(parts)


def pinned_text(taken: Takeoff) -> str:
    """Where rails that are free keep the centring of what is cut of them, though the other has the wider end gap."""
    kept = [card for card in taken.cards if card.centrings and card.layout.centred != card.centrings[0]]
    return "\n".join(f"{plain(card.mark)}: its rails are centred on a {card.layout.centred}, {card.layout.count} "
                     f"pickets each, as what is cut for it; the wider end gap would be with their middle on a "
                     f"{card.centrings[0]}" for card in kept)


def how(one: Serves, write: Writer) -> str:
    """What is to be done with a piece."""
    if one.cut.lies == one.now.lies and not one.shorter:
        return ""
    if one.cut.lies in ("hole", "space"):
        at = f"its middle on a {one.now.lies}"
        return f"shorten by {write.length(one.shorter)}, {at}" if one.shorter else at
    return f"shorten by {write.length(one.shorter)}" if one.cut.lies == one.now.lies else "cut its ends anew"


def laid_text(laid: Sequence[Offcut], unit: str) -> str:
    """The pieces that went to the rack, with their tags."""
    return f"{titled('Came to the rack')}\n{offcut_table(laid, writer(unit))}\n{wrapped(WRITE_THEM)}"
