"""If these fail, `check` takes a tree over pairs for a proof that is none, or does not follow one that is."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import Any

import pytest

from cutplan.checking.pairs import FewSticks, NodePieces, PieceRow, too_few, worth_more
from cutplan.checking.proof import prove
from cutplan.cutting.certificate import Tree, pairs_fields
from cutplan.cutting.exact import branch_and_price as pairing
from cutplan.cutting.exact.branch_and_bound import BoxNode
from cutplan.cutting.exact.branch_and_price import BranchAndPriceParams
from cutplan.cutting.problem.objective import cheapest
from cutplan.plans.grounds import grounded
from cutplan.plans.plan import Plan, to_json
from cutplan.plans.records import ProfilePlan
from cutplan.problems import InputProblems
from cutplan.running.budget import Budget
from tests.cutting.shops import cut, profile
from tests.cutting.tight import fewest, instance_of, nearly_full
from tests.plans.parsing import from_json
from tests.sweeps import sweep

GAU = (132, {44: 2, 33: 3, 12: 6})  # the LP needs 259/132 sticks, a plan three (Gau 1994; from memory)


def few(capacity: int, pieces: list[int], sticks: int) -> FewSticks:
    asked = sorted(Counter(pieces).items(), reverse=True)
    return FewSticks(tuple(size for size, _ in asked), tuple(n for _, n in asked), capacity, sticks)


def nodes_of(capacity: int, pieces: list[int], sticks: int, rounds: tuple[int, int]) -> list[dict[str, Any]]:
    """The nodes that branch and price writes down, as a file has them."""
    params = BranchAndPriceParams(rounds=rounds)
    verdict = pairing.pair(instance_of(capacity, pieces), [], sticks, 10**4, Budget(), params)
    assert verdict.proven and verdict.plan is None
    if verdict.proof is None:
        return []
    fields = json.loads(json.dumps(pairs_fields(verdict.proof)))
    assert fields["sticks"] == sticks
    nodes: list[dict[str, Any]] = fields["nodes"]
    return nodes


@pytest.mark.parametrize("rounds", [(0, 0), (10, 2)])
@pytest.mark.parametrize("seed", sweep(60, 400))
def test_what_a_search_wrote_is_proven_and_of_one_stick_more_it_is_not(seed: int, rounds: tuple[int, int]) -> None:
    """With the fewest sticks by trying every stick for each piece."""
    capacity, pieces = nearly_full(seed)
    best = fewest(capacity, pieces)
    nodes = nodes_of(capacity, pieces, best - 1, rounds)
    assert too_few(few(capacity, pieces, best - 1), nodes, lambda: None)
    assert not too_few(few(capacity, pieces, best), nodes, lambda: None)
    if nodes:
        assert not too_few(few(capacity, pieces, best), [*nodes, nodes[-1]], lambda: None)


def any_nodes(pieces: NodePieces, capacity: int, chance: random.Random, depth: int) -> Iterator[dict[str, Any]]:
    """A tree of any pairs, whose leaves have duals and rows of no merit, or such as come near to proving something."""
    pairs = [(i, j) for i, j in product(range(len(pieces.sizes)), repeat=2) if pieces.may_split(i, j)]
    if depth and pairs and chance.random() < 0.7:
        i, j = chance.choice(pairs)
        yield {"pair": [i, j]}
        yield from any_nodes(pieces.glued(i, j), capacity, chance, depth - 1)
        yield from any_nodes(pieces.kept_apart(i, j), capacity, chance, depth - 1)
        return
    by_size = [size * 12 // capacity * (chance.random() < 0.9) + chance.choice([0, 0, 1]) for size in pieces.sizes]
    rows = [{"weights": [[k, chance.choice([0, 1, 1, 2, 3])] for k in sorted(chance.sample(
        range(len(pieces.sizes)), min(3, len(pieces.sizes))))], "dual": chance.randint(0, 3)}
        for _ in range(chance.randint(0, 4))]
    yield {"duals": chance.choice([by_size, list(pieces.sizes), [1 + (3 * s > capacity) for s in pieces.sizes]]),
           "rows": chance.choice([rows, []])}


@pytest.mark.parametrize("seed", sweep(150, 3_000))
def test_no_tree_at_all_proves_too_few_sticks_that_are_enough(seed: int) -> None:
    capacity, pieces = nearly_full(seed)
    asked = few(capacity, pieces, fewest(capacity, pieces))
    chance = random.Random(seed)
    for _ in range(20):
        nodes = list(any_nodes(NodePieces(asked.sizes, asked.demand), capacity, chance, 3))
        assert not too_few(asked, nodes, lambda: None)


def worth_by_listing(pieces: NodePieces, capacity: int, waste: int, worths: list[int], rows: list[PieceRow]) -> int:
    """The best pattern's worth, from all of them; -1 where there is none."""
    best = -1
    for counts in product(*(range(n + 1) for n in pieces.left)):
        room = capacity - sum(size * a for size, a in zip(pieces.sizes, counts, strict=True))
        clash = any(counts[i] > (i == j) and counts[j] for i, j in pieces.apart)
        if 0 <= room <= waste and not clash:
            worth = sum(worth * a for worth, a in zip(worths, counts, strict=True))
            best = max(best, worth - sum(row.dual * (sum(m * counts[k] for k, m in row.weights) // 2) for row in rows))
    return best


@pytest.mark.parametrize("seed", sweep(300, 3_000))
def test_the_worth_of_a_pattern_is_that_of_the_best_of_all(seed: int) -> None:
    """Many rows and pairs at once, which keep many marks at work."""
    chance = random.Random(seed)
    kinds, capacity = chance.randint(2, 6), chance.randint(8, 30)
    sizes = tuple(sorted((chance.randint(1, 12) for _ in range(kinds)), reverse=True))
    left = tuple(chance.randint(1, 3) for _ in sizes)
    apart = frozenset((i, j) for i in range(kinds) for j in range(i, kinds) if chance.random() < 0.2)
    worths = [chance.randint(0, 9) for _ in sizes]
    rows = [PieceRow(tuple((k, chance.randint(0, 3)) for k in chance.sample(range(kinds), chance.randint(1, kinds))),
                     chance.randint(0, 4)) for _ in range(chance.randint(0, 8))]
    sticks, waste = 1, chance.randint(0, capacity)
    asked = FewSticks((1,), (capacity - waste,), capacity, sticks)  # only its waste counts here
    best = worth_by_listing(NodePieces(sizes, left, apart), capacity, waste, worths, rows)
    for most in range(max(0, best - 2), best + 3):
        assert worth_more(asked, NodePieces(sizes, left, apart), worths, rows, most, lambda: None) == (best > most)


def proven_over_pairs() -> ProfilePlan:
    """Gau's plan, its bound proven by branch and price alone, as the cutter writes it down."""
    rail = profile([(GAU[0], 7, None)])
    plan = cut(rail, GAU[1])
    instance = instance_of(GAU[0], [size for size, n in GAU[1].items() for _ in range(n)])
    proof = pairing.pair(instance, [], 2, 10**4, Budget()).proof
    box = BoxNode(cheapest(instance).box(3), 3, searched=3, pairs=proof)
    stock, coin = plan.certificate["stock"], plan.certificate["coin"]
    tree = Tree(rail, instance, 3, 3).branch(box, None)
    return replace(plan, certificate={"stock": stock, "coin": coin, "tree": tree})


def test_a_plan_above_its_lp_is_proven_by_its_file() -> None:
    """And what becomes of its file when the tree is altered."""
    plan = grounded(proven_over_pairs())
    tier, tree = plan.tiers[0], plan.certificate["tree"]
    assert tier.value == tier.bound == 21 and tier.status == "proven"
    assert tree["duals"] == [] and tree["pairs"]["sticks"] == 2 and "search" not in tree
    told = prove(plan)
    assert told.ok and told.line.endswith("proven: no plan is cheaper")
    text = to_json(Plan("in", (plan,)))
    assert from_json(text, "plan.json").profiles[0] == plan
    tree["pairs"]["nodes"][-1] = {"duals": [0] * 3, "rows": []}
    refuted = prove(plan)
    assert not refuted.ok and "the certificate proves only 0.00 of the bound 21.00" in refuted.line


def test_a_tree_for_one_kind_of_stick_says_nothing_of_another() -> None:
    """A second length that any piece can be cut from; one that none fits does no harm."""
    plan = proven_over_pairs()
    entry = plan.certificate["stock"][0]
    for length, holds in ((Fraction(11), True), (Fraction(12), False), (Fraction(200), False)):
        stock = [entry, {**entry, "length": length, "price": Fraction(8)}]
        assert prove(replace(plan, certificate={**plan.certificate, "stock": stock})).ok is holds


@pytest.mark.parametrize(("part", "said"), [
    ({"pair": [0, 1, 2]}, "two are needed"), ({"pair": [0]}, "pair"), ({"pair": [0, -1]}, "pair"),
    ({"duals": [1, 2, 3]}, "rows"), ({"duals": [Fraction(1, 2)], "rows": []}, "duals"),
    ({"duals": [], "rows": [{"weights": [[1, 1, 1]], "dual": 1}]}, "two are needed"),
])
def test_a_file_with_a_tree_of_another_form_is_refused(part: dict[str, Any], said: str) -> None:
    plan = proven_over_pairs()
    plan.certificate["tree"]["pairs"]["nodes"] = [part]
    with pytest.raises(InputProblems, match=said):
        from_json(to_json(Plan("in", (plan,))), "plan.json")
