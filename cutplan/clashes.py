"""What a command may not write: a file that is something else already, or that goes by a name for something else.

Two names are one file where they lead to one place on the disk, by whatever links and detours. So are two that differ
only in capitals, or in how an accent is spelt: a disk may take them for one.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cutplan.files import COMPANIONS, not_fillable, not_writable, refused
from cutplan.problems import Problem

HTML, CSV = (".html", ".htm"), (".csv", ".txt")
WRITTEN = {  # the endings that say what an option writes
    "--csv": CSV, "--xlsx": (".xlsx",),
    "--json": (".json",), "--html": HTML, "--out": HTML, "--labels": (*HTML, ".csv"),
    "--vipr": (".vipr",),
}  # fmt: skip
DATABASES = (".db", ".sqlite", ".sqlite3")
TELLING = {  # endings that say what is in a file; any other says nothing, and none is needed
    *HTML, *CSV, *DATABASES, ".json", ".tsv", ".toml", ".ini", ".xml", ".yaml", ".yml", ".md", ".log", ".pdf", ".ps",
    ".xls", ".xlsx", ".xlsm", ".xlsb", ".ods", ".numbers", ".doc", ".docx", ".odt", ".rtf", ".ppt", ".pptx", ".odp",
    ".png", ".jpg", ".jpeg", ".gif", ".svg", ".bmp", ".tif", ".tiff", ".webp", ".css", ".js", ".py", ".sh", ".exe",
    ".zip", ".gz", ".tar", ".7z",
}  # fmt: skip
DATABASE = b"SQLite format 3\0"  # how one begins (sqlite.org/fileformat.html, 1.3)


@dataclass(frozen=True)
class Named:
    """The files that a command was given, before any is opened.

    reads:    files it only reads
    keeps:    files it changes in place: the rack, the store of bids
    outputs:  what it writes, by option
    folders:  what it fills, each new or empty
    """

    reads: Sequence[str] = ()
    keeps: Sequence[str] = ()
    outputs: Mapping[str, str] = field(default_factory=dict)
    folders: Sequence[str] = ()


def clashes(files: Named) -> list[Problem]:
    """Why these files cannot be used together, in the order they are given."""
    problems = []
    taken: list[str] = list(files.reads)
    for path in files.keeps:
        if other := twin(path, taken):
            problems.append(refused(path, f"is also {other}, which is read or kept; give it a name of its own"))
        elif fault := misnamed(path, DATABASES) if not os.path.exists(path) else "":
            problems.append(refused(path, fault))
        taken += [path, *(f"{path}{ending}" for ending in COMPANIONS)]
    for option, target in files.outputs.items():
        if other := twin(target, taken):
            problems.append(refused(target, f"would write over {other}, which this command uses; give another name"))
        elif fault := misnamed(target, WRITTEN[option]):
            problems.append(refused(target, fault))
        elif is_database(target):
            problems.append(refused(target, "is a database, such as a rack, which would be lost; give another name"))
        else:
            problems += not_writable(target)
        taken.append(target)
    for folder in files.folders:
        if other := twin(folder, taken):
            problems.append(refused(folder, f"is also {other}, which this command uses; give another name"))
        else:
            problems += not_fillable(folder)
        taken.append(folder)
    return problems


def twin(path: str, others: Sequence[str]) -> str | None:
    """The first of the others that is the same file."""
    return next((other for other in others if same_file(path, other)), None)


def same_file(one: str, other: str) -> bool:
    try:
        return folded(one) == folded(other) or os.path.samefile(one, other)
    except (OSError, ValueError):  # not both of them are there
        return False


def folded(path: str) -> str:
    """Where a name leads to, in one spelling."""
    return unicodedata.normalize("NFC", os.path.realpath(path)).casefold()


def misnamed(path: str, right: Sequence[str]) -> str:
    """Why a name says something else than what is to be in the file; "" where it does not."""
    ending = os.path.splitext(path.strip().lower())[1]
    if ending in TELLING and ending not in right:
        return f"would not hold what {ending} says; give a name that ends in {' or '.join(right)}"
    return ""


def is_database(path: str) -> bool:
    try:
        with open(path, "rb") as file:
            return file.read(len(DATABASE)) == DATABASE
    except (OSError, ValueError):
        return False
