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

import pytest

from cutplan.problems import InputProblems, Problem
from cutplan.running import workers as crews
from cutplan.running.budget import Budget
from cutplan.running.workers import Crew


def square(job: int, budget: Budget) -> int:
    budget.tell(f"job {job}")
    return job * job


def wait_for_the_end(job: int, budget: Budget) -> int:
    while not budget.spent():
        time.sleep(0.01)
    return job


def fail(job: int, budget: Budget) -> int:
    raise ValueError(f"job {job}")


@pytest.fixture(params=[1, 2])
def hands(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """One after the other, and side by side."""
    monkeypatch.setattr(crews, "cores", lambda: request.param)
    return int(request.param)


def test_results_come_in_the_order_of_the_jobs_and_words_are_heard(hands: int) -> None:
    heard: list[str] = []
    with Crew(Budget(None, heard.append), 5) as crew:
        assert crew.each(square, [1, 2, 3, 4, 5], lambda job: job, lambda k: 1) == [1, 4, 9, 16, 25]
        assert crew.each(square, [3, 1], lambda job: job, lambda k: 1) == [9, 1]
    assert sorted(heard) == sorted([*(f"job {k}" for k in range(1, 6)), "job 3", "job 1"])


def test_the_time_is_shared(hands: int) -> None:
    began = time.monotonic()
    with Crew(Budget(0.6), 4) as crew:
        assert crew.each(wait_for_the_end, [1, 2, 3, 4], lambda job: 1, lambda k: (4 - k + 1) // hands) == [1, 2, 3, 4]
    assert time.monotonic() - began < 3


def test_a_stop_reaches_all(hands: int) -> None:
    budget = Budget(None)
    threading.Timer(0.2, budget.stop).start()
    began = time.monotonic()
    with Crew(budget, 3) as crew:
        assert crew.each(wait_for_the_end, [1, 2, 3], lambda job: 1, lambda k: 3 - k) == [1, 2, 3]
    assert time.monotonic() - began < 5


def deaf(job: int, budget: Budget) -> int:
    """Hears no stop, as a solver may."""
    if budget.spent():
        return -job
    budget.keep(lambda: 10 * job)
    time.sleep(60)
    return job


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere jobs are done one after the other")
@pytest.mark.parametrize("jobs", [[1], [1, 2, 3]])
def test_what_does_not_end_is_ended_and_what_there_is_so_far_is_taken(jobs: list[int], hands: int) -> None:
    began = time.monotonic()
    with Crew(Budget(0.5), len(jobs)) as crew:
        found = crew.each(deaf, jobs, lambda job: -job, lambda k: 1, lambda job, so_far: so_far + 1)
        assert found[:hands] == [10 * job + 1 for job in jobs][:hands]
        assert found[hands:] == [-job for job in jobs][hands:]  # begun when it was over
        assert crew.each(square, jobs, lambda job: job, lambda k: 1) == [job * job for job in jobs]
    assert time.monotonic() - began < 5


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere jobs are done one after the other")
def test_a_job_of_which_nothing_is_known_is_done_again_by_a_spent_budget(hands: int) -> None:
    budget, began = Budget(None), time.monotonic()
    threading.Timer(0.2, budget.stop).start()
    with Crew(budget, 2) as crew:
        assert crew.each(deaf, [1, 2], lambda job: -job, lambda k: 1) == [-1, -2]
    assert time.monotonic() - began < 6


def test_what_goes_wrong_in_a_job_comes_out(hands: int) -> None:
    with pytest.raises(ValueError, match="job"), Crew(Budget(5.0), 2) as crew:
        crew.each(fail, [1, 2], lambda job: 1, lambda k: 1)


def test_what_is_wrong_in_an_input_comes_out_whole() -> None:
    wrong = InputProblems([Problem("week.csv", 3, "opening", "is not a length"), Problem("a.csv", 1, "qty", "is 0")])
    assert pickle.loads(pickle.dumps(wrong)).problems == wrong.problems


def test_a_hand_that_is_ended_from_outside_is_said_and_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crews, "cores", lambda: 2)
    with pytest.raises(RuntimeError, match="ended from outside"), Crew(Budget(20.0), 2) as crew:
        crew.each(end_itself, [1, 2], lambda job: 1, lambda k: 1)


def end_itself(job: int, budget: Budget) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return job


CALLER = """
import multiprocessing, os, sys, time
from cutplan.running import workers as crews
from cutplan.running.budget import Budget

def busy(job, budget):
    time.sleep(60)

crews.cores = lambda: 3
print("half a line that is not flushed", end="")
with crews.Crew(Budget(None), 3) as crew:
    print(*(child.pid for child in multiprocessing.active_children()), file=sys.stderr, flush=True)
    crew.each(busy, [1, 2], lambda job: 1, lambda k: 1)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere jobs are done one after the other")
@pytest.mark.parametrize("by", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_hand_outlives_its_caller_or_writes_what_was_his(by: signal.Signals) -> None:
    """Two of the hands are busy, the third is idle."""
    caller = subprocess.Popen([sys.executable, "-c", CALLER], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert caller.stdout is not None and caller.stderr is not None
    hands = [int(word) for word in caller.stderr.readline().split()]
    assert len(hands) == 3
    assert all(map(there, hands))
    time.sleep(0.2)
    caller.send_signal(by)
    caller.wait(10)
    end = time.monotonic() + 5
    while any(map(there, hands)) and time.monotonic() < end:
        time.sleep(0.02)
    assert not any(map(there, hands))
    assert caller.stdout.read() in ("", "half a line that is not flushed")  # not once for each process


def there(process: int) -> bool:
    """Whether a process still runs."""
    try:
        stat = open(f"/proc/{process}/stat", encoding="utf-8").read()  # noqa: SIM115
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


LEAVER = """
from cutplan.running import workers as crews
from cutplan.running.budget import Budget

def work(job, budget):
    return job

crews.cores = lambda: 2
with crews.Crew(Budget(None), 2) as crew:
    crew.each(work, [1, 2], lambda job: 1, lambda k: 1)
    raise SystemExit(3)
"""


def test_hands_leave_without_a_word_when_the_caller_goes_on_elsewhere() -> None:
    for _ in range(15):
        result = subprocess.run([sys.executable, "-c", LEAVER], capture_output=True, text=True, check=False, timeout=60)
        assert (result.returncode, result.stdout, result.stderr) == (3, "", "")
