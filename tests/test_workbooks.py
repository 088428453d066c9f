"""If these fail, a week typed in a workbook is cut to other lengths than were typed, or a bad workbook is a crash or a
wait without end."""

from __future__ import annotations

import io
import time
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart, Reference
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.orders import Order, load_orders, load_week
from cutplan.problems import InputProblems
from cutplan.shop import load_shop
from cutplan.workbooks import read_sheet
from tests.commands import run

ROOT = Path(__file__).resolve().parent.parent
SHOP = ROOT / "data" / "demo" / "shop.toml"
HEAD = ["mark", "kind", "system", "qty", "opening", "height", "where"]
ROW = ["G1", "gate", "breakwater", 2, 40.875, 42, "yard"]
F = Fraction


@pytest.fixture
def made(tmp_path: Path) -> Callable[..., str]:
    def make(*rows: list[Any], change: Callable[[Worksheet], object] = id, name: str = "week.xlsx") -> str:
        book = Workbook()
        sheet = book.worksheets[0]
        sheet.title = "Week"
        for row in rows:
            sheet.append(row)
        change(sheet)
        book.save(tmp_path / name)
        return str(tmp_path / name)

    return make


def week(file: str) -> list[Order]:
    return list(load_week(file, load_shop(SHOP)))


def told(file: str) -> list[str]:
    with pytest.raises(InputProblems) as wrong:
        week(file)
    folder = f"{Path(file.partition('#')[0]).parent}/"
    return [str(problem).removeprefix(folder) for problem in wrong.value.problems]


def typed(column: str, value: Any) -> list[Any]:
    return [value if name == column else cell for name, cell in zip(HEAD, ROW, strict=True)]


@pytest.mark.parametrize(("value", "length"), [
    ("40 7/8", F(327, 8)), (40.875, F(327, 8)), (40, F(40)), ("1038.225 mm", F(327, 8)), (40.1, F(401, 10)),
    (34.1 + 6.2, F(403, 10)),  # 40.300000000000004 in binary; a spreadsheet shows and keeps 40.3
])
def test_a_length_is_read_as_it_was_typed(made: Callable[..., str], value: Any, length: Fraction) -> None:
    (order,) = week(made(HEAD, typed("opening", value)))
    assert order.opening == length and order.qty == 2 and order.extra == {"where": "yard"}
    assert order.file.endswith("week.xlsx#Week") and order.line == 2


def test_marks_are_texts_whatever_was_typed(made: Callable[..., str]) -> None:
    marks = [12, "12a", "=1+1", "'x", date(2026, 5, 7), True]
    rows = [[mark, *ROW[1:]] for mark in marks]

    def as_text(sheet: Worksheet) -> None:
        sheet["A4"].data_type = "s"

    assert [one.mark for one in week(made(HEAD, *rows, change=as_text))] == [
        "12", "12a", "=1+1", "'x", "2026-05-07", "yes"]


@pytest.mark.parametrize("value", [date(2026, 7, 8), datetime(2026, 7, 8)])
def test_a_fraction_that_became_a_date_is_told_with_its_cell(made: Callable[..., str], value: Any) -> None:
    (said,) = told(made(HEAD, [], typed("height", value)))
    assert said.startswith("week.xlsx#Week:3: height (F3): is '2026-07-08'; the spreadsheet made a date of it")


def test_a_day_is_a_day_where_one_is_wanted(made: Callable[..., str]) -> None:
    (order,) = week(made([*HEAD, "due"], [*ROW, date(2026, 3, 9)]))
    assert order.extra["due"] == "2026-03-09"


def test_a_share_keeps_its_sign(made: Callable[..., str]) -> None:
    def share(sheet: Worksheet) -> None:
        sheet["H2"].number_format = "0.0%"

    (order,) = week(made([*HEAD, "rake"], [*ROW, 0.05], change=share))
    assert order.rake == F(1, 20)


@pytest.mark.parametrize(("number_format", "said"), [
    ('0.00" mm"', "40.875 mm"), ("0.00\\ \\m\\m", "40.875 mm"), ('General" mm"', "40.875 mm"),
    ("0.00[$ mm-409]", "40.875 mm"), ('#,##0.0" cm."', "40.875 cm."), ('"mm "0', "40.875 mm"), ("0.0'", "40.875 '"),
    ('0.0" mm";-0.0" in";"none"', "40.875 mm"), ("0.00\\\"", '40.875 "'), ("# ?/8\" in\"", "40.875 in"),
    ('[<100]0" in";0" in"', "40.875 in"), ('[Red]0.00;[Blue]-0.00" mm"', "40.875"), ('0.0" yd"', "40.875 yd"),
    ("0.00", "40.875"), ("General", "40.875"), ('0.0_)" wide"', "40.875"), ('[$GBP] #,##0.00', "40.875"),
    ('0.00" kr"', "40.875"), ("0.0%", "4087.5 %"),
])
def test_a_number_has_the_unit_that_its_format_shows(made: Callable[..., str], number_format: str, said: str) -> None:
    """By what a spreadsheet shows for 40.875 under each format, worked out by hand from ECMA-376-1, 18.8.31."""
    def shown(sheet: Worksheet) -> None:
        sheet["E2"].number_format = number_format

    findings, (_, (_, row)) = read_sheet(made(HEAD, typed("opening", 40.875), change=shown))
    assert not findings.problems and row[4] == said


@pytest.mark.parametrize("number_format", [
    '0"\' "00\\"', '[<1000]0" mm";0.0," m"', '[<1000]0" mm";0" m"', '0.0," m"', '0"m "00"cm"', '0.0%" mm"', "0,",
    "#,##0.00,", '0.0" mm opening"'])
def test_a_length_that_is_shown_otherwise_than_it_is_is_told(made: Callable[..., str], number_format: str) -> None:
    def shown(sheet: Worksheet) -> None:
        sheet["E2"].number_format = number_format

    said = told(made(HEAD, typed("opening", 40.875), change=shown))
    assert said[0].startswith("week.xlsx#Week:2: E2: is 40.875, which its number format shows ")


def test_a_length_in_millimetres_by_its_format_is_one(made: Callable[..., str]) -> None:
    def shown(sheet: Worksheet) -> None:
        sheet["E2"].number_format = '0.00" mm"'

    assert week(made(HEAD, typed("opening", 988), change=shown))[0].opening == F(98800, 2540)


def test_a_chart_on_a_sheet_of_its_own_is_passed_over(made: Callable[..., str], tmp_path: Path) -> None:
    """With its drawing, as a spreadsheet saves it, and without, at any place among the sheets."""
    plain = week(made(HEAD, ROW))
    for at, filled in ((0, True), (1, True), (0, False)):
        book = Workbook()
        sheet = book.worksheets[0]
        sheet.title = "Week"
        for row in (HEAD, ROW):
            sheet.append(row)
        sheet.print_title_rows = "1:1"
        tab = book.create_chartsheet("Picture", at)
        if filled:
            chart = BarChart()
            chart.add_data(Reference(sheet, min_col=4, min_row=1, max_row=2), titles_from_data=True)
            tab.add_chart(chart)
        book.save(tmp_path / "week.xlsx")
        assert week(str(tmp_path / "week.xlsx")) == plain == week(str(tmp_path / "week.xlsx#Week"))
        assert "there is no such sheet" in told(str(tmp_path / "week.xlsx#Picture"))[0]


def test_formulas_count_by_the_value_that_was_saved(made: Callable[..., str], tmp_path: Path) -> None:
    file = made(HEAD, typed("opening", "=40+7/8"))
    assert told(file)[0].startswith("week.xlsx#Week:2: E2: is a formula whose value was never saved")
    for empty in (b"<v></v>", b"<v />", b"<v/>"):
        changed(file, SHEET, empty, b"<v>40.875</v>")
    assert week(file)[0].opening == F(327, 8)


def test_errors_of_the_spreadsheet_are_told(made: Callable[..., str]) -> None:
    said = told(made(HEAD, typed("opening", "#REF!")))
    assert any("E2: is an error of the spreadsheet, #REF!" in one for one in said)


def test_hidden_rows_and_columns_are_read_like_the_rest(made: Callable[..., str]) -> None:
    def hide(sheet: Worksheet) -> None:
        sheet.column_dimensions["E"].hidden = True
        sheet.row_dimensions[2].hidden = True

    assert week(made(HEAD, ROW, ["G2", *ROW[1:]], change=hide)) == week(made(HEAD, ROW, ["G2", *ROW[1:]]))


@pytest.mark.parametrize("cells", ["E1:F1", "G2:G3", "A1:XFD1048576"])
def test_merged_cells_are_told(made: Callable[..., str], cells: str) -> None:
    file = made(HEAD, ROW, ["G2", *ROW[1:]])
    changed(file, "xl/worksheets/sheet1.xml", b"</sheetData>",
            f'</sheetData><mergeCells count="1"><mergeCell ref="{cells}"/></mergeCells>'.encode())
    assert any(f"the cells {cells} are merged" in one for one in told(file))


def test_which_sheet_is_told_or_asked(made: Callable[..., str]) -> None:
    def more(sheet: Worksheet) -> None:
        assert sheet.parent is not None
        sheet.parent.create_sheet("empty")
        sheet.parent.create_sheet("Next").append(HEAD)
        sheet.parent["Next"].append(["N1", *ROW[1:]])

    file = made(HEAD, ROW, change=more)
    (said,) = told(file)
    assert "has several sheets with rows; say which" in said and "week.xlsx#Week or " in said
    assert [one.mark for one in week(f"{file}#Next")] == ["N1"]
    assert "there is no such sheet; the workbook has Week, empty, Next" in told(f"{file}#Other")[0]
    assert "is empty" in told(f"{file}#empty")[0]


def test_pieces_and_commands_take_workbooks(made: Callable[..., str], tmp_path: Path) -> None:
    pieces = made(["mark", "profile", "length", "qty"], ["P1", "box-rail", "30 1/2", 2], name="pieces.XLSX")
    assert len(load_orders(pieces, load_shop(SHOP))) == 1
    bid = made(HEAD, typed("opening", "40..42"), name="bid.xlsx")
    file = made(HEAD, ROW)
    assert run("takeoff", f"{file}#Week", pieces, "--shop", SHOP, "--xlsx", tmp_path / "out.xlsx").exit_code == 0
    assert run("cut", tmp_path / "out.xlsx", "--shop", SHOP, "--limit", "3").exit_code == 0
    assert run("bid", f"{bid}#Week", "--shop", SHOP, "--versions", "2").exit_code == 0
    before = Path(file).read_bytes()
    assert run("takeoff", f"{file}#Week", "--shop", SHOP, "--xlsx", file).exit_code == 2
    assert Path(file).read_bytes() == before


def changed(file: str, part: str, *swaps: bytes) -> None:
    """The workbook with bytes of one part swapped, each of a pair that is there."""
    parts = {name: zipfile.ZipFile(file).read(name) for name in zipfile.ZipFile(file).namelist()}
    for old, new in zip(swaps[::2], swaps[1::2], strict=True):
        parts[part] = parts[part].replace(old, new)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as book:
        for name, data in parts.items():
            book.writestr(name, data)


SHEET = "xl/worksheets/sheet1.xml"
ENTITIES = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><worksheet'
ABSURD: dict[str, tuple[Callable[[str], object], str]] = {
    "no workbook": (lambda file: Path(file).write_text("mark,kind\n"), "is not a workbook"),
    "empty file": (lambda file: Path(file).write_bytes(b""), "is not a workbook"),
    "cut off": (lambda file: Path(file).write_bytes(Path(file).read_bytes()[:1500]), "is not a workbook"),
    "locked": (lambda file: Path(file).write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(999)), "locked with"),
    "another zip": (lambda file: zipfile.ZipFile(file, "w").writestr("a.txt", "a"), "cannot be read as a workbook"),
    "bomb": (lambda file: changed(file, SHEET, b"<sheetData>", b"<sheetData>" + b"<row/>" * 9_000_000), "is larger"),
    "entities": (lambda file: changed(file, SHEET, b"<worksheet", ENTITIES), "no workbook that a spreadsheet writes"),
    "broken": (lambda file: changed(file, SHEET, b"<row", b"<raw"), "cannot be read as a workbook"),
    "far off": (lambda file: changed(file, SHEET, b'r="A2"', b'r="XFD2"'), "the cell XFD2 lies far off"),
    "not there": (lambda file: Path(file).unlink(), "cannot be read"),
    "a folder": (lambda file: (Path(file).unlink(), Path(file).mkdir()), "cannot be read"),
}


@pytest.mark.parametrize("name", ABSURD)
def test_what_is_no_workbook_is_a_problem(made: Callable[..., str], name: str) -> None:
    file = made(HEAD, ROW)
    spoil, word = ABSURD[name]
    spoil(file)
    began = time.process_time()
    result = run("takeoff", file, "--shop", SHOP)
    assert result.exit_code == 2 and word in result.stderr and result.stderr.startswith(file), result.stderr
    assert time.process_time() - began < 10


def test_thousands_of_empty_rows_are_nothing(made: Callable[..., str]) -> None:
    def empty(sheet: Worksheet) -> None:
        for line in range(5, 1100):
            sheet.cell(line, 3).number_format = "0.00"
        sheet["H1048576"].number_format = "0.00"

    file = made(HEAD, ROW, change=empty)
    assert load_workbook(io.BytesIO(Path(file).read_bytes())).worksheets[0].max_row == 1_048_576
    assert len(week(file)) == 1
