"""If these fail, a form of gate or bay comes out otherwise than somebody reckons it by hand, with exact fractions."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from fractions import Fraction as F

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Order, Piece, load_orders
from cutplan.problems import InputProblems
from cutplan.running.budget import Budget
from cutplan.sheets.plan import saw_text
from cutplan.sheets.takeoff import takeoff_text
from cutplan.shop import Shop, load_shop
from cutplan.takeoff import Takeoff, take_off_all
from cutplan.takeoff.assembly import Part
from cutplan.takeoff.cards import Card
from cutplan.takeoff.hardware import totals

LB = F(45359237, 10**8)  # kg; NIST SP 811

SHOP = """\
unit = "in"
saw.kerf = "1/8"
codes.apply = []
[profiles]
cap = { kind = "rail", face = 2, weight_per_length = "0.9 lb/ft", stock = [ { length = 192 } ] }
mid = { kind = "rail", face = "1 1/2", weight_per_length = "0.6 lb/ft", stock = [ { length = 192 } ] }
pick = { kind = "picket", weight_per_length = "0.3 lb/ft", stock = [ { length = 192 } ] }
stile = { kind = "upright", weight_per_length = "1 lb/ft", stock = [ { length = 192 } ] }
bar = { kind = "insert", stock = [ { length = 192 } ] }
flat = { kind = "brace", face = "1 1/2", stock = [ { length = 192 } ] }
holed = { kind = "rail", face = 2, routing = { pitch = "4 1/2", first = 2 }, stock = [ { length = 192 } ] }
[systems.box]
top_rail = "cap"
mid_rail = "mid"
mid_rails_at = [22]
bottom_rail = "cap"
picket = "pick"
insert = "bar"
upright = "stile"
inserts_in = { mid = 0 }
picket_width = "3/4"
max_gap = "3 15/16"
insert_short = "1/2"
picket_allowance = 9
above_top_rail = 2
below_bottom_rail = 4
[systems.box.gate]
latch_gap = "1/2"
hinge_gap = "3/8"
meeting_gap = "1/2"
upright_wall = "1/8"
rail_insertion = "1 7/8"
ground_clearance = 2
latch_height = 40
[systems.box.bay]
end_clearance = "1/8"
rail_insertion = 1
"""
HEAD = "mark,kind,system,qty,opening,height,leaves,hinges,opening_bottom"
BETWEEN = {"mid_rails_at": '[22]\npickets_at_mid_rail = "between"'}


def shop(more: str = "", **keys: str) -> Shop:
    """The shop with other values of some keys, and more at its end."""
    text = SHOP
    for key, value in keys.items():
        lines = [line for line in text.splitlines() if line.startswith(f"{key} = ")]
        assert len(lines) == 1, key
        text = text.replace(lines[0], f"{key} = {value}")
    return load_shop(io.StringIO(text + more))


def take(made: Shop, *rows: str, listed: Sequence[Piece] = ()) -> Takeoff:
    week = load_orders(io.StringIO("\n".join([HEAD, *rows]) + "\n"), made)
    return take_off_all((*(one for one in week if isinstance(one, Order)), *listed), made)


def card(made: Shop, row: str) -> Card:
    return take(made, row).cards[0]


def words(taken: Takeoff, made: Shop) -> str:
    return " ".join(takeoff_text(taken, made).split())


def spans(parts: Sequence[Part]) -> list[tuple[F, F, F, F]]:
    """Left, low, right and high of each placed part."""
    return [(part.left + shift, part.low, part.right + shift, part.high) for part in parts for shift in part.shifts]


def lengths(taken: Takeoff) -> dict[str, tuple[F, int]]:
    return {piece.mark: (piece.length, piece.qty) for piece in taken.pieces}


def test_two_leaves_with_pickets_between_the_rails() -> None:
    """A leaf: (96 - 2 x 3/8 - 1/2) / 2 = 47 3/8; rail 47 1/8; clear 43 3/8, over 4 11/16 after 3 15/16: 9 pickets.

    Their gaps (43 3/8 - 9 x 3/4) / 10 = 293/80. A picket through would be 60 - 9 = 51 long in a room of 50, so 1/2 deep
    in each rail: 21 1/4 - 6 + 1 below the mid rail, 56 - 22 3/4 + 1 above it.
    """
    made = shop(**BETWEEN)
    taken = take(made, "G1,gate,box,3,96,60,2,,")
    assert lengths(taken) == {
        "G1 top rail": (F(377, 8), 6), "G1 mid rail": (F(377, 8), 6), "G1 bottom rail": (F(377, 8), 6),
        "G1 insert": (F(373, 8), 12), "G1 lower picket": (F(65, 4), 54), "G1 upper picket": (F(137, 4), 54),
        "G1 upright": (F(58), 12),
    }  # fmt: skip
    one = taken.cards[0]
    assert one.layout.gap == one.layout.end_gap == F(293, 80)
    assert one.layout.marks[0] == F(15, 8) + F(293, 80) + F(3, 8)
    assert spans(one.of("upright")) == [
        (left, 2, left + 2, 60) for left in (F(3, 8), F(383, 8) - F(1, 8) - 2, F(193, 4), 96 - F(3, 8) - 2)]
    assert {(part.low, part.high) for part in one.of("picket")} == {(F(11, 2), F(87, 4)), (F(89, 4), F(113, 2))}
    hung = one.hanging
    assert hung and (hung.side, hung.hinges, hung.latch) == ("both", (F(6), F(56)), 40)
    assert "3/8 at the hinges of each leaf; 1/2 between the leaves" in words(taken, made)


def test_pickets_through_a_mid_rail() -> None:
    """42 wide: leaf 41 1/8, rail 40 7/8, clear 37 1/8: 8 pickets of 48 - 9 = 39, their gaps 31 1/8 / 9 = 249/72."""
    taken = take(shop(), "G1,gate,box,1,42,48,,right,")
    assert lengths(taken)["G1 picket"] == (39, 8) and lengths(taken)["G1 mid rail"] == (F(327, 8), 1)
    one = taken.cards[0]
    assert one.layout.gap == F(249, 72)
    assert {(part.low, part.high) for part in one.of("picket")} == {(F(11, 2), F(89, 2))}
    assert spans(one.of("mid rail")) == [(F(5, 8), F(85, 4), F(83, 2), F(91, 4))]  # from the latch's post: 1/2 + 1/8
    assert [part.place for part in one.of("insert")] == ["top rail", "bottom rail"]


RUN = """\
[profiles.pole]
kind = "post"
stock = [ { length = 192 } ]
[systems.box.run]
post = "pole"
post_width = 4
max_bay = 80
post_above = 44
post_below = 20
"""


@pytest.mark.parametrize(("ends", "bays", "bay", "posts"), [
    ("", 3, F(212, 3), [F(212, 3), F(436, 3)]), ("posts", 3, F(68), [F(0), F(72), F(144), F(216)]),
])  # fmt: skip
def test_a_run_is_put_together_as_its_bays_are(ends: str, bays: int, bay: F, posts: list[F]) -> None:
    """220 between walls: (220 + 4) / 84 is over 2, so 3 bays of (220 - 2 x 4) / 3; with end posts (220 - 16) / 3."""
    made = shop(RUN)
    week = load_orders(io.StringIO(f"{HEAD},ends\nR1,run,box,1,220,42,,,,{ends}\n"), made)
    taken = take_off_all(week, made)
    one = taken.cards[0]
    assert one.layout.clear == bay and sum(rail.count for rail in one.of("mid rail")) == bays
    assert [left for left, *_ in spans(one.of("post"))] == posts
    said = words(taken, made)
    assert "slide the mid rail over them" in said and "Put the rails into the posts" in said


CORNERS = {  # inside the frame of a leaf 41 1/8 wide that begins 1/2 or 3/8 from the left post: low, then high
    "left": ((F(19, 8), F(6)), (F(79, 2), F(44))), "right": ((F(5, 2), F(6)), (F(317, 8), F(44))),
}  # fmt: skip


@pytest.mark.parametrize("hinges", ["left", "right"])
@pytest.mark.parametrize(("begins", "way"), [("bottom hinge", "compression"), ("top hinge", "tension")])
def test_a_brace_either_way(begins: str, way: str, hinges: str) -> None:
    """37 1/8 by 38 inside: 88209/64 + 92416/64 = 180625/64, the square of 425/8, so 53 1/8 to the tape."""
    made = shop(upright=f'"stile"\nbrace = "flat"\nbrace_from = "{begins}"')
    taken = take(made, f"G1,gate,box,1,42,48,,{hinges},")
    (brace,) = taken.cards[0].of("brace")
    assert brace.length == F(425, 8)
    (left, low), (right, high) = CORNERS[hinges]
    rising, falling = {(left, low), (right, high)}, {(right, low), (left, high)}
    assert (rising if (begins == "bottom hinge") == (hinges == "left") else falling) <= set(brace.outline)
    assert len({(left, low), (right, high), (right, low), (left, high)} & set(brace.outline)) == 2
    said = words(taken, made)
    assert f"in {way}; ~45.67 deg from level, 37 1/8 across and 38 up" in said
    assert "brace 1 x 53 1/8" in said and "brace lies from the" in said
    assert "on the face of the frame, over the pickets and the mid rail" in said


def test_the_braces_of_two_leaves_lean_to_one_another() -> None:
    made = shop(upright='"stile"\nbrace = "flat"')
    one, other = card(made, "G1,gate,box,1,96,60,2,,").of("brace")
    assert one.length == other.length == F(265, 4)  # 43 3/8 by 50: between 66 3/16 and 66 1/4
    assert {(F(19, 8), F(6)), (F(183, 4), F(56))} <= set(one.outline)
    assert {(96 - F(19, 8), F(6)), (96 - F(183, 4), F(56))} <= set(other.outline)


def test_a_leaning_bay() -> None:
    """72 1/4 and 71 5/8: each side leans 5/16. Rails 74 and 73 3/8; the mid rail is half way up, 18 of 36: 73 11/16.

    The narrow side has gaps of at most 3 15/16 - 5/16 = 3 5/8: (71 5/8 - 3 5/8) / 4 3/8 = 15.5, so 16 pickets, and gaps
    of (71 5/8 - 12) / 17 = 477/136. Plumb posts would need 15.
    """
    made = shop()
    taken = take(made, "B1,bay,box,2,72 1/4,42,,,71 5/8")
    assert lengths(taken) == {
        "B1 top rail": (F(74), 2), "B1 mid rail": (F(1179, 16), 2), "B1 bottom rail": (F(587, 8), 2),
        "B1 top rail insert": (F(147, 2), 2), "B1 bottom rail insert": (F(583, 8), 2), "B1 picket": (F(33), 32),
    }  # fmt: skip
    layout = taken.cards[0].layout
    assert (layout.count, layout.gap, layout.wide_end_gap) == (16, F(477, 136), F(477, 136) + F(5, 16))
    assert layout.marks[0] == F(7, 8) + F(477, 136) + F(3, 8)
    (top,), (bottom,) = taken.cards[0].of("top rail"), taken.cards[0].of("bottom rail")
    assert (top.left, bottom.left) == (-F(7, 8), F(5, 16) - F(7, 8))
    (row,) = taken.cards[0].of("picket")
    assert row.left == F(5, 16) + F(477, 136)
    assert card(made, "B1,bay,box,1,72 1/4,42,,,").layout.count == 15


@pytest.mark.parametrize(("bottom", "centred", "count", "end_gap", "wide"), [
    ("", "hole", 15, F(59, 16), F(59, 16)), ("71 5/8", "space", 16, F(23, 16), F(27, 16)),
])  # fmt: skip
def test_a_leaning_bay_with_routed_rails(bottom: str, centred: str, count: int, end_gap: F, wide: F) -> None:
    """Clear 71 1/8, a pitch of 4 1/2, pickets and holes of 3/4: 15 on a hole leave (71 1/8 - 3/4 - 63) / 2 = 3 11/16.

    There the next hole hides up to 4 1/2 - 3/4 = 3 3/4; with the wide end 1/4 further out, up to 3 1/2 only. So 16 on a
    space: (71 1/8 - 3/4 - 67 1/2) / 2 = 1 7/16, and 1 11/16 at the wide end.
    """
    made = shop(top_rail='"holed"', bottom_rail='"holed"')
    layout = card(made, f"B1,bay,box,1,71 1/8,42,,,{bottom}").layout
    assert (layout.centred, layout.count, layout.end_gap, layout.wide_end_gap) == (centred, count, end_gap, wide)


@pytest.mark.parametrize("opening", ["40 3/4,42,,,41 1/4", "41 1/4,42,,,40 3/4", "60,42,,,59 1/2", "60,42,,,60"])
def test_the_holes_of_each_rail_are_those_of_the_saw(opening: str) -> None:
    """Every hole that is on a rail, stepped off from its pickets as they are placed, and what the saw's sheet says."""
    made = shop(top_rail='"holed"', bottom_rail='"holed"', mid_rail='"mid"')
    taken = take(made, f"B1,bay,box,1,{opening}")
    said, one = words(taken, made), taken.cards[0]
    saw = " ".join(saw_text(cut_pieces([piece for piece in taken.pieces if piece.profile == "holed"], made,
                                       Budget(0.3))).split())
    (row,), rails = one.of("picket"), one.of("top rail", "bottom rail")
    texts = set()
    for rail in rails:
        centres = [(row.left + row.right) / 2 + shift - rail.left for shift in row.shifts]
        holes = {centre + k * F(9, 2) for centre in centres for k in range(-9, 10)}
        numbered = sorted(hole for hole in holes if 0 <= hole <= rail.length)
        stand = [numbered.index(centre) + 1 for centre in centres]
        middle = [k for k, hole in enumerate(numbered, start=1) if hole <= rail.length / 2][-1]
        on = (f"middle on hole {middle}" if numbered[middle - 1] == rail.length / 2 else
              f"middle between holes {middle} and {middle + 1}")
        first = made_text(numbered[0])
        text = f"hole 1 is {first} from the rail's end; pickets in holes {stand[0]} to {stand[-1]}; {on}"
        assert f"of the {rail.part}: {text}" in said or len({each.length for each in rails}) == 1
        texts.add(text)
        assert f"first hole {first} from the new end, {on}" in saw
    assert all(text in said for text in texts)
    assert said.count("hole 1 is") == len(texts)
    assert "of the mid rail" not in said.replace("the end of the mid rail", "")


def made_text(length: F) -> str:
    """A length that is on the tape as an inch tape has it."""
    assert (16 * length).denominator == 1
    whole, rest = divmod(length, 1)
    return " ".join(filter(None, (str(whole) if whole or not rest else "", str(rest) if rest else "")))


def test_a_leaning_bay_does_not_call_all_its_gaps_equal() -> None:
    made = shop()
    said = words(take(made, "B1,bay,box,2,72 1/4,42,,,71 5/8"), made)
    assert ("at the ends where the opening is wider, if both posts lean alike; the gaps between pickets are equal "
            in said) and "all gaps" not in said
    assert "clear; all gaps equal" in words(take(made, "B1,bay,box,2,72 1/4,42,,,"), made)


def test_a_sloping_gate_counts_every_height_from_the_higher_ground() -> None:
    """Each height stands twice, and by the upright it is 2 less, which are clear below its foot."""
    made = shop()
    week = load_orders(io.StringIO(f"{HEAD},rake\nG1,gate,box,1,42,48,,,,5 %\n"), made)
    said = words(take_off_all(week, made), made)
    assert "48 high from the higher ground" in said and "above the ground" not in said
    assert "latch 38 up the uprights; 40 above the higher ground" in said
    assert "top hinge 42 up the uprights; 44 above the higher ground: its top" in said
    assert "top rail at 42 to 44 up the uprights; 44 to 46 above the higher ground" in said
    level = words(take(made, "G1,gate,box,1,42,48,,,"), made)
    assert "latch 38 up the uprights; 40 above the ground" in level and "higher" not in level
    pairs = re.findall(r"(\d+) up the uprights; (\d+) above the ground: its", level)
    assert pairs == [("42", "44"), ("4", "6")]


def test_posts_say_how_deep_they_go() -> None:
    for rule, below in ((RUN, "20 below"), (RUN.replace("post_below = 20", ""), "nothing below")):
        made = shop(rule)
        taken = take(made, "R1,run,box,1,220,42,,,")
        length = 44 + int(below.split()[0].replace("nothing", "0"))
        assert f"posts 2 x {length}, pole: 44 above the ground, {below}" in words(taken, made)


@pytest.mark.parametrize(("above", "fits"), [("40", True), ("39 15/16", False)])
def test_a_post_is_as_high_as_its_rails(above: str, fits: bool) -> None:
    """The top rail's upper edge is 42 - 2 up."""
    made = shop(RUN.replace("post_above = 44", f'post_above = "{above}"'))
    if fits:
        assert take(made, "R1,run,box,1,220,42,,,").cards
        return
    with pytest.raises(InputProblems) as caught:
        take(made, "R1,run,box,1,220,42,,,")
    [problem] = caught.value.problems
    assert problem.column == "height" and "a post_above of at least 40 in" in problem.message


@pytest.mark.parametrize(("latch", "found"), [
    ("2", "problem"), ("2 1/16", ""), ("52", ""), ("52 1/16", "caution"), ("54", "caution"), ("96", "caution"),
    ("96 1/16", "problem"), ("900 ft", "problem"),
])  # fmt: skip
def test_a_latch_far_from_the_uprights(latch: str, found: str) -> None:
    """Uprights from 2 to 48: a hand's breadth more is 52, twice their height 96."""
    made = shop(latch_height=f'"{latch}"')
    if found == "problem":
        with pytest.raises(InputProblems) as caught:
            take(made, "G1,gate,box,1,42,48,,,")
        assert ["see latch_height of 'box'" in one.message for one in caught.value.problems] == [True]
        return
    said = card(made, "G1,gate,box,1,42,48,,,").cautions
    assert [one for one in said if one.startswith("The latch is")] == [one for one in said if found]
    assert bool(said) == bool(found)


@pytest.mark.parametrize(("face", "picket_allowance", "rails"), [
    ("2", "6", 0), ("2", "5 7/8", 2), ("2", "3", 2), ("2 1/2", "5 7/8", 1), ("2 1/2", "3", 2),
])  # fmt: skip
def test_pickets_that_come_out_of_the_far_side(face: str, picket_allowance: str, rails: int) -> None:
    """42 high, rails of 2 from 4 to 6 and 38 to 40: 32 of room. Pickets of 42 - 6 sit 2 deep, as deep as a rail is.

    A top rail of 2 1/2 leaves 31 1/2: with 5 7/8 they sit 2 5/16 deep, which only the bottom rail is not."""
    made = shop('[profiles.tall]\nkind = "rail"\nface = "2 1/2"\nstock = [ { length = 192 } ]\n',
                picket_allowance=f'"{picket_allowance}"', **({"top_rail": '"tall"'} if face != "2" else {}))
    taken = take(made, "B1,bay,box,1,60,42,,,")
    (row,), (top,), (bottom,) = (taken.cards[0].of(name) for name in ("picket", "top rail", "bottom rail"))
    beyond = {"top rail": row.high - top.high, "bottom rail": bottom.low - row.low}
    said = re.findall(r"they go right through the (\w+ rail) and stand ~?([\d /]+) out of it", words(taken, made))
    assert said == [(name, made_text(length)) for name, length in beyond.items() if length > 0]
    assert len(said) == rails


def test_pickets_between_rails_stay_out_of_the_ground() -> None:
    """A bottom rail of 1/4 on the ground, pickets that sit 1/2 deep: they would be 1/4 in it."""
    made = shop('[profiles.thin]\nkind = "rail"\nface = "1/4"\nstock = [ { length = 192 } ]\n', **BETWEEN,
                bottom_rail='"thin"', below_bottom_rail="0", above_top_rail="0", picket_allowance='"1 1/4"')
    with pytest.raises(InputProblems) as caught:
        take(made, "B1,bay,box,1,60,42,,,")
    [problem] = caught.value.problems
    assert "pickets between rails would end 1/4 in below the ground; a picket_allowance of at least 1 3/4 in" in (
        problem.message)


def test_listed_pieces_are_said_to_be_for_all() -> None:
    made = shop()
    pads = [Piece(f"D{k}", "stile", F(20), 2, mark, "more.csv", 2) for k, mark in enumerate(("G1", "B1"))]
    said = words(take(made, "G1,gate,box,2,42,48,,,", "B1,bay,box,1,60,42,,,", listed=pads), made)
    assert "D0 2 x 20, stile, for all 2 gates" in said and "D1 2 x 20, stile, for all" not in said


@pytest.mark.parametrize(("bottom", "fits"), [("34 1/8", True), ("34", False), ("10", False)])
def test_a_gate_much_narrower_than_its_opening_at_the_wide_end(bottom: str, fits: bool) -> None:
    """Twice 3 15/16 less than 42 are 34 1/8."""
    made = shop()
    if fits:
        assert card(made, f"G1,gate,box,1,42,99,,,{bottom}")
        return
    with pytest.raises(InputProblems) as caught:
        take_off_all([Order("G1", "gate", "box", 1, F(42), F(99), opening_bottom=F(bottom))], made)
    assert [one.column for one in caught.value.problems] == ["opening_bottom"]


def test_faces_that_are_not_as_the_parts_are_placed_are_noted() -> None:
    """An upright is 1/8 + 1 7/8 = 2 wide, a picket 3/4, a post 4."""
    def faced(**faces: str) -> Sequence[str]:
        text = SHOP + RUN
        for kind, face in faces.items():
            text = text.replace(f'kind = "{kind}"', f'kind = "{kind}"\nface = "{face}"' if kind == "post" else
                                f'kind = "{kind}", face = "{face}"')
        return load_shop(io.StringIO(text)).notes

    assert not faced() and not faced(upright="2", picket="3/4", post="4")
    notes = faced(upright="1", picket="5/8", post="3")
    assert [re.findall(r"([\d/]+) in", note) for note in notes] == [["5/8", "3/4"], ["1", "2"], ["3", "4"]]


def test_a_leaning_gate_is_made_for_the_narrow_end() -> None:
    """39 1/2 at the bottom: leaf 38 5/8, from 1/4 + 3/8 of the left post's top to 39 1/4 of it."""
    made = shop()
    taken = take(made, "G1,gate,box,1,40,48,,,39 1/2")
    one = taken.cards[0]
    assert [(outline[0][0], outline[1][0]) for outline in one.squared] == [(F(5, 8), F(157, 4))]
    assert {rail.length for rail in one.of("top rail", "bottom rail")} == {F(307, 8)}
    assert ("gaps beside 3/8 at the hinges; 1/2 at the latch; at the top, where the opening is wider, 5/8 at the "
            "hinges and 3/4 at the latch") in words(taken, made)
    wider = words(take(made, "G1,gate,box,1,39 1/2,48,,,40"), made)
    assert "at the bottom, where the opening is wider, 5/8 at the hinges and 3/4 at the latch" in wider


def test_listed_pieces_stand_on_the_card_they_are_for() -> None:
    made = shop()
    pads = Piece("D1", "stile", F(20), 2, "G1", "more.csv", 2)
    spare = Piece("D2", "stile", F(30), 1, "G9", "more.csv", 3)
    taken = take(made, "G1,gate,box,1,42,48,,,", "G2,gate,box,1,42,48,,,", listed=(pads, spare))
    assert [[extra.mark for extra in one.extra] for one in taken.cards] == [["D1"], []]
    assert taken.pieces[-2:] == (pads, spare)
    assert "D1 2 x 20, stile" in words(taken, made)


FITTINGS = (
    ("latch", "gate", 1, ""), ("hinge", "leaf", 3, 'price = 4.25\npilot = "5/32 in"\nnote = "four screws each"\n'),
    ("cover", "bay", 2, "price = 0.5\n"), ("screw", "rail end", 4, "price = 0.10\n"), ("cap", "picket", 1, ""),
)  # fmt: skip
HARDWARE = "".join(f'[[systems.box.hardware]]\nname = "{name}"\nper = "{per}"\nqty = {qty}\n{more}'
                   for name, per, qty, more in FITTINGS)


def test_hardware_is_counted_off_the_parts() -> None:
    """A gate of two leaves has 2 x 3 rails, 12 rail ends and 18 pickets; a bay 72 1/4 wide 6 ends and 15 pickets."""
    made = shop(HARDWARE)
    taken = take(made, "G1,gate,box,2,96,60,2,,", "B1,bay,box,3,72 1/4,42,,,")
    counts = [{one.name: one.count for one in each.hardware} for each in taken.cards]
    assert counts == [{"latch": 1, "hinge": 6, "screw": 48, "cap": 18}, {"cover": 2, "screw": 24, "cap": 15}]
    found = {one.name: (one.count, one.amount) for one in totals((one.qty, one.hardware) for one in taken.cards)}
    assert found == {"latch": (2, None), "hinge": (12, 51), "screw": (168, F("16.8")), "cap": (81, None),
                     "cover": (6, 3)}
    said = words(taken, made)
    assert "pilot hole 5/32 in; four screws each" in said and "hinge 12 51.00" in said


def test_limits_of_the_shops_own() -> None:
    """The gate's gap is 249/72 = 3.458; 4 in are under its bottom rail, and it is 48 high."""
    own = ", ".join(f'{{ of = "{of}", {bound}, source = "Tarn bylaw {k}"{on} }}' for k, (of, bound, on) in enumerate((
        ("gap", 'at_most = "3 1/2"', ""), ("gap", 'less_than = "249/72"', ""), ("space below", "at_most = 4", ""),
        ("space below", "less_than = 4", ""), ("height", "at_least = 49", ', on = "gate"'),
        ("height", "at_least = 48", ""), ("height", "at_least = 99", ', on = "bay"'),
    )))
    made = load_shop(io.StringIO(SHOP.replace("codes.apply = []", f"codes = {{ apply = [], own = [ {own} ] }}")
                                 .replace('"249/72"', '"3 29/64"')))  # 3.453, as near as a tape has it
    told = card(made, "G1,gate,box,1,42,48,,,").reminders
    assert [said.partition(")")[0].removeprefix("Reminder (Tarn bylaw ") for said in told] == list("012345")
    assert [k for k, said in enumerate(told) if "; the " in said] == [1, 3, 4]
    assert "the height is at least 49 in; the height here is less" in told[4]
    bay = card(made, "B1,bay,box,1,60,42,,,").reminders
    assert "Tarn bylaw 6" in bay[-1] and not any("bylaw 4" in said for said in bay)


def test_hinges_where_the_shop_file_has_them() -> None:
    made = shop(latch_height='40\nhinges_at = ["9 1/2", 33]')
    taken = take(made, "G1,gate,box,1,42,48,,,")
    hung = taken.cards[0].hanging
    assert hung and (hung.hinges, hung.by_rails) == ((F(19, 2), F(33)), False)
    said = words(taken, made)
    assert "hinges their middles 7 1/2, 31 up the uprights; 9 1/2, 33 above the ground" in said
    assert "top hinge" not in said


def test_hinges_that_miss_the_uprights_are_asked_about() -> None:
    """Uprights from 2 to 48: a hinge at 2 or at 48 would hang half in the air."""
    made = shop(latch_height="40\nhinges_at = [2, 20, 48]")
    with pytest.raises(InputProblems) as caught:
        take(made, "G1,gate,box,1,42,48,,,")
    assert [(one.column, one.message.partition(" above")[0]) for one in caught.value.problems] == [
        ("height", "a hinge 2 in"), ("height", "a hinge 48 in")]
    assert take(made, "B1,bay,box,1,42,48,,,").cards


@pytest.mark.parametrize(("most", "warned"), [("23.54 lb", True), ("23.55 lb", False), ("10.678 kg", True)])
def test_a_leaf_too_heavy_for_its_hinges(most: str, warned: bool) -> None:
    """In pounds: 2 x 40 7/8 in of cap at 0.9, 40 7/8 of mid at 0.6, 8 pickets of 16 1/4 and 22 1/4 at 0.3, 2 x 46 of
    stile at 1, by the foot: 6.13125 + 2.04375 + 7.7 + 7.6667 = 23.5417, which is 10.6783 kg; inserts are not known."""
    made = shop(latch_height=f'40\nheaviest_leaf = "{most}"', **BETWEEN)
    one = card(made, "G1,gate,box,1,42,48,,,")
    assert one.hanging and one.hanging.weight == (F("6.13125") + F("2.04375") + F("7.7") + F(92, 12)) * LB
    assert not one.hanging.whole
    assert any("weighs 23.5 lb or more" in said for said in one.cautions) == warned


@pytest.mark.parametrize(("most", "warned"), [("41 1/8", False), ("41 1/16", True)])
def test_a_leaf_too_wide_for_its_hinges(most: str, warned: bool) -> None:
    made = shop(latch_height=f'40\nwidest_leaf = "{most}"')
    cautions = card(made, "G1,gate,box,1,42,48,,,").cautions
    assert any("A leaf is 41 1/8 in wide" in said for said in cautions) == warned


@pytest.mark.parametrize(("braced", "row", "ways"), [
    ("", "42,48,,,", "another hinge, a brace, a wheel or two leaves."),
    ('\nbrace = "flat"', "42,48,,,", "another hinge, a wheel or two leaves."),
    ("", "96,60,2,,", "another hinge, a brace or a wheel."),
    ('\nbrace = "flat"', "96,60,2,,", "another hinge or a wheel."),
])  # fmt: skip
def test_a_wide_leaf_with_a_brace_is_not_told_of_one(braced: str, row: str, ways: str) -> None:
    made = shop(latch_height="40\nwidest_leaf = 40", upright=f'"stile"{braced}')
    [said] = [one for one in card(made, f"G1,gate,box,1,{row}").cautions if "wide" in one.partition(".")[0]]
    assert said.partition("think of ")[2] == ways


@pytest.mark.parametrize(("opening", "expansion", "said"), [
    ("98 1/4", "3e-5 per F", "grow by 0.075 in"), ("93 1/4", "2.369e-5 per F", "grow by ~0.056 in"),
    ("93 3/8", "3.38e-5 per F", "grow by ~0.080 in"), ("93 3/8", "3.37e-5 per F", "grow by ~0.080 in"),
])  # fmt: skip
def test_how_far_rails_move_is_rounded_to_the_nearest(opening: str, expansion: str, said: str) -> None:
    """25 degrees F: 100 x 3e-5 x 25 = 0.075; 95 x 2.369e-5 x 25 = 0.05626; 95 1/8 x 3.38e-5 x 25 = 0.08038, x 3.37e-5
    0.08014."""
    text = SHOP.replace("cap = {", f'cap = {{ expansion = "{expansion}",').replace(
        "[profiles]", 'temperature = { cutting = "50..60 F", in_use = "40..75 F" }\n[profiles]', 1)
    made = load_shop(io.StringIO(text))
    assert said in words(take(made, f"B1,bay,box,1,{opening},42,,,"), made)


@pytest.mark.parametrize(("allowance", "row", "said"), [
    # between cap's inner edges, 6 and 44 up (38), a picket 48 long goes 5 deep into each: down to 1, a foot is at 2
    ("0", "G1,gate,box,1,42,48,,,", "end 1 in below the feet of the uprights; a picket_allowance of at least 2"),
    # a bay 30 high: 6 to 26 (20), a picket 28 long goes 4 deep, from 2 to 30: above the ground and within the height
    ("2", "B1,bay,box,1,72,30,,,", ""),
    # with an allowance of 9 all is inside
    ("9", "G1,gate,box,1,42,48,,,", ""),
])  # fmt: skip
def test_pickets_in_the_ground_are_refused(allowance: str, row: str, said: str) -> None:
    made = shop(picket_allowance=allowance, mid_rails_at="[15]")
    if not said:
        assert take(made, row).cards
        return
    with pytest.raises(InputProblems, match=said):
        take(made, row)


def test_pickets_over_the_height_are_refused() -> None:
    """Above the top rail nothing, below the bottom rail 8: inner edges 10 and 28 up (18), pickets of 30 go 6 deep, to
    34 over a height of 30; 8 more of allowance, and they end with it."""
    made = shop(picket_allowance="0", above_top_rail="0", below_bottom_rail="8", mid_rails_at="[18]")
    with pytest.raises(InputProblems, match="4 in over the height of 30 in; a picket_allowance of at least 8"):
        take(made, "B1,bay,box,1,72,30,,,")
    better = shop(picket_allowance="8", above_top_rail="0", below_bottom_rail="8", mid_rails_at="[18]")
    assert max(part.high for part in card(better, "B1,bay,box,1,72,30,,,").of("picket")) == 30


def test_end_holes_may_be_left_to_plugs_where_no_other_layout_will_do() -> None:
    """Pitch 4 1/2, pickets 3/4: an opening of 19 holds five on a hole (end gap 1/8) and four on a space (2 3/8); where
    3 is the least, three on a hole leave 4 5/8 and two on a space 6 7/8. The five would do with 1/16 asked."""
    holed = {rail: '"holed"' for rail in ("top_rail", "mid_rail", "bottom_rail")} | {"max_gap": '"4 3/4"'}
    made = shop(**holed, picket_allowance="9\nmin_end_gap = 3\nplugged = true")
    layout = card(made, "B1,bay,box,1,19,42,,,").layout
    assert (layout.centred, layout.count, layout.end_gap) == ("hole", 3, F(37, 8))
    full = shop(**holed, picket_allowance='9\nmin_end_gap = "1/16"\nplugged = true')
    assert card(full, "B1,bay,box,1,19,42,,,").layout.count == 4  # the wider end gap, with a picket in every hole
    with pytest.raises(InputProblems):
        take(shop(**holed, picket_allowance="9\nmin_end_gap = 3"), "B1,bay,box,1,19,42,,,")


def test_an_insert_that_grows_out_of_its_rail() -> None:
    """Rail of aluminium, insert of PVC as long as it: 72 in over 60 degrees of warmth grow 0.056 and 0.146 in."""
    text = SHOP.replace("cap = {", 'cap = { expansion = "1.3e-5 per F",').replace(
        "bar = {", 'bar = { expansion = "3.38e-5 per F",').replace('insert_short = "1/2"', "insert_short = 0")
    text += '[temperature]\ncutting = "50..80 F"\nin_use = "0..110 F"\n'
    made = load_shop(io.StringIO(text))
    said = " ".join(card(made, "B1,bay,box,1,70 1/4,42,,,").movement)
    assert "Its insert may grow by ~0.090 in more than it, and is 0 in shorter: too little." in said
    assert "0.000" not in said and "more than its insert" not in said


def test_a_gate_without_uprights_of_the_shop_says_that_they_are_somebody_elses() -> None:
    made = load_shop(io.StringIO(SHOP.replace('upright = "stile"\n', "")))
    said = words(take(made, "G1,gate,box,1,42,48,2,,"), made)
    assert "uprights 4, 46 long: the shop file cuts none, have your own" in said


def test_a_bay_says_how_far_its_rails_stop_short_of_their_pockets() -> None:
    assert "of its pocket" not in words(take(shop(), "G1,gate,box,1,42,48,,,"), shop())
    assert "7/8 hidden at each end, 1/8 short of the end of its pocket" in words(
        take(shop(), "B1,bay,box,1,72,42,,,"), shop())


def test_what_has_no_pickets_is_not_told_to_set_them() -> None:
    said = words(take(shop(), "B1,bay,box,1,3,42,,,"), shop())
    assert "for there are no pickets" in said and "Set the pickets" not in said and "Mark the rails" not in said
