"""If these fail, `cutplan lengths` answers with the wrong words or status."""

from __future__ import annotations

import csv
import io
import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.test_cli import PIECES, ROOT, SHOP, WEEK, run

SMALL = ("--profile", "box-rail", "--from", "12 ft,16 ft,20 ft")
SHOP_TEXT = """
name = "T"
unit = "mm"
currency = "EUR"
[saw]
kerf = 0
[profiles.bar]
kind = "rail"
stock = [ { length = 4000, price = 9 } ]
%s
"""


def test_the_lengths_come_with_a_summary_first(tmp_path: Path) -> None:
    page = tmp_path / "lengths.html"
    said = run("lengths", WEEK, "--shop", SHOP, "--profile", "lantern-upright", "--choose", "2", "--html", page)
    assert said.exit_code == 0
    assert said.stdout.startswith("lantern-upright: to stay with ")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_one_thing_on_standard_output() -> None:
    made = json.loads(run("lengths", PIECES, "--shop", SHOP, *SMALL, "--json", "-").stdout)
    assert [len(best["lengths"]) for best in made["profiles"][0]["best"]] == [1, 2]
    rows = list(csv.DictReader(io.StringIO(run("lengths", PIECES, "--shop", SHOP, *SMALL, "--csv", "-").stdout)))
    assert {row["what"] for row in rows} == {"best", "single", "today"}


def test_weeks_together_cost_no_more_than_one_after_the_other() -> None:
    def cost(*more: str) -> float:
        made = json.loads(run("lengths", PIECES, WEEK, "--shop", SHOP, "--profile", "box-rail", "--from", "16 ft,20 ft",
                              "--choose", "1", *more, "--json", "-").stdout)
        return float(made["profiles"][0]["best"][0]["cost"])

    assert cost("--together") <= cost()


def test_the_stop_key_gives_the_best_so_far_with_its_gap() -> None:
    words = [WEEK, "--shop", SHOP, "--profile", "lantern-cap", "--range", "8 ft:24 ft:4 in", "--choose", "3",
             "--limit", "300"]
    with subprocess.Popen([sys.executable, "-m", "cutplan", "lengths", *words], cwd=ROOT, text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE) as going:
        assert going.stderr is not None and going.stdout is not None
        assert next(line for line in going.stderr if "lantern-cap" in line)
        going.send_signal(signal.SIGINT)
        said = going.stdout.read()
    assert going.returncode == 0
    assert said.startswith("lantern-cap: to stay with ") and "ended early" in said


def test_a_mill_length_alone() -> None:
    made = json.loads(run("lengths", PIECES, "--shop", SHOP, "--profile", "box-rail", "--mill", "0 in:288 in:1 in",
                          "--json", "-").stdout)
    assert made["profiles"] == []
    assert made["mill"][0]["proven"] and made["mill"][0]["curve"][-1]["length"] == 288


@pytest.mark.parametrize(("words", "place", "what"), [
    (["--from", "8 ft,x"], "--from", "'x' is not a length"),
    (["--from", "8 ft,"], "--from", "is empty"),
    (["--from", "8 ft,96 in"], "--from", "twice"),
    (["--range", "8 ft"], "--range", "is not a range"),
    (["--range", "24 ft:8 ft:6 in"], "--range", "ends before it begins"),
    (["--range", "8 ft:24 ft:0 in"], "--range", "zero"),
    (["--range", "8 ft:24 ft:1/16 in"], "--range", "longer step"),
    (["--range", "8 ft:24 ft:6 in", "--from", "8 ft"], "--range", "beside --from"),
    (["--range", "8 ft:24 ft:1 in", "--choose", "4"], "--choose", "sets, more than"),
    (["--mill", "0 in"], "--mill", "is not a range"),
    (["--choose", "0"], "--choose", "1 or more"),
    (["--choose", "9"], "--choose", "more than the candidates"),
    (["--profile", "box-rial"], "--profile", "did you mean 'box-rail'?"),
    (["--profile", "box-upright"], "--profile", "nothing of box-upright"),
])
def test_a_wrong_option_is_named(words: list[str], place: str, what: str) -> None:
    said = run("lengths", PIECES, "--shop", SHOP, *words)
    assert said.exit_code == 2
    assert any(line.startswith(f"command line:1: {place}: ") and what in line for line in said.stderr.splitlines())


def test_every_problem_is_named_at_once(tmp_path: Path) -> None:
    week = tmp_path / "pieces.csv"
    week.write_text("mark,profile,length,qty\nA,box-rail,-3,1\n")
    said = run("lengths", week, "--shop", SHOP, "--choose", "0", "--from", "x", "--html", tmp_path)
    assert said.exit_code == 2
    for place in (f"{week}:2: length: ", "command line:1: --choose: ", "command line:1: --from: ", f"{tmp_path}:1: "):
        assert place in said.stderr


def test_no_candidate_long_enough_names_the_piece() -> None:
    said = run("lengths", PIECES, "--shop", SHOP, "--profile", "box-rail", "--from", "2 ft,3 ft", "--choose", "1")
    assert said.exit_code == 3
    assert "box-rail: 70.625: longer than 35.5" in said.stderr


def shop_with(folder: Path, keys: str) -> tuple[Path, Path]:
    shop, pieces = folder / "shop.toml", folder / "pieces.csv"
    shop.write_text(SHOP_TEXT % keys)
    pieces.write_text("mark,profile,length,qty\nA,bar,1500,4\n")
    return shop, pieces


def test_candidates_cost_what_the_profile_costs_by_length(tmp_path: Path) -> None:
    shop, pieces = shop_with(tmp_path, 'price_per_length = "2/m"\ncarrying = 1.5')
    made = json.loads(run("lengths", pieces, "--shop", shop, "--from", "3 m,4 m,6 m", "--json", "-").stdout)
    singles = {one["length"]: one["price"] for one in made["profiles"][0]["singles"]}
    assert singles == {3000: 6, 4000: 9, 6000: 12}  # the length in stock keeps its price
    assert made["profiles"][0]["best"][0]["cost"] == 13.5  # two of 3 m, or one of 6 m, and one length carried


def test_without_a_price_for_all_lengths_are_compared_by_length(tmp_path: Path) -> None:
    shop, pieces = shop_with(tmp_path, "")
    said = run("lengths", pieces, "--shop", shop, "--from", "3 m,4 m", "--json", "-")
    assert "no price is known of 3000" in said.stderr
    assert json.loads(said.stdout)["profiles"][0]["best"][0]["cost"] == 6000


@pytest.mark.parametrize("wrong", ['"2.58"', '"2.58/kg"', '"x/ft"', '"-1/ft"', "true"])
def test_a_wrong_price_by_length_is_named(tmp_path: Path, wrong: str) -> None:
    shop, pieces = shop_with(tmp_path, f"price_per_length = {wrong}")
    said = run("lengths", pieces, "--shop", shop)
    assert said.exit_code == 2
    assert f"{shop}:10: profiles.bar.price_per_length: " in said.stderr
