"""What every test process does once, so that what it starts need not do it again and again."""

from __future__ import annotations

import gc

import ortools.math_opt.python.mathopt
import ortools.sat.python.cp_model  # noqa: F401  the processes that cut a plan are forked off, and would each load them
import pytest

from cutplan.__main__ import RARELY

gc.set_threshold(*RARELY)  # as the command does

FIRST = "test_demo"  # holds by far the longest test: begun last, it would leave all cores but one idle


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: FIRST not in item.nodeid)
