"""Proves a bound on set-ups again, in whole numbers, from the certificate's `setups`; no solver is used.

A set-up S is used for at most m sticks: no more than the pieces asked for of each length by how many S cuts of it, nor
than there are sticks of its length. If, for every m, a stick cut in a way that m sticks could be cut is worth no more
than its share of the plan's cost, of its length used up and of the limits of its kind by K / m, then all the sticks of
a set-up together are worth no more than theirs by K, and a plan with n set-ups is worth no more than all of its cost,
length and limits by n K. Its pieces are worth a known sum: hence n.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

from cutplan.checking.arrangement import shortened, takes_at_least
from cutplan.checking.arrangement.protocol import PieceKind, StickKind
from cutplan.checking.kinds import asked_for, best_on_kinds, kind_of
from cutplan.ends import Ends, ends_in
from cutplan.plans.certificate import lies_in
from cutplan.plans.records import ProfilePlan

Setting = tuple[Fraction, Ends]
Charges = dict[StickKind, Fraction]  # what a pattern on a stick of each kind must be worth to be worth more


class SetupClaim:
    """The multipliers of one profile's certificate, read against the plan's own rules, stock and demand."""

    def __init__(self, profile: ProfilePlan, step: Callable[[], None] = lambda: None) -> None:
        self.profile, self.step = profile, step
        self.given: dict[str, Any] = profile.certificate["setups"]
        self.coin, self.unit = Fraction(profile.certificate["coin"]), Fraction(self.given["unit"])
        self.demand = asked_for(profile)
        self.worths: dict[PieceKind, int] = {
            (Fraction(entry["length"]), lies_in(entry)): int(entry["value"]) for entry in self.given["duals"]}
        self.limits: dict[StickKind, int] = {}
        self.there: Counter[Fraction] = Counter()
        for entry, limit in zip(profile.certificate["stock"], self.given["limits"], strict=True):
            if entry["qty"] == 0:
                continue  # there is none to draw
            kind = kind_of(profile, entry, entry["tag"] is None)
            self.limits[kind] = min(self.limits.get(kind, limit), limit)
            self.there[kind[0]] += sum(self.demand.values()) if entry["qty"] is None else int(entry["qty"])

    def holds(self) -> bool:
        """Whether no stick is worth more than it may be."""
        asked = self.worths.keys() <= self.demand.keys()
        numbers = (*self.worths.values(), *self.limits.values(), self.given["cost"], self.given["used"])
        if not asked or min(numbers) < 0 or self.given["scale"] < 1 or self.profile.one_per_stick:
            return False
        return all(self._holds_for(m) for m in self._multiples())

    def _multiples(self) -> list[int]:
        """Every m at which fewer pieces of some length are left to each of m + 1 sticks, or fewer sticks are there."""
        totals = self._by_setting().values()
        most = max(totals)
        marks = {total // part for total in totals for part in range(1, total + 1)}
        return sorted(marks | {min(there, most) for there in self.there.values() if there})

    def _by_setting(self) -> Counter[Setting]:
        """How many pieces the saw is set to alike for; where a rail's middle falls is all one to it."""
        totals: Counter[Setting] = Counter()
        for (length, lies), number in self.demand.items():
            totals[length, ends_in(lies)] += number
        return totals

    def _holds_for(self, m: int) -> bool:
        totals = self._by_setting()
        each = {(length, lies): min(number, totals[length, ends_in(lies)] // m)
                for (length, lies), number in self.demand.items()}
        share = Fraction(self.given["scale"], m)
        for worths, charges in self._ways_of(m):
            floors = {kind: math.floor(charge + share) for kind, charge in charges.items()}
            best = best_on_kinds(self.profile, worths, each, floors, self.step)
            if any(best[kind] > floor for kind, floor in floors.items()):
                return False
        return True

    def _ways_of(self, m: int) -> Iterator[tuple[dict[PieceKind, int], Charges]]:
        """What pieces are worth, and the shares of sticks: of such as keep no offcut, and of such as do."""
        profile, used = self.profile, self.given["used"] / self.unit
        there = [kind for kind in self.limits if m <= self.there[kind[0]]]
        spent = {kind: self.given["cost"] * kind[1] / self.coin + self.limits[kind] for kind in there}
        yield self.worths, {kind: spent[kind] + used * kind[0] for kind in there}
        if profile.keep_from is None or not used:
            return
        less = {asked: math.ceil(pi - used * takes_at_least(profile, asked)) for asked, pi in self.worths.items()}
        kept: Charges = {}
        for kind in there:
            head, tail = kind[4]
            if (short := shortened(profile, kind, profile.keep_from + profile.kerf - tail))[0] > 0:
                # an offcut may be lying the other way round, its sawn end first
                begins = Fraction(0) if not kind[2] else head
                kept[short] = min(kept.get(short, spent[kind] + used * begins), spent[kind] + used * begins)
        if kept:
            yield {asked: pi for asked, pi in less.items() if pi > 0}, kept
