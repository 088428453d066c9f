"""Goes through a finished plan with nothing but the records: no line of the optimiser is used here.

Demand met exactly, every stick within the kerf and trim rule, offcuts, counts and totals adding up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping
from fractions import Fraction

from cutplan.checking.arrangement import arrangement_of
from cutplan.lengths import Ratio, added
from cutplan.lengths import exact_decimal as said
from cutplan.plans.plan import Plan
from cutplan.plans.records import ProfilePlan, Stick

EntryKind = tuple[str | None, Ratio, Ratio, Ratio, Ratio, Ratio]  # tag, length, price, first hole, trims


def audit(plan: Plan) -> list[str]:
    """Everything wrong with a plan, each with the place it is in; empty where the plan is right."""
    found = []
    for k, profile in enumerate(plan.profiles):
        where = f"profiles[{k}]"
        for check in (demand, sets, stock, totals, tiers):
            found += [f"{where}.{named(text, profile)}" for text in check(profile)]
        for s, stick in enumerate(profile.sticks):
            found += [f"{where}.sticks[{s}]{named(text, profile)}" for text in one_stick(profile, stick)]
        found += [f"{where}.{named(text, profile)}" for text in saw(plan, profile)]
    return found + list(offcut_tags(plan))


def named(text: str, profile: ProfilePlan) -> str:
    """What is wrong at a place, with the profile's name after the place."""
    place, _, what = text.partition(": ")
    return f"{place}: {profile.profile}: {what}"


def offcut_tags(plan: Plan) -> Iterator[str]:
    """No tag is given to two offcuts, nor to one while another has it."""
    seen = {stick.tag for profile in plan.profiles for stick in profile.sticks if stick.tag is not None}
    for k, profile in enumerate(plan.profiles):
        for s, stick in enumerate(profile.sticks):
            for tag in stick.offcut_tags:
                if tag in seen:
                    yield f"profiles[{k}].sticks[{s}].offcut_tags: {tag} stands twice in the plan; once is right"
                seen.add(tag)


def demand(profile: ProfilePlan) -> Iterator[str]:
    """Each mark and length is cut as often as it was asked for."""
    asked: Counter[tuple[str, int, int]] = Counter()
    for entry in profile.demand:
        asked[entry.mark, *entry.length.as_integer_ratio()] += entry.qty
    made: Counter[tuple[str, int, int]] = Counter()
    for stick in profile.sticks:
        for cut in stick.cuts:
            made[cut.mark, *cut.length.as_integer_ratio()] += stick.count
    yield from arrangement_of(profile).demand()
    for mark, top, bottom in sorted(asked.keys() | made.keys()) if asked != made else ():
        want, there = asked[mark, top, bottom], made[mark, top, bottom]
        if want != there:
            yield f"demand: {mark} of {said(Fraction(top, bottom))}: {want} asked for, {there} cut"


def sets(profile: ProfilePlan) -> Iterator[str]:
    """Turned pieces that belong together come from blanks of one length."""
    if not profile.one_per_stick and all(entry.each == 1 for entry in profile.demand):
        return
    asked: dict[tuple[str, Fraction], list[tuple[int, int]]] = {}
    for d, entry in enumerate(profile.demand):
        if entry.each != 1 and not profile.one_per_stick:
            yield f"demand[{d}].each: {entry.each}, but only pieces turned from blanks belong together"
        if entry.qty % entry.each:
            yield f"demand[{d}].each: {entry.each}, but {entry.qty} is no whole number of times that"
        asked.setdefault((entry.mark, entry.length), []).append((entry.each, entry.qty // entry.each))
    if not profile.one_per_stick:
        return
    made: dict[tuple[str, Fraction], Counter[Fraction]] = {}
    for stick in profile.sticks:
        for cut in stick.cuts:
            made.setdefault((cut.mark, cut.length), Counter())[stick.length] += stick.count
    for (mark, length), alike in asked.items():
        blanks = made.get((mark, length), Counter())
        if len({each for each, _ in alike}) > 1:
            yield f"demand: {mark} of {said(length)} stands there with two values of each; one mark has one"
        elif any(count % alike[0][0] for count in blanks.values()):
            each = " and ".join(f"{count} from blanks of {said(stick)}" for stick, count in sorted(blanks.items()))
            yield f"demand: {mark} of {said(length)}: {each}; {alike[0][0]} from blanks of one length would be right"


def one_stick(profile: ProfilePlan, stick: Stick) -> Iterator[str]:
    """One stick's cuts follow each other with a kerf between, inside the trims, and leave the offcut stated."""
    if stick.count < 1:
        yield f".count: {stick.count} sticks; at least 1 would be right"
    if not stick.cuts:
        yield ".cuts: nothing is cut from this stick"
        return
    if stick.offcut_tags and not (stick.keep and len(stick.offcut_tags) == stick.count):
        yield f".offcut_tags: {len(stick.offcut_tags)} tags; one for each offcut that is kept would be right"
    if stick.source == "rack" and (stick.tag is None or stick.count != 1):
        yield ".tag: an offcut from the rack has a tag and is there once"
    yield from own_trims(profile, stick)
    at = stick.head_trim
    if profile.one_per_stick:
        if len(stick.cuts) > 1:
            yield ".cuts: this profile yields one piece from each blank"
        at = (stick.length - stick.cuts[0].length) / 2
        if at < stick.head_trim or at < stick.tail_trim:
            yield ".cuts[0].start: equal trims at both ends would be less than the squaring cut"
        if profile.most_trim is not None and at > profile.most_trim:
            yield f".cuts[0].start: {said(at)} is lost at each end; at most {said(profile.most_trim)} would be right"
    yield from arrangement_of(profile).cuts(stick, at)
    yield from what_is_left(profile, stick)


def own_trims(profile: ProfilePlan, stick: Stick) -> Iterator[str]:
    """Only a sawn end of an offcut needs no trim; it is squared first, or comes last where that end would lose more."""
    head, tail = stick.head_trim, stick.tail_trim
    if (head, tail) == (profile.head_trim, profile.tail_trim):
        return
    if stick.tag is None or profile.one_per_stick:
        yield (f".head_trim: {said(head)}, and {said(tail)} at the tail; only an offcut's sawn ends differ from the "
               "profile's")
        return
    if head and (head != profile.head_trim or tail):
        yield f".head_trim: {said(head)}, but nothing is lost at a sawn end, which is squared first"
    if tail not in (0, profile.tail_trim) and not arrangement_of(profile).tail_may_be(tail):
        yield f".tail_trim: {said(tail)}, but {said(profile.tail_trim)} would be right, or 0 where that end is sawn too"
    both_sawn = tail == 0 and profile.tail_trim > 0
    if stick.turned and not both_sawn:
        yield ".turned: its end that is not sawn would be squared first, with no trim"


def what_is_left(profile: ProfilePlan, stick: Stick) -> Iterator[str]:
    """What is in hand once the last piece is cut off; of a turned blank, both ends beyond their trims and a kerf."""
    if profile.one_per_stick:
        lost = stick.head_trim + stick.cuts[0].length + profile.kerf + stick.tail_trim
    else:
        lost = arrangement_of(profile).used(stick)
    offcut = max(stick.length - lost, Fraction(0))
    if stick.offcut != offcut:
        yield f".offcut: {said(stick.offcut)}, but {said(offcut)} would be right"
    keep = profile.keep_from is not None and offcut >= profile.keep_from and not profile.one_per_stick
    if stick.keep != keep:
        yield f".keep: {stick.keep}, but {keep} would be right"


def stock(profile: ProfilePlan) -> Iterator[str]:
    """Every stick is of a length and price that the stock has, and no more are drawn than there are."""
    listed = profile.certificate.get("stock")
    if not isinstance(listed, list):
        yield "proof.certificate.stock: missing; the lengths this profile is sold in would be right"
        return
    drawn: Counter[EntryKind] = Counter()
    for stick in profile.sticks:
        drawn[entry_kind(stick.tag, stick.length, stick.price, stick.first, stick.head_trim,
                         stick.tail_trim)] += stick.count
    there: dict[EntryKind, int | None] = {}
    for k, entry in enumerate(listed):
        head = Fraction(entry.get("head_trim", profile.head_trim))
        tail = Fraction(entry.get("tail_trim", profile.tail_trim))
        if entry["tag"] is None and (head, tail) != (profile.head_trim, profile.tail_trim):
            yield f"proof.certificate.stock[{k}]: new stock has trims of its own; the profile's would be right"
        key = entry_kind(entry["tag"], Fraction(entry["length"]), Fraction(entry["price"]),
                         Fraction(entry.get("first", 0)), head, tail)
        had = there.get(key, 0)
        there[key] = None if had is None or entry["qty"] is None else had + entry["qty"]
    taken: Counter[EntryKind] = Counter()
    for key, count in drawn.items():
        taken[turned_round(profile, key, there)] += count
    for key, count in taken.items():
        has = there.get(key, 0)
        if has is not None and count > has:
            length, price = (said(Fraction(*ratio)) for ratio in key[1:3])
            yield f"sticks: {count} of length {length} at {price} are drawn, the stock has {has}"


def turned_round(profile: ProfilePlan, key: EntryKind, there: Mapping[EntryKind, int | None]) -> EntryKind:
    """The entry that a stick comes from: an offcut whose one sawn end may come last may lie the other way, too."""
    tag, *same, head, tail = key
    other = (tag, *same, profile.head_trim.as_integer_ratio(), (0, 1))
    if key in there or tag is None or (head, tail) != ((0, 1), profile.tail_trim.as_integer_ratio()):
        return key
    return other if other in there else key  # type: ignore[return-value]


def entry_kind(tag: str | None, length: Fraction, price: Fraction, first: Fraction | None, head: Fraction,
         tail: Fraction) -> EntryKind:
    """What tells sticks of the stock apart, as ratios: these are found again much sooner than Fractions."""
    return (tag, length.as_integer_ratio(), price.as_integer_ratio(), (first or Fraction(0)).as_integer_ratio(),
            head.as_integer_ratio(), tail.as_integer_ratio())


def totals(profile: ProfilePlan) -> Iterator[str]:
    """The totals, from the sticks alone."""
    sticks, lying = profile.sticks, arrangement_of(profile)
    drawn = added((s.count, s.length) for s in sticks)
    pieces = added((entry.qty, lying.middle(entry)) for entry in profile.demand)
    trim = added((s.count, s.head_trim) for s in sticks)
    trim += added((s.count, s.tail_trim) for s in sticks if not s.keep)
    kept = added((s.count, s.offcut) for s in sticks if s.keep)
    beyond = [(s.count, s.offcut if profile.one_per_stick else s.offcut - s.tail_trim) for s in sticks if not s.keep]
    scrap = added((n, left) for n, left in beyond if left > 0)
    scrap += added((s.count, lying.between(s)) for s in sticks if s.cuts)
    right: dict[str, Fraction | int] = {
        "cost": added((s.count, s.price) for s in sticks if s.source == "new"),
        "drawn": drawn,
        "pieces": pieces,
        "trim": trim,
        "scrap": scrap,
        "kept": kept,
        "wedges": added((s.count, lying.wedges(s)) for s in sticks if s.cuts),
        "slope_kerf": added((s.count, lying.along_slopes(s)) for s in sticks if s.cuts),
        "kerf": drawn - pieces - trim - kept - scrap,
        "patterns": len({set_up(profile, stick) for stick in sticks}),
    }
    for name, value in right.items():
        stated = getattr(profile.totals, name)
        if stated != value:
            yield f"totals.{name}: {said(Fraction(stated))}, but {said(Fraction(value))} would be right"


def set_up(profile: ProfilePlan, stick: Stick) -> Hashable:
    """A stick's length, and to what the saw is set for each piece cut from it, in any order."""
    lying = arrangement_of(profile)
    return stick.length.as_integer_ratio(), tuple(sorted(lying.saw_setting(cut) for cut in stick.cuts))


def saw(plan: Plan, profile: ProfilePlan) -> Iterator[str]:
    """The time at the saw, stick by stick: each set-up once, each lift as it is filled, each cut through it."""
    rates, stated = plan.saw, profile.saw
    if rates is None or stated is None:
        if (rates is None) != (stated is None):
            yield "saw: the times of the saw and of each profile belong together; both or neither would be right"
        return
    free: dict[Hashable, int] = {}  # sticks that the last lift of each kind still takes
    seen, lifts, strokes = set(), 0, 0
    for stick in profile.sticks:
        seen.add(set_up(profile, stick))
        lies = (set_up(profile, stick), stick.head_trim, stick.first, stick.turned,
                tuple((cut.start, cut.end, cut.left_in, cut.right_in) for cut in stick.cuts))
        lying = free.get(lies, 0)
        new = max(0, -(-(stick.count - lying) // plan.stack))
        free[lies] = lying + new * plan.stack - stick.count
        lifts += new
        strokes += new * strokes_of(profile, stick)
    minutes = (60 * len(seen) * rates.setup_minutes + lifts * rates.stick_seconds + strokes * rates.cut_seconds) / 60
    right: dict[str, Fraction | int | None] = {
        "setups": len(seen), "lifts": lifts, "cuts": strokes, "minutes": minutes,
        "amount": None if rates.hourly is None else rates.hourly * minutes / 60}
    for name, value in right.items():
        if (has := getattr(stated, name)) != value:
            yield f"saw.{name}: {shown(has)}, but {shown(value)} would be right"


def strokes_of(profile: ProfilePlan, stick: Stick) -> int:
    """Cuts through a stick: where a piece ends, where an end is squared, and where more comes off before a piece."""
    squared = stick.head_trim == profile.head_trim
    return squared + len(stick.cuts) + arrangement_of(profile).first_cuts(stick)


def shown(value: Fraction | int | None) -> str:
    return "nothing" if value is None else said(Fraction(value))


def tiers(profile: ProfilePlan) -> Iterator[str]:
    """The three aims in their order, each with the plan's own value and a bound not above it."""
    total = profile.totals
    values = {"cost": total.cost, "used up": total.drawn - total.kept, "patterns": Fraction(total.patterns)}
    if [tier.name for tier in profile.tiers] != list(values):
        yield f"tiers: {', '.join(values)} would be right, in this order"
        return
    if (spare := profile.spare) is not None:
        cost = profile.tiers[0]
        if spare.share < 0 or not cost.bound <= spare.least <= cost.value:
            yield f"spare.least: {said(spare.least)}; from the proven least to what the plan costs would be right"
        most = max(spare.least, cost.bound + cost.bound * spare.share)
        if spare.at_most != most:
            yield f"spare.at_most: {said(spare.at_most)}, but {said(most)} would be right"
        if cost.value > spare.at_most:
            yield f"tiers[0].value: {said(cost.value)} is more than {said(spare.at_most)}, which may be spent"
    for k, tier in enumerate(profile.tiers):
        if tier.value != values[tier.name]:
            yield f"tiers[{k}].value: {said(tier.value)}, but {said(values[tier.name])} would be right"
        if tier.bound > tier.value:
            yield f"tiers[{k}].bound: {said(tier.bound)} is above the plan's own {said(tier.value)}"
