"""If these fail, what somebody typed may be obeyed by a browser, or an installed cutplan has no pages to fill in."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest

import cutplan
from cutplan.sheets.pages import css, environment, fractions

ROOT = Path(cutplan.__file__).parent
TEMPLATES = sorted((ROOT / "sheets" / "templates").iterdir())
NASTY = ["<script>alert(1)</script>", '"><img src=x onerror=alert(2)>', "</style>", "a & b 'c' \x1b[2J",
         "1/2 <b>3/4</b>"]


def strings(file: Path) -> list[str]:
    """What stands in quotes in a module, documentation apart."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    own = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [node.value for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in own]


def test_elements_are_written_in_templates_only() -> None:
    """So that none is put together by hand around a text that nobody escaped."""
    for file in sorted(ROOT.rglob("*.py")):
        found = [said for said in strings(file) if re.search(r"(?<!\(\?P)</?[a-z]+[ />]", said)]
        if file.name == "pages.py":  # a fraction, made of digits alone
            found = [said for said in found if not said.startswith(('<span class="fr">', "</sup>", "</sub>"))]
        assert found == [], file


def test_no_template_lets_a_text_through_as_it_is() -> None:
    assert environment().autoescape is True and TEMPLATES
    for file in TEMPLATES:
        assert not re.search(r"\bsafe\b|autoescape", file.read_text(encoding="utf-8")), file
    for file in sorted(ROOT.rglob("*.py")):
        if file.name != "pages.py":  # elsewhere only an empty one is made
            assert not re.search(r"Markup\((?!\))", file.read_text(encoding="utf-8")), file


@pytest.mark.parametrize("said", NASTY)
@pytest.mark.parametrize("how", ["{{ said }}", "{{ said|fractions }}", '{% from "table.html" import table %}'
                                 "{{ table([said], [[said, said]]) }}"])
def test_what_is_filled_in_is_read_and_not_obeyed(how: str, said: str) -> None:
    page = environment().from_string(how).render(said=said)
    assert not re.search(r"<(?!/?(span|sup|sub|table|thead|tbody|tr|th|td)\b)", page)
    assert "\x1b" not in page and '"' not in re.sub('<span class="fr">', "", page)


@pytest.mark.parametrize("said", NASTY)
def test_a_name_in_a_style_sheet_stays_in_its_quotes(said: str) -> None:
    assert re.fullmatch(r'"([A-Za-z0-9 .,-]|\\[0-9a-f]+ )*"', css(said))


def test_a_fraction_stands_close_to_its_whole_number() -> None:
    assert re.sub("<[^>]+>", "", fractions("2 x 34 7/8, 1/2")) == "2 x 34&#8239;7&#8260;8, 1&#8260;2"


def test_every_template_is_installed_with_the_package() -> None:
    project = tomllib.loads((ROOT.parent / "pyproject.toml").read_text(encoding="utf-8"))
    installed = {file for glob in project["tool"]["setuptools"]["package-data"]["cutplan"] for file in ROOT.glob(glob)}
    assert installed >= set(TEMPLATES)
