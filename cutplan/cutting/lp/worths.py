"""What sticks can be worth to a demand: a row that every plan's numbers of sticks obey.

With pieces' worths pi >= 0, whole numbers, let P_s be the most that one stick of kind s can carry. All pieces together
are worth sum d pi, so that whatever they are cut from, sum over s of P_s n_s >= sum d pi (Farley, Oper. Res. 38 (1990)
922-923; Held, Cook and Sewell, Math. Prog. Comp. 4 (2012) 363-381). It holds for any pi; the LP's are good ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.exact.branch_and_bound import Optimum
from cutplan.cutting.lp import bounds, generation
from cutplan.cutting.lp.master import Master
from cutplan.cutting.problem.instance import Instance
from cutplan.cutting.problem.objective import cheapest
from cutplan.running.budget import Budget

WORTHS = 10**9  # up to which they are scaled: what is summed up of them stays below 2^63


@dataclass(frozen=True)
class WorthRow:
    """For each kind of stick the most that one can be worth, and what the sticks of any plan are worth together."""

    worths: tuple[int, ...]
    floor: int


def worths_of_sticks(instance: Instance, found: Optimum, rounds: int) -> tuple[WorthRow, ...]:
    """By the duals of the search's root, after up to so many more rounds of pricing; and by length.

    The former say most where sticks are such as the plan draws, the latter where they are others. Blanks give one piece
    each and have no such rows.
    """
    if instance.blanks is not None:
        return ()
    by_duals = [max(0, value) for value in settled_duals(instance, found, rounds).sizes]
    rows = [worth_row(instance, values) for values in (by_duals, list(instance.sizes))]
    return tuple(row for row in dict.fromkeys(rows) if row.floor)


def worth_row(instance: Instance, values: Sequence[int]) -> WorthRow:
    """The row of any worths of pieces, none below 0."""
    uses = [Use(s, stick.capacity) for s, stick in enumerate(instance.sticks)]
    best = [priced.best() for priced in instance.price(uses, instance.demands, values)]
    floor = sum(d * value for d, value in zip(instance.demands, values, strict=True))
    scale = max(1, floor // WORTHS)
    return WorthRow(tuple(-(-worth // scale) for worth in best), floor // scale)


def settled_duals(instance: Instance, found: Optimum, rounds: int) -> bounds.Duals:
    objective, root = cheapest(instance), found.root
    begin = bounds.by_length(objective, WORTHS) if root.dual is None else root.dual.duals
    if not rounds:
        return begin
    master = Master(objective, root.box, found.value)
    for pattern in [*found.plan, *generation.starters(objective), *found.patterns]:
        master.add(pattern)
    relaxed = generation.relax(master, Budget().within(rounds), lambda bound, worth: False)
    if relaxed is None:
        return begin
    return (relaxed.own or relaxed.bound).duals
