"""If these fail, the cutter misses a published optimum. The instances are not part of the project: with

    BPP_INSTANCES=DIR BPP_OPTIMA=CSV pytest tests/outside/test_classic.py

where DIR holds a folder a class and CSV the columns class, instance, optimum, a few are run; else these are skipped.
They are of BPPLIB (Delorme, Iori and Martello, Optimization Letters 12 (2018) 235-250).
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import pytest

from benchmarks.instances import run

INSTANCES, OPTIMA = os.environ.get("BPP_INSTANCES"), os.environ.get("BPP_OPTIMA")
FEW = (
    ("Falkenauer_U", "Falkenauer_u120_12"), ("Falkenauer_T", "Falkenauer_t120_04"), ("Schwerin_1", "Schwerin1_BPP12"),
    ("Scholl_2", "N2W3B2R6"), ("Waescher", "Waescher_TEST0044"), ("Hard28", "Hard28_BPP716"),
    ("Hard28", "Hard28_BPP119"), ("Hard28", "Hard28_BPP14"),
)


@pytest.mark.skipif(not (INSTANCES and OPTIMA), reason="BPP_INSTANCES and BPP_OPTIMA do not say where they are")
@pytest.mark.parametrize(("folder", "name"), FEW)
def test_the_published_optimum_is_proven(folder: str, name: str) -> None:
    assert INSTANCES is not None and OPTIMA is not None
    with open(OPTIMA, newline="") as file:
        known = {(row["class"], row["instance"]): int(row["optimum"]) for row in csv.DictReader(file)}
    path = Path(INSTANCES) / folder / f"{name}.txt"
    if not path.exists() or (folder, name) not in known:
        pytest.skip(f"{path} is not there")
    result = run(path, 60.0)
    assert result["lower"] == result["upper"] == known[folder, name]
