"""If these fail, two at one plan undo each other's bookings, a stick is booked twice, or ticks go to another plan."""

from __future__ import annotations

import json
import os
import random
import sqlite3
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.plans import numbers
from cutplan.plans.plan import numbered
from cutplan.problems import InputProblems
from cutplan.rack import booking, choosing, shelf, store
from cutplan.rack.claims import Done, Known, done_by, known, origin
from cutplan.rack.store import RACK_MIGRATIONS, changing, reading
from tests.commands import good, run
from tests.rack.test_store import child, forks
from tests.rack.workshop import plan_with
from tests.sweeps import rounds
from tests.test_cli_rack import SHOP as SHOP_FILE

F = Fraction
PIECES = "mark,profile,length,qty\nA,box-rail,100,6\nC,square-picket,35,30\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def plan() -> str:
    """A plan of box-rail, sticks 1 to 3, and of pickets; gives its fingerprint."""
    Path("pieces.csv").write_text(PIECES)
    good("rack", "count", "box-rail", "240", "9", "--shop", SHOP_FILE)
    good("cut", "pieces.csv", "--shop", SHOP_FILE, "--rack", "rack.db", "--json", "plan.json")
    return str(json.loads(Path("plan.json").read_text())["digest"]["whole"])


def ticks(plan: str, sticks: object, name: str = "ticks.json", version: object = 1) -> str:
    Path(name).write_text(json.dumps({"format": "cutplan ticks", "version": version, "plan": plan, "sticks": sticks}))
    return name


# ---- sets of numbers ----


@pytest.mark.parametrize("seed", range(20))
def test_a_set_of_numbers_said_is_that_set(seed: int) -> None:
    chance = random.Random(seed)
    some = {chance.randint(1, 30) for _ in range(chance.randint(1, 25))}
    assert numbers.spanned(numbers.runs(some)) == some
    text = ",".join(str(a) if a == b else f"{a}-{b}" for a, b in numbers.runs(some))
    assert numbers.read_numbers(text) == some and numbers.read_numbers(text.replace(",", " , ")) == some
    words = numbers.said(some).replace(" and ", ", ").split(", ")  # by hand: 3, 7 to 12 and 20
    assert {n for word in words for a, _, b in [word.partition(" to ")] for n in range(int(a), int(b or a) + 1)} == some


@pytest.mark.parametrize("text", ["", "x", "3,", "7-", "9-7", "1-99999999", "0x3", "-3", "3;4", "1" * 40])
def test_what_are_no_stick_numbers_is_refused(text: str, plan: str) -> None:
    result = run("book", "plan.json", f"--sticks={text}")
    assert plan and result.exit_code == 2 and "command line:1: --sticks: " in result.stderr


@pytest.mark.parametrize("seed", range(20))
def test_what_was_done_is_read_from_a_rest_as_it_was_written(seed: int) -> None:
    chance = random.Random(seed)
    what = Known(plan_of_sticks(chance.choice([1, 31]), 20), "0" * 16, "")
    cut = frozenset(n for n in what.numbers if chance.random() < 0.6)
    spoiled = {n: chance.randint(0, 3) for n in sorted(what.numbers - cut)[:chance.randint(0, 2)]}
    listed = origin(what, Done(cut, spoiled))
    assert done_by(listed) == Done(cut, spoiled) and listed.last == what.plan.last


def plan_of_sticks(first: int, count: int):  # type: ignore[no-untyped-def]
    from types import SimpleNamespace

    return SimpleNamespace(first=first, last=first + count - 1)


# ---- booking by what was done ----


def test_any_way_of_saying_it_books_those_sticks(plan: str) -> None:
    text = good("book", "plan.json", "--sticks", "2")
    assert "plan.json: stick 2 booked; sticks 1 and 3 to" in " ".join(text.split())
    assert "stick 2 was booked before" in run("book", "plan.json", "--sticks", "1-2").stderr
    assert "sticks 1 and 3 booked" in good("book", "plan.json", "--profile", "box-rail")
    result = run("book", "plan.json", "--profile", "box-rail")
    assert result.exit_code == 2 and "--profile: sticks 1 to 3 are booked already; sticks 4 to " in result.stderr
    result = run("book", "plan.json", "--profile", "boxrail")
    assert result.exit_code == 2 and "did you mean 'box-rail'?" in result.stderr
    result = run("book", "plan.json", "--ticked", ticks(plan, [1, *range(4, 10)]))
    assert result.exit_code == 0 and "stick 1: booked before, so passed over" in result.stderr
    assert "sticks 4 to 9 booked, the last of it." in result.stdout
    before = good("rack", "history")
    result = run("book", "plan.json", "--ticked", "ticks.json")
    assert result.exit_code == 0 and "nothing is booked now" in result.stdout
    assert good("rack", "history") == before
    assert run("book", "plan.json").exit_code == 2


def test_only_one_way_is_said_at_a_time(plan: str) -> None:
    result = run("book", "plan.json", "--sticks", "1", "--through", "2")
    assert plan and result.exit_code == 2 and "give one" in result.stderr


def test_ticks_of_another_plan_are_refused_and_it_is_named(plan: str) -> None:
    Path("pieces.csv").write_text("mark,profile,length,qty\nB,box-rail,70,1\n")
    good("cut", "pieces.csv", "--shop", SHOP_FILE, "--rack", "rack.db", "--json", "other.json")
    result = run("book", "other.json", "--ticked", ticks(plan, [1]))
    assert result.exit_code == 2
    assert "ticks.json:1: plan: these are ticks of plan.json: book that with them" in result.stderr
    result = run("book", "other.json", "--ticked", ticks("0" * 16, [1], "none.json"))
    assert result.exit_code == 2 and "these are ticks of the plan 0000000000000000: book that" in result.stderr
    assert "stick 1 booked" in good("book", "plan.json", "--ticked", "ticks.json")


@pytest.mark.parametrize("wrong", [
    "", "[]", "null", "{", "{}", "[" * 3000, '{"format": "cutplan plan"}', b"\xff\xfe", "0", '"x"'])
def test_what_holds_no_ticks_is_refused(wrong: str | bytes, plan: str) -> None:
    Path("ticks.json").write_bytes(wrong if isinstance(wrong, bytes) else wrong.encode())
    result = run("book", "plan.json", "--ticked", "ticks.json")
    assert plan and result.exit_code == 2 and result.stderr.startswith("ticks.json:1: file: ")


@pytest.mark.parametrize("sticks", [
    None, {}, "1", 1, [None], [True], ["1"], [1.5], [0], [-1], [[1]], [10**12], [99], []])
def test_ticks_of_no_sticks_are_refused(sticks: object, plan: str) -> None:
    before = good("rack", "history")
    result = run("book", "plan.json", "--ticked", ticks(plan, sticks))
    assert result.exit_code == 2 and result.stderr.count("\n") == 1 and good("rack", "history") == before
    for version in (2, "1", None, True):
        assert run("book", "plan.json", "--ticked", ticks(plan, [1], version=version)).exit_code == 2


# ---- any order ----


@pytest.mark.parametrize("often", rounds(8, 40))
def test_any_order_comes_to_the_same_as_at_once(tmp_path: Path, often: int) -> None:
    """Booked in any parts and any order, and taken back from the last; counted stick by stick beside it."""
    rack, other = tmp_path / "rack.db", tmp_path / "other.db"
    with changing(rack) as now:
        shelf.add(now, "rail", F(60), 3)
        shelf.count(now, "rail", F(144), 3)
    what = known(plan_with(rack, {("rail", 50): 6, ("rail", 110): 3, ("bar", 30): 9}), "plan.json")
    start = rack.read_bytes()
    other.write_bytes(start)
    with changing(other) as now:
        booking.book(now, what)
    asked = Counter({(d.mark, d.length): d.qty for profile in what.plan.profiles for d in profile.demand})
    cuts = {n: Counter((cut.mark, cut.length) for cut in one.stick.cuts)
            for one in numbered(what.plan) for n in range(one.first, one.last + 1)}
    for seed in range(often):
        chance = random.Random(seed)
        rack.write_bytes(start)
        states, left = [lying(rack)], set(what.numbers)
        while left:
            some = frozenset(chance.sample(sorted(left), chance.randint(1, min(4, len(left)))))
            left -= some
            with changing(rack) as now:
                assert booking.book(now, what, choosing.listed(some)).numbers == some
                still = Counter({(p.mark, p.length): p.qty for p in booking.rest(now, what)})
            assert still == asked - sum((cuts[n] for n in what.numbers - left), Counter[tuple[str, Fraction]]())
            states.append(lying(rack))
        assert states[-1] == lying(other)
        for state in reversed(states[:-1]):
            with changing(rack) as now:
                booking.unbook(now, what.id, "plan.json")
            assert lying(rack)[0] == state[0]


def lying(rack: Path) -> tuple[dict[str, Fraction], dict[tuple[str, Fraction], int]]:
    with reading(rack) as now:
        return ({one.tag: one.length for one in shelf.offcuts(now)},
                {(one.profile, one.length): one.qty for one in shelf.counts(now)})


@forks
@pytest.mark.parametrize("often", rounds(15, 200))
def test_two_that_book_two_profiles_of_one_plan_at_once_both_count(tmp_path: Path, often: int) -> None:
    rack = tmp_path / "rack.db"
    with changing(rack) as now:
        shelf.add(now, "rail", F(60), 3)
    what = known(plan_with(rack, {("rail", 50): 4, ("bar", 30): 5}), "plan.json")
    before = rack.read_bytes()

    def book(meant: choosing.Meant) -> None:
        with changing(rack) as now:
            booking.book(now, what, meant)

    one, other = (choosing.of_profiles(what, [name]) for name in ("rail", "bar"))
    for n in range(often):
        rack.write_bytes(before)
        both = (one, other) if n % 2 else (one, one)
        works: list[Callable[[], None]] = [lambda meant=meant: book(meant) for meant in both]  # type: ignore[misc]
        ends = sorted(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in map(child, works))
        assert ends == ([0, 0] if n % 2 else [0, 2])
        with reading(rack) as now:
            uses = Counter(event.tag for event in shelf.history(now) if event.what == "cut up")
        assert set(uses.values()) == {1}
    rack.write_bytes(before)
    book(one)
    with changing(rack) as now:  # and one who books all of it books the rest
        assert booking.book(now, what).numbers == other.numbers


# ---- the file's next form ----


def test_an_older_rack_goes_on_and_a_copy_of_it_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The bookings of the form before, in stretches in order, are the same sticks; no copy is ever written over."""
    rack = tmp_path / "rack.db"
    make_older(rack, monkeypatch)
    older = rack.read_bytes()
    (tmp_path / "rack-form4.db").write_text("somebody's own")
    with reading(rack) as now:
        rows = now.all("SELECT booking, first, last FROM booked ORDER BY booking")
        assert [tuple(row) for row in rows] == [(1, 1, 3), (2, 4, 4)]
    assert (tmp_path / "rack-form4.db").read_text() == "somebody's own"
    assert same_rows(tmp_path / "rack-form4-2.db", older, tmp_path)
    rack.write_bytes(older)
    good("rack", "show", "--rack", str(rack))
    assert not (tmp_path / "rack-form4-3.db").exists()  # that copy is there


def make_older(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rack of the form with stretches, as the cutplan before would have left it."""
    with monkeypatch.context() as before:
        before.setattr(store, "RACK_MIGRATIONS", RACK_MIGRATIONS[:4])
        db = sqlite3.connect(rack, isolation_level=None)
        for statements in RACK_MIGRATIONS[:4]:
            for statement in statements:
                db.execute(statement)
        db.execute("INSERT INTO rack (unit, next_tag) VALUES ('in', 0)")
        for first, last in ((1, 3), (4, 4)):
            db.execute("INSERT INTO bookings (plan, name, at, first, last) VALUES (?,?,?,?,?)",
                       ("0" * 16, "old.json", "2026-01-05T08:00:00Z", first, last))
        db.execute(f"PRAGMA application_id = {store.RACK_ID}")
        db.execute("PRAGMA user_version = 4")
        db.close()


def same_rows(copy: Path, older: bytes, folder: Path) -> bool:
    (folder / "older.db").write_bytes(older)
    return list(sqlite3.connect(copy).iterdump()) == list(sqlite3.connect(folder / "older.db").iterdump())


def test_a_copy_that_cannot_be_kept_keeps_the_rack_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rack = tmp_path / "rack.db"
    make_older(rack, monkeypatch)
    older = rack.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "link", full)
    with pytest.raises(InputProblems, match="a copy of it as it was cannot be kept"), reading(rack):
        pass
    assert rack.read_bytes() == older


# ---- numbers that go on ----


def test_no_number_of_the_week_stands_on_two_papers(plan: str) -> None:
    """A plan of what was left begins after the last number of the one it was left by, on every paper and rack."""
    good("book", "plan.json", "--sticks", "2")
    good("rest", "plan.json", "--csv", "rest.csv")
    assert " of 9" in Path("rest.csv").read_text()
    text = good("cut", "rest.csv", "--shop", SHOP_FILE, "--rack", "rack.db", "--json", "next.json", "--csv", "cuts.csv")
    said = json.loads(Path("next.json").read_text())
    assert plan and said["first"] == 10 and "first" in said["digest"]
    count = sum(stick["count"] for profile in said["profiles"] for stick in profile["sticks"])
    last = 9 + count
    assert "stick 10" in " ".join(text.split()) or "sticks 10 to" in " ".join(text.split())
    rows = [line.split(",") for line in Path("cuts.csv").read_text().splitlines()]
    numbered_as = {int(row[rows[0].index("number")]) for row in rows[1:]}
    assert min(numbered_as) == 10 and max(numbered_as) <= last
    good("sheets", "next.json", "--out", "page.html", "--labels", "labels.csv")
    said_of = [line.split(",")[3].split(" to ") for line in Path("labels.csv").read_text().splitlines()[1:]]
    labelled = {number for ends in said_of for number in range(int(ends[0]), int(ends[-1]) + 1)}
    assert labelled == set(range(10, last + 1))
    result = run("book", "next.json", "--sticks", "1")
    assert result.exit_code == 2
    assert f"stick 1 is not in this plan; a number from 10 to {last} is needed" in result.stderr
    assert "stick 10 booked" in good("book", "next.json", "--through", "10")
    good("check", "next.json")
    good("rest", "next.json", "--csv", "rest.csv")
    good("cut", "rest.csv", "--shop", SHOP_FILE, "--json", "third.json")
    assert json.loads(Path("third.json").read_text())["first"] == last + 1
    Path("next.json").write_text(Path("next.json").read_text().replace('"first": 10', '"first": 11'))
    assert "first: was changed after the plan was written" in run("check", "next.json").stderr
