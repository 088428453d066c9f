"""If these fail, `check` keeps silent, cannot be stopped, or buries what is wrong with a plan in thousands of lines."""

from __future__ import annotations

import json
import random
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cutplan import problems
from cutplan.checking import proof
from cutplan.commands import checking, shared
from cutplan.plans.grounds import grounded
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import ProfilePlan
from cutplan.problems import InputProblems
from tests.commands import run
from tests.cutting.shops import cut, profile
from tests.plans.parsing import from_json


def planned(name: str) -> ProfilePlan:
    return replace(cut(profile([(100, 1, None)], "1/8"), {45: 9, 31: 4}), profile=name)


@pytest.fixture
def two_profiles(tmp_path: Path) -> Path:
    file = tmp_path / "plan.json"
    file.write_text(to_json(Plan("in", (planned("top"), planned("bottom")))))
    return file


@pytest.mark.parametrize(
    "where", ["", "digest", "profiles.0", "profiles.0.proof.certificate", "profiles.0.sticks.0.cuts.0"])
def test_twenty_thousand_keys_too_many_are_refused_soon_and_shortly(two_profiles: Path, where: str) -> None:
    fields = json.loads(two_profiles.read_text())
    there: Any = fields
    for key in filter(None, where.split(".")):
        there = there[int(key) if key.isdigit() else key]
    there |= {f"more {k}": k for k in range(20_000)}
    began = time.process_time()
    with pytest.raises(InputProblems) as refused:
        from_json(json.dumps(fields), "plan.json")
    assert time.process_time() - began < 5.0  # a second where nothing else is at work; comparing all with all took 30
    assert len(refused.value.problems) >= 20_000
    assert len(str(refused.value).splitlines()) <= 101
    assert "more problems" in str(refused.value)


def test_the_same_key_very_often_is_refused_soon() -> None:
    began = time.process_time()
    with pytest.raises(InputProblems, match="stands twice"):
        from_json("{" + ", ".join(f'"{k % 15_000}": 1' for k in range(20_000)) + "}", "plan.json")
    assert time.process_time() - began < 5.0


def test_progress_is_said_on_standard_error(two_profiles: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Loud(shared.Progress):
        """Says all that it is called with."""

        def __call__(self, text: str) -> None:
            shared.tell(text)

    monkeypatch.setattr(checking, "Progress", Loud)
    result = run("check", two_profiles)
    assert result.exit_code == 0
    assert "top: checking the proof, part 1 of 1" in result.stderr
    assert "checking" not in result.stdout


def test_a_file_that_takes_long_to_read_is_named(two_profiles: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shared, "QUIET", 0.0)
    read_text = problems.read_text
    monkeypatch.setattr(problems, "read_text", lambda path: time.sleep(0.2) or read_text(path))
    assert f"{two_profiles}: reading it" in run("check", two_profiles).stderr


def test_stopped_it_says_what_was_not_checked(two_profiles: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = proof.prove

    def stop_at_bottom(profile: ProfilePlan, tell: proof.Tell) -> proof.Proved:
        if profile.profile == "bottom":
            raise KeyboardInterrupt
        return whole(profile, tell)

    monkeypatch.setattr(proof, "prove", stop_at_bottom)
    result = run("check", two_profiles)
    assert result.exit_code == shared.STOPPED
    assert not result.stdout
    assert "top: costs" in result.stderr
    assert result.stderr.splitlines()[-1] == "stopped: what the plan claims to be proven of bottom was not checked"


def long_claim() -> ProfilePlan:
    """A plan of one piece a stick whose certificate takes minutes: its stock has a long stick, on which many pieces of
    lengths without a common unit are worth far more than it costs, so that nothing can be left out."""
    chance = random.Random(0)
    lengths = [Fraction(chance.randint(6 * 10**10, 10**11), 10**11) for _ in range(20)]
    plan = cut(profile([(1, 1, None)]), {str(float(length)): 500 for length in lengths})
    stock = [*plan.certificate["stock"], {"length": Fraction(10**4), "price": Fraction(1), "qty": None, "tag": None}]
    tree: dict[str, Any] = {"scale": 1, "duals": []}
    for at in range(20):
        duals = [{"length": entry.length, "value": chance.randint(10**6, 10**7)} for entry in plan.demand]
        kind = {"length": Fraction(1), "price": Fraction(1), "source": "new"}
        tree = {"stick": kind, "at_most": 20 - at, "below": tree, "above": {"scale": 1, "duals": duals}}
    return grounded(replace(plan, certificate={**plan.certificate, "stock": stock, "tree": tree}))


def test_the_stop_key_ends_a_long_proof_at_once(tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    file.write_text(to_json(Plan("in", (long_claim(),))))
    check = subprocess.Popen([sys.executable, "-m", "cutplan", "check", file], stdout=subprocess.PIPE,
                             stderr=subprocess.PIPE, text=True)
    assert check.stderr is not None
    try:
        assert any("checking the proof" in line for line in check.stderr)
        check.send_signal(signal.SIGINT)
        began = time.monotonic()
        said, told = check.communicate(timeout=30)
        assert time.monotonic() - began < 10.0  # far less where nothing else is at work
    finally:
        check.kill()
    assert check.returncode == shared.STOPPED
    assert not said
    assert "was not checked" in told
    assert "Traceback" not in told


def test_figures_are_printed_as_on_the_other_sheets(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Money in hundredths and lengths are rounded to the nearest, and a ~ says so; read again, a figure is that near.

    100.3 in at 2.58 a foot cost 21.5645; 1 mm is 5/127 in, which has no end in decimals.
    """
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text('unit = "in"\nsaw.kerf = "1/8"\n[profiles.p]\nkind = "other"\n'
                                 'price_per_length = "2.58/ft"\nkeep_from = "10"\nstock = [{ length = "100.3" }]\n')
    Path("pieces.csv").write_text("mark,profile,length,qty\nA,p,60,2\nB,p,31 mm,1\n")
    table = run("cut", "pieces.csv", "--shop", "shop.toml", "--json", "plan.json").stdout
    said = run("check", "plan.json").stdout
    assert "costs ~43.13;" in said and "~43.13" in table
    used = [tier.value for tier in from_json(Path("plan.json").read_text(), "plan.json").profiles[0].tiers[1:2]]
    near, exact = re.findall(r"~([0-9.]+) \(([0-9]+/[0-9]+)\) used up", said)[0]
    assert [Fraction(exact)] == used and abs(Fraction(near) - Fraction(exact)) <= Fraction(1, 200)


@pytest.mark.parametrize("hundredths", [*(Fraction(n, 7) for n in range(0, 40, 3)), Fraction(2526), Fraction(5053, 2)])
def test_no_bound_grows_in_print(hundredths: Fraction) -> None:
    text = proof.at_least(hundredths / 100)
    assert 0 <= hundredths - 100 * Fraction(text.lstrip("~")) < 1
    assert text.startswith("~") == (hundredths.denominator > 1)
