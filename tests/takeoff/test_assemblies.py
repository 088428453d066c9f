"""If this fails, a gate or bay of some form is placed, cut or counted otherwise than its allowances ask for.

Everything is measured again on the outlines of `cutplan takeoff --json`, with the contract's formulas written out here;
nothing comes from the takeoff's own code.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal, localcontext
from fractions import Fraction as F
from itertools import pairwise
from typing import Any

import pytest
from workshop import PLAIN, order, profile, shop

from cutplan.orders import Order
from cutplan.problems import InputProblems
from cutplan.sheets.takeoffjson import takeoff_json
from cutplan.shop import BayRule, GateRule, Hardware, Routing, RunRule, Shop, System
from cutplan.shop.codes import CodeLimit, both
from cutplan.takeoff import take_off
from tests.sweeps import sweep

RAILS = ("top rail", "mid rail", "bottom rail")
PER = ("gate", "leaf", "bay", "rail end", "picket", "post", "run")
EACH = 100
RAKES = (F(61, 80), F(3, 4), F(5, 12), F(7, 11), F(1, 50), F(2), F(1, 3))
Box = tuple[F, F, F, F]  # left, low, right, high


def some_shop(chance: random.Random) -> Shop:
    """A shop with one system "s" of any form."""
    def length(low: float, high: float, part: int = 16) -> F:
        return F(chance.randint(round(part * low), round(part * high)), part)

    width, pitch = length(0.5, 2), length(3, 5)
    routed = chance.random() < 0.3
    faces = [length(1, 3), length(1, 2), length(1, 3)]
    rails = [profile(name, "rail", face=face, routing=Routing(pitch, pitch / 2) if routed and name != "mid" else None)
             for name, face in zip(("top", "mid", "low"), faces, strict=True)]
    brace = profile("brace", "brace", face=length(0.5, 2))
    bar = profile("bar", "insert", face=chance.choice((None, F(3, 4))))
    mids = sorted(chance.sample(range(9, 26, 6), chance.choice((0, 0, 1, 2))))
    below, clearance = length(3, 5), length(0, 3)
    system = replace(
        PLAIN, name="s", top_rail="top", bottom_rail="low", picket_width=width,
        mid_rail="mid" if mids else None, mid_rails_at=tuple(map(F, mids)),
        pickets_at_mid_rail=chance.choice(("through", "between")), insert=chance.choice(("bar", None)),
        inserts_in={"top rail": chance.randint(0, 2), "mid rail": chance.randint(0, 1), "bottom rail": 1},
        max_gap=length(2.5, 5), min_end_gap=F(0), plugged=routed, below_bottom_rail=below,
        above_top_rail=length(0, 2), picket_allowance=length(6, 8), brace=chance.choice(("brace", None)),
        brace_from=chance.choice(("bottom hinge", "top hinge")),
        gate=GateRule(length(0.25, 5), length(0.25, 5), length(0.125, 0.5), length(0.5, 2), length(0, 0.25), clearance,
                      length(0.25, 5), F(36)),
        bay=BayRule(F(1, 8), length(0.5, 2)),
        run=RunRule("stile", length(4, 6), length(60, 110), length(40, 50), length(0, 30)),
        hardware=tuple(Hardware(f"h{k}", per, chance.randint(1, 3), F(k, 4)) for k, per in enumerate(PER)),
    )  # fmt: skip
    made = shop(system)
    return replace(made, profiles={**made.profiles, **{one.name: one for one in (*rails, brace, bar)}})


def orders(chance: random.Random) -> Iterator[Order]:
    for _ in range(EACH):
        kind = chance.choice(("gate", "gate", "bay", "bay", "run"))
        opening = F(chance.randint(24 * 8, (600 if kind == "run" else 110) * 8), 8)
        lean = F(chance.randint(-12, 12), 16) if chance.random() < 0.3 and kind != "run" else None
        form = {"leaves": chance.choice((1, 2)), "hinges": chance.choice(("left", "right")),
                "rake": F(chance.randint(-5, 5), 100)} if kind == "gate" else {}
        if kind == "run":
            form = {"ends": chance.choice(("walls", "posts"))}
        if kind != "gate" and chance.random() < 0.5:
            lean, form["rake"] = None, chance.choice((1, -1)) * chance.choice(RAKES)
        if form.get("leaves") == 2:
            form["hinges"] = "left"
        yield order(kind, opening, F(chance.randint(40 * 8, 72 * 8), 8), "s", qty=chance.randint(1, 3),
                    opening_bottom=None if lean is None else opening + lean, **form)


def exact(value: Any) -> F:
    return F(value) if isinstance(value, str) else F(Decimal(value)) if isinstance(value, Decimal) else F(value)


def corners(part: Mapping[str, Any]) -> list[tuple[F, F]]:
    return [(exact(x), exact(y)) for x, y in part["outline"]]


def box(part: Mapping[str, Any]) -> Box:
    xs, ys = zip(*corners(part), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("seed", sweep(6, 100))
def test_openings_of_all_forms(seed: int) -> None:
    """100 seeds of 100 openings in all; the first twelve of them always."""
    chance, made_of = random.Random(f"assemblies {seed}"), Counter[str]()
    made = some_shop(chance)
    for one in orders(chance):
        try:
            taken = take_off([one], made)
        except InputProblems:
            made_of["refused"] += 1
            continue
        told = json.loads(takeoff_json(taken, made), parse_float=Decimal)
        (opening,) = told["openings"]
        measure(one, made, opening)
        if sum(made_of.values()) % 5 == 0:
            reminded(one, made, widest(one, opening))
        counted(one, made, opening, told["hardware"])
        pieces = Counter[tuple[str, F]]()
        for piece in taken.pieces:
            pieces[piece.profile, piece.length] += piece.qty
        assert pieces == Counter({key: n * one.qty for key, n in Counter(
            (part["profile"], exact(part["length"])) for part in opening["parts"]).items()})
        made_of["raked " * bool(one.slope) + one.kind] += 1
    assert sum(made_of.values()) == EACH


def measure(one: Order, made: Shop, opening: Mapping[str, Any]) -> None:
    system = made.systems["s"]
    narrow = min(one.opening, one.opening_bottom or one.opening)
    assert exact(opening.get("rake", 0)) == (0 if one.kind == "gate" else one.rake)
    if one.kind != "gate" and one.rake:
        opening = laid_level(one, made, opening)
    if one.kind == "run":
        run(one, made, opening)
        return
    leaves = sorted({part["leaf"] for part in opening["parts"]}, key=lambda leaf: leaf or 0)
    assert leaves == ([None] if one.kind == "bay" else list(range(1, one.leaves + 1)))
    outer = []
    for leaf in leaves:
        parts = [part for part in opening["parts"] if part["leaf"] == leaf]
        if one.kind == "gate":
            outer.append(gate(one, system, narrow, leaf, parts))
            if system.brace:
                braced(one, made, leaf, parts)
        else:
            bay(one, system, parts)
        told(opening, parts)
        at_heights(one, made, parts)
        nothing_overlaps(parts)
        for part in parts:
            left, low, right, high = box(part)
            size = right - left if part["part"] in (*RAILS, "insert") else high - low
            assert part["part"] == "brace" or size == exact(part["length"]) or (one.kind == "bay" and one.rake)
            feet = system.gate.ground_clearance if one.kind == "gate" and system.gate else F(0)
            assert feet <= low and high <= one.height
    rule = system.gate
    if outer and rule:
        side = (one.opening - narrow) / 2
        edges = [side, *(x for span in outer for x in span), side + narrow]
        gaps = [edges[k + 1] - edges[k] for k in range(0, len(edges), 2)]
        single = [rule.hinge_gap, rule.latch_gap]
        assert gaps == ([rule.hinge_gap, rule.meeting_gap, rule.hinge_gap] if one.leaves == 2 else
                        single if one.hinges == "left" else single[::-1])
        lean = (max(one.opening, one.opening_bottom or one.opening) - narrow) / 2
        wider = [gaps[0] + lean, *gaps[1:-1], gaps[-1] + lean]
        assert [tuple(map(exact, pair)) for pair in opening["beside"]] == list(zip(gaps, wider, strict=True))
        hangs(one, rule, opening)


def hangs(one: Order, rule: GateRule, opening: Mapping[str, Any]) -> None:
    """The hinges at the outer rails' inner edges, unless the shop file has them elsewhere; the latch; the fall."""
    rails = [box(part) for part in opening["parts"] if part["part"] in ("top rail", "bottom rail")]
    sized = all(part.get("sized", True) for part in opening["parts"] if part["part"] in RAILS)
    low, high = min(rails, key=lambda rail: rail[1])[3], max(rails, key=lambda rail: rail[1])[1]
    told = None if opening["hinges"] is None else list(map(exact, opening["hinges"]))
    assert told == (list(rule.hinges_at) or ([low, high] if sized else None))
    assert opening["hinges_by_rails"] == (not rule.hinges_at)
    assert opening["latch"] is None if rule.latch_height is None else exact(opening["latch"]) == rule.latch_height
    assert opening["hinge_side"] == ("both" if one.leaves == 2 else one.hinges)
    lefts, _, rights, _ = zip(*(box(part) for part in opening["parts"] if part["part"] == "upright"), strict=True)
    assert exact(opening["fall"]) == abs(one.rake) * (max(rights) - min(lefts))


def gate(one: Order, system: System, narrow: F, leaf: int, parts: list[Any]) -> tuple[F, F]:
    """The leaf over its uprights; its width, rails and clear width by the contract's formulas."""
    rule = system.gate
    assert rule
    width = (narrow - 2 * rule.hinge_gap - rule.meeting_gap) / 2 if one.leaves == 2 else (
        narrow - rule.latch_gap - rule.hinge_gap)
    uprights = sorted(box(part) for part in parts if part["part"] == "upright")
    assert len(uprights) == 2 and uprights[1][2] - uprights[0][0] == width
    assert {(low, high) for _, low, _, high in uprights} == {(rule.ground_clearance, one.height)}
    for part in parts:
        if part["part"] in RAILS:
            left, _, right, _ = box(part)
            assert right - left == width - 2 * rule.upright_wall
            assert (left - uprights[0][0], uprights[1][2] - right) == (rule.upright_wall, rule.upright_wall)
            assert uprights[0][2] - left == right - uprights[1][0] == rule.rail_insertion
    spaced(one, system, parts, uprights[0][2], uprights[1][0], F(0))
    return uprights[0][0], uprights[1][2]


def bay(one: Order, system: System, parts: list[Any]) -> None:
    rule = system.bay
    assert rule
    bottom = one.opening_bottom or one.opening
    for name, opening in (("top rail", one.opening), ("bottom rail", bottom)):
        (rail,) = [box(part) for part in parts if part["part"] == name]
        left = (one.opening - opening) / 2  # the left post's face there
        assert rail[2] - rail[0] == opening - 2 * rule.end_clearance + 2 * rule.rail_insertion
        assert left - rail[0] == rail[2] - left - opening == rule.rail_insertion - rule.end_clearance
    side = abs(one.opening - bottom) / 2
    begin = max(F(0), (one.opening - bottom) / 2)
    spaced(one, system, parts, begin, begin + min(one.opening, bottom), side)


def run(one: Order, made: Shop, opening: Mapping[str, Any]) -> None:
    """As few posts as leave no bay wider than max_bay, all bays alike; each is measured as a bay of that opening."""
    system = made.systems["s"]
    rule = system.run
    assert rule
    posts = [box(part) for part in opening["parts"] if part["part"] == "post"]
    if one.rake:
        stand(one, system, posts)
    else:
        assert {(low, high) for _, low, _, high in posts} <= {(-rule.post_below, rule.post_above)}
    assert all(right - left == rule.post_width for left, _, right, _ in posts)
    edges = [x for left, _, right, _ in posts for x in (left, right)]
    if one.ends == "posts":
        assert (edges[0], edges[-1]) == (0, one.opening)
        edges = edges[1:-1]
    else:
        edges = [F(0), *edges, one.opening]
    bays = list(zip(edges[::2], edges[1::2], strict=True))
    widths = {right - left for left, right in bays}
    (width,) = widths
    assert width <= rule.max_bay
    fewer = len(bays) - 1
    if fewer:
        assert (len(bays) * width + rule.post_width) / fewer > rule.max_bay
    assert sorted({part["bay"] for part in opening["parts"] if "bay" in part}) == list(range(1, len(bays) + 1))
    for number, (left, right) in enumerate(bays, start=1):
        parts = [moved(part, -left) for part in opening["parts"] if part.get("bay") == number]
        alone = replace(one, kind="bay", opening=right - left)
        bay(alone, system, parts)
        told(opening, parts)
        at_heights(alone, made, parts)
        nothing_overlaps(parts)


def laid_level(one: Order, made: Shop, opening: Mapping[str, Any]) -> dict[str, Any]:
    """A raked opening with its ground let down to level under each corner, under each picket's middle; as it is raked,
    its rails are measured here: plumb ends, set in over their faces, and lengths that are the nearest on the tape."""
    def down(part: Mapping[str, Any]) -> dict[str, Any]:
        found = corners(part)
        left, low, right, high = box(part)
        if part["part"] not in (*RAILS, "insert"):
            assert set(found) == {(left, low), (right, low), (right, high), (left, high)}
            assert "left_in" not in part and exact(part["length"]) == high - low
            by = one.rake * (left + right) / 2 if part["part"] == "picket" else F(0)
            return {**part, "outline": [[str(x), str(y - by)] for x, y in found]}
        sloped = one.rake * (right - left)
        lower, higher = (min(y for x, y in found if x == side) for side in (left, right))
        assert higher - lower == sloped and {x for x, _ in found} == {left, right}
        face = made.profiles[part["profile"]].face or F(0)
        assert (exact(part.get("left_in", 0)), exact(part.get("right_in", 0))) == (-face * one.rake, face * one.rake)
        if part["part"] != "insert":
            nearest_on_tape(exact(part["length"]), right - left, one.rake, made.tape)
            nearest_on_tape(box(part)[3] - box(part)[1] - abs(sloped), face, one.rake, F(1, 1024))
        return {**part, "outline": [[str(x), str(y - one.rake * x)] for x, y in found]}

    for outline in opening["squared"]:
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = [(exact(x), exact(y)) for x, y in outline]
        assert (ax, bx) == (dx, cx) and dy - ay == cy - by and by - ay == one.rake * (bx - ax)
    rails = {(part.get("bay"), part["part"], part.get("place")): exact(part["length"]) for part in opening["parts"]}
    for part in opening["parts"]:
        if part["part"] == "insert":
            *place, name = part["place"].removesuffix(" rail").split(" ")
            rail = rails[part.get("bay"), f"{name} rail", " ".join(place) or None]
            assert rail - exact(part["length"]) == made.systems["s"].insert_short
    return {**opening, "parts": list(map(down, opening["parts"]))}


def nearest_on_tape(length: F, level: F, rake: F, tape: F) -> None:
    """That a length along a rake is the nearest mark to level x sqrt(1 + rake^2), by decimals of 60 places."""
    with localcontext(prec=60):
        square = level**2 * (1 + rake**2)
        root = (Decimal(square.numerator) / Decimal(square.denominator)).sqrt()
        away = abs(root - Decimal(length.numerator) / Decimal(length.denominator))
        assert not length % tape and away <= Decimal(tape.numerator) / Decimal(tape.denominator) / 2 + Decimal("1e-40")


def stand(one: Order, system: System, posts: list[Box]) -> None:
    """Each post by where the rails meet it: its foot post_below under the ground at its lower face, its top post_above
    over the ground at its higher face, or where the rail of the bay below ends in the last post up."""
    rule, bay_rule = system.run, system.bay
    assert rule and bay_rule
    hidden = bay_rule.rail_insertion - bay_rule.end_clearance
    for k, (left, low, right, high) in enumerate(posts):
        lower, upper = (left, right) if one.rake > 0 else (right, left)
        if one.ends == "posts" and k == (len(posts) - 1 if one.rake > 0 else 0):
            upper = left + hidden if one.rake > 0 else right - hidden
        assert low == one.rake * lower - rule.post_below and high == one.rake * upper + rule.post_above


def moved(part: Mapping[str, Any], by: F) -> dict[str, Any]:
    return {**part, "outline": [[str(exact(x) + by), str(exact(y))] for x, y in part["outline"]]}


def spaced(one: Order, system: System, parts: list[Any], left: F, right: F, side: F) -> None:
    """From face to face: no wider than max_gap, the wide end's either, with as few pickets as that allows."""
    row = sorted({(box(part)[0], box(part)[2]) for part in parts if part["part"] == "picket"})
    edges = [left, *(edge for picket in row for edge in picket), right]
    gaps = [edges[k + 1] - edges[k] for k in range(0, len(edges), 2)]
    wide = gaps[0] + (side if row else 2 * side)
    assert min(gaps) >= 0 and gaps[0] == gaps[-1] and wide <= system.max_gap
    assert all(b - a == system.picket_width for a, b in row)
    if system.plugged:  # by the holes
        return
    assert len(set(gaps)) == 1
    if row:
        fewer = len(row) - 1
        gap = (right - left - fewer * system.picket_width) / (fewer + 1)
        assert gap + (side if fewer else 2 * side) > system.max_gap


def widest(one: Order, opening: Mapping[str, Any]) -> F:
    """The widest gap along a level line from post to post or wall to wall, at the top and at the bottom."""
    bottom, gaps = one.opening_bottom or one.opening, []
    side = (one.opening - bottom) / 2
    solid = sorted((box(part)[0], box(part)[2]) for part in opening["parts"]
                   if part["part"] in ("picket", "upright", "post"))
    for reached, end in ((F(0), one.opening), (side, side + bottom)):
        for left, right in [*solid, (end, end)]:
            gaps.append(left - reached)
            reached = max(reached, right)
    return max(gaps)


def reminded(one: Order, made: Shop, gap: F) -> None:
    """A limit of just that much is kept, and broken where the limit itself is out."""
    limits = tuple(CodeLimit(gap, "gap", False, strict, "gap", both(0), "Tarn bylaw", "a gap")
                   for strict in (False, True))
    (card,) = take_off([one], replace(made, codes=limits)).cards
    kept, broken = [said for said in card.reminders if "Tarn bylaw" in said]
    assert "the widest gap" not in kept and "the widest gap here is not within that" in broken


def told(opening: Mapping[str, Any], parts: list[Any]) -> None:
    """The marks and the gap that are told are those of the outlines."""
    rail = min((box(part) for part in parts if part["part"] in RAILS), key=lambda found: found[2] - found[0])
    row = sorted({(box(part)[0], box(part)[2]) for part in parts if part["part"] == "picket"})
    assert [(left + right) / 2 - rail[0] for left, right in row] == list(map(exact, opening["marks"]))
    between = {after[0] - before[1] for before, after in pairwise(row)}
    assert between <= {exact(opening["gap"])}


def at_heights(one: Order, made: Shop, parts: list[Any]) -> None:
    """Rails at their heights, pickets held at both ends alike, inserts in their rails."""
    system = made.systems["s"]
    rails = {name: sorted(box(part) for part in parts if part["part"] == name) for name in RAILS}
    (top,), (low,) = rails["top rail"], rails["bottom rail"]
    assert (top[3], low[1]) == (one.height - system.above_top_rail, system.below_bottom_rail)
    assert sorted((rail[1] + rail[3]) / 2 for rail in rails["mid rail"]) == list(system.mid_rails_at)
    trim = system.gate.picket_trim if one.kind == "gate" and system.gate else F(0)
    seat = (one.height - system.picket_allowance - trim - (top[1] - low[3])) / 2
    rows = sorted({(box(part)[1], box(part)[3]) for part in parts if part["part"] == "picket"})
    levels = sorted({(rail[1], rail[3]) for name in RAILS for rail in rails[name]})
    if not rows:
        return
    raked = one.rake if one.kind == "bay" else F(0)
    if raked and system.mid_rail and system.pickets_at_mid_rail == "between":
        for (foot, head), (under, over) in zip(rows, pairwise(levels), strict=True):
            room = over[0] - under[1] + 2 * seat
            assert foot + head == under[1] + over[0] and not (head - foot) % made.tape
            assert 0 <= room - (head - foot) < made.tape
    elif system.mid_rail and system.pickets_at_mid_rail == "between":
        assert rows == [(under[1] - seat, over[0] + seat) for under, over in pairwise(levels)]
    else:
        assert rows == [(low[3] - seat, top[1] + seat)]
        assert rows[0][1] - rows[0][0] == one.height - system.picket_allowance - trim
    inserts = [box(part) for part in parts if part["part"] == "insert"]
    wanted = 0 if system.insert is None else sum(system.inserts_in[name] * len(rails[name]) for name in RAILS)
    assert len(inserts) == wanted
    for left, bottom, right, over in inserts:
        (rail,) = [found for name in RAILS for found in rails[name] if found[1] <= bottom and over <= found[3]]
        level = float(system.insert_short / 2) / float(1 + raked**2) ** 0.5
        assert left - rail[0] == rail[2] - right and abs(float(left - rail[0]) - level) < 0.001
        assert raked or left - rail[0] == system.insert_short / 2


def braced(one: Order, made: Shop, leaf: int, parts: list[Any]) -> None:
    """From corner to corner of the frame inside, as long as its tape allows, on the side that its words say."""
    system = made.systems["s"]
    (brace,) = [part for part in parts if part["part"] == "brace"]
    uprights = sorted(box(part) for part in parts if part["part"] == "upright")
    (top,), (low,) = ([box(part) for part in parts if part["part"] == name] for name in ("top rail", "bottom rail"))
    left, right, under, over = uprights[0][2], uprights[1][0], low[3], top[1]
    assert box(brace) == (left, under, right, over)
    square, length = (right - left) ** 2 + (over - under) ** 2, exact(brace["length"])
    assert square <= length**2 and (length - made.tape) ** 2 < square and not length % made.tape
    hinges = "right" if leaf == 2 else one.hinges
    rises = (system.brace_from == "bottom hinge") == (hinges == "left")
    ends = {(left, under), (right, over)} if rises else {(right, under), (left, over)}
    assert ends <= set(corners(brace)) and len(ends & set(corners(brace))) == 2
    (ax, ay), (bx, by) = sorted(ends)
    slope = (by - ay) / (bx - ax)
    face = made.profiles["brace"].face
    assert face
    for x, y in set(corners(brace)) - ends:  # half the face beside the diagonal, as near as it is drawn
        beside = abs((y - ay) - slope * (x - ax)) / (1 + slope**2) ** F(1, 2)
        assert abs(float(beside) - float(face) / 2) < 0.002


def nothing_overlaps(parts: list[Any]) -> None:
    """Upright things do not meet one another, nor do level ones; these meet those, where they are held."""
    upright = sorted(box(part) for part in parts if part["part"] in ("picket", "upright"))
    level = [(part["part"], box(part)) for part in parts if part["part"] in RAILS]
    for k, one in enumerate(upright):
        for other in upright[k + 1: k + 6]:
            assert not meet(one, other)
    for k, (_, one) in enumerate(level):
        assert not any(meet(one, other) for _, other in level[k + 1:])
    inserts = [box(part) for part in parts if part["part"] == "insert"]
    for k, one in enumerate(inserts):
        assert not any(meet(one, other) for other in inserts[k + 1:])


def meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def counted(one: Order, made: Shop, opening: Mapping[str, Any], total: list[Any]) -> None:
    """Hardware by hand from the parts, and its amount for all that are made."""
    parts = [part["part"] for part in opening["parts"]]
    things = {"gate": int(one.kind == "gate"), "leaf": one.leaves if one.kind == "gate" else 0,
              "bay": bays_of(one, opening), "rail end": 2 * sum(parts.count(rail) for rail in RAILS),
              "picket": parts.count("picket"), "post": parts.count("post"), "run": int(one.kind == "run")}
    wanted = {fitting.name: (fitting.qty * things[fitting.per], fitting.price) for fitting in made.systems["s"].hardware
              if things[fitting.per]}
    assert {found["name"]: found["count"] for found in opening["hardware"]} == {
        name: count for name, (count, _) in wanted.items()}
    assert {found["name"]: (found["count"], exact(found["amount"])) for found in total} == {
        name: (count * one.qty, count * one.qty * (price or 0)) for name, (count, price) in wanted.items()}


def bays_of(one: Order, opening: Mapping[str, Any]) -> int:
    return len({part.get("bay") for part in opening["parts"] if part["part"] == "top rail"}) * (one.kind != "gate")
