"""From patterns to sticks: which mark is cut where, and what is left."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, groupby, repeat

from cutplan.cutting.instance import HOLE, SPACE, Instance, Pattern, first_hole
from cutplan.cutting.plan import Cut, Demand, Stick
from cutplan.shop import Profile, Stock


def lay_out(profile: Profile, instance: Instance, plan: Counter[Pattern], demand: Sequence[Demand]) -> list[Stick]:
    """The sticks of a plan, like set-ups together, marks dealt in the order of the demand."""
    waiting = dealt(instance, plan, demand)
    drawn = {s: draw(stock) for s, stock in enumerate(instance.stock)}
    sticks = []
    for pattern, n in sorted(plan.items(), key=lambda item: order(instance, *item)):
        places = on_holes(profile, instance, pattern) if instance.holes else one_by_one(profile, instance, pattern)
        length = instance.sticks[pattern.stick].length if instance.blanks else None
        queues = [waiting[i, length] for i in places.sizes]
        each = ((next(drawn[pattern.stick]), tuple(queue.popleft() for queue in queues)) for _ in range(n))
        for (stock, marks), alike in groupby(each):
            sticks.append(stick(profile, stock, places, marks, sum(1 for _ in alike)))
    return sticks


def dealt(instance: Instance, plan: Counter[Pattern], demand: Sequence[Demand]
          ) -> dict[tuple[int, int | None], deque[str]]:
    """The marks of each size in the order of the demand; of blanks, for each length of stick whole sets of them."""
    sets = instance.blanks.together if instance.blanks else repeat(1)
    sizes = {asked: i for i, asked in enumerate(zip(instance.lengths, instance.centred, sets, strict=False))}
    waiting: list[deque[str]] = [deque() for _ in instance.sizes]
    for entry in demand:
        waiting[sizes[entry.length, entry.centred, entry.each]].extend([entry.mark] * entry.qty)
    if instance.blanks is None:
        return {(i, None): marks for i, marks in enumerate(waiting)}
    pieces: Counter[tuple[int, int]] = Counter()
    for pattern, n in sorted(plan.items()):
        for i, _ in pattern.counts:
            pieces[i, instance.sticks[pattern.stick].length] += n
    return {(i, length): deque(waiting[i].popleft() for _ in range(n)) for (i, length), n in pieces.items()}


def order(instance: Instance, pattern: Pattern, count: int) -> tuple[int, int, tuple[int, ...]]:
    """Rack offcuts first, then long set-ups before short ones, longest pieces first."""
    is_new = instance.stock[pattern.stick][0].tag is None
    return int(is_new), pattern.stick, (*(i for i, a in pattern.counts for _ in range(a)), len(instance.sizes))


def draw(stock: Sequence[Stock]) -> Iterator[Stock]:
    """The stock entries behind one stick type, one for each stick; an endless one comes last."""
    for entry in sorted(stock, key=lambda entry: entry.qty is None):
        if entry.qty is None:
            while True:
                yield entry
        for _ in range(entry.qty):
            yield entry


@dataclass(frozen=True)
class Places:
    """Where the pieces of a pattern are cut, in their order: size, start, and what the middle falls on.

    start None: in the middle of its stick.
    """

    sizes: tuple[int, ...]
    lengths: tuple[Fraction, ...]
    starts: tuple[Fraction | None, ...]
    centred: tuple[str, ...]
    turned: bool = False


def head_trim(profile: Profile, instance: Instance, pattern: Pattern) -> Fraction:
    """Where the first piece of a pattern may begin."""
    return profile.trims(instance.stock[pattern.stick][0])[0]


def one_by_one(profile: Profile, instance: Instance, pattern: Pattern) -> Places:
    """One piece after the other, a kerf between."""
    sizes = tuple(i for i, a in pattern.counts for _ in range(a))
    lengths = tuple(instance.lengths[i] for i in sizes)
    if profile.one_per_stick:
        return Places(sizes, lengths, (None,), ("",))
    begin = head_trim(profile, instance, pattern)
    steps = accumulate((length + profile.kerf for length in lengths[:-1]), initial=begin)
    return Places(sizes, lengths, tuple(steps), ("",) * len(sizes))


def on_holes(profile: Profile, instance: Instance, pattern: Pattern) -> Places:
    """Each piece where its holes fall right, by the order that takes the least of the stick."""
    assert instance.holes is not None
    placed = instance.holes.place(instance.sticks[pattern.stick].ends, pattern.counts)
    assert placed is not None, "the pattern fits"
    sizes = tuple(rail.size for rail, _ in placed.rails)
    lengths = tuple(instance.lengths[i] for i in sizes)
    ends = [instance.holes.fill(placed.end, rail, hole) - instance.holes.kerf for rail, hole in placed.rails]
    begin = head_trim(profile, instance, pattern)
    return Places(
        sizes, lengths,
        tuple(begin + end * instance.unit - length for end, length in zip(ends, lengths, strict=True)),
        tuple(SPACE if rail.on_space else HOLE for rail, _ in placed.rails),
        placed.end.turned,
    )


def stick(profile: Profile, stock: Stock, places: Places, marks: Sequence[str], count: int) -> Stick:
    """So many sticks with their cuts in place, from the end squared first."""
    cuts = []
    for start, length, mark, centred in zip(places.starts, places.lengths, marks, places.centred, strict=True):
        at = (stock.length - length) / 2 if start is None else start
        cuts.append(Cut(mark, length, at, at + length, centred))
    head, tail = profile.trims(stock)
    left = stock.length - cuts[-1].end - profile.kerf
    if profile.one_per_stick:
        left = stock.length - head - tail - cuts[0].length - profile.kerf
    left = max(Fraction(0), left)
    keep = not profile.one_per_stick and profile.keep_from is not None and left >= profile.keep_from
    source = "new" if stock.tag is None else "rack"
    first = first_hole(profile, stock) if profile.routing else None
    return Stick(source, stock.tag, stock.length, stock.price, count, tuple(cuts), left, keep, first, places.turned,
                 head_trim=head, tail_trim=tail)
