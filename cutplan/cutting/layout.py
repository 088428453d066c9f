"""From patterns to sticks: which mark is cut where, and what is left."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby, repeat
from typing import Any

from cutplan.cutting.arrangement.choosing import arranger_of
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance
from cutplan.plans.records import Cut, Demand, Stick
from cutplan.shop import Profile, Stock

SaidFields = dict[str, Any]  # fields of a cut or a stick that their arrangement knows


def lay_out(profile: Profile, instance: Instance, plan: Counter[Pattern], demand: Sequence[Demand]) -> list[Stick]:
    """The sticks of a plan, like set-ups together, marks dealt in the order of the demand."""
    waiting = dealt(instance, plan, demand)
    drawn = {s: draw(stock) for s, stock in enumerate(instance.stock)}
    exact = Exact(instance.unit)
    sticks = []
    for pattern, n in sorted(plan.items(), key=lambda item: order(instance, *item)):
        placed = places(profile, instance, pattern, exact)
        length = instance.sticks[pattern.stick].length if instance.blanks else None
        queues = [waiting[i, length] for i in placed.sizes]
        each = ((next(drawn[pattern.stick]), tuple(queue.popleft() for queue in queues)) for _ in range(n))
        for (stock, marks), alike in groupby(each):
            sticks.append(stick(profile, stock, placed, marks, sum(1 for _ in alike)))
    return sticks


def dealt(instance: Instance, plan: Counter[Pattern], demand: Sequence[Demand]
          ) -> dict[tuple[int, int | None], deque[str]]:
    """The marks of each size in the order of the demand; of blanks, for each length of stick whole sets of them."""
    sets = instance.blanks.together if instance.blanks else repeat(1)
    sizes = {asked: i for i, asked in enumerate(zip(instance.lengths, instance.lies, sets, strict=False))}
    waiting: list[deque[str]] = [deque() for _ in instance.sizes]
    for entry in demand:
        waiting[sizes[entry.length, entry.lies, entry.each]].extend([entry.mark] * entry.qty)
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


class Exact:
    """Whole numbers of a step as lengths; equal ones are one and the same Fraction, so that a plan stays small."""

    def __init__(self, step: Fraction) -> None:
        self.step = step
        self._known: dict[int, Fraction] = {}

    def __call__(self, steps: int) -> Fraction:
        if steps not in self._known:
            self._known[steps] = steps * self.step
        return self._known[steps]


@dataclass(frozen=True)
class Places:
    """How the sticks of a pattern are cut: the sizes in their order, with the length, start and end of each and what
    else its cut says; what is left, and what else the stick says."""

    sizes: tuple[int, ...]
    cuts: tuple[tuple[Fraction, Fraction, Fraction, SaidFields], ...]
    left: Fraction
    said: SaidFields = field(default_factory=dict)


def places(profile: Profile, instance: Instance, pattern: Pattern, exact: Exact) -> Places:
    if profile.one_per_stick:
        return in_the_middle(profile, instance, pattern)
    stick = instance.sticks[pattern.stick]
    placed = instance.arrangement.place(stick, pattern.counts)
    cuts = tuple((instance.lengths[piece.size], exact(piece.start), exact(piece.end), piece.said)
                 for piece in placed.pieces)
    left = exact(max(0, stick.length - placed.end))
    return Places(tuple(piece.size for piece in placed.pieces), cuts, left, placed.said)


def in_the_middle(profile: Profile, instance: Instance, pattern: Pattern) -> Places:
    """One piece, trimmed equally at both ends."""
    (i, _), = pattern.counts
    stock, length = instance.stock[pattern.stick][0], instance.lengths[i]
    start = (stock.length - length) / 2
    left = max(Fraction(0), stock.length - sum(profile.trims(stock)) - length - profile.kerf)
    return Places((i,), ((length, start, start + length, {}),), left)


def which_way(profile: Profile, stock: Stock, places: Places) -> tuple[Places, Fraction, Fraction]:
    """Such an offcut, placed from its sawn end, and what its two ends lose: that way where its raw end has its trim,
    else the other way round, squared at its raw end."""
    if places.cuts[-1][2] <= stock.length - profile.tail_trim:
        return places, Fraction(0), profile.tail_trim
    head = profile.head_trim
    cuts = tuple((length, start + head, end + head, said) for length, start, end, said in places.cuts)
    return replace(places, cuts=cuts, left=max(Fraction(0), places.left - head)), head, Fraction(0)


def stick(profile: Profile, stock: Stock, places: Places, marks: Sequence[str], count: int) -> Stick:
    """So many sticks with their cuts in place, from the end squared first."""
    head, tail = profile.trims(stock)
    if profile.sawn_last(stock):
        places, head, tail = which_way(profile, stock, places)
    return Stick(
        source="new" if stock.tag is None else "rack",
        tag=stock.tag,
        length=stock.length,
        price=stock.price,
        count=count,
        cuts=tuple(Cut(mark, length, start, end, **said)
                   for mark, (length, start, end, said) in zip(marks, places.cuts, strict=True)),
        offcut=places.left,
        keep=not profile.one_per_stick and profile.keep_from is not None and places.left >= profile.keep_from,
        head_trim=head,
        tail_trim=tail,
        **arranger_of(profile).told(stock),  # type: ignore[arg-type]
        **places.said,
    )
