"""If these fail, the saw or a spreadsheet reads a length or a mark that is not in the plan."""

from __future__ import annotations

import csv
import io
import random
from fractions import Fraction
from pathlib import Path

from cutplan.orders import Piece, load_inputs, load_pieces
from cutplan.plans.plan import Plan
from cutplan.plans.records import Cut, ProfilePlan, Stick, Tier, Totals
from cutplan.sheets.csvout import cuts_csv, pieces_csv
from cutplan.sheets.listing import as_csv, listing

F = Fraction
DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"


def plan() -> Plan:
    cuts = (
        Cut("=HYPERLINK(1)", F(34, 3), F(1, 2), F(71, 6)),
        Cut('G1 "top", left', F(60), F(287, 24), F(1727, 24)),
    )
    stick = Stick("new", None, F(96), F("41.20"), 3, cuts, F(24), True, head_trim=F(1, 2))
    totals = Totals(F("123.60"), F(288), F(214), F("0.75"), F("1.5"), F(0), F(72), 1)
    tiers = (Tier("cost", F("123.60"), F(1)), Tier("used up", F(216), F(1)), Tier("patterns", F(1), F(1)))
    profile = ProfilePlan("rail", F(1, 8), F(1, 2), F(0), F(24), False, (), (stick,), totals, tiers)
    return Plan("in", (profile,), shortest_held=F(12))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_each_cut_has_a_row_with_exact_lengths() -> None:
    first, second = rows(cuts_csv(plan()))
    assert (first["length"], first["start"], first["end"]) == ("11.333333", "0", "11.333333")
    assert (first["length_exact"], first["end_exact"]) == ("34/3", "34/3")  # from the end squared first
    assert first["squared_off"] == "0.5"
    assert (second["length"], second["stock_length"], second["price"], second["offcut"]) == (
        "60",
        "96",
        "41.2",
        "24",
    )
    assert (second["count"], second["cut"], second["keep"]) == ("3", "2", "yes")
    assert [first["clamp"], second["clamp"]] == ["piece", ""]


def test_a_mark_keeps_its_commas_and_quotes_and_is_never_a_formula() -> None:
    first, second = rows(cuts_csv(plan()))
    assert first["mark"] == "'=HYPERLINK(1)"
    assert second["mark"] == 'G1 "top", left'
    marks = [
        row["mark"] for row in rows(pieces_csv(Piece(mark, "p", F(1), 1) for mark in ("+1", "-1", "@a", "a")))
    ]
    assert marks == ["'+1", "'-1", "'@a", "a"]


def test_the_pieces_can_be_read_again(tmp_path: Path) -> None:
    shop = DEMO / "shop.toml"
    written = [
        Piece("G1 top rail", "box-rail", F(104, 3), 2, "G1"),
        Piece('P, "left"', "square-picket", F("34.0625"), 7, ""),
        Piece("G1 picket", "lantern-picket", F(31), 12, "G1", each=6),
    ]
    file = tmp_path / "pieces.csv"
    file.write_text(pieces_csv(written), encoding="utf-8")
    _, read = load_inputs(shop, file)
    assert [(p.mark, p.profile, p.length, p.qty, p.for_, p.each) for p in read if isinstance(p, Piece)] == [
        (p.mark, p.profile, p.length, p.qty, p.for_, p.each) for p in written
    ]


def test_whatever_a_mark_is_it_is_the_same_again_when_it_is_read(tmp_path: Path) -> None:
    """Three thousand marks of what spreadsheets and readers of CSV take for something, on one line and printable."""
    chance = random.Random(5)
    hostile = ["'", "=", "+", "-", "@", "\uff1d", ";", "; ", ",", '"', " ", "1", "a", "\u00e9", "/", ".", "\u2019"]
    marks = {"".join(chance.choices(hostile, k=chance.randrange(1, 9))) for _ in range(3000)}
    marks = {" ".join(mark.split()) for mark in marks} - {""}
    file = tmp_path / "pieces.csv"
    written = [Piece(mark, f"p{mark}", F(1), 1, mark[::-1].strip()) for mark in sorted(marks)]
    for sent in (written, *([one] for one in written[::30])):
        file.write_text(pieces_csv(sent), encoding="utf-8")
        read = load_pieces(file, None)
        assert [(one.mark, one.profile, one.for_) for one in read] == [(p.mark, p.profile, p.for_) for p in sent]
    for cells in csv.reader(io.StringIO(pieces_csv(written))):
        assert not any(part.lstrip(" ").startswith(tuple("=+-@\uff1d")) for cell in cells for part in cell.split(";"))


def test_a_text_is_guarded_whether_or_not_it_looks_like_another_that_is_guarded() -> None:
    for first in (True, False):  # whichever comes first
        mark = f"{first}=x;=y"
        guarded = mark.replace(";", ";'")
        cells = {True: mark, False: guarded}
        text = {of: as_csv(listing("", ["a"], [[cells[of]]])).splitlines()[1].strip('"') for of in (first, not first)}
        assert text == {True: guarded, False: guarded.replace(";'", ";''")}
