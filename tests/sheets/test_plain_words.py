"""If these fail, the sheets speak a jargon of their own, or say one figure in two ways that may come to differ."""

from __future__ import annotations

import ast
import json
import re
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

import cutplan
from cutplan.cli import rack
from tests.commands import run

ROOT = Path(cutplan.__file__).parent
BENCHMARKS = ROOT.parent / "benchmarks"
DATA = Path(__file__).resolve().parents[2] / "data"
SHOP = f"--shop={DATA / 'demo' / 'shop.toml'}"
# What a native speaker would stop at, read aloud: the trade says total, amount, on hand, minimum order.
STRANGE = re.compile(
    r"^together\b|\btogether$|\bmoney\b|\bthere  |\b(?:are|were) there\b|least orders|\d at least|from memory|"
    "second hand", re.M)
RACK = [command.name or command.callback.__name__ for command in rack.registered_commands if command.callback]
PIECES = """mark,profile,length,qty,for
A,lantern-cap,37 3/8,9,G1
B,lantern-cap,60 5/8,4,G2
C,lantern-base,60 5/8,4,G2
D,lantern-picket,31 1/8,4,G2
"""


@cache
def tree(file: Path) -> ast.Module:
    return ast.parse(file.read_text(encoding="utf-8"))


def imports(module: str) -> set[str]:
    """The modules of the package and the benchmarks that import another, at the top or later."""
    found = set()
    for file in (*ROOT.rglob("*.py"), *BENCHMARKS.rglob("*.py")):
        for node in ast.walk(tree(file)):
            names = ([node.module or ""] if isinstance(node, ast.ImportFrom)
                     else [alias.name for alias in node.names] if isinstance(node, ast.Import) else [])
            if any(name.split(".")[0] == module for name in names):
                found.add(file.relative_to(ROOT.parent).as_posix())
    return found


def test_a_table_is_aligned_and_a_csv_written_at_one_place() -> None:
    assert imports("tabulate") == {"cutplan/sheets/words.py"}
    assert imports("csv") == {"cutplan/tables.py"}


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What commands print and write of one small job, by name."""
    folder = tmp_path_factory.mktemp("words")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        Path("pieces.csv").write_text(PIECES, encoding="utf-8")
        for name, opening in (("bid.csv", "68..69"), ("week.csv", "68")):
            Path(name).write_text(f"mark,kind,system,qty,opening,height\nB1,bay,lantern,2,{opening},42\n", "utf-8")
        texts = {}
        for words in (("rack", "count", "lantern-cap", "16 ft", "1", SHOP), ("rack", "add", "lantern-cap", "70", SHOP),
                      ("rack", "show"), ("takeoff", "week.csv", SHOP),
                      ("cut", "pieces.csv", SHOP, "--rack", "rack.db", "--json", "plan.json"),
                      ("sheets", "plan.json", "--out", "plan.html"), ("bid", "--from-plan", "plan.json"),
                      ("buy", "pieces.csv", SHOP), ("buy", "--help"),
                      ("rack", "--help"), *(("rack", name, "--help") for name in RACK),
                      ("learn", "plan.json", "--without-rack"),
                      ("bid", "bid.csv", SHOP, "--versions", "3", "--html", "bid.html")):
            result = run(*words)
            assert result.exit_code == 0, result.stderr
            texts[" ".join(words[:3 if words[-1] == "--help" else 2])] = result.stdout
        for page in folder.glob("*.html"):
            body = re.sub("<(script|style).*?</(script|style)>", "", page.read_text(encoding="utf-8"), flags=re.S)
            texts[page.name] = re.sub("<[^>]+>", "\n", body)
        texts["plan.json"] = Path("plan.json").read_text(encoding="utf-8")
    return texts


def test_what_people_read_is_in_the_words_of_the_trade(said: dict[str, str]) -> None:
    for name, text in said.items():
        assert name.endswith("json") or not STRANGE.search(text), (name, STRANGE.search(text))
    assert "\ntotal " in said["cut pieces.csv"] and " on hand " in said["cut pieces.csv"]
    assert "on hand" in said["rack show"] and "amount, USD" in said["buy pieces.csv"]


def test_waste_is_one_figure_on_every_sheet(said: dict[str, str]) -> None:
    """Summed up from the cuts in the plan's file; on the page, in the text's total and in its set-ups."""
    plan = json.loads(said["plan.json"])
    drawn = net = Fraction(0)
    for profile in plan["profiles"]:
        for stick in profile["sticks"]:
            drawn += stick["count"] * Fraction(str(stick["length"]))
            net += stick["count"] * sum(Fraction(str(cut["length"])) for cut in stick["cuts"])
    waste = f"{float(100 * (drawn - net) / drawn):.2f}"
    assert f"{waste} % of what is drawn is not pieces" in said["plan.html"]
    text = said["cut pieces.csv"]
    assert waste in next(line for line in text.splitlines() if line.startswith("total ")).split()
    assert waste in next(line for line in said["bid --from-plan"].splitlines() if line.startswith("total ")).split()
    first = plan["profiles"][0]["sticks"][0]
    part = 1 - sum(Fraction(str(cut["length"])) for cut in first["cuts"]) / Fraction(str(first["length"]))
    assert f"{float(100 * part):.2f} % waste" in text
