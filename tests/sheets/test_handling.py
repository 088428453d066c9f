"""If these fail, a long stick tips off the saw, or a last piece comes out short that a look at the stick had saved."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.plans.plan import Plan, to_json
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.page import packet_page
from cutplan.sheets.plan import saw_text
from cutplan.shop import load_shop
from tests.plans.parsing import from_json
from tests.sheets.test_care import random_plan
from tests.test_shop import SHOP

F = Fraction
EIGHTH = F(1, 8)


@pytest.fixture(scope="module")
def plans() -> list[Plan]:
    return [replace(random_plan(seed), bench=F(40)) for seed in range(8)]


def with_only(plan: Plan, profile: int, stick: int) -> Plan:
    """The plan with one stick alone."""
    one = plan.profiles[profile]
    return replace(plan, profiles=(replace(one, sticks=(one.sticks[stick],)),))


def test_a_stick_with_nothing_to_spare_is_measured_first(plans: list[Plan]) -> None:
    """An eighth of an inch, common practice, no source; what is over behind the last piece, its trim set aside."""
    seen = set()
    for plan in plans:
        for k, profile in enumerate(plan.profiles):
            for n, stick in enumerate(profile.sticks):
                over = stick.length - stick.cuts[-1].end
                trims = stick.head_trim + stick.tail_trim if profile.one_per_stick else stick.tail_trim
                over += stick.cuts[0].start if profile.one_per_stick else 0
                tight = not stick.keep and over - trims <= EIGHTH + (profile.kerf if profile.one_per_stick else 0)
                text = saw_text(with_only(plan, k, n))
                which = "this stick" if stick.count == 1 else "each of these sticks"
                assert (f"measure {which} first" in text) == tight, (profile.profile, stick)
                assert ("its last piece ends on the stick's own end" in " ".join(text.split())) == (
                    tight and not profile.one_per_stick and stick.cuts[-1].end == stick.length)
                seen.add(tight)
    assert seen == {True, False}


def test_a_stick_longer_than_the_bench_is_borne(plans: list[Plan]) -> None:
    for plan in plans:
        page = packet_page(plan, Packet("0", "", "letter"))
        longer = sum(stick.length > 40 for profile in plan.profiles for stick in profile.sticks)
        assert page.count("longer than the bench: bear its far end") == longer
        assert "longer than the bench" not in saw_text(replace(plan, bench=None))
        assert from_json(to_json(plan), "p") == plan


def test_the_shop_says_how_long_its_bench_is(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(SHOP.replace("stack = 2", 'bench = "16 ft"'))
    assert load_shop(path).bench == 192
