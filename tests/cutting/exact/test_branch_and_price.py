"""If these fail, a number of sticks is called too few that is not, or a plan is made that is none."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from itertools import combinations

import pytest

from cutplan.cutting.exact import branch_and_price as pairing
from cutplan.cutting.exact.branch_and_price import BranchAndPriceParams
from cutplan.cutting.pricing.labels import LabelParams
from cutplan.cutting.problem.instance import produced
from cutplan.running.budget import Budget
from tests.cutting.tight import fewest, instance_of, nearly_full
from tests.sweeps import sweep


@pytest.mark.parametrize("rounds", [(0, 0), (10, 2)])
@pytest.mark.parametrize("seed", sweep(60, 150))
def test_so_many_sticks_are_enough_where_trying_every_stick_says_so(seed: int, rounds: tuple[int, int]) -> None:
    """By branching alone and with cuts; with labels replaced and kept few wherever they can be."""
    params = BranchAndPriceParams(rounds=rounds, labels=LabelParams(width=(2, 50_000), undominated=0))
    capacity, pieces = nearly_full(seed)
    best = fewest(capacity, pieces)
    instance = instance_of(capacity, pieces)
    assert pairing.pair(instance, [], best - 1, 10**4, Budget(), params) == pairing.Verdict(None, True)
    found = pairing.pair(instance, [], best, 10**4, Budget(), params)
    assert found.plan is not None and found.plan.total() <= best
    assert all(map(instance.fits, found.plan))
    assert all(made >= d for made, d in zip(produced(instance, found.plan), instance.demands, strict=True))


def test_an_instance_whose_optimum_is_above_the_rounded_lp() -> None:
    """W = 132, sizes 44, 33, 12, demands 2, 3, 6: the LP needs 259/132 sticks, a plan three (Gau 1994; from memory)."""
    instance = instance_of(132, [44] * 2 + [33] * 3 + [12] * 6)
    assert pairing.pair(instance, [], 2, 10**4, Budget()) == pairing.Verdict(None, True)


LONG, SHORT = 399_990, 2  # on a stick of 400,001: one long and five short pieces


@pytest.mark.parametrize("short", [660, 661])
def test_hundreds_of_short_pieces_are_counted(short: int) -> None:
    """Beside 132 long pieces 132 sticks have room for 660 short ones."""
    instance = instance_of(400_001, [LONG] * 132 + [SHORT] * short)
    answer = pairing.pair(instance, [], 132, 1, Budget())
    assert answer.proven
    assert (answer.plan is not None) == (short == 660)


@pytest.mark.parametrize(("most", "enough"), [(396, True), (395, False)])
def test_a_millionth_of_a_stick_too_much_is_too_much(most: int, enough: bool) -> None:
    """A row counts 3 for a full stick and 2 for one that lacks a short piece: 395 leave one of 660 short pieces uncut,
    and of 132 sticks only 2 of 400,001 units."""
    instance = instance_of(400_001, [LONG] * 132 + [SHORT] * 660)
    alone = pairing.root(instance, [], 132).pieces
    row = pairing.SubsetRow(((0, 1), (1, 1)), most)
    answer = pairing.PairTree(instance, pairing.PairNode(alone, cuts=(row,)), 132).grow(1, Budget())
    assert answer.proven
    assert (answer.plan is not None) == enough


def colouring(vertices: int, edges: Iterable[tuple[int, int]], colours: int,
              params: BranchAndPriceParams) -> pairing.Verdict:
    """Sticks are colours: room for every piece on one, and the ends of an edge kept apart."""
    sizes = range(100 + vertices, 100, -1)
    instance = instance_of(200 * vertices, sizes)
    pieces = tuple(pairing.GluedPiece(size, 1, ((i, 1),)) for i, size in enumerate(sizes))
    return pairing.PairTree(instance, pairing.PairNode(pieces, frozenset(edges)), colours, params).grow(10**4, Budget())


def kneser(n: int) -> tuple[int, list[tuple[int, int]]]:
    """The pairs out of n; an edge between two that have nothing in common."""
    pairs = [set(pair) for pair in combinations(range(n), 2)]
    return len(pairs), [(i, j) for i, j in combinations(range(len(pairs)), 2) if not pairs[i] & pairs[j]]


@pytest.mark.parametrize("rounds", [(0, 0), (10, 2)])
def test_kneser_graphs_need_as_many_colours_as_proven(rounds: tuple[int, int]) -> None:
    """n - 2 (Lovasz, J. Combin. Theory A 25 (1978) 319-324), where the LP gets by with n / 2."""
    params = BranchAndPriceParams(rounds=rounds)
    for n in (5, 6):
        vertices, edges = kneser(n)
        assert colouring(vertices, edges, n - 3, params) == pairing.Verdict(None, True)
        plan = colouring(vertices, edges, n - 2, params).plan
        assert plan is not None
        assert not any(i in dict(p.counts) and j in dict(p.counts) for p in plan for i, j in edges)


def apart_by_trial(capacity: int, pieces: Sequence[int], sizes: Sequence[int], apart: set[tuple[int, int]],
                   sticks: int) -> bool:
    """Whether a plan keeps these sizes apart, by trying every stick for each piece."""
    def clash(on: Sequence[int], piece: int) -> bool:
        i = sizes.index(piece)
        return any((min(i, j), max(i, j)) in apart for j in map(sizes.index, on))

    def rest(k: int, made: tuple[tuple[int, ...], ...]) -> bool:
        if k == len(pieces):
            return True
        return any(rest(k + 1, tuple(sorted((*made[:s], (*on, pieces[k]), *made[s + 1:]))))
                   for s, on in enumerate(made)
                   if on not in made[:s] and sum(on) + pieces[k] <= capacity and not clash(on, pieces[k]))
    return rest(0, ((),) * sticks)


@pytest.mark.parametrize("rounds", [(0, 0), (10, 2)])
@pytest.mark.parametrize("seed", sweep(50, 100))
def test_with_sizes_kept_apart_it_agrees_with_trying_every_stick(seed: int, rounds: tuple[int, int]) -> None:
    """Several pieces of a size, also kept apart from their own kind; splits and glued pieces of all sorts."""
    params = BranchAndPriceParams(rounds=rounds, labels=LabelParams(undominated=0))
    chance = random.Random(seed)
    capacity = chance.choice([20, 30])
    sizes = sorted(chance.sample(range(3, 12), chance.randint(5, 7)), reverse=True)
    pieces = sorted((size for size in sizes for _ in range(chance.choice([1, 1, 1, 2, 3]))), reverse=True)
    apart = {(i, j) for i in range(len(sizes)) for j in range(i, len(sizes)) if chance.random() < 0.45}
    instance = instance_of(capacity, pieces)
    node = pairing.PairNode(tuple(pairing.GluedPiece(w, d, ((i, 1),)) for i, (w, d) in enumerate(
        zip(instance.sizes, instance.demands, strict=True))), frozenset(apart))
    least = -(-sum(pieces) // capacity)
    for sticks in range(least, least + 4):
        answer = pairing.PairTree(instance, node, sticks, params).grow(10**4, Budget())
        assert answer.proven
        assert (answer.plan is not None) == apart_by_trial(capacity, pieces, sizes, apart, sticks)
        for pattern in answer.plan or ():
            counts = dict(pattern.counts)
            assert not any(counts.get(i, 0) > (i == j) and j in counts for i, j in apart)


@pytest.mark.parametrize("seed", sweep(20, 60))
def test_a_tree_grown_bit_by_bit_ends_as_one_grown_at_once(seed: int) -> None:
    """Stopped after each few nodes, and once for lack of time: no node is lost, and none is proven twice."""
    capacity, pieces = nearly_full(seed)
    instance, most = instance_of(capacity, pieces), fewest(capacity, pieces) - 1
    params = BranchAndPriceParams(rounds=(0, 0))

    def tree() -> pairing.PairTree:
        return pairing.PairTree(instance, pairing.root(instance, [], most), most, params)

    at_once, bit_by_bit = tree().grow(10**4, Budget()), tree()
    assert bit_by_bit.waste < 0 or bit_by_bit.grow(10**4, Budget(0.0)) == pairing.Verdict(None, False)
    nodes = 1
    while not (answer := bit_by_bit.grow(nodes, Budget())).proven:
        nodes += 2
    assert answer == at_once == pairing.Verdict(None, True)
    assert answer.proof == at_once.proof


def test_without_nodes_or_time_nothing_is_claimed() -> None:
    instance = instance_of(132, [44] * 2 + [33] * 3 + [12] * 6)
    assert pairing.pair(instance, [], 2, 10**4, Budget(0.0)) == pairing.Verdict(None, False)
    params = BranchAndPriceParams(rounds=(0, 0))
    vertices, edges = kneser(6)
    pieces = tuple(pairing.GluedPiece(size, 1, ((i, 1),)) for i, size in enumerate(range(100 + vertices, 100, -1)))
    apart = pairing.PairNode(pieces, frozenset(edges))
    few = pairing.PairTree(instance_of(3000, range(101, 101 + vertices)), apart, 3, params).grow(2, Budget())
    assert few == pairing.Verdict(None, False)
