"""If these fail, what a shop has learnt is lost, counted twice or twisted."""

from __future__ import annotations

import sqlite3
from fractions import Fraction as F
from pathlib import Path

import pytest

from cutplan.bidding.learning import BidSaid, Wasted, lessons
from cutplan.bidding.store import changing
from cutplan.problems import InputProblems


def test_a_lesson_weighs_jobs_by_their_length() -> None:
    found = [Wasted("rail", F(100), F(20), F(0)), Wasted("rail", F(300), F(20), F(5)),
             Wasted("post", F(50), F(5), F(0))]
    bids = [BidSaid("rail", F(100), F(8), F(80), F(15)), BidSaid("rail", F(300), F(12), F(80), F(10))]
    rail, post = lessons(found, bids)
    assert (rail.plans, rail.net, rail.really, rail.least, rail.most) == (2, 400, 10, F(20, 3), 20)
    assert (rail.bids, rail.said, rail.correction, rail.held) == (2, 11, -1, 1)
    assert (post.bids, post.said, post.correction, post.last) == (0, None, None, None)


def test_a_change_that_fails_changes_nothing(tmp_path: Path) -> None:
    store = tmp_path / "bids.db"
    with changing(store, "in") as db:
        db.execute("INSERT INTO plans (plan, at, name) VALUES ('a', '2026-01-01T00:00:00Z', 'one')")
    with pytest.raises(ZeroDivisionError), changing(store, "in") as db:
        db.execute("INSERT INTO plans (plan, at, name) VALUES ('b', '2026-01-01T00:00:00Z', 'two')")
        raise ZeroDivisionError
    with changing(store, "in") as db:
        assert [row["plan"] for row in db.execute("SELECT plan FROM plans")] == ["a"]


def test_what_is_no_store_of_bids_is_left_alone(tmp_path: Path) -> None:
    other, text = tmp_path / "other.db", tmp_path / "week.csv"
    with sqlite3.connect(other) as db:
        db.execute("CREATE TABLE mine (x)")
    text.write_text("mark,kind\n" * 200)
    for path in (other, text):
        before = path.read_bytes()
        with pytest.raises(InputProblems, match="store"), changing(path, "in"):
            pass
        assert path.read_bytes() == before


def test_a_store_keeps_to_its_unit(tmp_path: Path) -> None:
    with changing(tmp_path / "bids.db", "in"):
        pass
    with pytest.raises(InputProblems, match="a store for each unit"), changing(tmp_path / "bids.db", "mm"):
        pass
