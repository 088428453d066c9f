"""If these fail, a bound called proven rests on a search that overlooks plans or believes floating point."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from cutplan.cutting.exact import branch_and_cut as refute
from cutplan.cutting.heuristics.first_fit import value
from cutplan.cutting.lp.bounds import Bound, Duals
from cutplan.cutting.patterns import Pattern
from cutplan.cutting.pricing import knapsack
from cutplan.cutting.problem.instance import Instance, build_instance, produced
from cutplan.cutting.problem.objective import Objective, cheapest
from cutplan.running.budget import Budget
from tests.cutting.test_against_others import best_by_model, random_case


def every_pattern(objective: Objective) -> list[Pattern]:
    found = []
    instance: Instance = objective.instance
    for way in objective.ways:
        table = knapsack.solve(instance.sizes, instance.demands, [1] * len(instance.sizes), way.capacity, every=True)
        listed = knapsack.above(table, way.capacity, 1, 10**6)
        assert listed is not None
        found += [Pattern(way.stick, counts) for counts in listed]
    return found


@pytest.mark.parametrize("cuts", [0, 12])
@pytest.mark.parametrize("seed", range(60))
def test_over_all_patterns_it_agrees_with_a_separate_model(seed: int, cuts: int) -> None:
    """With the cuts and by branching alone."""
    params = refute.BranchAndCutParams(rounds=(cuts, 2))
    rail, demand = random_case(seed)
    cents = best_by_model(rail, demand, "cost")
    if cents is None:
        pytest.skip("no plan at all")
    instance = build_instance(rail, {(Fraction(str(length)), "", 1): n for length, n in demand.items()})
    objective = cheapest(instance)
    best = round(Fraction(cents, 100) / instance.coin)
    patterns, box = every_pattern(objective), objective.box(best)
    none = refute.refute(objective, patterns, box, best - 1, Budget(), params)
    assert none.plan is None and none.proven
    found = refute.refute(objective, patterns, box, best, Budget(), params)
    assert found.plan is not None and value(objective, found.plan) == best
    assert produced(instance, found.plan) == list(instance.demands)


def test_a_bound_a_hair_above_a_whole_number_is_rounded_up() -> None:
    """Of ANI 600_20000_NR_0 a safe bound is 198.0000015 (BPPLIB, Delorme, Iori and Martello 2018; the figure from
    memory): a tolerance of 1e-5 would say 198."""
    assert Bound(Duals((), 0, 10**7), 1_980_000_015).ceiling == 199
    assert Bound(Duals((), 0, 10**13), 198 * 10**13 + 1).ceiling == 199
    assert Bound(Duals((), 0, 10**13), 198 * 10**13).ceiling == 198


@pytest.mark.parametrize("seed", range(40))
def test_every_violated_cut_whose_first_size_meets_both_others_is_among_the_triples(seed: int) -> None:
    """By trying all triples, patterns with one piece of a size."""
    chance = random.Random(seed)
    sizes, patterns = chance.randint(3, 14), chance.randint(3, 20)
    counts = np.array([[int(chance.random() < 0.35) for _ in range(patterns)] for _ in range(sizes)], dtype=np.int64)
    weights = np.array([chance.random() / 2 for _ in range(patterns)])
    demands = np.array([chance.randint(1, 2) for _ in range(sizes)], dtype=np.int64)
    found = list(refute.triples(counts, weights, demands, 0.05))
    assert found == sorted(set(found))
    for triple in combinations(range(sizes), 3):
        by = float(counts[list(triple)].sum(axis=0) // 2 @ weights) - int(demands[list(triple)].sum()) // 2
        if by > 0.0501 and all((counts[triple[0]] * counts[other] @ weights) > 1e-6 for other in triple[1:]):
            assert triple in found
