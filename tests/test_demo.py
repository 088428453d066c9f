"""If these fail, the demo no longer shows what it is for, or a document promises what is not there.

The files are read here with the standard library alone, and whether an opening can be made is worked out
by the formulas that data/README.md states, apart from the code.
"""

from __future__ import annotations

import csv
import io
import re
import shlex
import shutil
import tomllib
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import Any

import pytest

from cutplan.bidding.bidfile import load_bid
from cutplan.lengths import read_length
from cutplan.orders import load_orders
from cutplan.shop import load_shop
from tests.commands import RECORD

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "data"
DOCUMENTS = ["README.md", "DEVELOPERS.md", "data/README.md",
             *sorted(path.relative_to(ROOT).as_posix() for path in ROOT.glob("cutplan/*/README.md"))]
SEARCHES = ("bid", "buy", "lengths")  # what they find in a few seconds serves as well, for no later command needs it
COPY = "cp"
SOON = ["--limit", "4"]
INCH = Fraction(254, 10)
UNITS = {"in": INCH, '"': INCH, "ft": 12 * INCH, "'": 12 * INCH,
         "mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}


def length(text: str, unit: str) -> Fraction:
    """In millimetres. Reads the demo's own spellings: numbers and fractions, with a unit or none."""
    total, group = Fraction(0), Fraction(0)
    for number, word in re.findall(r"(\d+/\d+|[\d.]+)|([a-z]+|['\"])", text):
        if number:
            group += Fraction(number)
        else:
            total, group = total + group * UNITS[word], Fraction(0)
    return total + group * UNITS[unit]


def shop(folder: str) -> dict[str, Any]:
    return tomllib.loads((DATA / folder / "shop.toml").read_text(encoding="utf-8"))


def rows(path: str) -> list[dict[str, str]]:
    with (DATA / path).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def made(week: list[dict[str, str]], kind: str) -> int:
    return sum(int(row["qty"]) for row in week if row["kind"] == kind)


def test_the_demo_week_is_a_week_of_work() -> None:
    week = rows("demo/week.csv")
    assert made(week, "gate") >= 20
    assert made(week, "bay") >= 30
    assert len(week) >= 25
    assert len({row["system"] for row in week}) == 2
    assert len({row["mark"] for row in week}) == len(week)


def test_the_demo_shop_shows_what_a_shop_can_hold() -> None:
    profiles = shop("demo")["profiles"]
    offers = [offer for profile in profiles.values() for offer in profile["stock"]]
    assert len(profiles) >= 5
    assert len({offer["length"] for offer in offers}) >= 3
    assert sum(len(profile["stock"]) in (2, 3) for profile in profiles.values()) >= 3
    assert all("price" in offer for offer in offers)
    assert any("qty" in offer for offer in offers)
    assert any(profile.get("one_per_stick") for profile in profiles.values())
    assert not any("routing" in profile for profile in profiles.values())


def test_the_demo_yard_has_every_form() -> None:
    """Lines of one and two leaves, hung either way, on a slope, between leaning posts; a run; a brace, a mid rail."""
    yard, system = rows("demo/yard.csv"), shop("demo")["systems"]["ropewalk"]
    assert {row["kind"] for row in yard} == {"gate", "bay", "run"}
    assert all(any(row[column] for row in yard) for column in ("leaves", "hinges", "opening_bottom", "rake", "ends"))
    assert {"brace", "mid_rail", "hardware"} <= set(system) and {row["system"] for row in yard} == {"ropewalk"}
    assert {row["for"] for row in rows("demo/yard-more.csv")} < {row["mark"] for row in yard}


def test_one_demo_system_is_turned_with_inserts_and_one_is_not() -> None:
    demo = shop("demo")
    turned = {name: bool(demo["profiles"][system["picket"]].get("one_per_stick"))
              for name, system in demo["systems"].items()}
    inserts = {name: "insert" in system for name, system in demo["systems"].items()}
    assert set(turned.values()) == {False, True}
    assert turned == inserts


@pytest.mark.parametrize("folder", ["demo", "metric"])
def test_every_name_a_system_or_an_order_uses_is_there(folder: str) -> None:
    made_of = shop(folder)
    for system in made_of["systems"].values():
        parts = ("top_rail", "mid_rail", "bottom_rail", "picket", "insert", "upright", "brace")
        assert {system[part] for part in parts if part in system} <= set(made_of["profiles"])
    for row in rows(f"{folder}/week.csv"):
        assert row["kind"] in made_of["systems"][row["system"]]


def test_the_metric_shop_is_metric_and_has_no_inserts() -> None:
    metric = shop("metric")
    assert metric["unit"] == "mm"
    assert any("insert" not in system for system in metric["systems"].values())
    assert any("." in row["opening"] for row in rows("metric/week.csv"))


@pytest.mark.parametrize("folder", ["demo", "metric"])
def test_every_opening_can_be_made_from_the_stock(folder: str) -> None:
    made_of = shop(folder)
    unit = made_of["unit"]
    for row in rows(f"{folder}/week.csv"):
        system = made_of["systems"][row["system"]]
        rule = {key: length(value, unit) for key, value in system[row["kind"]].items()}
        opening, height = length(row["opening"], unit), length(row["height"], unit)
        hidden = 2 * (rule["rail_insertion"] - rule.get("end_clearance", 0))
        if row["kind"] == "gate":
            rail = opening - rule["latch_gap"] - rule["hinge_gap"] - 2 * rule["upright_wall"]
        else:
            rail = opening + hidden
        picket = height - length(system["picket_allowance"], unit) - rule.get("picket_trim", 0)
        clear, width = rail - hidden, length(system["picket_width"], unit)
        count = ceil((clear - length(system["max_gap"], unit)) / (width + length(system["max_gap"], unit)))
        assert count > 0, row
        assert 0 < (clear - count * width) / (count + 1) <= length(system["max_gap"], unit), row
        pieces = {system["top_rail"]: rail, system["bottom_rail"]: rail, system["picket"]: picket}
        if "insert" in system:
            pieces[system["insert"]] = rail - length(system["insert_short"], unit)
        if row["kind"] == "gate":
            pieces[system["upright"]] = height
        for name, piece in pieces.items():
            assert 0 < piece <= room(made_of["profiles"][name], unit), (row, name)


def room(profile: dict[str, Any], unit: str) -> Fraction:
    """What the longest stick can give; a turned blank loses the larger trim at both ends."""
    head, tail = (length(profile.get(trim, "0"), unit) for trim in ("head_trim", "tail_trim"))
    if profile.get("one_per_stick"):
        head = tail = max(head, tail)
    return max(length(offer["length"], unit) for offer in profile["stock"]) - head - tail


def test_the_demo_pieces_are_cut_from_the_demo_shop() -> None:
    demo = shop("demo")
    for row in rows("demo/pieces.csv"):
        assert 0 < length(row["length"], "in") <= room(demo["profiles"][row["profile"]], "in")


def text_of(document: str) -> str:
    return (ROOT / document).read_text(encoding="utf-8")


def commands_of(document: str) -> list[list[str]]:
    """The words after `cutplan` in every command line of a document's sh blocks; a `cp` as it is."""
    blocks = re.findall(r"^```sh\n(.*?)^```$", text_of(document), re.M | re.S)
    steps = (shlex.split(step) for line in "".join(blocks).splitlines() for step in line.split("&&"))
    return [words if words[0] == COPY else words[1:] for words in steps if Path(words[0]).name in ("cutplan", COPY)]


def name(words: list[str]) -> list[str]:
    return words[:2] if words[0] == "rack" else words[:1]


def test_the_documents_show_every_command() -> None:
    from cutplan.cli import app

    groups = {group.name: group.typer_instance for group in app.registered_groups}
    known = {(command.name or command.callback.__name__,) for command in app.registered_commands if command.callback}
    known |= {(group, command.name or command.callback.__name__) for group, inner in groups.items() if group and inner
              for command in inner.registered_commands if command.callback}
    assert {tuple(name(words)) for document in DOCUMENTS for words in commands_of(document)} - {(COPY,)} == known


def test_the_documents_work_from_their_first_command_to_their_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The README first, with its sample; each other document in a folder as the README's commands left it."""
    toured = tmp_path / "README"
    toured.mkdir()
    shutil.copytree(DATA, toured / "data")
    monkeypatch.chdir(toured)
    sampled, *_ = [run(words) for words in commands_of("README.md")]
    shown = re.search(r"<!-- sample -->\n```text\n(.*?)```\n<!-- /sample -->", text_of("README.md"), re.S)
    assert shown is not None
    at = 0
    for part in re.split(r"^\[\.\.\..*\.\.\.\]\n", shown[1], flags=re.M):
        assert part.strip("\n") in sampled[at:]
        at = sampled.index(part.strip("\n"), at) + len(part.strip("\n"))
    for document in DOCUMENTS[1:]:
        folder = tmp_path / document.replace("/", "-")
        shutil.copytree(toured, folder)
        monkeypatch.chdir(folder)
        for words in commands_of(document):
            run(words + SOON * (words[0] in SEARCHES))
    written = [path for path in tmp_path.rglob("*") if path.suffix in (".html", ".txt", ".csv", ".json")]
    assert {path.suffix for path in written} >= {".html", ".csv", ".json"}
    assert not [path for path in written if RECORD.search(path.read_text(encoding="utf-8"))]


def run(words: list[str]) -> str:
    from typer.testing import CliRunner

    from cutplan.cli import app

    if words[0] == COPY:
        return str(shutil.copy(*words[1:]))
    result = CliRunner().invoke(app, words, catch_exceptions=False)
    assert result.exit_code == 0, (words, result.stderr)
    assert not RECORD.search(result.stdout), words
    return result.stdout


def test_the_shop_file_shown_is_a_good_one(tmp_path: Path) -> None:
    shown = re.findall(r"^```toml\n(.*?)^```$", text_of("data/README.md"), re.M | re.S)
    file = tmp_path / "shop.toml"
    file.write_text("".join(shown), encoding="utf-8")
    (stock,) = re.findall(r"^    profile,length,price.*\n(?:    .+\n)+", text_of("data/README.md"), re.M)
    (tmp_path / "stock.csv").write_text(stock.replace("    ", ""), encoding="utf-8")
    assert set(load_shop(file).systems) == {"lantern", "yard"}
    assert len(load_shop(file).profiles["lantern-cap"].stock) == 5  # of both files


def test_the_weeks_pieces_and_bids_shown_are_good_ones(tmp_path: Path) -> None:
    shown = [block.replace("    ", "") for block in re.findall(r"(?:^    .+\n)+", text_of("data/README.md"), re.M)]
    week, pieces, bid = [block for block in shown if block.startswith("mark,")]
    made_of = load_shop(DATA / "demo" / "shop.toml")
    assert len(load_orders(io.StringIO(week), made_of)) == 3 and len(load_orders(io.StringIO(pieces), made_of)) == 1
    (tmp_path / "bid.csv").write_text(bid, encoding="utf-8")
    assert len(load_bid(tmp_path / "bid.csv", made_of).lines) == 6


def test_the_demo_of_choices_has_a_line_of_each_form() -> None:
    lines = load_bid(DATA / "demo" / "choices.csv", load_shop(DATA / "demo" / "shop.toml")).lines
    assert {(line.certain, bool(line.group)) for line in lines} == {(True, False), (False, False), (False, True)}
    assert sum(line.chance for line in lines if line.group) < 1  # it may be that none of them comes


def test_the_spellings_shown_are_of_one_length() -> None:
    line, = re.findall(r"^    (34 7/8 .*)$", text_of("data/README.md"), re.M)
    spellings = re.split(r"\s{3,}", line)
    assert len(spellings) == 5 and {read_length(text, "in") for text in spellings} == {Fraction(279, 8)}


@pytest.mark.parametrize("document", DOCUMENTS)
def test_a_document_names_only_what_there_is(document: str) -> None:
    """Files of the demo, pages it links to, and modules by their place or name."""
    text = re.sub(r"^```.*?^```$", "", text_of(document), flags=re.M | re.S)
    named = re.findall(r"data/[\w./]+\.(?:csv|toml|py|png)", text_of(document))
    assert all((ROOT / file).is_file() for file in named), named
    for link in re.findall(r"\]\(([^)#:]+)\)", text):
        assert ((ROOT / document).parent / link).exists(), link
    there = {path.relative_to(ROOT).as_posix() for top in ("cutplan", "tests", "benchmarks", "data")
             for path in (ROOT / top).rglob("*.*")}
    for module in re.findall(r"`([\w/]+\.py)`", text):
        assert any(f"/{file}".endswith(f"/{module}") for file in there), module


def test_the_columns_said_are_those_written() -> None:
    from cutplan.sheets import bid, buying, learning, quotation, rack, stock_lengths

    for room, columns in [("bidding", bid.BIDS), ("bidding", bid.SHARES), ("bidding", learning.JOBS),
                          ("bidding", quotation.QUOTED_COLUMNS), ("bidding", quotation.OFFERED_COLUMNS),
                          ("buying", buying.ORDER),
                          ("buying", stock_lengths.ROWS), ("rack", rack.SHOWN)]:
        assert f"`{','.join(columns)}`" in text_of(f"cutplan/{room}/README.md"), columns


@pytest.mark.parametrize("document, most", [("README.md", 1500), ("DEVELOPERS.md", 2000)])
def test_what_everybody_reads_is_short(document: str, most: int) -> None:
    assert len(text_of(document).split()) < most


def test_pictures_are_small() -> None:
    assert all(path.stat().st_size < 60_000 for path in (DATA / "pictures").glob("*.png"))
