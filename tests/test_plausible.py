"""If these fail, a slip of the keyboard is reckoned with instead of asked about: a hang, gigabytes, or nonsense."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from tests.commands import run
from tests.test_cli import SHOP

HEAD = {"week": "mark,kind,system,qty,opening,height", "pieces": "mark,profile,length,qty"}


@pytest.fixture(autouse=True)
def quick() -> object:
    """Every one is answered before any work."""
    began = time.process_time()
    yield
    assert time.process_time() - began < 3


def refused(command: list[object], line: int, column: str, *words: str) -> None:
    result = run(*command)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert f":{line}: {column}: " in result.stderr
    assert all(word in result.stderr for word in words), result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(("kind", "row", "column", "right"), [
    ("week", "G1,gate,lantern,1,10000000,42", "opening", "1,000 ft"),
    ("week", "G1,gate,lantern,1,40,4200 ft", "height", "1,000 ft"),
    ("week", "G1,gate,lantern,1000000,40,42", "qty", "100,000"),
    ("week", "G1,gate,lantern,1,40.123456789012345,42", "opening", "8"),
    ("pieces", "P,box-rail,1e7,1", "length", "exponent"),
    ("pieces", "P,box-rail,12001,1", "length", "1,000 ft"),
    ("pieces", "P,box-rail,400 m,1", "length", "1,000 ft"),
    ("pieces", "P,box-rail,40,100001", "qty", "100,000"),
    ("pieces", "P,box-rail,34.33333333333333,1", "length", "round"),
    ("pieces", "P,box-rail,40,99999999999999999999999999999999999999", "qty", "100,000"),
])
def test_of_the_work(kind: str, row: str, column: str, right: str, tmp_path: Path) -> None:
    file = tmp_path / "work.csv"
    file.write_text(f"{HEAD[kind]}\n{row}\n", encoding="utf-8")
    for command in (["cut"], ["buy"]) if kind == "week" else (["cut"], ["lengths"]):
        refused([*command, file, "--shop", SHOP], 2, column, right)


def test_of_all_lines_together(tmp_path: Path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(f"{HEAD['pieces']}\n" + "".join(f"P{k},box-rail,{40 + k},{90_000 + k}\n" for k in range(12)),
                    encoding="utf-8")
    refused(["cut", file, "--shop", SHOP], 13, "qty", "1,080,066", "90,011")


def test_of_lengths_that_have_no_step_in_common(tmp_path: Path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(f"{HEAD['pieces']}\nA,box-rail,100000/1009,1\nB,box-rail,100000/1013,1\nC,box-rail,100000/1019,1\n"
                    "D,box-rail,100000/1021,1\nE,box-rail,100000/1031,1\n", encoding="utf-8")
    refused(["cut", file, "--shop", SHOP], 6, "length", "too fine")


@pytest.mark.parametrize(("was", "now", "column", "right"), [
    ('kerf = "1/8 in"', 'kerf = "1/8000000000 in"', "saw.kerf", "tape"),
    ('length = "16 ft"', 'length = "16000 ft"', "stock[2].length", "1,000 ft"),
    ("price = 41.20", "price = 99999999", "price", "10,000,000"),
    ("price = 41.20", "price = 0.123456789", "price", "decimals"),
    ("picket_width = ", "picket_width = 0.000001 #", "picket_width", "1/8 in"),
    ("stack = 1", "stack = 1000000000", "saw.stack", "check the number"),
    ("stack = 1", "stack = 201", "saw.stack", "check the number"),
    ("stack = 1", "setup_minutes = 1441", "saw.setup_minutes", "more than a day"),
    ("stack = 1", "cut_seconds = 999999", "saw.cut_seconds", "more than a day"),
    ('pitch = "4 in"', 'pitch = "0.000001 in"', "pitch", "1/8 in"),
])
def test_of_the_shop(was: str, now: str, column: str, right: str, tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    text = Path(SHOP).read_text(encoding="utf-8")
    routed = 'kind = "rail"\nrouting = { pitch = "4 in", first = "2 in" }'
    text = text.replace('kind = "rail"', routed, column == "pitch")
    assert was in text
    text = text.replace(was, now, 1)
    shop.write_text(text, encoding="utf-8")
    result = run("cut", Path(SHOP).with_name("week.csv"), "--shop", shop)
    assert result.exit_code == 2
    assert right in result.stderr
    assert column in result.stderr


@pytest.mark.parametrize("command", [
    ["bid", "data/demo/bid.csv", "--shop", SHOP, "--versions", "1000000000"],
    ["lengths", "data/demo/week.csv", "--shop", SHOP, "--range", "1 in:300 in:0.0001 in"],
    ["lengths", "data/demo/week.csv", "--shop", SHOP, "--mill", "0 in:300000 in"],
    ["lengths", "data/demo/week.csv", "--shop", SHOP, "--choose", "1000000"],
    ["cut", "data/demo/week.csv", "--shop", SHOP, "--limit", "nan"],
    ["cut", "data/demo/week.csv", "--shop", SHOP, "--spare", "100%"],
    ["cut", "data/demo/week.csv", "--shop", SHOP, "--spare", "1"],
])
def test_of_the_options(command: list[str]) -> None:
    result = run(*command)
    assert (result.exit_code, result.stdout) == (2, "")
