"""Broken if pieces with angled ends are not cut as cheaply as they can be, lie where the saw cannot cut them, or are
said to be proven when they are not.

What is held against the cutter here follows the two edges of the stick piece by piece, over every order and every way
of lying, and knows nothing of slopes, middles or shapes.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import ROUND_CEILING, Decimal, getcontext
from fractions import Fraction
from functools import lru_cache
from itertools import permutations, product
from operator import mul

import pytest

from cutplan.checking.arrangement import arrangement_of
from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.cutting import cut_pieces
from cutplan.cutting.arrangement.angles.levels import LevelParams, by_heights, uncounted
from cutplan.cutting.arrangement.angles.members import Angled
from cutplan.cutting.arrangement.angles.nesting import Nesting, Pose
from cutplan.cutting.arrangement.plain import Plain
from cutplan.cutting.arrangement.protocol import Use
from cutplan.cutting.heuristics.sequential import Passes
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.problem.demand import demand_of, instance_of
from cutplan.cutting.problem.instance import Instance, build_instance, produced
from cutplan.cutting.tiers import cheapest_plan, finish, least_cost
from cutplan.orders import Piece
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.reading import read_json
from cutplan.plans.records import Cut, ProfilePlan
from cutplan.problems import Findings, InputProblems, NoPlan
from cutplan.running.budget import Budget
from cutplan.shop import Profile, Stock
from tests.cutting.shops import profile, shop

getcontext().prec = 60
STEP = Fraction(1, 1024)
FACE, F0 = Fraction(2), Fraction(0)
Laid = tuple[Fraction, Fraction, Fraction]  # top edge, left_in, right_in as it lies


@lru_cache
def kerf_along(kerf: Fraction, set_in: Fraction) -> Fraction:
    """kerf x sqrt(1 + (m/face)^2), rounded up to 1/1024 in where irrational: by decimals, not by whole roots."""
    square = kerf * kerf * (1 + (set_in / FACE) ** 2)
    root = (Decimal(square.numerator) / Decimal(square.denominator)).sqrt()
    near = Fraction(root).limit_denominator(10**6)
    if near * near == square:
        return near
    return int((root / (Decimal(1) / 1024)).to_integral_value(ROUND_CEILING)) * STEP


def poses(length: Fraction, left: Fraction, right: Fraction, may_turn: str) -> Iterator[Laid]:
    """Each way of lying that is allowed, as the words of the rule have it."""
    bottom = length - left - right
    yield length, left, right
    if may_turn in ("ends", "both"):
        yield length, right, left
    if may_turn in ("over", "both"):
        yield bottom, -left, -right
    if may_turn == "both":
        yield bottom, -right, -left


def after(rail: Profile, top: Fraction, last: Fraction | None, pose: Laid) -> Fraction:
    """The end of the top edge of a piece laid after an end at `top` that is set in by `last` (None: after the trim)."""
    length, left, _ = pose
    if last is None:
        return max(top, top - left) + length
    kerf = kerf_along(rail.kerf, max(abs(last), abs(left)))
    return max(top + kerf, top - last + kerf - left) + length


def best_on_one_stick(rail: Profile, pieces: Sequence[Piece]) -> dict[int, tuple[Fraction, Fraction]]:
    """For each set of the pieces (a bit each) how far the further corner of the last lies, and with its kerf: the least
    of each over all orders and ways of lying."""
    turned = [tuple(poses(piece.length, piece.left_in, piece.right_in, rail.may_turn)) for piece in pieces]
    ending: list[dict[Fraction | None, Fraction]] = [{} for _ in range(1 << len(pieces))]
    ending[0][None] = rail.head_trim
    for those in range(1 << len(pieces)):
        for last, top in ending[those].items():
            for k, ways in enumerate(turned):
                if those >> k & 1:
                    continue
                for pose in ways:
                    end, further = after(rail, top, last, pose), ending[those | 1 << k]
                    further[pose[2]] = min(end, further.get(pose[2], end))
    return {those: (min(max(top, top - (last or 0)) for last, top in ends.items()),
                    min(max(top, top - (last or 0)) + kerf_along(rail.kerf, abs(last or Fraction(0)))
                        for last, top in ends.items()))
            for those, ends in enumerate(ending) if those}


def best_plan(rail: Profile, pieces: Sequence[Piece]) -> tuple[Fraction, Fraction] | None:
    """The least cost, and the least length used up at that cost; None where a piece fits no stick."""
    reach = best_on_one_stick(rail, pieces)
    alone: dict[int, list[tuple[Fraction, Fraction]]] = {}
    for those, (end, cut) in reach.items():
        for stick in rail.stock:
            if end > stick.length - rail.tail_trim:
                continue
            offcut = max(Fraction(0), stick.length - cut)
            kept = rail.keep_from is not None and offcut >= rail.keep_from
            alone.setdefault(those, []).append((stick.price, stick.length - offcut * kept))
    best: dict[int, tuple[Fraction, Fraction]] = {0: (Fraction(0), Fraction(0))}
    for those in range(1, 1 << len(pieces)):
        lowest, found = those & -those, []
        part = those
        while part:
            if part & lowest and part in alone and those ^ part in best:
                cost, used = best[those ^ part]
                found += [(cost + price, used + length) for price, length in alone[part]]
            part = (part - 1) & those
        if found:
            best[those] = min(found)
    return best.get((1 << len(pieces)) - 1)


def cut(rail: Profile, pieces: Sequence[Piece]) -> ProfilePlan:
    """The plan, which is sound and proves what it says."""
    found = finish(cheapest_plan(rail, demand_of(pieces, rail), Budget()), Budget())
    assert audit(Plan("in", (found,))) == []
    assert not found.faults
    proved = prove(found)
    assert proved.ok, proved.line
    return found


def no_end() -> Fraction | None:
    """What lies before the first piece."""
    return None


def random_pieces(chance: random.Random, most: int, slopes: Sequence[Fraction]) -> list[Piece]:
    ends = [sign * slope for slope in slopes for sign in (1, -1)]
    kinds = [(Fraction(chance.randint(24, 160), 4), chance.choice(ends), chance.choice(ends)) for _ in range(most)]
    alike = kinds[:chance.randint(1, most)]  # some are wanted more than once
    found = [chance.choice(alike) for _ in range(chance.randint(1, most))]
    return [Piece(f"P{k}", "rail", length, 1, left_in=left, right_in=right)
            for k, (length, left, right) in enumerate(found)]


def random_rail(chance: random.Random, may_turn: str) -> Profile:
    lengths = chance.sample(range(48, 120), 2)
    trims = chance.choice(["0", "1/2"]), chance.choice(["0", "1/4"])
    return profile([(lengths[0], chance.randint(3, 9), None), (lengths[1], chance.randint(3, 9), None)],
                   kerf=chance.choice(["1/8", "3/16", "0"]), head_trim=Fraction(trims[0]), tail_trim=Fraction(trims[1]),
                   keep_from=chance.choice([None, Fraction(12)]), face=FACE, may_turn=may_turn)


@pytest.mark.parametrize("may_turn", ["none", "ends", "over", "both"])
def test_the_least_a_stick_loses_by_trying_every_order(may_turn: str) -> None:
    """Up to four pieces, each order and way of lying written out: what the slow searches below rest on too."""
    chance = random.Random(1)
    for _ in range(8):
        rail, pieces = random_rail(chance, may_turn), random_pieces(chance, 4, [Fraction(0), Fraction(1), Fraction(2)])
        ends = []
        for order in permutations(pieces):
            for lying in product(*(tuple(poses(p.length, p.left_in, p.right_in, may_turn)) for p in order)):
                top, last = rail.head_trim, no_end()
                for pose in lying:
                    top, last = after(rail, top, last, pose), pose[2]
                ends.append(max(top, top - (last or 0)))
        every = (1 << len(pieces)) - 1
        assert best_on_one_stick(rail, pieces)[every][0] == min(ends)


@pytest.mark.parametrize("may_turn", ["none", "ends", "over", "both"])
def test_the_same_optimum_as_every_order_and_way_of_lying(may_turn: str) -> None:
    """Up to seven pieces, three slopes, two stick lengths: cost and length used up, fifty cases for each `may_turn`."""
    chance = random.Random(may_turn)
    kinds = [Fraction(0), Fraction(1), Fraction(3, 2), Fraction(61, 40), Fraction(2)]
    compared = 0
    while compared < 50:
        rail, pieces = random_rail(chance, may_turn), random_pieces(chance, 7, chance.sample(kinds, 3))
        best = best_plan(rail, pieces)
        if best is None:
            continue
        found = cut(rail, pieces)
        cost, used, _ = found.tiers
        assert (cost.value, used.value) == best, (rail, pieces)
        assert cost.bound <= best[0] and used.bound <= best[1]
        compared += 1


Ends = tuple[Fraction, Fraction]  # what a stick loses at its two ends


def ways_round(rail: Profile, stick: Stock) -> list[Ends]:
    """An offcut that is sawn at one end may lie either way."""
    head, tail = rail.trims(stick)
    one_sawn = (stick.head_trim, stick.tail_trim) != (None, None) and (head == 0) != (tail == 0)
    return [(head, tail), (rail.head_trim, Fraction(0)), (Fraction(0), rail.tail_trim)] if one_sawn else [(head, tail)]


def best_of_limited(rail: Profile, pieces: Sequence[Piece]) -> tuple[Fraction, Fraction] | None:
    """As `best_plan`, where only so many of a stick are there: stick by stick, over every set of pieces for it."""
    reach = best_on_one_stick(rail, pieces)
    sticks = [stick for stick in rail.stock for _ in range(stick.qty or 0)]
    best: dict[int, tuple[Fraction, Fraction]] = {0: (Fraction(0), Fraction(0))}
    for stick in sticks:
        alone: dict[int, Fraction] = {}
        for those, (end, cut) in reach.items():
            for head, tail in ways_round(rail, stick):
                if end - rail.head_trim + head <= stick.length - tail:
                    offcut = max(Fraction(0), stick.length - cut + rail.head_trim - head)
                    kept = rail.keep_from is not None and offcut >= rail.keep_from
                    used = stick.length - offcut * kept
                    alone[those] = min(used, alone.get(those, used))
        further = dict(best)
        for done, (cost, used) in best.items():
            for those, length in alone.items():
                if not done & those:
                    value = cost + stick.price, used + length
                    further[done | those] = min(value, further.get(done | those, value))
        best = further
    return best.get((1 << len(pieces)) - 1)


@pytest.mark.parametrize("may_turn", ["none", "ends", "over", "both"])
@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(1, 6))])
def test_limited_stock_and_offcuts_by_trying_everything(may_turn: str, seed: int) -> None:
    """Up to five pieces; one or two of each new stick, and offcuts sawn at no end, at one or at both."""
    chance = random.Random(f"{may_turn} {seed}")
    kinds = [Fraction(0), Fraction(1), Fraction(3, 2), Fraction(61, 40), Fraction(2)]
    compared = refused = 0
    while compared < 10:
        rail, pieces = random_rail(chance, may_turn), random_pieces(chance, 5, chance.sample(kinds, 3))
        stock = [replace(stick, qty=chance.randint(1, 2)) for stick in rail.stock]
        stock += [rail.offcut(f"T{k}", Fraction(chance.randint(25, 60)), None, chance.randint(0, 2)) for k in range(2)]
        rail = replace(rail, stock=tuple(stock))
        best = best_of_limited(rail, pieces)
        if best is None:
            refused += 1
            with pytest.raises(NoPlan):
                cut(rail, pieces)
            continue
        cost, used, setups = cut(rail, pieces).tiers
        assert (cost.value, used.value) == best, (rail, pieces)
        assert cost.bound <= best[0] and used.bound <= best[1] and setups.bound <= setups.value
        compared += 1
    assert refused < 200


def angled_instance(rail: Profile, pieces: Sequence[Piece]) -> Instance:
    return instance_of(rail, demand_of(pieces, rail))


@pytest.mark.parametrize("seed", range(12))
def test_the_best_pattern_is_what_the_check_finds(seed: int) -> None:
    """Two programs that share no line: the cutter's best worth on each stick, and the twin's."""
    chance = random.Random(seed)
    rail = random_rail(chance, chance.choice(["none", "ends", "over", "both"]))
    pieces = [replace(piece, qty=chance.randint(1, 3)) for piece in random_pieces(chance, 8, [Fraction(0), Fraction(2),
                                                                                              Fraction(61, 40)])]
    try:
        job = cheapest_plan(rail, demand_of(pieces, rail), Budget())
    except NoPlan:
        return
    instance, plan = job.instance, finish(job, Budget())
    asked = list(zip(instance.lengths, instance.lies, strict=True))
    demand = dict(zip(asked, instance.demands, strict=True))
    for _ in range(6):
        values = [chance.randint(0, 1000) * (net // 1000) for net in instance.nets]
        kinds = {s: (stick.length * instance.unit, Fraction(1), True, Fraction(0), (rail.head_trim, rail.tail_trim))
                 for s, stick in enumerate(instance.sticks)}
        twin = arrangement_of(plan).best_on_kinds(dict(zip(asked, values, strict=True)), demand,
                                                  dict.fromkeys(kinds.values(), 0), lambda: None)
        mine = instance.price([Use(s, instance.sticks[s].capacity) for s in kinds], instance.demands, values)
        if plan.angles is not None:
            assert [found.best() for found in mine] == [twin[kinds[s]] for s in kinds]


def frames(qty: int, may_turn: str) -> ProfilePlan:
    rail = profile([(240, 10, None)], "1/8", face=FACE, may_turn=may_turn)
    return cut(rail, [Piece("F", "rail", Fraction(40), qty, left_in=Fraction(2), right_in=Fraction(2))])


def test_frames_with_mitred_ends() -> None:
    """Face 2 in, long edge 40 in, kerf 1/8 in: six from 240 in if every other one lies upside down, for
    38 x 6 + 2 + 5 x 0.17678 = 230.88 in; lying alike five, for six need 240.88 in (arithmetic by hand)."""
    six = frames(6, "over")
    assert len(six.sticks) == 1 and six.sticks[0].count == 1
    last = six.sticks[0].cuts[-1]
    assert abs(float(max(last.end, last.end - last.right_in)) - 230.8839) < 5 / 1024
    assert [cut.lies for cut in six.sticks[0].cuts].count("over") == 3
    assert frames(5, "none").totals.drawn == 240 and frames(6, "none").totals.drawn == 480
    where = six.totals
    assert where.pieces == 6 * 38 and where.drawn == where.pieces + where.kerf + where.trim + where.scrap + where.kept


def test_pieces_of_one_slope_are_plain_ones_with_a_longer_kerf_and_one_set_in() -> None:
    """Parallelograms nest: the plain cutter, given the kerf along the slope and sticks shorter by one set-in, comes to
    the same cost."""
    chance = random.Random(5)
    for _ in range(4):
        slope, kerf = Fraction(61, 40), Fraction(1, 8)
        along = kerf_along(kerf, slope)
        lengths = {Fraction(chance.randint(200, 500), 8): chance.randint(1, 4) for _ in range(4)}
        stock = [(chance.randint(100, 140), 7, None), (chance.randint(141, 192), 10, None)]
        rail = profile(stock, kerf, face=FACE)
        found = cut(rail, [Piece(f"P{k}", "rail", length, qty, left_in=-slope, right_in=slope)
                           for k, (length, qty) in enumerate(lengths.items())])
        less = [(length - slope, price, None) for length, price, _ in stock]
        plain = cut(profile(less, along), [Piece(f"P{k}", "rail", length, qty)
                                           for k, (length, qty) in enumerate(lengths.items())])
        assert found.totals.cost == plain.totals.cost


def test_square_ends_are_cut_as_ever() -> None:
    """Where no end is angled the arrangement is the plain one; and the angled one, asked all the same, agrees."""
    chance = random.Random(7)
    for _ in range(6):
        rail = profile([(96, 9, None), (120, 11, None)], "1/8", face=FACE, may_turn="both")
        asked = {(Fraction(chance.randint(70, 400), 8), "", 1): chance.randint(1, 5) for _ in range(6)}
        plain = build_instance(rail, asked)
        assert isinstance(plain.arrangement, Plain)
        kerf = plain.sizes[0] - plain.nets[0]
        angled = replace(plain, arrangement=Angled(
            plain.sizes, kerf, (0,) * len(plain.sizes), Nesting(((Pose("", 0, 0),),), {0: kerf}),
            max(stick.capacity for stick in plain.sticks), plain.unit))
        assert least_cost(angled, Budget(), "rail", "cost").bound == least_cost(plain, Budget(), "rail", "cost").bound


def test_many_shapes_are_bounded_without_counting() -> None:
    """More shapes than are counted one by one: the bound is lower then, and check proves it all the same."""
    chance = random.Random(3)
    rail = profile([(240, 10, None)], "1/8", face=FACE, may_turn="both")
    ends = [Fraction(n, 8) for n in range(8)]
    pieces = [Piece(f"P{k}", "rail", Fraction(chance.randint(160, 500), 8), 1, left_in=chance.choice(ends),
                    right_in=chance.choice(ends)) for k in range(12)]
    instance = angled_instance(rail, pieces)
    assert isinstance(instance.arrangement, Angled) and not instance.arrangement.lost.counted
    for pattern in first_patterns(instance, chance):
        counts = instance.arrangement.shape_counts(pattern)
        each = sum(n * e for n, e in zip(counts, instance.arrangement.lost.each, strict=True))
        covering = [level.lost for level in instance.arrangement.lost.levels
                    if set(level.shapes) >= {c for c, n in enumerate(counts) if n}]
        kerf = instance.arrangement.kerf
        assert covering and instance.arrangement.nesting.lost(counts).end + kerf >= each + max(covering)
    cut(rail, pieces)


def first_patterns(instance: Instance, chance: random.Random) -> Iterator[tuple[tuple[int, int], ...]]:
    for _ in range(200):
        yield tuple(sorted((i, 1) for i in chance.sample(range(len(instance.sizes)), chance.randint(1, 5))))


def changed(plan: ProfilePlan, **fields: object) -> ProfilePlan:
    """The plan with something else said of its second cut."""
    stick = plan.sticks[0]
    cuts = (stick.cuts[0], replace(stick.cuts[1], **fields), *stick.cuts[2:])  # type: ignore[arg-type]
    return replace(plan, sticks=(replace(stick, cuts=cuts), *plan.sticks[1:]))


@pytest.mark.parametrize("may_turn", ["none", "ends", "over", "both"])
def test_no_bound_without_counting_is_more_than_what_is_lost(may_turn: str) -> None:
    """By every number of pieces up to three of five random shapes, whose losses are found by counting."""
    chance, tight = random.Random(may_turn), 0
    for _ in range(12):
        rail = profile([(240, 9, None)], chance.choice(["1/8", "3/16", "0"]), face=FACE, may_turn=may_turn)
        instance = angled_instance(rail, random_pieces(chance, 5, [F0, Fraction(1, 3), Fraction(1), Fraction(61, 40)]))
        if not isinstance(instance.arrangement, Angled):
            continue
        nesting, kerf = instance.arrangement.nesting, instance.arrangement.kerf
        every = [counts for counts in product(range(4), repeat=len(nesting.shapes)) if 0 < sum(counts) < 4]
        found = [uncounted(nesting, kerf, every[:k], instance.arrangement.longest, LevelParams()) for k in (1, None)]
        for levels in (*found, *by_heights(nesting, kerf)):
            for counts in every:
                least = nesting.lost(counts).end + kerf - sum(map(mul, levels.each, counts))
                there = {c for c, n in enumerate(counts) if n}
                said = min(level.lost for level in levels.levels if level.shapes >= there)
                assert said <= least
                tight += said == least
    assert tight > 30  # none could be any more


@pytest.mark.parametrize(("may_turn", "left", "right"), [("none", F0, FACE), ("none", FACE, F0), ("over", F0, -FACE),
                                                          ("ends", F0, FACE)])
def test_pieces_square_at_one_end_are_bounded_by_what_leads_away_each_time(
        may_turn: str, left: Fraction, right: Fraction) -> None:
    """Different slopes, too many to be counted. Halfway up the face four of them and their kerfs would leave 2 in and
    more of 239, but the longer edge of each is 59 3/4 or more, and after it the next begins square: only three fit
    (arithmetic by hand). So 24 take eight sticks, and not six, by certificate."""
    rail = profile([(239, 1, None)], "1/8", face=FACE, may_turn=may_turn)
    turned = 1 if left + right > 0 else -1
    less = [turned * Fraction(k, 64) for k in range(24)]
    pieces = [Piece(f"P{k}", "rail", Fraction(59) + turned * Fraction(3, 4), 1, left_in=left and left - less[k],
                    right_in=right and right - less[k]) for k in range(24)]
    found = cut(rail, pieces)
    assert (found.tiers[0].value, found.tiers[0].bound) == (8, 8)
    assert "by search" not in prove(found).line.partition(";")[0]


@pytest.mark.parametrize("seed", range(6))
def test_quick_pricing_finds_patterns_that_fit_and_are_worth_what_it_says(seed: int) -> None:
    """Of what is found in coarse steps nothing is too long for its stick, and the best is nearly always among it."""
    chance = random.Random(seed)
    rail = profile([(192, 8, None), (240, 10, None)], "1/8", face=FACE, may_turn="both")
    ends = product([F0, Fraction(14, 11), Fraction(61, 40), FACE], [1, -1])
    pieces = [Piece(f"P{k}", "rail", Fraction(chance.randint(288, 960), 16), 3, left_in=end, right_in=sign * end)
              for k, (end, sign) in enumerate(ends)]
    instance = angled_instance(rail, pieces * 2)
    quick, near = instance.quick, 0
    assert quick is not instance and quick.quick is quick
    for _ in range(10):
        values = [int(net * chance.uniform(0.9, 1.1)) for net in instance.nets]
        uses = [Use(s, stick.capacity) for s, stick in enumerate(instance.sticks)]
        for use, rough, exact in zip(uses, quick.price(uses, instance.demands, values),
                                     instance.price(uses, instance.demands, values), strict=True):
            found = rough.patterns(0.0, 5)
            assert found and all(instance.fits(Pattern(use.stick, counts)) for counts in found)
            worths = [sum(a * values[i] for i, a in counts) for counts in found]
            assert worths == sorted(worths, reverse=True) and worths[0] == rough.best() <= exact.best()
            near += 200 * rough.best() >= 199 * exact.best()
    assert near >= 18


def test_plans_are_built_stick_by_stick_however_fine_their_units_are() -> None:
    """Kerfs along a slope make units so fine that exact tables take too long for that."""
    rail = profile([(192, 192, None), (240, 240, None)], "1/8", face=FACE, may_turn="both")
    chance = random.Random(3)
    pieces = [Piece(f"P{k}", "rail", Fraction(chance.randint(18 * 16, 60 * 16), 16), 2, left_in=end, right_in=-end)
              for k, end in enumerate([F0, Fraction(14, 11), Fraction(61, 40), FACE] * 5)]
    instance = angled_instance(rail, pieces)
    plan = Passes(instance).next(10**12, Budget())
    assert plan is not None and produced(instance, plan) == list(instance.demands)
    assert all(instance.fits(pattern) for pattern in plan)


def test_the_audit_sees_whatever_lies_wrong() -> None:
    plan = frames(6, "over")
    assert audit(Plan("in", (plan,))) == []
    second: Cut = plan.sticks[0].cuts[1]
    other = {"as is": "over", "over": "as is"}[second.lies]
    wrong: list[dict[str, object]] = [
        {"start": second.start - Fraction(1, 1024), "end": second.end - Fraction(1, 1024)},
        {"start": second.start + 1, "end": second.end + 1}, {"end": second.end + 1}, {"lies": other}, {"lies": "ends"},
        {"lies": ""}, {"left_in": -second.left_in}, {"left_in": Fraction(0)}, {"right_in": second.right_in / 2},
        {"left_in": -second.left_in, "right_in": -second.right_in}, {"length": second.length + 1}, {"centred": "hole"},
    ]
    for fields in wrong:
        assert audit(Plan("in", (changed(plan, **fields),))), fields
    stick = plan.sticks[0]
    for other_stick in (replace(stick, offcut=stick.offcut + Fraction(1, 20)), replace(stick, length=Fraction(230)),
                        replace(stick, head_trim=Fraction(1))):
        assert audit(Plan("in", (replace(plan, sticks=(other_stick,)),)))


def test_a_plan_file_says_how_each_piece_lies() -> None:
    plan = Plan("in", (frames(6, "over"),))
    text = to_json(plan)
    found = Findings("plan.json")
    again = read_json(text, found)
    assert not found.problems and again == plan
    for was, then in (('"lies": "over"', '"lies": "as is"'), ('"may_turn": "over"', '"may_turn": "both"')):
        assert was in text
        altered = Findings("plan.json")
        read_json(text.replace(was, then, 1), altered)
        assert altered.problems, "the digest says that it was changed"


def test_two_slopes_of_one_length_are_two_set_ups_and_two_ways_of_lying_one() -> None:
    rail = profile([(41, 10, None)], "1/8", face=FACE, may_turn="both")
    ends = [(2, 2), (1, 1)]
    plan = cut(rail, [Piece(f"P{k}", "rail", Fraction(40), 3, left_in=Fraction(a), right_in=Fraction(b))
                      for k, (a, b) in enumerate(ends)])
    assert plan.totals.patterns == 2 == plan.tiers[2].bound
    assert frames(6, "over").totals.patterns == 1


def test_an_offcut_of_an_angled_cut_counts_by_its_shorter_edge_and_is_squared_again() -> None:
    rail = profile([(120, 10, None)], "1/8", face=FACE, keep_from=Fraction(24), head_trim=Fraction(1, 2))
    plan = cut(rail, [Piece("P", "rail", Fraction(40), 1, left_in=Fraction(-3, 2), right_in=Fraction(3, 2))])
    stick = plan.sticks[0]
    # the left end reaches 3/2 beyond at the bottom, so that the top begins 3/2 after the trim; 5/32 is 1/8 x 5/4
    assert stick.cuts[0].start == 2 and stick.cuts[0].end == 42
    assert stick.offcut == 120 - 42 - Fraction(5, 32) and stick.keep
    assert plan.left_by(stick).sawn == 0
    assert plan.totals.scrap == Fraction(3, 2)  # the wedges at both ends of the piece, each half of that


@pytest.mark.parametrize("rules", [{}, {"face": FACE, "one_per_stick": True}])
def test_angled_pieces_are_refused_where_they_cannot_be_cut(rules: dict[str, object]) -> None:
    piece = Piece("P", "rail", Fraction(40), 1, file="p.csv", line=2, left_in=Fraction(1))
    with pytest.raises(InputProblems, match=r"p\.csv:2: left_in: "):
        cut_pieces([piece], shop(profile([(96, 9, None)], **rules)))
    steep = replace(piece, length=Fraction(3), right_in=Fraction(2))
    with pytest.raises(InputProblems, match="no bottom edge"):
        cut_pieces([steep], shop(profile([(96, 9, None)], face=FACE)))
