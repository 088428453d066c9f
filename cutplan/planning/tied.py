"""Whether a plan is one of this shop and of this week: its rules, its lengths and prices, and the pieces it cuts.

Nothing of what makes plans is used here: what the files say, and what the rack wrote down as cut, is held against what
the plan says.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from cutplan.ends import ends_in, lies_of
from cutplan.lengths import exact_decimal, factor
from cutplan.orders import EITHER, Order, Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, purchases
from cutplan.problems import Problem
from cutplan.rack import USUAL_RACK, command
from cutplan.rack.booking import hand_of, pieces_left
from cutplan.rack.claims import Known, done
from cutplan.rack.inhand import InHand
from cutplan.rack.store import Rack
from cutplan.rack.waiting import replan_together
from cutplan.shop import Profile, Shop
from cutplan.takeoff import take_off, take_off_all

RULE_WORDS = {"kerf": "kerf", "head_trim": "trim at the head", "tail_trim": "trim at the tail",
         "keep_from": "length from which on offcuts are kept", "most_trim": "most that a blank may lose at an end"}
Key = tuple[str, str, Fraction, str]  # a piece's profile, mark, length and how it lies


@dataclass(frozen=True)
class Untied:
    """Where a plan is not of a shop and a week: what makes its cuts wrong, and prices that are others now; `partly`
    says that what was cut before the plan was not looked at."""

    problems: tuple[Problem, ...]
    prices: tuple[Problem, ...]
    partly: bool = False


@dataclass(frozen=True)
class SoFar:
    """What of a week is in hand, and what a plan still cuts of it, in the shop's unit."""

    hand: Counter[InHand]
    left: tuple[Piece, ...]


def so_far(rack: Rack, what: Known, shop: Shop) -> SoFar:
    """A week as its rack knows it. InputProblems where the plan may not be gone on with, or that is not known."""
    inward = factor(what.plan.unit, shop.unit)
    left = pieces_left(what.plan, done(rack, what.id))
    return SoFar(hand_of(rack, [what], shop.unit),
                 tuple(replace(one, length=one.length * inward, left_in=one.left_in * inward,
                               right_in=one.right_in * inward) for one in left))


@dataclass(frozen=True)
class AskedOf:
    """A shop and weeks (none: not compared), the weeks' files and the rack to name in advice, what of the weeks is cut
    so far (None: not known, or all is in the plan), the other plans that are for pieces of them, and of pieces that
    such plans cut to their end, by profile, mark and length, the plan."""

    shop: Shop
    week: Sequence[Order | Piece] = ()
    files: tuple[str, ...] = ()
    rack: str = USUAL_RACK
    so_far: SoFar | None = None
    others: tuple[str, ...] = ()
    done_with: Mapping[tuple[str, str, Fraction], str] = field(default_factory=dict)

    def partly(self, plan: Plan) -> bool:
        """Whether what was cut before a plan is not known."""
        return bool(plan.replaces) and self.so_far is None

    def replan(self, plan: str) -> str:
        """The command that plans the weeks as they are now."""
        return replan_together(self.rack, [plan, *self.others], self.files)


def untied(what: Known, asked: AskedOf) -> Untied:
    """Everything in which a plan differs from a shop and from a week."""
    plan, file, shop = what.plan, what.file, asked.shop
    problems: list[Problem] = []
    prices: list[Problem] = []
    again = f"plan what is left again with {command(asked.rack, 'replan', file)}"
    if not plan.replaces:
        again = f"plan again with cutplan cut, or, once any of it is booked, {again}"
    for one in plan.profiles:
        profile = shop.profiles.get(one.profile)
        if profile is None:
            problems.append(Problem(file, 1, one.profile, f"is not a profile of the shop file; {again}"))
            continue
        inward = factor(plan.unit, shop.unit)
        problems += [Problem(file, 1, one.profile, f"{fault}; {again}") for fault in rules(one, profile, inward)]
        problems += [Problem(file, 1, one.profile, f"{fault}; {again}") for fault in lengths(one, profile, inward)]
        prices += [Problem(file, 1, one.profile, fault) for fault in repriced(one, profile, inward, shop.currency)]
    if asked.week:
        problems += pieces(what, asked)
    return Untied(tuple(problems), tuple(prices), bool(asked.week) and asked.partly(plan))


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
        if not then[length] <= now[length] or (buys(one) and min(now[length]) < min(then[length])):
            before, after = (" or ".join(exact_decimal(price) for price in sorted(prices))
                             for prices in (then[length], now[length]))
            yield (f"a stick of {exact_decimal(length)} cost {before} {currency}".rstrip()
                   + f" when it was planned, and costs {after} now")


def pieces(what: Known, asked: AskedOf) -> Iterator[Problem]:
    """The pieces that the weeks ask for and that are neither cut nor in the plan, and the other way round; where what
    was cut before is not known, only what the plan cuts beyond what is asked."""
    there = counted(what.plan, asked)
    wanted, lines = wanted_of(asked, there)
    either_way(wanted, there)
    now = f"if the week is so now, plan it with {asked.replan(what.file)}"
    again = now
    if not what.plan.replaces and not asked.others:
        again = f"plan again with cutplan cut, or, once any of it is booked, {now}"
    where = f"{'cut or still ' if asked.so_far else ''}in {what.file}"
    for key in sorted(wanted.keys() | there.keys()):
        profile, mark, length, _ = key
        if wanted[key] > there[key] and not asked.partly(what.plan):
            piece = lines[key]
            right = again
            if by := asked.done_with.get(key[:3]):
                right = (f"{by} cut them: if they are these, leave their week out here, for {what.file} is not for it; "
                         "if they are others, they need a mark of their own")
            yield Problem(piece.file or what.file, max(1, piece.line), "mark", f"{mark}: {wanted[key]} of {profile} "
                          f"{exact_decimal(length)} asked for, {there[key]} {where}; {right}")
        elif there[key] > wanted[key]:
            yield Problem(what.file, 1, mark, f"{wanted[key]} of {profile} {exact_decimal(length)} asked for, "
                          f"{there[key]} {where}; {now}")


def wanted_of(asked: AskedOf, there: Counter[Key]) -> tuple[Counter[Key], dict[Key, Piece]]:
    """The pieces that the weeks ask for, each with a line that does; rails that the shop leaves free are centred as
    more of what is there is."""
    wanted: Counter[Key] = Counter()
    lines: dict[Key, Piece] = {}
    for piece in take_off_all(asked.week, asked.shop, centrings_there(asked, there)).pieces:
        wanted[key_of(piece)] += piece.qty
        lines[key_of(piece)] = piece
    return wanted, lines


def centrings_there(asked: AskedOf, there: Counter[Key]) -> dict[str, str]:
    """By mark, of each gate or bay whose rails may be centred either way, the way by which it has more of what is
    there; the wider end gap where both have as much."""
    orders = [entry for entry in asked.week if isinstance(entry, Order)]
    ways = {card.mark: card.centrings for card in take_off(orders, asked.shop).cards
            if asked.shop.systems[card.system].free_centring}
    found: dict[str, str] = {}
    for order in orders:
        agreeing = {way: sum(min(piece.qty, there[key_of(piece)])
                             for piece in take_off([order], asked.shop, {order.mark: way}).pieces)
                    for way in ways.get(order.mark, ())}
        if agreeing:
            found[order.mark] = max(agreeing, key=lambda way: agreeing[way])
    return found


def counted(plan: Plan, asked: AskedOf) -> Counter[Key]:
    """The pieces that a plan cuts; of a week that is cut in part, those in hand and those the plan has left."""
    found: Counter[Key] = Counter()
    if asked.so_far:
        for piece in asked.so_far.left:
            found[key_of(piece)] += piece.qty
        for one, qty in asked.so_far.hand.items():
            found[one.profile, one.mark, one.length, one.lies] += qty
        return found
    inward = factor(plan.unit, asked.shop.unit)
    for profile in plan.profiles:
        for entry in profile.demand:
            left, right = (end * inward for end in ends_in(entry.lies))
            found[profile.profile, entry.mark, entry.length * inward, how(entry.centred, left, right)] += entry.qty
    return found


def either_way(wanted: Counter[Key], there: Counter[Key]) -> None:
    """Counts rails that lie on a hole or on a space for those that may lie on either."""
    for key in list(wanted):
        for lies in ("hole", "space") if not key[3] else ():
            as_cut = (*key[:3], lies)
            if (spare := min(there[as_cut] - wanted[as_cut], wanted[key] - there[key])) > 0:
                there[as_cut] -= spare
                there[key] += spare


def key_of(piece: Piece) -> Key:
    return piece.profile, piece.mark, piece.length, how(piece.centred, piece.left_in, piece.right_in)


def how(centred: str, left_in: Fraction, right_in: Fraction) -> str:
    """How a piece lies, "either" being as good as nothing said."""
    return lies_of("" if centred == EITHER else centred, left_in, right_in)
