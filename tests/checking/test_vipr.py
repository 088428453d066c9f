"""If these fail, a proof written for other checkers is none, or is of another problem than the plan's.

The files are gone through by a reader written here from the definition of the format (Cheung, Gleixner and Steffy,
"Verifying Integer Programming Results", IPCO 2017, section 3), which shares nothing with what writes them.
"""

from __future__ import annotations

import json
import math
import random
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest
from ortools.linear_solver import pywraplp

from cutplan.checking.proof import Claim
from cutplan.checking.vipr.proof import write_proof
from cutplan.shop import Profile, Stock
from tests.checking.test_proof import any_leaf, any_split, with_tree
from tests.commands import good, run
from tests.cutting.shops import cut
from tests.cutting.test_against_others import best_by_model, random_case
from tests.sweeps import sweep

Coefs = dict[int, Fraction]


@dataclass(frozen=True)
class Told:
    """A row, and the assumptions that it rests on."""

    sense: str
    right: Fraction
    coefs: Coefs
    given: frozenset[int] = frozenset()


class Words:
    def __init__(self, text: str) -> None:
        lines = [line for line in text.splitlines() if not line.startswith("% ")]
        self._words = iter(" ".join(lines).split())

    def __call__(self, *expected: str) -> str:
        word = next(self._words)
        assert not expected or word in expected, f"{word} where {expected} is needed"
        return word

    def number(self) -> Fraction:
        return Fraction(self())

    def coefs(self) -> Coefs:
        found = [(int(self()), self.number()) for _ in range(int(self()))]
        assert len(dict(found)) == len(found)
        return dict(found)

    def row(self) -> Told:
        self()  # its name
        return Told(self("E", "G", "L"), self.number(), self.coefs())


class Reader:
    """A file that proves a range for the least value of an objective; AssertionError where it does not."""

    def __init__(self, text: str) -> None:
        words = self.words = Words(text)
        words("VER"), words("1.0"), words("VAR")
        self.variables = [words() for _ in range(int(words()))]
        words("INT")
        self.whole = {int(words()) for _ in range(int(words()))}
        words("OBJ"), words("min")
        self.objective = words.coefs()
        words("CON")
        count, bounds = int(words()), int(words())
        self.given = [words.row() for _ in range(count)]
        assert all(len(row.coefs) == 1 for row in self.given[count - bounds:])
        words("RTP"), words("range")
        self.low, self.high = words.number(), words.number()
        words("SOL"), words("1"), words()
        self.solution = words.coefs()
        words("DER")
        self.rows = list(self.given)
        for _ in range(int(words())):
            self._derive()
        self._judge()

    def _derive(self) -> None:
        words, row = self.words, self.words.row()
        words("{")
        reason = words("asm", "lin", "rnd", "uns")
        if reason == "asm":
            given = frozenset([len(self.rows)])
        elif reason == "uns":
            one, of_one, other, of_other = (int(words()) for _ in range(4))
            self._opposite(self.rows[of_one], self.rows[of_other])
            assert dominates(self.rows[one], row) and dominates(self.rows[other], row)
            given = (self.rows[one].given - {of_one}) | (self.rows[other].given - {of_other})
        else:
            parts = words.coefs()
            made = self._sum(parts, row.sense)
            if reason == "rnd":
                assert all(at in self.whole and number.denominator == 1 for at, number in made.coefs.items())
                assert row.sense == "G"
                made = Told("G", Fraction(math.ceil(made.right)), made.coefs)
            assert dominates(made, row)
            given = frozenset().union(*(self.rows[at].given for at in parts))
        words("}"), words("-1")
        self.rows.append(Told(row.sense, row.right, row.coefs, given))

    def _sum(self, parts: Coefs, sense: str) -> Told:
        right, coefs = Fraction(0), {}
        for at, often in parts.items():
            row = self.rows[at]
            if row.sense != "E":
                assert (often >= 0) == (row.sense == sense), "a row may not be turned over"
            right += often * row.right
            for variable, number in row.coefs.items():
                coefs[variable] = coefs.get(variable, Fraction(0)) + often * number
        return Told(sense, right, {at: number for at, number in coefs.items() if number})

    def _opposite(self, one: Told, other: Told) -> None:
        assert (one.sense, other.sense) == ("L", "G") and one.coefs == other.coefs
        assert all(at in self.whole and number.denominator == 1 for at, number in one.coefs.items())
        assert one.right.denominator == 1 and other.right == one.right + 1

    def _judge(self) -> None:
        assert dominates(self.rows[-1], Told("G", self.low, self.objective)) and not self.rows[-1].given
        for at, number in self.solution.items():
            assert at not in self.whole or number.denominator == 1
        for row in self.given:
            got = sum((number * self.solution.get(at, 0) for at, number in row.coefs.items()), Fraction(0))
            assert {"E": got == row.right, "G": got >= row.right, "L": got <= row.right}[row.sense]
        assert sum(price * self.solution.get(at, 0) for at, price in self.objective.items()) <= self.high

    def least(self) -> Fraction:
        """The optimum of the program in the file, by a solver that knows nothing else."""
        solver = pywraplp.Solver.CreateSolver("SCIP")
        values = [solver.IntVar(-solver.infinity(), solver.infinity(), name) for name in self.variables]
        for row in self.given:
            left = sum(float(number) * values[at] for at, number in row.coefs.items())
            right = float(row.right)
            solver.Add(left == right if row.sense == "E" else left >= right if row.sense == "G" else left <= right)
        solver.Minimize(sum(float(price) * values[at] for at, price in self.objective.items()))
        assert solver.Solve() == pywraplp.Solver.OPTIMAL
        return Fraction(round(solver.Objective().Value() * 100), 100)


def dominates(one: Told, other: Told) -> bool:
    """Whether every point that obeys the one obeys the other."""
    if not one.coefs and one.sense == "G" and one.right > 0:
        return True  # no point obeys it
    return one.sense == other.sense == "G" and one.coefs == other.coefs and one.right >= other.right


@pytest.mark.parametrize("seed", sweep(8, 60))
def test_any_certificate_is_written_as_a_proof_that_holds(seed: int) -> None:
    """The file of the plan's own certificate, and of any other, even a poor one, over any split."""
    rail, demand = random_case(seed)
    best = best_by_model(rail, demand, "cost")
    if best is None:
        pytest.skip("there is no plan")
    plan, chance = cut(rail, demand), random.Random(seed)
    file = Reader(write_proof(plan).text)
    assert file.low >= Claim(plan).bound() and file.high == plan.tiers[0].value and file.low * 100 <= best
    assert file.least() * 100 == best

    def split(deep: int) -> dict[str, object]:
        sides = [split(deep - 1) if deep and chance.random() < 0.5 else any_leaf(plan, chance) for _ in range(2)]
        return any_split(plan, chance, *sides)

    for deep in range(4):
        other = with_tree(plan, split(deep))
        file = Reader(write_proof(other).text)
        assert Claim(other).bound() <= file.low and file.low * 100 <= best


def test_sticks_of_one_length_at_two_prices_are_two_kinds() -> None:
    """Two at 10 and the rest at 11: the plan in the file draws what it pays for."""
    stock = Stock(Fraction(100), Fraction(10), 2), Stock(Fraction(100), Fraction(11))
    rail = Profile("rail", "rail", stock, Fraction(0))
    file = Reader(write_proof(cut(rail, {60: 5})).text)
    assert file.low == file.high == file.least() == 53


@pytest.mark.parametrize("piece", [30, 99])
def test_an_offcut_that_lies_the_other_way_round_is_the_one_that_is_there(piece: int) -> None:
    """A rest of it is kept and its sawn end lies first; or it is cut to its end, the sawn end last."""
    trims = Fraction(1), Fraction(2)
    bare = Profile("rail", "rail", (), Fraction(0), *trims, Fraction(36))
    stock = bare.offcut("AAA", Fraction(100), sawn=1), Stock(Fraction(240), Fraction(50))
    rail = Profile("rail", "rail", stock, Fraction(0), *trims, Fraction(36))
    file = Reader(write_proof(cut(rail, {piece: 1})).text)
    assert file.low == file.high == file.least() == 0


def test_a_file_that_was_altered_is_no_proof() -> None:
    """What reads the files here can refuse: a number changed anywhere in what is derived or given is found."""
    rail, demand = random_case(3)
    text, chance = write_proof(cut(rail, demand)).text, random.Random(3)
    words = text.split(" ")
    numbers = [at for at, word in enumerate(words) if word.isdigit() and at > text[:text.index("CON")].count(" ")]
    refused = 0
    for at in chance.sample(numbers, 60):
        altered = [*words[:at], str(int(words[at]) + 1), *words[at + 1:]]
        try:
            Reader(" ".join(altered))
        except (AssertionError, IndexError, ValueError, StopIteration):
            refused += 1
    assert refused > 45  # of a row that has slack, some numbers may be others


DEMO = ("data/demo/week.csv", "--shop", "data/demo/shop.toml")


@pytest.fixture(scope="module")
def demo_plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "plan.json"
    good("cut", *DEMO, "--json", path, "--limit", "20")
    return path


def test_check_writes_the_proof_of_a_profile(demo_plan: Path, tmp_path: Path) -> None:
    file = tmp_path / "box.vipr"
    said = good("check", demo_plan, "--vipr", file, "--profile", "box-rail")
    read = Reader(file.read_text())
    cost = next(one["tiers"][0] for one in json.loads(demo_plan.read_text())["profiles"]
                if one["profile"] == "box-rail")
    assert read.high == Fraction(str(cost["value"]))
    assert read.low == Fraction(str(cost["bound"]))
    assert "Proof file, box-rail: no plan is cheaper" in said


def test_a_profile_that_cannot_be_written_so_is_refused(demo_plan: Path, tmp_path: Path) -> None:
    file = tmp_path / "x.vipr"
    for words, told in (
        ((), "choose it with --profile"),
        (("--profile", "lantern-picket"), "its pieces are turned"),
        (("--profile", "box-rial"), "box-rail"),
    ):
        result = run("check", demo_plan, "--vipr", file, *words)
        assert result.exit_code == 2 and told in result.stderr and not file.exists()
    assert run("check", demo_plan, "--profile", "box-rail").exit_code == 2
