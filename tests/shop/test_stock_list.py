"""If these fail, a shop buys by other lengths or prices than its list of stock says, or a slip in it goes unsaid."""

from __future__ import annotations

import csv
import io
import random
import re
import tomllib
from datetime import date, datetime
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from cutplan.problems import InputProblems
from cutplan.shop import Shop, load_shop
from tests.commands import good, run
from tests.sweeps import rounds

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"
COLUMNS = ("profile", "length", "price", "qty", "bundle", "min_order", "price_breaks", "supplier", "code", "lead_days")
PLAIN = """{stock}
unit = "in"
[saw]
kerf = "1/8 in"
[profiles.rail]
kind = "rail"
head_trim = 1
[profiles.bar]
kind = "picket"
stock = [ {{ length = 120, price = 9 }} ]
"""


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(PLAIN.format(stock='stock = "stock.csv"'))
    return tmp_path


def told() -> list[str]:
    with pytest.raises(InputProblems) as wrong:
        load_shop("shop.toml")
    return [str(problem) for problem in wrong.value.problems]


def lengths(shop: Shop, name: str = "rail") -> list[tuple[F, F]]:
    return [(one.length, one.price) for one in shop.profiles[name].stock]


def book(*rows: list[Any], name: str = "stock.xlsx") -> Any:
    made = Workbook()
    for row in rows:
        made.worksheets[0].append(row)
    made.save(name)
    return made


def row_of(profile: str, entry: dict[str, Any]) -> list[str]:
    said = {**entry, "profile": profile}
    if "price_breaks" in said:
        said["price_breaks"] = "; ".join(f"{one['from']} at {one['price']}" for one in said["price_breaks"])
    return [str(said.get(column, "")) for column in COLUMNS]


def listed(text: str, ending: str) -> None:
    """Writes the shop without stock in it, and the stock as a list."""
    values = tomllib.loads(text, parse_float=str)
    rows = [row_of(name, entry) for name, profile in values["profiles"].items() for entry in profile["stock"]]
    bare = re.sub(r"^stock = \[.*?^\]$|^stock = \[[^\n]*\]$", "", text, flags=re.DOTALL | re.MULTILINE)
    assert not re.search("^stock = ", bare, flags=re.MULTILINE)
    Path("shop.toml").write_text(f'stock = "stock{ending}"\n{bare}')
    if ending == ".xlsx":
        book(list(COLUMNS), *rows)
        return
    made = io.StringIO()
    csv.writer(made).writerows([COLUMNS, *rows])
    Path("stock.csv").write_text(made.getvalue())


def random_shop(chance: random.Random) -> str:
    def entry() -> str:
        parts = [f"length = {chance.choice([96, 144.5, 240])}"]
        for key, make in (("price", lambda: chance.randint(60, 99)), ("qty", lambda: chance.randint(0, 30)),
                          ("bundle", lambda: chance.randint(1, 9)), ("min_order", lambda: chance.randint(0, 9)),
                          ("supplier", lambda: f'"Cooper {chance.randint(1, 3)}, Dale"'), ("code", lambda: '"007"'),
                          ("lead_days", lambda: chance.randint(0, 20)),
                          ("price_breaks", lambda: "[ { from = 50, price = 39.00 }, { from = 90, price = 38 } ]")):
            parts += [f"{key} = {make()}"] if chance.random() < 0.5 else []
        return f"{{ {', '.join(parts)} }}"

    text = 'unit = "in"\n[saw]\nkerf = "1/8"\n'
    for name in ("rail", "bar", "post 2"):
        text += f'[profiles."{name}"]\nkind = "rail"\nprice_per_length = "9/ft"\n'
        text += f"stock = [ {', '.join(entry() for _ in range(chance.randint(1, 3)))} ]\n"
    return text


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
@pytest.mark.parametrize("often", rounds(15, 300))
def test_a_list_is_the_same_shop_as_the_stock_written_in_the_shop_file(often: int, ending: str) -> None:
    """What is written in the shop file is taken out of it by the standard library's TOML reader."""
    texts = [(DEMO / "shop.toml").read_text(), *(random_shop(random.Random(seed)) for seed in range(often))]
    for text in texts:
        Path("whole.toml").write_text(text)
        listed(text, ending)
        assert load_shop("shop.toml") == load_shop("whole.toml"), text


def test_the_path_counts_from_the_shop_file_and_may_name_a_sheet(tmp_path: Path) -> None:
    Path("lists").mkdir()
    made = Workbook()
    made.worksheets[0].append(["something", "else"])
    sheet = made.create_sheet("Lengths")
    for row in (["profile", "length", "price", "remark"], ["rail", "16 ft", 41.2, "by the door"], ["bar", 99, 7]):
        sheet.append(row)
    made.save("lists/stock.xlsx")
    Path("shop.toml").write_text(PLAIN.format(stock='stock = "lists/stock.xlsx#Lengths"'))
    Path("away").mkdir()
    shop = load_shop(tmp_path / "away" / ".." / "shop.toml")
    assert (lengths(shop), lengths(shop, "bar")) == ([(192, F("41.2"))], [(120, 9), (99, 7)])  # both places count


@pytest.mark.parametrize(("value", "length"), [
    (192, 192), (34.875, F(279, 8)), ("34 7/8", F(279, 8)), ("2' 10 7/8\"", F(279, 8)), (100.1 + 0.2, F("100.3")),
])
def test_a_length_is_read_as_it_was_typed(value: object, length: F) -> None:
    Path("shop.toml").write_text(PLAIN.format(stock='stock = "stock.xlsx"'))
    book(["profile", "length", "price"], ["rail", value, 5])
    assert lengths(load_shop("shop.toml")) == [(length, 5)]


def test_formulas_count_by_their_value_and_hidden_columns_are_read() -> None:
    Path("shop.toml").write_text(PLAIN.format(stock='stock = "stock.xlsx"'))
    made = book(["profile", "length", "price", "code"], ["rail", 192, 5, "A"])
    sheet = made.worksheets[0]
    sheet.column_dimensions["C"].hidden = True
    made.save("stock.xlsx")
    assert lengths(load_shop("shop.toml")) == [(192, 5)]
    sheet["C2"] = "=2+3"  # openpyxl saves no value with it
    made.save("stock.xlsx")
    assert any(line.startswith("stock.xlsx#Sheet:2: C2: is a formula") for line in told())


def test_every_fault_of_both_files_is_told_at_once_with_row_and_cell() -> None:
    Path("shop.toml").write_text(PLAIN.format(stock='stock = "stock.xlsx"').replace("head_trim = 1", "head_trim = -1"))
    book(["profile", "length", "price", "qty", "price_breaks", "lead_days"],
         ["rail", datetime(2026, 7, 8), 5, 2.5, None, None],
         ["rial", 192, "dear", None, None, None],
         ["rail", None, 5, None, "50 for 4", None],
         [None, 192, 5, None, "50 at 4; 40 at 6", 5000],
         ["rail", 96, date(2026, 1, 2), None, None, None])
    lines = told()
    for begin in ("shop.toml:7: profiles.rail.head_trim: ",
                  "stock.xlsx#Sheet:2: length (B2): is '2026-07-08'; the spread",
                  "stock.xlsx#Sheet:2: qty (D2): ", "stock.xlsx#Sheet:3: profile (A3): 'rial' is not a profile of the "
                  "shop file; did you mean 'rail'?", "stock.xlsx#Sheet:4: length (B4): is missing",
                  "stock.xlsx#Sheet:4: price_breaks (E4): '50 for 4'", "stock.xlsx#Sheet:5: profile (A5): is empty",
                  "stock.xlsx#Sheet:6: price (C6): is '2026-01-02'; the spread"):
        assert sum(line.startswith(begin) for line in lines) == 1, (begin, lines)
    result = run("takeoff", DEMO / "week.csv", "--shop", "shop.toml", "--csv", "out.csv")
    assert result.exit_code == 2 and all(line in result.stderr for line in lines) and not Path("out.csv").exists()


@pytest.mark.parametrize(("key", "text", "said"), [
    ('"none.csv"', "", "none.csv:1: file: cannot be read"),
    ('" "', "", "shop.toml:1: stock: names no file"),
    ("3", "", "shop.toml:1: stock: is a number; write a text in quotes"),
    ('"stock.csv"', "profile,lenght,price\nrail,192,5\n", "'lenght' looks like it, name it length"),
    ('"stock.csv"', "profile,length,prices\nrail,192,5\n", "stock.csv:1: prices: looks like 'price'"),
    ('"stock.csv"', "profile,length\nbar,192\n", "shop.toml:5: profiles.rail.stock: is missing, and stock.csv has"),
    ('"stock.csv"', "profile,length,price\nrail,1,5\n", "stock.csv:2: length: the trims take 1 in and leave nothing"),
    ('"stock.csv"', "profile,length,price_breaks\nrail,192,9 at 200\n", "csv:2: price_breaks[1].price: is not less"),
    ('"stock.csv"', "profile,length\nrail,192,5\n", "stands under no column name"),
    ('"stock.csv"', "", "stock.csv:1: file: is empty"),
])
def test_a_slip_is_answered_where_it_stands(key: str, text: str, said: str) -> None:
    Path("shop.toml").write_text(PLAIN.format(stock=f"stock = {key}"))
    Path("stock.csv").write_text(text)
    lines = told()
    assert any(said in line for line in lines), lines
    assert len(lines) == 1 or "profiles.rail.stock" not in "".join(lines), lines


def test_decimal_commas_are_read_where_semicolons_part_the_cells() -> None:
    Path("stock.csv").write_text('profile;length;price;qty;price_breaks\nrail;192,5;41,20;3;"50 at 39,5; 90 at 38"\n')
    (one,) = load_shop("shop.toml").profiles["rail"].stock
    assert (one.length, one.price, one.qty, one.breaks) == (F(385, 2), F("41.2"), 3, ((50, F("39.5")), (90, 38)))


def test_lengths_without_a_price_mix_no_less_loudly() -> None:
    Path("stock.csv").write_text("profile,length,price\nrail,192,5\nrail,240,\n")
    (note,) = load_shop("shop.toml").notes
    assert note.startswith("profile rail: 1 stock length has no price")


def test_what_new_writes_works_with_its_list_too() -> None:
    good("new", "begun")
    text = Path("begun/shop.toml").read_text()
    bare = re.sub(r"^stock = \[.*?^\]$|^stock = \[[^\n]*\]$", "", text, flags=re.DOTALL | re.MULTILINE)
    for ending in ("xlsx", "csv"):
        Path("begun/shop.toml").write_text(bare.replace('# stock = "stock.xlsx"', f'stock = "stock.{ending}"'))
        assert {name: len(one.stock) for name, one in load_shop("begun/shop.toml").profiles.items()} == {
            "rail": 2, "picket": 1, "upright": 1}
