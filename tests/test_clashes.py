"""If these fail, a command writes over somebody's shop file, week, plan or rack, or gives a file a name that lies."""

from __future__ import annotations

import functools
import os
import random
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from typer.main import get_command

from cutplan import cli
from cutplan.commands import shared
from cutplan.files import not_writable
from cutplan.problems import Problem
from tests.commands import good, run

ROOT = Path(__file__).resolve().parent.parent
WEEK = "mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40,42\n"
BID = "mark,kind,system,qty,opening,height\nG1,gate,breakwater,1,40..41,42\n"

# Each command that reads or keeps a file: its words, and which of them are files. An option of an output is added to
# the words, and what else it needs.
COMMANDS: dict[str, tuple[list[str], list[str]]] = {
    "new": (["new", "fresh"], []),
    "takeoff": (["takeoff", "week", "--shop", "shop"], ["week", "shop"]),
    "cut": (["cut", "week", "--trade", "--shop", "shop", "--rack", "rack"], ["week", "shop", "rack"]),
    "check": (["check", "alone"], ["alone"]),
    "rack check": (["rack", "check", "plan", "--rack", "rack"], ["plan", "rack"]),
    "hold": (["hold", "plan", "--rack", "rack"], ["plan", "rack"]),
    "release": (["release", "plan", "--rack", "rack"], ["plan", "rack"]),
    "book": (["book", "plan", "--rack", "rack"], ["plan", "rack"]),
    "rest": (["rest", "plan", "--rack", "rack"], ["plan", "rack"]),
    "unbook": (["unbook", "plan", "--rack", "rack"], ["plan", "rack"]),
    "rack scrap": (["rack", "scrap", "CCC", "--rack", "rack"], ["rack"]),
    "rack add": (["rack", "add", "box-rail", "80", "--shop", "shop", "--rack", "rack"], ["shop", "rack"]),
    "rack count": (["rack", "count", "box-rail", "240", "1", "--shop", "shop", "--rack", "rack"], ["shop", "rack"]),
    "recut": (["recut", "box-rail", "40", "--shop", "shop", "--rack", "rack"], ["shop", "rack"]),
    "sheets": (["sheets", "plan", "--sequence"], ["plan"]),
    "buy": (["buy", "week", "--shop", "shop", "--rack", "rack"], ["week", "shop", "rack"]),
    "lengths": (["lengths", "week", "--shop", "shop", "--profile", "box-rail", "--choose", "1"], ["week", "shop"]),
    "bid": (["bid", "bid", "--shop", "shop", "--rack", "rack", "--store", "store", "--versions", "2"],
            ["bid", "shop", "rack", "store"]),
    "bid of a plan": (["bid", "--from-plan", "plan"], ["plan"]),
    "learn": (["learn", "plan", "--store", "store", "--rack", "rack"], ["plan", "store", "rack"]),
    "rack show": (["rack", "show", "--rack", "rack"], ["rack"]),
    "rack history": (["rack", "history", "--rack", "rack"], ["rack"]),
    "rack plans": (["rack", "plans", "--rack", "rack"], ["rack"]),
    "spoil": (["spoil", "plan", "1", "--rack", "rack"], ["plan", "rack"]),
    "replan": (["replan", "plan", "--shop", "shop", "--rack", "rack", "--with", "more"],
               ["plan", "shop", "rack", "more"]),
    "rack restore": (["rack", "restore", "copy", "--rack", "rack"], ["copy", "rack"]),
    "rack report": (["rack", "report", "--shop", "shop", "--rack", "rack"], ["shop", "rack"]),
}  # fmt: skip
KEPT = {"--rack", "--store"}
READ = {"--shop", "--from-plan"}


@functools.cache
def options() -> list[tuple[str, str, str]]:
    """Every option that takes a file's name, as the commands themselves say: command, option, metavar."""
    def walk(command: typer.core.TyperGroup, name: str) -> Iterator[tuple[str, str, str]]:
        for word, part in command.commands.items():
            if isinstance(part, typer.core.TyperGroup):
                yield from walk(part, f"{word} ")
            else:
                for option in part.params:
                    yield name + word, option.opts[0], option.metavar or ""

    root = get_command(cli.app)
    assert isinstance(root, typer.core.TyperGroup)
    return list(walk(root, ""))


def outputs(command: str) -> list[str]:
    named = {(name, option) for name, option, metavar in options() if metavar == "FILE"}
    found = [option for name, option in sorted(named) if name == command.split(" of ")[0] and option not in KEPT]
    return [option for option in found if (command, option) != ("bid of a plan", "--html")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop at work; its files have names that say nothing, so that only what they are can keep them."""
    folder = tmp_path_factory.mktemp("work")
    here = os.getcwd()
    os.chdir(folder)
    try:
        Path("shop").write_text('stock = "lengths"\n' + (ROOT / "data" / "demo" / "shop.toml").read_text())
        Path("lengths").write_text("profile,length,price\nbox-rail,180,28\n")
        Path("week").write_text(WEEK)
        Path("bid").write_text(BID)
        good("rack", "add", "box-rail", "80", "--shop", "shop", "--rack", "rack")
        good("cut", "week", "--shop", "shop", "--rack", "rack", "--json", "plan")
        good("bid", "bid", "--shop", "shop", "--versions", "2", "--store", "store")
        Path("list").write_text("mark,profile,length,qty\nR1,box-rail,60,3\n")
        good("cut", "list", "--shop", "shop", "--json", "alone")
        Path("more").write_text(WEEK.replace("G1", "G2"))
        Path("copy").write_bytes(Path("rack").read_bytes())
        Path("folder").mkdir()
        Path("there").symlink_to(".")
    finally:
        os.chdir(here)
    return folder


@pytest.fixture(autouse=True)
def here(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(folder)
    return folder


def disguises(file: str) -> Iterator[str]:
    """Names that all lead to one file, or do on some disks."""
    whole = os.path.abspath(file)
    yield from (file, f"./{file}", f".//{file}", f"folder/../{file}", f"there/{file}", f"there/there/{file}", whole)
    yield from (f"/{whole}", f"../{Path.cwd().name}/{file}", f"/proc/self/cwd/{file}", file.upper(), file.title())
    for name, lay in (("soft", os.symlink), ("hard", os.link)):
        if not os.path.lexists(f"{name}-{file}"):
            lay(file, f"{name}-{file}")
        yield from (f"{name}-{file}", f"there/{name}-{file}")
    if not os.path.lexists(f"twice-{file}"):
        os.symlink(f"there/soft-{file}", f"twice-{file}")
    yield from (f"twice-{file}", f"folder/../twice-{file}")


def contents() -> dict[str, bytes]:
    return {name: Path(name).read_bytes() for name in os.listdir(".") if Path(name).is_file()}


@pytest.mark.parametrize(("command", "option"), [(name, option) for name in COMMANDS for option in outputs(name)])
def test_no_output_is_ever_written_over_a_file_of_the_command(command: str, option: str) -> None:
    """Every command, every output, every file of it, by some of the names that lead there: each time by others."""
    line, files = COMMANDS[command]
    for file in [*files, *(["lengths"] if "shop" in files else [])]:  # which the shop file names
        names = list(disguises(file))
        before = contents()
        for name in random.Random(f"{command} {option} {file}").sample(names, 3):
            result = run(*line, option, name)
            assert result.exit_code == 2 and "give another name" in result.stderr, (name, result.stderr)
        assert contents() == before, file


def test_a_file_is_known_by_every_name() -> None:
    before = contents()
    for file in ("shop", "rack"):
        for name in disguises(file):
            result = run("rack", "report", "--shop", "shop", "--rack", "rack", "--csv", name)
            assert result.exit_code == 2 and "give another name" in result.stderr, (name, result.stderr)
    assert {name: contents()[name] for name in before} == before


@pytest.mark.parametrize("command", [name for name in COMMANDS if len(outputs(name)) > 1])
def test_two_outputs_are_two_files(command: str) -> None:
    line, _ = COMMANDS[command]
    before = contents()
    first, second, *_ = outputs(command)
    for one, other in (("new", "there/new"), ("new", "New"), ("caf\u00e9", unicodedata.normalize("NFD", "caf\u00e9"))):
        assert run(*line, first, one, second, other).exit_code == 2
    assert contents() == before


def test_what_a_database_leaves_beside_itself_is_no_output() -> None:
    for ending in ("-journal", "-wal", "-shm"):
        assert run("rack", "show", "--rack", "rack", "--csv", f"there/rack{ending}").exit_code == 2


def test_a_rack_is_not_written_over_by_a_command_that_knows_nothing_of_it() -> None:
    before = contents()
    for command in ("takeoff", "sheets", "lengths"):
        line, _ = COMMANDS[command]
        assert "is a database" in run(*line, outputs(command)[0], "rack").stderr
    assert contents() == before


def test_the_rack_and_the_store_are_no_other_file_of_the_command() -> None:
    before = contents()
    for line, _ in COMMANDS.values():
        for option in KEPT & set(line):
            for other in {"plan", "week", "shop", "bid", "rack", "store"} & set(line):
                words = [other if k and line[k - 1] == option else word for k, word in enumerate(line)]
                if words != line:
                    assert run(*words).exit_code == 2, words
    assert contents() == before


@pytest.mark.parametrize(("option", "right"), [
    ("--csv", (".csv", ".txt")), ("--json", (".json",)), ("--html", (".html",)), ("--out", (".html",)),
    ("--labels", (".html", ".csv")), ("--xlsx", (".xlsx",)),
])
def test_a_name_that_says_something_else_is_refused(option: str, right: tuple[str, ...]) -> None:
    before = contents()
    named = [command for command in COMMANDS if option in outputs(command)]
    assert named
    for command in named:
        for ending in {".csv", ".json", ".html", ".xlsx", ".toml", ".db", ".txt", ".webp"}.difference(right):
            result = run(*COMMANDS[command][0], option, f"out{ending.upper() if ending == '.xlsx' else ending}")
            assert result.exit_code == 2 and "would not hold what" in result.stderr, command
    assert contents() == before


def test_names_that_say_what_is_in_them_or_nothing_are_fine() -> None:
    for name in ("shown.csv", "shown.CSV", "shown.txt", "shown", "2026.05", ".csv"):
        good("rack", "show", "--rack", "rack", "--csv", name)
        os.unlink(name)


def test_a_new_rack_has_no_name_that_says_something_else() -> None:
    for name in ("rack.csv", "rack.json", "rack.xlsx"):
        assert run("rack", "add", "box-rail", "80 in", "--new", "--rack", name).exit_code == 2
        assert not os.path.exists(name)


opened: list[str] | None = None  # while a command runs: what it opens


def listen(event: str, args: tuple[object, ...]) -> None:
    if opened is not None and event in ("open", "sqlite3.connect") and isinstance(args[0], str | os.PathLike):
        opened.append(os.fspath(args[0]))  # type: ignore[arg-type]


sys.addaudithook(listen)


def test_every_file_a_command_opens_was_known_before(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By what the interpreter itself reports of opened files, beside what the command said at its beginning."""
    global opened
    known: list[str] = []
    begin = shared.Files.__init__

    def remember(self: shared.Files, *args: object, **more: object) -> None:
        begin(self, *args, **more)  # type: ignore[arg-type]
        known.extend([*self.reads, *self.keeps, *self.outputs.values()])

    monkeypatch.setattr(shared.Files, "__init__", remember)
    for command, (line, files) in COMMANDS.items():
        targets = {option: f"written{k}" for k, option in enumerate(outputs(command))}
        known.clear()
        opened = []
        result = run(*line, *(word for pair in targets.items() for word in pair))
        found, opened = opened, None
        assert result.exit_code == 0, (command, result.stderr)
        ours = {os.path.realpath(path.removeprefix("file:").partition("?")[0]) for path in found}
        ours = {path for path in ours if path.startswith(f"{os.path.realpath(folder)}/") and ".cutplan-" not in path
                and "before-restore" not in path and not path.endswith(":memory:")}
        assert {os.path.basename(path) for path in ours} >= {*files}, command
        assert ours <= {os.path.realpath(path) for path in known}, command


def test_every_command_is_walked_here() -> None:
    names = {name for name, _, _ in options()}
    assert names == {command.split(" of ")[0] for command in COMMANDS}
    for name, option, metavar in options():
        assert metavar != "FILE" or option in KEPT or option in outputs(name), (name, option)
        assert metavar not in ("SHOP", "PLAN") or option in READ or not option.startswith("-"), (name, option)


def test_links_that_lead_round_in_a_circle_are_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for link, to in (("a.csv", "b.csv"), ("b.csv", "a.csv"), ("self.csv", "self.csv")):
        Path(link).symlink_to(to)
    for name in ("a.csv", "b.csv", "self.csv"):
        (problem,) = not_writable(name)
        assert "leads round in a circle" in problem.message and Path(name).is_symlink()
    Path("right.csv").symlink_to("new.csv")
    assert not_writable("right.csv") == []  # a link to a file that is still to be made


def test_no_name_passes_for_a_problem_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every problem is one line, whatever ends a line on any system is in the names and values that it tells of."""
    monkeypatch.chdir(tmp_path)
    for end in ("\n", "\r", "\r\n", "\v", "\f", "\x1c", "\x1d", "\x1e", "\x85", "\u2028", "\u2029"):
        name = f"a{end}rack.db:9: fake: x"
        told = str(Problem(name, 1, f"c{end}c", f"m{end}m"))
        assert told.splitlines() == [told] and told.startswith("a?rack.db:9: fake: x:1: c?c: m?m")
        assert len(run("rack", "show", "--rack", name).stderr.splitlines()) == 1


@pytest.mark.parametrize(("options", "word"), [(["--json", "--csv"], "both"), (["--json", "--csv", "--html"], "all")])
def test_standard_output_takes_one_thing(options: list[str], word: str) -> None:
    with pytest.raises(typer.BadParameter, match=f" and {options[-1]} cannot {word} be -"):
        shared.Files([], [], dict.fromkeys(options, "-"))
