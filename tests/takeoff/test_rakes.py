"""If these fail, a raked bay or run comes out otherwise than somebody reckons it by hand, or what cannot be is.

The rakes are 3:4 and 5:12, whose secants are 5/4 and 13/12, so that every figure is a fraction.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.bidding.bidfile import load_bid
from cutplan.orders import Order, load_orders
from cutplan.problems import FailedAudit, Findings, InputProblems
from cutplan.sheets.csvout import pieces_csv
from cutplan.sheets.takeoff import takeoff_text
from cutplan.shop import Shop, load_shop
from cutplan.takeoff import Takeoff, take_off, take_off_all
from cutplan.takeoff.assembly import Part
from cutplan.takeoff.audit import audit
from cutplan.takeoff.cards import Card
from cutplan.takeoff.carried import as_fields, from_fields

SHOP = """\
unit = "in"
saw.kerf = "1/8"
codes.apply = []
[profiles]
cap = { kind = "rail", face = 2, stock = [ { length = 192 } ] }
base = { kind = "rail", face = "1 1/2", stock = [ { length = 192 } ] }
mid = { kind = "rail", face = "1 1/2", stock = [ { length = 192 } ] }
pick = { kind = "picket", stock = [ { length = 192 } ] }
bar = { kind = "insert", stock = [ { length = 192 } ] }
pole = { kind = "post", stock = [ { length = 192 } ] }
holed = { kind = "rail", face = 2, routing = { pitch = "4 1/2", first = 2 }, stock = [ { length = 192 } ] }
faceless = { kind = "rail", stock = [ { length = 192 } ] }
blank = { kind = "rail", face = 2, one_per_stick = true, stock = [ { length = 192 } ] }
[systems.s]
top_rail = "cap"
bottom_rail = "base"
picket = "pick"
picket_width = 1
max_gap = 4
picket_allowance = 7
below_bottom_rail = 4
insert = "bar"
insert_short = "1/2"
[systems.s.bay]
end_clearance = "1/8"
rail_insertion = 1
[systems.s.run]
post = "pole"
post_width = 3
max_bay = 72
post_above = 44
post_below = 20
"""
HEAD = "mark,kind,system,qty,opening,height,rake,ends,opening_bottom"
MID = 'mid_rail = "mid"\nmid_rails_at = [20]\npickets_at_mid_rail = "between"\n'


def shop(old: str = "", new: str = "") -> Shop:
    assert old in SHOP
    return load_shop(io.StringIO(SHOP.replace(old, new, 1)))


def take(made: Shop, *rows: str) -> Takeoff:
    week = load_orders(io.StringIO("\n".join([HEAD, *rows]) + "\n"), made)
    return take_off_all(week, made)


def words(taken: Takeoff, made: Shop) -> str:
    return " ".join(takeoff_text(taken, made).split())


def test_a_bay_that_rises() -> None:
    """72 wide: the rail 72 - 1/4 + 2 level, 5/4 of it along. (72 - 4) / 5 is over 13, so 14 pickets and gaps of 58/15.

    Plumb, the top rail is 2 x 5/4 high, the bottom rail 1 1/2 x 5/4: from 37 1/2 to 40 and from 4 to 5 7/8. A picket of
    40 - 7 in the 31 5/8 between them is 11/16 deep in each, in its middle: the first one's is 131/30 from the post,
    where the ground is 131/40 up, so that its foot is at 83/16 + 131/40.
    """
    made = shop()
    taken = take(made, "B1,bay,s,2,72,40,3:4,,")
    assert {piece.mark: (piece.length, piece.left_in, piece.right_in, piece.qty) for piece in taken.pieces} == {
        "B1 top rail": (F(1475, 16), F(-3, 2), F(3, 2), 2), "B1 bottom rail": (F(1475, 16), F(-9, 8), F(9, 8), 2),
        "B1 insert": (F(1467, 16), 0, 0, 4), "B1 picket": (F(33), 0, 0, 28)}
    one = taken.cards[0]
    (top,), (row,) = one.of("top rail"), one.of("picket")
    assert top.outline == ((F(-7, 8), F(1179, 32)), (F(583, 8), F(2949, 32)), (F(583, 8), F(3029, 32)),
                           (F(-7, 8), F(1259, 32)))
    assert (top.low, top.high) == (F(75, 2), 40)
    assert row.outline[0] == (F(58, 15), F(677, 80)) and row.outline[2] == (F(73, 15), F(677, 80) + 33)
    second = list(row.outlines())[1]
    assert second[0] == (F(58, 15) + F(73, 15), F(677, 80) + F(3, 4) * F(73, 15))
    assert one.layout.gap == one.layout.end_gap == F(58, 15) and one.seat == F(11, 16)
    assert one.squared[0] == ((F(-7, 8), 4 - F(21, 32)), (F(583, 8), 4 + F(1749, 32)),
                              (F(583, 8), 40 + F(1749, 32)), (F(-7, 8), 40 - F(21, 32)))
    said = words(taken, made)
    assert "top rail 1 x 92 3/16, cap; ends cut plumb, ~36.9 deg (9:12) off square, each bottom corner 1 1/2" in said
    assert "further left along it than the top one; 7/8 hidden at each end, 1/8 short of the end of its pocket" in said
    assert "73 3/4 level x 36 plumb" in said and "measured level, ~4 13/16 along a rail" in said  # 58/15 x 5/4 = 29/6
    assert "11/16 deep in each rail; that is in their middles, and at the shallow side 5/16" in said  # less 3/4 x 1/2
    # 73 3/4 across, and up 36 + 55 5/16 or down 55 5/16 - 36: 117.376 and 76.237
    assert "diagonals ~117 3/8 from the lower left corner to the upper right, ~76 1/4 from the lower right" in said
    # the first centre is 7/8 + 131/30 from the end, level; 5/4 of that along
    assert "along an edge of each rail, from its left end: ~6 9/16 |" in said and "level: ~5 1/4 |" in said


def test_a_bay_that_falls_is_the_same_the_other_way_round() -> None:
    made = shop()
    up, down = (take(made, f"B1,bay,s,1,72,40,{rake},,") for rake in ("3:4", "-3:4"))
    for one, other in zip(up.pieces, down.pieces, strict=True):
        assert (one.length, one.left_in, one.right_in) == (other.length, other.right_in, other.left_in)
    assert "1 1/2 further right along it than the top one" in words(down, made)
    assert "rake ~36.9 deg (9:12) from level, falling to the right" in words(down, made)


@pytest.mark.parametrize(("rake", "first"), [("-5:12", True), ("5:12", False)])
def test_a_run_has_posts_of_their_own_lengths(rake: str, first: bool) -> None:
    """213 with end posts: (213 - 3) / 75 is over 2, so 3 bays of (213 - 12) / 3 and posts at 0, 70, 140 and 210.

    Across a post the ground rises 3 x 5/12, so each is 44 + 20 + 5/4 long; but the last one up has a rail on its lower
    side alone, 7/8 deep in it: 44 + 20 + 5/12 x 7/8. Rails: 68 3/4 x 13/12 = 74.479.
    """
    made = shop()
    taken = take(made, f"R1,run,s,1,213,40,{rake},posts,")
    cut = {piece.mark: (piece.length, piece.qty) for piece in taken.pieces}
    assert cut["R1 post"] == (F(261, 4), 3) and cut["R1 upper end post"] == (64 + F(35, 96), 1)
    assert cut["R1 top rail"] == (F(149, 2), 3)
    (rail,) = {(piece.left_in, piece.right_in) for piece in taken.pieces if piece.mark == "R1 top rail"}
    assert rail == ((F(5, 6), F(-5, 6)) if first else (F(-5, 6), F(5, 6)))
    placed = [outline for post in taken.cards[0].of("post") for outline in post.outlines()]
    assert [outline[0][0] for outline in placed] == [0, 70, 140, 210]
    slope = F(-5, 12) if first else F(5, 12)
    lows = [min(slope * x for x in (left, left + 3)) - 20 for left in (0, 70, 140, 210)]
    assert [outline[0][1] for outline in placed] == lows
    upper = placed[0] if first else placed[-1]
    assert upper[2][1] == (44 - F(5, 12) * (3 - F(7, 8)) if first else 44 + F(5, 12) * (210 + F(7, 8)))
    said = words(taken, made)
    assert "posts at left faces from the run's left end, level: 0 | 70 | 140 | 210" in said
    assert "along the rake: 0 | ~75 13/16 | ~151 11/16 | 227 1/2" in said  # 70, 140 and 210 x 13/12
    assert "posts 3 x 65 1/4, pole: 45 1/4 above the ground at its lower face, 20 below" in said
    assert "top rails 3 x ~74 1/2, cap" in said and "R1 top rail cap ~74 1/2 " in said


def test_between_walls_all_posts_are_alike() -> None:
    """213 between walls: (213 + 3) / 75 is over 2, so 2 posts, with a bay on either side of each."""
    (post,) = take(shop(), "R1,run,s,1,213,40,5:12,walls,").cards[0].of("post")
    assert (post.count, post.length) == (2, F(261, 4))


def test_pickets_between_three_rails() -> None:
    """The mid rail is 1 7/8 high, from 19 1/16 to 20 15/16; with 11/16 at each end 19 1/16 - 5 7/8 + 1 3/8 and
    37 1/2 - 20 15/16 + 1 3/8."""
    made = shop("[systems.s.bay]", f"{MID}[systems.s.bay]")
    lengths = {piece.mark: piece.length for piece in take(made, "B1,bay,s,1,72,40,3:4,,").pieces}
    assert (lengths["B1 lower picket"], lengths["B1 upper picket"]) == (F(233, 16), F(287, 16))


def test_only_the_level_stays_exact() -> None:
    """At 1:3 the secant is irrational: 73 3/4 x sqrt(10) / 3 = 77.7390, nearest 77 3/4."""
    made = shop()
    taken = take(made, "B1,bay,s,1,72,40,1:3,,")
    assert {piece.length for piece in taken.pieces if "rail" in piece.mark} == {F(311, 4)}
    assert "B1 top rail cap ~77 3/4 " in words(taken, made) and "B1 insert bar ~77 1/4 " in words(taken, made)
    rows = list(csv.DictReader(io.StringIO(pieces_csv(taken.pieces))))
    assert (rows[0]["left_in"], rows[0]["right_in"]) == ("-0.666667", "0.666667")
    assert (rows[0]["left_in_exact"], rows[0]["right_in_exact"]) == ("-2/3", "2/3")


def test_an_insert_with_a_face_is_cut_plumb_as_its_rail_is() -> None:
    made = shop('kind = "insert", ', 'kind = "insert", face = "3/4", ')
    (insert,) = [piece for piece in take(made, "B1,bay,s,1,72,40,3:4,,").pieces if piece.mark == "B1 insert"]
    assert (insert.left_in, insert.right_in) == (F(-9, 16), F(9, 16))
    blanks = shop('kind = "insert", ', 'kind = "insert", face = "3/4", one_per_stick = true, ')
    for square in (shop(), blanks):
        taken = take(square, "B1,bay,s,1,72,40,3:4,,")
        assert "square ends: see that no corner stands out" in words(taken, square)
        assert [piece.left_in for piece in taken.pieces if piece.mark == "B1 insert"] == [0]


@pytest.mark.parametrize(("old", "new", "row", "column", "said"), [
    ('top_rail = "cap"', 'top_rail = "holed"', "72,40,3:4,,", "rake",
     "the holes of the top rail 'holed' are square to it and at a fixed pitch, and the pickets of a raked opening "
     "stand plumb; choose a system of rails without routing"),
    ('bottom_rail = "base"', 'bottom_rail = "faceless"', "72,40,3:4,,", "rake",
     "the ends of the bottom rail are cut plumb over its face, and profile 'faceless' has none; write face in "
     "[profiles.faceless]"),
    ('top_rail = "cap"', 'top_rail = "blank"', "72,40,3:4,,", "rake", "is cut from blanks, which have square ends"),
    ("picket_allowance = 7", "picket_allowance = 4", "72,40,3:4,,", "height",
     "pickets 36 in long would stand 1/16 in over the height of 40 in; a picket_allowance of at least 4 1/8 in"),
    ("", "", "72,40,3:4,,71", "opening_bottom", "a raked bay is made between plumb posts"),
    ("", "", "72,40,uphill,,", "rake", "'uphill' is no slope; write rise:run, such as 7 5/8:10, or 5 % or 37 deg"),
    ("", "", "72,40,9:2,,", "rake", "is steeper than 4:1; check the rise and the run"),
])  # fmt: skip
def test_what_cannot_be_raked_is_said_with_what_would_be_right(old: str, new: str, row: str, column: str, said: str,
                                                               tmp_path: Path) -> None:
    path = tmp_path / "week.csv"
    path.write_text(f"{HEAD}\nB0,bay,s,1,72,40,,,\nB1,bay,s,1,{row}\n", encoding="utf-8")
    made = shop(old, new)
    with pytest.raises(InputProblems) as caught:
        take_off([one for one in load_orders(path, made) if isinstance(one, Order)][1:], made)
    [problem] = caught.value.problems
    assert str(problem).startswith(f"{path}:3: {column}: ") and said in problem.message


@pytest.mark.parametrize("rake", ["7 5/8:10", "1:3", "-5:7", "37 deg"])
def test_figures_of_what_does_not_fit_are_such_as_a_tape_has(rake: str, tmp_path: Path) -> None:
    """However odd what the rake makes of a face is; and a height over what is called for really does."""
    path, made, asked = tmp_path / "week.csv", shop(), 0

    def told(height: F) -> str:
        path.write_text(f"{HEAD}\nB1,bay,s,1,72,{height.numerator}/{height.denominator},{rake},,\n", encoding="utf-8")
        try:
            take_off([one for one in load_orders(path, made) if isinstance(one, Order)], made)
        except InputProblems as caught:
            return " ".join(problem.message for problem in caught.problems)
        return ""

    for quarters in range(4 * 5, 4 * 14):
        said = told(F(quarters, 4))
        assert all(64 % int(bottom) == 0 for bottom in re.findall(r"\d+/(\d+)", said)), said
        for needed in re.findall(r"more than ~?(?:(\d+) )?(\d+(?:/\d+)?) in is needed", said):
            asked += 1
            height = F(needed[0] or 0) + F(needed[1]) + F(1, 64)
            assert "leaves" not in told(height)
    assert asked > 3


def test_a_square_end_reaches_on_at_one_side() -> None:
    """36 - 1/8 long, 2 1/8 deep in the rail of 2 1/2, and 3/4 x 1/2 more at its higher side: just to its upper edge."""
    made = shop("picket_allowance = 7", 'picket_allowance = "4 1/8"')
    (row,) = take(made, "B1,bay,s,1,72,40,3:4,,").cards[0].of("picket")
    assert row.high == 40


def test_a_level_line_of_such_a_system_can_be_made() -> None:
    for rail in ("holed", "faceless"):
        made = shop('top_rail = "cap"', f'top_rail = "{rail}"\nplugged = {str(rail == "holed").lower()}')
        assert take(made, "B1,bay,s,1,72,40,,,").cards and take(made, "B1,bay,s,1,72,40,0:1,,").cards


@pytest.mark.parametrize(("rake", "slope"), [
    ("7 5/8:10", F(61, 80)), ("-7 5/8:10", F(-61, 80)), ("5 %", F(1, 20)), ("45 deg", F(1)), ("-45 deg", F(-1)),
    ("37.3 deg", F(7618, 10_000)), ("0 deg", F(0)),
])  # fmt: skip
def test_how_a_rake_is_written(rake: str, slope: F) -> None:
    """The tangent of 37.3 deg is 0.76179."""
    (card,) = take(shop(), f"B1,bay,s,1,72,40,{rake},,").cards
    assert card.rake == slope


# ---- the audit ----


def lifted(part: Part, by: F) -> Part:
    return replace(part, outline=tuple((x, y + by) for x, y in part.outline))


FAULTS: dict[str, Callable[[Part], Part]] = {
    "square ends": lambda part: replace(part, left_in=F(0), right_in=F(0)),
    "the other way": lambda part: replace(part, left_in=part.right_in, right_in=part.left_in),
    "level": lambda part: replace(part, outline=tuple((x, part.outline[k // 2 * 2][1]) for k, (x, _) in
                                                      enumerate(part.outline))),
    "a mark longer": lambda part: replace(part, length=part.length + F(1, 16)),
    "off the tape": lambda part: replace(part, length=part.length + F(1, 64)),
    "level length": lambda part: replace(part, length=F(275, 4)),
}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", ["top rail", "bottom rail"])
def test_the_audit_finds_a_rail_that_is_made_wrong(name: str, fault: str) -> None:
    refused(lambda part: FAULTS[fault](part) if part.part == name and part.leaf == 2 else part)


@pytest.mark.parametrize("fault", [
    lambda part: replace(part, length=part.length - F(1, 16)) if part.part == "insert" else part,
    lambda part: replace(part, left_in=F(1)) if part.part == "picket" else part,
    lambda part: replace(part, rake=F(0)) if part.part == "picket" else part,  # all pickets as high as the first
    lambda part: lifted(part, F(1, 16)) if part.part == "post" else part,
    lambda part: replace(part, place="") if part.part == "insert" else part,
    lambda part: replace(part, shifts=part.shifts[:-1]) if part.part == "picket" and part.leaf == 3 else part,
    lambda part: lifted(part, F(4)) if part.part == "top rail" else part,
])  # fmt: skip
def test_the_audit_finds_what_stands_wrong(fault: Callable[[Part], Part]) -> None:
    refused(fault)


def refused(fault: Callable[[Part], Part]) -> None:
    """A run is as it should be, and is shown no more once its parts have such a fault."""
    made = shop()
    order = Order("R1", "run", "s", 1, F(213), F(40), rake=F(5, 12), ends="posts")
    (card,) = take_off([order], made).cards
    audit(order, card, made.systems["s"], made)
    with pytest.raises(FailedAudit):
        audit(order, replace(card, parts=tuple(map(fault, card.parts))), made.systems["s"], made)


# ---- carried, and in bids ----


@pytest.mark.parametrize("row", ["B1,bay,s,2,72,40,-1:3,,", "R1,run,s,1,213,40,5:12,posts,"])
def test_a_plan_carries_the_card_as_it_is(row: str) -> None:
    (card,) = take(shop(), row).cards
    found = Findings("plan.json")
    assert from_fields(as_fields(card), "", found) == card and isinstance(card, Card) and not found.problems


def test_a_bid_takes_its_rake_along(tmp_path: Path) -> None:
    path = tmp_path / "bid.csv"
    path.write_text("mark,kind,system,qty,opening,height,rake,ends\nD1,bay,s,1,70..71,40,-5:12,\n"
                    "D2,run,s,1,213,40,5:12,posts\n", encoding="utf-8")
    made = shop()
    bay, run = load_bid(path, made).lines
    orders = [line.order(line.mark, 1, line.opening[0], line.height[0], made.tape) for line in (bay, run)]
    assert [(order.rake, order.ends) for order in orders] == [(F(-5, 12), "walls"), (F(5, 12), "posts")]
    pieces = take_off(orders, made).pieces
    assert {(piece.left_in, piece.right_in) for piece in pieces if piece.mark.endswith("top rail")} == {
        (F(5, 6), F(-5, 6)), (F(-5, 6), F(5, 6))}
