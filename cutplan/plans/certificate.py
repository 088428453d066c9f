"""The certificate of a plan file: its form, read and checked."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from fractions import Fraction
from typing import Any

from cutplan.ends import lies_of
from cutplan.orders import CENTRINGS
from cutplan.plans.place import Place, as_number, shown
from cutplan.plans.records import SOURCES

CertifiedTrims = tuple[Fraction | None, Fraction | None]  # at the end squared first and the other; None: the profile's
CertifiedKind = tuple[Fraction, Fraction, str, Fraction, CertifiedTrims]  # length, price, source, first hole, trims
TEXT_IN_CERTIFICATE = ("tag",)  # what is text there even where it looks like "p/q"


def check_certificate(place: Place) -> None:
    """Reports what keeps the certificate from being understood; what it proves is not judged here."""
    place.get("coin").length()
    kinds = set(place.get("stock").each(read_kind, least=1))
    check_box(place.get("tree"), kinds)
    place.maybe("setups", None).or_none(check_setups)
    listed, limits = place.get("stock").value, place.maybe("setups", None).value
    if isinstance(listed, list) and isinstance(limits, dict) and isinstance(limits.get("limits"), list):
        endless = [isinstance(entry, dict) and entry.get("qty") is None for entry in listed]
        if len(endless) != len(limits["limits"]):
            place.get("setups").get("limits").report(f"are {len(limits['limits'])}; one for each entry of the stock "
                                                     "is needed")
        elif any(limit and no_end for limit, no_end in zip(limits["limits"], endless, strict=True)):
            place.get("setups").get("limits").report("charge for sticks of which there is no end; 0 is needed there")


def check_setups(place: Place) -> None:
    """The multipliers that prove a bound on set-ups."""
    place.get("scale").whole(1)
    place.get("unit").length()
    place.get("cost").whole(0)
    place.get("used").whole(0)
    place.get("duals").each(check_dual)
    place.get("limits").each(lambda limit: limit.whole(0))


def read_kind(place: Place) -> CertifiedKind:
    """What tells a stock entry from others."""
    place.get("qty").or_none(lambda qty: qty.whole(0))
    tag = place.get("tag").or_none(Place.text)
    if tag is not None and as_number(place.get("price").value):
        place.get("price").report(f"{shown(place.value['price'])} is asked for an offcut from the rack; 0 is needed")
    return kind_of(place, "new" if tag is None else "rack")


def kind_of(place: Place, source: str) -> CertifiedKind:
    head, tail = (place.maybe(key, None).or_none(Place.number) for key in ("head_trim", "tail_trim"))
    first = place.maybe("first", 0).number()
    return place.get("length").length(), place.get("price").number(), source, first, (head, tail)


def check_box(place: Place, kinds: Collection[CertifiedKind]) -> None:
    """One box of the tree: split in two by the number of sticks of a kind, or bounded by duals."""
    if isinstance(place.value, dict) and "stick" in place.value:
        stick = place.get("stick")
        if kind_of(stick, stick.get("source").one_of(SOURCES)) not in kinds:
            stick.report("is not in the certificate's stock; one of those is needed")
        place.get("at_most").whole(0)
        check_box(place.get("below"), kinds)
        check_box(place.get("above"), kinds)
    else:
        place.get("scale").whole(1)
        place.get("duals").each(check_dual)
        place.maybe("search", 0).number()
        place.maybe("cover", False).flag()
        place.maybe("pairs", None).or_none(check_pairs)


def check_pairs(place: Place) -> None:
    """Why so many sticks are not enough: a tree's nodes in a row, each before its halves."""
    place.get("sticks").whole(0)
    place.get("nodes").each(check_pair_node, least=1)


def check_pair_node(place: Place) -> None:
    """A pair of pieces that is glued and then kept apart, or the multipliers of a leaf."""
    if isinstance(place.value, dict) and "pair" in place.value:
        check_two(place.get("pair"))
    else:
        place.get("duals").each(lambda dual: dual.whole(0))
        place.get("rows").each(check_row)


def check_row(place: Place) -> None:
    """A subset row: its dual, and pieces with their weights, each as two numbers."""
    place.get("dual").whole(0)
    place.get("weights").each(check_two)


def check_two(place: Place) -> None:
    if len(place.each(lambda number: number.whole(0), least=2)) > 2:
        place.report("are more than two numbers; two are needed")


def lies_in(entry: Mapping[str, Any]) -> str:
    """How a piece that a dual speaks of is asked to lie."""
    return lies_of(entry.get("centred", ""), Fraction(entry.get("left_in", 0)), Fraction(entry.get("right_in", 0)))


def check_dual(place: Place) -> None:
    place.get("length").length()
    place.get("value").whole(0)
    place.maybe("centred", "").one_of(("", *CENTRINGS))
    place.maybe("left_in", 0).set_in()
    place.maybe("right_in", 0).set_in()


def numbers_again(value: Any, key: str = "") -> Any:
    """A certificate with its "p/q" texts turned back into numbers."""
    if isinstance(value, dict):
        return {name: numbers_again(part, name) for name, part in value.items()}
    if isinstance(value, list):
        return [numbers_again(part, key) for part in value]
    number = as_number(value) if isinstance(value, str) and key not in TEXT_IN_CERTIFICATE else None
    return value if number is None else number
