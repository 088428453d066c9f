"""If these fail, who checks a plan is told of places in its file's JSON, or of another stick, mark or profile."""

from __future__ import annotations

import copy
import json
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from cutplan.checking.sound import read_plan
from cutplan.plans.plan import Plan, to_json
from cutplan.problems import InputProblems
from tests.commands import run
from tests.cutting.shops import cut, profile

Steps = tuple[str | int, ...]
IN_JSON = re.compile(r"\w\[\d|\w\.\w|_")  # profiles[0].head_trim


@pytest.fixture(scope="module")
def whole() -> Any:
    made = [replace(cut(profile([(100, 1, None)], "1/8"), demand), profile=name)
            for name, demand in (("top", {45: 9, 31: 4}), ("lantern-base", {36: 7, 22: 5}))]
    return json.loads(to_json(Plan("in", tuple(made))))


def leaves(value: Any, path: Steps = ()) -> Iterator[Steps]:
    """The way to every value that is no list and no object, and to every list and object."""
    if path:
        yield path
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in entries:
        yield from leaves(part, (*path, key))


def named(whole: Any, path: Steps) -> str:
    """What a person calls the place: counted here by laying the sticks in a row."""
    sticks = [(p, s) for p, one in enumerate(whole["profiles"]) for s, stick in enumerate(one["sticks"])
              for _ in range(stick["count"])]
    match path:
        case ("profiles", int(p), "sticks", int(s), *_):
            mine = [n for n, place in enumerate(sticks, start=1) if place == (p, s)]
            return f"stick {mine[0]}" if len(mine) == 1 else f"sticks {mine[0]} to {mine[-1]}"
        case ("profiles", int(p), "demand", int(d), *_):
            return f"{whole['profiles'][p]['profile']}, {whole['profiles'][p]['demand'][d]['mark']}"
        case ("profiles", int(p), *_):
            return str(whole["profiles"][p]["profile"])
    return str(path[0]).replace("_", " ")


def altered(whole: Any, path: Steps, wrong: Any) -> Any:
    found = copy.deepcopy(whole)
    here = found
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = wrong
    return found


def test_whatever_is_altered_is_told_by_its_stick_mark_or_profile(whole: Any, tmp_path: Path) -> None:
    chance, file = random.Random(4), tmp_path / "plan.json"
    names = ("profile", "mark", "count")  # what a place is called by, and who has it, stay
    paths = [path for path in leaves(whole) if path[0] != "digest" and path[-1] not in names
             and not isinstance(path[-1], int)]
    for path in chance.sample(paths, 120):
        wrong = altered(whole, path, chance.choice(["wrong", 7.125, None, [], {}]))
        if wrong == whole:
            continue
        file.write_text(json.dumps(wrong))
        with pytest.raises(InputProblems) as refused:
            read_plan(file)
        columns = [one.column for one in refused.value.problems]
        assert not any(IN_JSON.search(column) for column in columns), (path, columns)
        assert any(column.startswith(named(whole, path)) for column in columns), (path, columns)


def test_every_command_that_reads_a_plan_says_the_stick(whole: Any, tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    file.write_text(json.dumps(altered(whole, ("profiles", 1, "sticks", 0, "cuts", 1, "start"), 3)))
    first = 1 + sum(stick["count"] for stick in whole["profiles"][0]["sticks"])
    rack = ("--rack", tmp_path / "rack.db")
    for words in (["check", file], ["sheets", file, "--out", tmp_path / "out.html"], ["book", file, *rack],
                  ["rest", file, *rack], ["hold", file, *rack], ["spoil", file, "1", *rack]):
        result = run(*words)
        assert result.exit_code == 2 and re.search(rf":1: sticks? {first}( to \d+)?, cut 2, start: ", result.stderr)
        assert "].cuts" not in result.stderr


def test_a_proof_that_does_not_hold_is_told_by_its_profile(whole: Any, tmp_path: Path) -> None:
    file = tmp_path / "plan.json"
    bare = copy.deepcopy(whole)
    bare["profiles"][1]["proof"]["certificate"]["tree"] = {"scale": 1, "duals": []}
    file.write_text(json.dumps(bare))
    result = run("check", file)
    assert result.exit_code == 2 and "lantern-base, proof, certificate" in result.stderr
    assert not re.search(r"profiles\[", result.stderr)
