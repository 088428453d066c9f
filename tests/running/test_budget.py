"""If these fail, a limit is overrun, a stop is not heeded, or time is given twice."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.cutting import cut_pieces
from cutplan.cutting.heuristics.first_fit import on_any_sticks, size_by_size
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.instance import Instance, build_instance
from cutplan.planning.sequence import fewest_open, most_open
from cutplan.running import budget as budgets
from cutplan.running.budget import Budget, stoppable, watched
from cutplan.shop import Routing
from tests.sweeps import sweep

ROOT = Path(__file__).resolve().parents[2]


class Clock:
    """Time that passes only when it is told to."""

    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(budgets, "time", clock)
    return clock


def test_parts_of_a_budget_end_with_it_and_share_its_stop_key(clock: Clock) -> None:
    heard: list[str] = []
    whole = Budget(60, heard.append)
    clock.now += 30
    parts = [whole.share(3), whole.upto(0.5), whole.quietly(), whole.before(10), whole.before(50),
             whole.beginning("so: ")]
    assert [round(part.left(), 6) for part in parts] == [10, 15, 30, 20, 0, 30]
    parts[-1].tell("well")
    assert heard == ["so: well"]
    clock.now += 31
    assert all(part.left() == 0 and part.spent() for part in parts)
    endless = Budget()
    assert endless.share(3).left() == endless.before(9).left() == float("inf")
    endless.share(2).share(2).stop()
    assert endless.stopped and endless.left() == 0 and not whole.stopped


def test_one_stroke_ends_the_budget_and_the_next_the_program() -> None:
    budget = Budget()
    with pytest.raises(KeyboardInterrupt), stoppable(budget):
        os.kill(os.getpid(), signal.SIGINT)
        assert budget.stopped
        os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_solver_that_looks_at_no_budget_is_stopped() -> None:
    budget, ended = Budget(), threading.Event()
    threading.Timer(0.1, budget.stop).start()
    with watched(budget, ended.set):
        assert ended.wait(10)


def test_centring_begins_no_search_once_it_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    from cutplan.planning import centring
    from tests.planning.test_centring import SHOP, week

    searches: list[Budget | None] = []
    budget = Budget()

    def stopped_during(pieces: object, shop: object, own: Budget | None = None) -> object:
        searches.append(own)
        budget.stop()
        return cut_pieces(pieces, shop, own)  # type: ignore[arg-type]

    monkeypatch.setattr(centring, "cut_pieces", stopped_during)
    assert centring.choose(week(0), SHOP, budget) is None
    assert len(searches) == 1


def test_the_sequence_ends_with_the_budget_and_its_work_is_counted() -> None:
    chance = random.Random(2)
    setups = [[chance.randrange(700) for _ in range(6)] for _ in range(900)]
    none = fewest_open(setups, Budget(0.0))
    assert (none.order, none.proven) == (tuple(range(900)), False)
    assert none.open == most_open(setups)
    began = time.process_time()
    assert fewest_open(setups).open < none.open
    assert time.process_time() - began < 20


def piece_by_piece(instance: Instance, preference: Sequence[int]) -> Counter[Pattern] | None:
    """First fit as it is told: each piece, the longest first, on the first open stick with room, else on a new one."""
    left = [instance.most(s) for s in range(len(instance.sticks))]
    opened: list[Pattern] = []
    for i, demand in enumerate(instance.demands):
        for _ in range(demand):
            k = next((k for k, one in enumerate(opened) if instance.fits(with_one(one, i))), None)
            if k is None:
                s = next((s for s in preference if left[s] and instance.fits(Pattern(s, ((i, 1),)))), None)
                if s is None:
                    return None
                left[s] -= 1
                k = len(opened)
                opened.append(Pattern(s, ()))
            opened[k] = with_one(opened[k], i)
    return Counter(opened)


def with_one(pattern: Pattern, i: int) -> Pattern:
    counts = Counter(dict(pattern.counts))
    counts[i] += 1
    return Pattern(pattern.stick, tuple(sorted(counts.items())))


@pytest.mark.parametrize("seed", sweep(16, 40))
def test_first_fit_by_sizes_is_first_fit_by_pieces(seed: int) -> None:
    """The plain way, piece after piece, knows nothing of the others."""
    from tests.cutting.shops import profile

    chance = random.Random(seed)
    rail = profile([(n, n, chance.choice([None, 3])) for n in chance.sample(range(60, 120), 3)], kerf="1/8")
    lengths = [Fraction(chance.randint(40, 480), 8) for _ in range(chance.randint(1, 9))]
    plain = build_instance(rail, {(length, "", 1): chance.randint(1, 30) for length in lengths})
    holes = Routing(Fraction(chance.randint(16, 40), 8), Fraction(chance.randint(0, 16), 8))
    rails = [length + 6 for length in lengths if length < 50] or [Fraction(20)]
    routed = build_instance(replace(rail, routing=holes), {
        (length, chance.choice(["hole", "space", "either"]), 1): chance.randint(1, 30) for length in rails})
    for instance in (plain, routed):
        for _ in range(4):
            preference = chance.sample(range(len(instance.sticks)), chance.randint(1, len(instance.sticks)))
            expected = piece_by_piece(instance, preference)
            assert on_any_sticks(instance, preference) == expected
            assert instance is routed or size_by_size(instance, preference) == expected


def week_of(lines: int, file: Path) -> Path:
    chance = random.Random(lines)
    file.write_text("mark,kind,system,qty,opening,height\n" + "".join(
        f"L{k},{kind},{chance.choice(['lantern', 'breakwater'])},{chance.randint(1, 3)},"
        f"{chance.randint(34 * 16, 52 * 16)}/16,{chance.choice([36, 42, 48])}\n"
        for k in range(lines) for kind in [chance.choice(["gate", "bay"])]), encoding="utf-8")
    return file


def test_a_large_week_keeps_its_limit_and_says_how_it_goes(tmp_path: Path) -> None:
    """In processor time, two processes at work: what a machine with nothing else to do would take at the most."""
    file, plan = week_of(1_000, tmp_path / "week.csv"), tmp_path / "plan.json"
    command = [sys.executable, "-m", "cutplan", "cut", str(file), "--shop", "data/demo/shop.toml", "--limit", "2",
               "--json", str(plan)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd=ROOT)
    assert process.stderr is not None
    assert process.stderr.read()
    _, status, times = os.wait4(process.pid, 0)
    used = times.ru_utime + times.ru_stime
    assert status == 0
    assert used < 2 * 2 + 12
