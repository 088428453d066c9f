"""What plans have left is planned again, with what came since or for a week that changed: a new plan replaces them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from shlex import quote

from cutplan.ends import ends_in
from cutplan.lengths import factor, quoted
from cutplan.orders import Order, Origin, Piece, clashing
from cutplan.planning.ordered import set_aside
from cutplan.planning.racked import on_rack
from cutplan.planning.result import Result
from cutplan.planning.serving import Over, Served, centred_as_cut, first_hole, inside, serve
from cutplan.planning.solve import solve
from cutplan.plans.plan import Plan
from cutplan.problems import InputProblems, Problem, suggest
from cutplan.rack import booking, changing, holding, register, replacing, waiting
from cutplan.rack.changing import Change, ToRack
from cutplan.rack.claims import Done, Known, claim, known, same_rest
from cutplan.rack.inhand import InHand
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import Rack, reading
from cutplan.rack.supply import Supply, tagged, with_on_hand
from cutplan.running.budget import Budget
from cutplan.shop import Shop
from cutplan.takeoff import Takeoff, take_off_all
from cutplan.takeoff.carried import as_fields


@dataclass(frozen=True)
class Replanned:
    """A new plan before it takes the place of `olds`, whose rests `come` with it; of a week that changed what becomes
    of pieces in hand, and the tags of those that are to be offcuts (None: the week is as it was)."""

    plan: Plan
    result: Result
    olds: tuple[Known, ...]
    come: tuple[Origin, ...]
    change: Change | None = None
    tags: tuple[str, ...] = ()

# ---- what is left ----


def left_of(rack: str, plans: Sequence[Known], shop: Shop) -> list[Piece]:
    """What is left of some plans, in the shop's unit, each piece with the file of its plan.

    InputProblems for a plan that another took over, or of which nothing is left, and for profiles that the shop has
    not.
    """
    problems: list[Problem] = []
    pieces: list[Piece] = []
    done: list[str] = []
    with reading(rack) as open_rack:
        for what in plans:
            try:
                left = booking.rest(open_rack, what)
            except InputProblems as wrong:
                problems += wrong.problems
                continue
            if not left:
                done.append(what.file)
            strange = {piece.profile: None for piece in left if piece.profile not in shop.profiles}
            problems += [Problem(what.file, 1, "profile", f"'{name}' is not in the shop file; "
                                 f"{suggest(name, shop.profiles)}") for name in strange]
            pieces += [replace(in_unit(piece, factor(what.plan.unit, shop.unit)), file=what.file, line=1)
                       for piece in left]
    others = len(done) < len(plans)
    right = "leave it out" if others else f"plan what came since with cutplan cut WEEK --rack {quote(rack)}"
    problems += [Problem(file, 1, "plan", f"nothing is left of it to be cut; {right}") for file in done]
    if problems:
        raise InputProblems(problems)
    return pieces


def in_unit(piece: Piece, inward: Fraction) -> Piece:
    return replace(piece, length=piece.length * inward, left_in=piece.left_in * inward,
                   right_in=piece.right_in * inward)


def with_more(plans: Sequence[Known], left: Sequence[Piece], more: Sequence[Order | Piece]) -> list[Order | Piece]:
    """What is left of plans and what came since, which can be cut together. InputProblems where it cannot."""
    work = [*left, *more]
    theirs = {str(card.get("mark")): what.file for what in plans for card in what.plan.cards}
    problems = [Problem(entry.file, entry.line, "mark", f"{quoted(entry.mark)} is a gate or bay of "
                        f"{theirs[entry.mark]} already; where its week changed, give all of the week as it is now with "
                        "--week; what is new needs a mark of its own")
                for entry in more if isinstance(entry, Order) and entry.mark in theirs]
    told = {(one.file, one.line) for one in problems}
    problems += [one for one in clashing(work) if (one.file, one.line) not in told]
    if problems:
        raise InputProblems(problems)
    return work


def replan(plans: Sequence[Known], work: Sequence[Order | Piece], free: Free, budget: Budget,
           weeks: Sequence[str] = (), job: str = "") -> Replanned:
    """A plan of what is left of plans, and of what came since in these `weeks`, for a `job`."""
    names = dict.fromkeys([*(name for what in plans for name in what.plan.weeks), *weeks])
    result = solve(work, free.supply.shop, budget, weeks=tuple(names), job=job)
    plan = with_cards(with_on_hand(result.plan, free.supply), plans)
    return Replanned(plan, result, tuple(plans), plan.replaces)


@dataclass(frozen=True)
class Free:
    """What there is to cut from, and the tags of the pieces laid on the rack for it."""

    supply: Supply
    tags: tuple[str, ...]


def free_without(rack: str, plans: Sequence[Known], shop: Shop, tags: bool, laid: Sequence[ToRack] = (), *,
                 on_hand: bool = False, others: Sequence[Known] = ()) -> Free:
    """What there is to cut from once these plans are retired, and these pieces laid on the rack; `on_hand`: its counted
    sticks first; what the `others` of an order need is left to them."""
    come: list[Offcut] = []

    def retired(open_rack: Rack) -> None:
        set_aside(open_rack, others)
        come.extend(changing.lay(open_rack, laid, "", shop.unit))

    own = [id_ for what in plans for id_ in (what.id, *(one.plan for one in what.plan.replaces))]
    supply = on_rack(rack, (), shop, tags, on_hand, retired, own)
    return Free(supply, tuple(one.tag for one in come))


def with_cards(plan: Plan, olds: Sequence[Known]) -> Plan:
    """The plan with the layout cards that its pieces were asked for by, where the old plans have them."""
    wanted = {entry.for_ for profile in plan.profiles for entry in profile.demand}
    own = {card.get("mark") for card in plan.cards}
    carried = [card for old in olds for card in old.plan.cards if card.get("mark") in wanted - own]
    return replace(plan, cards=(*carried, *plan.cards))


# ---- a week that changed ----


@dataclass(frozen=True)
class Serving:
    """What the pieces in hand are good for, the takeoff of the week as it is now, and the rests it takes the place of.
    """

    served: Served
    taken: Takeoff
    come: tuple[Origin, ...]


def serving(rack: str, plans: Sequence[Known], week: Sequence[Order | Piece], shop: Shop) -> Serving:
    """What the pieces in hand are good for, of all that the week as it is now asks for. InputProblems where what was
    cut is not known."""
    with reading(rack) as open_rack:
        come = tuple(dict.fromkeys(one for what in plans for one in booking.rest_of(open_rack, what)))
        have = booking.hand_of(open_rack, plans, shop.unit)
    orders = [entry for entry in week if isinstance(entry, Order)]
    taken = take_off_all(week, shop, centred_as_cut(have, orders, shop))
    return Serving(serve(have, taken.pieces, shop), taken, come)


def change_of(served: Served, shop: Shop) -> Change:
    """What the rack is to write down of pieces that serve otherwise than they were cut for, or no more."""
    made: Counter[InHand] = Counter()
    for one in served.serves:
        if one.cut != one.now:
            made[one.cut] -= one.qty
            made[one.now] += one.qty
    for over in served.over:
        made[over.cut] -= over.qty
    return Change(made, tuple(laid(over, shop) for over in served.over if over.kept))


def laid(over: Over, shop: Shop) -> ToRack:
    """A piece as an offcut: its shorter edge, its first hole, its ends."""
    begin, end = inside(over.cut)
    ends, profile = ends_in(over.cut.lies), shop.profiles[over.cut.profile]
    first = None if profile.routing is None else first_hole(over.cut, profile.routing.pitch)
    slope = next((end / profile.face for end in ends if end and profile.face), Fraction(0))
    return ToRack(over.cut, over.qty, end - begin, first, sum(not one for one in ends), slope)


def replan_week(plans: Sequence[Known], serving: Serving, change: Change, free: Free, budget: Budget,
                weeks: Sequence[str] = (), job: str = "") -> Replanned:
    """A plan of what `weeks` that changed still ask for, for a `job`; of nothing where all of it is cut."""
    result = solve(serving.served.still, free.supply.shop, budget, weeks=weeks, job=job)
    cards = tuple(as_fields(card) for card in serving.taken.cards)
    plan = replace(with_on_hand(result.plan, free.supply), cards=cards)
    return Replanned(plan, result, tuple(plans), serving.come, change, free.tags)


# ---- the old plans are retired ----


@dataclass(frozen=True)
class Retired:
    """The plan that took the place of others, with its numbers and tags; the offcuts that pieces became; what is to be
    said."""

    plan: Plan
    laid: tuple[Offcut, ...]
    notes: tuple[str, ...]


def retire(rack: Rack, new: Replanned, name: str, others: Sequence[Known] = ()) -> Retired:
    """The new plan takes over what is left of the old ones now: they are retired, and what they held is held for it;
    what the `others` of their order need is held for these.

    InputProblems where an old plan, or the rack's offcuts, changed meanwhile.
    """
    come = tuple(dict.fromkeys(one for old in new.olds for one in booking.rest_of(rack, old)))
    refuse_moved(new, come)
    for old in new.olds:
        if not register.is_named(rack, old.id):
            register.register(rack, old)
    set_aside(rack, others)
    held = holding.let_go(rack, same_rest(rack, [one.plan for one in come]))
    notes = [note for old in new.olds for note in register.older_copy(rack, old)]
    laid = changing.lay(rack, new.change.laid, name, new.plan.unit) if new.change else []
    if tuple(one.tag for one in laid) != new.tags:
        rack.refuse("offcuts", "somebody else changed the rack while this was planned; plan it again")
    for old in new.olds:  # of an order none is known here before
        register.register(rack, old)
    plan = tagged(replace(new.plan, replaces=come, first=register.next_number(rack, come)), rack)
    plan = replace(plan, week_changes=plan.week_changes + (new.change is not None))
    what = known(plan, name)
    notes += waiting.doubts(rack, plan) if new.change is None else ()
    register.register(rack, what)
    id_ = changing.enter(rack, what, new.change, laid, booking.pieces_left(plan, Done())) if new.change else None
    gone = list(replacing.take_over(rack, what, id_))
    if gone:
        notes.append(f"{name} takes over what was left of {' and '.join(gone)}: book it from now on; "
                     f"{rack.command('unbook', name)} takes that back")
    if held:
        taken = holding.write(rack, what, claim(rack, what, what.numbers))
        if taken.offcuts + taken.new:
            notes.append(f"what it needs of the rack is on hold for {name}")
    return Retired(plan, tuple(laid), tuple(notes))


def refuse_moved(new: Replanned, come: Sequence[Origin]) -> None:
    """InputProblems where more was booked of an old plan since it was planned again."""
    if new.come != tuple(come):
        raise InputProblems([Problem(new.olds[0].file, 1, "plan", "somebody booked of it while this was planned; plan "
                                     "it again")])
