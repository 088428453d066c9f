"""A plan that was made of what another had left takes that over when it is booked: no piece is cut for both."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from shlex import quote

from cutplan.orders import Order, Origin, Piece
from cutplan.plans.numbers import runs, spanned, sticks
from cutplan.problems import InputProblems, Problem
from cutplan.rack.claims import Done, Known, done, done_by, refuse
from cutplan.rack.register import (
    going_on,
    is_finished,
    is_named,
    last_successor,
    made_of,
    name_of,
    successor,
    taken_back,
    week_changes,
)
from cutplan.rack.store import Rack


def refuse_replaced(rack: Rack, what: Known) -> None:
    """InputProblems where another plan took over what this one had left."""
    if by := successor(rack, what.id):
        last = last_successor(rack, what.id)
        assert last is not None
        said = f"what was left of it was planned again: {by}, took it over"
        if is_finished(rack, last.plan):
            refuse(what, "plan", f"{said}, and nothing is left to be cut of {last.name}; plan what came since with "
                                 f"cutplan cut WEEK --rack {quote(rack.path)}")
        on = "that plan" if last == by else last.name
        refuse(what, "plan", f"{said}; go on with {on}, or take it back with {rack.command('unbook', last.name)}")


def depends(rack: Rack, plan: str) -> Iterator[str]:
    """Why a booking of a plan cannot be taken back; nothing where no other was made of what it left."""
    if by := successor(rack, plan):
        last = last_successor(rack, plan)
        yield f"{by}, was made of what it left; first {rack.command('unbook', last.name if last else by.name)}"


def refuse_outrun(rack: Rack, what: Known) -> None:
    """InputProblems where a plan was made of a rest that is no longer what is left, or for a change taken back."""
    those = list(dict.fromkeys([*made_of(rack, what.id), *(origin.plan for origin in what.plan.replaces)]))
    if any(taken_back(rack, plan) for plan in (what.id, *those)):
        again = rack.command("replan", *going_on(rack, those), "--week", "WEEK")
        refuse(what, "plan", f"was made for a week that changed, and that was taken back; plan the week as it is now "
                             f"again, with {again}")
    for origin in what.plan.replaces:
        if not has_taken_over(rack, what.id, origin.plan) and (fault := outrun(rack, origin)):
            refuse(what, "plan", fault)
    refuse_changed_unknown(rack, what)


def refuse_changed_unknown(rack: Rack, what: Known) -> None:
    """InputProblems where a plan rests on a change of its week that the rack knows nothing of."""
    earlier = [one.plan for one in what.plan.replaces]
    if week_changes(rack, [what.id, *earlier]) >= what.plan.week_changes:
        return
    lasting = dict.fromkeys(last.name if (last := last_successor(rack, plan)) else name_of(rack, plan)
                            for plan in earlier if is_named(rack, plan))
    again = rack.command("replan", *(lasting or ["PLAN"]), "--week", "WEEK")
    which = "" if lasting else f", where PLAN is what {rack.command('rack', 'plans')} shows as not done"
    refuse(what, "plan", "was made for a week that changed, and this rack knows nothing of that change: an older copy "
                         f"was put back, or this is another one. Put the right one back with "
                         f"{rack.command('rack', 'restore', 'COPY')}; if there is none, plan the week as it is now "
                         f"again with {again}{which}, and write the new tags on what became offcuts")


def refuse_stale(rack: Rack, work: Iterable[Order | Piece]) -> None:
    """InputProblems for pieces of a rest that is no longer what is left."""
    firsts: dict[Origin, Piece] = {}
    for piece in (entry for entry in work if isinstance(entry, Piece)):
        firsts.update((origin, piece) for origin in piece.origins if origin not in firsts)
    if problems := [Problem(one.file, one.line, "from_plan", fault) for origin, one in firsts.items()
                    if (fault := outrun(rack, origin))]:
        raise InputProblems(problems)


def outrun(rack: Rack, origin: Origin) -> str:
    """Why a rest is no longer what is left of its plan; "" where it is."""
    name = name_of(rack, origin.plan)
    if by := successor(rack, origin.plan):
        last = last_successor(rack, origin.plan) or by
        said = f"the rest of {name} was planned again: {by}, took it over"
        if is_finished(rack, last.plan):
            return f"{said}, and nothing is left to be cut of {last.name}"
        return f"{said}; plan what is left now again, with {rack.command('replan', last.name)}"
    now, then = done(rack, origin.plan), done_by(origin)
    if now == then:
        return ""
    said = (f"when the rest of {name} was listed, {booked_words(then, 'was', 'were', ' booked')} on its rack, and here "
            f"{booked_words(now, 'is', 'are')}")
    known = is_named(rack, origin.plan)
    if missing := list(never_told(rack, origin, then, name if known else "PLAN")):
        of = "" if known else f" (PLAN is the file of {name})"
        return (f"{said}, nor ever was: an older copy of the rack was put back, or this is another one. Put the right "
                f"one back with {rack.command('rack', 'restore', 'COPY')}; if there is none, book again first what was "
                f"cut: {' and '.join(missing)}{of}")
    return f"{said}; plan what is left now again, with {rack.command('replan', name)}"


def never_told(rack: Rack, origin: Origin, then: Done, name: str) -> Iterator[str]:
    """The commands that book what was done of a plan and what this rack never knew of, not even as taken back."""
    rows = rack.all("SELECT first, last FROM booked JOIN bookings ON bookings.id = booking WHERE plan = ?", origin.plan)
    strange = then.gone - spanned((row["first"], row["last"]) for row in rows)
    if cut := strange & then.cut:
        numbers = ",".join(str(first) if first == last else f"{first}-{last}" for first, last in runs(cut))
        yield rack.command("book", name, "--sticks", numbers)
    for number in sorted(strange - then.cut):
        good = then.spoiled[number]
        yield rack.command("spoil", name, str(number), *(["--good", str(good)] if good else []))


def booked_words(so_far: Done, one: str, more: str, booked: str = "") -> str:
    """Which sticks are done, before a verb."""
    if not so_far.gone:
        return f"{'no stick' if booked else 'none'} {one}{booked}"
    spoiled = f" ({sticks(so_far.spoiled)} spoiled)" if so_far.spoiled else ""
    return f"{sticks(so_far.gone)} {one if len(so_far.gone) == 1 else more}{booked}{spoiled}"


def has_taken_over(rack: Rack, plan: str, earlier: str) -> bool:
    """Whether a plan stands for what this other had left."""
    return (by := successor(rack, earlier)) is not None and by.plan == plan


def take_over(rack: Rack, what: Known, booking: int | None) -> Iterator[str]:
    """A plan stands for what those it replaces had left, from its first booking on, or from now on (None); these hold
    nothing any more.

    Gives the names of those that it had not taken over before.
    """
    for origin in what.plan.replaces:
        if not has_taken_over(rack, what.id, origin.plan):
            rack.do("INSERT INTO replaced (plan, by, at, booking) VALUES (?,?,?,?)",
                    origin.plan, what.id, rack.now, booking)
            rack.do("DELETE FROM holds WHERE plan = ?", origin.plan)
            yield name_of(rack, origin.plan)


def give_back(rack: Rack, plan: str, booking: int | None) -> list[str]:
    """The plans that a plan had taken over by a booking, or when it was planned (None), by name: they may go on now."""
    rows = rack.all("SELECT plan FROM replaced WHERE by = ? AND booking IS ?", plan, booking)
    rack.do("DELETE FROM replaced WHERE by = ? AND booking IS ?", plan, booking)
    return [name_of(rack, row["plan"]) for row in rows]
