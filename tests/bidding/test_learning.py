"""If these fail, what a shop has learnt is lost, counted twice or twisted: a bid is corrected by jobs that were not
cut, or held against a job that is another."""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
import os
import random
import sqlite3
import statistics
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from cutplan.bidding.drawn import BOOKED, CutOffcut, Drawn, PlanDrawn
from cutplan.bidding.learning import BidSaid, LearntPlan, ProfileSaid, jobs_of, lessons
from cutplan.bidding.needs import at_least
from cutplan.bidding.store import changing
from cutplan.problems import InputProblems
from tests.bidding.bids import DEMO
from tests.commands import good, run
from tests.sweeps import rounds

SHOP = """unit = "in"
[saw]
kerf = "1/8 in"
[profiles.rail]
kind = "rail"
head_trim = "1/2 in"
keep_from = "20 in"
stock = [ { length = 96, price = 20 }, { length = 144, price = 28 } ]
[profiles.bar]
kind = "picket"
keep_from = "24 in"
stock = [ { length = 120, price = 9 } ]
"""
BID = "mark,kind,system,qty,opening,height\nA,gate,breakwater,1..2,40 in +/- 1 in,42\n"
WITH = ("--shop", "shop.toml", "--rack", "rack.db", "--limit", "5")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("bid.csv").write_text(BID)
    return tmp_path


def pieces(name: str, *rows: tuple[str, str, int, int]) -> str:
    """A pieces file of (mark, profile, length, qty); its name."""
    Path(name).write_text("mark,profile,length,qty\n" + "".join(f"{','.join(map(str, row))}\n" for row in rows))
    return name


def learnt(*words: object) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(good("learn", *words, "--json", "-"), parse_float=F, parse_int=F)
    return said


def figures(said: dict[str, Any]) -> dict[tuple[str, str], dict[str, Any]]:
    return {(job["job"], one["profile"]): one for job in said["jobs"] for one in job["profiles"]}


# ---- what was truly cut, by a ledger that knows plan files and what was done, and no rack ----


@dataclass
class Sums:
    drawn: F = F(0)
    net: F = F(0)
    kept: F = F(0)
    new: Counter[F] = field(default_factory=Counter)


@dataclass
class Ledger:
    """What a clerk at the saw would note down; from it the sums of a job are made afterwards.

    Each entry is of a plan: its job, the stick, how many of its pieces are good (None: all), and what was kept of it by
    tag and length.
    """

    entries: list[tuple[str, str, str, dict[str, Any], int | None, dict[str, F]]] = field(default_factory=list)

    def sums(self) -> dict[tuple[str, str], Sums]:
        found: dict[tuple[str, str], Sums] = {}
        owner: dict[str, str] = {}
        for _, job, profile, stick, goods, kept in self.entries:
            own = found.setdefault((job, profile), Sums())
            length = F(stick["length"])
            if stick["tag"] is None:
                own.drawn += length
                own.new[length] += 1
            elif owner.get(stick["tag"]) == job:
                own.kept -= length
            else:
                own.drawn += length
            own.net += sum(F(cut["length"]) for cut in stick["cuts"][:goods])
            own.kept += sum(kept.values())
            owner.update(dict.fromkeys(kept, job))
        return found


def sticks_of(file: str) -> dict[int, tuple[str, dict[str, Any], str | None]]:
    """The sticks of a plan file by number: profile, stick, and the tag of what it keeps."""
    plan = json.loads(Path(file).read_text(), parse_float=F, parse_int=F)
    numbers = itertools.count(int(plan.get("first", 1)))
    return {next(numbers): (profile["profile"], stick, stick["offcut_tags"][k] if stick["keep"] else None)
            for profile in plan["profiles"] for stick in profile["sticks"] for k in range(int(stick["count"]))}


def on_rack() -> dict[str, F]:
    rows = csv.DictReader(io.StringIO(good("rack", "show", "--csv", "-")))
    return {row["tag"]: F(row["length"]) for row in rows if row["tag"]}


@dataclass
class Shopfloor:
    """Jobs that are cut at random on one rack."""

    chance: random.Random
    ledger: Ledger = field(default_factory=Ledger)
    jobs: dict[str, list[str]] = field(default_factory=dict)  # the plan files of each, the last one going on
    left: dict[str, dict[int, tuple[str, dict[str, Any], str | None]]] = field(default_factory=dict)
    booked: list[tuple[str, str]] = field(default_factory=list)  # the plan of each booking, or the stick it spoiled
    spoiled: set[str] = field(default_factory=set)

    def begin(self, job: str) -> None:
        rows = [(f"{job}{k}", self.chance.choice(("rail", "bar")), self.chance.randint(20, 90),
                 self.chance.randint(1, 5)) for k in range(4)]
        file = f"{job}.json"
        good("cut", pieces(f"{job}.csv", *rows), *WITH, "--job", job, "--json", file)
        self.jobs[job], self.left[file] = [file], sticks_of(file)

    def file(self, job: str) -> str:
        return self.jobs[job][-1]

    def usable(self, file: str) -> list[int]:
        there = on_rack()
        return [number for number, (_, stick, _) in self.left[file].items() if stick["tag"] in (None, *there)]

    def book(self, job: str) -> None:
        file = self.file(job)
        numbers = self.usable(file)
        some = self.chance.sample(numbers, self.chance.randint(1, len(numbers))) if numbers else []
        if not some or run("book", file, "--sticks", ",".join(map(str, some))).exit_code:
            return  # the plan took an offcut that another has: nothing was booked
        for number in sorted(some):
            profile, stick, tag = self.left[file].pop(number)
            kept = {tag: F(stick["offcut"])} if tag else {}
            self.ledger.entries.append((file, job, profile, stick, None, kept))
        self.booked.append((file, str(len(some))))

    def spoil(self, job: str) -> None:
        file = self.file(job)
        number = self.chance.choice(self.usable(file) or [0])
        if not number:
            return
        profile, stick, _ = self.left[file][number]
        goods = self.chance.randrange(len(stick["cuts"]))
        rest = F(stick["length"]) - sum(F(cut["length"]) for cut in stick["cuts"][:goods]) - 1
        left = ("--left", str(int(rest)), "--sawn", "one") if rest >= 20 and self.chance.random() < 0.6 else ()
        before = on_rack()
        if run("spoil", file, number, "--good", goods, *left).exit_code:
            return
        kept = {tag: length for tag, length in on_rack().items() if tag not in before}
        del self.left[file][number]
        self.ledger.entries.append((file, job, profile, stick, goods, kept))
        self.booked.append((file, "1"))
        self.spoiled.add(file)

    def replan(self, job: str) -> None:
        old, new = self.file(job), f"{job}-{len(self.jobs[job])}.json"
        if run("replan", old, *WITH, "--json", new).exit_code == 0:
            self.jobs[job].append(new)
            self.left[new] = sticks_of(new)
            self.left[old] = {}
            self.spoiled.discard(old)

    def unbook(self, job: str) -> None:
        file = self.file(job)
        mine = [k for k, (plan, _) in enumerate(self.booked) if plan == file]
        if not mine or run("unbook", file).exit_code:
            return
        for _ in range(int(self.booked.pop(mine[-1])[1])):
            at = max(k for k, entry in enumerate(self.ledger.entries) if entry[0] == file)
            del self.ledger.entries[at]
        self.left[file] = {}  # which of them may be booked again this clerk does not note down

    def finish(self, job: str) -> None:
        for _ in range(4):
            file = self.file(job)
            numbers = list(self.left[file])
            if numbers and run("book", file).exit_code == 0:
                for number in numbers:
                    profile, stick, tag = self.left[file].pop(number)
                    kept = {tag: F(stick["offcut"])} if tag else {}
                    self.ledger.entries.append((file, job, profile, stick, None, kept))
                self.booked.append((file, str(len(numbers))))
            if not self.left[file] and file not in self.spoiled:
                return
            self.replan(job)


@pytest.mark.parametrize("often", rounds(3, 60))
def test_what_jobs_drew_kept_and_wasted_is_what_a_ledger_of_the_saw_adds_up_to(often: int) -> None:
    for seed in range(often):
        for old in Path().glob("*.db"):
            old.unlink()
        floor = Shopfloor(random.Random(seed))
        good("rack", "add", "rail", "70", "--shop", "shop.toml", "--qty", "2")
        for job in ("Pier", "Quay"):
            floor.begin(job)
        for _ in range(9):
            act = floor.chance.choice((floor.book, floor.book, floor.spoil, floor.replan))
            act(floor.chance.choice(("Pier", "Quay")))
            if floor.chance.random() < 0.3:  # what is learnt between counts no more once more is known
                good("learn", *(file for own in floor.jobs.values() for file in own), "--store", "bids.db")
        if seed % 3 == 2:
            floor.unbook("Pier")
        else:
            floor.finish("Pier")
        files = [file for own in floor.jobs.values() for file in own]
        floor.chance.shuffle(files)
        for words in (files[:1], files, files):  # each plan counts once
            found = learnt(*words, "--store", "bids.db")
        told = figures(found)
        for (job, profile), sums in floor.ledger.sums().items():
            one = told[job, profile]
            new = {F(part["length"]): part["number"] for part in one["new_sticks"] if part["number"]}
            assert [F(one[key]) for key in ("drawn", "net", "kept")] == [sums.drawn, sums.net, sums.kept], (seed, job)
            assert new == sums.new, (seed, job)
            if sums.net:
                assert F(one["waste_percent_of_net"]) == 100 * (sums.drawn - sums.net) / sums.net
        done = {job["job"]: job["finished"] for job in found["jobs"]}
        for job, own in floor.jobs.items():
            if seed % 3 != 2 and job in done:
                rest = good("rest", own[-1], "--csv", "-").splitlines()[1:]
                assert done[job] == (not rest), (seed, job)


def test_a_booking_that_is_taken_back_leaves_what_was_before_it() -> None:
    good("rack", "add", "rail", "70", "--shop", "shop.toml")
    rows = ("A", "rail", 60, 3), ("B", "bar", 70, 2)
    good("cut", pieces("p.csv", *rows), *WITH, "--job", "Pier", "--json", "one.json")
    sticks = sticks_of("one.json")
    assert any(stick["tag"] for _, stick, _ in sticks.values()) and any(tag for *_, tag in sticks.values())
    told = [learnt("one.json")]
    for number in sticks:
        good("book", "one.json", "--sticks", number)
        told.append(learnt("one.json"))
    assert told[-1]["jobs"][0]["finished"]
    while told.pop() and told:
        good("unbook", "one.json")
        assert learnt("one.json") == told[-1]


def test_pieces_that_a_week_that_changed_took_away_are_waste_or_kept_and_no_pieces() -> None:
    """A finished job's net length is that of the pieces that its last week asks for, whatever was cut before."""
    pieces("week.csv", ("A", "rail", 90, 3), ("B", "rail", 40, 4), ("C", "rail", 15, 2))
    good("cut", "week.csv", *WITH, "--job", "Pier", "--json", "one.json")
    good("book", "one.json", "--through", "4")
    pieces("now.csv", ("A", "rail", 90, 1), ("B", "rail", 40, 5))
    good("replan", "one.json", "--week", "now.csv", *WITH, "--json", "two.json")
    run("book", "two.json")
    said = learnt("one.json", "two.json")
    (job,) = said["jobs"]
    assert job["finished"] and job["job"] == "Pier"  # the new plan is for the same job
    one = figures(said)["Pier", "rail"]
    used = {n: stick for file in ("one.json", "two.json") for n, (_, stick, _) in sticks_of(file).items()
            if file == "two.json" or n <= 4}
    drawn = sum(F(stick["length"]) for stick in used.values() if stick["tag"] is None)
    assert (F(one["net"]), F(one["drawn"]), F(one["kept"])) == (90 + 5 * 40, drawn, sum(on_rack().values()))
    alone = learnt("two.json")["jobs"][0]
    assert not alone["finished"] and alone["lacking"] == ["one.json"]


def test_what_is_not_booked_does_not_count_unless_it_was_cut_without_a_rack() -> None:
    good("cut", pieces("p.csv", ("A", "rail", 50, 3)), *WITH, "--job", "Pier", "--json", "plan.json")
    said = good("learn", "plan.json", "--store", "bids.db")
    assert "0 plans added" in said and "plan.json does not count: none of it is booked" in said
    assert learnt("--store", "bids.db")["jobs"] == []
    assert "1 plan added" in good("learn", "plan.json", "--store", "bids.db", "--without-rack")
    whole = figures(learnt("--store", "bids.db"))["Pier", "rail"]
    totals = json.loads(Path("plan.json").read_text(), parse_float=F)["profiles"][0]["totals"]
    assert (F(whole["drawn"]), F(whole["net"])) == (totals["drawn"], totals["pieces"])
    assert "stays" in good("learn", "plan.json", "--store", "bids.db") and learnt("--store", "bids.db")["jobs"]
    for said in ("1 counted anew", "1 plan added"):  # booked, it counts by that; taken back, no more
        good("book", "plan.json")
        assert said in good("learn", "plan.json", "--store", "bids.db")
        good("unbook", "plan.json")
        assert "counts no more" in good("learn", "plan.json", "--store", "bids.db")
        assert learnt("--store", "bids.db")["jobs"] == []
    refused = run("learn", "plan.json", "--rack", "none.db")
    assert refused.exit_code == 2 and "--without-rack" in refused.stderr and not Path("none.db").exists()


def test_a_plan_counts_once_under_whatever_name_and_for_the_job_that_was_said_last() -> None:
    good("cut", pieces("p.csv", ("A", "rail", 50, 3)), *WITH, "--json", "plan.json")
    good("book", "plan.json")
    Path("copy.json").write_bytes(Path("plan.json").read_bytes())
    said = run("learn", "plan.json", "copy.json", "--store", "bids.db")
    assert "1 plan added." in said.stdout and "for no job" in said.stdout and "counts once" in said.stderr
    good("learn", "copy.json", "--store", "bids.db", "--job", "Pier")
    (job,) = learnt("plan.json", "--store", "bids.db")["jobs"]  # without a name it stays what it was
    assert (job["job"], len(job["plans"])) == ("Pier", 1)
    moved = " ".join(good("learn", "plan.json", "--store", "bids.db", "--job", "East pier").split())
    assert "counted for the job Pier until now, and counts for East pier instead" in moved and "--job Pier" in moved
    assert "until now" not in good("learn", "plan.json", "--store", "bids.db", "--job", "East pier")
    good("cut", "p.csv", *WITH, "--job", "Quay", "--json", "quay.json")
    good("book", "quay.json")
    assert "planned for the job Quay, and is learnt for Pier" in good("learn", "quay.json", "--job", " Pier ")


def test_a_rest_of_several_jobs_is_for_none_unless_it_is_said() -> None:
    for job in ("Pier", "Quay"):
        good("cut", pieces("p.csv", (job, "rail", 50, 4)), *WITH, "--job", job, "--json", f"{job}.json")
        good("book", f"{job}.json", "--sticks", str(max(sticks_of(f"{job}.json"))))
    result = run("replan", "Pier.json", "Quay.json", *WITH, "--json", "both.json")
    assert "not all for one job" in result.stderr and "job" not in json.loads(Path("both.json").read_text())
    good("book", "both.json")
    said = learnt("Pier.json", "Quay.json", "both.json")
    assert [(job["job"], job["finished"]) for job in said["jobs"]] == [("Pier", False), ("Quay", False), ("", False)]
    assert all("both.json" in job["lacking"] for job in said["jobs"][:2])


# ---- what a bid said, and whether it held ----


def bid(job: str, *more: object) -> dict[str, Any]:
    good("bid", "bid.csv", "--shop", DEMO / "shop.toml", "--versions", "6", "--store", "bids.db", "--job", job,
         "--json", "bid.json", *more)
    said: dict[str, Any] = json.loads(Path("bid.json").read_text(), parse_float=F, parse_int=F)
    return said


def cut_job(job: str, opening: str, qty: int) -> str:
    Path(f"{job}.csv").write_text(f"mark,kind,system,qty,opening,height\nA,gate,breakwater,{qty},{opening},42\n")
    words = ("--shop", DEMO / "shop.toml", "--rack", f"{job}.db", "--limit", "5")
    good("cut", f"{job}.csv", *words, "--job", job, "--json", f"{job}.json")
    good("book", f"{job}.json", "--rack", f"{job}.db")
    good("learn", f"{job}.json", "--rack", f"{job}.db", "--store", "bids.db")
    return f"{job}.json"


def test_what_is_held_against_a_job_is_the_order_and_the_waste_that_its_bid_printed() -> None:
    said = bid("Pier", "--chance", "70")
    cut_job("Pier", "40", 2)
    for (_, profile), one in figures(learnt("--store", "bids.db")).items():
        order = next(row for row in said["orders"] if (row["profile"], row["in"]) == (profile, 70))
        whole = next(part for part in [*said["profiles"], said["together"]] if part["profile"] == profile)
        enough = {part["in"]: F(part["percent_of_net"]["value"]) for part in whole["enough"]}
        told = one["said"]
        assert [(part["profile"], part["length"], part["number"]) for part in told["order"]] == sorted(
            ((part["profile"], part["length"], part["number"]) for part in order["sticks"] if part["number"]),
            key=lambda part: ([row["profile"] for row in order["sticks"]].index(part[0]), part[1]))
        assert (F(told["net"]), F(told["waste"]), F(told["waste_in_50"])) == (
            F(whole["mean"]["net"]), enough[70], enough[50])
        assert F(one["correction"]) == F(one["waste_percent_of_net"]) - enough[50]
        assert one["waste_held"] == ("yes" if F(one["waste_percent_of_net"]) <= enough[70] else "no")


def test_a_job_that_was_cut_as_it_was_bid_needs_no_correction_and_every_order_held() -> None:
    Path("bid.csv").write_text("mark,kind,system,qty,opening,height\nA,gate,breakwater,3,40,42\n")
    bid("Pier")
    cut_job("Pier", "40", 3)
    said = learnt("--store", "bids.db")
    for one in figures(said).values():
        assert (one["correction"], one["order_held"], one["waste_held"], one["size"]) == (0, "yes", "yes", "")
    assert all(one["standard_error"] is None and one["mean"] == 0 for one in said["corrections"])
    text = good("learn", "--store", "bids.db")
    assert "One job has no spread" in text and "Corrections" in text


def test_a_bid_that_is_run_again_replaces_itself_and_no_other() -> None:
    bid("Pier", "--chance", "70")
    bid("Quay", "--chance", "60")
    again = bid("Pier", "--chance", "90")
    cut_job("Pier", "40", 2)
    said = figures(learnt("--store", "bids.db"))["Pier", "box-rail"]["said"]
    order = next(row for row in again["orders"] if (row["profile"], row["in"]) == ("box-rail", 90))
    assert said["in"] == 90
    assert [part["number"] for part in said["order"]] == [part["number"] for part in order["sticks"]]
    text = good("learn", "--store", "bids.db")
    waiting = text[text.index("Bids that no plan was held against"):]
    assert "Quay" in waiting and "Pier" not in waiting
    with closing(sqlite3.connect("bids.db")) as db:  # nothing that a user made is lost
        assert [row[0] for row in db.execute("SELECT job FROM bids ORDER BY id")] == ["Pier", "Quay", "Pier"]


def test_a_job_without_its_bid_says_which_is_like_it() -> None:
    bid("Pier 4")
    cut_job("Peir 4", "40", 2)
    assert "no bid of the job Peir 4; did you mean Pier 4?" in good("learn", "--store", "bids.db")


def test_a_job_of_another_size_is_told_and_counts_in_no_correction() -> None:
    for job, qty, size in (("Pier", 4, "larger"), ("Quay", 1, "")):
        bid(job)
        cut_job(job, "40", qty)
        told = figures(learnt("--store", "bids.db"))
        assert {one["size"] for (name, _), one in told.items() if name == job} == {size}
    assert {int(one["orders_known"]) for one in learnt("--store", "bids.db")["corrections"]} == {1}
    assert "larger job" in good("learn", "--store", "bids.db")


def said_of(job: str, order: dict[F, int], racked: bool = False, turned: bool = False) -> BidSaid:
    said = ProfileSaid("rail", F(100), F(10), F(80), F(15), F(90), F(110), {"rail": order}, turned)
    return BidSaid("bid.csv", job, racked, (said,))


def plan_of(job: str, new: dict[F, int], net: object = 100, *offcuts: CutOffcut) -> LearntPlan:
    return LearntPlan(PlanDrawn(job, f"{job}.json", job, BOOKED, (Drawn("rail", F(str(net)), F(0), new, offcuts),), ()),
                      False, ())


def test_offcuts_that_the_bid_did_not_count_on_are_said() -> None:
    for racked, held in ((False, "with offcuts"), (True, "yes")):
        plan = plan_of("Pier", {F(96): 1}, 100, CutOffcut("CFK", F(40)))
        (job,) = jobs_of([plan], [said_of("Pier", {F(144): 1}, racked)])
        assert job.figures[0].order_held == held and job.figures[0].drawn == 136


def test_an_order_covers_what_can_be_matched_stick_by_stick() -> None:
    """Beside trying every way to give each drawn stick one of the order that is at least as long."""
    chance = random.Random(5)
    for _ in range(300):
        order = Counter(F(chance.choice((96, 144, 192))) for _ in range(chance.randint(0, 5)))
        drawn = Counter(F(chance.choice((96, 144, 192))) for _ in range(chance.randint(0, 4)))
        ways = itertools.permutations(order.elements(), drawn.total())
        matched = any(all(one >= own for one, own in zip(way, drawn.elements(), strict=True)) for way in ways)
        assert at_least(order, drawn, True) == matched
        assert at_least(order, drawn, False) == (not drawn - order)


def test_corrections_and_their_spread_are_those_of_the_statistics_module() -> None:
    chance = random.Random(7)
    for count in range(1, 7):
        plans, bids = [], []
        for k in range(count):
            plans.append(plan_of(f"job {k}", {F(96): chance.randint(1, 3), F(144): 1}, chance.randint(95, 105)))
            bids.append(said_of(f"job {k}", {F(144): 2}))
        jobs = jobs_of(plans, bids)
        rail, whole = lessons([*jobs, *jobs_of([plan_of("not bid", {F(96): 9})], bids)])[0], jobs[0].figures[-1]
        wasted = [100 * (one.figures[0].drawn - one.figures[0].net) / one.figures[0].net - 10 for one in jobs]
        assert (rail.correction, rail.jobs, min(rail.corrections)) == (statistics.mean(wasted), count, min(wasted))
        assert whole.said is None and rail.orders_held[1] == count
        if count == 1:
            assert rail.error is None
        else:
            assert rail.error is not None
            assert math.isclose(rail.error, statistics.stdev(map(float, wasted)) / math.sqrt(count), rel_tol=1e-12)


# ---- files ----


def test_the_workbook_says_what_the_csv_does() -> None:
    bid("Pier")
    cut_job("Pier", "40 1/8", 2)
    good("learn", "--store", "bids.db", "--csv", "jobs.csv", "--xlsx", "jobs.xlsx")
    typed, flat = pd.read_excel("jobs.xlsx", sheet_name=None), pd.read_csv("jobs.csv")
    assert list(typed) == ["jobs", "corrections"]
    told = figures(learnt("--store", "bids.db"))
    for name in flat.columns:
        if pd.api.types.is_numeric_dtype(flat[name]) and flat[name].notna().any():
            assert typed["jobs"][name].astype(float).tolist() == pytest.approx(flat[name].astype(float).tolist())
        else:
            assert typed["jobs"][name].astype(str).tolist() == flat[name].astype(str).tolist()
    for row in flat.itertuples():
        assert row.drawn == pytest.approx(float(told["Pier", row.profile]["drawn"]))
    assert len(typed["corrections"]) == len(learnt("--store", "bids.db")["corrections"])


# The store as it was first released, to the letter.
OLD = """CREATE TABLE store (unit TEXT NOT NULL);
CREATE TABLE bids (id INTEGER PRIMARY KEY, at TEXT NOT NULL, name TEXT NOT NULL, seed INTEGER NOT NULL,
    versions INTEGER NOT NULL);
CREATE TABLE said (bid INTEGER NOT NULL REFERENCES bids (id), profile TEXT NOT NULL, net TEXT NOT NULL,
    half TEXT NOT NULL, chance TEXT NOT NULL, enough TEXT NOT NULL, PRIMARY KEY (bid, profile));
CREATE TABLE plans (plan TEXT PRIMARY KEY, at TEXT NOT NULL, name TEXT NOT NULL);
CREATE TABLE wasted (plan TEXT NOT NULL REFERENCES plans (plan), profile TEXT NOT NULL, net TEXT NOT NULL,
    waste TEXT NOT NULL, kept TEXT NOT NULL, PRIMARY KEY (plan, profile));
INSERT INTO store VALUES ('in');
INSERT INTO bids VALUES (1, '2026-01-01T00:00:00Z', 'old-bid.csv', 1, 200);
INSERT INTO said VALUES (1, 'rail', '1234.5', '50/7', '80', '9');
INSERT INTO plans VALUES ('0123456789abcdef', '2026-01-02T00:00:00Z', 'old-plan.json');
INSERT INTO wasted VALUES ('0123456789abcdef', 'rail', '1000', '125', '0');
PRAGMA application_id = 0x43504249; PRAGMA user_version = 1;"""


def test_an_old_store_opens_and_what_is_in_it_is_shown_as_of_no_job() -> None:
    with closing(sqlite3.connect("bids.db")) as db:
        db.executescript(OLD)
    before = Path("bids.db").read_bytes()
    text = good("learn", "--store", "bids.db")
    assert Path("bids-form1.db").read_bytes() == before
    told = [line.split() for line in text.splitlines()]
    assert ["old-plan.json", "-", "rail", "1000", "12.50"] in told
    assert ["-", "old-bid.csv", "rail", "1234", "1/2", "7.15", "9.00", "80", "of", "100"] in told
    assert "Corrections" not in text and learnt("--store", "bids.db")["jobs"] == []
    with closing(sqlite3.connect("bids.db")) as db:
        assert db.execute("SELECT net, half FROM said").fetchall() == [("1234.5", "50/7")]


def test_an_old_plan_that_is_given_again_counts_by_its_bookings() -> None:
    good("cut", pieces("p.csv", ("A", "rail", 50, 3)), *WITH, "--json", "plan.json")
    whole = json.loads(Path("plan.json").read_text())["digest"]["whole"]
    with closing(sqlite3.connect("bids.db")) as db:
        db.executescript(OLD.replace("0123456789abcdef", whole))
    good("learn", "plan.json", "--store", "bids.db")  # not booked: it stays what it was
    assert "old-plan.json" in good("learn", "--store", "bids.db")
    good("book", "plan.json")
    text = good("learn", "plan.json", "--store", "bids.db", "--job", "Pier")
    assert "old-plan.json" not in text and figures(learnt("--store", "bids.db"))["Pier", "rail"]["net"] == 150


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


def test_a_store_keeps_to_its_unit_and_is_not_made_by_looking(tmp_path: Path) -> None:
    with changing(tmp_path / "bids.db", "in"):
        pass
    with pytest.raises(InputProblems, match="a store for each unit"), changing(tmp_path / "bids.db", "mm"):
        pass
    assert run("learn", "--store", "none.db").exit_code == 2 and not os.path.exists("none.db")
    assert run("learn", "--job", "Pier", "--store", "bids.db").exit_code == 2
    for name in ("", " \t", "x" * 101, "a\x1bb"):
        assert run("cut", "p.csv", *WITH, "--job", name).exit_code == 2
