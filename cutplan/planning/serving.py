"""Openings that changed after some of their pieces were cut: which of these still serve, and what is still to be cut.

A piece serves as it is where one of its profile, length and ends is asked for: first under its own mark, then for
another opening. It is shortened where what would be cut off is too little to be kept; a longer one goes to the rack as
an offcut, and the new plan cuts from it what it is worth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.ends import ends_in, lies_of
from cutplan.orders import EITHER, Order, Piece
from cutplan.planning.centring import free_lines
from cutplan.rack.booking import sets_left
from cutplan.rack.inhand import InHand
from cutplan.shop import Profile, Shop
from cutplan.takeoff import take_off


@dataclass(frozen=True)
class Serves:
    """`qty` pieces that were cut and serve as another that is asked for now, the same or shorter."""

    cut: InHand
    now: InHand
    qty: int

    @property
    def shorter(self) -> Fraction:
        """By how much they are to be shortened, along the top edge."""
        return self.cut.length - self.now.length


@dataclass(frozen=True)
class Over:
    """`qty` pieces that nothing asks for any more; `kept`: they go to the rack, else they are scrap."""

    cut: InHand
    qty: int
    kept: bool


@dataclass(frozen=True)
class Served:
    """Which pieces serve, which are left over, and the pieces that are still to be cut. Lengths in the shop's unit."""

    serves: tuple[Serves, ...]
    over: tuple[Over, ...]
    still: tuple[Piece, ...]


def serve(have: Counter[InHand], wanted: Sequence[Piece], shop: Shop) -> Served:
    """What the pieces in hand are good for, of all that is asked for now."""
    left = +have
    need = Counter({k: piece.qty for k, piece in enumerate(wanted)})
    found: list[Serves] = []
    for suits in (same_mark, same_size, shortened):
        for k in sorted(need, key=lambda k: -wanted[k].length):
            for cut in sorted(left, key=lambda one: (one.length, one.mark != wanted[k].mark, one.mark, one.lies)):
                profile = shop.profiles[wanted[k].profile]
                if not need[k] or not left[cut] or cut.profile != profile.name:
                    continue
                if (lies := suits(cut, wanted[k], profile)) is not None:
                    qty = in_sets(min(need[k], left[cut]), wanted[k], profile, suits is not same_mark)
                    now = InHand(profile.name, wanted[k].mark, wanted[k].for_, wanted[k].length, lies)
                    need[k] -= qty
                    left[cut] -= qty
                    found += [Serves(cut, now, qty)] if qty else []
    still = tuple(replace(piece, qty=need[k], each=sets_left(piece.each, need[k]) if piece.each else 0)
                  for k, piece in enumerate(wanted) if need[k])
    over = tuple(Over(cut, qty, goes_to_rack(cut, shop)) for cut, qty in left.items() if qty)
    return Served(tuple(found), over, still)


def centred_as_cut(have: Counter[InHand], orders: Sequence[Order], shop: Shop) -> dict[str, str]:
    """By mark, where the shop leaves it free how rails are centred: the way in which more of what was cut for them
    serves; the wider end gap where as much does."""
    free = {card.mark: card.centrings for card in free_lines(orders, shop)}
    found: dict[str, str] = {}
    for order in orders:
        own = Counter({cut: qty for cut, qty in have.items() if cut.for_ == order.mark})
        if order.mark in free and own:
            good = {way: sum(one.qty for one in serve(own, take_off([order], shop, {order.mark: way}).pieces,
                                                      shop).serves) for way in free[order.mark]}
            found[order.mark] = max(good, key=lambda way: good[way])
    return found


def same_mark(cut: InHand, piece: Piece, profile: Profile) -> str | None:
    """How a piece lies that serves as it is, for what it was cut for; None where it does not."""
    return same_size(cut, piece, profile) if cut.mark == piece.mark else None


def same_size(cut: InHand, piece: Piece, profile: Profile) -> str | None:
    """As `same_mark`, for whatever it was cut."""
    return cut.lies if cut.length == piece.length and cut.lies in lying_as(piece, profile) else None


def shortened(cut: InHand, piece: Piece, profile: Profile) -> str | None:
    """How a piece lies that is made by shortening this one; None where that cannot be, or would leave an offcut."""
    if profile.one_per_stick:
        return None
    (least, most), (top, bottom) = span(piece.length, piece.left_in, piece.right_in), inside(cut)
    room = (bottom - top) - (most - least)
    if room < 0 or (profile.keep_from is not None and room - profile.kerf >= profile.keep_from):
        return None
    if profile.routing is None:
        return lies_of("", piece.left_in, piece.right_in)
    pitch = profile.routing.pitch
    return next((lies for lies in lying_as(piece, profile) if room >= moved(cut.lies, lies, pitch)), None)


def moved(cut: str, now: str, pitch: Fraction) -> Fraction:
    """How much longer a rail must be for its middle to come on what it is asked to be on."""
    return Fraction(0) if cut == now else pitch


def lying_as(piece: Piece, profile: Profile) -> tuple[str, ...]:
    """The ways of lying that a piece may have."""
    if profile.routing is None:
        return (lies_of("", piece.left_in, piece.right_in),)
    return ("hole", "space") if piece.centred in ("", EITHER) else (piece.centred,)


def span(length: Fraction, left_in: Fraction, right_in: Fraction) -> tuple[Fraction, Fraction]:
    """From where to where a piece reaches along its top edge, which is 0 to its length."""
    return min(Fraction(0), left_in), max(length, length - right_in)


def inside(cut: InHand) -> tuple[Fraction, Fraction]:
    """From where to where a piece is there on both edges."""
    left_in, right_in = ends_in(cut.lies)
    return max(Fraction(0), left_in), min(cut.length, cut.length - right_in)


def in_sets(qty: int, piece: Piece, profile: Profile, whole: bool) -> int:
    """So many of them, in whole sets where pieces turned from blanks of one length belong together."""
    return qty - qty % piece.together if whole and profile.one_per_stick else qty


def goes_to_rack(cut: InHand, shop: Shop) -> bool:
    """Whether a piece is kept as an offcut."""
    profile = shop.profiles.get(cut.profile)
    if profile is None or profile.one_per_stick or profile.keep_from is None:
        return False
    begin, end = inside(cut)
    return end - begin >= profile.keep_from


def first_hole(cut: InHand, pitch: Fraction) -> Fraction:
    """How far the first hole of a rail is from either end: its middle is on a hole, or between two."""
    return (cut.length / 2 - (pitch / 2 if cut.lies == "space" else 0)) % pitch

