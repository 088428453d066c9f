"""If these fail, what was left of a plan is cut for two plans, or for none."""

from __future__ import annotations

import csv
import io
import json
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Piece, load_pieces, origins
from cutplan.plans.plan import Plan, numbered, to_json
from cutplan.problems import InputProblems
from cutplan.rack import booking, choosing, holding
from cutplan.rack.claims import Known, known
from cutplan.rack.store import changing, reading
from cutplan.rack.supply import supply, tagged, with_on_hand
from cutplan.running.budget import Budget
from cutplan.sheets.csvout import pieces_csv
from tests.commands import good, run
from tests.plans.parsing import from_json
from tests.rack.workshop import SHOP
from tests.test_cli_rack import SHOP as SHOP_FILE
from tests.test_cli_rack import lying

F = Fraction
PIECES = "mark,profile,length,qty\nA,box-rail,100,3\nB,box-rail,70,3\nC,square-picket,35,30\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("pieces.csv").write_text(PIECES)
    return tmp_path


def planned(name: str, *files: str, shop: str = SHOP_FILE) -> None:
    good("cut", *files, "--shop", shop, "--rack", "rack.db", "--json", name)


@pytest.fixture
def replanned() -> None:
    """Monday is cut to its second stick, what is left was planned again as Wednesday and booked."""
    planned("monday.json", "pieces.csv")
    good("book", "monday.json", "--through", "2")
    good("rest", "monday.json", "--csv", "rest.csv")
    planned("wednesday.json", "rest.csv")


@pytest.mark.usefixtures("replanned")
def test_what_was_planned_again_is_not_booked_twice() -> None:
    assert "takes over what was left of monday.json" in good("book", "wednesday.json")
    before, history = lying(), good("rack", "history")
    for words in (["book", "monday.json"], ["book", "monday.json", "--through", "3"], ["hold", "monday.json"],
                  ["rest", "monday.json", "--csv", "again.csv"]):
        result = run(*words)
        assert result.exit_code == 2 and "wednesday.json, booked on" in result.stderr, words
    result = run("unbook", "monday.json")
    assert result.exit_code == 2 and "first cutplan unbook wednesday.json" in result.stderr
    assert (lying(), good("rack", "history")) == (before, history)
    assert "monday.json may go on from where it was" in good("unbook", "wednesday.json")
    good("book", "monday.json", "--through", "3")
    result = run("book", "wednesday.json")
    said = result.stderr
    assert result.exit_code == 2 and "sticks 1 to 2 were booked on its rack, and here sticks 1 to 3 are" in said
    result = run("cut", "rest.csv", "--shop", SHOP_FILE, "--rack", "rack.db")
    assert result.exit_code == 2 and "rest.csv:2: from_plan: when the rest of monday.json was listed" in result.stderr


@pytest.mark.usefixtures("replanned")
def test_what_was_taken_back_is_not_left_out() -> None:
    """Taken back after its rest was listed, the first sticks' pieces would be in no plan at all."""
    good("unbook", "monday.json")
    result = run("book", "wednesday.json")
    assert result.exit_code == 2 and "plan what is left now again" in result.stderr
    assert run("hold", "wednesday.json").exit_code == 2


@pytest.mark.usefixtures("replanned")
def test_one_rest_goes_into_one_plan() -> None:
    Path("rush.csv").write_text("mark,profile,length,qty\nR,box-rail,50,1\n")
    planned("thursday.json", "rest.csv", "rush.csv")
    good("book", "wednesday.json", "--through", "10")
    result = run("book", "thursday.json")
    assert result.exit_code == 2 and "wednesday.json, booked on" in result.stderr
    good("rest", "wednesday.json", "--csv", "later.csv")
    planned("friday.json", "later.csv", "rush.csv")
    good("book", "friday.json")
    assert run("book", "wednesday.json").exit_code == 2 and run("book", "monday.json").exit_code == 2
    assert run("unbook", "wednesday.json").exit_code == 2
    for name in ("friday.json", "wednesday.json", "monday.json"):
        good("unbook", name)


@pytest.mark.usefixtures("replanned")
def test_two_listings_of_one_rest_are_not_cut_together() -> None:
    good("rest", "monday.json", "--csv", "copy.csv")
    result = run("cut", "rest.csv", "copy.csv", "--shop", SHOP_FILE, "--rack", "rack.db")
    assert result.exit_code == 2 and "copy.csv:2: from_plan: the rest of this plan is on line 2" in result.stderr


@pytest.mark.usefixtures("replanned")
def test_a_list_that_lost_its_column_or_a_row_is_noticed() -> None:
    rows = list(csv.DictReader(io.StringIO(Path("rest.csv").read_text())))
    assert all(row["from_plan"] for row in rows)
    for row in rows:
        del row["from_plan"]
    lines = [",".join(row.values()) for row in rows]
    Path("bare.csv").write_text("\n".join([",".join(rows[0]), *lines]) + "\n")
    result = run("cut", "bare.csv", "--shop", SHOP_FILE, "--rack", "rack.db", "--json", "bare.json")
    assert result.exit_code == 0 and "still to be cut for monday.json too" in result.stderr
    assert "still to be cut for monday.json too" in run("book", "bare.json").stderr
    text = Path("rest.csv").read_text().splitlines()
    Path("less.csv").write_text("\n".join(text[:-1]) + "\n")
    result = run("cut", "less.csv", "--shop", SHOP_FILE, "--rack", "rack.db")
    assert "left to be cut for monday.json, and not in this plan" in result.stderr
    Path("wrong.csv").write_text("\n".join([text[0], text[1].rpartition(",")[0] + ",monday"]) + "\n")
    result = run("cut", "wrong.csv", "--shop", SHOP_FILE)
    assert result.exit_code == 2 and "wrong.csv:2: from_plan: 'monday' is not what cutplan rest writes" in result.stderr


@pytest.mark.usefixtures("replanned")
def test_the_plan_file_says_what_it_replaces() -> None:
    monday, wednesday = (from_json(Path(name).read_text(), name) for name in ("monday.json", "wednesday.json"))
    (origin,) = wednesday.replaces
    assert (origin.plan, origin.after) == (known(monday, "").id, 2) and not monday.replaces
    said = json.loads(Path("wednesday.json").read_text())
    assert said["replaces"] == [{"plan": origin.plan, "after": 2, "last": monday.last}] and "replaces" in said["digest"]
    assert from_json(to_json(wednesday), "again") == wednesday
    good("check", "wednesday.json")
    Path("wednesday.json").write_text(Path("wednesday.json").read_text().replace('"after": 2', '"after": 3'))
    assert "replaces: was changed after the plan was written" in run("check", "wednesday.json").stderr


def test_any_week_cuts_no_piece_twice(tmp_path: Path) -> None:
    """Plans made, split, planned again, booked and taken back at random, beside a plain count of the pieces cut.

    Whatever is done, no piece is cut for two plans; and a plan made of all that is left leaves nothing out.
    """
    rack = tmp_path / "week.db"
    chance = random.Random(11)
    asked: Counter[str] = Counter()
    plans: list[Known] = []
    cut: dict[tuple[int, int], Counter[str]] = {}  # by plan and stick
    refused: Counter[str] = Counter()
    done: Counter[str] = Counter()

    def plan_of(pieces: list[Piece]) -> Plan:
        with changing(rack) as now:
            found = supply(SHOP, now)
            plan = with_on_hand(cut_pieces(pieces, found.shop, Budget(5)), found)
            return tagged(replace(plan, replaces=origins(pieces)), now)

    for n in range(160):
        what = chance.choice(["new", "rest", "rest", "book", "book", "book", "unbook", "hold"])
        k = chance.randrange(len(plans)) if plans else 0
        try:
            if what == "new" and len(asked) < 12:
                mark = f"W{n}"
                asked[mark] = chance.randint(4, 7)
                plans.append(known(plan_of([Piece(mark, "rail", F(chance.randint(30, 60)), asked[mark])]), f"{n}.json"))
            elif what == "rest" and plans:
                with reading(rack) as now:
                    pieces = booking.rest(now, plans[k])
                (tmp_path / "rest.csv").write_text(pieces_csv(pieces))
                if pieces:
                    listed = list(load_pieces(tmp_path / "rest.csv", SHOP))
                    plans.append(known(plan_of(listed), f"{n}.json"))
            elif what == "book" and plans:
                every = sorted(plans[k].numbers)
                some = frozenset(chance.sample(every, chance.randint(1, min(2, len(every)))))
                meant = chance.choice([choosing.EVERYTHING, choosing.listed(some)])
                with changing(rack) as now:
                    made = booking.book(now, plans[k], meant)
                for one in numbered(plans[k].plan):
                    for stick in made.numbers.intersection(range(one.first, one.last + 1)):
                        cut[k, stick] = Counter(piece.mark for piece in one.stick.cuts)
            elif what == "unbook" and plans:
                with changing(rack) as now:
                    back, _ = booking.unbook(now, plans[k].id, "plan")
                for stick in back.numbers:
                    del cut[k, stick]
            elif what == "hold" and plans:
                with changing(rack) as now:
                    holding.hold(now, plans[k])
            done[what] += 1
        except InputProblems:
            refused[what] += 1
        total = sum(cut.values(), Counter[str]())
        assert all(total[mark] <= asked[mark] for mark in total), (what, n)
    assert done["book"] > 15 and done["unbook"] > 3 and refused["book"] > 10 and refused["rest"]
