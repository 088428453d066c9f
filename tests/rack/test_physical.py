"""If these fail, an offcut in hand is not what its label, the rack or the next plan says it is.

The bars are followed as things: an interval with two ends, raw or sawn, and holes in places of their own. Whatever a
plan says is done to them with a saw, week after week; the rack must then say what lies there. Nothing of the product's
arithmetic is used, only what it writes and shows.
"""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cutplan.checking.audit import audit
from cutplan.checking.proof import prove
from cutplan.orders import Piece
from cutplan.plans.plan import to_json
from cutplan.problems import NoPlan
from cutplan.rack import booking, shelf
from cutplan.rack.claims import known
from cutplan.rack.store import changing, reading
from cutplan.sheets.bench.labels import labels
from cutplan.shop import Profile, Routing, Shop, Stock
from tests.plans.parsing import from_json
from tests.rack.workshop import plan_of
from tests.sweeps import sweep

F = Fraction
WEEKS = 4


@dataclass(frozen=True)
class Bar:
    """A bar as it lies there, seen from one of its ends: that end is raw or sawn, and so is the far one."""

    length: Fraction
    holes: tuple[Fraction, ...]
    raw: bool
    far_raw: bool

    def turned(self) -> Bar:
        holes = tuple(self.length - hole for hole in reversed(self.holes))
        return Bar(self.length, holes, self.far_raw, self.raw)

    def from_(self, at: Fraction) -> Bar:
        """What is left beyond a cut whose far side is `at`."""
        return Bar(self.length - at, tuple(hole - at for hole in self.holes if hole >= at), False, self.far_raw)


def new_bar(length: Fraction, routing: Routing | None) -> Bar:
    holes = []
    at = routing.first if routing else length + 1
    while at <= length:
        holes.append(at)
        at += routing.pitch if routing else 1
    return Bar(length, tuple(holes), True, True)


def a_shop(seed: int) -> Shop:
    chance = random.Random(seed)
    routing = None
    if seed % 2:
        pitch = chance.choice([F(4), F(19, 4), F(5)])
        routing = Routing(pitch, chance.choice([pitch / 2, F(1), pitch, F(9), F(17)]))
    stock = (Stock(F(chance.choice([96, 101])), F(10)), Stock(F(chance.choice([144, 150])), F(14)))
    one = Profile(
        "rail", "rail", stock, F(1, 8), head_trim=F(chance.choice([0, 1, 2, 8]), 4),
        tail_trim=F(chance.choice([0, 1, 3, 12]), 4), keep_from=F(chance.choice([2, 12, 20])), routing=routing)
    return Shop("", "in", "", F(1, 8), None, 1, F(1, 16), {"rail": one}, {})


def some_pieces(chance: random.Random, routed: bool, week: int) -> list[Piece]:
    words = ("hole", "space", "either") if routed else ("",)
    return [Piece(f"W{week} {k}", "rail", F(chance.randrange(16 * 7, 16 * 40), 16), chance.randint(1, 2),
                  centred=chance.choice(words)) for k in range(chance.randint(2, 4))]


def exactly(value: Any) -> Fraction:
    return F(str(value))


def sawn_up(bar: Bar, entry: dict[str, Any], profile: Profile) -> Bar:
    """Does to a bar what the plan says, from the end it says; what is left. Every mistake is an assertion."""
    if bar.raw:
        assert exactly(entry["cuts"][0]["start"]) >= profile.head_trim, "a raw end that is not squared"
    at = F(0)
    for cut in entry["cuts"]:
        start, end = exactly(cut["start"]), exactly(cut["end"])
        assert start >= at and end - start == exactly(cut["length"]), "two pieces of the same stuff"
        assert end <= bar.length - (profile.tail_trim if bar.far_raw else 0), "a piece that reaches into the raw end"
        if profile.routing is not None:
            assert_on_holes(bar, start, end, cut["centred"], profile.routing.pitch)
        at = end + profile.kerf
    return bar.from_(at)


def assert_on_holes(bar: Bar, start: Fraction, end: Fraction, centred: str, pitch: Fraction) -> None:
    """Its middle is on a hole or between two, and no hole is missing anywhere within it."""
    middle = (start + end) / 2
    nearest = middle if centred == "hole" else middle - pitch / 2
    mine = [hole for hole in bar.holes if start < hole < end]
    wanted = [at for k in range(-20, 21) if start < (at := nearest + k * pitch) < end]
    assert mine == wanted, "a hole is not where its picket comes"


class Shelf:
    """The bars that lie there, by what is written on them; an offcut is laid down with its sawn end near."""

    def __init__(self) -> None:
        self.bars: dict[str, Bar] = {}

    def cut(self, plan: dict[str, Any], profile: Profile) -> None:
        """Cuts a whole plan, and lays what it keeps on the shelf."""
        for entry in plan["profiles"][0]["sticks"]:
            for k in range(entry["count"]):
                bar = self.bars.pop(entry["tag"]) if entry["tag"] else new_bar(exactly(entry["length"]),
                                                                              profile.routing)
                assert bar.length == exactly(entry["length"]), "the label says another length"
                left = sawn_up(bar.turned() if entry.get("turned") or sawn_last(bar, entry) else bar, entry, profile)
                keep = profile.keep_from is not None and left.length >= profile.keep_from
                assert entry["keep"] == keep
                assert exactly(entry["offcut"]) == max(left.length, 0)
                if keep:
                    self.bars[entry["offcut_tags"][k]] = left


def sawn_last(bar: Bar, entry: dict[str, Any]) -> bool:
    """Whether the sheet says so: nothing is lost at the far end, and as much as ever at the near one."""
    return bar.far_raw and not bar.raw and not bar.holes and entry.get("tail_trim") == 0 and "head_trim" not in entry


def assert_said(path: Path, there: Shelf) -> None:
    """The rack shows what lies on the shelf."""
    with reading(path) as rack:
        shown = {one.tag: one for one in shelf.offcuts(rack)}
    assert shown.keys() == there.bars.keys()
    for tag, bar in there.bars.items():
        assert shown[tag].length == bar.length
        assert shown[tag].sawn == [bar.raw, bar.far_raw].count(False)
        if bar.holes:
            assert shown[tag].first == bar.holes[0]


@pytest.mark.parametrize("seed", sweep(4, 24))
def test_bars_followed_through_the_weeks_are_what_the_rack_says(tmp_path: Path, seed: int) -> None:
    shop, chance, path = a_shop(seed), random.Random(1000 + seed), tmp_path / "rack.db"
    profile, there = shop.profiles["rail"], Shelf()
    with changing(path) as rack:  # by hand, before any plan: raw ends, a sawn one, two of them
        for sawn in (0, 1, 2):
            if profile.routing is None:
                (one,) = shelf.add(rack, "rail", F(chance.randint(20, 60)), sawn=sawn)
                there.bars[one.tag] = Bar(one.length, (), sawn == 0, sawn < 2)
    for week in range(WEEKS):
        try:
            plan = plan_of(path, some_pieces(chance, profile.routing is not None, week), shop)
        except NoPlan:
            continue
        assert audit(plan) == [] and prove(plan.profiles[0]).ok
        text = to_json(plan)
        assert from_json(text, "") == plan
        there.cut(json.loads(text, parse_float=F), profile)
        written = {label.tag: label.length for label in labels(plan) if label.tag}
        assert all(there.bars[tag].length == length for tag, length in written.items())
        with changing(path) as rack:
            booking.book(rack, known(plan, f"week {week}"))
        assert_said(path, there)
        totals = plan.profiles[0].totals
        parts = totals.pieces, totals.kerf, totals.trim, totals.scrap, totals.kept
        assert min(parts) >= 0 and sum(parts) == totals.drawn


def planned(profile: Profile, lengths: Sequence[int]) -> Any:
    from cutplan.cutting import cut_pieces

    pieces = [Piece(f"P{k}", profile.name, F(length), 1) for k, length in enumerate(lengths)]
    plan = cut_pieces(pieces, Shop("", "in", "", F(1, 8), None, 1, F(1, 16), {profile.name: profile}, {}))
    assert audit(plan) == [] and prove(plan.profiles[0]).ok
    return json.loads(to_json(plan), parse_float=F)["profiles"][0]


RAIL = Profile("rail", "rail", (Stock(F(96), F(20)),), F(1, 8), head_trim=F(1, 2), tail_trim=F(1, 4), keep_from=F(24))


@pytest.mark.parametrize(("sawn", "longest"), [(0, F("39.25")), (1, F("39.75")), (2, F(40))])
def test_a_sawn_end_needs_no_trim(sawn: int, longest: Fraction) -> None:
    """An offcut of 40 with trims of 1/2 and 1/4 gives 39 1/4; from its sawn end 39 3/4; sawn at both ends all of it."""
    rack = Profile(**{**RAIL.__dict__, "stock": (*RAIL.stock, RAIL.offcut("CCC", F(40), sawn=sawn))})
    for length, source in ((longest, "rack"), (longest + F(1, 16), "new")):
        (stick,) = planned(rack, [length])["sticks"]  # type: ignore[list-item]
        assert stick["source"] == source
        if source == "rack":
            own = {end: stick[end] for end in ("head_trim", "tail_trim") if end in stick}
            assert own == dict(list({"head_trim": 0, "tail_trim": 0}.items())[:sawn])
            assert stick["cuts"][0]["start"] == (0 if sawn else F(1, 2))


def test_an_offcut_is_what_is_in_hand() -> None:
    """By hand: 96 less 1/2, a piece of 60 and a kerf leaves 35 3/8, the raw end in it; nothing is trimmed from it."""
    made = planned(RAIL, [60])
    (stick,) = made["sticks"]
    assert (stick["offcut"], stick["keep"]) == (F("35.375"), True)
    assert {key: made["totals"][key] for key in ("kerf", "trim", "scrap", "kept")} == {
        "kerf": F("0.125"), "trim": F("0.5"), "scrap": 0, "kept": F("35.375")}
    (stick,) = planned(RAIL, [80])["sticks"]  # 15 3/8 are left, too little to keep: a quarter of it is trim
    assert (stick["offcut"], stick["keep"]) == (F("15.375"), False)
    assert planned(RAIL, [80])["totals"]["scrap"] == F("15.125")


def test_the_tail_decides_whether_it_is_kept() -> None:
    """24 are kept; the piece leaves 24 with the raw quarter inch in it and 23 3/4 without."""
    (stick,) = planned(RAIL, [F("71.375")])["sticks"]  # type: ignore[list-item]
    assert (stick["offcut"], stick["keep"]) == (24, True)
