"""If these fail, the worked example or the page on Python shows what does not work, or sums that are not the plan's."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_the_worked_example_runs_and_its_sums_are_the_plan_s(capsys: pytest.CaptureFixture[str]) -> None:
    """The pieces by hand: 10 x 34 7/8 and 6 x 70 5/8 in; of the week the lines of the file."""
    made = runpy.run_path(str(ROOT / "data" / "demo" / "example.py"))
    result, week = made["result"], made["week"]
    assert made["checked"].ok and result.is_proven()
    cuts = result.cuts()
    assert (cuts["length"] * cuts["count"]).sum() == 10 * 34.875 + 6 * 70.625
    marks = [line.split(",")[0] for line in (ROOT / "data" / "demo" / "week.csv").read_text().splitlines()[1:]]
    openings = made["openings"]
    assert set(openings["for"]) == set(marks)
    assert openings["cost"].sum() == pytest.approx(float(week.cost))
    assert "no plan is cheaper" in capsys.readouterr().out


def test_the_page_on_python_shows_what_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its blocks in order; the little week stands in for week.csv."""
    page = (ROOT / "cutplan" / "api" / "README.md").read_text(encoding="utf-8")
    demo = ROOT / "data" / "demo"
    (tmp_path / "week.csv").write_text((demo / "rush.csv").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "shop.toml").write_text((demo / "shop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for block in re.findall(r"(?:^(?:    .*)?\n)+", page, re.M):
        if block.strip():
            exec(re.sub(r"^    ", "", block, flags=re.M), names)
    assert (tmp_path / "plan.json").exists() and names["result"].is_proven()  # type: ignore[attr-defined]


def test_the_page_on_python_lists_the_frames_columns() -> None:
    from cutplan.planning import frames

    page = (ROOT / "cutplan" / "api" / "README.md").read_text(encoding="utf-8")
    listed = dict(re.findall(r"^\| `(\w+)\(\)` \| .* \| `(.*)` \|$", page, re.M))
    assert listed == {"sticks": ", ".join(frames.STICK_COLUMNS), "cuts": ", ".join(frames.CUT_COLUMNS),
                      "purchases": ", ".join(frames.PURCHASE_COLUMNS), "by_opening": ", ".join(frames.OPENING_COLUMNS)}
