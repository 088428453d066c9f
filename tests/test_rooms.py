"""If these fail, a room knows of one that is built upon it, or the checker of what it checks."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent / "cutplan"

# from the ground up: each knows only its own and those before it
ROOMS = [
    {"plausible"}, {"sums"}, {"lengths"}, {"problems"}, {"numberformats"},
    {"callers", "printable", "exactjson", "streams", "damage", "files", "workbooks"},
    {"tomllines", "tables", "clashes", "database"}, {"running"}, {"shop"}, {"ends"}, {"orders"}, {"takeoff"},
    {"plans"},
    {"checking"}, {"cutting"}, {"rack"}, {"planning"}, {"buying"}, {"bidding"}, {"sheets"}, {"api"}, {"commands"},
    {"cli"}, {"__main__"}, {"__init__"},
]  # fmt: skip


def imports(file: Path) -> Iterator[str]:
    """Every module of the project that a file imports, wherever it does."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            assert not node.level, f"{file}: imports are from cutplan, in full"
            for name in node.names:
                inner = f"{node.module}.{name.name}"
                is_module = (ROOT.parent / (inner.replace(".", "/") + ".py")).exists()
                yield inner if is_module or (ROOT.parent / inner.replace(".", "/")).is_dir() else node.module
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)


def room(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


def test_each_room_knows_only_those_below_it() -> None:
    level = {name: k for k, names in enumerate(ROOMS) for name in names}
    files = list(ROOT.rglob("*.py"))
    assert {room(".".join(file.relative_to(ROOT.parent).with_suffix("").parts)) for file in files} == set(level)
    wrong = []
    for file in files:
        own = room(".".join(file.relative_to(ROOT.parent).with_suffix("").parts))
        for module in imports(file):
            other = room(module)
            if module.split(".")[0] == "cutplan" and own != other and level[other] >= level[own]:
                wrong.append(f"{file.relative_to(ROOT)} imports {module}")
    assert not wrong, "\n".join(wrong)


def test_no_module_imports_itself_by_way_of_others() -> None:
    """Not even inside a function, or for its annotations alone: two that need each other are one, or three."""
    known = {}
    for file in ROOT.rglob("*.py"):
        name = ".".join(file.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__")
        nodes = [node for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
                 if isinstance(node, ast.ImportFrom) and node.module]
        known[name] = {f"{node.module}.{one.name}" for node in nodes for one in node.names} | {
            str(node.module) for node in nodes}
    open_: list[str] = []
    done: set[str] = set()

    def visit(name: str) -> None:
        assert name not in open_, " -> ".join([*open_, name])
        if name in done or name not in known:
            return
        open_.append(name)
        for other in sorted(known[name]):
            if other in known and other != name and not name.startswith(other + "."):
                visit(other)
        open_.pop()
        done.add(name)

    sys.setrecursionlimit(10_000)
    for name in sorted(known):
        visit(name)


def test_the_checker_imports_nothing_of_what_makes_plans() -> None:
    """Neither directly nor by way of what it imports."""
    found = set[str]()
    open_ = [".".join(file.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__")
             for file in (ROOT / "checking").rglob("*.py")]
    while open_:
        module = open_.pop()
        path = ROOT.parent / module.replace(".", "/")
        path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
        if module in found or not path.exists():
            continue
        found.add(module)
        open_ += [other for other in imports(path) if other.startswith("cutplan.")]
    assert {"cutplan.checking.arrangement", "cutplan.checking.arrangement.holes", "cutplan.plans.records"} <= found
    assert not {module for module in found if room(module) in ("cutting", "running", "planning", "takeoff")}, found


def test_the_list_for_developers_has_every_room_and_their_order() -> None:
    lines = re.findall(r"^\| (.*?) \| .* \|$", (ROOT.parent / "DEVELOPERS.md").read_text(encoding="utf-8"), re.M)
    listed = [{name.removesuffix("/").removesuffix(".py") for name in re.findall(r"`(\w+(?:/|\.py))`", line)}
              for line in lines]
    rooms = [names for names in ROOMS if not any(name.startswith("__") for name in names)]
    assert [names for names in listed if names] == rooms


def test_no_class_has_the_name_of_another() -> None:
    named: dict[str, list[str]] = {}
    for file in ROOT.rglob("*.py"):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                named.setdefault(node.name, []).append(str(file.relative_to(ROOT)))
    assert not {name: files for name, files in named.items() if len(files) > 1}


def test_others_reach_the_cutter_through_its_face_alone() -> None:
    """So that how a plan is found may change without the buyer's and the estimator's questions changing with it."""
    wrong = [f"{file.relative_to(ROOT)} imports {module}" for file in ROOT.rglob("*.py")
             if file.relative_to(ROOT).parts[0] != "cutting" for module in imports(file)
             if module.startswith("cutplan.cutting.")]
    assert not wrong, "\n".join(wrong)


def test_every_name_of_the_face_is_there_and_no_solver_is_loaded_for_it() -> None:
    """In a process of its own, where nothing else has loaded one."""
    said = subprocess.run([sys.executable, "-c", "; ".join([
        "import sys, cutplan.cutting as face, cutplan.cli",
        "assert not [name for name in sys.modules if name.split('.')[0] in ('ortools', 'numpy')]",
        "assert sorted(face.__all__) == sorted({*sum(face.PLACES.values(), ()), 'cut_pieces'})",
        "print(*[getattr(face, name).__module__ for name in ('cut_pieces', 'cheapest_plan', 'Instance')])",
        "[getattr(face, name) for name in face.__all__]"])], capture_output=True, text=True, check=False)
    assert said.returncode == 0, said.stderr
    assert said.stdout.split() == ["cutplan.cutting", "cutplan.cutting.tiers", "cutplan.cutting.problem.instance"]


def test_no_constant_or_alias_has_the_name_of_another() -> None:
    """Nor of a class: with one meaning for each name in the house, a reader never asks which one is meant."""
    named: dict[str, list[str]] = {}
    for file in ROOT.rglob("*.py"):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            for name in defined(node):
                if re.match(r"_?[A-Z]", name):
                    named.setdefault(name, []).append(str(file.relative_to(ROOT)))
    assert "MOST_PIECES" in named and "Ints" in named
    assert {name: sorted(files) for name, files in named.items() if len(files) > 1} == {}


def defined(node: ast.stmt) -> Iterator[str]:
    """The names that a statement gives to a class or to values; not to variables of types, which mean nothing alone."""
    if isinstance(node, ast.ClassDef):
        yield node.name
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    if targets and not (isinstance(node.value, ast.Call) and ast.unparse(node.value.func) == "TypeVar"):
        yield from (part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name))


def test_methods_are_set_by_their_params_and_no_test_patches_a_constant() -> None:
    """But for what a file's form has been, and for how soon a command speaks, which no caller hands in."""
    tests = Path(__file__).parent
    patched = {name for file in tests.rglob("*.py") for name in re.findall(
        r"setattr\([\w.]+, \"([A-Z][A-Z_]+)\"", file.read_text(encoding="utf-8"))}
    assert patched <= {"RACK_MIGRATIONS", "QUIET"}
