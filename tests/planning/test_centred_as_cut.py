"""If these fail, a gate or bay is planned again with other rails, or another number of pickets, than its week asks for,
because of what was cut for it; or such a plan is called one of the week.

The right number of pickets is worked out here from the pitch, as data/README.md says it; nothing of the takeoff's is
used.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.orders import Order
from cutplan.planning.serving import centred_as_cut
from cutplan.planning.tied import AskedOf, centrings_there
from cutplan.rack.inhand import InHand
from cutplan.shop import BayRule, Profile, Routing, Shop, Stock, System
from tests.commands import good, run

PITCH, WIDE, LEAST, MOST = F(5), F(1), F(1, 8), F(5)
TEXT = """unit = "in"
free_centring = {free}
[saw]
kerf = "1/8 in"
[profiles.rail]
kind = "rail"
keep_from = "20 in"
routing = {{ pitch = "5 in", first = "2.5 in" }}
stock = [{{ length = "192 in", price = 41 }}]
[profiles.picket]
kind = "picket"
stock = [{{ length = "240 in", price = 9 }}]
[systems.routed]
top_rail = "rail"
bottom_rail = "rail"
picket = "picket"
picket_width = "1 in"
max_gap = "5 in"
min_end_gap = "1/8 in"
picket_allowance = "4 in"
[systems.routed.bay]
end_clearance = "1/4 in"
rail_insertion = "1/2 in"
"""
RAIL = Profile("rail", "rail", (Stock(F(192), F(41)),), F(1, 8), keep_from=F(20), routing=Routing(PITCH, F(5, 2)))
PICKET = Profile("picket", "picket", (Stock(F(240), F(9)),), F(1, 8))


def shop(free: bool) -> Shop:
    system = System("routed", "rail", "rail", "picket", picket_width=WIDE, max_gap=MOST, min_end_gap=LEAST,
                    bay=BayRule(F(1, 4), F(1, 2)), free_centring=free)
    return Shop("", "in", "", F(1, 8), None, 1, F(1, 16), {"rail": RAIL, "picket": PICKET}, {"routed": system})


def ways(opening: F) -> dict[str, int]:
    """How many pickets a bay has by each centring that will do, the wider end gap first."""
    found = []
    for way, counts in (("hole", range(1, 99, 2)), ("space", range(2, 99, 2))):
        n = max((n for n in counts if (n - 1) * PITCH + WIDE <= opening), default=0)
        gap = (opening - WIDE - (n - 1) * PITCH) / 2
        if n and LEAST <= gap <= min(MOST, PITCH - WIDE):
            found.append((gap, way, n))
    return {way: n for _, way, n in sorted(found, reverse=True)}


BOTH = [F(n, 4) for n in range(4 * 31, 4 * 90) if len(ways(F(n, 4))) == 2]
ON = {way: [opening for opening in BOTH if next(iter(ways(opening))) == way] for way in ("hole", "space")}


def test_the_openings_here_may_be_centred_either_way() -> None:
    assert min(map(len, ON.values())) > 20


def week(name: str, opening: F) -> str:
    Path(name).write_text(f"mark,kind,system,qty,opening,height\nB2,bay,routed,2,{float(opening)},36\n")
    return name


def pickets(plan: str) -> tuple[int, set[str]]:
    """How many a plan cuts, and what its rails' middles lie on."""
    rows = list(csv.DictReader(io.StringIO(good("rest", plan, "--csv", "-"))))
    return (sum(int(row["qty"]) for row in rows if row["profile"] == "picket"),
            {row["centred"] for row in rows if row["profile"] == "rail"})


@pytest.mark.parametrize("free", [False, True])
@pytest.mark.parametrize(("was", "now"), [("hole", "space"), ("space", "hole")])
def test_a_bay_measured_anew_of_which_nothing_serves_is_as_the_week_asks(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, was: str, now: str, free: bool) -> None:
    """Its rails of before are cut, by the other centring, and too short for it now."""
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(TEXT.format(free=str(free).lower()))
    before, after = ON[was][0], next(one for one in ON[now] if one > ON[was][0] + 2)
    good("cut", week("was.csv", before), "--shop", "shop.toml", "--rack", "rack.db", "--json", "p1.json")
    assert pickets("p1.json")[1] == {was}  # where both ways cost the same, the wider end gap stays
    good("book", "p1.json", "--profile", "rail")
    good("replan", "p1.json", "--week", week("now.csv", after), "--shop", "shop.toml", "--json", "p2.json")
    assert pickets("p2.json") == (2 * ways(after)[now], {now})
    said = good("check", "p2.json", "now.csv", "--shop", "shop.toml", "--rack", "rack.db")
    assert "what is asked for is cut or in it" in said


def test_the_other_centring_is_kept_and_said_where_the_shop_leaves_it_free_and_is_wrong_where_not(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    opening = BOTH[0]
    (wider, most), (other, n) = ways(opening).items()
    rail = float(opening + F(1, 2))
    rails = "".join(f"B2 {name} rail,rail,{rail},2,B2,,{other}\n" for name in ("top", "bottom"))
    rails += f"B2 picket,picket,32,{2 * n},B2,{n},\n"
    Path("pieces.csv").write_text(f"mark,profile,length,qty,for,each,centred\n{rails}")
    Path("shop.toml").write_text(TEXT.format(free="true"))
    good("cut", "pieces.csv", "--shop", "shop.toml", "--rack", "rack.db", "--json", "p1.json")
    words = ["check", "p1.json", week("was.csv", opening), "--shop", "shop.toml"]
    assert "cuts what is asked for" in good(*words)
    Path("shop.toml").write_text(TEXT.format(free="false"))
    result = run(*words)
    assert result.exit_code == 2
    assert f"B2 picket: {2 * most} of picket 32 asked for, {2 * n} in p1.json" in result.stderr
    assert f"B2 top rail: 0 of rail {rail:g} asked for, 2 in p1.json" in result.stderr, wider
    good("book", "p1.json", "--profile", "rail")
    Path("shop.toml").write_text(TEXT.format(free="true"))
    result = run("replan", "p1.json", "--week", "was.csv", "--shop", "shop.toml", "--json", "p2.json")
    assert f"B2: its rails are centred on a {other}, {n} pickets each, as what is cut for it" in result.stderr
    assert pickets("p2.json") == (2 * n, set())
    good("check", "p2.json", *words[2:], "--rack", "rack.db")


@pytest.mark.parametrize("opening", [*ON["hole"][:3], *ON["space"][:3]])
def test_free_rails_keep_the_centring_of_what_serves_and_fixed_ones_the_wider_end_gap(opening: F) -> None:
    """Of one rail, of pickets alone where the other way takes fewer, of nothing that serves, of a listed piece."""
    order = Order("B2", "bay", "routed", 2, opening, F(36))
    wider, other = ways(opening)
    rail = opening + F(1, 2)
    for way in (wider, other):
        hand = Counter({InHand("rail", "B2 top rail", "B2", rail, way): 1})
        there = Counter({("rail", "B2 top rail", rail, way): 1})
        assert centred_as_cut(hand, [order], shop(True)) == {"B2": way}
        assert centrings_there(AskedOf(shop(True), [order]), there) == {"B2": way}
        assert centred_as_cut(hand, [order], shop(False)) == centrings_there(AskedOf(shop(False), [order]), there) == {}
    n = max(ways(opening).values())
    most = max(ways(opening), key=lambda way: ways(opening)[way])
    cut = Counter({InHand("picket", "B2 picket", "B2", F(36), ""): 2 * n})
    assert centred_as_cut(cut, [order], shop(True)) == {"B2": most}
    useless = Counter({InHand("rail", "B2 top rail", "B2", F(10), other): 4,
                       InHand("rail", "X", "B2", F(10), other): 4})
    assert centred_as_cut(useless, [order], shop(True)) == {"B2": wider}
    assert centrings_there(AskedOf(shop(True), [order]), Counter({("rail", "X", rail, other): 9})) == {"B2": wider}
