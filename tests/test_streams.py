"""If these fail, what a shell does with the streams, or a plan that does not exist, ends in a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CUT = f"{sys.executable} -m cutplan cut {{}} --shop data/demo/shop.toml --limit 1"
PROGRESS = ("at work", "3 lines of pieces", "lantern-cap", "square-picket")  # which a busy machine has time to say
TAKEOFF = f"{sys.executable} -m cutplan takeoff data/demo/week.csv --shop data/demo/shop.toml"


def shell(command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)


@pytest.mark.parametrize("streams", [">&-", "2>&-", ">&- 2>&- <&-", "2>/dev/full"])
def test_a_plan_is_written_whatever_the_streams_are(streams: str, tmp_path: Path) -> None:
    pieces = tmp_path / "pieces.csv"
    pieces.write_text("mark,profile,length,qty\nA,lantern-cap,37 3/8,9\nB,box-rail,60,3\n", encoding="utf-8")
    result = shell(f"{CUT.format(pieces)} --json {tmp_path / 'p.json'} {streams}")
    assert (result.returncode, "fault" in result.stderr, "Traceback" in result.stderr) == (0, False, False)
    assert (tmp_path / "p.json").read_text(encoding="utf-8").startswith("{")
    assert result.stdout.startswith("Lengths in inches") != streams.startswith(">&-")


@pytest.mark.parametrize("command", [f"{TAKEOFF} | head -1", f"{TAKEOFF} 2>&1 | head -1",
                                     f"{TAKEOFF} --csv - | head -c 1", f"{sys.executable} -m cutplan --help | head -1"])
def test_a_reader_that_has_seen_enough_is_no_fault(command: str) -> None:
    result = shell(f"{command}; exit ${{PIPESTATUS[0]}}")
    assert (result.returncode, "fault" in result.stderr, "Traceback" in result.stderr) == (0, False, False)


@pytest.mark.parametrize("streams", ["", ">&-", "2>&-", "2>/dev/full", "<&- >&- 2>&-"])
def test_what_is_wrong_keeps_its_status(streams: str) -> None:
    assert shell(f"{TAKEOFF.replace('week.csv', 'none.csv')} {streams}").returncode == 2


def test_no_plan_is_said_in_one_line_and_status_3(tmp_path: Path) -> None:
    """One of the three profiles has no plan; those beside it are at work when that is found."""
    pieces = tmp_path / "pieces.csv"
    pieces.write_text("mark,profile,length,qty\nA,box-rail,30 ft,1\nB,lantern-cap,60,3\nC,square-picket,30,30\n",
                      encoding="utf-8")
    for _ in range(2):
        result = shell(CUT.format(pieces))
        said = [line for line in result.stderr.splitlines() if not line.startswith(PROGRESS)]
        assert result.returncode == 3
        assert said[-1].startswith("box-rail: 360: longer than")
        assert all(line.startswith("box-rail: ") for line in said)


def test_what_a_library_writes_to_the_system_s_own_number_is_not_among_what_is_printed() -> None:
    code = ("import os, sys; from cutplan.streams import fill_in, keep_apart; print('before'); fill_in(); "
            "keep_apart(); os.write(1, b'stray'); print('after')")
    result = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert result.stdout == "before\nafter\n"
