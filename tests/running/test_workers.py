"""If these fail, profiles planned side by side get mixed up, are not heard, cannot be stopped, or go on for ever
after whoever asked for them is gone."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from cutplan.problems import InputProblems, Problem
from cutplan.running import workers as pools
from cutplan.running.budget import Budget
from cutplan.running.workers import Workers


def square(job: int, budget: Budget) -> int:
    budget.tell(f"job {job}")
    return job * job


def wait_for_the_end(job: int, budget: Budget) -> int:
    while not budget.spent():
        time.sleep(0.01)
    return job


def fail(job: int, budget: Budget) -> int:
    raise ValueError(f"job {job}")


WAYS = {"in turn or alone": (1, True), "forked": (2, True), "spawned": (2, False)}


@pytest.fixture(params=WAYS)
def number(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many work side by side: one, two that are forked, two that are spawned as on macOS and Windows."""
    number, forked = WAYS[request.param]
    monkeypatch.setattr(pools, "cores", lambda: number)
    if not forked:
        monkeypatch.setattr(pools, "can_fork", lambda: False)
    return number


@pytest.fixture(params=["forked", "spawned"])
def method(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(pools, "cores", lambda: 2)
    monkeypatch.setattr(pools, "can_fork", lambda: request.param == "forked")
    return str(request.param)


def test_results_come_in_the_order_of_the_jobs_and_words_are_heard(number: int) -> None:
    heard: list[str] = []
    with Workers(Budget(None, heard.append), 5) as workers:
        assert workers.each(square, [1, 2, 3, 4, 5], lambda job: job, lambda k: 1) == [1, 4, 9, 16, 25]
        assert workers.each(square, [3, 1], lambda job: job, lambda k: 1) == [9, 1]
    assert sorted(heard) == sorted([*(f"job {k}" for k in range(1, 6)), "job 3", "job 1"])


def test_the_time_is_shared(number: int) -> None:
    began = time.monotonic()
    with Workers(Budget(0.6), 4) as workers:
        found = workers.each(wait_for_the_end, [1, 2, 3, 4], lambda job: 1, lambda k: (4 - k + 1) // number)
    assert found == [1, 2, 3, 4]
    assert time.monotonic() - began < 6


def test_a_stop_reaches_all(number: int) -> None:
    budget = Budget(None)
    threading.Timer(0.2, budget.stop).start()
    began = time.monotonic()
    with Workers(budget, 3) as workers:
        assert workers.each(wait_for_the_end, [1, 2, 3], lambda job: 1, lambda k: 3 - k) == [1, 2, 3]
    assert time.monotonic() - began < 5


def deaf(job: int, budget: Budget) -> int:
    """Hears no stop, as a solver may."""
    if budget.spent():
        return -job
    budget.keep(lambda: 10 * job)
    time.sleep(60)
    return job


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a process takes too long to begin")
@pytest.mark.parametrize("jobs", [[1], [1, 2, 3]])
@pytest.mark.parametrize("number", [1, 2])
def test_what_does_not_end_is_ended_and_what_there_is_so_far_is_taken(jobs: list[int], number: int,
                                                                      monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pools, "cores", lambda: number)
    began = time.monotonic()
    with Workers(Budget(0.5), len(jobs)) as workers:
        found = workers.each(deaf, jobs, lambda job: -job, lambda k: 1, lambda job, so_far: so_far + 1)
        assert found[:number] == [10 * job + 1 for job in jobs][:number]
        assert found[number:] == [-job for job in jobs][number:]  # begun when it was over
        assert workers.each(square, jobs, lambda job: job, lambda k: 1) == [job * job for job in jobs]
    assert time.monotonic() - began < 5


def deaf_once_begun(job: int, budget: Budget) -> int:
    if not budget.spent():
        budget.tell("begun")
    return deaf(job, budget)


@pytest.mark.parametrize("kept", [True, False])
def test_what_hears_no_stop_is_ended_and_if_nothing_is_known_of_it_done_again(method: str, kept: bool) -> None:
    """Once both are at work. What is done again is done by a spent budget."""
    begun: list[str] = []

    def tell(text: str) -> None:
        begun.append(text)
        if len(begun) == 2:
            threading.Timer(0.2, budget.stop).start()

    budget = Budget(None, tell)
    began = time.monotonic()
    with Workers(budget, 2) as workers:
        settle = (lambda job, so_far: so_far + 1) if kept else None
        found = workers.each(deaf_once_begun, [1, 2], lambda job: -job, lambda k: 1, settle)
        assert found == ([11, 21] if kept else [-1, -2])
        assert workers.each(square, [3, 4], lambda job: job, lambda k: 1) == [9, 16]
    assert time.monotonic() - began < 20


def test_what_goes_wrong_in_a_job_comes_out(number: int) -> None:
    with pytest.raises(ValueError, match="job"), Workers(Budget(5.0), 2) as workers:
        workers.each(fail, [1, 2], lambda job: 1, lambda k: 1)


def test_what_is_wrong_in_an_input_comes_out_whole() -> None:
    wrong = InputProblems([Problem("week.csv", 3, "opening", "is not a length"), Problem("a.csv", 1, "qty", "is 0")])
    assert pickle.loads(pickle.dumps(wrong)).problems == wrong.problems


def test_a_worker_that_is_ended_from_outside_is_said_and_not_waited_for(method: str) -> None:
    with pytest.raises(RuntimeError, match="ended from outside"), Workers(Budget(20.0), 2) as workers:
        workers.each(end_itself, [1, 2], lambda job: 1, lambda k: 1)


def end_itself(job: int, budget: Budget) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return job


CALLER = """
import multiprocessing, sys, time
from cutplan.running import workers as pools
from cutplan.running.budget import Budget

def busy(job, budget):
    budget.tell("busy")
    time.sleep(60)

def tell(text):
    print(text, file=sys.stderr, flush=True)

if __name__ == "__main__":
    pools.cores = lambda: 3
    pools.can_fork = lambda: sys.argv[1] == "forked"
    print("half a line that is not flushed", end="")
    with pools.Workers(Budget(None, tell), 3) as workers:
        print(*(child.pid for child in multiprocessing.active_children()), file=sys.stderr, flush=True)
        workers.each(busy, [1, 2], lambda job: 1, lambda k: 1)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="looks for processes where Linux shows them")
@pytest.mark.parametrize("by", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_worker_outlives_its_caller_or_writes_what_was_his(by: signal.Signals, method: str, tmp_path: Path) -> None:
    """Two of them are busy, the third is idle."""
    (tmp_path / "caller.py").write_text(CALLER, encoding="utf-8")
    caller = subprocess.Popen([sys.executable, str(tmp_path / "caller.py"), method], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True)
    assert caller.stdout is not None and caller.stderr is not None
    workers = [int(word) for word in caller.stderr.readline().split()]
    assert len(workers) == 3
    assert all(map(there, workers))
    assert [caller.stderr.readline() for _ in range(2)] == ["busy\n"] * 2
    caller.send_signal(by)
    caller.wait(10)
    end = time.monotonic() + 5
    while any(map(there, workers)) and time.monotonic() < end:
        time.sleep(0.02)
    assert not any(map(there, workers))
    assert caller.stdout.read() in ("", "half a line that is not flushed")  # not once for each process


def there(process: int) -> bool:
    """Whether a process still runs."""
    try:
        stat = open(f"/proc/{process}/stat", encoding="utf-8").read()  # noqa: SIM115
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


LEAVER = """
import sys
from cutplan.running import workers as pools
from cutplan.running.budget import Budget

def work(job, budget):
    return job

if __name__ == "__main__":
    pools.cores = lambda: 2
    pools.can_fork = lambda: sys.argv[1] == "forked"
    with pools.Workers(Budget(None), 2) as workers:
        workers.each(work, [1, 2], lambda job: 1, lambda k: 1)
        raise SystemExit(3)
"""


def test_workers_leave_without_a_word_when_the_caller_goes_on_elsewhere(method: str, tmp_path: Path) -> None:
    (tmp_path / "leaver.py").write_text(LEAVER, encoding="utf-8")
    for _ in range(15 if method == "forked" else 2):
        result = subprocess.run([sys.executable, str(tmp_path / "leaver.py"), method], capture_output=True, text=True,
                                check=False, timeout=60)
        assert (result.returncode, result.stdout, result.stderr) == (3, "", "")


def test_a_script_that_would_begin_again_in_each_process_is_told_how_to_be_written(tmp_path: Path) -> None:
    lines = LEAVER.replace('if __name__ == "__main__":', "if True:").replace("raise SystemExit(3)", "pass")
    (tmp_path / "unguarded.py").write_text(lines, encoding="utf-8")
    result = subprocess.run([sys.executable, str(tmp_path / "unguarded.py"), "spawned"], capture_output=True, text=True,
                            check=False, timeout=60)
    assert result.returncode == 1
    last = result.stderr.rpartition("RuntimeError: ")[2]
    assert "could not begin" in last and 'if __name__ == "__main__":' in last
