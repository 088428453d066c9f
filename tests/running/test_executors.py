"""If these fail, who does the work changes the plan, or work handed to a pool or cluster goes on for ever."""

from __future__ import annotations

import signal
import threading
import time
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cutplan.bidding.bidfile import load_bid
from cutplan.bidding.cutting import CutVersions, cut_versions
from cutplan.cutting import cut_pieces
from cutplan.orders import Piece, load_inputs
from cutplan.plans.plan import to_json
from cutplan.problems import InputProblems
from cutplan.running import executors
from cutplan.running import workers as pools
from cutplan.running.budget import Budget
from cutplan.running.jobs import JobAsked
from cutplan.running.workers import Workers
from cutplan.shop import Shop
from cutplan.takeoff import take_off
from tests.bidding.bids import DEMO


def threads() -> Executor:
    return ThreadPoolExecutor(2)


def processes() -> Executor:
    return ProcessPoolExecutor(2)


@contextmanager
def cluster() -> Iterator[Executor]:
    """Of two processes on this machine."""
    distributed = pytest.importorskip("distributed")
    with (distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as local,
          distributed.Client(local) as client):
        yield client.get_executor()


EXECUTORS = {"threads": threads, "processes": processes, "cluster": cluster}


@pytest.fixture(params=EXECUTORS)
def executor(request: pytest.FixtureRequest) -> Iterator[Executor]:
    with EXECUTORS[request.param]() as one:
        yield one


@pytest.fixture(scope="module")
def rush() -> tuple[list[Piece], Shop]:
    shop, work = load_inputs(DEMO / "shop.toml", DEMO / "rush.csv")
    return list(take_off(work, shop).pieces), shop  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def in_turn(rush: tuple[list[Piece], Shop]) -> str:
    """The plan that is made without any others."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pools, "can_start", lambda: False)
        return to_json(cut_pieces(*rush))


@pytest.fixture(scope="module")
def bid(rush: tuple[list[Piece], Shop]) -> CutVersions:
    return cut_versions(load_bid(DEMO / "bid.csv", rush[1]).lines, rush[1], 6, 1)


@pytest.mark.parametrize("forked", [True, False])
def test_processes_make_the_same_plan_forked_or_spawned(rush: tuple[list[Piece], Shop], in_turn: str, forked: bool,
                                                        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pools, "cores", lambda: 2)
    if not forked:
        monkeypatch.setattr(pools, "can_fork", lambda: False)
    assert to_json(cut_pieces(*rush)) == in_turn


def test_any_executor_makes_the_same_plan_and_bid_and_is_heard(rush: tuple[list[Piece], Shop], in_turn: str,
                                                               bid: CutVersions, executor: Executor) -> None:
    heard: list[str] = []
    assert to_json(cut_pieces(*rush, Budget(None, heard.append, executor))) == in_turn
    assert any("parts of the work are done" in text for text in heard)
    lines = load_bid(DEMO / "bid.csv", rush[1]).lines
    assert cut_versions(lines, rush[1], 6, 1, Budget(None, None, executor)) == bid


def test_whoever_calls_from_python_keeps_the_stop_key(rush: tuple[list[Piece], Shop]) -> None:
    keys: set[object] = set()
    before = signal.getsignal(signal.SIGINT)
    cut_pieces(*rush, Budget(None, lambda text: keys.add(signal.getsignal(signal.SIGINT))))
    assert keys == {before}


def test_a_plan_is_made_in_a_thread_as_well_and_in_two_at_once(rush: tuple[list[Piece], Shop], in_turn: str) -> None:
    with ThreadPoolExecutor(2) as two:
        plans = [two.submit(cut_pieces, *rush) for _ in range(4)]
        assert [to_json(plan.result()) for plan in plans] == [in_turn] * 4


def till_the_end(job: Path, budget: Budget) -> str:
    """Leaves word that it began and, if it hears of the end, that it ended."""
    if budget.spent():
        return "begun when it was over"
    job.with_suffix(".begun").touch()
    until = time.monotonic() + 20
    while not budget.spent() and time.monotonic() < until:
        time.sleep(0.01)
    return "ended" if budget.spent() else "heard nothing"


def test_a_stop_from_another_thread_ends_what_an_executor_does(executor: Executor, tmp_path: Path) -> None:
    """Two are at work, others wait for them."""
    budget, jobs = Budget(None, None, executor), [tmp_path / str(k) for k in range(4)]

    def stop() -> None:
        while len(list(tmp_path.glob("*.begun"))) < 2:
            time.sleep(0.01)
        budget.stop()

    threading.Thread(target=stop).start()
    with Workers(budget, len(jobs)) as workers:
        found = workers.each(till_the_end, jobs, lambda job: 1, lambda k: 1)
    assert sorted(set(found)) == ["begun when it was over", "ended"]


def test_a_limit_holds_for_all_that_an_executor_does(executor: Executor, tmp_path: Path) -> None:
    began = time.monotonic()
    with Workers(Budget(1.0, None, executor), 4) as workers:
        found = workers.each(till_the_end, [tmp_path / str(k) for k in range(4)], lambda job: 1, lambda k: 1)
    assert set(found) <= {"begun when it was over", "ended"}
    assert time.monotonic() - began < 10


class Foreign(Executor):
    """One at a time, and nothing more is known of it than that it is an executor."""

    def __init__(self) -> None:
        self._one = ThreadPoolExecutor(1)

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Any:
        return self._one.submit(fn, *args, **kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._one.shutdown(wait, cancel_futures=cancel_futures)


def time_given(job: int, budget: Budget) -> float:
    return budget.left()


@pytest.mark.parametrize("at_once, shares", [(1, [4, 3, 2, 1]), (2, [2, 2, 1, 1]), (9, [1, 1, 1, 1])])
def test_the_time_is_divided_by_how_many_jobs_an_executor_does_at_once(at_once: int, shares: list[int]) -> None:
    """Jobs that wait for their turn find time left when it comes."""
    with Foreign() as executor, Workers(Budget(120, None, executor, at_once=at_once), 4) as workers:
        found = workers.each(time_given, [1, 2, 3, 4], lambda job: -job, lambda k: -(-(4 - k) // workers.number))
    assert found == pytest.approx([120 / share for share in shares], abs=2)


def test_where_nobody_says_as_many_as_this_machine_has_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pools, "cores", lambda: 3)
    with Foreign() as executor:
        assert Workers(Budget(None, None, executor), 8).number == 3
        assert Workers(Budget(None, None, executor), 2).number == 2
    for none in (0, -1, True, 1.5):
        with pytest.raises(InputProblems, match="at_once"):
            Budget(at_once=none)  # type: ignore[arg-type]


def deaf(job: int, budget: Budget) -> int:
    if budget.spent():
        return -job
    time.sleep(4)
    return job


def test_what_hears_no_stop_is_not_waited_for() -> None:
    asked = deque(JobAsked(job, job, 1, False, 0.2, Fraction(0)) for job in (1, 2, 3))
    began = time.monotonic()
    with ThreadPoolExecutor(2) as executor:
        pool = executors.Submitted(executor, 2, on_its_way=0.0)
        assert pool.run(Budget(0.3), deaf, asked, None) == {1: -1, 2: -2, 3: -3}
        pool.close(failed=True)
        assert time.monotonic() - began < 3


def fail(job: int, budget: Budget) -> int:
    raise ValueError(f"job {job}")


def test_what_goes_wrong_in_an_executor_comes_out(executor: Executor) -> None:
    with pytest.raises(ValueError, match="job"), Workers(Budget(20, None, executor), 2) as workers:
        workers.each(fail, [1, 2], lambda job: 1, lambda k: 1)


def test_where_the_files_of_the_caller_are_not_seen_a_job_keeps_its_own_limit(tmp_path: Path) -> None:
    """As on another machine; and one whose clock is slow is given no more time than there was."""
    assert not executors.Watch(str(tmp_path / "elsewhere")).is_set()
    assert executors.JobLimit(time.time() + 3_600, 2.0).left() == 2.0
    assert executors.JobLimit(time.time() - 1, 2.0).left() == 0.0
    seen = tmp_path / "here"
    seen.touch()
    watch = executors.Watch(str(seen))
    assert not watch.is_set()
    seen.write_text("stop", encoding="utf-8")
    late = executors.Watch(str(seen))
    time.sleep(0.15)
    assert watch.is_set() and late.is_set()
