"""If these fail, a length in a plan file went through a float, or a wrong file was believed."""

from __future__ import annotations

import json
import random
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import Cut, Demand, ProfilePlan, Stick, Tier, Totals
from cutplan.problems import InputProblems
from tests.cutting.renewed import renewed
from tests.plans.parsing import from_json

F = Fraction
INCHES, KERF, PRICE = F(28), F(1, 8), F("41.20")


def certificate(price: Fraction) -> dict[str, Any]:
    return {
        "stock": [{"length": F(120), "price": price, "qty": None, "tag": None},
                  {"length": F(50), "price": F(0), "qty": 1, "tag": "7/3"}],
        "coin": F(1, 3),
        "tree": {"scale": 10**13, "duals": [{"length": F(28), "value": 3}]},
    }  # fmt: skip


def worked_plan(length: Fraction = INCHES, kerf: Fraction = KERF, price: Fraction = PRICE) -> Plan:
    """Four pieces from each of two sticks of 120 and one from an offcut of 50, laid out by hand."""
    starts = [n * (length + kerf) for n in range(4)]
    cuts = tuple(Cut("G1 picket", length, start, start + length) for start in starts)
    left, short = 120 - 4 * (length + kerf), 50 - length - kerf
    sticks = (
        Stick("rack", "7/3", F(50), F(0), 1, cuts[:1], short, False),
        Stick("new", None, F(120), price, 2, cuts, left, False),
    )
    totals = Totals(2 * price, F(290), 9 * length, 9 * kerf, F(0), 2 * left + short, F(0), 2)
    tiers = (
        Tier("cost", 2 * price, 2 * price),
        Tier("used up", F(290), F(170)),
        Tier("patterns", F(2), F(1)),
    )
    profile = ProfilePlan(
        "picket", kerf, F(0), F(0), None, False,
        (Demand("G1 picket", length, 9, "G1"),), sticks, totals, tiers,
        certificate(price),
    )  # fmt: skip
    return Plan("in", (profile,), "USD", F(1, 32), F(12))


def fields(plan: Plan) -> Any:
    return json.loads(to_json(plan), parse_float=Decimal)


def problems(fields: Any) -> dict[str, str]:
    """What is refused in a plan whose digest was made anew."""
    with pytest.raises(InputProblems) as caught:
        from_json(renewed(fields), "plan.json")
    assert all(problem.file == "plan.json" and problem.line == 1 for problem in caught.value.problems)
    return {problem.column: problem.message for problem in caught.value.problems}


def test_army_course_figures_are_in_the_file_as_they_are_printed() -> None:
    # US Army Engineer course EN0069A, lesson 4: 120 in gives 4 pieces of 28 in and leaves 8 in (no kerf)
    text = to_json(worked_plan(kerf=F(0)))
    stick = json.loads(text)["profiles"][0]["sticks"][1]
    assert [len(stick["cuts"]), stick["offcut"]] == [4, 8]


def test_the_keys_are_those_others_rely_on() -> None:
    plan = fields(worked_plan())
    assert (plan["format"], plan["version"], plan["unit"]) == ("cutplan plan", 1, "in")
    profile = plan["profiles"][0]
    assert set(profile) >= {
        "profile",
        "kerf",
        "head_trim",
        "tail_trim",
        "keep_from",
        "demand",
        "sticks",
        "totals",
        "proof",
        "tiers",
    }
    assert set(profile["demand"][0]) == {"mark", "length", "qty", "for"}
    assert set(profile["sticks"][0]) == {
        "source",
        "tag",
        "length",
        "price",
        "count",
        "cuts",
        "offcut",
        "keep",
    }
    assert set(profile["sticks"][0]["cuts"][0]) == {"mark", "length", "start", "end"}
    assert set(profile["totals"]) == {
        "cost",
        "drawn",
        "pieces",
        "kerf",
        "trim",
        "scrap",
        "kept",
        "waste_percent",
        "net_waste_percent",
        "patterns",
    }
    assert set(profile["proof"]) == {"status", "cost", "bound", "certificate"}
    assert [(tier["name"], tier["status"]) for tier in profile["tiers"]] == [
        ("cost", "proven"), ("used up", "gap"), ("patterns", "gap")
    ]  # fmt: skip
    assert all(set(tier) == {"name", "value", "bound", "status"} for tier in profile["tiers"])


def test_decimals_are_exact_and_what_has_none_is_text() -> None:
    text = to_json(worked_plan(length=F("27.1000000000000000000000000000001"), kerf=F(1, 3)))
    assert "27.1000000000000000000000000000001" in text
    assert '"kerf": "1/3"' in text
    assert '"price": 41.2,' in text


def test_percentages_are_rounded_to_ten_decimals() -> None:
    # (290 - 252) / 290, by hand: 13.103448275862...
    assert fields(worked_plan())["profiles"][0]["totals"]["waste_percent"] == Decimal("13.1034482759")


def test_any_plan_comes_back_the_same() -> None:
    pick = random.Random(7)
    for _ in range(200):
        plan = worked_plan(
            length=F(pick.randint(1, 10**6), pick.randint(37037, 10**5)),
            kerf=F(pick.randint(0, 9), pick.randint(10, 99)),
            price=F(pick.randint(0, 10**6), pick.choice([1, 100, 7])),
        )
        assert from_json(to_json(plan), "plan.json") == plan


def test_nothing_but_what_is_written_is_read() -> None:
    other = fields(worked_plan())
    for key in ("currency", "tape", "shortest_held"):
        del other[key]
    del other["profiles"][0]["one_per_stick"]
    found = problems(other)
    assert set(found) == {"currency", "tape", "shortest_held", "profiles[0].one_per_stick"}
    whole = fields(worked_plan())
    whole["remark"] = "from the yard"
    whole["profiles"][0]["sticks"][1]["cuts"][2]["angle"] = 45
    assert set(problems(whole)) == {"remark", "profiles[0].sticks[1].cuts[2].angle"}


@pytest.mark.parametrize(
    ("path", "value", "column"),
    [
        (("format",), "other", "format"),
        (("version",), 2, "version"),
        (("unit",), "ft", "unit"),
        (("profiles",), {}, "profiles"),
        (("profiles", 0), [], "profiles[0]"),
        (("profiles", 0, "kerf"), "1/0", "profiles[0].kerf"),
        (("profiles", 0, "kerf"), -1, "profiles[0].kerf"),
        (("profiles", 0, "kerf"), True, "profiles[0].kerf"),
        (("profiles", 0, "keep_from"), "long", "profiles[0].keep_from"),
        (("profiles", 0, "sticks", 1, "length"), 0, "profiles[0].sticks[1].length"),
        (("profiles", 0, "sticks", 1, "length"), "12 ft", "profiles[0].sticks[1].length"),
        (("profiles", 0, "sticks", 1, "count"), 1.5, "profiles[0].sticks[1].count"),
        (("profiles", 0, "sticks", 1, "cuts"), [], "profiles[0].sticks[1].cuts"),
        (("profiles", 0, "sticks", 1, "keep"), 0, "profiles[0].sticks[1].keep"),
        (("profiles", 0, "sticks", 1, "tag"), "R1", "profiles[0].sticks[1].tag"),
        (("profiles", 0, "sticks", 0, "tag"), None, "profiles[0].sticks[0].tag"),
        (("profiles", 0, "sticks", 0, "cuts", 0, "mark"), "\ud800", "profiles[0].sticks[0].cuts[0].mark"),
        (("profiles", 0, "demand", 0, "qty"), 0, "profiles[0].demand[0].qty"),
        (("profiles", 0, "tiers"), [], "profiles[0].tiers"),
        (("profiles", 0, "proof", "certificate"), None, "profiles[0].proof.certificate"),
        (
            ("profiles", 0, "proof", "certificate", "tree", "scale"),
            0,
            "profiles[0].proof.certificate.tree.scale",
        ),
        # what follows from the rest
        (("profiles", 0, "totals", "cost"), 82.41, "profiles[0].totals.cost"),
        (("profiles", 0, "totals", "waste_percent"), 13.1, "profiles[0].totals.waste_percent"),
        (("profiles", 0, "totals", "patterns"), 1, "profiles[0].totals.patterns"),
        (("profiles", 0, "proof", "status"), "gap", "profiles[0].proof.status"),
        (("profiles", 0, "proof", "bound"), 80, "profiles[0].proof.bound"),
        (("profiles", 0, "tiers", 1, "status"), "proven", "profiles[0].tiers[1].status"),
        (("profiles", 0, "tiers", 1, "value"), 289, "profiles[0].tiers[1].value"),
    ],
)
def test_a_wrong_value_is_named_by_its_path(path: tuple[Any, ...], value: Any, column: str) -> None:
    wrong = fields(worked_plan())
    place = wrong
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    found = problems(wrong)
    assert column in found and "; " in found[column]


def test_every_missing_key_is_named() -> None:
    whole = fields(worked_plan())
    for key in (
        "profile",
        "kerf",
        "head_trim",
        "tail_trim",
        "keep_from",
        "demand",
        "sticks",
        "totals",
        "tiers",
    ):
        wrong = fields(worked_plan())
        del wrong["profiles"][0][key]
        assert "is missing" in problems(wrong)[f"profiles[0].{key}"]
    del (
        whole["unit"],
        whole["profiles"][0]["totals"]["waste_percent"],
        whole["profiles"][0]["proof"]["status"],
    )
    assert set(problems(whole)) == {
        "unit", "profiles[0].totals.waste_percent", "profiles[0].proof.status",
    }  # fmt: skip


def test_all_problems_come_together() -> None:
    wrong = fields(worked_plan())
    wrong["unit"] = "ft"
    wrong["profiles"][0]["sticks"][0]["price"] = "dear"
    wrong["profiles"][0]["sticks"][1]["cuts"][2]["end"] = None
    assert set(problems(wrong)) == {
        "unit",
        "profiles[0].sticks[0].price",
        "profiles[0].sticks[1].cuts[2].end",
    }


@pytest.mark.parametrize(
    "text",
    ["", "{", "[1, 2", "nonsense", "[" * 100_000, '{"a": 1, "a": 2}', "null", "3",
     '{"version": 1e999999999}', '{"version": NaN}', '{"version": ' + "9" * 10_000 + "}"],
)  # fmt: skip
def test_what_is_no_plan_is_refused_with_words(text: str) -> None:
    with pytest.raises(InputProblems):
        from_json(text, "plan.json")


def test_a_slip_in_the_json_is_named_by_its_line() -> None:
    with pytest.raises(InputProblems) as caught:
        from_json('{\n"format": "cutplan plan",\n"version" 1}', "plan.json")
    assert [(problem.line, problem.column) for problem in caught.value.problems] == [(3, "file")]
