"""If these fail, a workbook says something else than the CSV of the same table, or a spreadsheet cannot add it up."""

from __future__ import annotations

import io
import zipfile
from fractions import Fraction
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from cutplan.sheets.listing import as_csv, listing, measure, number
from cutplan.sheets.words import Writer
from cutplan.sheets.workbook import workbook
from tests.commands import good, run
from tests.test_clashes import options
from tests.test_csv_numbers import WRITERS, here, work

__all__ = ["here", "work"]  # the shop of thirds, and that the tests are in its folder
F = Fraction


def test_every_command_that_writes_csv_writes_workbooks() -> None:
    assert {(name, "--csv") for name, option, _ in options() if option == "--xlsx"} == {
        (name, option) for name, option, _ in options() if option == "--csv"}


@pytest.mark.parametrize("command", WRITERS)
def test_a_workbook_read_back_is_the_csv(command: str) -> None:
    """By pandas, both; behind the columns of the CSV are those of the tape alone."""
    good(*WRITERS[command], "--csv", "out.csv", "--xlsx", "out.xlsx")
    told, (found,) = pd.read_csv("out.csv"), pd.read_excel("out.xlsx", sheet_name=None).values()
    more = list(found.columns[len(told.columns):])
    assert all(name.removesuffix("_tape") in told.columns and name.endswith("_tape") for name in more)
    for name in told.columns:
        texts = told[name].dtype == "str"  # lists of lengths too, among which one alone is a number in the workbook
        one, other = (frame[name].map(str, na_action="ignore") if texts else frame[name] for frame in (found, told))
        pd.testing.assert_series_equal(one, other, check_dtype=False, rtol=0, atol=1e-9)
    sheet = openpyxl.load_workbook("out.xlsx").worksheets[0]
    assert sheet.freeze_panes == "A2"
    for column in sheet.columns:
        widest = max(len(str(cell.value)) for cell in column if cell.value is not None)
        assert sheet.column_dimensions[column[0].column_letter].width >= min(widest, 40)


def test_numbers_are_numbers_and_names_are_names() -> None:
    names = ["=1+1", "-5", "12", "'=x", "@a", "+49"]
    table = listing("t", ("name", "length", "price"), [(name, measure(F(279, 8)), number(F(1, 3))) for name in names])
    sheet = openpyxl.load_workbook(io.BytesIO(workbook([table], Writer("in", F(1, 16)).length)))["t"]
    rows = list(sheet.iter_rows(values_only=True))
    assert rows[0] == ("name", "length", "price", "price_exact", "length_tape")
    assert rows[1:] == [(name, 34.875, 0.333333, "1/3", "34 7/8") for name in names]
    assert all(cell.data_type == "s" for cell in sheet["A"])
    assert [cell.value for cell in sheet["A"] if cell.quotePrefix] == ["=1+1", "-5", "@a", "+49"]
    assert "'=1+1" in as_csv(table)


def test_the_same_table_is_the_same_file_whenever_it_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    table = listing("t", ("length",), [(measure(F(1)),)])
    first = workbook([table], str)
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "Pacific/Auckland")
        assert workbook([table], str) == first
    with zipfile.ZipFile(io.BytesIO(first)) as parts:
        assert {part.date_time for part in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = parts.read("docProps/core.xml").decode()
    assert core.count("1980-01-01T00:00:00Z") == 2


def test_a_workbook_goes_to_standard_output_alone() -> None:
    result = run("rack", "show", "--xlsx", "-")
    assert result.exit_code == 0 and pd.read_excel(io.BytesIO(result.stdout_bytes)).columns[0] == "tag"
    assert run("rack", "show", "--xlsx", "-", "--csv", "-").exit_code == 2


def test_no_openpyxl_is_loaded_without_a_workbook() -> None:
    import subprocess
    import sys

    code = "import sys, cutplan.cli, cutplan.sheets.csvout; assert not [n for n in sys.modules if 'openpyxl' in n]"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_one_that_is_not_written_whole_leaves_the_old_one(tmp_path: Path) -> None:
    target = tmp_path / "there.xlsx"
    target.write_bytes(b"old")
    assert run("rack", "show", "--rack", "rack.db", "--xlsx", target / "x").exit_code == 2
    assert target.read_bytes() == b"old"
