"""A spoiled piece is cut again, from what is free on the rack now."""

from __future__ import annotations

from dataclasses import replace

from cutplan.lengths import exact_decimal
from cutplan.orders import Piece
from cutplan.planning.solve import solve
from cutplan.plans.plan import Plan
from cutplan.problems import InputProblems, NoPlan, Problem, nearest
from cutplan.rack import rules, shelf
from cutplan.rack.booking import Booked, book
from cutplan.rack.claims import known
from cutplan.rack.store import Rack
from cutplan.rack.supply import Supply, tagged, with_on_hand
from cutplan.shop import TAPES, Shop


def shop_of(rack: Rack, name: str) -> Shop:
    """A shop of one profile, by the rule the rack last saw it cut by. InputProblems where it never did."""
    profile = rules.rule(rack, name)
    if profile is None:
        near = nearest(name, shelf.profiles(rack))
        asked = f"did you mean '{near}'? Else give" if near and near != name else "give"
        what = f"how this profile is cut is not known to this rack; {asked} the shop file with --shop"
        raise InputProblems([Problem(rack.path, 1, name, what)])
    return Shop("", rack.unit, "", profile.kerf, None, 1, TAPES[rack.unit], {name: profile}, {})


def recut(found: Supply, piece: Piece) -> Plan:
    """The best plan for a piece from what is free and there: least cost, so offcuts before new sticks, and so on.

    Raises NoPlan where nothing of that is long enough, FailedAudit as `solve` does.
    """
    profile = found.shop.profiles[piece.profile]
    there = dict(found.on_hand.get(profile.name, ()))
    stock = tuple(entry if entry.tag is not None else replace(entry, qty=there.get(entry.length, 0))
                  for entry in profile.stock)
    if not any(entry.qty for entry in stock):
        names, cells = (",".join(line) for line in zip(*as_listed(piece, found.shop.unit), strict=True))
        right = ("let go of what a plan holds with cutplan release PLAN, or plan it with a new stick: write the two "
                 f"lines {names} and {cells} in a file piece.csv, then cutplan cut piece.csv --shop SHOP")
        raise NoPlan(f"{profile.name}: nothing of it on this rack is free; {right}")
    only = replace(found.shop, profiles={profile.name: replace(profile, stock=stock)})
    return with_on_hand(solve([piece], only).plan, found)


def book_piece(rack: Rack, plan: Plan) -> tuple[Plan, Booked]:
    """Books the plan of a piece, with the tags of what it keeps. InputProblems where what it is cut from was taken
    since it was found."""
    plan = tagged(plan, rack)
    try:
        return plan, book(rack, known(plan, next_name(rack)))
    except InputProblems:
        raise InputProblems([Problem(rack.path, 1, plan.profiles[0].profile, "what the piece was to be cut from was "
                                     "taken for something else in this very moment, and nothing is booked; give the "
                                     "same command again: it takes the best that is free then")]) from None


def as_listed(piece: Piece, unit: str) -> list[tuple[str, str]]:
    """The columns of a piece in a list of pieces, and what stands in them."""
    measured = {name: f"{exact_decimal(length)} {unit}" for name, length in (
        ("left_in", piece.left_in), ("right_in", piece.right_in)) if length}
    centred = {"centred": piece.centred} if piece.centred else {}
    return [("mark", piece.mark), ("profile", piece.profile), ("length", f"{exact_decimal(piece.length)} {unit}"),
            ("qty", str(piece.qty)), *centred.items(), *measured.items()]


def next_name(rack: Rack) -> str:
    """What the next booking of a piece cut again is called."""
    row = rack.one("SELECT count(*) AS n FROM bookings WHERE name LIKE 'recut-%'")
    return f"recut-{1 + (row['n'] if row else 0)}"
