"""If these fail, a shop's first files do not work as they are, disagree, or are written over somebody's own."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from cutplan.sheets.forms import NOTES, TABLES, new_shop
from tests.commands import good, run


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("begun") / "shop"
    assert "cutplan cut" in good("new", folder)
    return folder


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_they_work_as_they_are(begun: Path, ending: str) -> None:
    shop = ["--shop", begun / "shop.toml"]
    good("cut", begun / f"week{ending}", begun / f"pieces{ending}", *shop, "--limit", "4")
    good("bid", begun / f"bid{ending}", *shop, "--versions", "2")


@pytest.mark.parametrize("name", TABLES)
def test_workbook_and_csv_are_one_table_and_a_fraction_stays_text(begun: Path, name: str) -> None:
    pd.testing.assert_frame_equal(pd.read_excel(begun / f"{name}.xlsx", dtype=str), pd.read_csv(begun / f"{name}.csv",
                                                                                                 dtype=str))
    sheet = openpyxl.load_workbook(begun / f"{name}.xlsx").worksheets[0]
    for head in sheet[1]:
        assert head.comment is not None and head.comment.text == NOTES[str(head.value)]
        assert sheet.column_dimensions[head.column_letter].number_format == "@"


def test_nothing_is_written_over_and_the_files_are_always_the_same(begun: Path) -> None:
    before = {path.name: path.read_bytes() for path in begun.iterdir()}
    again = {name: one.encode() if isinstance(one, str) else one for name, one in new_shop().items()}
    assert before == again
    assert run("new", begun).exit_code == 2 and run("new", begun / "shop.toml").exit_code == 2
    assert {path.name: path.read_bytes() for path in begun.iterdir()} == before
