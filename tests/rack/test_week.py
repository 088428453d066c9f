"""If these fail, something of a working week is lost, cut twice, or lies in two places.

A random week of bookings, cracks, spoiled sticks, rushes, changes and cancellations, bookings taken back and two people
at once goes on beside a plain ledger that is kept here, in dicts, from the plan files and what was done alone. At every
step each piece asked for is cut or is still to be cut, and never both; each offcut is here, used or scrapped; and the
material that came in is what is in pieces, on the rack, in scrap and in dust, to the last fraction.
"""

from __future__ import annotations

import json
import random
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cutplan.orders import Piece
from cutplan.planning import replanning
from cutplan.planning.racked import on_rack, solve_on_rack
from cutplan.plans.plan import to_json
from cutplan.problems import InputProblems, NoPlan
from cutplan.rack import booking, choosing, holding, register, shelf, spoiling
from cutplan.rack.claims import Known, known
from cutplan.rack.store import changing, reading
from cutplan.running.budget import Budget
from tests.rack.workshop import RAIL, SHOP
from tests.sweeps import sweep

F = Fraction
ZERO = F(0)
EVENTS = 200
Key = tuple[str, Fraction]  # a mark and a length
KINDS = (["book"] * 6 + ["spoil"] * 3 + ["rush"] * 2 + ["replan"] * 2 + ["change"] * 2 + ["unbook"] * 3
         + ["scrap", "add", "hold", "release", "two", "two"])


def exactly(value: Any) -> Fraction:
    return F(str(value))


@dataclass
class Done:
    """One thing that was done to a plan, so that it can be undone: sticks, what it took and gave, pieces by mark."""

    sticks: frozenset[int]
    used: list[str] = field(default_factory=list)
    drawn: Counter[Fraction] = field(default_factory=Counter)
    counted: Counter[Fraction] = field(default_factory=Counter)
    kept: dict[str, Fraction] = field(default_factory=dict)
    pieces: Counter[Key] = field(default_factory=Counter)
    lost: Fraction = ZERO
    takes_over: bool = False


class Paper:
    """A plan as its file says it, and what was done of it."""

    def __init__(self, what: Known, wants: Counter[Key], earlier: tuple[str, ...]) -> None:
        self.what, self.wants, self.earlier = what, wants, earlier
        self.log: list[Done] = []
        self.sticks: dict[int, tuple[dict[str, Any], int]] = {}
        said = json.loads(to_json(what.plan), parse_float=F)
        number = said.get("first", 1)
        for profile in said["profiles"]:
            for entry in profile["sticks"]:
                for k in range(entry["count"]):
                    self.sticks[number] = entry, k
                    number += 1

    @property
    def gone(self) -> set[int]:
        return {number for one in self.log for number in one.sticks}

    def hand(self) -> Counter[Key]:
        found: Counter[Key] = Counter()
        for one in self.log:
            found.update(one.pieces)
        return found


class Ledger:
    def __init__(self, rack: Path, chance: random.Random) -> None:
        self.rack, self.chance = rack, chance
        self.here: dict[str, Fraction] = {}
        self.counts = {F(144): 12}
        self.came, self.scrapped = F(0), F(0)
        self.papers: dict[str, Paper] = {}
        self.by: dict[str, str] = {}  # the plan that took the place of another, by name
        self.marks = 0
        self.done: Counter[str] = Counter()
        self.refused: Counter[str] = Counter()

    # ---- what the ledger says ----

    def live(self) -> list[Paper]:
        """Those that stand for themselves, and for all they were made of."""
        return [paper for name, paper in self.papers.items() if name not in self.by
                and all(self.by.get(one) == name for one in paper.earlier)]

    def some(self) -> Paper | None:
        return self.chance.choice(list(self.papers.values())[-6:]) if self.papers else None

    def hand_of(self, paper: Paper) -> Counter[Key]:
        """The pieces in hand for a plan, and for those whose place it took."""
        found = paper.hand()
        for name in paper.earlier:
            if self.by.get(name) == paper.what.file:
                found.update(self.hand_of(self.papers[name]))
        return found

    def new_pieces(self, most: int = 3) -> list[Piece]:
        self.marks += 1
        return [Piece(f"M{self.marks}-{k}", "rail", F(self.chance.randint(80, 500), 8), self.chance.randint(1, 4))
                for k in range(self.chance.randint(1, most))]

    # ---- what is done, to the rack and to the ledger ----

    def cut(self, paper: Paper, numbers: frozenset[int]) -> Done:
        """Sticks are cut as the paper says."""
        one = Done(numbers)
        for number in sorted(numbers):
            entry, k = paper.sticks[number]
            ends = [exactly(cut["end"]) for cut in entry["cuts"]]
            whole, pieces = exactly(entry["length"]), sum((exactly(cut["length"]) for cut in entry["cuts"]), F(0))
            left = max(F(0), whole - ends[-1] - RAIL.kerf)
            self.take(one, entry)
            for cut in entry["cuts"]:
                one.pieces[cut["mark"], exactly(cut["length"])] += 1
            if left >= 20:  # from which on the shop keeps them
                one.kept[entry["offcut_tags"][k]] = left
            dust = whole - pieces - left
            at_least = len(ends) * RAIL.kerf if ends[-1] + RAIL.kerf <= whole else (len(ends) - 1) * RAIL.kerf
            assert at_least <= dust <= at_least + RAIL.head_trim + RAIL.kerf
            one.lost += whole - pieces - (left if left >= 20 else 0)
        return one

    def take(self, one: Done, entry: dict[str, Any]) -> None:
        if entry["tag"]:
            one.used.append(entry["tag"])
        else:
            one.drawn[exactly(entry["length"])] += 1

    def on_hold_beside(self, paper: Paper) -> int:
        """How many of the counted sticks are kept for other plans than those for which the same rest would be cut."""
        begun = {name for name, other in self.papers.items() if other.log}
        those = {paper.what.file, *paper.earlier}
        while more := {name for name, other in self.papers.items() if name not in {*those, *begun, *self.by}
                       and those & {*other.earlier}}:
            those |= more
        ids = {self.papers[name].what.id for name in those}
        with reading(self.rack) as now:
            return sum(row["qty"] for row in now.all("SELECT plan, qty FROM holds WHERE tag IS NULL")
                       if row["plan"] not in ids)

    def write(self, paper: Paper, one: Done, kept_for_others: int = 0) -> None:
        """What was done; new sticks are counted down but for those kept for others, in whose place some were bought."""
        for tag in one.used:
            del self.here[tag]
        for length, n in one.drawn.items():
            one.counted[length] = min(n, max(0, self.counts.get(length, 0) - kept_for_others))
            self.counts.update({length: self.counts[length] - one.counted[length]} if length in self.counts else {})
            self.came += n * length
        assert not one.kept.keys() & self.here.keys()
        self.here.update(one.kept)
        self.scrapped += one.lost
        paper.log.append(one)
        for name in paper.earlier:
            if self.by.get(name) != paper.what.file:
                assert name not in self.by, "two plans stand for one"
                self.by[name], one.takes_over = paper.what.file, True

    def undo(self, paper: Paper, lengths: dict[str, Fraction]) -> None:
        one = paper.log.pop()
        for tag in one.kept:
            del self.here[tag]
        for tag in one.used:
            self.here[tag] = lengths[tag]
        for length, n in one.drawn.items():
            self.came -= n * length
            self.counts.update({length: self.counts[length] + one.counted[length]} if length in self.counts else {})
        self.scrapped -= one.lost
        if one.takes_over:
            self.by = {name: by for name, by in self.by.items() if by != paper.what.file}

    def book(self, paper: Paper, meant: choosing.Meant) -> None:
        others = self.on_hold_beside(paper)
        with changing(self.rack) as now:
            booked = booking.book(now, paper.what, meant)
        asked = set(paper.sticks) if meant.numbers is None else set(meant.numbers)
        assert booked.numbers == asked - paper.gone
        if booked.numbers:
            self.write(paper, self.cut(paper, booked.numbers), others)

    def meant(self, paper: Paper) -> choosing.Meant:
        every = sorted(paper.sticks) or [1]
        some = frozenset(self.chance.sample(every, self.chance.randint(1, min(3, len(every)))))
        return self.chance.choice([choosing.EVERYTHING, choosing.listed(some), choosing.listed(some),
                                   choosing.Meant("--ticked", some, telling=True)])

    def two(self, paper: Paper) -> None:
        """Two people book at once, each some sticks; where both mean one stick, one of them is refused."""
        meant = [self.meant(paper), self.meant(paper)]
        others = self.on_hold_beside(paper)
        ends: list[frozenset[int] | None] = [None, None]

        def work(k: int) -> None:
            try:
                with changing(self.rack) as now:
                    ends[k] = booking.book(now, paper.what, meant[k]).numbers
            except InputProblems:
                pass

        threads = [threading.Thread(target=work, args=(k,)) for k in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        booked = [numbers for numbers in ends if numbers]
        assert not (len(booked) == 2 and booked[0] & booked[1])
        with reading(self.rack) as now:
            order = [row["plan"] for row in now.all("SELECT plan FROM bookings WHERE plan = ?", paper.what.id)]
            rows = now.all("SELECT booking, first, last FROM booked ORDER BY booking DESC")
        assert order or not booked
        last = {n for row in rows if row["booking"] == (rows[0]["booking"] if rows else 0)
                for n in range(row["first"], row["last"] + 1)}
        for numbers in sorted(booked, key=lambda numbers: numbers == last):
            self.write(paper, self.cut(paper, numbers), others)

    def spoil(self, paper: Paper) -> None:
        number = self.chance.choice(sorted(paper.sticks) or [1])
        entry, _ = paper.sticks.get(number, ({"cuts": [], "length": 1, "tag": None}, 0))
        good = self.chance.randint(0, max(0, len(entry["cuts"]) - 1))
        pieces = [(cut["mark"], exactly(cut["length"])) for cut in entry["cuts"][:good]]
        room = exactly(entry["length"]) - sum((length for _, length in pieces), F(0))
        left = spoiling.Remains(room * self.chance.randint(1, 16) / 16) if self.chance.random() < 0.6 else None
        others = self.on_hold_beside(paper)
        with changing(self.rack) as now:
            held = {one.tag for one in shelf.offcuts(now) if one.held not in ("", paper.what.file)}
            said = spoiling.number_of_stick(paper.what, str(number))
            booked, again = spoiling.spoil(now, paper.what, said, good, left)
        assert len(again) == len(entry["cuts"]) - good
        one = Done(frozenset([number]), pieces=Counter(pieces))
        if entry["tag"] is None or (entry["tag"] in self.here and entry["tag"] not in held):
            self.take(one, entry)
            one.lost = room - (left.length if left else 0)
        else:
            assert not pieces and left is None, "something was cut from what is gone, or another's"
        one.kept = {offcut.tag: offcut.length for offcut in booked.kept}
        self.write(paper, one, others)

    def rush(self, _: Paper) -> None:
        pieces = self.new_pieces()
        name = f"{len(self.papers)}.json"
        found = on_rack(str(self.rack), pieces, SHOP, tags=True)
        result, _notes = solve_on_rack(str(self.rack), pieces, found, Budget(20), True, name=name)
        self.papers[name] = Paper(known(result.plan, name), Counter({(p.mark, p.length): p.qty for p in pieces}), ())

    def retire(self, olds: list[Paper], new: replanning.Replanned, wants: Counter[Key], one: Done | None) -> None:
        name = f"{len(self.papers)}.json"
        with changing(self.rack) as now:
            retired = replanning.retire(now, new, name)
        names = {paper.what.id: paper.what.file for paper in self.papers.values()}
        paper = Paper(known(retired.plan, name), wants, tuple(names[one.plan] for one in retired.plan.replaces))
        assert not any(set(paper.sticks) & set(other.sticks) for other in map(self.papers.get, paper.earlier) if other)
        self.papers[name] = paper
        if one is not None:
            gone = [tag for tag in retired.laid]
            one.kept = {offcut.tag: offcut.length for offcut in gone}
            one.lost -= sum(one.kept.values(), F(0))
            self.write(paper, one)
        for old in paper.earlier:
            assert self.by.setdefault(old, name) == name

    def replan(self, paper: Paper) -> None:
        olds = [paper]
        if (other := self.some()) not in (None, paper) and self.chance.random() < 0.3:
            olds += [other]  # type: ignore[list-item]
        more = self.new_pieces(1) if self.chance.random() < 0.3 else []
        what = [old.what for old in olds]
        work = replanning.with_more(what, replanning.left_of(str(self.rack), what, SHOP), more)
        free = replanning.free_without(str(self.rack), what, SHOP, True)
        new = replanning.replan(what, work, free, Budget(20))
        wants: Counter[Key] = Counter({(p.mark, p.length): p.qty for p in more})
        names = self.names_of(new.come)
        within = {name for other in names for name in self.papers[other].earlier}
        for name in names:
            if name not in within:
                wants.update(self.papers[name].wants)
        self.retire(olds, new, wants, None)

    def names_of(self, come: tuple[Any, ...]) -> list[str]:
        names = {paper.what.id: paper.what.file for paper in self.papers.values()}
        return [names[one.plan] for one in come]

    def change(self, paper: Paper) -> None:
        """Of what a plan was for, some is cancelled, some is measured anew, some comes in."""
        wants: Counter[Key] = Counter()
        for (mark, length), qty in paper.wants.items():
            how = self.chance.random()
            if how < 0.15:
                continue
            length += self.chance.choice([0, 0, 0, 1, -1, -2, F(1, 2)]) if how < 0.5 else 0
            wants[mark, length] += max(0, qty - (self.chance.random() < 0.2))
        wants += Counter()
        if self.chance.random() < 0.4 or not wants:
            wants.update({(p.mark, p.length): p.qty for p in self.new_pieces(1)})
        week = [Piece(mark, "rail", length, qty) for (mark, length), qty in wants.items()]
        what = [paper.what]
        serving = replanning.serving(str(self.rack), what, week, SHOP)
        change = replanning.change_of(serving.served, SHOP)
        free = replanning.free_without(str(self.rack), what, SHOP, True, change.laid)
        new = replanning.replan_week(what, serving, change, free, Budget(20))
        hand = sum((self.hand_of(self.papers[name]) for name in self.names_of(serving.come)), Counter[Key]())
        one = Done(frozenset())
        met: Counter[Key] = Counter()
        for serves in serving.served.serves:
            was, now = (serves.cut.mark, serves.cut.length), (serves.now.mark, serves.now.length)
            assert was[1] >= now[1] and (was[1] - now[1] - RAIL.kerf < 20)
            hand[was] -= serves.qty
            met[now] += serves.qty
            one.pieces[was] -= serves.qty
            one.pieces[now] += serves.qty
            one.lost += serves.qty * (was[1] - now[1])
        for over in serving.served.over:
            was = over.cut.mark, over.cut.length
            hand[was] -= over.qty
            one.pieces[was] -= over.qty
            one.lost += over.qty * was[1]
            assert over.kept == (was[1] >= 20)
        assert not any(hand.values()), "a piece in hand is forgotten, or there twice"
        assert met + Counter({(p.mark, p.length): p.qty for p in serving.served.still}) == wants
        self.retire([paper], new, wants, one)

    def unbook(self, paper: Paper, lengths: dict[str, Fraction]) -> None:
        with changing(self.rack) as now:
            back, _ = booking.unbook(now, paper.what.id, paper.what.file)
        assert paper.what.file not in self.by
        if paper.log:
            assert back.numbers == paper.log[-1].sticks
            self.undo(paper, lengths)
        else:
            assert paper.what.file in self.by.values()
            self.by = {name: by for name, by in self.by.items() if by != paper.what.file}

    # ---- whether the rack says the same ----

    def agree(self) -> None:
        with reading(self.rack) as now:
            assert {one.tag: one.length for one in shelf.offcuts(now)} == self.here
            assert {one.length: one.qty for one in shelf.counts(now)} == self.counts
            left = {paper.what.file: booking.rest(now, paper.what) for paper in self.live()}
            states = {one.name: one for one in register.plans(now)}
        pieces = F(0)
        for paper in self.papers.values():
            pieces += sum((qty * length for (_, length), qty in paper.hand().items()), F(0))
            said = states[paper.what.file]
            assert said.done.gone == paper.gone and (said.by.name if said.by else None) == self.by.get(paper.what.file)
        for paper in self.live():
            rest = Counter({(p.mark, p.length): 0 for p in left[paper.what.file]})
            for piece in left[paper.what.file]:
                rest[piece.mark, piece.length] += piece.qty
            assert min(self.hand_of(paper).values(), default=0) >= 0
            assert +self.hand_of(paper) + rest == paper.wants, paper.what.file
        assert self.came == pieces + sum(self.here.values(), F(0)) + self.scrapped


@pytest.mark.parametrize("seed", sweep(1, 500))
def test_any_week_and_a_plain_ledger_agree(tmp_path: Path, seed: int) -> None:
    rack, chance = tmp_path / "rack.db", random.Random(seed)
    with changing(rack) as now:
        shelf.count(now, "rail", F(144), 12)
    week = Ledger(rack, chance)
    lengths: dict[str, Fraction] = {}
    for _ in range(EVENTS if seed > 1 else EVENTS // 2):
        what, paper = chance.choice(KINDS), week.some()
        try:
            if paper is None or (what == "rush" and len(week.papers) < 40):
                week.rush(paper)  # type: ignore[arg-type]
            elif what == "add":
                with changing(rack) as now:
                    (one,) = shelf.add(now, "rail", F(chance.randint(160, 720), 8))
                week.here[one.tag] = one.length
                week.came += one.length
            elif what == "scrap" and week.here:
                tag = chance.choice(sorted(week.here))
                with changing(rack) as now:
                    shelf.scrap(now, [tag])
                week.scrapped += week.here.pop(tag)
            elif what == "hold":
                with changing(rack) as now:
                    holding.hold(now, paper.what)
            elif what == "release":
                with changing(rack) as now:
                    holding.release(now, paper.what.id, paper.what.file)
            elif what == "book":
                week.book(paper, week.meant(paper))
            elif what == "unbook":
                week.unbook(paper, lengths)
            else:
                work: dict[str, Callable[[Paper], None]] = {
                    "two": week.two, "spoil": week.spoil, "replan": week.replan, "change": week.change,
                    "rush": week.replan, "scrap": week.spoil}
                work[what](paper)
            week.done[what] += 1
        except (InputProblems, NoPlan):
            week.refused[what] += 1
        lengths.update(week.here)
        week.agree()
    assert week.done["book"] and week.refused
