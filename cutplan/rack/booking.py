"""A plan is cut: what it used leaves the rack, what it kept comes to it. And back again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.ends import lies_of, lying
from cutplan.lengths import exact_decimal, factor
from cutplan.orders import Origin, Piece
from cutplan.plans.numbers import runs, spanned
from cutplan.plans.plan import Numbered, Plan
from cutplan.plans.records import Demand
from cutplan.problems import InputProblems, Problem
from cutplan.rack import holding, inhand, replacing, rules, shelf, waiting
from cutplan.rack.choosing import EVERYTHING, Meant, choose
from cutplan.rack.claims import Claimed, Done, Known, chosen, claim, counted, done, free_of, origin, own, refuse
from cutplan.rack.inhand import InHand
from cutplan.rack.register import name_of, register, stood_for, taken_back, taking_back
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import Rack
from cutplan.rack.tags import is_tag


@dataclass(frozen=True)
class Booked:
    """A booking of some sticks of a plan, by their `numbers`. Lengths in the rack's unit.

    `drawn` counts the new sticks by profile and length, `left` what is then left of those that are counted; `waiting`
    are the plan's sticks that are still to be booked. `replaced` names the plans whose rest it takes over; `notes` is
    what is to be said; `good` is None, or of a stick that was spoiled how many of its pieces are good.
    """

    id: int
    name: str
    numbers: frozenset[int]
    used: tuple[Offcut, ...]
    kept: tuple[Offcut, ...]
    drawn: dict[tuple[str, Fraction], int]
    left: dict[tuple[str, Fraction], int]
    waiting: frozenset[int] = frozenset()
    replaced: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    good: int | None = None


def book(rack: Rack, what: Known, meant: Meant = EVERYTHING, name: str | None = None) -> Booked:
    """Books the sticks of a plan that are meant. What was ticked may be booked already: then nothing is changed.

    InputProblems where any of it was booked already, or something it uses is not there.
    """
    before = begun(rack, what)
    numbers, notes = choose(rack, what, meant, before)
    name = name or what.file
    if not numbers:
        return Booked(0, name, numbers, (), (), {}, {}, what.numbers - before.gone, (), tuple(notes))
    taken = claim(rack, what, numbers)
    return enter(rack, what, taken, SticksCut(numbers, name, tuple(keep(rack, what, taken, name)), notes=tuple(notes)))


def begun(rack: Rack, what: Known) -> Done:
    """What was done of a plan. InputProblems where it may not be gone on with."""
    before = done(rack, what.id)
    replacing.refuse_replaced(rack, what)
    if not before.gone:
        replacing.refuse_outrun(rack, what)
    return before


@dataclass(frozen=True)
class SticksCut:
    """Sticks of a plan to be booked as cut, the offcuts they leave, and under which name.

    good: None, or of one stick that was spoiled how many of its pieces are good
    """

    numbers: frozenset[int]
    name: str
    kept: tuple[Offcut, ...]
    good: int | None = None
    notes: tuple[str, ...] = ()


def enter(rack: Rack, what: Known, taken: Claimed, entry: SticksCut) -> Booked:
    """Writes a booking down: all that it changes on the rack, and between plans."""
    name, begins = entry.name, not done(rack, what.id).gone
    register(rack, what, name)
    id_ = rack.do("INSERT INTO bookings (plan, name, at, sticks) VALUES (?,?,?,?)",
                  what.id, name, rack.now, len(entry.numbers))
    rack.many("INSERT INTO booked (booking, first, last, good) VALUES (?,?,?,?)",
              [(id_, *run, entry.good) for run in runs(entry.numbers)])
    shelf.leave(rack, [one.tag for one in taken.offcuts], "used")
    shelf.remember(rack, "cut up", taken.offcuts, booking=id_, note=f"for {name}")
    shelf.put(rack, entry.kept)
    shelf.remember(rack, "kept", entry.kept, booking=id_, note=f"from {name}")
    left = dict(draw(rack, what, taken, id_, name))
    holding.let_go(rack, own(rack, what) - {what.id})
    holding.shorten(rack, what)
    notes = (*entry.notes, *(waiting.doubts(rack, what.plan) if begins else ()))
    replaced = tuple(replacing.take_over(rack, what, id_)) if begins else ()
    after = done(rack, what.id)
    waiting.remember_left(rack, id_, pieces_left(what.plan, after), what.plan.unit)
    good = Done(cut=entry.numbers) if entry.good is None else Done(spoiled=dict.fromkeys(entry.numbers, entry.good))
    inhand.write(rack, id_, inhand.cut_from(what.plan, good_sticks(what.plan, good)), what.plan.unit)
    rules.learn(rack, what.plan)
    drawn = {(part.profile, part.length): part.drawn for part in taken.new}
    return Booked(id_, name, entry.numbers, taken.offcuts, entry.kept, drawn, left, what.numbers - after.gone, replaced,
                  notes, entry.good)


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
            refuse_taken(rack, what, f"stick {one.first + k}", tag)
            source = f"{name}, stick {one.first + k}"
            yield Offcut(tag, profile.profile, left.length * inward, first, rack.now, source, sawn=sawn, plain=plain,
                         slope=left.slope)


def refuse_taken(rack: Rack, what: Known, stick: str, tag: str) -> None:
    if not is_tag(tag):
        refuse(what, stick, f"'{tag}' is no tag as cutplan writes them; plan again with "
                            f"{rack.command('replan', what.file)}")
    if rack.one("SELECT 1 FROM offcuts WHERE tag = ? AND state != 'taken back'", tag):
        refuse(what, stick, f"{tag} is the tag of another offcut of this rack; was the plan made with another one? "
                           f"plan again with {rack.command('replan', what.file)}")


def draw(rack: Rack, what: Known, taken: Claimed, id_: int, name: str) -> Iterator[tuple[tuple[str, Fraction], int]]:
    """Counts down the new sticks, as far as they are counted and not on hold for another plan: the others were bought
    for this one.

    A length of which there is only so much is counted from now on.
    """
    for part in taken.new:
        count = counted(rack, what, part)
        qty = part.limit if count is None else count.qty
        if count is None and qty is not None:
            rack.remember("counted", part.profile, exact_decimal(part.length), qty=qty, note=f"as {name} found it")
        if qty is not None:
            less = min(part.drawn, qty, part.there if count is None else free_of(count))
            shelf.set_count(rack, part.profile, part.length, qty - less)
            rack.remember("drawn", part.profile, exact_decimal(part.length), qty=less, booking=id_, note=f"for {name}")
            yield (part.profile, part.length), qty - less


# ---- taking back ----


def unbook(rack: Rack, plan: str, file: str) -> tuple[Booked, list[str]]:
    """Takes the last booking of a plan back, known by its fingerprint or by the booking's name; where none stands,
    that it took over what others had left when it was planned.

    Gives what it was, and what could not be put back as it was. InputProblems where there is none, or where something
    since depends on it.
    """
    row = rack.one("SELECT * FROM bookings WHERE undone IS NULL AND (plan = ? OR name = ?) ORDER BY id DESC",
                   plan, plan)
    if row is None:
        return unplan(rack, plan, file)
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
    notes = [f"{name} may go on from where it was" for name in replacing.give_back(rack, row["plan"], row["id"])]
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
    ended = [one["plan"] for one in rack.all("SELECT DISTINCT plan FROM holds") if taken_back(rack, one["plan"])]
    notes += [f"what {name} had on hold is free again" for name in holding.let_go(rack, ended)]
    booked = rack.all("SELECT first, last FROM booked WHERE booking = ?", row["id"])
    numbers = spanned((run["first"], run["last"]) for run in booked)
    undone = Booked(row["id"], row["name"], numbers, tuple(tags["cut up"]), tuple(tags["kept"]), drawn, left)
    return undone, notes


def can_be_taken_back(rack: Rack, booking: int) -> bool:
    """Whether a booking can be taken back now, once those of its plan that came later are."""
    later = rack.all("SELECT plan FROM bookings WHERE undone IS NULL AND id >= ? AND plan = (SELECT plan FROM bookings "
                     "WHERE id = ?)", booking, booking)
    try:
        with rack.as_if():
            for row in later:
                unbook(rack, row["plan"], "")
    except InputProblems:
        return False
    return True


def unplan(rack: Rack, plan: str, file: str) -> tuple[Booked, list[str]]:
    """A plan no longer stands for what those it replaces had left: these go on. InputProblems where it never did."""
    problems = [Problem(file, 1, "plan", fault) for fault in replacing.depends(rack, plan)]
    if problems:
        raise InputProblems(problems)
    names = replacing.give_back(rack, plan, None)
    if not names:
        raise InputProblems([Problem(file, 1, "plan", "has no booking on this rack; nothing is to be taken back")])
    rack.do("DELETE FROM holds WHERE plan = ?", plan)
    return (Booked(0, name_of(rack, plan), frozenset(), (), (), {}, {}),
            [f"{name} may go on from where it was" for name in names])


def depends(rack: Rack, tag: str, state: str) -> str:
    """What since depends on an offcut that a booking kept; "" for nothing."""
    if state == "scrapped":
        return f"{shelf.whereabouts(rack, tag)}; it is of what was cut, so the booking stands"
    if state != "here":
        row = rack.one("SELECT booking FROM history WHERE tag = ? AND what = 'cut up' ORDER BY id DESC", tag)
        assert row is not None, "the history says by what it was used"
        return f"{shelf.whereabouts(rack, tag)}; first take that back with {taking_back(rack, row['booking'])}"
    held = rack.one("SELECT name FROM holds WHERE tag = ?", tag)
    if not held:
        return ""
    let_go = rack.command("release", held["name"])
    return f"{tag}, which it kept, is held for {held['name']}; let it go with {let_go} first"


def recounted(rack: Rack, profile: str, length: Fraction, event: int) -> bool:
    """Whether somebody counted a length after an event."""
    return rack.one("SELECT 1 FROM history WHERE id > ? AND what = 'counted' AND profile = ? AND length = ?",
                    event, profile, exact_decimal(length)) is not None


# ---- what is cut, and what is still to be cut ----


def hand_of(rack: Rack, those: Sequence[Known], unit: str) -> Counter[InHand]:
    """What was cut for some plans and for all whose place they take, in a unit. InputProblems where that is not known.
    """
    come = [one.plan for what in those for one in rest_of(rack, what)]
    plans = stood_for(rack, come)
    if strange := inhand.unknown(rack, plans):
        cure = rack.command("rest", those[0].file, "--csv", "FILE")
        raise InputProblems([Problem(those[0].file, 1, "plan", f"which pieces were cut of {name} was not written down "
                                     f"by the cutplan it was booked with; list what is left with {cure}, and plan that")
                             for name in strange])
    return inhand.in_hand(rack, plans, unit)


def rest(rack: Rack, what: Known) -> list[Piece]:
    """The pieces of a plan that are not booked yet, in the plan's unit. InputProblems where another took them over."""
    come = rest_of(rack, what)
    return [replace(piece, origins=come) for piece in pieces_left(what.plan, done(rack, what.id))]


def rest_of(rack: Rack, what: Known) -> tuple[Origin, ...]:
    """What the rest of a plan is called now. InputProblems where another took it over, or it is out of date itself.

    Once it has taken over what it replaces, it stands for that by itself.
    """
    begun(rack, what)
    open_ = [one for one in what.plan.replaces if not replacing.has_taken_over(rack, what.id, one.plan)]
    return (origin(what, done(rack, what.id)), *open_)


CutPieces = Counter[tuple[int, str, Fraction, str]]  # how many, by profile, mark, length and how it lies


def pieces_cut(plan: Plan, so_far: Done) -> CutPieces:
    """What was cut of a plan so far, good pieces of spoiled sticks included."""
    cut: CutPieces = Counter()
    for one in good_sticks(plan, so_far):
        for piece in one.stick.cuts:
            cut[one.profile, piece.mark, piece.length, lies_of(piece.centred, *piece.asked_ends)] += one.stick.count
    return cut


def good_sticks(plan: Plan, so_far: Done) -> Iterator[Numbered]:
    """The sticks that were cut; of those that were spoiled with the pieces that are good."""
    yield from chosen(plan, so_far.cut)
    for number, good in so_far.spoiled.items():
        for one in chosen(plan, frozenset([number])):
            yield replace(one, stick=replace(one.stick, cuts=one.stick.cuts[:good]))


def pieces_left(plan: Plan, so_far: Done) -> list[Piece]:
    """The demand, less what was cut of it so far; a rail free to lie either way gives way last."""
    cut = pieces_cut(plan, so_far)
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
    cut: Counter[tuple[int, str, Fraction, Fraction]] = Counter()
    for one in good_sticks(what.plan, done(rack, what.id)):
        for piece in one.stick.cuts:
            cut[one.profile, piece.mark, piece.length, one.stick.length] += one.stick.count
    each = {(k, entry.mark, entry.length): entry.each
            for k, profile in enumerate(what.plan.profiles) for entry in profile.demand}
    return [Half(mark, length, blank, -n % each[k, mark, length])
            for (k, mark, length, blank), n in cut.items() if n % each[k, mark, length]]


def less(entry: Demand, k: int, cut: CutPieces) -> int:
    """How many pieces of an entry are still to be cut; takes those that are from `cut`."""
    wanted = entry.qty
    for lies in ("hole", "space") if entry.centred == "either" else (entry.lies,):
        key = k, entry.mark, entry.length, lies
        made = min(wanted, cut[key])
        cut[key] -= made
        wanted -= made
    return wanted
