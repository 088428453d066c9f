"""If these fail, who cannot have a plan is told of a length, and must look for the gate that asked for it."""

from __future__ import annotations

from pathlib import Path

import pytest

import cutplan as cp
from tests.commands import run

SHOP = """unit = "in"
saw.kerf = "1/8 in"
[profiles.rail]
kind = "rail"
stock = [ {{ length = 192{qty} }} ]
[profiles.routed]
kind = "rail"
routing = {{ pitch = 4, first = 2 }}
stock = [ {{ length = 40 }} ]
[profiles.picket]
kind = "picket"
stock = [ {{ length = 240 }} ]
[systems.plain]
top_rail = "rail"
bottom_rail = "rail"
picket = "picket"
picket_width = 1
max_gap = 4
bay = {{ end_clearance = 0, rail_insertion = 1 }}
"""
HEAD = "mark,profile,length,qty,centred\n"


def refused(tmp_path: Path, name: str, work: str, qty: str = "") -> str:
    (tmp_path / name).write_text(work)
    (tmp_path / "shop.toml").write_text(SHOP.format(qty=qty))
    with pytest.raises(cp.NoPlan) as none:
        cp.cut(tmp_path / name, tmp_path / "shop.toml")
    return str(none.value).replace(str(tmp_path) + "/", "")


@pytest.mark.parametrize("work, qty, said", [
    ("A,rail,30,2,\nB,rail,200,1,\nC,rail,200,1,\n", "", "rail: 200: longer than 192, the longest piece that any stick "
     "here yields (B, pieces.csv:3; C, pieces.csv:4)"),
    ("".join(f"P{k},rail,{200 + k},1,\n" for k in range(5)), "", "yields (P0, pieces.csv:2; P1, pieces.csv:3; "
     "P2, pieces.csv:4; 2 more)"),
    ("A,routed,35,2,space\nB,routed,38,1,hole\n", "", "routed: 38 centred on a hole: no stick here has room for it "
     "where its holes fall right (B, pieces.csv:3)"),
    ("A,rail,100,3,\n", ", qty = 2", "rail: the stock runs out: 1 more of 192 would be needed; for A, pieces.csv:2"),
])
def test_a_piece_without_a_plan_is_named_with_its_file_and_line(tmp_path: Path, work: str, qty: str, said: str) -> None:
    assert said in refused(tmp_path, "pieces.csv", HEAD + work, qty)


def test_a_piece_with_angled_ends_is_told_by_what_of_it_is_too_long(tmp_path: Path) -> None:
    """236 + 4 + 4 along the bottom edge, and 238 + 4 from the lower left corner to the upper right one, of 240."""
    (tmp_path / "shop.toml").write_text(
        'unit = "in"\nsaw.kerf = "1/8"\n[profiles.bar]\nkind = "rail"\nface = 4\nmay_turn = "both"\n'
        "stock = [ { length = 240 } ]\n")
    (tmp_path / "pieces.csv").write_text(
        "mark,profile,length,qty,left_in,right_in\nA,bar,236,1,-4,-4\nB,bar,238,1,-4,4\nC,bar,240,1,4,4\n"
        "D,bar,241,1,4,4\n")
    with pytest.raises(cp.NoPlan) as none:
        cp.cut(tmp_path / "pieces.csv", tmp_path / "shop.toml")
    told = str(none.value).replace(str(tmp_path) + "/", "")
    assert told.startswith("bar: ") and told.endswith(
        "longer than 240, the longest piece that any stick here yields (A, pieces.csv:2; B, pieces.csv:3; "
        "D, pieces.csv:5)")
    for said in ("236 (244 along its bottom edge)", "238 (242 from corner to corner)", "241"):
        assert said in told.partition(": longer")[0]


def test_what_a_system_lacks_is_told_once(tmp_path: Path) -> None:
    """A line that also asks for what cannot be made, and another whose fault only the takeoff sees."""
    (tmp_path / "shop.toml").write_text(SHOP.format(qty="").replace('bottom_rail = "rail"', 'bottom_rail = "routed"'))
    (tmp_path / "week.csv").write_text("mark,kind,system,qty,opening,height,rake\nG1,gate,plain,1,40,36,3:4\n"
                                       "B1,bay,plain,1,40,36,3:4\n")
    result = run("cut", tmp_path / "week.csv", "--shop", tmp_path / "shop.toml")
    said = result.stderr.splitlines()
    assert result.exit_code == 2
    assert [":2: system" in line for line in said].count(True) == 1
    assert ["[systems.plain.gate]" in line for line in said].count(True) == 1
    assert any(":3: rake" in line for line in said)


def test_a_bay_without_a_plan_is_named_too(tmp_path: Path) -> None:
    week = "mark,kind,system,qty,opening,height\nB1,bay,plain,1,80,36\nB2,bay,plain,2,220,36\n"
    told = refused(tmp_path, "week.csv", week)
    assert told.startswith("rail: 222: longer than 192") and "B2" in told and "week.csv:3" in told
    assert "B1" not in told


def test_what_is_too_long_for_every_stick_is_told_before_anything_is_searched(tmp_path: Path) -> None:
    """Another profile may take its whole time; nobody waits for that to hear of a slip."""
    (tmp_path / "pieces.csv").write_text(HEAD + "A,rail,30,2,\nB,picket,300,1,\n")
    (tmp_path / "shop.toml").write_text(SHOP.format(qty=""))
    told: list[str] = []
    with pytest.raises(cp.NoPlan, match="picket: 300: longer than 240"):
        cp.cut(tmp_path / "pieces.csv", tmp_path / "shop.toml", progress=told.append)
    assert not [line for line in told if "rail" in line]
