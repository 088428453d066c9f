"""If these fail, the shop file is misread, or a fault in it goes unsaid or is shown on the wrong line."""

import random
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.problems import InputProblems, Problem
from cutplan.shop import BayRule, GateRule, Routing, Shop, Stock, load_shop
from cutplan.tomllines import Locator

SHOP = """\
name = "Test shop"
unit = "in"
currency = "USD"
[saw]
kerf = "1/8 in"
shortest_held = "12 in"
stack = 2
[profiles.rail]
kind = "rail"
head_trim = "1/2 in"
tail_trim = 0.25
keep_from = "2'"
routing = { pitch = "4 3/4 in", first = "2 3/8 in" }
stock = [
  { length = "16 ft", price = 41.20, qty = 12 },  # a comment with [ and "
  { length = "20 ft", price = "50.10" },
]
[profiles.turned]
kind = "picket"
kerf = 0
one_per_stick = true
face = "1 1/4 in"
stock = [ { length = "36 in" } ]
[systems.lantern]
top_rail = "rail"
bottom_rail = "rail"
picket = "turned"
picket_width = "1 1/4 in"
max_gap = "3 15/16 in"
[systems.lantern.gate]
latch_gap = "5/8 in"
[systems.lantern.bay]
"""


def load(folder: Path, text: str | bytes) -> Shop:
    path = folder / "shop.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_shop(path)


def problems(folder: Path, text: str | bytes) -> list[tuple[int, str, str]]:
    with pytest.raises(InputProblems) as caught:
        load(folder, text)
    assert all(problem.file == str(folder / "shop.toml") for problem in caught.value.problems)
    return [(problem.line, problem.column, problem.message) for problem in caught.value.problems]


def test_a_whole_shop(tmp_path: Path) -> None:
    shop = load(tmp_path, SHOP)
    assert (shop.name, shop.unit, shop.currency, shop.stack) == ("Test shop", "in", "USD", 2)
    assert (shop.kerf, shop.shortest_held, shop.tape) == (Fraction(1, 8), 12, Fraction(1, 16))
    rail, turned = shop.profiles["rail"], shop.profiles["turned"]
    assert rail.stock == (Stock(Fraction(192), Fraction("41.2"), 12), Stock(Fraction(240), Fraction("50.1")))
    assert (rail.kerf, rail.head_trim, rail.tail_trim) == (Fraction(1, 8), Fraction(1, 2), Fraction(1, 4))
    assert (rail.keep_from, rail.one_per_stick) == (24, False)
    assert rail.routing == Routing(Fraction(19, 4), Fraction(19, 8))
    assert (turned.kerf, turned.keep_from, turned.one_per_stick, turned.routing) == (0, None, True, None)
    assert turned.face == Fraction(5, 4)
    assert turned.stock == (Stock(Fraction(36), Fraction(36)),)  # no price: the cost is the length
    system = shop.systems["lantern"]
    assert (system.insert, system.upright, system.min_end_gap, system.insert_short) == (None, None, 0, 0)
    zero = Fraction(0)
    assert system.gate == GateRule(Fraction(5, 8), zero, zero, zero, zero)
    assert system.bay == BayRule(zero, zero)
    assert shop.notes == ()


def test_what_the_clamps_take(tmp_path: Path) -> None:
    assert load(tmp_path, SHOP).shortest_clamped is None
    for said in ("5 in", "12 in"):
        shop = load(tmp_path, SHOP.replace("stack = 2", f'shortest_clamped = "{said}"'))
        assert shop.shortest_clamped == int(said.split()[0])


def test_the_least_a_shop_file_can_say(tmp_path: Path) -> None:
    text = 'unit = "mm"\nsaw.kerf = 3\nprofiles.bar = { kind = "other", stock = [ { length = 6000 } ] }\n'
    shop = load(tmp_path, text)
    assert (shop.name, shop.currency, shop.stack, shop.shortest_held, shop.tape) == ("", "", 1, None, 1)
    assert (shop.systems, shop.profiles["bar"].kerf) == ({}, 3)


def test_a_system_of_neither_gate_nor_bay(tmp_path: Path) -> None:
    system = load(tmp_path, SHOP[: SHOP.index("[systems.lantern.gate]")]).systems["lantern"]
    assert (system.gate, system.bay) == (None, None)


def test_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    assert load(tmp_path, b"\xef\xbb\xbf" + SHOP.replace("\n", "\r\n").encode()) == load(tmp_path, SHOP)


def test_numbers_stay_exact(tmp_path: Path) -> None:
    shop = load(tmp_path, SHOP.replace("tail_trim = 0.25", "tail_trim = 0.1").replace("41.20", "1_041.1"))
    assert shop.profiles["rail"].tail_trim == Fraction(1, 10)
    assert shop.profiles["rail"].stock[0].price == Fraction(10411, 10)


def test_a_mix_of_prices_and_none_is_noted(tmp_path: Path) -> None:
    shop = load(tmp_path, SHOP.replace(', price = "50.10"', ""))
    assert shop.profiles["rail"].stock[1].price == 240
    [note] = shop.notes
    assert "profile rail: 1 stock length has no price" in note


def test_a_price_of_nothing_and_a_quantity_of_none_are_allowed(tmp_path: Path) -> None:
    shop = load(tmp_path, SHOP.replace("41.20, qty = 12", "0, qty = 0"))
    assert shop.profiles["rail"].stock[0] == Stock(Fraction(192), Fraction(0), 0)


ONE_FAULT = [
    ("name =", "nam =", 1, "nam", "did you mean 'name'?"),
    ('"Test shop"', "5", 1, "name", "write a text in quotes"),
    ('unit = "in"', 'unit = "cm"', 2, "unit", "known: in, mm"),
    ('unit = "in"\n', "", 1, "unit", 'is missing; write unit = "in" or "mm"'),
    ('kerf = "1/8 in"\n', "", 4, "saw.kerf", "is missing"),
    ("1/8 in", "-1/8 in", 5, "saw.kerf", "is negative; zero or more is needed"),
    ("1/8 in", "1/8 kg", 5, "saw.kerf", "is a mass, not a length"),
    ('"1/8 in"', "true", 5, "saw.kerf", "is true or false"),
    ('"1/8 in"', "nan", 5, "saw.kerf", "is not a length"),
    ('"1/8 in"', "1e-1", 5, "saw.kerf", "without an exponent"),
    ('"1/8 in"', "1979-05-27", 5, "saw.kerf", "is a date or time"),
    ('"12 in"', '"0 in"', 6, "saw.shortest_held", "is zero; more than zero is needed"),
    ("stack = 2", "shortest_clamped = 0", 7, "saw.shortest_clamped", "is zero"),
    ("stack = 2", 'shortest_clamped = "13 in"', 7, "saw.shortest_clamped", "is more than shortest_held, 12; write at"),
    ('shortest_held = "12 in"', "shortest_clamped = 4", 6, "saw.shortest_clamped", "says nothing without"),
    ("stack = 2", "stack = 0", 7, "saw.stack", "whole number of at least 1"),
    ("stack = 2", "stack = 1.5", 7, "saw.stack", "whole number of at least 1"),
    ("stack = 2", "stak = 2", 7, "saw.stak", "did you mean 'stack'?"),
    ('kind = "rail"', 'kind = "rial"', 9, "profiles.rail.kind", "did you mean 'rail'?"),
    ('kind = "rail"\n', "", 8, "profiles.rail.kind", "is missing"),
    ('"1/2 in"', '"-1"', 10, "profiles.rail.head_trim", "is negative"),
    ("0.25", "192", 15, "profiles.rail.stock[1].length", "the trims take 192.5 in and leave nothing"),
    ('"2\'"', '"0"', 12, "profiles.rail.keep_from", "is zero"),
    ('"4 3/4 in"', "0", 13, "profiles.rail.routing.pitch", "is zero"),
    (', first = "2 3/8 in"', "", 13, "profiles.rail.routing.first", "is missing"),
    ('"2 3/8 in"', '"-1"', 13, "profiles.rail.routing.first", "is negative"),
    ('"2 3/8 in"', '2, hole = "4 3/4"', 13, "profiles.rail.routing.hole", "meet at a pitch of 4.75; write a smaller"),
    ('"2 3/8 in"', "2, hole = 0", 13, "profiles.rail.routing.hole", "is zero"),
    ('"3 15/16 in"', '"4"\nplugged = 1', 30, "systems.lantern.plugged", "write true or false"),
    ("[systems.lantern.bay]", "[systems.lantern.bay]\nend_clearance = 1\nrail_insertion = 0.5", 33,
     "systems.lantern.bay.end_clearance", "is more than rail_insertion (0.5)"),
    ('"16 ft"', '"16 fot"', 15, "profiles.rail.stock[1].length", "unknown unit 'fot'"),
    ('"20 ft"', '"0"', 16, "profiles.rail.stock[2].length", "is zero"),
    ('length = "20 ft", ', "", 16, "profiles.rail.stock[2].length", "is missing"),
    ('"50.10"', '"1,050.10"', 16, "profiles.rail.stock[2].price", "without a comma"),
    ('"50.10"', '"-1"', 16, "profiles.rail.stock[2].price", "is negative"),
    ("qty = 12", "qty = 1.5", 15, "profiles.rail.stock[1].qty", "whole number of at least 0"),
    ("qty = 12", "count = 12", 15, "profiles.rail.stock[1].count", "is not a key of this table"),
    ("one_per_stick = true", "one_per_stick = 1", 21, "profiles.turned.one_per_stick", "write true or false"),
    ("one_per_stick = true", 'one_per_stick = true\nrouting = { pitch = "4 in", first = "2 in" }', 22,
     "profiles.turned.routing", "leave out one of the two"),
    ("one_per_stick = true", "one_per_stick = true\nmost_trim = 0", 22, "profiles.turned.most_trim", "is zero"),
    ("one_per_stick = true", "one_per_stick = true\nhead_trim = 1\nmost_trim = 0.5", 23, "profiles.turned.most_trim",
     "is less than the trims, 1;"),
    ("one_per_stick = true", "most_trim = 2", 21, "profiles.turned.most_trim", "leave it out, or write one_per_stick"),
    ("one_per_stick", "free_centring", 21, "profiles.turned.free_centring", "is not a key of this table"),
    ('[ { length = "36 in" } ]', "[]", 23, "profiles.turned.stock", "is an empty list"),
    ('[ { length = "36 in" } ]', '["36 in"]', 23, "profiles.turned.stock", "is not a list of tables"),
    ('stock = [ { length = "36 in" } ]\n', "", 18, "profiles.turned.stock", "is missing"),
    ('top_rail = "rail"', 'top_rail = "rale"', 25, "systems.lantern.top_rail", "did you mean 'rail'?"),
    ('top_rail = "rail"\n', "", 24, "systems.lantern.top_rail", "is missing"),
    ('picket = "turned"', 'picket = "rail"', 27, "systems.lantern.picket", 'is of kind "rail"'),
    ('"3 15/16 in"', '"0"', 29, "systems.lantern.max_gap", "is zero"),
    ('"3 15/16 in"', '"4"\nmin_end_gap = 5', 30, "systems.lantern.min_end_gap", "is wider than max_gap"),
    ("latch_gap", "lach_gap", 31, "systems.lantern.gate.lach_gap", "did you mean 'latch_gap'?"),
    ("[systems.lantern.bay]", "[systems.lantern.baye]", 32, "systems.lantern.baye", "did you mean 'bay'?"),
]


@pytest.mark.parametrize(("old", "new", "line", "column", "said"), ONE_FAULT)
def test_each_fault_on_its_line(
    tmp_path: Path, old: str, new: str, line: int, column: str, said: str
) -> None:
    assert old in SHOP
    [(found_line, found_column, message)] = problems(tmp_path, SHOP.replace(old, new, 1))
    assert (found_line, found_column) == (line, column)
    assert said in message


def test_all_faults_at_once(tmp_path: Path) -> None:
    text = SHOP.replace('"1/8 in"', '"x"').replace("stack = 2", "stack = 0").replace('"16 ft"', '"16 s"')
    text = text.replace('picket = "turned"', 'picket = "turnd"')
    found = [(line, column) for line, column, _ in problems(tmp_path, text)]
    assert found == [
        (5, "saw.kerf"),
        (7, "saw.stack"),
        (15, "profiles.rail.stock[1].length"),
        (27, "systems.lantern.picket"),
    ]


def test_a_turned_blank_loses_its_longer_trim_twice(tmp_path: Path) -> None:
    text = SHOP.replace("one_per_stick = true", 'one_per_stick = true\nhead_trim = "18 in"')
    assert [(line, column) for line, column, _ in problems(tmp_path, text)] == [
        (24, "profiles.turned.stock[1].length")
    ]


def test_what_routed_rails_may_say_of_their_holes(tmp_path: Path) -> None:
    text = SHOP.replace('"2 3/8 in" }', '2, hole = "1 3/8 in" }').replace("max_gap", "plugged = true\nmax_gap")
    shop = load(tmp_path, text)
    routing = shop.profiles["rail"].routing
    assert routing and (routing.hole, shop.systems["lantern"].plugged) == (Fraction(11, 8), True)
    assert not load(tmp_path, SHOP).systems["lantern"].plugged


def test_holes_much_wider_than_their_pickets_are_refused(tmp_path: Path) -> None:
    """Pickets of 1 1/4 stand in holes of up to 1 3/8; in wider ones they would stand loose."""
    text = SHOP.replace('"2 3/8 in" }', '2, hole = "1 7/16 in" }')
    [(_, column, message)] = problems(tmp_path, text)
    assert column == "systems.lantern.picket_width"
    assert "open slot" in message and "1.4375 wide; write at least 1.3125" in message


def test_plugs_need_holes(tmp_path: Path) -> None:
    text = SHOP.replace('routing = { pitch = "4 3/4 in", first = "2 3/8 in" }\n', "")
    [(_, column, message)] = problems(tmp_path, text.replace("max_gap", "plugged = true\nmax_gap"))
    assert column == "systems.lantern.plugged" and "nothing to plug" in message
    assert not load(tmp_path, text.replace("max_gap", "plugged = false\nmax_gap")).systems["lantern"].plugged


def test_a_pitch_that_breaks_the_widest_gap_is_noted(tmp_path: Path) -> None:
    """Holes 4 3/4 apart and pickets of 1 1/4 leave 3 1/2."""
    said = {gap: load(tmp_path, SHOP.replace('"3 15/16 in"', f'"{gap}"')).notes for gap in ("3 7/16 in", "3 1/2 in")}
    assert "3 1/2 in between pickets, more than its max_gap, 3 7/16 in" in said["3 7/16 in"][0]
    assert said["3 1/2 in"] == ()


def test_rails_of_different_pitch_do_not_go_together(tmp_path: Path) -> None:
    other = '[profiles.low]\nkind = "rail"\nrouting = { pitch = 5, first = 1 }\nstock = [{ length = 99 }]\n'
    text = SHOP.replace('bottom_rail = "rail"', 'bottom_rail = "low"') + other
    [(line, column, message)] = problems(tmp_path, text)
    assert (line, column) == (26, "systems.lantern.bottom_rail")
    assert "4.75 and 5" in message


def test_a_profile_of_kind_other_suits_any_part(tmp_path: Path) -> None:
    text = SHOP.replace('kind = "picket"', 'kind = "other"')
    assert load(tmp_path, text).systems["lantern"].picket == "turned"


def test_no_profiles(tmp_path: Path) -> None:
    [(line, column, _)] = problems(tmp_path, 'unit = "in"\n[saw]\nkerf = 0\n')
    assert (line, column) == (1, "profiles")
    assert [c for _, c, _ in problems(tmp_path, 'unit = "in"\nprofiles = 3\n')] == ["saw.kerf", "profiles"]
    assert [c for _, c, _ in problems(tmp_path, "")] == ["profiles", "saw.kerf", "unit"]


def test_lists_of_tables_and_names_in_quotes(tmp_path: Path) -> None:
    text = 'unit = "in"\nsaw.kerf = 0\n[profiles."top rail"]\nkind = "rail"\n'
    text += '[[profiles."top rail".stock]]\nlength = 96\n\n[[profiles."top rail".stock]]\nqty = 1\n'
    [(line, column, _)] = problems(tmp_path, text)
    assert (line, column) == (8, 'profiles."top rail".stock[2].length')


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('unit = "in"\nkerf 3\n', 2),
        ('unit = "in"\n[saw]\nkerf = "1/8\n', 3),
        ('unit = "in"\nunit = "mm"\n', 2),
        ('unit = "in"\nx = [1,\n\n', 2),
        (b'unit = "in"\nname = "Caf\xe9"\n', 2),
        ('unit = 1\nname = "\0"\n', 2),
        ("x = " + "9" * 5000, 1),
        ("x = " + "[" * 5000, 1),
    ],
)
def test_what_is_not_toml_at_all(tmp_path: Path, text: str | bytes, line: int) -> None:
    [(found_line, column, _)] = problems(tmp_path, text)
    assert (found_line, column) == (line, "file")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path, Path("a\0b")):
        with pytest.raises(InputProblems) as caught:
            load_shop(path)
        [problem] = caught.value.problems
        assert isinstance(problem, Problem)
        assert (problem.file, problem.line, problem.column) == (str(path), 1, "file")


def test_lines_of_keys_in_random_files() -> None:
    """Keys in every way TOML has of writing them, beside values that look like keys and tables."""
    draw = random.Random(3)
    values = [
        "1",
        '"a # ] } \\" ="',
        "'it = ['",
        '[1, [2, {a = 3}], "x,]"]',
        "{ a = 1, b.c = [2] }",
        "1979-05-27",
        '"""\ntwo # lines\n[no.table]\n"""',
        "'''\n\"\n'''",
        "[\n 1, # one\n 2,\n]",
        "-inf",
    ]
    for _ in range(300):
        text, expected = "", {}
        for table in range(draw.randrange(4)):
            listed = draw.random() < 0.5
            for entry in range(draw.randrange(1, 3) if listed else 1):
                text += draw.choice(["", "\n", "# [x]\n"])
                text += f"[[t{table}]]\n" if listed else f"[ t{table} . sub ]\n"
                head: tuple[str | int, ...] = (f"t{table}", entry) if listed else (f"t{table}", "sub")
                expected[head] = text.count("\n")
                for key in range(draw.randrange(4)):
                    name, parts = draw.choice(
                        [
                            (f"k{key}", (f"k{key}",)),
                            (f'"k {key}"', (f"k {key}",)),
                            (f"d{key}.'e'", (f"d{key}", "e")),
                        ]
                    )
                    expected[(*head, *parts)] = text.count("\n") + 1
                    text += f"{name} = {draw.choice(values)}  # done\n"
        tomllib.loads(text)
        lines = Locator(text).locate()
        assert {keys: lines[keys] for keys in expected} == expected


def test_the_credit_of_an_offcut_is_a_share(tmp_path: Path) -> None:
    assert load(tmp_path, SHOP).offcut_credit == 0
    assert load(tmp_path, "offcut_credit = 0.35\n" + SHOP).offcut_credit == Fraction(7, 20)
    for wrong, said in (("1.5", "a share from 0 to 1"), ("-0.5", "negative"), ('"half"', "not a number")):
        (line, column, message), = problems(tmp_path, f"offcut_credit = {wrong}\n" + SHOP)
        assert (line, column) == (1, "offcut_credit") and said in message
