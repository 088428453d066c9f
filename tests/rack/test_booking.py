"""If these fail, the rack loses offcuts, invents them, or promises one twice."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.orders import Piece
from cutplan.planning import recutting
from cutplan.plans.plan import Plan, numbered
from cutplan.plans.records import purchases
from cutplan.problems import InputProblems, NoPlan
from cutplan.rack import booking, choosing, holding, shelf
from cutplan.rack.choosing import EVERYTHING
from cutplan.rack.claims import known
from cutplan.rack.shelf import Offcut
from cutplan.rack.store import changing, reading
from cutplan.rack.supply import supply, with_on_hand
from tests.rack.workshop import HOLED, RAIL, SHOP, plan_with, priced_out
from tests.sweeps import rounds

F = Fraction


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    path = tmp_path / "rack.db"
    with changing(path) as now:
        shelf.add(now, "rail", F(60), 2)
        shelf.add(now, "rail", F(45))
        shelf.count(now, "rail", F(144), 3)
    return path


def book(rack: Path, plan: Plan, through: int | None = None, name: str = "plan.json") -> booking.Booked:
    with changing(rack) as now:
        what = known(plan, name)
        return booking.book(now, what, EVERYTHING if through is None else choosing.through(what, through))


def unbook(rack: Path, plan: Plan) -> None:
    with changing(rack) as now:
        booking.unbook(now, known(plan, "plan.json").id, "plan.json")


def lying(rack: Path) -> dict[str, Offcut]:
    with reading(rack) as now:
        return {one.tag: one for one in shelf.offcuts(now)}


def state(rack: Path) -> object:
    with reading(rack) as now:
        return shelf.offcuts(now), shelf.counts(now)


def count(rack: Path, profile: str, length: int) -> int:
    with reading(rack) as now:
        return next(one.qty for one in shelf.counts(now, profile) if one.length == length)


DEMAND = {("rail", 50): 3, ("rail", 110): 1, ("bar", 30): 5, ("holed", 80): 1}


def test_a_booking_moves_just_what_the_plan_says(rack: Path) -> None:
    before = lying(rack)
    plan = plan_with(rack, DEMAND)
    booked = book(rack, plan)
    sticks = [stick for profile in plan.profiles for stick in profile.sticks]
    used = {stick.tag for stick in sticks if stick.tag}
    kept = {tag: stick.offcut for stick in sticks for tag in stick.offcut_tags}
    assert used and kept
    assert {tag: one.length for tag, one in lying(rack).items()} == {
        **{tag: one.length for tag, one in before.items() if tag not in used}, **kept}
    drawn = sum(one.drawn for profile in plan.profiles for one in purchases(profile) if one.length == 144)
    assert count(rack, "rail", 144) == 3 - drawn == booked.left["rail", F(144)]
    assert count(rack, "bar", 120) == 6 - sum(one.drawn for one in purchases(plan.profiles[1]))  # the shop had six


def test_an_offcut_of_a_rail_with_holes_keeps_their_place(rack: Path) -> None:
    plan = plan_with(rack, {("holed", 80): 1})
    (offcut,) = book(rack, plan).kept
    (stick,) = plan.profiles[0].sticks
    assert HOLED.routing is not None and offcut.first is not None
    holes = {F(19, 8) + k * F(19, 4) for k in range(41)}  # from the factory end
    if stick.turned:
        holes = {stick.length - hole for hole in holes}
    assert stick.cuts[-1].end + HOLED.kerf + offcut.first in holes
    again = plan_with(rack, {("holed", 85): 1})
    assert again.profiles[0].sticks[0].tag == offcut.tag


def test_twice_is_refused_and_changes_nothing(rack: Path) -> None:
    plan = plan_with(rack, DEMAND)
    book(rack, plan)
    now = state(rack)
    with pytest.raises(InputProblems, match="was booked to its last stick"):
        book(rack, plan)
    assert state(rack) == now


def test_a_plan_whose_offcut_is_gone_is_refused_and_says_where_it_went(rack: Path) -> None:
    plan = plan_with(rack, DEMAND)
    late = plan_with(rack, {("rail", 50): 2})
    book(rack, plan, name="monday.json")
    now = state(rack)
    with pytest.raises(InputProblems, match=r"left the rack: cut up on .*, for monday.json; plan again"):
        book(rack, late)
    assert state(rack) == now


def test_sticks_that_were_there_are_promised_once(rack: Path) -> None:
    long = {("rail", 140): 2}
    plan = plan_with(rack, long)
    assert [(one.drawn, one.missing) for one in purchases(plan.profiles[0])] == [(2, 0)]
    late = plan_with(rack, {("rail", 139): 2})
    book(rack, plan)
    with pytest.raises(InputProblems, match="takes 2 new sticks that were there, and 1 are free now"):
        book(rack, late)
    assert [(one.drawn, one.missing) for one in purchases(plan_with(rack, long).profiles[0])] == [(2, 1)]


def test_a_length_of_which_there_is_only_so_much_is_counted_from_its_first_booking(rack: Path) -> None:
    book(rack, plan_with(rack, {("bar", 100): 4}))
    assert count(rack, "bar", 120) == 2
    with pytest.raises(NoPlan):
        plan_with(rack, {("bar", 100): 3})


def test_part_by_part_comes_to_the_same_as_at_once(rack: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.db"
    other.write_bytes(rack.read_bytes())
    plan = plan_with(rack, DEMAND)
    sticks = [one.last for one in numbered(plan)][-1]
    book(other, plan)
    for through in range(1, sticks + 1):
        assert book(rack, plan, through).numbers == {through}
        with reading(rack) as now:
            left = booking.rest(now, known(plan, "plan.json"))
        cut = Counter((cut.mark, cut.length) for one in numbered(plan) for cut in one.stick.cuts
                      for n in range(one.first, one.last + 1) if n <= through)
        asked = Counter({(d.mark, d.length): d.qty for profile in plan.profiles for d in profile.demand})
        assert Counter({(p.mark, p.length): p.qty for p in left}) == asked - cut
        assert all(piece.for_ == "G1" for piece in left)
    assert {(tag, one.length) for tag, one in lying(rack).items()} == {
        (tag, one.length) for tag, one in lying(other).items()}
    for wrong in (sticks, sticks + 1):
        with pytest.raises(InputProblems):
            book(rack, plan, wrong)


@pytest.mark.parametrize("through", [0, -1, 99])
def test_a_number_that_is_no_stick_of_the_plan_is_refused(rack: Path, through: int) -> None:
    with pytest.raises(InputProblems, match="is needed"):
        book(rack, plan_with(rack, DEMAND), through)


def test_taking_back_restores_what_was_there(rack: Path) -> None:
    plan = plan_with(rack, DEMAND)
    start = state(rack)
    book(rack, plan, 2)
    middle = state(rack)
    book(rack, plan)
    unbook(rack, plan)
    assert state(rack)[0] == middle[0]  # type: ignore[index]
    unbook(rack, plan)
    assert state(rack)[0] == start[0]  # type: ignore[index]
    assert count(rack, "rail", 144) == 3 and count(rack, "bar", 120) == 6
    with pytest.raises(InputProblems, match="nothing is to be taken back"):
        unbook(rack, plan)
    kept = book(rack, plan).kept
    assert {one.tag for one in kept} == {tag for one in numbered(plan) for tag in one.stick.offcut_tags}


def test_what_depends_on_a_booking_keeps_it(rack: Path) -> None:
    plan = plan_with(rack, {("rail", 100): 1})
    (kept,) = book(rack, plan).kept
    later = plan_with(rack, {("rail", kept.length - 1): 1})
    assert later.profiles[0].sticks[0].tag == kept.tag
    with changing(rack) as now:
        holding.hold(now, known(later, "later.json"))
    with pytest.raises(InputProblems, match=r"is held for later\.json"):
        unbook(rack, plan)
    book(rack, later, name="later.json")
    now = state(rack)
    with pytest.raises(InputProblems, match=r"cut up on .*, for later\.json; first .* unbook later\.json --rack"):
        unbook(rack, plan)
    assert state(rack) == now
    unbook(rack, later)
    unbook(rack, plan)


def test_a_count_made_after_a_booking_stands_when_it_is_taken_back(rack: Path) -> None:
    plan = plan_with(rack, {("rail", 140): 2})
    book(rack, plan)
    with changing(rack) as now:
        shelf.count(now, "rail", F(144), 8)
    with changing(rack) as now:
        _, notes = booking.unbook(now, known(plan, "").id, "plan.json")
    assert count(rack, "rail", 144) == 8 and "counted again since" in notes[0]


def test_what_is_held_is_left_to_its_plan(rack: Path) -> None:
    plan = plan_with(rack, {("rail", 50): 1, ("rail", 140): 2})
    tag = next(one.stick.tag for one in numbered(plan) if one.stick.tag)
    with changing(rack) as now:
        held = holding.hold(now, known(plan, "rush.json"))
    assert (held.offcuts, held.new) == (1, 2)
    other = plan_with(rack, {("rail", 50): 3, ("rail", 140): 2})
    assert tag not in {one.stick.tag for one in numbered(other)}
    assert sum(one.there for one in purchases(other.profiles[0])) == 1
    with changing(rack) as now, pytest.raises(InputProblems, match=r"for rush\.json; .* release rush\.json --rack"):
        shelf.scrap(now, [str(tag)])
    with pytest.raises(InputProblems, match=r"is held for rush\.json"):
        book(rack, priced_out(plan))
    assert book(rack, plan, name="rush.json").numbers == {1, 2, 3}
    with changing(rack) as now, pytest.raises(InputProblems, match="is not on hold"):
        holding.release(now, known(plan, "").id, "rush.json")


def test_a_released_plan_leaves_everything_to_others(rack: Path) -> None:
    plan = plan_with(rack, {("rail", 50): 1})
    with changing(rack) as now:
        holding.hold(now, known(plan, "rush.json"))
        holding.release(now, known(plan, "").id, "rush.json")
    book(rack, priced_out(plan))


def test_a_piece_is_cut_again_from_the_offcut_that_loses_least(rack: Path) -> None:
    """By going through every free offcut and stick: no new one where an offcut will do, then the least used up."""
    with changing(rack) as now:
        for length in (41, 44, 52, 70, 88):
            shelf.add(now, "rail", F(length))
        for wanted in (F(40), F(43), F(51), F(61), F(69), F(100)):
            plan = recutting.recut(supply(SHOP, now), Piece("again", "rail", wanted, 1))
            (stick,) = plan.profiles[0].sticks
            free = [(F(0), one.length) for one in shelf.offcuts(now, "rail")] + [(F(28), F(144))]
            losses = []
            for price, length in free:
                left = max(F(0), length - RAIL.head_trim - wanted - RAIL.kerf)
                if length - RAIL.head_trim >= wanted:
                    losses.append((price, length - (left if left >= 20 else 0)))
            assert (stick.price, stick.length - (stick.offcut if stick.keep else 0)) == min(losses)


def test_nothing_long_enough_is_said(rack: Path) -> None:
    with reading(rack) as now:
        found = supply(SHOP, now)
    with pytest.raises(NoPlan, match="longer than"):
        recutting.recut(found, Piece("again", "rail", F(150), 1))
    with pytest.raises(NoPlan, match="nothing of it on this rack is free"):
        recutting.recut(found, Piece("again", "bar", F(20), 1))


def test_the_oldest_of_equal_offcuts_goes_first(tmp_path: Path) -> None:
    rack = tmp_path / "rack.db"
    days = ["2026-03-01T08:00:00Z", "2024-05-01T08:00:00Z", "2025-01-01T08:00:00Z"]
    added = {}
    for day in days:
        with changing(rack, clock=lambda day=day: day) as now:  # type: ignore[misc]
            added[day] = shelf.add(now, "rail", F(60))[0].tag
    plan = plan_with(rack, {("rail", 50): 2})
    assert [one.stick.tag for one in numbered(plan)] == [added[day] for day in sorted(days)[:2]]


def test_a_rack_in_inches_serves_a_shop_in_millimetres(rack: Path) -> None:
    from dataclasses import replace

    metric = replace(SHOP, unit="mm", profiles={"rail": replace(RAIL, kerf=F(3), head_trim=F(12), keep_from=F(500),
                     stock=tuple(replace(entry, length=entry.length * F("25.4")) for entry in RAIL.stock))})
    plan = plan_with(rack, {("rail", 1100): 1, ("rail", 3500): 1}, metric)
    assert {one.stick.length for one in numbered(plan)} == {F(45) * F("25.4"), F(144) * F("25.4")}
    book(rack, plan)
    assert sorted(one.length for one in lying(rack).values()) == [60, 60]
    assert count(rack, "rail", 144) == 2


@pytest.mark.parametrize("often", rounds(120, 250))
def test_any_week_keeps_the_rack_and_a_plain_ledger_alike(tmp_path: Path, often: int) -> None:
    """Random work, good and bad, against a ledger kept by hand: what is there, and each offcut used but once."""
    rack = tmp_path / "rack.db"
    chance = random.Random(7)
    ledger: dict[str, F] = {}
    sticks = 20
    with changing(rack) as now:
        shelf.count(now, "rail", F(144), sticks)
    made: list[Plan] = []
    booked: list[tuple[Plan, dict[str, F], dict[str, F], int]] = []
    refused = Counter[str]()
    for _ in range(often):
        what = chance.choice(["plan", "book"] * 3 + ["add", "unbook", "scrap", "hold", "release"])
        try:
            if what == "add":
                with changing(rack) as now:
                    for one in shelf.add(now, "rail", F(chance.randint(20 * 8, 90 * 8), 8), chance.randint(1, 2)):
                        ledger[one.tag] = one.length
            elif what == "plan":
                lengths = [F(chance.randint(15 * 4, 95 * 4), 4) for _ in range(chance.randint(1, 4))]
                made.append(plan_with(rack, Counter(("rail", length) for length in lengths)))
            elif what == "book" and made:
                plan = chance.choice(made)
                done = book(rack, plan, chance.choice([None, 1, 2]))
                used = {one.tag: ledger.pop(one.tag) for one in done.used}
                kept = {one.tag: one.length for one in done.kept}
                ledger |= kept
                less = min(sticks, done.drawn.get(("rail", F(144)), 0))
                sticks -= less
                booked.append((plan, used, kept, less))
            elif what == "unbook" and booked:
                plan, used, kept, less = booked[-1]
                unbook(rack, plan)
                booked.pop()
                ledger = {tag: length for tag, length in {**ledger, **used}.items() if tag not in kept}
                sticks += less
            elif what == "scrap" and ledger:
                tag = chance.choice(sorted(ledger))
                with changing(rack) as now:
                    shelf.scrap(now, [tag])
                del ledger[tag]
            elif what == "hold" and made:
                with changing(rack) as now:
                    holding.hold(now, known(made[-1], "held.json"))
            elif what == "release" and made:
                with changing(rack) as now:
                    holding.release(now, known(chance.choice(made), "").id, "held.json")
        except InputProblems:
            refused[what] += 1
        assert {tag: one.length for tag, one in lying(rack).items()} == ledger
        assert count(rack, "rail", 144) == sticks
    assert len(booked) > 3 and refused["book"] > 3  # there was something to refuse
    with reading(rack) as now:
        uses = Counter(event.tag for event in shelf.history(now) if event.what == "cut up")
        uses.subtract(event.tag for event in shelf.history(now) if event.tag and event.what == "put back")
    assert max(uses.values()) == 1


def test_a_plan_made_without_the_rack_gets_its_tags_when_it_is_booked(rack: Path) -> None:
    with reading(rack) as now:
        found = supply(SHOP, now)
    plan = with_on_hand(recutting.recut(found, Piece("x", "rail", F(100), 1)), found)
    assert not plan.profiles[0].sticks[0].offcut_tags
    (kept,) = book(rack, plan).kept
    assert lying(rack)[kept.tag].length == kept.length == F(144) - F(1, 2) - 100 - F(1, 8)
