"""If these fail, the shop hand, the buyer or the estimator reads something that is not in the plan."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece
from cutplan.plans.plan import Plan
from cutplan.plans.records import Cut, ProfilePlan, Stick, Tier, Totals
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.page import packet_page
from cutplan.sheets.plan import plan_text, saw_text
from cutplan.sheets.words import Writer, places
from cutplan.shop import Profile, Routing, Shop, Stock

F = Fraction
HELD = F(12)


def plan(shortest_held: Fraction | None = HELD) -> Plan:
    """Four pieces of 28 from 120 (US Army Engineer course EN0069A, lesson 4), here with a kerf of 1/8.

    By hand, the cuts end at 28, 56 1/8, 84 1/4 and 112 3/8, and 7 1/2 is left. The squared end is the stick's own.
    """
    marks = ("G1 picket", "G1 picket", "G1 picket", "B2 picket")
    starts = [n * F("28.125") for n in range(4)]
    cuts = tuple(Cut(mark, F(28), start, start + 28) for mark, start in zip(marks, starts, strict=True))
    stick = Stick("new", None, F(120), F("41.20"), 2, cuts, F("7.5"), False)
    totals = Totals(F("82.40"), F(240), F(224), F(1), F(0), F(15), F(0), 1)
    tiers = (
        Tier("cost", F("82.40"), F("79.199")),
        Tier("used up", F(240), F(240)),
        Tier("patterns", F(1), F(1)),
    )
    profile = ProfilePlan("picket", F(1, 8), F(0), F(0), None, False, (), (stick,), totals, tiers)
    return Plan("in", (profile,), "USD", F(1, 16), shortest_held)


def test_the_cuts_stand_where_the_tape_reads() -> None:
    text = plan_text(plan())
    assert "cut 4 x 28; left 7 1/2, scrap, let it fall" in text
    assert "running marks 28, 56 1/8, 84 1/4, 112 3/8" in text
    assert "sticks 1 to 2, new: 3 x 28 G1 picket, 1 x 28 B2 picket" in text
    assert "2 sticks of 120, 6.67 % waste" in text  # (120 - 112) / 120


def test_nothing_is_to_be_clamped_where_the_shop_sets_no_length() -> None:
    text = plan_text(plan(shortest_held=None)).split("At the saw")[0]
    assert "clamp" not in text and "let it fall" not in text


def test_what_is_not_proven_is_said_and_never_understated() -> None:
    text = plan_text(plan())
    assert "not proven, could at most be 3.21 USD cheaper" in text  # 82.40 - 79.199 = 3.201, rounded up
    assert "240 in used up: proven" in text


def test_the_buyer_finds_sticks_and_money() -> None:
    row = next(line for line in plan_text(plan()).splitlines() if line.endswith("82.40") and "41.20" in line)
    assert row.split() == ["picket", "120", "(10", "ft)", "2", "41.20", "82.40"]  # as on a tape, and as people say it


def test_the_bar_is_to_scale() -> None:
    bar = next(line.strip() for line in plan_text(plan()).splitlines() if line.startswith("  0["))
    assert len(bar) == 1 + 60
    assert abs(bar.count("x") - 60 * 7.5 / 120) <= 1


def test_the_cautions_stand_at_the_foot() -> None:
    foot = plan_text(plan()).split("At the saw")[1]
    assert "Wear eye protection" in foot and "Unplug" in foot and "Clamp" in foot
    said = " ".join(foot.split())
    assert all(word in said for word in ("hearing protection", "no gloves", "Never trap a piece", "Support long stock",
                                         "wait for the blade to stop"))


def test_no_sheet_to_cut_from_quotes_a_rule_of_one_country() -> None:
    """The plan does not know where it is cut; eyes want protecting everywhere."""
    made = replace(plan(), unit="mm", tape=F(1))
    for sheet in (plan_text(made), saw_text(made), packet_page(made, Packet("0" * 16, "", "a4"))):
        assert "Wear eye protection at the saw and hearing protection" in " ".join(sheet.split())
        assert "United States" not in sheet and "CFR" not in sheet
    assert "CFR" not in plan_text(plan())


def test_decimals_are_rounded_halves_away_from_zero() -> None:
    assert [places(F(n, 1000), 2) for n in (5, 4, -5, 12345, 0)] == ["0.01", "0.00", "-0.01", "12.35", "0.00"]
    assert Writer("in", F(1, 16)).money(F(1, 3)) == "~0.33"


def test_a_rail_with_holes_is_cut_by_its_middle_hole() -> None:
    """By hand. From the stick's own end holes are at 2 3/8, 7 1/8, .. 21 3/8: the rail would begin at 3 7/8. From the
    other end they are at 192 - 2 3/8 - 39 x 4 3/4 = 4 3/8, 9 1/8, 13 7/8, 18 5/8, and it begins at 18 5/8 - 17 1/2,
    which is 5/8 from the squared end. The next, 38 on a space, has its middle at least 36 1/4 + 19 in on: between the
    holes at 56 5/8 and 61 3/8, at 59. So it begins at 40, 3 3/4 from the new end, and its first hole is at 42 3/8.
    """
    rail = Profile("rail", "rail", (Stock(F(192), F(9)),), F(1, 8), head_trim=F(1, 2), keep_from=F(24),
                   routing=Routing(F(19, 4), F(19, 8)))
    shop = Shop("Test shop", "in", "USD", F(1, 8), None, 1, F(1, 16), {"rail": rail}, {})
    pieces = [Piece("G1 top rail", "rail", F(35), 1, centred="hole"), Piece("B2 top rail", "rail", F(38), 1,
                                                                            centred="space")]
    text = " ".join(plan_text(cut_pieces(pieces, shop)).split())
    assert ("square the end whose first hole is 4 3/8 from it; take off 1/2, kerf included: the first hole is then "
            "3 7/8 from 0") in text
    assert "cut off 5/8, then cut 35: first hole 3 1/4 from the new end, middle on hole 4, at 17 1/2" in text
    assert "cut off 3 3/4, then cut 38: first hole 2 3/8 from the new end, middle between holes 4 and 5" in text
    assert "running marks 5/8 to 35 5/8, 39 1/2 to 77 1/2" in text
    assert "(its first hole 2 1/4 from the new end)" in text  # hole 17 is at 80 3/8, the cut at 78 1/8
