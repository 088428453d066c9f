"""If these fail, profiles planned side by side get mixed up, are not heard, or cannot be stopped."""

from __future__ import annotations

import threading
import time

import pytest

from cutplan.cutting import crew as crews
from cutplan.cutting.crew import Crew
from cutplan.cutting.effort import Effort


def square(job: int, effort: Effort) -> int:
    effort.tell(f"job {job}")
    return job * job


def wait_for_the_end(job: int, effort: Effort) -> int:
    while not effort.spent():
        time.sleep(0.01)
    return job


def fail(job: int, effort: Effort) -> int:
    raise ValueError(f"job {job}")


@pytest.fixture(params=[1, 2])
def hands(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """One after the other, and side by side."""
    monkeypatch.setattr(crews, "cores", lambda: request.param)
    return int(request.param)


def test_results_come_in_the_order_of_the_jobs_and_words_are_heard(hands: int) -> None:
    heard: list[str] = []
    with Crew(Effort(None, heard.append), 5) as crew:
        assert crew.each(square, [1, 2, 3, 4, 5], lambda job: job, lambda k: 1) == [1, 4, 9, 16, 25]
        assert crew.each(square, [3, 1], lambda job: job, lambda k: 1) == [9, 1]
    assert sorted(heard) == sorted([*(f"job {k}" for k in range(1, 6)), "job 3", "job 1"])


def test_the_time_is_shared(hands: int) -> None:
    began = time.monotonic()
    with Crew(Effort(0.6), 4) as crew:
        assert crew.each(wait_for_the_end, [1, 2, 3, 4], lambda job: 1, lambda k: (4 - k + 1) // hands) == [1, 2, 3, 4]
    assert time.monotonic() - began < 3


def test_a_stop_reaches_all(hands: int) -> None:
    effort = Effort(None)
    threading.Timer(0.2, effort.stop).start()
    began = time.monotonic()
    with Crew(effort, 3) as crew:
        assert crew.each(wait_for_the_end, [1, 2, 3], lambda job: 1, lambda k: 3 - k) == [1, 2, 3]
    assert time.monotonic() - began < 5


def test_what_goes_wrong_in_a_job_comes_out(hands: int) -> None:
    with pytest.raises(ValueError, match="job"), Crew(Effort(5.0), 2) as crew:
        crew.each(fail, [1, 2], lambda job: 1, lambda k: 1)
