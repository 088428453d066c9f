"""If these fail, what checks a plan uses code that made it: a fault in that code would then pass its own check."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import cutplan

ROOT = Path(cutplan.__file__).parent
MAKERS = ("cutting", "planning", "buying", "bidding")  # what makes plans
CHECKERS = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "checking").rglob("*.py"))


def imported(source: str, package: tuple[str, ...]) -> Iterator[str]:
    """The modules that a source names in its imports, wherever they stand; `package` is where it lies."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) + 1 - node.level]) if node.level else ""
            module = ".".join(part for part in (base, node.module) if part)
            yield module
            yield from (f"{module}.{name.name}" for name in node.names)


def of_makers(source: str, package: tuple[str, ...]) -> set[str]:
    makers = tuple(f"cutplan.{room}" for room in MAKERS)
    return {name for name in imported(source, package) if f"{name}.".startswith(tuple(f"{one}." for one in makers))}


def test_imports_of_every_form_are_seen() -> None:
    here = ("cutplan", "checking")
    for text in ("import cutplan.cutting.tiers", "from cutplan.cutting import tiers", "from cutplan import cutting",
                 "def f():\n    from ..cutting.tiers import Job", "from .. import cutting"):
        assert of_makers(text, here)
    assert not of_makers("from cutplan.plans import records\nfrom .audit import audit", here)


@pytest.mark.parametrize("file", CHECKERS)
def test_the_checks_import_nothing_of_what_makes_plans(file: str) -> None:
    path = ROOT / file
    assert of_makers(path.read_text("utf-8"), ("cutplan", *path.relative_to(ROOT).parts[:-1])) == set()


def test_nor_does_anything_that_the_checks_import() -> None:
    script = ("import sys, cutplan.checking.audit, cutplan.checking.proof\n"
              f"print([name for name in sys.modules if name.startswith({tuple('cutplan.' + room for room in MAKERS)})"
              " or name.startswith('ortools')])")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
