"""If this fails, a hard profile is left unproven with half of the time still to go."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutplan.cutting import cut_pieces, profiles
from cutplan.cutting.tiers import cheapest_plan
from cutplan.orders import Piece
from cutplan.running.budget import Budget
from cutplan.running.workers import cores
from tests.cutting.shops import profile, shop


def shares_given(monkeypatch: pytest.MonkeyPatch, folder: Path, names: list[str]) -> dict[str, float]:
    """What of the limit the first tier of each profile may take, as told from within; they ask for fewer and fewer
    lengths, so that the first is the largest."""
    def told(one: profiles.Profile, demand: object, budget: Budget, **more: object) -> profiles.Job:
        (folder / one.name).write_text(str(budget.left()))
        return cheapest_plan(one, demand, budget, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(profiles, "cheapest_plan", told)
    rail = profile([(100, 1, None)])
    own = {name: profiles.replace(rail, name=name) for name in names}
    pieces = [Piece(f"{name}{n}", name, 10 + n, 1) for k, name in enumerate(names)  # type: ignore[arg-type]
              for n in range(len(names) - k)]
    cut_pieces(pieces, profiles.replace(shop(rail), profiles=own), Budget(1000.0))
    return {name: float((folder / name).read_text()) / 1000 for name in names}


def test_a_lone_profile_may_take_most_of_the_time(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert shares_given(monkeypatch, tmp_path, ["rail"])["rail"] > 0.8


@pytest.mark.skipif(cores() < 2, reason="in turn, the first may not keep the others from beginning")
def test_so_may_the_largest_and_the_last_and_half_is_left_by_the_others(monkeypatch: pytest.MonkeyPatch,
                                                                         tmp_path: Path) -> None:
    monkeypatch.setattr("cutplan.running.workers.cores", lambda: 2)
    given = shares_given(monkeypatch, tmp_path, ["one", "two", "three", "four", "five"])
    assert given["one"] > 0.8 and given["four"] > 0.8 and given["five"] > 0.8
    assert max(given["two"], given["three"]) <= 0.5
