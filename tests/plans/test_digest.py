"""If these fail, a plan altered after it was written passes `check`, or is refused without saying where."""

from __future__ import annotations

import copy
import json
import math
import random
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from cutplan import cli
from cutplan.cutting import cut_pieces
from cutplan.exactjson import canonical
from cutplan.orders import Piece
from cutplan.plans.digest import digest, fingerprint
from cutplan.plans.plan import Plan, to_json
from cutplan.problems import InputProblems
from tests.cutting.renewed import renewed
from tests.cutting.shops import profile, shop
from tests.plans.parsing import from_json

F = Fraction
Path_ = tuple[Any, ...]  # keys and places in lists, from the root
Change = tuple[Path_, Any]  # the place altered, and the plan with it
ROOT: Path_ = ()


def two_profiles() -> Plan:
    """An offcut on the rack, a limited length, a length of thirds, marks of one length, an offcut kept."""
    rail = replace(profile([(120, "24.80", None), (192, "38.90", 5)], "1/8", keep_from=F(20), head_trim=F(1, 2)))
    picket = replace(profile([(60, "7.10", None), (75, "8.45", None)], "1/8"), name="picket")
    rail = replace(rail, stock=(*rail.stock, replace(rail.stock[0], price=F(0), qty=1, tag="A3", length=F(70))))
    wanted = [
        Piece("G1 top rail", "rail", F(36), 3, "G1"),
        Piece("G2 top rail", "rail", F(36), 2, "G2"),
        Piece("B1 rail", "rail", F(125, 3), 5),
        Piece("G1 picket", "picket", F("34.875"), 4, "G1"),
        Piece("B1 picket", "picket", F(19), 5, "B1"),
    ]
    place = replace(shop(rail), profiles={"rail": rail, "picket": picket}, currency="USD", shortest_held=F(12))
    return cut_pieces(wanted, place)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return two_profiles()


@pytest.fixture(scope="module")
def whole(plan: Plan) -> Any:
    """The file as it stands, with decimals kept to the digit."""
    return json.loads(to_json(plan), parse_float=Decimal)


# ---- alterations ----


def walk(value: Any, path: Path_ = ROOT) -> Iterator[tuple[Path_, Any]]:
    """Every place in the file and what stands there."""
    yield path, value
    if isinstance(value, dict | list):
        for key, part in value.items() if isinstance(value, dict) else enumerate(value):
            yield from walk(part, (*path, key))


def at(value: Any, path: Path_) -> Any:
    for key in path:
        value = value[key]
    return value


def put(plan: Any, path: Path_, value: Any) -> Change:
    altered = copy.deepcopy(plan)
    at(altered, path[:-1])[path[-1]] = value
    return path, altered


def other_values(value: Any) -> list[Any]:
    if isinstance(value, bool):
        return [not value, None, int(value)]
    if value is None:
        return [1, "", False]
    if isinstance(value, str):
        return [value + "x", f" {value[1:]}", None]
    return [value + 1, value + Decimal("0.0001"), -value - 1, str(value)]


def scalars_altered(plan: Any) -> Iterator[Change]:
    for path, value in walk(plan):
        if not isinstance(value, dict | list):
            for other in other_values(value):
                yield put(plan, path, other)


def parts_gone_or_added(plan: Any) -> Iterator[Change]:
    for path, value in walk(plan):
        for key in value if isinstance(value, dict) else ():
            altered = copy.deepcopy(plan)
            del at(altered, path)[key]
            yield (*path, key), altered
        if isinstance(value, dict):
            for key in ("remark", "whole"):
                if key not in value:
                    yield put(plan, (*path, key), {"length": []} if len(path) % 2 else 1)
        if isinstance(value, dict | list) and path:
            yield put(plan, path, [value])


def lists_altered(plan: Any) -> Iterator[Change]:
    """Each entry taken out, doubled, and put in the place of the next and of the first."""
    for path, value in walk(plan):
        for k in range(len(value)) if isinstance(value, list) else ():
            yield put(plan, path, value[:k] + value[k + 1 :])
            yield put(plan, path, [*value[: k + 1], *value[k:]])
            for other in {0, (k + 1) % len(value)}:
                if value[k] != value[other]:
                    order = list(value)
                    order[k], order[other] = order[other], order[k]
                    yield put(plan, path, order)


def in_words(path: Path_) -> str:
    """The path as messages spell it."""
    words = "".join(f"[{key}]" if isinstance(key, int) else f".{key}" for key in path)
    return words.removeprefix(".")


def exact(plan: Any, indent: int | None = None) -> str:
    """JSON in which a Decimal keeps its digits."""
    text = json.dumps(plan, indent=indent, default=lambda number: f"<{number}>")
    return re.sub(r'"<([^>"]*)>"', r"\1", text)


def refusals(text: str) -> list[tuple[str, str]]:
    with pytest.raises(InputProblems) as caught:
        from_json(text, "plan.json")
    return [(problem.column, problem.message) for problem in caught.value.problems]


def holds(column: str, path: Path_) -> bool:
    """Whether a place named is the altered one or contains it."""
    words = in_words(path)
    return words == column or words.startswith((f"{column}.", f"{column}["))


@pytest.mark.parametrize("alterations", [scalars_altered, parts_gone_or_added, lists_altered])
def test_any_alteration_is_refused_where_it_is(whole: Any, alterations: Any) -> None:
    changes = list(alterations(whole))
    assert len(changes) > 200
    for path, altered in changes:
        found = refusals(exact(altered))
        assert any(holds(column, path) for column, _ in found), (path, found)
        for column, message in found:
            assert "; " in message, message
            if "after the plan was written" in message:  # never said of another place
                assert holds(column, path), (path, column, message)


def test_an_emptied_object_is_refused_there_or_in_each_part_it_had(whole: Any) -> None:
    for path, value in walk(whole):
        if value and isinstance(value, dict | list) and path:
            found = refusals(exact(put(whole, path, type(value)())[1]))
            assert any(holds(column, path) or column.startswith(in_words(path)) for column, _ in found), path


def test_what_stays_consistent_is_refused_all_the_same(whole: Any) -> None:
    """The mathematics of these is right, so nothing but the digest can find them."""
    altered = copy.deepcopy(whole)
    for entry in [*altered["profiles"][0]["demand"], *(c for s in altered["profiles"][0]["sticks"] for c in s["cuts"])]:
        entry["mark"] = entry["mark"].replace("G1", "G7")
    altered["profiles"][1]["proof"]["certificate"]["stock"][0]["qty"] = 100
    altered["currency"] = "CAD"
    from_json(renewed(altered), "plan.json")
    named = dict(refusals(exact(altered)))
    assert {"currency", "profiles[0].demand[0]", "profiles[1].proof.certificate.stock[0]"} <= named.keys()
    assert "changed after the plan was written" in named["currency"]
    assert not any(re.match(r"digest|profiles\[1\]\.(sticks|demand|totals)", column) for column in named)


def test_every_alteration_is_named_at_once(whole: Any) -> None:
    altered = copy.deepcopy(whole)
    altered["tape"] = Decimal("0.125")
    altered["profiles"][0]["keep_from"] = 21
    altered["profiles"][0]["kerf"] = "wide"
    altered["profiles"][1]["remark"] = "from the yard"
    del altered["profiles"][1]["demand"][0]
    assert {column for column, _ in refusals(exact(altered))} == {
        "tape", "profiles[0].keep_from", "profiles[0].kerf", "profiles[1].remark", "profiles[1].demand",
    }  # fmt: skip


def test_an_unknown_key_is_refused_with_its_path_even_with_a_new_digest(whole: Any) -> None:
    for path, value in walk(whole):
        if isinstance(value, dict) and "certificate" not in path and "digest" not in path:
            _, altered = put(whole, (*path, "remark"), 1)
            assert [column for column, _ in refusals(renewed(altered))] == [in_words((*path, "remark"))]


def test_an_altered_digest_is_told_from_an_altered_plan_and_what_is_right_is_said(whole: Any) -> None:
    right = whole["digest"]["profiles"][0]["sticks"][0]
    _, altered = put(whole, ("digest", "profiles", 0, "sticks", 0), "0" * 16)
    assert refusals(exact(altered)) == [
        ("digest.profiles[0].sticks[0]", f'"{"0" * 16}" does not agree with the plan; "{right}" would be right')
    ]


def test_check_says_what_the_sums_say_too(whole: Any, tmp_path: Path) -> None:
    _, altered = put(whole, ("profiles", 0, "sticks", 0, "cuts", 0, "start"), 2)
    file = tmp_path / "plan.json"
    file.write_text(exact(altered), encoding="utf-8")
    result = CliRunner().invoke(cli.app, ["check", str(file)], catch_exceptions=False)
    assert (result.exit_code, result.stdout) == (2, "")
    assert re.search(f"{file}:1: sticks? 1( to [0-9]+)?: was changed after", result.stderr)
    name = altered["profiles"][0]["profile"]
    said = f"{file}:1: sticks? 1( to [0-9]+)?, cut 1, start: {name}: 2, but 0.5 would be right"
    assert re.search(said, result.stderr)


# ---- layouts of the same plan ----


def shuffled(value: Any, chance: random.Random) -> Any:
    if isinstance(value, dict):
        keys = chance.sample(list(value), len(value))
        return {key: shuffled(value[key], chance) for key in keys}
    return [shuffled(part, chance) for part in value] if isinstance(value, list) else value


def test_another_layout_is_the_same_plan(plan: Plan, whole: Any) -> None:
    assert from_json(exact(whole), "plan.json") == plan
    assert from_json(exact(whole, indent=7).replace("\n", "\r\n"), "plan.json") == plan
    assert from_json(exact(shuffled(whole, random.Random(3))), "plan.json") == plan
    spelled = re.sub(r"(: -?\d+\.\d+)(?=[,}\s])", r"\g<1>00", to_json(plan))
    spelled = re.sub(r"(: \d+)(?=[,}\s])", r"\1.0e0", spelled)
    assert spelled != to_json(plan)
    assert from_json(spelled, "plan.json") == plan


def test_a_value_has_one_form_and_no_two_share_it() -> None:
    assert {canonical(value) for value in (F(3, 2), F("1.50"), F(30, 20))} == {"1.5"}
    assert canonical({"b": 1, "a": [F(4), None]}) == canonical({"a": [4, None], "b": F(1)})
    different = [0, False, None, "", "0", "null", [], {}, [[]], [0], ["0"], [0, 0], "0,0", ["0,0"], ["0", "0"],
                 {"a": 0}, {"a": "0"}, {"a": {}}, {"0": "a"}, 1, True, "1", F(1, 3), F(1, 2), "1/2", "½"]  # fmt: skip
    assert len({fingerprint(value) for value in different}) == len(different)


def test_fingerprints_are_sha_256() -> None:
    # printf '"abc"' | sha256sum (GNU coreutils), its first 16 digits
    assert fingerprint("abc") == "6cc43f858fbb7633"


def test_no_float_has_a_fingerprint() -> None:
    with pytest.raises(TypeError):
        digest({"tape": math.pi})


@pytest.mark.parametrize("depth", [300, 600, 900, 5000])
def test_what_is_nested_deep_is_refused_with_words(whole: Any, depth: int) -> None:
    text = exact({**whole, "remark": "deep"}).replace('"deep"', "[" * depth + "]" * depth)
    assert {column for column, _ in refusals(text)} <= {"remark", "file"}


def test_words_that_are_no_json_are_refused(plan: Plan) -> None:
    for mark in ("NaN", "-Infinity", "1e999", "9" * 1001):
        first, *others = plan.profiles[1].demand
        demand = replace(first, mark=mark), *others
        marked = replace(plan, profiles=(plan.profiles[0], replace(plan.profiles[1], demand=demand)))
        assert from_json(to_json(marked), "plan.json") == marked
        assert refusals(to_json(marked).replace(f'"{mark}"', mark))


def test_a_plan_of_400_sticks_is_fingerprinted_quickly(plan: Plan) -> None:
    rail = plan.profiles[0]
    sticks = tuple(replace(rail.sticks[0], count=k + 1, cuts=rail.sticks[0].cuts * 5) for k in range(400))
    fields = json.loads(to_json(replace(plan, profiles=(replace(rail, sticks=sticks),))), parse_float=Fraction)
    began = time.process_time()
    digest(fields)
    assert time.process_time() - began < 0.5
