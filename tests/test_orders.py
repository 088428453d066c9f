"""If these fail, rows of a week or of pieces are misread, lost, or refused without saying which and why."""

# ruff: noqa: RUF001 (primes and curly quotes are what is tested)

import csv
import io
import random
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.lengths import exact_decimal
from cutplan.orders import Order, Piece, load_inputs, load_orders, load_pieces, load_week
from cutplan.problems import InputProblems
from cutplan.shop import Shop, load_shop

SHOP = """\
unit = "in"
saw.kerf = "1/8"
[profiles.rail]
kind = "rail"
stock = [ { length = "16 ft" } ]
[profiles.square]
kind = "picket"
stock = [ { length = "8 ft" } ]
[systems.lantern]
top_rail = "rail"
bottom_rail = "rail"
picket = "square"
picket_width = 1
max_gap = 4
gate = {}
bay = {}
[systems.quay]
top_rail = "rail"
bottom_rail = "rail"
picket = "square"
picket_width = 1
max_gap = 4
bay = {}
"""
HEAD = "mark,kind,system,qty,opening,height\n"
GOOD = "G1,gate,lantern,2,38 1/2,36\n"
PIECES = "mark,profile,length,qty,for\n"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    path = tmp_path_factory.mktemp("shop") / "shop.toml"
    path.write_text(SHOP)
    return load_shop(path)


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "orders.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def week(folder: Path, shop: Shop | None, text: str | bytes) -> tuple[Order, ...]:
    return load_week(write(folder, text), shop)


def problems(folder: Path, shop: Shop | None, text: str | bytes) -> list[tuple[int, str, str]]:
    path = write(folder, text)
    with pytest.raises(InputProblems) as caught:
        load_orders(path, shop)
    assert {problem.file for problem in caught.value.problems} == {str(path)}
    return [(problem.line, problem.column, problem.message) for problem in caught.value.problems]


def test_a_week(tmp_path: Path, shop: Shop) -> None:
    text = "mark,kind,system,qty,opening,height,where\nG1,gate,lantern,2,38 1/2,36,Lamp Row\n"
    text += "B1,Bay,quay,1.0,254 mm,3'-6\",\n"
    path = write(tmp_path, text)
    assert load_week(path, shop) == (
        Order("G1", "gate", "lantern", 2, Fraction(77, 2), Fraction(36), {"where": "Lamp Row"}, str(path), 2),
        Order("B1", "bay", "quay", 1, Fraction(10), Fraction(42), {"where": ""}, str(path), 3),
    )


def test_pieces(tmp_path: Path, shop: Shop) -> None:
    path = write(tmp_path, PIECES + "P1,rail,34 7/8,2,shop\nP2,square,36,18,\n")
    expected = (
        Piece("P1", "rail", Fraction(279, 8), 2, "shop", str(path), 2),
        Piece("P2", "square", Fraction(36), 18, "", str(path), 3),
    )
    assert load_pieces(path, shop) == expected
    assert load_orders(path, shop) == expected
    path = write(tmp_path, "mark,profile,length,qty\nP1,rail,34 7/8,2\n")
    assert load_pieces(path, shop)[0].for_ == ""


@pytest.mark.parametrize(
    "data",
    [
        (HEAD + GOOD).encode("utf-8-sig"),
        (HEAD + GOOD).replace("\n", "\r\n").encode(),
        (HEAD + GOOD).replace("\n", "\r").encode(),
        (HEAD + GOOD).rstrip().encode(),
        (HEAD + GOOD).replace(",", ";").encode(),
        (HEAD + GOOD).replace(",", "\t").encode(),
        (HEAD + GOOD).replace(",", " , ").encode(),
        (HEAD + GOOD).replace("\n", ",,\n").encode(),
        (HEAD.upper() + GOOD).encode(),
        ("Mark, Kind ,System,Qty,Opening,Height\n" + GOOD).encode(),
        (b"height,mark,kind,system,opening,qty\n36,G1,gate,lantern,38 1/2,2\n"),
        (HEAD + "G1,GATE,lantern,2.0,38½,3′\n").encode(),
        (HEAD + "G1,gate,lantern,2,38 1/2\",3'\n").encode(),
        (HEAD + 'G1,gate,lantern,2,"38 1/2""","3\' 0"""\n').encode(),
        (HEAD + "G1,gate,lantern,2,38 1/2”,3’\n").encode(),
        (HEAD + '"G1","gate","lantern","2","38\n1/2","36"\n').encode(),
        (HEAD + GOOD + ",,,,,\n\n  \n").encode(),
    ],
)
def test_one_week_however_the_spreadsheet_saved_it(tmp_path: Path, shop: Shop, data: bytes) -> None:
    [order] = week(tmp_path, shop, data)
    read = (order.mark, order.kind, order.system, order.qty, order.opening, order.height, order.line)
    assert read == ("G1", "gate", "lantern", 2, Fraction(77, 2), 36, 2)
    assert order.extra == {}


def test_decimal_commas_in_files_separated_by_semicolons(tmp_path: Path, shop: Shop) -> None:
    [order] = week(tmp_path, shop, "mark;kind;system;qty;opening;height\nG1;gate;lantern;2,0;38,5;91,44 cm\n")
    assert (order.qty, order.opening, order.height) == (2, Fraction(77, 2), 36)


def test_lines_after_blank_rows_and_cells_of_several_lines(tmp_path: Path, shop: Shop) -> None:
    text = '\nmark,kind,system,qty,opening,height,note\n\nG1,gate,lantern,1,38,36,"first\nsecond"\n,,,,,,\n'
    text += "G2,gate,lantern,1,38,36,\nG3,gate,lantern,1,38,0,\n"
    assert [(line, column) for line, column, _ in problems(tmp_path, shop, text)] == [(8, "height")]
    orders = week(tmp_path, shop, text.replace("38,0,", "38,36,"))
    assert [order.line for order in orders] == [4, 7, 8]
    assert orders[0].extra == {"note": "first\nsecond"}


FAULTS = [
    (",gate,lantern,1,38,36", "mark", "is empty"),
    ("G9,gat,lantern,1,38,36", "kind", "write gate, bay or run"),
    ("G9,,lantern,1,38,36", "kind", "is empty; write gate, bay or run"),
    ("G9,gate,lantrn,1,38,36", "system", "did you mean 'lantern'?"),
    ("G9,gate,,1,38,36", "system", "is empty; known: lantern, quay"),
    ("G9,gate,quay,1,38,36", "system", "has no [systems.quay.gate] table"),
    ("G9,gate,lantern,0,38,36", "qty", "whole number of at least 1"),
    ("G9,gate,lantern,1.5,38,36", "qty", "whole number of at least 1"),
    ("G9,gate,lantern,-1,38,36", "qty", "is negative"),
    ("G9,gate,lantern,two,38,36", "qty", "is not a number"),
    ("G9,gate,lantern,,38,36", "qty", "is empty"),
    ("G9,gate,lantern,1,0,36", "opening", "is zero"),
    ("G9,gate,lantern,1,-38,36", "opening", "is negative"),
    ("G9,gate,lantern,1,38 kg,36", "opening", "is a mass, not a length"),
    ("G9,gate,lantern,1,38 furlog,36", "opening", "unknown unit 'furlog'"),
    ("G9,gate,lantern,1,nan,36", "opening", "is not a length"),
    ("G9,gate,lantern,1,inf,36", "opening", "is not a length"),
    ("G9,gate,lantern,1,1e3,36", "opening", "without an exponent"),
    ("G9,gate,lantern,1,1/0,36", "opening", "divides by zero"),
    ('G9,gate,lantern,1,"1,200",36', "opening", "without a comma"),
    ("G9,gate,lantern,1,38,", "height", "is empty"),
    ("G9,gate,lantern,1,38", "height", "is empty"),
    ("G9,gate,lantern,1,38,36,5", "column 7", "'5' stands under no column name"),
    ("G1,gate,lantern,1,38,36", "mark", "is on line 2 already"),
]


@pytest.mark.parametrize(("row", "column", "said"), FAULTS)
def test_each_fault_on_its_line_and_column(
    tmp_path: Path, shop: Shop, row: str, column: str, said: str
) -> None:
    [(line, found, message)] = problems(tmp_path, shop, f"{HEAD}{GOOD}\n{row}\nG4,bay,quay,1,38,36\n")
    assert (line, found) == (4, column)
    assert said in message


def test_all_faults_of_a_file_at_once(tmp_path: Path, shop: Shop) -> None:
    text = HEAD + "".join(row + "\n" for row, _, _ in FAULTS).replace("G9", "X", 1)
    lines = {line for line, _, _ in problems(tmp_path, shop, text)}
    assert set(range(2, len(FAULTS) + 1)) <= lines


FORM = "mark,kind,system,qty,opening,height,leaves,hinges,opening_bottom,rake\n"


def test_a_week_of_all_forms(tmp_path: Path, shop: Shop) -> None:
    """Each optional column in any case, and empty cells as if it were not there."""
    text = FORM.replace("leaves,hinges", "Leaves,HINGES") + "G1,gate,lantern,1,40,48,1,Right,39 1/2,-5 %\n"
    text += "G2,gate,lantern,1,96,48,2,,,7 5/8:10\nB1,bay,lantern,1,72,48,,,72 1/2,\nG3,gate,lantern,1,40,48,,,,\n"
    found = [(one.leaves, one.hinges, one.opening_bottom, one.rake, one.extra) for one in week(tmp_path, shop, text)]
    assert found == [
        (1, "right", Fraction(79, 2), Fraction(-1, 20), {}), (2, "left", None, Fraction(61, 80), {}),
        (1, "left", Fraction(145, 2), 0, {}), (1, "left", None, 0, {}),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        ("gate,lantern,1,96,48,3,,,", "leaves", "'3' is no number of leaves; write 1 or 2"),
        ("gate,lantern,1,96,48,0,,,", "leaves", "write 1 or 2"),
        ("gate,lantern,1,96,48,-2,,,", "leaves", "write 1 or 2"),
        ("gate,lantern,1,96,48,1e9,,,", "leaves", "write 1 or 2"),
        ("gate,lantern,1,96,48,two,,,", "leaves", "write 1 or 2"),
        ("bay,lantern,1,96,48,2,,,", "leaves", "is for gates only; leave it empty"),
        ("gate,lantern,1,96,48,,up,,", "hinges", "write left or right"),
        ("gate,lantern,1,96,48,2,left,,", "hinges", "two leaves hang one on each side"),
        ("bay,lantern,1,96,48,,left,,", "hinges", "is for gates only; leave it empty"),
        ("bay,lantern,1,96,48,,,95,5 %", "opening_bottom", "a raked bay is made between plumb posts"),
        ("bay,lantern,1,96,48,,,,90 deg", "rake", "is no slope; write rise:run"),
        ("bay,lantern,1,96,48,,,,76 deg", "rake", "is steeper than 4:1"),
        ("gate,lantern,1,96,48,,,,1:0", "rake", "is no slope; write rise:run, such as 7 5/8:10, or 5 %"),
        ("gate,lantern,1,96,48,,,,0:0", "rake", "is no slope"),
        ("gate,lantern,1,96,48,,,,5", "rake", "is no slope"),
        ("gate,lantern,1,96,48,,,,--5 %", "rake", "is no slope"),
        ("gate,lantern,1,96,48,,,,1:2:3", "rake", "is no slope"),
        ("gate,lantern,1,96,48,,,,1e9 %", "rake", "is no slope"),
        ("gate,lantern,1,96,48,,,,:", "rake", "is no slope"),
        ("gate,lantern,1,96,48,,,,401 %", "rake", "is steeper than 4:1"),
        ("gate,lantern,1,96,48,,,,−5:1", "rake", "is steeper than 4:1"),
        ("gate,lantern,1,96,48,,,0,", "opening_bottom", "is zero"),
        ("gate,lantern,1,96,48,,,-96,", "opening_bottom", "is negative"),
        ("gate,lantern,1,96,48,,,96 kg,", "opening_bottom", "is a mass"),
        ("gate,lantern,1,96,48,,,1e9,", "opening_bottom", "without an exponent"),
        ("gate,lantern,1,96,48,,,1000000000,", "opening_bottom", "is more than 1,000 ft"),
        ("gate,lantern,1,96,48,,,86,", "opening_bottom", "lean by more than a tenth of its height"),
        ("bay,lantern,1,96,48,,,106,", "opening_bottom", "lean by more than a tenth of its height"),
    ],
)
def test_faults_of_forms(tmp_path: Path, shop: Shop, row: str, column: str, said: str) -> None:
    [(line, found, message)] = problems(tmp_path, shop, f"{FORM}A1,gate,lantern,1,40,48,,,,\nA2,{row}\n")
    assert (line, found) == (3, column) and said in message


@pytest.mark.parametrize(("name", "meant"), [
    ("hinge", "hinges"), ("opening bottom", "opening_bottom"), ("Leave", "leaves"), ("where", ""), ("rate", ""),
])  # fmt: skip
def test_a_slip_of_a_columns_name_is_asked_about(tmp_path: Path, shop: Shop, name: str, meant: str) -> None:
    """Carried as a remark, it would be a gate of one leaf or of the other side."""
    text = HEAD.strip() + f",{name}\n" + GOOD.strip() + ",x\n"
    if meant:
        [(line, column, message)] = problems(tmp_path, shop, text)
        assert (line, column) == (1, name) and f"looks like '{meant}'" in message
    else:
        assert week(tmp_path, shop, text)[0].extra == {name: "x"}


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        ("P1,raill,36,1,", "profile", "did you mean 'rail'?"),
        ("P1,rail,36 s,1,", "length", "is a time"),
        ("P1,rail,36,0,", "qty", "whole number"),
        (",rail,36,1,", "mark", "is empty"),
        ("P1,rail,36,1,a,b", "column 6", "stands under no column name"),
    ],
)
def test_faults_of_pieces(tmp_path: Path, shop: Shop, row: str, column: str, said: str) -> None:
    [(line, found, message)] = problems(tmp_path, shop, f"{PIECES}{row}\n")
    assert (line, found) == (2, column)
    assert said in message


ANGLED = SHOP.replace('stock = [ { length = "16 ft" } ]', 'stock = [ { length = "16 ft" } ]\nface = "2 in"', 1) + """\
[profiles.holes]
kind = "rail"
face = "2 in"
routing = { pitch = 4, first = 2 }
stock = [ { length = "16 ft" } ]
[profiles.turned]
kind = "post"
face = "2 in"
one_per_stick = true
stock = [ { length = "16 ft" } ]
"""


def angled(folder: Path, rows: str, unit: str = "in") -> tuple[Piece, ...]:
    (folder / "angled.toml").write_text(ANGLED.replace('unit = "in"', f'unit = "{unit}"')
                                        .replace("picket_width = 1", "picket_width = 20"))
    return load_pieces(write(folder, "mark,profile,length,qty,left_in,right_in\n" + rows),
                       load_shop(folder / "angled.toml"))


@pytest.mark.parametrize(("cell", "set_in"), [
    ("1 1/2", Fraction(3, 2)), ("-1 1/2", Fraction(-3, 2)), ("", 0), ("0", 0), ("45 deg", 2), ("-45 deg", -2),
    ("7 5/8:10", Fraction(61, 40)), ("-7 5/8:10", Fraction(-61, 40)),  # 0.7625 x 2 in
    # minus signs as an office program types them
    ("−1 1/2", Fraction(-3, 2)), ("–45 deg", -2), ("−7 5/8:10", Fraction(-61, 40)), ("- 1/2", Fraction(-1, 2)),
    ("4:1", 8), ("-8", -8),
    ("30 deg", Fraction(296, 256)), ("-30 deg", Fraction(-296, 256)),  # 2 tan 30 deg = 1.154701: 295.6/256, away from 0
    ("22.5 deg", Fraction(213, 256)),  # 2 (sqrt(2) - 1) = 0.828427: 212.08/256
])
def test_ends_that_are_not_square(tmp_path: Path, cell: str, set_in: Fraction) -> None:
    """Set-ins by hand over a face of 2 in; what was rounded is told."""
    piece, = angled(tmp_path, f"S1,rail,40,1,{cell},1/2\n")
    assert (piece.left_in, piece.right_in) == (set_in, Fraction(1, 2))
    assert bool(piece.notes) == ("30" in cell or "22.5" in cell)
    assert all(f"is set in {exact_decimal(set_in)}, rounded" in note for note in piece.notes)


def test_an_angle_in_millimetres_is_rounded_to_a_tenth(tmp_path: Path) -> None:
    piece, = angled(tmp_path, "S1,rail,1000,1,30 deg,\n", "mm")  # 50.8 tan 30 deg = 29.3294
    assert piece.left_in == Fraction(294, 10)


@pytest.mark.parametrize(("row", "column", "said"), [
    ("S1,rail,40,1,steep,", "left_in", "write how far the end is set in"),
    ("S1,rail,40,1,,90 deg", "right_in", "less than 90"),
    ("S1,rail,40,1,,7:0", "right_in", "write how far"),
    ("S1,square,40,1,45 deg,", "left_in", "face"),
    ("S1,holes,40,1,45 deg,", "left_in", "routed rails"),
    ("S1,turned,40,1,,45 deg", "right_in", "blanks"),
    ("S1,rail,3,1,2,2", "left_in", "no bottom edge"),
    ("S1,rail,40,1,2,2\nS1,rail,40,1,2,1", "mark", "another 'right_in'"),
])
def test_faults_of_ends(tmp_path: Path, row: str, column: str, said: str) -> None:
    with pytest.raises(InputProblems) as caught:
        angled(tmp_path, row + "\n")
    assert [problem.column for problem in caught.value.problems] == [column]
    assert said in caught.value.problems[0].message


@pytest.mark.parametrize("cell", [
    "--1", "−−1", "-steep", "-90 deg", "90 deg", "180 deg", "--45 deg", "-x deg", "1:0", "-1:0", "0:0", "--1:4", "1:-4",
    "-5 %", "-1/3", "1e400:1", "-1e400:1",
])
def test_what_is_no_end_is_told_by_what_the_cell_says(tmp_path: Path, cell: str) -> None:
    """Not by a part of it; and nobody is told that an end may not be set in by less than nothing."""
    with pytest.raises(InputProblems) as caught:
        angled(tmp_path, f"S1,rail,40,1,{cell},\n")
    [problem] = caught.value.problems
    assert problem.message.startswith(f"{cell!r} ") and "write how far the end is set in" in problem.message
    assert "negative" not in problem.message and "zero" not in problem.message


@pytest.mark.parametrize("cell", ["-8 1/8", "500", "45", "9:2", "-50:1", "76 deg", "-89.9 deg"])
def test_an_end_steeper_than_any_saw_cuts_is_asked_about(tmp_path: Path, cell: str) -> None:
    """As a slope of the ground is: by the same limit, 4 in 1, here over a face of 2."""
    with pytest.raises(InputProblems) as caught:
        angled(tmp_path, f"S1,rail,400,1,{cell},\n")
    [problem] = caught.value.problems
    assert problem.message.startswith(f"{cell!r} is steeper than 4:1 over a face of 2; check the number and its unit")
    assert ("45 deg" in problem.message) == (":" not in cell and "deg" not in cell)


def test_how_many_pieces_belong_together(tmp_path: Path, shop: Shop) -> None:
    head = PIECES.replace("for", "for,each")
    path = write(tmp_path, head + "P1,square,36,12,G1,6\nP2,square,36,12,G1,\nP3,square,36,12,,\n")
    assert [piece.together for piece in load_pieces(path, shop)] == [6, 12, 1]
    for wrong, said in (("5", "12 pieces are no whole number of times 5"), ("0", "whole number of at least 1")):
        [(line, column, message)] = problems(tmp_path, shop, f"{head}P1,square,36,12,G1,{wrong}\n")
        assert (line, column) == (2, "each") and said in message


ROWS = [f"{mark},rail,{length},2,{for_},{centred}" for mark in "AB" for length in ("30", "31", "2' 6")
        for for_ in ("", "G1", "G2") for centred in ("", "hole", "space", "either")]


def what_it_is(row: str) -> tuple[str, ...]:
    """Length, gate and centring, as a shop hand tells pieces apart."""
    _, _, length, _, for_, centred = row.split(",")
    return {"2' 6": "30"}.get(length, length), for_, centred or "either"


@pytest.mark.parametrize("apart", [False, True])
def test_a_mark_stands_for_one_thing(tmp_path: Path, apart: bool) -> None:
    """Two rows of one mark, in one file or in two: refused where anything else differs, with both places."""
    draw, head = random.Random(4), "mark,profile,length,qty,for,centred\n"
    file = tmp_path / "shop.toml"
    file.write_text(SHOP)
    for _ in range(150):
        rows = draw.sample(ROWS, 2)
        one, two = tmp_path / "one.csv", tmp_path / "two.csv"
        one.write_text(head + rows[0] + "\n" + ("" if apart else rows[1] + "\n"))
        two.write_text(head + (rows[1] if apart else "Z,rail,9,1,,") + "\n")
        good = rows[0][0] != rows[1][0] or what_it_is(rows[0]) == what_it_is(rows[1])
        try:
            load_inputs(file, one, two)
        except InputProblems as wrong:
            (problem,) = wrong.problems
            assert not good, rows
            assert (Path(problem.file), problem.line) == ((two, 2) if apart else (one, 3)) and problem.column == "mark"
            assert f"line 2 of {one}" in problem.message if apart else "line 2 too" in problem.message
        else:
            assert good, rows


def test_columns_missing_misspelt_unknown_or_twice(tmp_path: Path, shop: Shop) -> None:
    def found(text: str) -> list[tuple[int, str, str]]:
        return problems(tmp_path, shop, text)

    [(line, column, message)] = found("\nmark,kind,system,qty,openning,height\n" + GOOD)
    assert (line, column) == (2, "opening")
    assert "'openning' looks like it, name it opening" in message
    [(line, column, message)] = found("mark,kind,system,opening,height\nG1,gate,lantern,38,36\n")
    assert (line, column) == (1, "qty")
    assert "write mark,kind,system,qty,opening,height" in message
    [(line, column, message)] = found("mark,profile,lenght,qty\nP1,rail,36,1\n")
    assert (line, column) == (1, "length")
    assert "'lenght' looks like it" in message
    [(line, column, message)] = found("mark,profile,length,qty,fro\nP1,rail,36,1,x\n")
    assert (line, column) == (1, "fro")
    assert "is not a column of this file" in message
    [(line, column, message)] = found(
        "mark,kind,system,qty,opening,height,height\nG1,gate,lantern,1,38,36,36\n"
    )
    assert (line, column) == (1, "height")
    assert "two columns" in message


@pytest.mark.parametrize(
    ("data", "line", "said"),
    [
        ("", 1, "is empty"),
        ("\n\n", 1, "is empty"),
        (HEAD, 1, "no rows"),
        ("\n" + HEAD + ",,,\n", 2, "no rows"),
        ("a,b,c\n1,2,3\n", 1, "neither of a week nor of pieces"),
        ((HEAD + GOOD + "Gé,gate,lantern,1,38,36\n").encode("cp1252"), 3, "save as CSV UTF-8"),
        ((HEAD + GOOD).encode("utf-16"), 1, "save as CSV UTF-8"),
        ((HEAD + GOOD).encode("utf-16-le"), 1, "is not plain text"),
        (HEAD + GOOD + 'G2,gate,lantern,1,"38,36\nG3,gate,lantern,1,38,36\n', 3, "does not close"),
        (HEAD + GOOD + 'G2,gate,lantern,1,"38"x,36\nG3,gate,lantern,1,38,36\n', 3, "does not close"),
        (HEAD + GOOD + 'G2,gate,lantern,1,38,"' + "9" * 200_000, 3, "does not close"),
    ],
)
def test_files_that_are_no_table(tmp_path: Path, shop: Shop, data: str | bytes, line: int, said: str) -> None:
    [(found, column, message)] = problems(tmp_path, shop, data)
    assert (found, column) == (line, "file")
    assert said in message


def test_a_quote_that_swallows_rows_is_told(tmp_path: Path, shop: Shop) -> None:
    head = "mark,kind,system,qty,opening,height,note\n"
    text = head + 'G1,gate,lantern,1,38,36,"hall\nG2,gate,lantern,1,38,36,\nG3,gate,lantern,1,38,36,hall"\n'
    [(line, column, message)] = problems(tmp_path, shop, text)
    assert (line, column) == (2, "file")
    assert "does not close" in message


def test_faults_before_a_broken_quote_are_told_as_well(tmp_path: Path, shop: Shop) -> None:
    text = HEAD + 'G1,gate,lantern,0,38,36\nG2,gate,lantern,1,"38,36\n'
    assert [(line, column) for line, column, _ in problems(tmp_path, shop, text)] == [(2, "qty"), (3, "file")]


def test_shop_and_orders_are_told_together(tmp_path: Path) -> None:
    shop_path = tmp_path / "shop.toml"
    shop_path.write_text(SHOP.replace('saw.kerf = "1/8"', 'saw.kerf = "x"'))
    orders_path = write(tmp_path, HEAD + "G1,gate,anything,0,38,36\n")
    with pytest.raises(InputProblems) as caught:
        load_inputs(shop_path, orders_path)
    found = [(problem.file, problem.line, problem.column) for problem in caught.value.problems]
    assert sorted(found) == sorted([(str(shop_path), 2, "saw.kerf"), (str(orders_path), 2, "qty")])
    shop_path.write_text(SHOP)
    with pytest.raises(InputProblems) as caught:
        load_inputs(shop_path, tmp_path / "none.csv")
    assert [problem.column for problem in caught.value.problems] == ["file"]
    shop, orders = load_inputs(shop_path, write(tmp_path, HEAD + GOOD))
    assert (shop.unit, len(orders)) == ("in", 1)


def test_round_trip_of_random_weeks(tmp_path: Path, shop: Shop) -> None:
    draw = random.Random(5)
    for _ in range(60):
        separator, end = draw.choice(",;\t"), draw.choice(["\n", "\r\n"])
        names = ["mark", "kind", "system", "qty", "opening", "height", "note"]
        draw.shuffle(names)
        rows = [
            {
                "mark": f"G{n}",
                "kind": draw.choice(["gate", "bay"]),
                "system": "lantern",
                "qty": str(draw.randrange(1, 9)),
                "opening": f"{draw.randrange(1, 99)} {draw.randrange(1, 16)}/16",
                "height": f"{draw.randrange(1, 9)}'",
                "note": draw.choice(["", 'a "b"', "x,y;z", "two\nlines", "é"]),
            }
            for n in range(draw.randrange(1, 9))
        ]
        out = io.StringIO()
        writer = csv.DictWriter(out, names, delimiter=separator, lineterminator=end)
        writer.writeheader()
        writer.writerows(rows)
        orders = week(tmp_path, shop, out.getvalue())
        assert len(orders) == len(rows)
        for order, row in zip(orders, rows, strict=True):
            inches, part = row["opening"].split()
            assert (order.mark, order.kind, str(order.qty)) == (row["mark"], row["kind"], row["qty"])
            assert order.opening == int(inches) + Fraction(part)
            assert order.height == 12 * int(row["height"][:-1])
            assert order.extra == {"note": row["note"]}


def test_any_bytes_are_read_or_refused_but_never_break(tmp_path: Path, shop: Shop) -> None:
    draw = random.Random(9)
    good = (HEAD + GOOD * 3).encode()
    for _ in range(1500):
        data = bytearray(good)
        for _ in range(draw.randrange(1, 6)):
            data[draw.randrange(len(data))] = draw.choice(b'",;\n\r\t\0\xff 0aG-/')
        try:
            load_orders(write(tmp_path, bytes(data)), shop)
        except InputProblems as error:
            assert error.problems
