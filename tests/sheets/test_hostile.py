"""If these fail, a name in somebody's file steers a terminal, or runs as a formula in somebody's spreadsheet.

Every command runs on files full of such names, and everything it prints or writes is looked at: text, CSV as a reader
takes it that splits at commas, at semicolons or at tabs, JSON and pages. What cannot be printed is refused where it is
read; every command runs with that door left open, as if such a name had come in some other way.
"""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from cutplan import tables
from cutplan.plans import place as planfile
from tests.commands import run
from tests.cutting.renewed import renewed

WILD = ["\x1b]0;evil\x07", "\ufeff=1+1", "a;=1+1", "b; @x", "c;'=1", "=1+1", "+1", "-1", "@x", "\uff1d1", 'q"u,o;-te',
        "\u202egnp", "t\t=1", "\u009b2J", "'=2", "''-2", "d;''=1", "e; '@x", "'", "'52", "it's", "''"]
HIDDEN = [word for word in WILD if not word.replace("\t", " ").isprintable()]
NAME = "=rail;+x"  # of a profile: printable, so that the shop file may have it
SHOP = f"""\
name = "=S;@shop"
unit = "in"
currency = "=C;-D"
[saw]
kerf = "1/8 in"
[profiles."{NAME}"]
kind = "other"
keep_from = "20 in"
price_per_length = "2/ft"
stock = [ {{ length = "8 ft", price = 20.00 }}, {{ length = "10 ft", price = 24.00 }} ]
[systems."@s;=y"]
top_rail = "{NAME}"
bottom_rail = "{NAME}"
picket = "{NAME}"
picket_width = "1 in"
max_gap = "4 in"
[systems."@s;=y".bay]
"""
FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")
NUMBER = re.compile(r"-?\d+(\.\d+)?(/\d+)?")


def look_at_text(text: str, where: str) -> None:
    for letter in text:
        assert letter.isprintable() or letter == "\n", (where, letter.encode("unicode_escape"))


def look_at_csv(text: str, where: str) -> None:
    look_at_text(text, where)
    for delimiter in ",;\t":
        for row in csv.reader(io.StringIO(text), delimiter=delimiter):
            for cell in row:
                assert not cell.lstrip().startswith(FORMULA) or NUMBER.fullmatch(cell), (where, delimiter, cell)
    assert len({len(row) for row in csv.reader(io.StringIO(text))}) == 1, where


def look_at_json(text: str, where: str) -> None:
    look_at_text(text, where)
    json.loads(text)


LOOKS = {".csv": look_at_csv, ".json": look_at_json, ".html": look_at_text}
PLAN = ("--shop", "shop.toml", "--rack", "rack.db", "--limit", "3")
COMMANDS: list[tuple[str, ...]] = [
    ("takeoff", "week.csv", "--shop", "shop.toml", "--csv", "1.csv"),
    ("rack", "add", NAME, "50 in", "--note", WILD[0] + WILD[2], "--shop", "shop.toml", "--rack", "rack.db"),
    ("rack", "count", NAME, "8 ft", "3", "--shop", "shop.toml", "--rack", "rack.db"),
    ("cut", "week.csv", "pieces.csv", *PLAN, "--json", "plan.json", "--csv", "2.csv"),
    ("check", "plan.json"),
    ("hold", "plan.json", "--rack", "rack.db"),
    ("rack", "show", "--rack", "rack.db", "--csv", "3.csv", "--json", "4.json"),
    ("sheets", "plan.json", "--out", "5.html", "--labels", "6.csv", "--sequence"),
    ("sheets", "plan.json", "--labels", "7.html"),
    ("rest", "plan.json", "--rack", "rack.db", "--csv", "8.csv"),
    ("bid", "--from-plan", "plan.json", "--csv", "9.csv", "--json", "10.json"),
    ("release", "plan.json", "--rack", "rack.db"),
    ("book", "plan.json", "--rack", "rack.db"),
    ("unbook", "plan.json", "--rack", "rack.db"),
    ("recut", NAME, "20", "--rack", "rack.db", "--shop", "shop.toml"),
    ("rack", "history", "--rack", "rack.db", "--csv", "11.csv", "--json", "12.json"),
    ("rack", "report", "--rack", "rack.db", "--shop", "shop.toml", "--csv", "13.csv", "--json", "14.json"),
    ("buy", "week.csv", *PLAN, "--csv", "15.csv", "--json", "16.json"),
    ("lengths", "week.csv", "--shop", "shop.toml", "--choose", "1", "--limit", "2", "--csv", "17.csv", "--json",
     "18.json", "--html", "19.html"),
    ("bid", "bid.csv", "--shop", "shop.toml", "--versions", "3", "--csv", "20.csv", "--json", "21.json", "--html",
     "22.html", "--store", "bids.db", "--limit", "3"),
    ("learn", "plan.json", "--store", "bids.db", "--without-rack", "--job", "'=HYPERLINK(A1);\"B\"", "--csv", "23.csv",
     "--json", "24.json"),
]


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    write_files([word for word in WILD if word not in HIDDEN])
    return tmp_path


@pytest.fixture
def door_open(files: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Files with what cannot be printed too, which are read all the same."""
    monkeypatch.setattr(tables, "can_be_printed", lambda _: True)
    monkeypatch.setattr(planfile, "can_be_printed", lambda _: True)
    write_files(WILD)
    return files


def table(name: str, rows: list[list[str]]) -> None:
    with Path(name).open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def write_files(words: list[str]) -> None:
    Path("shop.toml").write_text(SHOP, encoding="utf-8")
    week = [[f"{word} bay", "bay", "@s;=y", "1", "40", "30", word] for word in words]
    table("week.csv", [["mark", "kind", "system", "qty", "opening", "height", "=where;+"], *week])
    table("bid.csv", [["mark", "kind", "system", "qty", "opening", "height"],
                      [WILD[2], "bay", "@s;=y", "1", "40..41", "30"]])
    table("pieces.csv", [["mark", "profile", "length", "qty", "for"],
                         *[[word, NAME, "31", "1", f"{word} for"] for word in words]])


def test_nothing_that_somebody_wrote_is_obeyed(door_open: Path) -> None:
    seen = set()
    for words in COMMANDS:
        result = run(*words)
        assert result.exit_code == 0, (words, result.stderr)
        look_at_text(result.stdout, f"{words}, printed")
        look_at_text(result.stderr, f"{words}, said")
        for file in door_open.iterdir():
            if (look := LOOKS.get(file.suffix)) and file.stem.isdigit():
                look(file.read_text(encoding="utf-8"), f"{words}, {file.name}")
                seen.add(file.stem)
    assert seen == {str(n) for n in range(1, 25)}


def test_a_plan_altered_by_somebody_who_knows_how_is_not_obeyed_either(door_open: Path) -> None:
    assert run("cut", "pieces.csv", *PLAN, "--json", "plan.json").exit_code == 0
    plan = json.loads(Path("plan.json").read_text(encoding="utf-8"))
    plan["currency"] = WILD[0] + WILD[13]
    tags = iter([*WILD, *(word + str(n) for n in range(9) for word in WILD)])
    for stick in plan["profiles"][0]["sticks"]:
        if "offcut_tags" in stick:
            stick["offcut_tags"] = [next(tags) for _ in range(stick["count"])]
    assert "offcut_tags" in json.dumps(plan)
    Path("plan.json").write_text(renewed(plan), encoding="utf-8")
    for words in (("check", "plan.json"), ("sheets", "plan.json", "--out", "1.html", "--labels", "2.csv"),
                  ("bid", "--from-plan", "plan.json")):
        result = run(*words)
        assert result.exit_code == 0, result.stderr
        look_at_text(result.stdout + result.stderr, str(words))
    look_at_csv(Path("2.csv").read_text(encoding="utf-8"), "labels")
    look_at_text(Path("1.html").read_text(encoding="utf-8"), "page")


def test_what_is_guarded_for_a_spreadsheet_is_itself_again_when_it_is_read(files: Path) -> None:
    assert run("cut", "pieces.csv", *PLAN, "--json", "plan.json").exit_code == 0
    assert run("rest", "plan.json", "--rack", "rack.db", "--csv", "rest.csv").exit_code == 0
    assert run("cut", "rest.csv", *PLAN, "--json", "again.json").exit_code == 0
    first, again = (
        {(entry["mark"], entry["for"]) for entry in json.loads(Path(file).read_text())["profiles"][0]["demand"]}
        for file in ("plan.json", "again.json"))
    assert len(first) == len(WILD) - len(HIDDEN) > 12 and again == first


@pytest.mark.parametrize("word", [*HIDDEN, "a\x0bb", "a\x1cb", "\x85a", "a\u2028b", "a\u200b", "\u00ad", "a\ue000"])
def test_what_cannot_be_printed_is_refused_in_every_cell(files: Path, word: str) -> None:
    """Whole or at the end of what is right there; with its line and its column, and nothing is written."""
    row = ["G1", "bay", "@s;=y", "1", "40", "30", "north"]
    heads = ["mark", "kind", "system", "qty", "opening", "height", "where"]
    piece = ["A", NAME, "31", "1", "G9", "1"]
    pieces = ["mark", "profile", "length", "qty", "for", "each"]
    cases = [("week.csv", heads, row, ("takeoff", "week.csv", "--shop", "shop.toml", "--csv", "out.csv")),
             ("pieces.csv", pieces, piece, ("cut", "pieces.csv", "--shop", "shop.toml", "--json", "out.json")),
             ("bid.csv", heads, row, ("bid", "bid.csv", "--shop", "shop.toml", "--json", "out.json"))]
    for name, columns, cells, command in cases:
        for place, column in enumerate(columns):
            table(name, [columns, [*cells[:place], cells[place] + word, *cells[place + 1:]]])
            refused(command, rf"{name}:2: {column}: has a character that cannot be printed; leave it out \(U\+")
            table(name, [[*columns[:place], column + word, *columns[place + 1:]], cells])
            refused(command, rf"{name}:1: column {place + 1}: its name has a character that cannot be printed; leave")


def refused(command: tuple[str, ...], said: str) -> None:
    result = run(*command)
    assert result.exit_code == 2 and result.stdout == "" and not list(Path().glob("out.*"))
    assert re.search(said, result.stderr), (command, said, result.stderr)
    look_at_text(result.stderr, "refusal")


def test_each_fault_of_a_cell_is_told_once_and_line_breaks_part_words_as_ever(files: Path) -> None:
    table("pieces.csv", [["mark", "profile", "length", "qty", "for"], ["A\nB\tC", NAME, "31\u200b", "1", "the\nporch"]])
    result = run("cut", "pieces.csv", *PLAN, "--json", "out.json")
    assert result.exit_code == 2 and len(result.stderr.splitlines()) == 1
    table("pieces.csv", [["mark", "profile", "length", "qty", "for"], ["A\nB\tC", NAME, "31", "1", "the\nporch"]])
    assert run("cut", "pieces.csv", "--shop", "shop.toml", "--json", "plan.json").exit_code == 0
    demand = json.loads(Path("plan.json").read_text())["profiles"][0]["demand"]
    assert [(one["mark"], one["for"]) for one in demand] == [("A B C", "the porch")]


@pytest.mark.parametrize("word", HIDDEN)
def test_a_forged_plan_with_what_cannot_be_printed_is_refused_with_its_place(files: Path, word: str) -> None:
    assert run("cut", "pieces.csv", "--shop", "shop.toml", "--json", "plan.json").exit_code == 0
    text = Path("plan.json").read_text(encoding="utf-8")
    for commands in (("check",), ("sheets", "--sequence"), ("rest", "--rack", "rack.db", "--csv", "out.csv")):
        plan = json.loads(text)
        mark = plan["profiles"][0]["demand"][0]["mark"]
        for one in [*plan["profiles"][0]["demand"], *(cut for s in plan["profiles"][0]["sticks"] for cut in s["cuts"])]:
            one["mark"] = mark + word if one["mark"] == mark else one["mark"]
        Path("plan.json").write_text(renewed(plan), encoding="utf-8")
        result = run(commands[0], "plan.json", *commands[1:])
        assert result.exit_code == 2 and not Path("out.csv").exists()
        where = "stick 1, cut 1, mark"
        said = result.stderr
        assert re.search(rf"plan\.json:1: {where}: has a character that cannot be printed", said), said
        look_at_text(result.stdout + result.stderr, "refusal")


@pytest.mark.parametrize("line", ['name = "a\\u001b[2J"', 'currency = "US\\u0007D"', 'name = "a\\u202eb"',
                                  '"odd\\u001b" = 1'])
def test_a_shop_file_with_what_cannot_be_printed_is_refused_with_its_line(files: Path, line: str) -> None:
    key = line.partition(" =")[0]
    kept = [row for row in SHOP.splitlines() if not row.startswith(key)]
    Path("shop.toml").write_text("\n".join([kept[0], line, *kept[1:]]) + "\n", encoding="utf-8")
    result = run("takeoff", "week.csv", "--shop", "shop.toml")
    assert result.exit_code == 2 and result.stdout == ""
    assert re.search(r"shop\.toml:2: .*a character that cannot be printed; leave it out", result.stderr)
    look_at_text(result.stderr, "refusal")
