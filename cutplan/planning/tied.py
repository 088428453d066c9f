"""Whether a plan is one of this shop and of this week: its rules, its lengths and prices, and the pieces it cuts.

Nothing of what makes plans is used here: what the files say is held against what the plan says.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.ends import ends_in, lies_of
from cutplan.lengths import exact_decimal, factor
from cutplan.orders import EITHER, Order, Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, purchases
from cutplan.problems import Problem
from cutplan.shop import Profile, Shop
from cutplan.takeoff import take_off_all

RULE_WORDS = {"kerf": "kerf", "head_trim": "trim at the head", "tail_trim": "trim at the tail",
         "keep_from": "length from which on offcuts are kept", "most_trim": "most that a blank may lose at an end"}
AGAIN = "plan again with cutplan cut, or what is left with cutplan replan"


@dataclass(frozen=True)
class Untied:
    """Where a plan is not of a shop and a week: what makes its cuts wrong, and prices that are others now."""

    problems: tuple[Problem, ...]
    prices: tuple[Problem, ...]


def untied(plan: Plan, file: str, shop: Shop, week: Sequence[Order | Piece]) -> Untied:
    """Everything in which a plan, read from a file, differs from a shop and from a week (empty: not compared)."""
    problems: list[Problem] = []
    prices: list[Problem] = []
    for one in plan.profiles:
        profile = shop.profiles.get(one.profile)
        if profile is None:
            problems.append(Problem(file, 1, one.profile, f"is not a profile of the shop file; {AGAIN}"))
            continue
        inward = factor(plan.unit, shop.unit)
        problems += [Problem(file, 1, one.profile, f"{fault}; {AGAIN}") for fault in rules(one, profile, inward)]
        problems += [Problem(file, 1, one.profile, f"{fault}; {AGAIN}") for fault in lengths(one, profile, inward)]
        prices += [Problem(file, 1, one.profile, fault) for fault in repriced(one, profile, inward, shop.currency)]
    if week:
        problems += pieces(plan, file, shop, week)
    return Untied(tuple(problems), tuple(prices))


def rules(one: ProfilePlan, profile: Profile, inward: Fraction) -> Iterator[str]:
    """By which other rules the shop cuts a profile now."""
    for name, words in RULE_WORDS.items():
        then, now = getattr(one, name), getattr(profile, name)
        then = None if then is None else then * inward
        if then != now:
            yield f"its {words} is {said(then)} in the plan, and {said(now)} in the shop file"
    if one.one_per_stick != profile.one_per_stick:
        turned = [" not" * (not each) for each in (one.one_per_stick, profile.one_per_stick)]
        yield f"its pieces are{turned[0]} turned from blanks in the plan, and are{turned[1]} in the shop file"
    then_holes = one.routing and (one.routing.pitch * inward, one.routing.first * inward)
    now_holes = profile.routing and (profile.routing.pitch, profile.routing.first)
    if then_holes != now_holes:
        yield "its holes are elsewhere in the plan than in the shop file"


def said(length: Fraction | None) -> str:
    return "not said" if length is None else exact_decimal(length)


def sold_then(one: ProfilePlan, inward: Fraction) -> dict[Fraction, set[Fraction]]:
    """The prices of each length that a plan could draw new sticks of; what was there for nothing has none."""
    there = {length for length, n in one.on_hand if n}
    found: dict[Fraction, set[Fraction]] = {}
    for entry in one.certificate["stock"]:
        if entry["tag"] is None:
            length, price = Fraction(entry["length"]), Fraction(entry["price"])
            found.setdefault(length * inward, set()).update([price] if price or length not in there else [])
    return found


def sold_now(profile: Profile) -> dict[Fraction, set[Fraction]]:
    found: dict[Fraction, set[Fraction]] = {}
    for entry in profile.stock:
        found.setdefault(entry.length, set()).add(entry.price)
    return found


def buys(one: ProfilePlan) -> bool:
    """Whether anything is still to be bought: in the plans of an order nothing is, nor was it to be chosen."""
    return any(bought.missing for bought in purchases(one))


def lengths(one: ProfilePlan, profile: Profile, inward: Fraction) -> Iterator[str]:
    """The lengths that a plan draws and that are not sold; those that are sold and that it could not choose, where it
    buys anything."""
    then, now = sold_then(one, inward), sold_now(profile)
    drawn = {stick.length * inward for stick in one.sticks if stick.tag is None}
    for length in sorted(drawn - now.keys()):
        yield f"it draws sticks of {exact_decimal(length)}, and the shop file has no such length"
    for length in sorted(now.keys() - then.keys()) if buys(one) else ():
        yield f"the shop file has sticks of {exact_decimal(length)}, and the plan had none to choose from"


def repriced(one: ProfilePlan, profile: Profile, inward: Fraction, currency: str) -> Iterator[str]:
    """The lengths whose price is another now; what is proven of the plan's cost is proven at its own prices."""
    then, now = sold_then(one, inward), sold_now(profile)
    for length in sorted(length for length in then.keys() & now.keys() if then[length]):
        if then[length] != now[length] if buys(one) else not then[length] <= now[length]:
            before, after = (" or ".join(exact_decimal(price) for price in sorted(prices))
                             for prices in (then[length], now[length]))
            yield (f"a stick of {exact_decimal(length)} cost {before} {currency}".rstrip()
                   + f" when it was planned, and costs {after} now")


def pieces(plan: Plan, file: str, shop: Shop, week: Sequence[Order | Piece]) -> Iterator[Problem]:
    """The pieces that the week asks for and the plan does not cut, and the other way round; of a plan of what others
    left, which has not all of them, only what it cuts beyond what is asked."""
    inward = factor(plan.unit, shop.unit)
    centred = {entry.for_: entry.centred for one in plan.profiles for entry in one.demand
               if entry.centred in ("hole", "space")}
    asked: Counter[tuple[str, str, Fraction, str]] = Counter()
    lines: dict[tuple[str, str, Fraction, str], Piece] = {}
    for piece in take_off_all(week, shop, centred).pieces:
        key = piece.profile, piece.mark, piece.length, how(piece.centred, piece.left_in, piece.right_in)
        asked[key] += piece.qty
        lines[key] = piece
    cut: Counter[tuple[str, str, Fraction, str]] = Counter()
    for one in plan.profiles:
        for entry in one.demand:
            left, right = (end * inward for end in ends_in(entry.lies))
            cut[one.profile, entry.mark, entry.length * inward, how(entry.centred, left, right)] += entry.qty
    for key in sorted(asked.keys() | cut.keys()):
        profile, mark, length, _ = key
        if asked[key] > cut[key] and not plan.replaces:
            piece = lines[key]
            yield Problem(piece.file or file, max(1, piece.line), "mark", f"{mark}: {asked[key]} of {profile} "
                          f"{exact_decimal(length)} are asked for, and {file} cuts {cut[key]}; {AGAIN}")
        elif cut[key] > asked[key]:
            yield Problem(file, 1, mark, f"{cut[key]} of {profile} {exact_decimal(length)} are cut, and the week asks "
                          f"for {asked[key]}; plan the week as it is now with cutplan replan --week")


def how(centred: str, left_in: Fraction, right_in: Fraction) -> str:
    """How a piece lies, "either" being as good as nothing said."""
    return lies_of("" if centred == EITHER else centred, left_in, right_in)
