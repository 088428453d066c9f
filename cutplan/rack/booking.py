"""A plan is cut: what it used leaves the rack, what it kept comes to it. And back again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.ends import lies_of, lying
from cutplan.lengths import exact_decimal, factor
from cutplan.orders import Origin, Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import Demand
from cutplan.problems import InputProblems, Problem
from cutplan.rack import holding, replacing, rules, shelf
from cutplan.rack.claims import Claimed, Known, booked_through, claim, refuse, stretch
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import Rack
from cutplan.rack.tags import is_tag


@dataclass(frozen=True)
class Booked:
    """A booking of the sticks from number `first` to `last` of a plan. Lengths in the rack's unit.

    `drawn` counts the new sticks by profile and length, `left` what is then left of those that are counted.
    `replaced` names the plans whose rest it takes over; `notes` is what is to be said.
    """

    id: int
    name: str
    first: int
    last: int
    sticks: int
    used: tuple[Offcut, ...]
    kept: tuple[Offcut, ...]
    drawn: dict[tuple[str, Fraction], int]
    left: dict[tuple[str, Fraction], int]
    replaced: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def book(rack: Rack, what: Known, through: int | None = None, name: str | None = None) -> Booked:
    """Books the plan from where its last booking ended to stick number `through` (None: to its end).

    InputProblems where that was booked already, or something it uses is not there.
    """
    done = booked_through(rack, what.id)
    replacing.refuse_replaced(rack, what)
    if not done:
        replacing.refuse_outrun(rack, what)
    last = what.sticks if through is None else through
    refuse_stretch(rack, what, done, last)
    taken = claim(rack, what, done + 1, last)
    name = name or what.file
    id_ = rack.do("INSERT INTO bookings (plan, name, at, first, last) VALUES (?,?,?,?,?)",
                  what.id, name, rack.now, done + 1, last)
    shelf.leave(rack, [one.tag for one in taken.offcuts], "used")
    shelf.remember(rack, "cut up", taken.offcuts, booking=id_, note=f"for {name}")
    kept = tuple(keep(rack, what, taken, name))
    shelf.put(rack, kept)
    shelf.remember(rack, "kept", kept, booking=id_, note=f"from {name}")
    left = dict(draw(rack, taken, id_, name))
    holding.shorten(rack, what, last)
    notes = () if done else tuple(replacing.doubts(rack, what.plan))
    replaced = () if done else tuple(replacing.take_over(rack, what, id_))
    replacing.remember_left(rack, id_, pieces_left(what.plan, last), what.plan.unit)
    rules.learn(rack, what.plan)
    drawn = {(part.profile, part.length): part.drawn for part in taken.new}
    return Booked(id_, name, done + 1, last, what.sticks, taken.offcuts, kept, drawn, left, replaced, notes)


def refuse_stretch(rack: Rack, what: Known, done: int, last: int) -> None:
    """InputProblems where the sticks up to number `last` cannot be booked next."""
    if done >= what.sticks:
        row = rack.one("SELECT at FROM bookings WHERE plan = ? AND undone IS NULL ORDER BY id DESC", what.id)
        when = row["at"][:10] if row else ""
        refuse(what, "plan", f"was booked to its last stick on {when}; nothing is left of it to book")
    if last <= done:
        refuse(what, "through", f"sticks 1 to {done} are booked already; a number from {done + 1} to {what.sticks} "
                                "is needed")
    if last > what.sticks:
        refuse(what, "through", f"the plan has {what.sticks} sticks, not {last}; a number from {done + 1} to "
                                f"{what.sticks} is needed")


def keep(rack: Rack, what: Known, taken: Claimed, name: str) -> Iterator[Offcut]:
    """The offcuts that these sticks leave, under their own tags, or new ones where the plan gives them none."""
    inward = factor(what.plan.unit, rack.unit)
    used = {offcut.tag: offcut for offcut in taken.offcuts}
    for one in taken.entries:
        if not one.stick.keep:
            continue
        profile = what.plan.profiles[one.profile]
        left = profile.left_by(one.stick)
        first = None if left.first is None else left.first * inward
        sawn, plain = left.sawn, left.plain * inward
        if one.stick.tag is not None:  # a plan does not tell of its far end where no trim is lost there
            before, turned = used[one.stick.tag], one.stick.turned
            if before.sawn == 2 or (before.sawn and turned):
                sawn = 1 if left.slope else 2
            plain = plain if turned else max(plain, before.plain)
        for k, tag in enumerate(one.stick.offcut_tags or shelf.new_tags(rack, one.stick.count)):
            refuse_taken(rack, what, f"profiles[{one.profile}].sticks[{one.entry}].offcut_tags", tag)
            source = f"{name}, stick {one.first + k}"
            yield Offcut(tag, profile.profile, left.length * inward, first, rack.now, source, sawn=sawn, plain=plain,
                         slope=left.slope)


def refuse_taken(rack: Rack, what: Known, path: str, tag: str) -> None:
    if not is_tag(tag):
        refuse(what, path, f"'{tag}' is no tag as cutplan writes them; plan again with cutplan cut --rack")
    if rack.one("SELECT 1 FROM offcuts WHERE tag = ? AND state != 'taken back'", tag):
        refuse(what, path, f"{tag} is the tag of another offcut of this rack; was the plan made with another one? "
                           "plan again with cutplan cut --rack")


def draw(rack: Rack, taken: Claimed, id_: int, name: str) -> Iterator[tuple[tuple[str, Fraction], int]]:
    """Counts down the new sticks, as far as they are counted: the others were bought for the plan.

    A length of which there is only so much is counted from now on.
    """
    for part in taken.new:
        counted = next((one.qty for one in shelf.counts(rack, part.profile) if one.length == part.length), None)
        if counted is None and part.limit is not None:
            counted = part.limit
            rack.remember("counted", part.profile, exact_decimal(part.length), qty=counted, note=f"as {name} found it")
        if counted is not None:
            less = min(part.drawn, counted)
            shelf.set_count(rack, part.profile, part.length, counted - less)
            rack.remember("drawn", part.profile, exact_decimal(part.length), qty=less, booking=id_, note=f"for {name}")
            yield (part.profile, part.length), counted - less


# ---- taking back ----


def unbook(rack: Rack, plan: str, file: str) -> tuple[Booked, list[str]]:
    """Takes the last booking of a plan back, known by its fingerprint or by the booking's name.

    Gives what it was, and what could not be put back as it was. InputProblems where there is none, or where something
    since depends on it.
    """
    row = rack.one("SELECT * FROM bookings WHERE undone IS NULL AND (plan = ? OR name = ?) ORDER BY id DESC",
                   plan, plan)
    if row is None:
        raise InputProblems([Problem(file, 1, "plan", "has no booking on this rack; nothing is to be taken back")])
    events = rack.all("SELECT * FROM history WHERE booking = ? ORDER BY id", row["id"])
    tags: dict[str, list[Offcut]] = {"cut up": [], "kept": []}
    problems = [Problem(file, 1, "plan", fault) for fault in replacing.depends(rack, row["plan"])]
    for event in events:
        if event["tag"] is not None:
            stored = rack.one("SELECT offcuts.*, NULL AS held FROM offcuts WHERE tag = ?", event["tag"])
            assert stored is not None, "the history names only what is stored"
            tags[event["what"]].append(shelf.offcut(stored))
            if event["what"] == "kept" and (fault := depends(rack, event["tag"], stored["state"])):
                problems.append(Problem(file, 1, "plan", fault))
    if problems:
        raise InputProblems(problems)
    shelf.leave(rack, [one.tag for one in tags["cut up"]], "here")
    shelf.leave(rack, [one.tag for one in tags["kept"]], "taken back")
    note = f"{row['name']} was not cut"
    shelf.remember(rack, "put back", tags["cut up"], note=note)
    shelf.remember(rack, "taken back", tags["kept"], note=note)
    drawn = {(event["profile"], Fraction(event["length"])): event["qty"] for event in events
             if event["what"] == "drawn"}
    notes = [f"{name} may go on from where it was" for name in replacing.give_back(rack, row["id"])]
    left = {}
    for (profile, length), qty in drawn.items():
        if recounted(rack, profile, length, events[-1]["id"]):
            notes.append(f"{profile} {exact_decimal(length)}: counted again since, so the count stays as it is")
            continue
        before = next(one.qty for one in shelf.counts(rack, profile) if one.length == length)
        shelf.set_count(rack, profile, length, before + qty)
        rack.remember("put back", profile, exact_decimal(length), qty=qty, note=note)
        left[profile, length] = before + qty
    rack.do("UPDATE bookings SET undone = ? WHERE id = ?", rack.now, row["id"])
    undone = Booked(row["id"], row["name"], row["first"], row["last"], row["last"], tuple(tags["cut up"]),
                    tuple(tags["kept"]), drawn, left)
    return undone, notes


def depends(rack: Rack, tag: str, state: str) -> str:
    """What since depends on an offcut that a booking kept; "" for nothing."""
    if state != "here":
        return f"{shelf.whereabouts(rack, tag)}; take that back first"
    held = rack.one("SELECT name FROM holds WHERE tag = ?", tag)
    return f"{tag}, which it kept, is held for {held['name']}; release that plan first" if held else ""


def recounted(rack: Rack, profile: str, length: Fraction, event: int) -> bool:
    """Whether somebody counted a length after an event."""
    return rack.one("SELECT 1 FROM history WHERE id > ? AND what = 'counted' AND profile = ? AND length = ?",
                    event, profile, exact_decimal(length)) is not None


# ---- what is still to be cut ----


def rest(rack: Rack, what: Known) -> list[Piece]:
    """The pieces of a plan that are not booked yet, in the plan's unit. InputProblems where another took them over."""
    replacing.refuse_replaced(rack, what)
    done = booked_through(rack, what.id)
    come = (Origin(what.id, done), *(() if done else what.plan.replaces))  # once booked, it stands for those by itself
    return [replace(piece, origins=come) for piece in pieces_left(what.plan, done)]


def pieces_left(plan: Plan, done: int) -> list[Piece]:
    """The demand, less what the sticks up to number `done` give; a rail free to lie either way gives way last."""
    cut: Counter[tuple[int, str, Fraction, str]] = Counter()
    for one in stretch(plan, 1, done):
        for piece in one.stick.cuts:
            cut[one.profile, piece.mark, piece.length, lies_of(piece.centred, *piece.asked_ends)] += one.stick.count
    left = []
    for k, profile in enumerate(plan.profiles):
        bound_first = sorted(range(len(profile.demand)), key=lambda d: profile.demand[d].centred == "either")
        still = {d: less(profile.demand[d], k, cut) for d in bound_first}
        left += [Piece(entry.mark, profile.profile, entry.length, still[d], entry.for_, **lying(entry.lies),
                       each=sets_left(entry.each, still[d]) if profile.one_per_stick else 0)
                 for d, entry in enumerate(profile.demand) if still[d]]
    return left


def sets_left(each: int, still: int) -> int:
    """How many of what is left belong together: all, where a part of them is cut."""
    return still if still % each else each


@dataclass(frozen=True)
class Half:
    """A set of turned pieces of which some are cut from blanks of a length; so many more belong to them."""

    mark: str
    length: Fraction
    blank: Fraction
    more: int


def halves(rack: Rack, what: Known) -> list[Half]:
    """The sets of a plan that are booked in part, in the plan's unit."""
    done = booked_through(rack, what.id)
    cut: Counter[tuple[int, str, Fraction, Fraction]] = Counter()
    for one in stretch(what.plan, 1, done):
        for piece in one.stick.cuts:
            cut[one.profile, piece.mark, piece.length, one.stick.length] += one.stick.count
    each = {(k, entry.mark, entry.length): entry.each
            for k, profile in enumerate(what.plan.profiles) for entry in profile.demand}
    return [Half(mark, length, blank, -n % each[k, mark, length])
            for (k, mark, length, blank), n in cut.items() if n % each[k, mark, length]]


def less(entry: Demand, k: int, cut: Counter[tuple[int, str, Fraction, str]]) -> int:
    """How many pieces of an entry are still to be cut; takes those that are from `cut`."""
    wanted = entry.qty
    for lies in ("hole", "space") if entry.centred == "either" else (entry.lies,):
        key = k, entry.mark, entry.length, lies
        made = min(wanted, cut[key])
        cut[key] -= made
        wanted -= made
    return wanted
