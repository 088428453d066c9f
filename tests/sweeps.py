"""Sweeps over random cases: the first few run always, all of them with `pytest -m 'slow or not slow'`."""

from __future__ import annotations

from typing import Any

import pytest


def sweep(plain: int, whole: int) -> list[Any]:
    """The seeds 0, 1, ...: so many that run always, and the rest, which are slow."""
    return [pytest.param(seed, marks=pytest.mark.slow if seed >= plain else ()) for seed in range(whole)]


def rounds(plain: int, whole: int) -> list[Any]:
    """How often a test goes round that draws all its cases from one chance: so often always, and the whole, slow."""
    return [plain, pytest.param(whole, marks=pytest.mark.slow)]
