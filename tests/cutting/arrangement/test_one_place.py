"""If these fail, how pieces lie beside each other is known in more than one place: a further way would need changes all
over the cutter and the checker, and one of them would be forgotten.

The searches are run with an arrangement that none of them has seen, and the source is read for what asks which it is.
"""

from __future__ import annotations

import ast
import pickle
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import pytest

import cutplan
from cutplan.cutting import tiers
from cutplan.cutting.arrangement.plain import Plain
from cutplan.cutting.arrangement.protocol import Priced, Use
from cutplan.cutting.heuristics.first_fit import spent
from cutplan.cutting.patterns import Counts, StickType
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.cutting.problem.instance import Instance, build_instance, produced
from cutplan.running.budget import Budget
from cutplan.shop import Routing
from tests.cutting.shops import profile

ROOT = Path(cutplan.__file__).parent
WORDS = {"routing", "spaced", "holes", "PlainProfile", "RoutedProfile", "OnHoles", "Aligned", "Plain",
         "angles", "AngledProfile", "Angled"}


def conditions(tree: ast.AST) -> Iterator[ast.AST]:
    """All that a program decides by."""
    for node in ast.walk(tree):
        match node:
            case ast.If() | ast.IfExp() | ast.While() | ast.Assert():
                yield node.test
            case ast.comprehension():
                yield from node.ifs
            case ast.BoolOp() | ast.Compare() | ast.Match():
                yield node
            case ast.Call(func=ast.Name(id="isinstance")):
                yield node


def asks_which(source: str) -> list[int]:
    """The lines of a module that decide something by the arrangement."""
    return sorted({part.lineno for condition in conditions(ast.parse(source)) for part in ast.walk(condition)
                   if (isinstance(part, ast.Attribute) and part.attr in WORDS)
                   or (isinstance(part, ast.Name) and part.id in WORDS)})


def test_what_asks_is_found() -> None:
    for asking in ("if profile.routing: pass", "x = 1 if a.holes is None else 2", "[b for b in c if b.spaced]",
                   "x = profile.routing and 3", "assert isinstance(a, Plain)", "x = profile.routing is None"):
        assert asks_which(asking) == [1]
    assert asks_which("ProfilePlan(routing=profile.routing)") == []


@pytest.mark.parametrize("room", ["cutting", "checking"])
def test_nothing_outside_asks_which_arrangement_it_is(room: str) -> None:
    asking = {f"{file.relative_to(ROOT)}:{line}" for file in (ROOT / room).rglob("*.py")
              if "arrangement" not in file.relative_to(ROOT).parts for line in asks_which(file.read_text("utf-8"))}
    assert asking == set()
    choosing = [file.name for file in (ROOT / room / "arrangement").rglob("*.py")
                if "profile.routing" in file.read_text("utf-8")]
    assert len(choosing) == 1


@dataclass(frozen=True)
class Jaws:
    """The saw holds each stick by a piece of scrap once more for every piece beyond the first: lost length that only
    shows once pieces are together. What a stick has is reckoned by listing; nothing of the cutter's own is used."""

    sizes: tuple[int, ...]
    lost: int

    @property
    def additive(self) -> bool:
        return False

    def fill(self, stick: StickType, counts: Counts) -> int:
        return sum(a * self.sizes[i] for i, a in counts) + self.lost * max(0, sum(a for _, a in counts) - 1)

    def fits(self, stick: StickType, counts: Counts) -> bool:
        return self.fill(stick, counts) <= stick.capacity

    def price(self, sticks: Sequence[StickType], uses: Sequence[Use], bounds: Sequence[int], values: Sequence[int],
              every: bool, large: set[int], params: TableParams) -> list[Priced]:
        return [Listed(self, sticks[use.stick], use, tuple(bounds), tuple(values)) for use in uses]

    def quickly(self) -> Jaws:
        return self

    def smaller(self, i: int) -> int | None:
        return i + 1 if i + 1 < len(self.sizes) else None

    def exchanges(self) -> Iterator[tuple[int, tuple[int, ...]]]:
        return iter(())


@dataclass(frozen=True)
class Listed:
    """Every pattern, one after the other."""

    jaws: Jaws
    stick: StickType
    use: Use
    bounds: tuple[int, ...]
    values: tuple[int, ...]

    def all(self) -> list[tuple[int, Counts]]:
        found: list[tuple[int, Counts]] = []

        def extend(i: int, counts: Counts) -> None:
            fill = self.jaws.fill(self.stick, counts)
            if fill > self.use.capacity:
                return
            if counts:
                found.append((sum(a * self.values[k] for k, a in counts) - self.use.slope * fill, counts))
            for k in range(i, len(self.bounds)):
                for a in range(1, self.bounds[k] + 1):
                    extend(k + 1, (*counts, (k, a)))

        extend(0, ())
        return sorted(found, reverse=True)

    def best(self) -> int:
        return max([0, *(worth for worth, _ in self.all()[:1])])

    def may_beat(self, value: float) -> bool:
        return self.best() > value

    def patterns(self, above: float, many: int) -> list[Counts]:
        return [counts for worth, counts in self.all() if worth > above][:many]

    def above(self, least: int, most: int) -> list[Counts] | None:
        found = [counts for worth, counts in self.all() if worth >= least]
        return found if len(found) <= most else None


def least_cost(instance: Instance) -> int:
    """By splitting the pieces over sticks in every way."""
    pieces = [i for i, d in enumerate(instance.demands) for _ in range(d)]
    whole, best = (1 << len(pieces)) - 1, {0: 0}
    for done in range(whole):
        if done in best:
            first = (~done & whole) & -(~done & whole)
            rest = chosen = ~done & whole & ~first
            while True:
                taken = chosen | first
                counts = tuple((i, a) for i in range(len(instance.sizes))
                               if (a := sum(pieces[k] == i for k in range(len(pieces)) if taken >> k & 1)))
                costs = [stick.cost for stick in instance.sticks if instance.arrangement.fits(stick, counts)]
                if costs:
                    best[done | taken] = min(best.get(done | taken, 2**60), best[done] + min(costs))
                if not chosen:
                    break
                chosen = (chosen - 1) & rest
    return best[whole]


@pytest.mark.parametrize("seed", range(12))
def test_the_searches_cut_an_arrangement_they_have_never_seen(seed: int) -> None:
    chance = random.Random(seed)
    rail = profile([(60, 10, None), (96, 15, None)], kerf="1/8")
    lengths = chance.sample(range(9, 50), 4)
    plain = build_instance(rail, {(Fraction(n), "", 1): chance.randint(1, 2) for n in lengths})
    instance = replace(plain, arrangement=Jaws(plain.sizes, 6 * 8))
    found = tiers.least_cost(instance, Budget(), "rail", "cost")
    assert spent(instance, found.plan) == found.bound == least_cost(instance)
    assert all(map(instance.fits, found.plan))
    assert all(n >= d for n, d in zip(produced(instance, found.plan), instance.demands, strict=True))
    assert spent(plain, found.plan) >= least_cost(plain)


def test_an_instance_travels_to_another_process_with_its_arrangement() -> None:
    for rail in (profile([(96, 9, None)]), profile([(96, 9, None)], routing=Routing(Fraction(4), Fraction(1)))):
        instance = build_instance(rail, {(Fraction(30), "either" if rail.routing else "", 1): 3})
        again = pickle.loads(pickle.dumps(instance))
        assert again == instance and again.arrangement.fill(again.sticks[0], ((0, 2),)) == instance.arrangement.fill(
            instance.sticks[0], ((0, 2),))


def test_holes_that_cost_nothing_are_cut_as_none() -> None:
    """A hole every sixteenth of an inch, where every length is in sixteenths: then pieces add up."""
    stock, demand = [(192, 41, None)], {(Fraction(321, 16), "either", 1): 2}
    near = build_instance(profile(stock, "1/8", routing=Routing(Fraction(1, 16), Fraction(0))), demand)
    far = build_instance(profile(stock, "1/8", routing=Routing(Fraction(4), Fraction(1))), demand)
    assert isinstance(near.arrangement, Plain) and not isinstance(far.arrangement, Plain)
