"""If these fail, a piece that is cut already is cut again, or one is taken for what it is not."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction

import pytest

from cutplan.ends import ends_in
from cutplan.orders import Piece
from cutplan.planning.replanning import change_of
from cutplan.planning.serving import serve
from cutplan.rack.inhand import InHand
from cutplan.shop import Profile, Routing, Shop, Stock
from tests.sweeps import sweep

F = Fraction
PITCH = F(19, 4)
FLAT = Profile("flat", "rail", (Stock(F(144), F(20)),), F(1, 8), F(1, 2), keep_from=F(20))
HOLED = Profile("holed", "rail", (Stock(F(193), F(33)),), F(1, 8), keep_from=F(30), routing=Routing(PITCH, F(19, 8)))
TURNED = Profile("turned", "picket", (Stock(F(40), F(3)),), F(1, 8), one_per_stick=True)
SHOP = Shop("", "in", "USD", F(1, 8), None, 1, F(1, 16), {one.name: one for one in (FLAT, HOLED, TURNED)}, {})


Edge = tuple[Fraction, Fraction]


def edges(length: Fraction, left: Fraction, right: Fraction) -> tuple[Edge, Edge]:
    """The top and the bottom edge of a piece, from where to where."""
    return (F(0), length), (left, length - right)


def fits(cut: InHand, piece: Piece) -> bool:
    """Whether a saw can make the one of the other: by trying places, in sixteenths, with nothing of the code's."""
    profile = SHOP.profiles[cut.profile]
    have, want = edges(cut.length, *ends_in(cut.lies)), edges(piece.length, piece.left_in, piece.right_in)
    if profile.one_per_stick:
        return cut.length == piece.length
    holes = set()
    if profile.routing:
        middle = cut.length / 2 - (0 if cut.lies == "hole" else PITCH / 2)
        holes = {middle + k * PITCH for k in range(-60, 61)}
    for n in range(-64 * 16, 65 * 16):
        at = F(n, 16)
        inside = all(low <= begin + at and end + at <= high
                     for (low, high), (begin, end) in zip(have, want, strict=True))
        if inside and not profile.routing:
            return True
        if inside:
            centre = at + piece.length / 2
            on = {"hole": centre in holes, "space": centre + PITCH / 2 in holes}
            if on.get(piece.centred, any(on.values())):
                return True
    return False


def some(chance: random.Random) -> tuple[Counter[InHand], list[Piece]]:
    have: Counter[InHand] = Counter()
    wanted = []
    for k in range(chance.randint(1, 7)):
        profile = chance.choice([FLAT, FLAT, HOLED, TURNED])
        angled = "2 -1" if profile is FLAT and k % 3 == 0 else ""
        lies = chance.choice(["hole", "space"]) if profile is HOLED else angled
        length = F(chance.randint(30, 60)) if profile is not TURNED else F(chance.choice([30, 31]))
        have[InHand(profile.name, f"M{k}", f"G{k % 3}", length, lies)] += chance.randint(1, 4)
    for k in range(chance.randint(0, 7)):
        profile = chance.choice([FLAT, FLAT, HOLED, TURNED])
        ends = {"left_in": F(2), "right_in": F(-1)} if profile is FLAT and k % 3 == 0 else {}
        centred = chance.choice(["hole", "space", "either"]) if profile is HOLED else ""
        length = F(chance.randint(30, 60)) if profile is not TURNED else F(chance.choice([30, 31]))
        wanted.append(Piece(f"M{k}", profile.name, length, chance.randint(1, 4), f"G{k % 3}", centred=centred, **ends))
    return have, wanted


@pytest.mark.parametrize("seed", sweep(60, 1000))
def test_each_piece_serves_once_as_what_it_is(seed: int) -> None:
    """In hand = serves + over, asked = serves + still, piece by piece; each that serves can be made of what it is."""
    have, wanted = some(random.Random(seed))
    served = serve(have, wanted, SHOP)
    used: Counter[InHand] = Counter()
    met: Counter[tuple[str, Fraction]] = Counter()
    for one in served.serves:
        used[one.cut] += one.qty
        met[one.now.mark, one.now.length] += one.qty
        now = one.now.mark, one.now.length, one.now.profile
        (piece,) = [p for p in wanted if (p.mark, p.length, p.profile) == now]
        assert one.qty > 0 and one.now.for_ == piece.for_ and one.cut.profile == piece.profile
        assert fits(one.cut, piece), (one, piece)
    for over in served.over:
        used[over.cut] += over.qty
    assert used == have
    still = Counter({(piece.mark, piece.length): piece.qty for piece in served.still})
    assert met + still == Counter({(piece.mark, piece.length): piece.qty for piece in wanted})
    for piece in served.still:  # none is cut that lies there just as it is asked for
        for over in served.over:
            same = over.cut.profile == piece.profile and over.cut.length == piece.length
            if same and piece.profile == "flat":
                assert ends_in(over.cut.lies) != (piece.left_in, piece.right_in)
    change = change_of(served, SHOP)
    assert sum(change.made.values()) == -sum(over.qty for over in served.over)
    for laid in change.laid:
        (top, bottom) = edges(laid.cut.length, *ends_in(laid.cut.lies))
        least = SHOP.profiles[laid.cut.profile].keep_from
        assert least is not None and laid.length == min(top[1], bottom[1]) - max(top[0], bottom[0]) >= least
        assert laid.sawn == [*ends_in(laid.cut.lies)].count(F(0))
        assert (laid.first is None) == (laid.cut.profile != "holed") and (laid.first is None or 0 <= laid.first < PITCH)


def test_what_would_leave_an_offcut_is_not_shortened() -> None:
    """By hand: of 50 a piece of 29 leaves 21 less a kerf, which is kept (from 20): it goes to the rack whole."""
    for length, serves in ((F(29), False), (F(31), True), (F("29.875"), False), (F("29.9375"), True)):
        served = serve(Counter({InHand("flat", "A", "G1", F(50), ""): 1}), [Piece("B", "flat", length, 1, "G2")], SHOP)
        assert bool(served.serves) == serves and bool(served.over) == (not serves), length
        assert not serves or served.serves[0].shorter == 50 - length


def test_the_same_mark_comes_first_then_the_same_size_then_the_shortest() -> None:
    have = Counter({InHand("flat", mark, "G1", F(length), ""): 1 for mark, length in
                    (("A", 50), ("B", 50), ("C", 44), ("D", 46))})
    served = serve(have, [Piece("B", "flat", F(50), 1, "G1"), Piece("E", "flat", F(50), 1, "G2"),
                          Piece("F", "flat", F(43), 1, "G2")], SHOP)
    assert {one.now.mark: one.cut.mark for one in served.serves} == {"B": "B", "E": "A", "F": "C"}
    assert [(over.cut.mark, over.kept) for over in served.over] == [("D", True)]


def test_turned_pieces_go_to_another_opening_in_whole_sets() -> None:
    """Those of one gate come from blanks of one length, and which blanks these came from nobody knows any more."""
    have = Counter({InHand("turned", "A", "G1", F(30), ""): 7})
    served = serve(have, [Piece("B", "turned", F(30), 6, "G2", each=3)], SHOP)
    assert [one.qty for one in served.serves] == [6] and [over.kept for over in served.over] == [False]
    served = serve(Counter({InHand("turned", "A", "G1", F(30), ""): 5}),
                   [Piece("B", "turned", F(30), 6, "G2", each=3)], SHOP)
    assert [one.qty for one in served.serves] == [3] and [piece.qty for piece in served.still] == [3]
