"""If these fail, the commands answer with the wrong words or status, or leave half a file behind."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cutplan import cli
from cutplan.commands import shared
from tests.cutting.renewed import renewed

ROOT = Path(__file__).resolve().parent.parent
SHOP = str(ROOT / "data" / "demo" / "shop.toml")
WEEK = str(ROOT / "data" / "demo" / "week.csv")
PIECES = str(ROOT / "data" / "demo" / "pieces.csv")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cli.app, [str(word) for word in words], catch_exceptions=False)


def shell(*words: str | Path, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "cutplan", *map(str, words)], cwd=ROOT, text=True, check=False,
        **{"capture_output": True, **options},  # type: ignore[call-overload]
    )  # fmt: skip


@pytest.fixture
def impossible(tmp_path: Path) -> Path:
    """A piece of 30 ft; the longest bar of the demo's box-rail is 20 ft."""
    file = tmp_path / "pieces.csv"
    file.write_text("mark,profile,length,qty\nA,box-rail,30 ft,1\n", encoding="utf-8")
    return file


@pytest.fixture
def wrong(tmp_path: Path) -> Path:
    file = tmp_path / "wrong.csv"
    file.write_text("mark,profile,length,qty\nA,box-rail,long,1\nB,none-such,34,0\n", encoding="utf-8")
    return file


def seconds_of_help() -> float:
    """What the processor spends on it, whatever else the machine is doing."""
    before = os.times()
    assert shell("--help").returncode == 0
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def test_help_is_quick_and_loads_no_solver() -> None:
    assert seconds_of_help() < 0.5
    code = (
        "import sys, cutplan.cli; print(sorted({'ortools', 'numpy', 'pint', 'tabulate', 'jinja2'} & set(sys.modules)))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert loaded.stdout.strip() == "[]"


def test_check_loads_no_solver(tmp_path: Path) -> None:
    assert run("cut", PIECES, "--shop", SHOP, "--json", tmp_path / "p.json").exit_code == 0
    code = (
        "import sys\nfrom cutplan.cli import app\n"
        f"try: app(['check', {str(tmp_path / 'p.json')!r}])\n"
        "except SystemExit as status: print(status.code, sorted({'ortools', 'pandas'} & set(sys.modules)))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert loaded.stdout.splitlines()[-1] == "0 []"


def test_takeoff_prints_a_table_and_its_csv_is_cut_as_it_is(tmp_path: Path) -> None:
    week = tmp_path / "week.csv"
    week.write_text("mark,kind,system,qty,opening,height\nG1,gate,breakwater,2,36,42\n", encoding="utf-8")
    assert "G1: gate, breakwater, 2 to make" in run("takeoff", week, "--shop", SHOP).stdout
    assert run("takeoff", week, "--shop", SHOP, "--csv", tmp_path / "pieces.csv").exit_code == 0
    from_week = run("cut", week, "--shop", SHOP, "--csv", "-")
    from_pieces = run("cut", tmp_path / "pieces.csv", "--shop", SHOP, "--csv", "-")
    assert from_week.exit_code == from_pieces.exit_code == 0
    assert from_week.stdout == from_pieces.stdout


def test_a_plan_is_written_and_proved_again(tmp_path: Path) -> None:
    plan, cuts = tmp_path / "plan.json", tmp_path / "cuts.csv"
    result = run("cut", PIECES, "--shop", SHOP, "--json", plan, "--csv", cuts)
    assert result.exit_code == 0 and "What is proven" in result.stdout
    written = json.loads(plan.read_text(encoding="utf-8"))
    rows = list(csv.DictReader(io.StringIO(cuts.read_text(encoding="utf-8"))))
    assert len(rows) == sum(len(s["cuts"]) for p in written["profiles"] for s in p["sticks"])
    checked = run("check", plan)
    assert checked.exit_code == 0 and checked.stderr == ""
    assert all(profile["profile"] in checked.stdout for profile in written["profiles"])
    assert sorted(tmp_path.iterdir()) == [cuts, plan]


def test_a_dash_stands_alone_on_standard_output(tmp_path: Path) -> None:
    result = run("cut", PIECES, "--shop", SHOP, "--json", "-", "--csv", tmp_path / "cuts.csv")
    assert json.loads(result.stdout)["format"] == "cutplan plan"
    assert (tmp_path / "cuts.csv").exists()
    both = run("cut", PIECES, "--shop", SHOP, "--json", "-", "--csv", "-")
    assert (both.exit_code, both.stdout) == (2, "")


def test_everything_wrong_is_listed_and_nothing_written(wrong: Path, tmp_path: Path) -> None:
    result = run(
        "cut", wrong, "--shop", SHOP, "--json", tmp_path / "p.json", "--csv", tmp_path / "missing" / "c.csv"
    )
    assert (result.exit_code, result.stdout) == (2, "")
    lines = result.stderr.splitlines()
    assert [line.startswith(f"{wrong}:{n}: ") for n, line in zip((2, 3, 3), lines[-3:], strict=True)] == [
        True
    ] * 3
    assert any("c.csv:1: file: cannot be written" in line for line in lines)
    assert list(tmp_path.iterdir()) == [wrong]


def test_no_plan_is_status_3_and_nothing_written(impossible: Path, tmp_path: Path) -> None:
    result = run("cut", impossible, "--shop", SHOP, "--json", tmp_path / "p.json")
    assert (result.exit_code, result.stdout) == (3, "")
    assert "box-rail" in result.stderr and "360" in result.stderr
    assert list(tmp_path.iterdir()) == [impossible]


@pytest.mark.parametrize("limit", ["0", "-1", "nan", "soon"])
def test_a_limit_without_time_is_refused(limit: str) -> None:
    assert run("cut", PIECES, "--shop", SHOP, "--limit", limit).exit_code == 2


def test_an_output_must_not_be_an_input_a_folder_or_written_twice(tmp_path: Path) -> None:
    pieces = tmp_path / "pieces.csv"
    pieces.write_bytes(Path(PIECES).read_bytes())
    before = pieces.read_bytes()
    same = tmp_path / "same"
    for words in (
        ["--csv", pieces],
        ["--json", tmp_path],
        ["--json", same, "--csv", same],
        ["--json", "/dev/null"],
    ):
        assert run("cut", pieces, "--shop", SHOP, *words).exit_code == 2
    assert pieces.read_bytes() == before and list(tmp_path.iterdir()) == [pieces]


def test_an_output_keeps_its_link_and_its_rights(tmp_path: Path) -> None:
    file, link = tmp_path / "cuts.csv", tmp_path / "link.csv"
    file.write_text("old", encoding="utf-8")
    file.chmod(0o640)
    link.symlink_to(file)
    assert run("cut", PIECES, "--shop", SHOP, "--csv", link).exit_code == 0
    assert link.is_symlink() and file.stat().st_mode & 0o777 == 0o640
    assert file.read_text(encoding="utf-8").startswith("profile,")


def test_missing_files_are_problems() -> None:
    for words in (["cut", "none.csv", "--shop", "none.toml"], ["check", "none.json"], ["check", str(ROOT)]):
        result = run(*words)
        assert result.exit_code == 2 and ":1: file: " in result.stderr


def test_takeoff_of_pieces_says_what_would_be_right() -> None:
    result = run("takeoff", PIECES, "--shop", SHOP)
    assert result.exit_code == 2 and "a week file" in result.stderr


def test_a_plan_tampered_with_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    assert run("cut", PIECES, "--shop", SHOP, "--json", file).exit_code == 0
    plan = json.loads(file.read_text(encoding="utf-8"))
    plan["profiles"][0]["sticks"][0]["cuts"][0]["start"] += 1
    file.write_text(json.dumps(plan), encoding="utf-8")
    result = run("check", file)
    assert result.exit_code == 2 and result.stdout == ""
    assert all(line.startswith(f"{file}:1: stick") for line in result.stderr.splitlines())


def test_a_plan_tampered_with_is_refused_with_a_new_digest_too(tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    assert run("cut", PIECES, "--shop", SHOP, "--json", file).exit_code == 0
    plan = json.loads(file.read_text(encoding="utf-8"))
    plan["profiles"][0]["sticks"][0]["cuts"][0]["start"] += 1
    file.write_text(renewed(plan), encoding="utf-8")
    result = run("check", file)
    assert result.exit_code == 2 and result.stdout == ""
    assert all(line.startswith(f"{file}:1: stick") and ", cut 1" in line for line in result.stderr.splitlines())


def test_a_plan_that_fails_its_audit_is_not_shown(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("cutplan.planning.solve.audit", lambda plan: ["profiles[0].totals.cost: wrong"])
    result = run("cut", PIECES, "--shop", SHOP, "--json", tmp_path / "p.json")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "failed its own audit" in result.stderr and list(tmp_path.iterdir()) == []


def test_a_reader_that_stops_is_no_fault() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    result = shell(
        "takeoff", WEEK, "--shop", SHOP, capture_output=False, stdout=writing, stderr=subprocess.PIPE
    )
    os.close(writing)
    assert (result.returncode, result.stderr) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this machine has no device that is always full")
def test_a_full_disk_is_a_problem() -> None:
    with open("/dev/full", "w") as full:
        result = shell(
            "takeoff", WEEK, "--shop", SHOP, capture_output=False, stdout=full, stderr=subprocess.PIPE
        )
    assert (
        result.returncode == 2 and "cannot be written" in result.stderr and "Traceback" not in result.stderr
    )


def test_progress_is_silent_at_first_and_then_sparing(capsys: pytest.CaptureFixture[str]) -> None:
    with shared.Progress(quiet=0.2) as progress:
        progress("at 0")
        time.sleep(0.1)
        assert not capsys.readouterr().err
        for k in range(1, 41):
            progress(f"at {k}")
            time.sleep(0.02)
    said = capsys.readouterr().err.split()[1::2]
    assert 2 <= len(said) <= 5 and said == sorted(set(said), key=int)


def test_the_first_word_comes_before_any_search_has_one(capsys: pytest.CaptureFixture[str]) -> None:
    with shared.Progress(quiet=0.05):
        time.sleep(0.3)
    assert capsys.readouterr().err == "at work\n"


def test_on_a_terminal_one_line_is_written_over_and_has_the_time_left(tmp_path: Path) -> None:
    """NO_COLOR is heeded: what steers the terminal moves about, and colours nothing."""
    ours, theirs = os.openpty()
    with (tmp_path / "out.txt").open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "cutplan", "cut", "data/demo/week.csv", "--shop", SHOP, "--limit", "3"], cwd=ROOT,
            stdout=out, stderr=theirs, env={**os.environ, "NO_COLOR": "1", "TERM": "xterm"},
        )
    os.close(theirs)
    heard = b""
    with contextlib.suppress(OSError):  # the other end is closed
        while more := os.read(ours, 4096):
            heard += more
    assert process.wait() == 0
    assert re.search(rb"[1-3] s left; [a-z0-9]", heard) and re.search(rb"no less than|lines of pieces", heard), heard
    assert not re.search(rb"\x1b\[[0-9;]*3[0-9][0-9;]*m", heard)
    assert heard.count(b"\n") < 5 and "What is proven" in (tmp_path / "out.txt").read_text()


def test_help_lists_every_command_once_under_who_asks_for_it() -> None:
    said = run("--help").stdout
    from cutplan.cli import app

    titles = ["At the saw:", "For the buyer:", "For the estimator:"]
    assert [line for line in said.split("\n") if line in titles] == titles and "..." not in said[said.index(titles[0]):]
    names = re.findall(r"^  ([a-z]+)  ", said[said.index(titles[0]):], re.MULTILINE)
    every = [command.name or command.callback.__name__ for command in app.registered_commands if command.callback]
    assert sorted(names) == sorted([*every, "rack"])


def test_the_stop_key_ends_the_search_and_prints_the_best_plan_so_far(tmp_path: Path) -> None:
    """Whoever presses it: the terminal tells every process of the program, a script only the first."""
    chance = random.Random(0)
    pieces = tmp_path / "pieces.csv"
    pieces.write_text("mark,profile,length,qty\n" + "".join(
        f"{profile}{k},{profile},{chance.randint(20 * 16, 95 * 16)}/16,{chance.randint(1, 3)}\n"
        for profile in ("lantern-cap", "box-rail") for k in range(150)
    ))
    for everyone in (False, True):
        process = subprocess.Popen(
            [sys.executable, "-m", "cutplan", "cut", str(pieces), "--shop", SHOP],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True, cwd=ROOT,
        )
        assert process.stderr is not None and process.stderr.readline()
        began = time.monotonic()
        (os.killpg if everyone else os.kill)(process.pid, signal.SIGINT)
        output, _ = process.communicate(timeout=60)
        assert process.returncode == 0
        assert b"What is proven" in output
        assert time.monotonic() - began < 20


def test_what_does_not_fit_is_told_beside_what_cannot_be_read(tmp_path: Path) -> None:
    """Three lines, three problems of two kinds: one list, for whoever mends the file."""
    week = tmp_path / "week.csv"
    week.write_text("mark,kind,system,qty,opening,height,leaves\nG1,gate,lantern,1,40,42,3\nB1,bay,lantern,1,72,4,\n"
                    "G2,gate,lantern,1,1,42,\nB2,bay,lantern,1,72,42,\n")
    answer = run("cut", str(week), "--shop", SHOP)
    assert answer.exit_code == 2
    lines = [re.match(r".*week\.csv:(\d+): (\w+)", line) for line in answer.stderr.splitlines()]
    assert {(found[1], found[2]) for found in lines if found} == {("2", "leaves"), ("3", "height"), ("4", "opening")}
